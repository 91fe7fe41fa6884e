//! Whose book it is, and who writes in it.

use crate::model::{Chain, Clock, Moment, Recorded};
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

impl Stamp {
    /// The present as a moment, with the offset of the place.
    pub(super) fn present(&self) -> Moment {
        Moment::Clock(self.now.at.at(Clock::of_offset(self.now.offset_minutes)))
    }
}

/// Whose book this is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Identity {
    /// The chain that this book writes.
    pub chain: Chain,
    /// Unit system in which it is read.
    pub units: UnitSystem,
}
