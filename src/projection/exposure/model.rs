//! A run ready to be computed.

use crate::mechanics::exposure::{PartExposure, Profile, Spectrum};
use crate::mechanics::path::Path;
use crate::mechanics::string as mech;
use crate::model::{
    Assumption, Body, Component, Environment, Instant, Moment, RunBody, RunGrade, Segment,
};
use crate::units::Measure;

use super::super::joint::{ESTIMATED, FINISH_IS_DAY, INCOMPLETE, MISFIT, START_IS_DAY, UNTIMED};
use super::assumed::Assumed;
use super::case::{Case, Span, path_of};
use super::input::{JointLine, RunInput, base};
use super::log::segments;
use super::quantise::{Knowledge, Quanta, quantise};
use super::reads;
use super::tally::{NamedPart, TallyReader};
use crate::schema::{Figures, JointRunRow, RunPartRow, RunRow};

/// A run ready to be computed.
#[derive(Clone, Debug)]
pub struct RunModel {
    row: RunRow,
    lines: Vec<JointLine>,
    /// Or why there is none, in a sentence: a length is missing, the survey is no path.
    case: Result<Case, String>,
    flags: i64,
}

/// The string of a run while the bit stood at a depth.
#[derive(Clone, Debug, PartialEq)]
pub struct StringAt {
    /// Hole, string, what was done while it hung, mud.
    pub case: mech::RunCase,
    /// Names of the parts, from the bit up.
    pub parts: Vec<NamedPart>,
    /// The mud weight was recorded; else it counts as none.
    pub mud_known: bool,
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
        let start = input.run.began().0;
        let finish = input.run.at().0;
        let environment = body.environment.unwrap_or(Environment::Air);
        let mut flags = 0;
        if matches!(body.start, Moment::Day(_)) {
            flags |= START_IS_DAY;
        }
        if matches!(input.run.entry.effective, Moment::Day(_)) {
            flags |= FINISH_IS_DAY;
        }
        flags |= match body.grade {
            RunGrade::Estimated => ESTIMATED,
            RunGrade::Incomplete => INCOMPLETE,
            RunGrade::Logged | RunGrade::Summary => 0,
        };
        if body.segments.is_empty() {
            flags |= UNTIMED;
        }
        let segments = segments(body);
        let mut reader = TallyReader::new(input, Instant(start)..Instant(finish));
        let phases = reader.phases(body, &segments)?;
        let path = path_of(input.survey.map(|s| s.0))?;
        let mud = base(body.mud_weight.as_ref(), Measure::Density);
        let outside = mud.unwrap_or(0.0);
        let inside = base(body.mud_weight_inside.as_ref(), Measure::Density).unwrap_or(outside);
        let case = reader.gap.map_or_else(
            || {
                Ok(Case {
                    path,
                    phases,
                    fluids: mech::Fluids { inside, outside },
                    cased_to: base(body.casing_depth.as_ref(), Measure::Depth).unwrap_or(0.0),
                    riser_to: base(body.riser_depth.as_ref(), Measure::Depth).unwrap_or(0.0),
                    bore: bore(body),
                    environment: mech::Environment {
                        hydrogen_sulphide: body.sour == Some(true),
                        hottest_celsius: base(body.temperature.as_ref(), Measure::Temperature)
                            .map(|k| k - 273.15),
                    },
                    settings: input.method.settings(environment),
                    method: input.method.clone(),
                    path_known: input.survey.is_some(),
                    loads_known: mud.is_some(),
                    casing_known: body.casing_depth.is_some(),
                })
            },
            Err,
        );
        if let Ok(case) = &case {
            case.check()?;
        }
        let shared = case.as_ref().map(reads::of_run).unwrap_or_default();
        let mut lines: Vec<JointLine> = reader.lines.into_values().collect();
        let of_run = Assumed::default()
            .with(body.hole_diameter.is_none() && body.hole.is_empty(), Assumption::NoWall)
            .with(body.environment.is_none(), Assumption::Air);
        for line in &mut lines {
            line.assumed = line.assumed.and(of_run);
            line.key = reads::of_joint(&shared, line, case.as_ref().ok(), flags);
        }
        lines.sort_by_key(|l| (l.place, l.joint));
        let row = run_row(input, body, &segments, start, finish, &lines);
        Ok(Self { row, lines, case, flags })
    }

    /// The run when [`Self::new`] refuses it, saying `what` is wrong: its joints are known, its
    /// figures are not.
    pub fn misfit(input: &RunInput<'_>, what: &str) -> Option<Self> {
        let Body::Run(body) = &input.run.entry.body else { return None };
        let bare = RunBody { swaps: Vec::new(), segments: Vec::new(), ..(**body).clone() };
        let mut reader = TallyReader::new(input, Instant(0)..Instant(0));
        let mut place = 0;
        for line in body.tally.iter().chain(body.swaps.iter().flat_map(|s| &s.tally)) {
            let joint = line.joint.as_ref().and_then(|j| input.positions.get(&j.joint));
            let Some(joint) = joint.filter(|p| input.joints.contains_key(p)) else { continue };
            place += 1;
            reader.note(*joint, (place, 0), None, (false, false), (0, 1), 0);
        }
        let mut lines: Vec<JointLine> = reader.lines.into_values().collect();
        for line in &mut lines {
            line.twice = false;
            line.key = reads::of_joint(&[], line, None, MISFIT);
        }
        lines.sort_by_key(|l| (l.place, l.joint));
        let (start, finish) = (input.run.began().0, input.run.at().0);
        let row = run_row(input, &bare, &[], start, finish, &lines);
        Some(Self { row, lines, case: Err(what.to_owned()), flags: MISFIT })
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
        let q = self.quanta(line, Span::WHOLE)?;
        Ok(JointRunRow {
            joint: line.joint,
            finish: self.row.finish,
            turn: 0,
            run: self.row.run,
            start: self.row.start,
            position: line.place,
            from_bit: line.from_bit,
            input_key: line.key,
            length: line.length,
            flags: self.flags | q.flags | line.flags(),
            assumed: line.assumed.bits(),
            conflicting: false,
            restriction_broken: Some(false),
            figures: q.figures,
            top_depth: q.top_depth,
            bottom_depth: q.bottom_depth,
            histogram: q.histogram.encode(),
        })
    }

    pub(super) fn lines_mut(&mut self) -> &mut [JointLine] {
        &mut self.lines
    }

    pub(super) fn case_or_why(&self) -> Result<&Case, &str> {
        self.case.as_ref().map_err(String::as_str)
    }

    pub(super) fn case(&self) -> Option<&Case> {
        self.case.as_ref().ok()
    }

    pub(super) fn case_mut(&mut self) -> Option<&mut Case> {
        self.case.as_mut().ok()
    }

    /// Whether it is known when in the run its joints turned; else no part of it is.
    pub const fn is_timed(&self) -> bool {
        self.flags & UNTIMED == 0
    }

    /// What a joint went through in the run before an instant, and the maxima after it: of a run
    /// that is timed.
    ///
    /// # Errors
    /// A sentence when `mechanics` refuses the case.
    pub fn part(&self, line: &JointLine, cut: i64) -> Result<RunPartRow, String> {
        let at = cut - self.row.start;
        let q = self.quanta(line, Span::before(at))?;
        let after = self.quanta(line, Span::after(at))?.figures.largest();
        Ok(RunPartRow {
            joint: line.joint,
            run: self.row.run,
            cut,
            input_key: line.key,
            figures: q.figures,
            after,
            histogram: q.histogram.encode(),
        })
    }

    /// Where in the hole, in bins of this width (m), and doing what a joint's damage was done;
    /// `None` when its damage is unknown.
    ///
    /// # Errors
    /// A sentence when `mechanics` refuses the case.
    pub fn profile(&self, joint: i64, width: f64) -> Result<Option<Profile>, String> {
        let line = self.lines.iter().find(|l| l.joint == joint);
        let (Ok(case), Some(line)) = (&self.case, line) else { return Ok(None) };
        let loads_known = case.loads_known && line.weight_known;
        if !(case.path_known && loads_known && line.section_known) {
            return Ok(None);
        }
        let mut sum: Option<Profile> = None;
        for (phase, part) in case.phases.iter().zip(&line.parts) {
            let Some(part) = part else { continue };
            for stretch in Span::WHOLE.alike(&line.notched) {
                let found = case.profile(phase, *part, stretch, width)?;
                match &mut sum {
                    Some(sum) => sum.add(&found),
                    None => sum = Some(found),
                }
            }
        }
        Ok(sum)
    }

    /// Turns of a place of a joint (0 pin end, 1 middle, 2 box end) by its stress range, after an
    /// instant where the run tells when it turned; `None` where its stress is not known.
    ///
    /// # Errors
    /// A sentence when `mechanics` refuses the case.
    pub fn spectrum(
        &self,
        joint: i64,
        place: usize,
        after: Option<i64>,
    ) -> Result<Option<Spectrum>, String> {
        let line = self.lines.iter().find(|l| l.joint == joint);
        let (Ok(case), Some(line)) = (&self.case, line) else { return Ok(None) };
        let after = after.filter(|at| *at > self.row.start && self.is_timed());
        let span = after.map_or(Span::WHOLE, |at| Span::after(at - self.row.start));
        let mut sum = Spectrum::default();
        for (phase, part) in case.phases.iter().zip(&line.parts) {
            let Some(part) = part else { continue };
            for stretch in span.alike(&line.notched) {
                sum.add(&case.spectrum(phase, *part, stretch, place)?);
            }
        }
        Ok(Some(sum))
    }

    /// The hole of the run; `None` when no survey of it is known.
    pub fn path(&self) -> Option<&Path> {
        self.case.as_ref().ok().filter(|c| c.path_known).map(|c| &c.path)
    }

    /// The string as it was when the bit stood at a depth (m) last; that of the last tally when it
    /// never did.
    ///
    /// # Errors
    /// A sentence that says why nobody can say what hung where.
    pub fn string_at(&self, bit: f64) -> Result<StringAt, String> {
        let case = self.case.as_ref().map_err(String::clone)?;
        let phase = case.phase_at(bit).ok_or_else(|| mech::CaseError::NoParts.to_string())?;
        Ok(StringAt {
            case: case.run(phase),
            parts: phase.names.clone(),
            mud_known: case.loads_known,
        })
    }

    /// Exposure of a line in the whole run, or in its time before or after an instant.
    fn quanta(&self, line: &JointLine, span: Span) -> Result<Quanta, String> {
        let Ok(case) = &self.case else { return Ok(self.without_case()) };
        let known = Knowledge {
            path: case.path_known,
            loads: case.loads_known && line.weight_known,
            section: line.section_known,
            casing: case.casing_known,
            tube: case.is_tube(line),
            pin: line.pin_rated,
        };
        let mut sum = PartExposure::default();
        for (phase, part) in case.phases.iter().zip(&line.parts) {
            let Some(part) = part else { continue };
            for (span, concentration) in span.alike(&line.notched) {
                sum.add(&case.exposure(phase, *part, span, concentration)?);
            }
        }
        Ok(quantise(&sum, known))
    }

    /// What is known without a string: nothing, unless the string never turned.
    fn without_case(&self) -> Quanta {
        if (self.row.run_hours, self.row.run_revolutions) != (Some(0), Some(0)) {
            return Quanta::default();
        }
        let nothing = Knowledge {
            path: false,
            loads: false,
            section: false,
            casing: false,
            tube: false,
            pin: false,
        };
        let still = quantise(&PartExposure::default(), nothing);
        Quanta { figures: Figures { footage: None, ..still.figures }, ..still }
    }
}

/// The hole as far as it is known: section by section, else of one diameter, for casing is no narrower
/// than the bit that went through it.
fn bore(body: &RunBody) -> mech::Bore {
    if body.hole.is_empty() {
        return base(body.hole_diameter.as_ref(), Measure::Diameter)
            .map_or_else(mech::Bore::default, mech::Bore::everywhere);
    }
    let sections = body.hole.iter().filter_map(|s| {
        Some(mech::BoreSection {
            from: s.from.base(Measure::Depth)?,
            to: s.to.base(Measure::Depth)?,
            diameter: s.diameter.base(Measure::Diameter)?,
        })
    });
    mech::Bore::new(sections.collect())
}

fn run_row(
    input: &RunInput<'_>,
    body: &RunBody,
    segments: &[Segment],
    start: i64,
    finish: i64,
    lines: &[JointLine],
) -> RunRow {
    let rotates = |s: &&Segment| s.activity.rotates() && s.milli_turns > 0;
    let drills = |s: &&Segment| s.activity.drills();
    let depths = segments.iter().filter(drills).flat_map(|s| [s.bit_from_mm, s.bit_to_mm]);
    let nm = 1_000_000;
    let unidentified = body
        .tally
        .iter()
        .filter(|l| l.joint.is_none())
        .filter(|l| l.part.as_ref().is_some_and(|p| p.component == Component::DrillPipe))
        .map(|l| i64::from(l.count.unwrap_or(1)))
        .sum();
    let known = !segments.is_empty();
    let (rows, clock) = (body.log.as_ref(), input.run.clock);
    RunRow {
        run: input.run.position,
        by_name: input.run.entry.id.sort_key(),
        name: body.name.clone(),
        well: body.well.clone(),
        rig: body.rig.clone(),
        string: body.string.clone(),
        start,
        finish,
        rows_from: rows.and_then(|l| l.rows_from).map(|m| m.start(clock).0),
        rows_to: rows.and_then(|l| l.rows_to).map(|m| m.start(clock).0),
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
        run_hours: known.then(|| segments.iter().filter(rotates).map(|s| s.duration_ms).sum()),
        run_revolutions: known
            .then(|| segments.iter().filter(rotates).map(|s| s.milli_turns).sum()),
        run_footage: known.then(|| {
            segments.iter().filter(drills).map(|s| (s.bit_to_mm - s.bit_from_mm).max(0) * nm).sum()
        }),
        depth_in: depths.clone().min().map(|d| d * nm),
        depth_out: depths.max().map(|d| d * nm),
    }
}
