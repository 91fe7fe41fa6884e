//! Random histories of one to three sites, delivered in any order: whatever arrives when, the
//! projections are the same to the byte, the same as a rebuild's, and the same after opening again.

mod deliver;
mod due;
pub mod dump;
mod generate;
mod laws;
mod op;
mod past;

pub use deliver::bundle;
pub use laws::soak;
