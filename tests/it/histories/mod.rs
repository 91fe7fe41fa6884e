//! Random histories of one to three sites, delivered in any order: whatever arrives when, the
//! projections are the same to the byte, the same as a rebuild's, and the same after opening again.

pub mod deliver;
pub mod dump;
pub mod generate;
mod laws;
pub mod op;

pub use laws::soak;
