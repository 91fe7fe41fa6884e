//! A run ready to be computed.

use std::collections::BTreeMap;

use sha2::{Digest, Sha256};

use crate::mechanics::bending::PermissibleStress;
use crate::mechanics::exposure::{self, PartExposure, Settings};
use crate::mechanics::path::{Path, Station};
use crate::mechanics::string as mech;
use crate::model::{
    Activity, Body, Component, EntryId, Environment, Moment, PartLine, Qty, RunBody, RunGrade,
    Segment, SurveyBody, TallyLine,
};
use crate::units::{Measure, Unit};

use super::super::dims::{self, Nominal};
use super::super::facts::Placed;
use super::super::joint::{ESTIMATED, FINISH_IS_DAY, MISFIT, START_IS_DAY, TWICE};
use super::super::rows::{DimensionRow, JointRunRow, RunPartRow, RunRow};
use super::method::Method;
use super::quantise::{Knowledge, Quanta, quantise};

/// Bits of `flags` from which the validity flags of `mechanics` stand.
pub(super) const MECHANICS_FLAGS: u32 = 16;

/// What a run reads of a joint.
#[derive(Clone, Debug, PartialEq)]
pub struct JointFacts {
    /// What it is.
    pub component: Component,
    /// Grade of the tube, as written.
    pub grade: Option<String>,
    /// Certificate dimensions.
    pub nominal: Nominal,
    /// Weight in air, kg/m.
    pub weight: Option<f64>,
    /// Dimensions by time.
    pub dims: Vec<DimensionRow>,
}

impl JointFacts {
    /// Reads the entry that introduced a joint.
    pub fn of(body: &crate::model::JointBody, dims: Vec<DimensionRow>) -> Self {
        let weight = body.air_weight.as_ref().or(body.weight.as_ref());
        Self {
            component: body.component,
            grade: body.grade.clone(),
            nominal: Nominal::of(body),
            weight: weight.and_then(|q| q.base(Measure::LinearMass)),
            dims,
        }
    }
}

/// What a run model is made from.
#[derive(Debug)]
pub struct RunInput<'a> {
    /// The run.
    pub run: &'a Placed,
    /// Survey in force, and its place.
    pub survey: Option<(&'a SurveyBody, i64)>,
    /// Joints of the tally, by place.
    pub joints: &'a BTreeMap<i64, JointFacts>,
    /// Places of joints by the entries that introduced them.
    pub positions: &'a BTreeMap<EntryId, i64>,
    /// Fatigue method in force.
    pub method: &'a Method,
    /// Some of the rig equipment used failed its next check.
    pub equipment_doubtful: bool,
}

/// A joint of the book in the string.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct JointLine {
    /// The joint.
    pub joint: i64,
    /// Joints of the book below it, plus one.
    pub place: i64,
    /// What its figures are derived from, as a short digest.
    pub key: i64,
    /// Distance from the bit to its pin shoulder, nm.
    from_bit: i64,
    length: i64,
    section_known: bool,
    /// It stands elsewhere in the tally too.
    twice: bool,
    /// Part index in each phase of the run; `None` while it was not in the string.
    parts: Vec<Option<usize>>,
}

/// A stretch of the run with one tally.
#[derive(Clone, Debug)]
struct Phase {
    string: mech::DrillString,
    /// Segments with their start and duration, ms after the start of the run.
    segments: Vec<(i64, i64, mech::Segment)>,
}

/// A run ready to be computed.
#[derive(Clone, Debug)]
pub struct RunModel {
    row: RunRow,
    lines: Vec<JointLine>,
    /// `None` when the tally does not say where joints were (a length is missing).
    case: Option<Case>,
    flags: i64,
}

#[derive(Clone, Debug)]
struct Case {
    path: Path,
    phases: Vec<Phase>,
    fluids: mech::Fluids,
    cased_to: f64,
    riser_to: f64,
    hole_diameter: Option<f64>,
    environment: mech::Environment,
    settings: Settings,
    path_known: bool,
    loads_known: bool,
    casing_known: bool,
}

fn base(q: Option<&Qty>, measure: Measure) -> Option<f64> {
    q.and_then(|q| q.base(measure))
}

impl RunModel {
    /// Brings together what a run needs. What is missing makes figures unknown, not wrong.
    ///
    /// # Errors
    /// A sentence when the run cannot be what it says (a survey that is no path, a part that is no
    /// pipe).
    pub fn new(input: &RunInput<'_>) -> Result<Self, String> {
        let Body::Run(body) = &input.run.entry.body else {
            return Err("this entry is no run".to_owned());
        };
        let offset = input.run.entry.recorded.offset_minutes;
        let start = body.start.start(offset).0;
        let finish = input.run.entry.ends().0;
        let environment = body.environment.unwrap_or(Environment::Air);
        let mut flags = 0;
        if matches!(body.start, Moment::Day(_)) {
            flags |= START_IS_DAY;
        }
        if matches!(input.run.entry.effective, Moment::Day(_)) {
            flags |= FINISH_IS_DAY;
        }
        if body.grade == RunGrade::Estimated {
            flags |= ESTIMATED;
        }
        let segments = segments(body);
        let mut builder =
            Builder { input, start, lines: BTreeMap::new(), exact: true, whole: true };
        let phases = builder.phases(body, &segments)?;
        if !builder.exact {
            flags |= ESTIMATED;
        }
        let path = path_of(input.survey.map(|s| s.0))?;
        let mud = base(body.mud_weight.as_ref(), Measure::Density);
        let outside = mud.unwrap_or(0.0);
        let inside = base(body.mud_weight_inside.as_ref(), Measure::Density).unwrap_or(outside);
        let case = builder.whole.then(|| Case {
            path,
            phases,
            fluids: mech::Fluids { inside, outside },
            cased_to: base(body.casing_depth.as_ref(), Measure::Depth).unwrap_or(0.0),
            riser_to: base(body.riser_depth.as_ref(), Measure::Depth).unwrap_or(0.0),
            hole_diameter: base(body.hole_diameter.as_ref(), Measure::Diameter),
            environment: mech::Environment {
                hydrogen_sulphide: body.sour,
                hottest_celsius: base(body.temperature.as_ref(), Measure::Temperature)
                    .map(|k| k - 273.15),
            },
            settings: input.method.settings(environment),
            path_known: input.survey.is_some(),
            loads_known: mud.is_some(),
            casing_known: body.casing_depth.is_some(),
        });
        if let Some(case) = &case {
            for phase in &case.phases {
                case.run(phase, None, false).check().map_err(|e| e.to_string())?;
            }
        }
        let common = case.as_ref().map(|c| c.digest(&input.method.name)).unwrap_or_default();
        let mut lines: Vec<JointLine> = builder.lines.into_values().collect();
        for line in &mut lines {
            line.key = line_key(&common, line, case.as_ref(), flags);
        }
        lines.sort_by_key(|l| (l.place, l.joint));
        let row = run_row(input, body, &segments, start, finish, &lines);
        Ok(Self { row, lines, case, flags })
    }

    /// The run when [`Self::new`] refuses it: its joints are known, its figures are not.
    pub fn misfit(input: &RunInput<'_>) -> Option<Self> {
        let Body::Run(body) = &input.run.entry.body else { return None };
        let bare = RunBody { swaps: Vec::new(), segments: Vec::new(), ..(**body).clone() };
        let mut builder =
            Builder { input, start: 0, lines: BTreeMap::new(), exact: true, whole: false };
        let mut place = 0;
        for line in body.tally.iter().chain(body.swaps.iter().flat_map(|s| &s.tally)) {
            let joint = line.joint.as_ref().and_then(|j| input.positions.get(&j.joint));
            let Some(joint) = joint.filter(|p| input.joints.contains_key(p)) else { continue };
            place += 1;
            builder.note(*joint, place, 0, None, false, (0, 1), 0);
        }
        let mut lines: Vec<JointLine> = builder.lines.into_values().collect();
        for line in &mut lines {
            line.twice = false;
            line.key = line_key(&[], line, None, MISFIT);
        }
        lines.sort_by_key(|l| (l.place, l.joint));
        let offset = input.run.entry.recorded.offset_minutes;
        let start = body.start.start(offset).0;
        let row = run_row(input, &bare, &[], start, input.run.entry.ends().0, &lines);
        Some(Self { row, lines, case: None, flags: MISFIT })
    }

    /// The run as a row.
    pub const fn row(&self) -> &RunRow {
        &self.row
    }

    /// Joints of the book in the run, from the bit up.
    pub fn lines(&self) -> &[JointLine] {
        &self.lines
    }

    /// What a joint went through in the whole run.
    ///
    /// # Errors
    /// A sentence when `mechanics` refuses the case.
    pub fn exposure(&self, line: &JointLine) -> Result<JointRunRow, String> {
        let q = self.quanta(line, None, false)?;
        Ok(JointRunRow {
            joint: line.joint,
            finish: self.row.finish,
            run: self.row.run,
            start: self.row.start,
            place: line.place,
            from_bit: line.from_bit,
            input_key: line.key,
            hours: q.hours,
            revolutions: q.revolutions,
            footage: q.footage,
            max_dogleg: q.max_dogleg,
            max_tension: q.max_tension,
            max_bending: q.max_bending,
            damage_pin: q.damage[0],
            damage_middle: q.damage[1],
            damage_box: q.damage[2],
            over_limit: q.over_limit,
            cased_hours: q.cased_hours,
            open_turns: q.open_turns,
            side_work: q.side_work,
            top_depth: q.top_depth,
            bottom_depth: q.bottom_depth,
            length: line.length,
            flags: self.flags | q.flags | if line.twice { TWICE } else { 0 },
            conflict: false,
            broken: false,
            histogram: q.histogram.encode(),
        })
    }

    /// What a joint went through in the run before an instant, and the maxima after it.
    ///
    /// # Errors
    /// A sentence when `mechanics` refuses the case.
    pub fn part(&self, line: &JointLine, cut: i64) -> Result<RunPartRow, String> {
        let q = self.quanta(line, Some(cut), false)?;
        let after = self.quanta(line, Some(cut), true)?;
        Ok(RunPartRow {
            joint: line.joint,
            run: self.row.run,
            cut,
            input_key: line.key,
            hours: q.hours,
            revolutions: q.revolutions,
            footage: q.footage,
            max_dogleg: q.max_dogleg,
            max_tension: q.max_tension,
            max_bending: q.max_bending,
            damage_pin: q.damage[0],
            damage_middle: q.damage[1],
            damage_box: q.damage[2],
            over_limit: q.over_limit,
            cased_hours: q.cased_hours,
            open_turns: q.open_turns,
            side_work: q.side_work,
            after_dogleg: after.max_dogleg,
            after_tension: after.max_tension,
            after_bending: after.max_bending,
            histogram: q.histogram.encode(),
        })
    }

    /// Exposure of a line in the whole run, or in its part before or after a cut.
    fn quanta(&self, line: &JointLine, cut: Option<i64>, after: bool) -> Result<Quanta, String> {
        let Some(case) = &self.case else { return Ok(Quanta::default()) };
        let known = Knowledge {
            path: case.path_known,
            loads: case.loads_known,
            section: line.section_known,
            casing: case.casing_known,
        };
        let mut sum = PartExposure::default();
        for (phase, part) in case.phases.iter().zip(&line.parts) {
            let Some(part) = part else { continue };
            let cut = cut.map(|c| c - self.row.start);
            let run = case.run(phase, cut, after);
            let e = exposure::plain(&run, &case.settings, *part).map_err(|e| e.to_string())?;
            add(&mut sum, &e);
        }
        Ok(quantise(&sum, known))
    }
}

/// Adds the exposure of a later phase.
fn add(sum: &mut PartExposure, e: &PartExposure) {
    let larger = |a: Option<f64>, b: Option<f64>| match (a, b) {
        (Some(a), Some(b)) => Some(a.max(b)),
        (a, b) => a.or(b),
    };
    let smaller = |a: Option<f64>, b: Option<f64>| match (a, b) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (a, b) => a.or(b),
    };
    sum.rotating_hours += e.rotating_hours;
    sum.revolutions += e.revolutions;
    sum.footage += e.footage;
    sum.hours_below_table += e.hours_below_table;
    sum.max_curvature = sum.max_curvature.max(e.max_curvature);
    sum.max_tension = larger(sum.max_tension, e.max_tension);
    sum.min_tension = smaller(sum.min_tension, e.min_tension);
    sum.max_bending_stress = sum.max_bending_stress.max(e.max_bending_stress);
    for (a, b) in sum.damage.iter_mut().zip(e.damage) {
        *a += b;
    }
    for (a, b) in sum.bands.turns.iter_mut().zip(e.bands.turns) {
        *a += b;
    }
    for (a, b) in sum.bands.hours.iter_mut().zip(e.bands.hours) {
        *a += b;
    }
    sum.revolutions_above_limit += e.revolutions_above_limit;
    sum.side_force_work += e.side_force_work;
    sum.max_side_force = sum.max_side_force.max(e.max_side_force);
    sum.hours_in_casing += e.hours_in_casing;
    sum.hours_in_riser += e.hours_in_riser;
    sum.revolutions_open_hole += e.revolutions_open_hole;
    sum.shallowest = smaller(sum.shallowest, e.shallowest);
    sum.deepest = larger(sum.deepest, e.deepest);
    sum.beyond_survey = sum.beyond_survey.max(e.beyond_survey);
    sum.flags.add(e.flags);
}

impl Case {
    /// The case of one phase, whole or cut at a time after the start of the run.
    fn run(&self, phase: &Phase, cut: Option<i64>, after: bool) -> mech::RunCase {
        let segments = phase.segments.iter().filter_map(|(start, duration, segment)| {
            let Some(cut) = cut else { return Some(*segment) };
            let end = start + duration;
            if end <= cut {
                return (!after).then_some(*segment);
            }
            if *start >= cut {
                return after.then_some(*segment);
            }
            let (a, b) = segment.split_at_fraction((cut - start) as f64 / *duration as f64);
            Some(if after { b } else { a })
        });
        mech::RunCase {
            path: self.path.clone(),
            string: phase.string.clone(),
            segments: segments.collect(),
            fluids: self.fluids,
            cased_to: self.cased_to,
            riser_to: self.riser_to,
            hole_diameter: self.hole_diameter,
            environment: self.environment,
        }
    }

    /// Digest of everything that the figures of all joints share.
    fn digest(&self, method: &str) -> Vec<u8> {
        let mut hash = Sha256::new();
        let mut put = |x: f64| hash.update(x.to_bits().to_be_bytes());
        for arc in self.path.arcs() {
            put(arc.md);
            put(arc.curvature);
            let p = arc.position_at(0.0);
            put(p.north);
            put(p.east);
            put(p.down);
        }
        for phase in &self.phases {
            for part in phase.string.parts() {
                put(part.length);
                put(part.air_weight);
                put(part.material.density);
                // The bore counts only where the mud inside differs; it is nominal and stays.
                put(part.id);
            }
            for (start, duration, s) in &phase.segments {
                put(*start as f64);
                put(*duration as f64);
                put(s.activity.index() as f64);
                put(s.bit_from);
                put(s.bit_to);
                put(s.hours);
                put(s.revolutions);
                put(s.wob);
            }
        }
        put(self.fluids.inside);
        put(self.fluids.outside);
        put(self.cased_to);
        put(self.riser_to);
        put(self.hole_diameter.unwrap_or(0.0));
        put(self.environment.hottest_celsius.unwrap_or(0.0));
        let known = [
            self.environment.hydrogen_sulphide,
            self.path_known,
            self.loads_known,
            self.casing_known,
        ];
        hash.update(known.map(u8::from));
        for curve in &self.settings.curves {
            hash.update(curve.name().as_bytes());
        }
        hash.update(method.as_bytes());
        hash.finalize().to_vec()
    }
}

fn line_key(common: &[u8], line: &JointLine, case: Option<&Case>, flags: i64) -> i64 {
    let mut hash = Sha256::new();
    hash.update(super::super::VERSION.to_be_bytes());
    hash.update(common);
    hash.update(flags.to_be_bytes());
    hash.update(line.from_bit.to_be_bytes());
    hash.update(line.place.to_be_bytes());
    hash.update(line.length.to_be_bytes());
    hash.update([u8::from(line.section_known), u8::from(line.twice)]);
    for (i, part) in line.parts.iter().enumerate() {
        let part = part.and_then(|p| case?.phases.get(i)?.string.parts().get(p));
        let Some(p) = part else {
            hash.update([0]);
            continue;
        };
        hash.update([1]);
        for x in [
            p.od,
            p.id,
            p.tool_joint_od.unwrap_or(0.0),
            p.material.young,
            p.material.yield_strength,
            p.material.ultimate_strength,
        ]
        .into_iter()
        .chain(p.concentration)
        {
            hash.update(x.to_bits().to_be_bytes());
        }
    }
    let bytes: [u8; 32] = hash.finalize().into();
    let mut first = [0; 8];
    first.copy_from_slice(&bytes[..8]);
    i64::from_be_bytes(first)
}

/// The path of the hole; straight down where no survey is known.
///
/// # Errors
/// A sentence when the survey is no path.
pub fn path_of(survey: Option<&SurveyBody>) -> Result<Path, String> {
    let vertical = [Station { md: 0.0, inc: 0.0, azi: 0.0 }];
    let Some(survey) = survey else {
        return Path::new(&vertical).map_err(|e| e.to_string());
    };
    let depth = Unit::parse(&survey.depth_unit, Measure::Depth.dimension())
        .map_err(|e| format!("the survey of {}: {e}", survey.well))?;
    let angle = Unit::parse(&survey.angle_unit, Measure::Angle.dimension())
        .map_err(|e| format!("the survey of {}: {e}", survey.well))?;
    let number = |text: &str, unit: &Unit| -> Result<f64, String> {
        Qty::with_unit(text, unit)
            .ok()
            .and_then(|q| {
                let measure = if unit.dimension() == Measure::Depth.dimension() {
                    Measure::Depth
                } else {
                    Measure::Angle
                };
                q.base(measure)
            })
            .ok_or_else(|| format!("the survey of {}: '{text}' is not a number", survey.well))
    };
    let stations = survey
        .stations
        .iter()
        .map(|s| {
            Ok(Station::from_degrees(
                number(&s.0, &depth)?,
                number(&s.1, &angle)?,
                number(&s.2, &angle)?,
            ))
        })
        .collect::<Result<Vec<_>, String>>()?;
    Path::new(&stations).map_err(|e| format!("the survey of {}: {e}", survey.well))
}

/// What the rig did; for a run of which only a summary is known, one stretch of drilling.
fn segments(body: &RunBody) -> Vec<Segment> {
    if !body.segments.is_empty() {
        return body.segments.clone();
    }
    let stored = |q: Option<&Qty>, m: Measure| q.and_then(|q| q.stored(m));
    let (Some(hours), Some(from), Some(to)) = (
        stored(body.hours.as_ref(), Measure::Hours),
        stored(body.depth_in.as_ref(), Measure::Depth),
        stored(body.depth_out.as_ref(), Measure::Depth),
    ) else {
        return Vec::new();
    };
    let speed = base(body.rotary_speed.as_ref(), Measure::RotarySpeed).unwrap_or(0.0);
    let turns = Measure::Turns.store_f64(speed * hours as f64 * 1e-3).unwrap_or(0);
    vec![Segment {
        activity: Activity::RotatingOnBottom,
        start_ms: 0,
        duration_ms: hours,
        bit_from_mm: from / 1_000_000,
        bit_to_mm: to / 1_000_000,
        milli_turns: turns,
        wob_n: None,
        torque_nm: None,
        hookload_n: None,
    }]
}

fn run_row(
    input: &RunInput<'_>,
    body: &RunBody,
    segments: &[Segment],
    start: i64,
    finish: i64,
    lines: &[JointLine],
) -> RunRow {
    let rotates = |s: &&Segment| {
        !matches!(s.activity, Activity::Sliding | Activity::NotRotating) && s.milli_turns > 0
    };
    let drills =
        |s: &&Segment| matches!(s.activity, Activity::RotatingOnBottom | Activity::Sliding);
    let depths = segments.iter().flat_map(|s| [s.bit_from_mm, s.bit_to_mm]);
    let nm = 1_000_000;
    let unidentified = body
        .tally
        .iter()
        .filter(|l| l.joint.is_none())
        .filter(|l| l.part.as_ref().is_some_and(|p| p.component == Component::DrillPipe))
        .map(|l| i64::from(l.count.unwrap_or(1)))
        .sum();
    let known = !segments.is_empty();
    RunRow {
        run: input.run.position,
        name: body.name.clone(),
        well: body.well.clone(),
        rig: body.rig.clone(),
        string: body.string.clone(),
        start,
        finish,
        grade: body.grade,
        environment: body.environment,
        sour: body.sour,
        protectors: body.protectors,
        casing_depth: body.casing_depth.as_ref().and_then(|q| q.stored(Measure::Depth)),
        mud_weight: body.mud_weight.as_ref().and_then(|q| q.stored(Measure::Density)),
        equipment: (!body.equipment.is_empty()).then(|| body.equipment.join(", ")),
        equipment_doubtful: input.equipment_doubtful,
        survey: input.survey.map(|s| s.1),
        joints: i64::try_from(lines.len()).unwrap_or(i64::MAX),
        unidentified,
        hours: known.then(|| segments.iter().filter(rotates).map(|s| s.duration_ms).sum()),
        revolutions: known.then(|| segments.iter().filter(rotates).map(|s| s.milli_turns).sum()),
        footage: known.then(|| {
            segments.iter().filter(drills).map(|s| (s.bit_to_mm - s.bit_from_mm).max(0) * nm).sum()
        }),
        top_depth: depths.clone().min().map(|d| d * nm),
        bottom_depth: depths.max().map(|d| d * nm),
    }
}

struct Builder<'a, 'b> {
    input: &'a RunInput<'b>,
    start: i64,
    lines: BTreeMap<i64, JointLine>,
    /// No part's weight had to be left out.
    exact: bool,
    /// Every part has a length.
    whole: bool,
}

impl Builder<'_, '_> {
    fn phases(&mut self, body: &RunBody, segments: &[Segment]) -> Result<Vec<Phase>, String> {
        let offset = self.input.run.entry.recorded.offset_minutes;
        let mut tallies: Vec<(i64, &[TallyLine])> = vec![(0, &body.tally)];
        for swap in &body.swaps {
            tallies.push((swap.at.start(offset).0 - self.start, &swap.tally));
        }
        tallies.sort_by_key(|t| t.0);
        let mut phases = Vec::new();
        for (index, (from, tally)) in tallies.iter().enumerate() {
            let until = tallies.get(index + 1).map_or(i64::MAX, |t| t.0);
            let from = if index == 0 { i64::MIN } else { *from };
            let segments = segments.iter().filter_map(|s| between(s, from, until)).collect();
            let Some(string) = self.string(tally, index, tallies.len())? else { continue };
            phases.push(Phase { string, segments });
        }
        Ok(phases)
    }

    /// The string of a tally; `None` (and `whole` unset) when a length is missing.
    fn string(
        &mut self,
        tally: &[TallyLine],
        phase: usize,
        phases: usize,
    ) -> Result<Option<mech::DrillString>, String> {
        let mut parts = Vec::new();
        let mut at_nm = 0i64;
        let mut place = 0;
        for line in tally {
            let joint = line
                .joint
                .as_ref()
                .and_then(|j| self.input.positions.get(&j.joint))
                .and_then(|p| self.input.joints.get(p).map(|f| (*p, f)));
            let dims =
                joint.and_then(|(_, f)| dims::at(&f.dims, crate::model::Instant(self.start)));
            let length = line
                .length
                .as_ref()
                .and_then(|q| q.stored(Measure::JointLength))
                .or_else(|| dims.and_then(|d| d.length))
                .or_else(|| joint.and_then(|(_, f)| f.nominal.length));
            let (part, section_known) = self.part(line, joint.map(|j| j.1), dims, length);
            for _ in 0..line.count.unwrap_or(1).max(1) {
                if let Some((id, _)) = joint {
                    place += 1;
                    self.note(
                        id,
                        place,
                        at_nm,
                        length,
                        section_known,
                        (phase, phases),
                        parts.len(),
                    );
                }
                parts.push(part);
                at_nm += length.unwrap_or(0);
            }
            self.whole &= length.is_some();
        }
        if !self.whole || parts.is_empty() {
            self.whole &= !parts.is_empty();
            return Ok(None);
        }
        mech::DrillString::new(parts).map(Some).map_err(|e| e.to_string())
    }

    #[expect(clippy::too_many_arguments, reason = "one call, and each is a plain number")]
    fn note(
        &mut self,
        joint: i64,
        place: i64,
        from_bit: i64,
        length: Option<i64>,
        section_known: bool,
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
            twice: false,
            parts: vec![None; phases],
        });
        match line.parts.get_mut(phase) {
            Some(slot @ None) => *slot = Some(part),
            _ => line.twice = true,
        }
    }

    /// A part for `mechanics`, and whether its section is known.
    fn part(
        &mut self,
        line: &TallyLine,
        joint: Option<&JointFacts>,
        dims: Option<&DimensionRow>,
        length: Option<i64>,
    ) -> (mech::Part, bool) {
        let given = line.part.as_ref();
        let metres = |nm: i64| nm as f64 * 1e-9;
        let (od, id) = section(given, joint, dims).unzip();
        let component = given
            .map(|p| p.component)
            .filter(|c| *c != Component::Other || joint.is_none())
            .or_else(|| joint.map(|j| j.component))
            .unwrap_or(Component::Other);
        let kind = match component {
            Component::DrillPipe | Component::Pup => mech::Kind::DrillPipe,
            Component::HeavyWeight => mech::Kind::HeavyWeight,
            Component::DrillCollar | Component::NonMagneticCollar => mech::Kind::DrillCollar,
            _ => mech::Kind::Other,
        };
        let grade = joint.and_then(|j| j.grade.as_deref());
        let (material, permissible) = material(kind, grade, od.unwrap_or(0.0));
        let weight = given
            .and_then(|p| base(p.weight.as_ref(), Measure::LinearMass))
            .or_else(|| joint.and_then(|j| j.weight))
            .or_else(|| {
                // A plain steel part weighs what its section does.
                let (od, id) = (od?, id?);
                Some(std::f64::consts::PI / 4.0 * (od * od - id * id) * material.density)
            });
        self.exact &= weight.is_some();
        let tool_joint_od = given
            .and_then(|p| base(p.tj_od.as_ref(), Measure::Diameter))
            .or_else(|| dims.and_then(|d| d.tj_od).map(metres))
            .or_else(|| joint.and_then(|j| j.nominal.tj_od).map(metres));
        let part = mech::Part {
            kind,
            length: length.map_or(1.0, metres),
            od: od.unwrap_or(0.127),
            id: id.unwrap_or(0.1),
            air_weight: weight.unwrap_or(0.0),
            tool_joint_od,
            material,
            permissible,
            concentration: [1.0; 3],
        };
        (part, od.is_some())
    }
}

/// Outside and inside diameter, m: as the tally line says, else nominal bore and the wall of the
/// day, all wear on the outside.
fn section(
    given: Option<&PartLine>,
    joint: Option<&JointFacts>,
    dims: Option<&DimensionRow>,
) -> Option<(f64, f64)> {
    let metres = |nm: i64| nm as f64 * 1e-9;
    if let Some(p) = given
        && let Some(od) = base(p.od.as_ref(), Measure::Diameter)
    {
        let id = base(p.id.as_ref(), Measure::Diameter)
            .or_else(|| base(p.wall.as_ref(), Measure::Wall).map(|w| od - 2.0 * w));
        if let Some(id) = id {
            return Some((od, id));
        }
    }
    let nominal = joint?.nominal;
    let (od, wall) = (nominal.od?, nominal.wall?);
    let bore = od - 2 * wall;
    let now = dims.and_then(|d| d.wall).unwrap_or(wall);
    Some((metres(bore + 2 * now), metres(bore)))
}

/// Steel of a part, and its branch of the permissible bending stress.
///
/// Drill pipe: least yield and tensile strength of the grade (API Spec 5DP), the weakest grade
/// where none is known. Collars: 110 ksi yield and 140 ksi tensile up to 6 7/8 in, 100 and 135 ksi
/// above (API Spec 7-1). Heavy-weight pipe and the rest: 55 and 95 ksi (from memory).
fn material(kind: mech::Kind, grade: Option<&str>, od: f64) -> (mech::Material, PermissibleStress) {
    use crate::mechanics::tube::{Grade, us::KSI};
    let steel = |y: f64, u: f64| mech::Material::steel(y * KSI, u * KSI);
    match kind {
        mech::Kind::DrillPipe => {
            let grade = grade.and_then(|g| g.parse::<Grade>().ok()).unwrap_or(Grade::E75);
            let branch = if grade == Grade::S135 {
                PermissibleStress::S135
            } else {
                PermissibleStress::GradeE
            };
            (mech::Material::steel(grade.min_yield(), grade.steel().min_tensile), branch)
        }
        mech::Kind::DrillCollar if od <= 0.1747 => (steel(110.0, 140.0), PermissibleStress::GradeE),
        mech::Kind::DrillCollar => (steel(100.0, 135.0), PermissibleStress::GradeE),
        _ => (steel(55.0, 95.0), PermissibleStress::GradeE),
    }
}

/// The part of a segment between two times after the start of the run.
fn between(s: &Segment, from: i64, until: i64) -> Option<(i64, i64, mech::Segment)> {
    let (mut start, mut end) = (s.start_ms, s.start_ms + s.duration_ms);
    if end <= from && s.duration_ms > 0 || start >= until {
        return None;
    }
    let mut segment = mechanical(s);
    if end > until {
        let f = (until - start) as f64 / (end - start) as f64;
        segment = segment.split_at_fraction(f).0;
        end = until;
    }
    if start < from {
        let f = (from - start) as f64 / (end - start) as f64;
        segment = segment.split_at_fraction(f).1;
        start = from;
    }
    Some((start, end - start, segment))
}

fn mechanical(s: &Segment) -> mech::Segment {
    let activity = match s.activity {
        Activity::RotatingOnBottom => mech::Activity::RotatingOnBottom,
        Activity::Sliding => mech::Activity::Sliding,
        Activity::ReamingDown => mech::Activity::ReamingDown,
        Activity::ReamingUp => mech::Activity::ReamingUp,
        Activity::RotatingOffBottom => mech::Activity::RotatingOffBottom,
        Activity::NotRotating => mech::Activity::Standing,
    };
    let metres = |mm: i64| mm.max(0) as f64 * 1e-3;
    mech::Segment {
        activity,
        bit_from: metres(s.bit_from_mm),
        bit_to: metres(s.bit_to_mm),
        hours: s.duration_ms.max(0) as f64 / 3_600_000.0,
        revolutions: s.milli_turns.max(0) as f64 * 1e-3,
        wob: s.wob_n.unwrap_or(0) as f64,
        torque: s.torque_nm.map(|t| t as f64),
        hookload: s.hookload_n.map(|h| h as f64),
    }
}
