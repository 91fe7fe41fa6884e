//! What stands in for inputs that nobody stated: which, what it does to the figures, how to state it.

use crate::model::{Assumption, Vocabulary};

/// A set of assumptions, one bit each in the order of the vocabulary.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Assumed(i64);

impl Assumed {
    /// Notes an assumption where it is made.
    pub(super) const fn with(self, made: bool, assumption: Assumption) -> Self {
        Self(if made { self.0 | 1 << assumption as i64 } else { self.0 })
    }

    pub(super) const fn and(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// Those that the pull of a joint takes over from what hangs below it: weights and lengths.
    pub(super) const fn of_what_hangs(self) -> Self {
        let hanging = 1 << Assumption::NominalWeight as i64
            | 1 << Assumption::PlainWeight as i64
            | 1 << Assumption::CertificateLength as i64;
        Self(self.0 & hanging)
    }

    /// Whether a weight was taken from the name of a size or from a plain section.
    pub(super) const fn of_weight(self) -> bool {
        let weights = 1 << Assumption::NominalWeight as i64 | 1 << Assumption::PlainWeight as i64;
        self.0 & weights != 0
    }

    /// As it is stored.
    pub(super) const fn bits(self) -> i64 {
        self.0
    }
}

/// What an assumption does to the figures that rest on it, and what to state in its place.
pub const fn effect(assumption: Assumption) -> (&'static str, &'static str) {
    match assumption {
        Assumption::NominalWeight => (
            "the nominal weight names the size and leaves out upsets and tool joints: pull comes out \
             too low, and with it bending next to the tool joints and damage",
            "air_weight in the certificate, or weight in the tally",
        ),
        Assumption::PlainWeight => (
            "the weight of the plain section leaves out upsets and tool joints: pull comes out too \
             low, and with it bending next to the tool joints and damage",
            "air_weight in the certificate, or weight in the tally",
        ),
        Assumption::CertificateLength => (
            "the length of the certificate, not a measured one: it moves this joint and all above it \
             along the hole",
            "length in the tally",
        ),
        Assumption::NewWall => (
            "the wall of the certificate: a worn tube bends at less stress from its smaller diameter \
             and pulls at more",
            "an inspection with a wall before the run",
        ),
        Assumption::WeakestGrade => (
            "the weakest grade: the no-fatigue bend and any mean-stress rule come out on the safe side",
            "grade in the certificate",
        ),
        Assumption::NoToolJoint => (
            "no tool joint that holds the tube off the wall: contact with the wall is not counted, \
             and bending next to the tool joints comes out too high in tension",
            "the tool joint's diameter in the certificate or the tally",
        ),
        Assumption::NoWall => (
            "no wall of the hole: contact is not counted, and a tube that buckles has no figure",
            "hole_diameter of the run",
        ),
        Assumption::Air => (
            "the curve for air: in mud that corrodes, damage is several times as much",
            "environment of the run",
        ),
    }
}

/// The assumptions of a set, in the order of the vocabulary.
pub fn assumptions(bits: i64) -> impl Iterator<Item = Assumption> {
    Assumption::ALL.iter().copied().filter(move |a| bits & (1 << *a as i64) != 0)
}
