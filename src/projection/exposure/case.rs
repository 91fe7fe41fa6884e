//! What `mechanics` is asked about a run: hole, strings, segments and settings.

use std::sync::OnceLock;

use crate::mechanics::exposure::{PartExposure, PreparedRun, Profile, ProfiledRun, Settings};
use crate::mechanics::path::{Path, Station};
use crate::mechanics::string as mech;
use crate::model::{Qty, StationLine, SurveyBody};
use crate::units::{Measure, Unit};

use super::input::JointLine;
use super::reads::felt;
use super::tally::NamedPart;

/// A stretch of the run with one tally.
#[derive(Clone, Debug)]
pub(super) struct Phase {
    pub(super) string: mech::DrillString,
    /// The string as the exposure of one of its parts feels the others.
    pub(super) felt: mech::DrillString,
    pub names: Vec<NamedPart>,
    /// Segments with their start and duration, ms after the start of the run.
    pub(super) segments: Vec<(i64, i64, mech::Segment)>,
    /// Made ready when the first joint is asked for: most runs are looked at without any need.
    pub(super) prepared: OnceLock<Result<PreparedRun, String>>,
}

impl Phase {
    /// # Errors
    /// A sentence when the parts are no string.
    pub(super) fn new(
        string: mech::DrillString,
        names: Vec<NamedPart>,
        segments: Vec<(i64, i64, mech::Segment)>,
    ) -> Result<Self, String> {
        let felt = string.parts().iter().map(felt).collect();
        let felt = mech::DrillString::new(felt).map_err(|e| e.to_string())?;
        Ok(Self { string, felt, names, segments, prepared: OnceLock::new() })
    }

    /// Whether the bit stood within half a metre of a depth (m) while this string hung.
    fn stood_at(&self, bit: f64) -> bool {
        self.segments.iter().any(|(_, _, segment)| {
            let (low, high) = segment.reach();
            (low - 0.5..=high + 0.5).contains(&bit)
        })
    }

    /// Segments in some time of the run, cut where it ends or begins; `None` for all of it.
    fn in_span(&self, span: Span) -> Option<Vec<mech::Segment>> {
        let (cut, after) = match span {
            Span::Whole => return None,
            Span::Before(cut) => (cut, false),
            Span::After(cut) => (cut, true),
        };
        let part = |(start, duration, segment): &(i64, i64, mech::Segment)| {
            if start + duration <= cut {
                return (!after).then_some(*segment);
            }
            if *start >= cut {
                return after.then_some(*segment);
            }
            let (a, b) = segment.split_at_fraction((cut - start) as f64 / *duration as f64);
            Some(if after { b } else { a })
        };
        Some(self.segments.iter().filter_map(part).collect())
    }
}

/// Which time of a run; instants are ms after its start.
#[derive(Clone, Copy, Debug)]
pub(super) enum Span {
    Whole,
    Before(i64),
    After(i64),
}

/// What `mechanics` is asked about a run.
#[derive(Clone, Debug)]
pub(super) struct Case {
    pub path: Path,
    pub phases: Vec<Phase>,
    pub fluids: mech::Fluids,
    pub cased_to: f64,
    pub riser_to: f64,
    pub bore: mech::Bore,
    pub environment: mech::Environment,
    pub settings: Settings,
    pub path_known: bool,
    pub loads_known: bool,
    pub casing_known: bool,
}

impl Case {
    /// Whether a joint hung as a tube between tool joints, in all tallies that it stands in.
    pub(super) fn is_tube(&self, line: &JointLine) -> bool {
        let parts = self.phases.iter().zip(&line.parts);
        let mut parts = parts.filter_map(|(phase, at)| phase.string.parts().get((*at)?));
        parts.all(|part| matches!(part.kind, mech::Kind::DrillPipe | mech::Kind::HeavyWeight))
    }

    /// What a part of a phase's string went through in some time of the run.
    ///
    /// # Errors
    /// A sentence when `mechanics` refuses the case.
    pub(super) fn exposure(
        &self,
        phase: &Phase,
        part: usize,
        span: Span,
    ) -> Result<PartExposure, String> {
        let whole = phase.prepared.get_or_init(|| self.prepare(phase)).as_ref()?;
        let parts = phase.string.parts();
        let own = parts.get(part).ok_or(mech::CaseError::NoSuchPart { part, parts: parts.len() });
        let own = own.map_err(|e| e.to_string())?;
        let cut = phase.in_span(span).map(|segments| whole.of_segments(segments)).transpose();
        match cut.map_err(|e| e.to_string())? {
            Some(run) => run.part_as(part, own),
            None => whole.part_as(part, own),
        }
        .map_err(|e| e.to_string())
    }

    /// Where in the hole, in bins of this width, and doing what the damage of a part was done.
    ///
    /// # Errors
    /// A sentence when `mechanics` refuses the case.
    pub(super) fn profile(
        &self,
        phase: &Phase,
        part: usize,
        width: f64,
    ) -> Result<Profile, String> {
        ProfiledRun::new(&self.run(phase), &self.settings, width)
            .and_then(|run| run.part(part))
            .map_err(|e| e.to_string())
    }

    /// Whether `mechanics` takes the case.
    ///
    /// # Errors
    /// A sentence that says what is wrong.
    pub(super) fn check(&self) -> Result<(), String> {
        self.phases.iter().try_for_each(|phase| self.run(phase).check()).map_err(|e| e.to_string())
    }

    /// The phase in which the bit stood at a depth (m) last; the last one when it never did.
    pub(super) fn phase_at(&self, bit: f64) -> Option<&Phase> {
        self.phases.iter().rfind(|p| p.stood_at(bit)).or(self.phases.last())
    }

    /// The run while one string hung.
    pub(super) fn run(&self, phase: &Phase) -> mech::RunCase {
        self.run_of(phase, &phase.string)
    }

    fn run_of(&self, phase: &Phase, string: &mech::DrillString) -> mech::RunCase {
        mech::RunCase {
            path: self.path.clone(),
            string: string.clone(),
            segments: phase.segments.iter().map(|(_, _, s)| *s).collect(),
            fluids: self.fluids,
            cased_to: self.cased_to,
            riser_to: self.riser_to,
            bore: self.bore.clone(),
            environment: self.environment,
        }
    }

    fn prepare(&self, phase: &Phase) -> Result<PreparedRun, String> {
        let run = self.run_of(phase, &phase.felt);
        PreparedRun::new(&run, &self.settings).map_err(|e| e.to_string())
    }
}

/// The path of the hole; straight down where no survey is known.
///
/// # Errors
/// A sentence when the survey is no path.
pub fn path_of(survey: Option<&SurveyBody>) -> Result<Path, String> {
    let Some(survey) = survey else {
        let vertical = [Station { md: 0.0, inc: 0.0, azi: 0.0 }];
        return Path::new(&vertical).map_err(|e| e.to_string());
    };
    let wrong = |e: &dyn std::fmt::Display| format!("the survey of {}: {e}", survey.well);
    let unit = |text: &str, measure: Measure| {
        Unit::parse(text, measure.dimension()).map_err(|e| wrong(&e))
    };
    let depth = unit(&survey.depth_unit, Measure::Depth)?;
    let angle = unit(&survey.angle_unit, Measure::Angle)?;
    let number = |text: &str, unit: &Unit, measure: Measure| {
        Qty::with_unit(text, unit)
            .ok()
            .and_then(|q| q.base(measure))
            .ok_or_else(|| wrong(&format!("'{text}' is not a number")))
    };
    let station = |s: &StationLine| {
        Ok(Station::from_degrees(
            number(&s.0, &depth, Measure::Depth)?,
            number(&s.1, &angle, Measure::Angle)?,
            number(&s.2, &angle, Measure::Angle)?,
        ))
    };
    let stations = survey.stations.iter().map(station).collect::<Result<Vec<_>, String>>()?;
    Path::new(&stations).map_err(|e| wrong(&e))
}
