//! Restrictions that a joint carries, and whether a run kept them.

use crate::model::vocabulary;

vocabulary!(
    /// Under what condition a joint may run.
    Restriction, "restriction", {
        /// Open hole only until the hardband has worn smooth, or protectors inside casing, riser
        /// and BOP. Common practice.
        OpenHoleOrProtectors = "open_hole_or_protectors" ["open_hole_only", "protectors"],
        /// Made up, and turned, to no more than the torque of its dimensions today.
        WornTorque = "worn_torque" [],
        /// Bare inside: only where a plan against corrosion is kept.
        CorrosionPlan = "corrosion_plan" [],
        /// Not in elevators by its groove: with a lift sub.
        LiftSubOnly = "lift_sub_only" ["lift_sub"],
        /// Only where the owner has said that it may.
        OwnerUse = "owner_use" [],
    }
);

impl Restriction {
    /// The restriction in words.
    pub const fn says(self) -> &'static str {
        match self {
            Self::OpenHoleOrProtectors => {
                "open hole only until the hardband has worn smooth, or protectors inside casing, \
                 riser and BOP"
            }
            Self::WornTorque => "make up and turn to no more than the torque of today's dimensions",
            Self::CorrosionPlan => "bare inside: only with a plan against corrosion",
            Self::LiftSubOnly => "lift with a lift sub, not by the elevator groove",
            Self::OwnerUse => "only where the owner has said that it may",
        }
    }
}

/// What a run did, as far as restrictions ask.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct RunFacts {
    /// Time of rotation inside casing, riser or BOP, quanta of `Measure::Hours`; `None` when not
    /// known.
    pub cased_hours: Option<i64>,
    /// Whether protectors were fitted; `None` when not known.
    pub protectors: Option<bool>,
}

/// Whether a run kept a restriction.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Compliance {
    Yes,
    /// It did not: the run is flagged.
    No,
    /// The book does not say.
    Unknown,
}

impl Restriction {
    /// Whether a run broke one of these; `None` where the book does not say. Of restrictions that
    /// a run does not tell of it says nothing.
    pub fn broken(carried: &[Self], run: RunFacts) -> Option<bool> {
        let told = carried.iter().filter(|r| matches!(r, Self::OpenHoleOrProtectors));
        let kept: Vec<Compliance> = told.map(|r| r.kept_by(run)).collect();
        if kept.contains(&Compliance::No) {
            return Some(true);
        }
        (!kept.contains(&Compliance::Unknown)).then_some(false)
    }

    /// Whether a run kept this restriction.
    ///
    /// Only the restriction on hardband can be told from a run; the others are for people to keep,
    /// and are unknown here.
    pub const fn kept_by(self, run: RunFacts) -> Compliance {
        match self {
            Self::OpenHoleOrProtectors => match (run.cased_hours, run.protectors) {
                (_, Some(true)) => Compliance::Yes,
                (Some(hours), _) if hours <= 0 => Compliance::Yes,
                (Some(_), Some(false)) => Compliance::No,
                (None, _) | (Some(_), None) => Compliance::Unknown,
            },
            Self::WornTorque | Self::CorrosionPlan | Self::LiftSubOnly | Self::OwnerUse => {
                Compliance::Unknown
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rough_hardband_in_casing_without_protectors_breaks_it() {
        let r = Restriction::OpenHoleOrProtectors;
        for (cased_hours, protectors, kept) in [
            (Some(1), Some(false), Compliance::No),
            (Some(1), Some(true), Compliance::Yes),
            (Some(0), Some(false), Compliance::Yes),
            (Some(0), None, Compliance::Yes),
            (Some(1), None, Compliance::Unknown),
            (None, Some(false), Compliance::Unknown),
            (None, Some(true), Compliance::Yes),
            (None, None, Compliance::Unknown),
        ] {
            assert_eq!(r.kept_by(RunFacts { cased_hours, protectors }), kept, "{cased_hours:?}");
        }
    }

    #[test]
    fn what_a_run_cannot_tell_is_unknown() {
        let run = RunFacts { cased_hours: Some(0), protectors: Some(true) };
        assert_eq!(Restriction::WornTorque.kept_by(run), Compliance::Unknown);
        assert_eq!(Restriction::broken(&[Restriction::WornTorque], run), Some(false));
        let unstated = RunFacts { cased_hours: Some(1), protectors: None };
        assert_eq!(Restriction::broken(&[Restriction::OpenHoleOrProtectors], unstated), None);
    }
}
