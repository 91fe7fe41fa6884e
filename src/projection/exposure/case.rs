//! What `mechanics` is asked about a run: hole, strings, segments and settings.

use std::borrow::Cow;
use std::sync::OnceLock;

use crate::mechanics::exposure::{
    PartExposure, PreparedRun, Profile, ProfiledRun, Settings, Spectrum,
};
use crate::mechanics::path::{Path, Station};
use crate::mechanics::string as mech;
use crate::model::{Qty, StationLine, SurveyBody};
use crate::units::{Measure, Unit};

use super::input::JointLine;
use super::method::Method;
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
        if span == Span::WHOLE {
            return None;
        }
        let part = |(start, duration, segment): &(i64, i64, mech::Segment)| {
            let (start, end) = (*start, start + duration);
            let share = |at: i64| (at - start) as f64 / *duration as f64;
            // What takes no time belongs to what ends with it.
            if end <= span.from || start >= span.until && end > span.until {
                return None;
            }
            let mut segment = *segment;
            if end > span.until {
                segment = segment.split_at_fraction(share(span.until)).0;
            }
            if start < span.from {
                // Of what is left of it before the end.
                let of = (span.from - start) as f64 / (end.min(span.until) - start) as f64;
                segment = segment.split_at_fraction(of).1;
            }
            Some(segment)
        };
        Some(self.segments.iter().filter_map(part).collect())
    }
}

/// A time of a run, ms after its start: after `from`, up to `until`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Span {
    pub from: i64,
    pub until: i64,
}

impl Span {
    /// All of the run.
    pub(super) const WHOLE: Self = Self { from: i64::MIN, until: i64::MAX };

    pub(super) const fn before(cut: i64) -> Self {
        Self { until: cut, ..Self::WHOLE }
    }

    pub(super) const fn after(cut: i64) -> Self {
        Self { from: cut, ..Self::WHOLE }
    }

    /// What of another time lies in it.
    fn within(self, other: Self) -> Option<Self> {
        let (from, until) = (self.from.max(other.from), self.until.min(other.until));
        (from < until).then_some(Self { from, until })
    }

    /// The times in it in which the stress concentration of a joint was one; `None` for that with
    /// which it began the run.
    pub(super) fn alike(self, notched: &[Notched]) -> Vec<(Self, Option<[f64; 3]>)> {
        let mut begins = vec![(i64::MIN, None)];
        begins.extend(notched.iter().map(|n| (n.from, Some(n.concentration))));
        let ends = begins.iter().skip(1).map(|b| b.0).chain([i64::MAX]).collect::<Vec<_>>();
        begins
            .into_iter()
            .zip(ends)
            .filter_map(|((from, c), until)| Some((self.within(Self { from, until })?, c)))
            .collect()
    }
}

/// A stress concentration that a joint had from an instant of the run on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Notched {
    /// ms after the start of the run.
    pub from: i64,
    /// At pin end, middle and box end.
    pub concentration: [f64; 3],
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
    /// The method that the settings come from.
    pub method: Method,
    pub path_known: bool,
    pub loads_known: bool,
    pub casing_known: bool,
}

impl Case {
    /// Whether a joint hung as a tube between tool joints, in all tallies that it stands in.
    pub(super) fn is_tube(&self, line: &JointLine) -> bool {
        let parts = self.phases.iter().zip(&line.parts);
        let mut parts = parts.filter_map(|(phase, at)| phase.string.parts().get((*at)?));
        parts.all(|part| part.kind.spans_tool_joints())
    }

    /// What a part of a phase's string went through in some time of the run, with another stress
    /// concentration than it began with where one is given.
    ///
    /// # Errors
    /// A sentence when `mechanics` refuses the case.
    pub(super) fn exposure(
        &self,
        phase: &Phase,
        part: usize,
        span: Span,
        concentration: Option<[f64; 3]>,
    ) -> Result<PartExposure, String> {
        let (run, own) = self.asked(phase, part, span, concentration)?;
        run.part_as(part, &own).map_err(|e| e.to_string())
    }

    /// What a part like this one would go through where a part of a phase's string hangs: of the others
    /// count only lengths and what of them hangs.
    ///
    /// # Errors
    /// A sentence when `mechanics` refuses the case.
    pub(super) fn exposure_as(
        &self,
        phase: &Phase,
        part: usize,
        own: &mech::Part,
    ) -> Result<PartExposure, String> {
        let whole = phase.prepared.get_or_init(|| self.prepare(phase)).as_ref()?;
        whole.part_as(part, own).map_err(|e| e.to_string())
    }

    /// A phase made ready in some time of the run, and a part of it as it is asked about.
    fn asked<'p>(
        &self,
        phase: &'p Phase,
        part: usize,
        span: Span,
        concentration: Option<[f64; 3]>,
    ) -> Result<(Cow<'p, PreparedRun>, mech::Part), String> {
        let whole = phase.prepared.get_or_init(|| self.prepare(phase)).as_ref()?;
        let parts = phase.string.parts();
        let own = parts.get(part).ok_or(mech::CaseError::NoSuchPart { part, parts: parts.len() });
        let own = *own.map_err(|e| e.to_string())?;
        let own = mech::Part { concentration: concentration.unwrap_or(own.concentration), ..own };
        let run = match phase.in_span(span) {
            Some(segments) => Cow::Owned(whole.of_segments(segments).map_err(|e| e.to_string())?),
            None => Cow::Borrowed(whole),
        };
        Ok((run, own))
    }

    /// Turns of a place of a part by stress range, with another stress concentration than it began with
    /// where one is given.
    ///
    /// # Errors
    /// A sentence when `mechanics` refuses the case.
    pub(super) fn spectrum(
        &self,
        phase: &Phase,
        part: usize,
        (span, concentration): (Span, Option<[f64; 3]>),
        place: usize,
    ) -> Result<Spectrum, String> {
        let (run, own) = self.asked(phase, part, span, concentration)?;
        run.spectrum(part, &own, place).map_err(|e| e.to_string())
    }

    /// Where in the hole, in bins of this width, and doing what the damage of a part was done.
    ///
    /// # Errors
    /// A sentence when `mechanics` refuses the case.
    pub(super) fn profile(
        &self,
        phase: &Phase,
        part: usize,
        (span, concentration): (Span, Option<[f64; 3]>),
        width: f64,
    ) -> Result<Profile, String> {
        let mut run = self.run(phase);
        if let Some(segments) = phase.in_span(span) {
            run.segments = segments;
        }
        if let Some(concentration) = concentration {
            let mut parts = run.string.parts().to_vec();
            if let Some(own) = parts.get_mut(part) {
                own.concentration = concentration;
            }
            run.string = mech::DrillString::new(parts).map_err(|e| e.to_string())?;
        }
        ProfiledRun::new(&run, &self.settings, width)
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
    Path::new(&stations_of(survey)?).map_err(|e| wrong(&e))
}

/// The stations of a survey, as they are written.
///
/// # Errors
/// A sentence that names what is no number or no unit.
pub fn stations_of(survey: &SurveyBody) -> Result<Vec<Station>, String> {
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
    survey.stations.iter().map(station).collect()
}
