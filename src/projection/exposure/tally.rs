//! Reads the tallies of a run into strings for `mechanics`, with each joint as it was on the day.

use std::collections::BTreeMap;
use std::ops::Range;

use crate::mechanics::bending::PermissibleStress;
use crate::mechanics::exposure::PIN_END;
use crate::mechanics::string as mech;
use crate::model::{Assumption, Component, Instant, PartLine, RunBody, Segment, TallyLine};
use crate::units::Measure;

use super::super::{dims, notches};
use super::assumed::Assumed;
use super::case::{Notched, Phase};
use super::input::{JointFacts, JointLine, RunInput, base};
use super::log::between;
use crate::schema::DimensionRow;

/// A part of a string: what the tally calls it, and how well it is known.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NamedPart {
    /// Serial of the joint, else the tally's name of the part, else what it is.
    pub name: String,
    /// Its section is known; else that of 5 in pipe stands in for stiffness.
    pub section_known: bool,
    /// Its weight is stated; else that of its plain section stands in, or none where that is not
    /// known either.
    pub weight_stated: bool,
    /// It is a joint's, taken from the name of its size or from its plain section.
    pub weight_assumed: bool,
}

/// Reads the tallies of a run and notes where joints of the book stand in them.
pub(super) struct TallyReader<'a, 'b> {
    input: &'a RunInput<'b>,
    /// From the start of the run to its end.
    time: Range<Instant>,
    /// Joints of the book by their place.
    pub lines: BTreeMap<i64, JointLine>,
    /// Why a tally is no string, for the first that is none.
    pub gap: Option<String>,
}

impl<'a, 'b> TallyReader<'a, 'b> {
    pub(super) const fn new(input: &'a RunInput<'b>, time: Range<Instant>) -> Self {
        Self { input, time, lines: BTreeMap::new(), gap: None }
    }

    /// One phase for each tally of the run: the string with what was done while it was in the hole.
    pub(super) fn phases(
        &mut self,
        body: &RunBody,
        segments: &[Segment],
    ) -> Result<Vec<Phase>, String> {
        let clock = self.input.run.clock;
        let mut tallies: Vec<(i64, &[TallyLine])> = vec![(0, &body.tally)];
        for swap in &body.swaps {
            tallies.push((swap.at.start(clock).0 - self.time.start.0, &swap.tally));
        }
        tallies.sort_by_key(|t| t.0);
        let mut phases = Vec::new();
        for (index, (from, tally)) in tallies.iter().enumerate() {
            let until = tallies.get(index + 1).map_or(i64::MAX, |t| t.0);
            let from = if index == 0 { i64::MIN } else { *from };
            let segments = segments.iter().filter_map(|s| between(s, from, until)).collect();
            let Some((string, parts)) = self.string(tally, (index, tallies.len()))? else {
                continue;
            };
            phases.push(Phase::new(string, parts, segments)?);
        }
        Ok(phases)
    }

    /// The string of a tally; `None` (and the gap said) when a length is missing.
    fn string(
        &mut self,
        tally: &[TallyLine],
        phase: (usize, usize),
    ) -> Result<Option<(mech::DrillString, Vec<NamedPart>)>, String> {
        let (mut parts, mut names) = (Vec::new(), Vec::new());
        let mut at_nm = 0i64;
        let mut place = 0;
        let mut weights_known = true;
        let mut hanging = Assumed::default();
        for line in tally {
            let joint = line
                .joint
                .as_ref()
                .and_then(|j| self.input.positions.get(&j.joint))
                .and_then(|p| self.input.joints.get(p).map(|f| (*p, f)));
            let facts = joint.map(|j| j.1);
            let dims = facts.and_then(|f| dims::at(&f.dims, self.time.start));
            let length = line
                .length
                .as_ref()
                .and_then(|q| q.stored(Measure::JointLength))
                .or_else(|| dims.and_then(|d| d.length))
                .or_else(|| facts.and_then(|f| f.nominal.length));
            let (part, named, assumed) = part_of(line, facts, dims, length);
            let assumed = assumed.and(hanging);
            hanging = assumed.of_what_hangs();
            let ratio = stress_ratio(line);
            let ultimate = part.material.ultimate_strength;
            let notched = facts.map_or_else(Vec::new, |f| self.notched(f, ultimate, ratio));
            let unmeasured = dims.is_some_and(|d| d.notch_unmeasured)
                || facts.is_some_and(|f| self.during(f).any(|d| d.notch_unmeasured));
            weights_known &= named.weight_stated || named.section_known;
            if length.is_none() {
                self.gap.get_or_insert_with(|| {
                    format!(
                        "the length of {} is not known, so nobody can say what hangs where",
                        named.name
                    )
                });
            }
            for _ in 0..line.count.unwrap_or(1).max(1) {
                if let Some((id, _)) = joint {
                    place += 1;
                    let known = (named.section_known, weights_known);
                    self.note(id, (place, at_nm), length, known, phase, parts.len());
                    if let Some(line) = self.lines.get_mut(&id) {
                        line.assumed = line.assumed.and(assumed);
                        line.notched.clone_from(&notched);
                        line.notch_unmeasured |= unmeasured;
                        line.pin_rated |= ratio.is_some();
                    }
                }
                parts.push(part);
                names.push(named.clone());
                at_nm += length.unwrap_or(0);
            }
        }
        if self.gap.is_some() {
            return Ok(None);
        }
        if parts.is_empty() {
            self.gap = Some(mech::CaseError::NoParts.to_string());
            return Ok(None);
        }
        let string = mech::DrillString::new(parts).map_err(|e| e.to_string())?;
        Ok(Some((string, names)))
    }

    /// Dimensions that a joint came to have during the run.
    fn during<'d>(&self, facts: &'d JointFacts) -> impl Iterator<Item = &'d DimensionRow> {
        let time = self.time.clone();
        facts.dims.iter().filter(move |d| d.at > time.start.0 && d.at < time.end.0)
    }

    /// Stress concentrations that a part came to have during the run. Its other dimensions are those
    /// that it began with.
    fn notched(&self, facts: &JointFacts, ultimate: f64, ratio: Option<f64>) -> Vec<Notched> {
        let mut last = dims::at(&facts.dims, self.time.start).map_or([None; 3], notches::depths);
        self.during(facts)
            .filter_map(|d| {
                let changed = notches::depths(d) != last;
                last = notches::depths(d);
                changed.then(|| Notched {
                    from: d.at - self.time.start.0,
                    concentration: concentration(Some(d), ultimate, ratio),
                })
            })
            .collect()
    }

    /// Notes where a joint of the book stands: joints of the book below it plus one, and its
    /// distance from the bit, nm.
    pub(super) fn note(
        &mut self,
        joint: i64,
        (place, from_bit): (i64, i64),
        length: Option<i64>,
        (section_known, weight_known): (bool, bool),
        (phase, phases): (usize, usize),
        part: usize,
    ) {
        let line = self.lines.entry(joint).or_insert_with(|| JointLine {
            joint,
            place,
            key: 0,
            from_bit,
            length: length.unwrap_or(0),
            section_known,
            weight_known,
            twice: false,
            notch_unmeasured: false,
            notched: Vec::new(),
            pin_rated: false,
            assumed: Assumed::default(),
            parts: vec![None; phases],
        });
        line.weight_known &= weight_known;
        match line.parts.get_mut(phase) {
            Some(slot @ None) => *slot = Some(part),
            _ => line.twice = true,
        }
    }
}

/// A part for `mechanics`, and what is known of it.
fn part_of(
    line: &TallyLine,
    joint: Option<&JointFacts>,
    dims: Option<&DimensionRow>,
    length: Option<i64>,
) -> (mech::Part, NamedPart, Assumed) {
    let given = line.part.as_ref();
    let section = section(given, joint, dims);
    let component = given
        .map(|p| p.component)
        .filter(|c| *c != Component::Other || joint.is_none())
        .or_else(|| joint.map(|j| j.component))
        .unwrap_or(Component::Other);
    let kind = kind(component);
    let grade = joint.and_then(|j| j.grade.as_deref());
    let (material, permissible) = material(kind, grade, section.map_or(0.0, |s| s.0));
    let stated = given
        .and_then(|p| base(p.weight.as_ref(), Measure::LinearMass))
        .or_else(|| joint.and_then(|j| j.weight));
    // A plain steel part weighs what its section does.
    let plain = section
        .map(|(od, id)| std::f64::consts::FRAC_PI_4 * (od * od - id * id) * material.density);
    let weight = stated.or(plain);
    let tool_joint_od = given
        .and_then(|p| base(p.tj_od.as_ref(), Measure::Diameter))
        .or_else(|| dims.and_then(|d| d.tj_od).map(metres))
        .or_else(|| joint.and_then(|j| j.nominal.tj_od).map(metres));
    let (od, id) = section.unwrap_or((0.127, 0.1));
    let ratio = stress_ratio(line);
    let part = mech::Part {
        kind,
        length: length.map_or(1.0, metres),
        od,
        id,
        air_weight: weight.unwrap_or(0.0),
        tool_joint_od,
        material,
        permissible,
        concentration: concentration(dims, material.ultimate_strength, ratio),
    };
    let tube = matches!(kind, mech::Kind::DrillPipe | mech::Kind::HeavyWeight);
    let own_weight = given.is_some_and(|p| p.weight.is_some());
    let certificate = joint.map(|j| j.nominal);
    let assumed = Assumed::default()
        .with(
            tube && !own_weight && stated.is_some() && joint.is_some_and(|j| j.weight_is_nominal),
            Assumption::NominalWeight,
        )
        .with(stated.is_none() && plain.is_some(), Assumption::PlainWeight)
        .with(
            line.length.is_none() && certificate.is_some_and(|c| c.length == length),
            Assumption::CertificateLength,
        )
        .with(
            tube && certificate.is_some_and(|c| dims.is_none_or(|d| d.wall == c.wall)),
            Assumption::NewWall,
        )
        .with(
            kind == mech::Kind::DrillPipe
                && grade.and_then(|g| g.parse::<crate::mechanics::tube::Grade>().ok()).is_none(),
            Assumption::WeakestGrade,
        )
        .with(tube && tool_joint_od.is_none(), Assumption::NoToolJoint);
    let name = line
        .joint
        .as_ref()
        .map(|j| j.serial.to_string())
        .or_else(|| given.and_then(|p| p.name.clone()))
        .unwrap_or_else(|| component.to_string());
    let named = NamedPart {
        name,
        section_known: section.is_some(),
        weight_stated: stated.is_some(),
        weight_assumed: tube && assumed.of_weight(),
    };
    (part, named, assumed)
}

/// Stress concentration at the three places: of open cuts and pits, and at the pin end of the
/// connection where its stress ratio is stated.
fn concentration(dims: Option<&DimensionRow>, ultimate: f64, ratio: Option<f64>) -> [f64; 3] {
    let depths = dims.map_or([None; 3], notches::depths);
    let mut factors =
        depths.map(|depth| depth.map_or(1.0, |depth| notches::factor(depth, ultimate)));
    factors[PIN_END] *= ratio.unwrap_or(1.0);
    factors
}

/// The stress ratio of a connection that a line of a tally states.
fn stress_ratio(line: &TallyLine) -> Option<f64> {
    base(line.part.as_ref()?.stress_ratio.as_ref(), Measure::Factor)
}

fn metres(nm: i64) -> f64 {
    nm as f64 * 1e-9
}

/// How a part bends.
const fn kind(component: Component) -> mech::Kind {
    match component {
        Component::DrillPipe | Component::Pup => mech::Kind::DrillPipe,
        Component::HeavyWeight => mech::Kind::HeavyWeight,
        Component::DrillCollar | Component::NonMagneticCollar => mech::Kind::DrillCollar,
        Component::Sub
        | Component::Stabilizer
        | Component::Jar
        | Component::Motor
        | Component::MeasuringTool
        | Component::Bit
        | Component::Other => mech::Kind::Other,
    }
}

/// Outside and inside diameter, m: as the tally line says, else nominal bore and the wall of the
/// day, all wear on the outside.
fn section(
    given: Option<&PartLine>,
    joint: Option<&JointFacts>,
    dims: Option<&DimensionRow>,
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
        let now = dims.and_then(|d| d.wall).unwrap_or(wall);
        Some((metres(bore + 2 * now), metres(bore)))
    })
}

/// Steel of a part, and its branch of the permissible bending stress.
///
/// Drill pipe: least yield and tensile strength of the grade (API Spec 5DP), the weakest grade
/// where none is known. Collars: 110 ksi yield and 140 ksi tensile up to 6 7/8 in, 100 and 135 ksi
/// above (API Spec 7-1). Heavy-weight pipe and the rest: 55 and 95 ksi (from memory).
fn material(kind: mech::Kind, grade: Option<&str>, od: f64) -> (mech::Material, PermissibleStress) {
    use crate::mechanics::tube::{Grade, us::KSI};
    let steel =
        |y: f64, u: f64| (mech::Material::steel(y * KSI, u * KSI), PermissibleStress::GradeE);
    let (mut material, permissible) = match kind {
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
        mech::Kind::HeavyWeight | mech::Kind::Other => steel(55.0, 95.0),
    };
    // Another metal is taken for steel, and what comes of it is flagged.
    material.metal = grade.and_then(mech::Metal::named).unwrap_or(mech::Metal::Steel);
    (material, permissible)
}
