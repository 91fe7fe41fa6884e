//! What each kind of reading is: how it is kept, on which end it is read, of which nominal dimension
//! it can be a share, which way it gets worse. No arm takes in the rest: a new kind says all of it.

use crate::units::Measure;

use super::vocab::{End, ReadingKind};

/// Which way a reading gets worse.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Worse {
    /// The less is left, the worse.
    Less,
    /// The more there is, the worse.
    More,
    /// There is too little and too much of it.
    EitherWay,
}

/// The nominal dimension of which a reading can be a share.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NominalKind {
    /// Wall of the body.
    Wall,
    /// Outside diameter of the body.
    Od,
    /// Outside diameter of the tool joint.
    JointOd,
    /// Inside diameter of the tool joint.
    JointId,
}

/// A reading as a share of a nominal dimension.
#[derive(Clone, Copy, Debug)]
pub struct Share {
    pub of: NominalKind,
    /// Least and most that can be, in thousandths; a flaw can have any depth. Rolled wall is thicker
    /// than nominal here and there, worn wall can be thin. Common practice.
    pub plausible: Option<(i64, i64)>,
}

/// What a kind of reading is.
#[derive(Clone, Copy, Debug)]
pub struct ReadingSpec {
    /// How it is kept; every one is a length.
    pub measure: Measure,
    /// Ends to which it belongs; none for one of the tube.
    pub ends: &'static [End],
    /// Where it can be given as a share; none for one that is always a length.
    pub share: Option<Share>,
}

const TUBE: &[End] = &[];
const PIN: &[End] = &[End::Pin];
const BOX: &[End] = &[End::Box];
const BOTH: &[End] = &[End::Pin, End::Box];

impl ReadingKind {
    pub const fn spec(self) -> ReadingSpec {
        match self {
            Self::Wall | Self::AdjacentWall => ReadingSpec {
                measure: Measure::Wall,
                ends: TUBE,
                share: Some(Share { of: NominalKind::Wall, plausible: Some((50, 1_300)) }),
            },
            Self::BodyOd | Self::SlipOd => ReadingSpec {
                measure: Measure::Diameter,
                ends: TUBE,
                share: Some(Share { of: NominalKind::Od, plausible: Some((600, 1_050)) }),
            },
            Self::BodyOdMax => ReadingSpec {
                measure: Measure::Diameter,
                ends: TUBE,
                share: Some(Share { of: NominalKind::Od, plausible: Some((900, 1_150)) }),
            },
            Self::JointOd => ReadingSpec {
                measure: Measure::Diameter,
                ends: BOTH,
                share: Some(Share { of: NominalKind::JointOd, plausible: Some((600, 1_050)) }),
            },
            Self::JointId => ReadingSpec {
                measure: Measure::Diameter,
                ends: BOTH,
                share: Some(Share { of: NominalKind::JointId, plausible: Some((900, 1_500)) }),
            },
            Self::Shoulder
            | Self::Bevel
            | Self::TongSpace
            | Self::Benchmark
            | Self::HardbandHeight => {
                ReadingSpec { measure: Measure::Diameter, ends: BOTH, share: None }
            }
            Self::Counterbore | Self::CounterboreDepth | Self::BorebackDiameter => {
                ReadingSpec { measure: Measure::Diameter, ends: BOX, share: None }
            }
            Self::Stretch => ReadingSpec { measure: Measure::Wall, ends: PIN, share: None },
            Self::PinNeck | Self::ReliefDiameter | Self::ReliefWidth => {
                ReadingSpec { measure: Measure::Diameter, ends: PIN, share: None }
            }
            Self::ProfileGap => ReadingSpec { measure: Measure::Wall, ends: BOTH, share: None },
            Self::CentreUpset | Self::ElevatorGroove | Self::SlipGroove => {
                ReadingSpec { measure: Measure::Diameter, ends: TUBE, share: None }
            }
            Self::Bow => ReadingSpec { measure: Measure::Wall, ends: TUBE, share: None },
            Self::Length => ReadingSpec { measure: Measure::JointLength, ends: TUBE, share: None },
            Self::FlawDepth => ReadingSpec {
                measure: Measure::Wall,
                ends: TUBE,
                share: Some(Share { of: NominalKind::Wall, plausible: None }),
            },
        }
    }

    /// The nominal dimension of which it can be a share; `None` for one that is always a length.
    pub const fn nominal(self) -> Option<NominalKind> {
        match self.spec().share {
            Some(share) => Some(share.of),
            None => None,
        }
    }

    /// How far two readings of one day may lie apart, nm, before one of them must be wrong: what an
    /// instrument of its kind and a careful hand repeat in the yard. No standard gives it for pipe in
    /// use; common practice, wide enough that the grain of the scale is no disagreement.
    pub const fn repeats_within(self) -> i64 {
        match self {
            // Ultrasonic or gamma-ray gauge: 0.010 in.
            Self::Wall | Self::AdjacentWall | Self::FlawDepth => 254_000,
            // Callipers and steel rule: 1/32 in.
            Self::BodyOd
            | Self::BodyOdMax
            | Self::SlipOd
            | Self::JointOd
            | Self::JointId
            | Self::Shoulder
            | Self::Bevel
            | Self::Benchmark
            | Self::HardbandHeight
            | Self::Counterbore
            | Self::CounterboreDepth
            | Self::BorebackDiameter
            | Self::PinNeck
            | Self::ReliefDiameter
            | Self::ReliefWidth
            | Self::CentreUpset
            | Self::ElevatorGroove
            | Self::SlipGroove => 793_750,
            // Tong space, to the nearest 1/8 in.
            Self::TongSpace => 3_175_000,
            // Lead gauge: 0.001 in; profile gauge and feeler: 0.002 in.
            Self::Stretch => 25_400,
            Self::ProfileGap => 50_800,
            // String along the pipe: 1/8 in. Tape: 0.1 ft.
            Self::Bow => 3_175_000,
            Self::Length => 30_480_000,
        }
    }

    /// By how much a reading is better than one before, of one end, both in nm. A band of hardband wears
    /// down; of what else has limits to both sides a change is better where it was out of them.
    pub fn better_by(self, end: Option<End>, read: i64, before: i64) -> i64 {
        match self.worse(end) {
            Worse::Less => read - before,
            Worse::More => before - read,
            Worse::EitherWay if self == Self::HardbandHeight => read - before,
            Worse::EitherWay => (read - before).abs(),
        }
    }

    /// Which way this reading gets worse at an end, as the limits of `condition` have it; a kind
    /// without a limit goes by what the dimension is for.
    pub const fn worse(self, end: Option<End>) -> Worse {
        match self {
            // Metal worn, ground or cut away; depths and heights that must be reached.
            Self::Wall
            | Self::BodyOd
            | Self::SlipOd
            | Self::JointOd
            | Self::Shoulder
            | Self::CounterboreDepth
            | Self::TongSpace
            | Self::CentreUpset
            | Self::Length
            | Self::AdjacentWall
            | Self::ElevatorGroove
            | Self::SlipGroove => Worse::Less,
            // Swelling, washing out, stretching, gaps and depths of damage.
            Self::BodyOdMax
            | Self::JointId
            | Self::Counterbore
            | Self::Stretch
            | Self::PinNeck
            | Self::ProfileGap
            | Self::Bow
            | Self::FlawDepth => Worse::More,
            // Refacing moves the shoulder away from the mark of a pin and towards that of a box.
            Self::Benchmark => match end {
                Some(End::Pin) => Worse::More,
                Some(End::Box) => Worse::Less,
                None => Worse::EitherWay,
            },
            // Worn flush or applied too proud; tolerances to both sides.
            Self::HardbandHeight
            | Self::Bevel
            | Self::ReliefDiameter
            | Self::ReliefWidth
            | Self::BorebackDiameter => Worse::EitherWay,
        }
    }
}
