//! Whose book it is, and who writes in it.

use crate::model::{Chain, Recorded};
use crate::units::UnitSystem;

/// Who writes, when, with what program: what every entry carries.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stamp {
    /// The instant and the clock offset of the place.
    pub now: Recorded,
    /// The person.
    pub author: String,
    /// Program and version.
    pub program: String,
}

/// Whose book this is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Identity {
    /// The chain that this book writes.
    pub chain: Chain,
    /// Unit system in which it is read.
    pub units: UnitSystem,
}
