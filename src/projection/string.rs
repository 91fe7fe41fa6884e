//! A run's string in its hole at one moment, as `mechanics` wants it: for loads, ratings and
//! questions about a place of the string. Pure.
//!
//! The same reading of the tally as the exposure of the run: strapped length, then the book's
//! dimension of the day, then the certificate's; nominal bore, all wear outside; least strengths of
//! the grade.

use std::collections::BTreeMap;

use crate::mechanics::bending::PermissibleStress;
use crate::mechanics::path::{Path, Station};
use crate::mechanics::string as mech;
use crate::mechanics::tube::{Grade, us::KSI};
use crate::model::{
    Activity, Component, EntryId, Instant, PartLine, Qty, RunBody, Segment, SurveyBody, TallyLine,
};
use crate::units::{Measure, Unit};

use super::dims;
use super::exposure::JointFacts;
use super::rows::DimensionRow;

/// A part of the string with what it is called.
#[derive(Clone, Debug, PartialEq)]
pub struct NamedPart {
    /// Serial, or what the tally calls it.
    pub name: String,
    /// What it is.
    pub component: Component,
    /// Its weight is a guess from its section, or was left out.
    pub weight_guessed: bool,
    /// Its section is known.
    pub section_known: bool,
}

/// A run at one bit depth.
#[derive(Clone, Debug, PartialEq)]
pub struct RunString {
    /// Hole, string, log, mud.
    pub case: mech::RunCase,
    /// Names of the parts, from the bit up.
    pub parts: Vec<NamedPart>,
    /// The mud weight was recorded.
    pub mud_known: bool,
}

/// What it is made from.
#[derive(Clone, Copy, Debug)]
pub struct StringInput<'a> {
    /// The run.
    pub run: &'a RunBody,
    /// Its first instant.
    pub start: Instant,
    /// Clock offset at which its days begin, minutes.
    pub offset_minutes: i32,
    /// Survey of the hole; straight down without one.
    pub survey: Option<&'a SurveyBody>,
    /// What the book says of the joints, by the entries that introduced them.
    pub joints: &'a BTreeMap<EntryId, JointFacts>,
}

fn base(q: Option<&Qty>, measure: Measure) -> Option<f64> {
    q.and_then(|q| q.base(measure))
}

fn metres(nm: i64) -> f64 {
    nm as f64 * 1e-9
}

impl RunString {
    /// The string as it was when the bit last stood at a depth (m); the whole run's last tally when
    /// it never did.
    ///
    /// # Errors
    /// A sentence when the survey is no path or a part has no length.
    pub fn at(input: &StringInput<'_>, bit: f64) -> Result<Self, String> {
        let body = input.run;
        let tally = tally_at(input, bit);
        let mut builder = Builder { input, parts: Vec::new(), named: Vec::new() };
        for line in tally {
            builder.line(line)?;
        }
        let string = mech::DrillString::new(builder.parts).map_err(|e| e.to_string())?;
        let mud = base(body.mud_weight.as_ref(), Measure::Density);
        let outside = mud.unwrap_or(0.0);
        let inside = base(body.mud_weight_inside.as_ref(), Measure::Density).unwrap_or(outside);
        let celsius = base(body.temperature.as_ref(), Measure::Temperature).map(|k| k - 273.15);
        Ok(Self {
            case: mech::RunCase {
                path: path(input.survey)?,
                string,
                segments: body.segments.iter().map(segment).collect(),
                fluids: mech::Fluids { inside, outside },
                cased_to: base(body.casing_depth.as_ref(), Measure::Depth).unwrap_or(0.0),
                riser_to: base(body.riser_depth.as_ref(), Measure::Depth).unwrap_or(0.0),
                hole_diameter: base(body.hole_diameter.as_ref(), Measure::Diameter),
                environment: mech::Environment {
                    hydrogen_sulphide: body.sour,
                    hottest_celsius: celsius,
                },
            },
            parts: builder.named,
            mud_known: mud.is_some(),
        })
    }
}

/// The tally in force when the bit last stood at a depth.
fn tally_at<'a>(input: &StringInput<'a>, bit: f64) -> &'a [TallyLine] {
    let body = input.run;
    let there = |s: &&Segment| {
        let (a, b) = (s.bit_from_mm as f64 * 1e-3, s.bit_to_mm as f64 * 1e-3);
        (a.min(b) - 0.5..=a.max(b) + 0.5).contains(&bit)
    };
    let at = body.segments.iter().rev().find(there).map_or(i64::MAX, |s| s.start_ms);
    body.swaps
        .iter()
        .map(|swap| (swap.at.start(input.offset_minutes).0 - input.start.0, swap))
        .filter(|(begun, _)| *begun <= at)
        .max_by_key(|(begun, _)| *begun)
        .map_or(&body.tally, |(_, swap)| &swap.tally)
}

struct Builder<'a, 'b> {
    input: &'a StringInput<'b>,
    parts: Vec<mech::Part>,
    named: Vec<NamedPart>,
}

impl Builder<'_, '_> {
    fn line(&mut self, line: &TallyLine) -> Result<(), String> {
        let joint = line.joint.as_ref().and_then(|j| self.input.joints.get(&j.joint));
        let today = joint.and_then(|f| dims::at(&f.dims, self.input.start));
        let given = line.part.as_ref();
        let component = given
            .map(|p| p.component)
            .filter(|c| *c != Component::Other || joint.is_none())
            .or_else(|| joint.map(|j| j.component))
            .unwrap_or(Component::Other);
        let name = line
            .joint
            .as_ref()
            .map(|j| j.serial.to_string())
            .or_else(|| given.and_then(|p| p.name.clone()))
            .unwrap_or_else(|| component.to_string());
        let length = line
            .length
            .as_ref()
            .and_then(|q| q.stored(Measure::JointLength))
            .or_else(|| today.and_then(|d| d.length))
            .or_else(|| joint.and_then(|f| f.nominal.length))
            .ok_or_else(|| {
                format!("the length of {name} is not known, so nobody can say what hangs where")
            })?;
        let section = section(given, joint, today);
        let kind = kind(component);
        let grade = joint.and_then(|j| j.grade.as_deref());
        let (material, permissible) = material(kind, grade, section.map_or(0.0, |s| s.0));
        let stated = given
            .and_then(|p| base(p.weight.as_ref(), Measure::LinearMass))
            .or_else(|| joint.and_then(|j| j.weight));
        let plain = section
            .map(|(od, id)| std::f64::consts::FRAC_PI_4 * (od * od - id * id) * material.density);
        let (od, id) = section.unwrap_or((0.127, 0.1));
        let tool_joint_od = given
            .and_then(|p| base(p.tj_od.as_ref(), Measure::Diameter))
            .or_else(|| today.and_then(|d| d.tj_od).map(metres))
            .or_else(|| joint.and_then(|j| j.nominal.tj_od).map(metres));
        let part = mech::Part {
            kind,
            length: metres(length),
            od,
            id,
            air_weight: stated.or(plain).unwrap_or(0.0),
            tool_joint_od,
            material,
            permissible,
            concentration: [1.0; 3],
        };
        for _ in 0..line.count.unwrap_or(1).max(1) {
            self.parts.push(part);
            self.named.push(NamedPart {
                name: name.clone(),
                component,
                weight_guessed: stated.is_none(),
                section_known: section.is_some(),
            });
        }
        Ok(())
    }
}

const fn kind(component: Component) -> mech::Kind {
    match component {
        Component::DrillPipe | Component::Pup => mech::Kind::DrillPipe,
        Component::HeavyWeight => mech::Kind::HeavyWeight,
        Component::DrillCollar | Component::NonMagneticCollar => mech::Kind::DrillCollar,
        _ => mech::Kind::Other,
    }
}

/// Outside and inside diameter, m: as the tally says, else nominal bore and the wall of the day.
fn section(
    given: Option<&PartLine>,
    joint: Option<&JointFacts>,
    today: Option<&DimensionRow>,
) -> Option<(f64, f64)> {
    let said = given.and_then(|p| {
        let od = base(p.od.as_ref(), Measure::Diameter)?;
        let id = base(p.id.as_ref(), Measure::Diameter)
            .or_else(|| base(p.wall.as_ref(), Measure::Wall).map(|w| od - 2.0 * w))?;
        Some((od, id))
    });
    said.or_else(|| {
        let nominal = joint?.nominal;
        let (od, wall) = (nominal.od?, nominal.wall?);
        let bore = od - 2 * wall;
        let now = today.and_then(|d| d.wall).unwrap_or(wall);
        Some((metres(bore + 2 * now), metres(bore)))
    })
}

/// Steel of a part and its branch of the permissible bending stress.
///
/// Drill pipe: least strengths of the grade (API Spec 5DP), of the weakest where none is known.
/// Collars: 110 and 140 ksi up to 6 7/8 in, 100 and 135 ksi above (API Spec 7-1). The rest: 55 and
/// 95 ksi (memory).
fn material(kind: mech::Kind, grade: Option<&str>, od: f64) -> (mech::Material, PermissibleStress) {
    let steel =
        |y: f64, u: f64| (mech::Material::steel(y * KSI, u * KSI), PermissibleStress::GradeE);
    match kind {
        mech::Kind::DrillPipe => {
            let grade = grade.and_then(|g| g.parse::<Grade>().ok()).unwrap_or(Grade::E75);
            let strengths = grade.steel();
            (
                mech::Material::steel(strengths.min_yield, strengths.min_tensile),
                PermissibleStress::for_yield(strengths.min_yield),
            )
        }
        mech::Kind::DrillCollar if od <= 0.1747 => steel(110.0, 140.0),
        mech::Kind::DrillCollar => steel(100.0, 135.0),
        _ => steel(55.0, 95.0),
    }
}

/// The path of the hole; straight down where no survey is known.
fn path(survey: Option<&SurveyBody>) -> Result<Path, String> {
    let Some(survey) = survey else {
        let vertical = [Station { md: 0.0, inc: 0.0, azi: 0.0 }];
        return Path::new(&vertical).map_err(|e| e.to_string());
    };
    let told = |e: &dyn std::fmt::Display| format!("the survey of {}: {e}", survey.well);
    let depth =
        Unit::parse(&survey.depth_unit, Measure::Depth.dimension()).map_err(|e| told(&e))?;
    let angle =
        Unit::parse(&survey.angle_unit, Measure::Angle.dimension()).map_err(|e| told(&e))?;
    let number = |text: &str, unit: &Unit, measure: Measure| {
        Qty::with_unit(text, unit)
            .ok()
            .and_then(|q| q.base(measure))
            .ok_or_else(|| told(&format!("'{text}' is not a number")))
    };
    let stations = survey
        .stations
        .iter()
        .map(|s| {
            Ok(Station::from_degrees(
                number(&s.0, &depth, Measure::Depth)?,
                number(&s.1, &angle, Measure::Angle)?,
                number(&s.2, &angle, Measure::Angle)?,
            ))
        })
        .collect::<Result<Vec<_>, String>>()?;
    Path::new(&stations).map_err(|e| told(&e))
}

fn segment(s: &Segment) -> mech::Segment {
    let activity = match s.activity {
        Activity::RotatingOnBottom => mech::Activity::RotatingOnBottom,
        Activity::Sliding => mech::Activity::Sliding,
        Activity::ReamingDown => mech::Activity::ReamingDown,
        Activity::ReamingUp => mech::Activity::ReamingUp,
        Activity::RotatingOffBottom => mech::Activity::RotatingOffBottom,
        Activity::NotRotating => mech::Activity::Standing,
    };
    let depth = |mm: i64| mm.max(0) as f64 * 1e-3;
    mech::Segment {
        activity,
        bit_from: depth(s.bit_from_mm),
        bit_to: depth(s.bit_to_mm),
        hours: s.duration_ms.max(0) as f64 / 3_600_000.0,
        revolutions: s.milli_turns.max(0) as f64 * 1e-3,
        wob: s.wob_n.unwrap_or(0) as f64,
        torque: s.torque_nm.map(|t| t as f64),
        hookload: s.hookload_n.map(|h| h as f64),
    }
}
