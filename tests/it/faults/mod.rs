//! Crashes, full disks, foreign hands, rotten bits: after each the book opens and verifies with all
//! work that was acknowledged, or is refused with a clear error. Never a silent wrong answer, never
//! a panic.
//!
//! An ordinary run is bounded; `PIPELORE_SOAK=N` looks N times as long.

mod bits;
mod child;
mod companions;
mod disk;
pub mod every;
mod files;
mod guard;
mod hostile;
mod kill;
mod salvage;
pub mod support;
