//! A joint against what a run asks of it.

use crate::condition::{Ground, Part, Reason, Restriction};
use crate::mechanics::tube::{Body, Grade, Tube, TubeClass, Wear, tension};
use crate::model::{Class, Component, End, ReadingKind};
use crate::projection::connection::{EndDimensions, makeup_torque};
use crate::projection::joint::Appraisal;
use crate::units::{Measure, UnitSystem};

/// What a run asks of every joint of its string.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Demands {
    /// The hardest pull, N.
    pub pull: Option<f64>,
    /// The hardest torque, N·m.
    pub torque: Option<f64>,
    /// Hydrogen sulphide is met.
    pub sour: bool,
    /// It turns inside casing, riser or preventer.
    pub casing: bool,
    /// What of it nobody knows, in words.
    pub open: Vec<String>,
}

const YIELD: &str = "API RP 7G: load at which the tube yields, straight, no design factor";
const MAKEUP: &str = "API RP 7G: no more than the make-up torque of today's dimensions";

/// Why a joint does not bear what is asked, or why that cannot be said.
pub fn against(a: &Appraisal, demands: &Demands, units: UnitSystem) -> Vec<Reason> {
    let mut out = Vec::new();
    let mut see = |ground, part, says: String| out.push(Reason { ground, part, says });
    for unknown in &demands.open {
        see(Ground::DemandOpen, Part::Joint, unknown.clone());
    }
    let tube = tube(a);
    let held = |asked: Option<f64>, bears: Option<f64>, measure: Measure| {
        let show =
            |x: f64| measure.store_f64(x).map_or_else(String::new, |q| measure.text(q, units));
        asked.and_then(|asked| match bears {
            Some(bears) if asked <= bears => None,
            Some(bears) => {
                Some((Ground::Demand, format!("{} asked, {} borne", show(asked), show(bears))))
            }
            None => Some((
                Ground::DemandOpen,
                format!("{} asked, and what it bears cannot be rated", show(asked)),
            )),
        })
    };
    if let Some((ground, says)) = held(demands.pull, pull_borne(a), Measure::Force) {
        see(ground, Part::Tube, format!("pull: {says} ({YIELD})"));
    }
    let torsion = tube.as_ref().and_then(|(t, strength)| Some(t.ratings(*strength).ok()?.torsion));
    if let Some((ground, says)) = held(demands.torque, torsion, Measure::Torque) {
        see(ground, Part::Tube, format!("torque: {says} ({YIELD})"));
    }
    for (end, part) in [(End::Pin, Part::Pin), (End::Box, Part::Box)] {
        let bears = end_torque(a, end);
        if let Some((ground, says)) = held(demands.torque, bears, Measure::Torque) {
            see(ground, part, format!("torque: {says} ({MAKEUP})"));
        }
    }
    if demands.sour {
        let (ground, says) = sour(a);
        see(ground, Part::Joint, says.to_owned());
    }
    if demands.casing {
        if a.restrictions.contains(&Restriction::OpenHoleOrProtectors) {
            see(
                Ground::Demand,
                Part::Joint,
                "it turns in casing, riser or preventer, and may only in open hole or with protectors"
                    .to_owned(),
            );
        } else if !hardband_seen(a) {
            see(
                Ground::DemandOpen,
                Part::Joint,
                "it turns in casing, riser or preventer, and nobody measured its hardband"
                    .to_owned(),
            );
        }
    }
    out
}

/// The hardest pull that the tube of a joint bears, N; `None` where that cannot be rated.
pub fn pull_borne(a: &Appraisal) -> Option<f64> {
    let (tube, strength) = tube(a)?;
    tension(&tube.section, strength).ok()
}

/// The tube as it is worn, by its measured wall or else by its class, with its yield strength, Pa.
fn tube(a: &Appraisal) -> Option<(Tube, f64)> {
    let nominal = &a.subject.nominal;
    let metres = |nm: i64| nm as f64 * 1e-9;
    let grade: Grade = nominal.grade.as_deref()?.parse().ok()?;
    let body = Body::new(metres(nominal.od?), metres(nominal.wall?)).ok()?;
    let wear = match (a.subject.worst(ReadingKind::Wall, None), a.class()) {
        (Some(wall), _) => Wear::Uniform { wall: metres(wall), od: None },
        (None, Some(Class::Premium)) => Wear::Class(TubeClass::Premium),
        (None, Some(Class::Class2)) => Wear::Class(TubeClass::Class2),
        (None, _) => return None,
    };
    Some((body.worn(wear).ok()?, grade.min_yield()))
}

/// Make-up torque of an end as it was read, N·m; `None` where it was not read or nobody rates it.
fn end_torque(a: &Appraisal, end: End) -> Option<f64> {
    let subject = &a.subject;
    let name = subject.nominal.connection(end.into())?.name.as_deref();
    let pin_bore = subject.worst(ReadingKind::JointId, Some(End::Pin));
    let dimensions = EndDimensions {
        od: Some(subject.worst(ReadingKind::JointOd, Some(end))?),
        id: pin_bore.or(subject.nominal.joint_id),
        counterbore: match end {
            End::Box => subject.worst(ReadingKind::Counterbore, Some(End::Box)),
            End::Pin => None,
        },
    };
    let torque = makeup_torque(subject.component, name, &dimensions, 1.0)?;
    Some(Measure::Torque.base_f64(torque))
}

/// What sour service does to steel of high strength.
fn sour(a: &Appraisal) -> (Ground, &'static str) {
    let grade: Option<Grade> =
        a.subject.nominal.grade.as_deref().and_then(|grade| grade.parse().ok());
    match grade {
        Some(Grade::G105 | Grade::S135) => (
            Ground::Demand,
            "hydrogen sulphide: G-105 and S-135 of API Spec 5DP crack in it (common practice; sour \
             service has standards of its own)",
        ),
        Some(Grade::E75 | Grade::X95) | None => (
            Ground::DemandOpen,
            "hydrogen sulphide: hardness and sour qualification of its steel are not in the book; \
             sour service has standards of its own",
        ),
    }
}

fn hardband_seen(a: &Appraisal) -> bool {
    let banded = matches!(
        a.subject.component,
        Component::DrillPipe | Component::Pup | Component::HeavyWeight
    );
    !banded || a.subject.worst(ReadingKind::HardbandHeight, Some(End::Box)).is_some()
}
