//! What `mechanics` is asked about a run: hole, strings, segments and settings, and the digest that
//! tells whether any of it changed.

use std::sync::OnceLock;

use sha2::{Digest, Sha256};

use crate::mechanics::exposure::{PartExposure, PreparedRun, Profile, ProfiledRun, Settings};
use crate::mechanics::path::{Path, Station};
use crate::mechanics::string as mech;
use crate::model::{Qty, StationLine, SurveyBody};
use crate::units::{Measure, Unit};

use super::input::JointLine;
use super::tally::NamedPart;

/// A stretch of the run with one tally.
#[derive(Clone, Debug)]
pub(super) struct Phase {
    string: mech::DrillString,
    pub names: Vec<NamedPart>,
    /// Segments with their start and duration, ms after the start of the run.
    segments: Vec<(i64, i64, mech::Segment)>,
    /// Made ready when the first joint is asked for: most runs are looked at without any need.
    prepared: OnceLock<Result<PreparedRun, String>>,
}

impl Phase {
    pub(super) const fn new(
        string: mech::DrillString,
        names: Vec<NamedPart>,
        segments: Vec<(i64, i64, mech::Segment)>,
    ) -> Self {
        Self { string, names, segments, prepared: OnceLock::new() }
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
    pub hole_diameter: Option<f64>,
    pub environment: mech::Environment,
    pub settings: Settings,
    pub path_known: bool,
    pub loads_known: bool,
    pub casing_known: bool,
}

impl Case {
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
        let cut = phase.in_span(span).map(|segments| whole.of_segments(segments)).transpose();
        match cut.map_err(|e| e.to_string())? {
            Some(run) => run.part(part),
            None => whole.part(part),
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
        mech::RunCase {
            path: self.path.clone(),
            string: phase.string.clone(),
            segments: phase.segments.iter().map(|(_, _, s)| *s).collect(),
            fluids: self.fluids,
            cased_to: self.cased_to,
            riser_to: self.riser_to,
            hole_diameter: self.hole_diameter,
            environment: self.environment,
        }
    }

    fn prepare(&self, phase: &Phase) -> Result<PreparedRun, String> {
        PreparedRun::new(&self.run(phase), &self.settings).map_err(|e| e.to_string())
    }

    /// Digest of everything that the figures of all joints share.
    pub(super) fn digest(&self, method: &str) -> Vec<u8> {
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
                put(f64::from(s.activity as u8));
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
        let settings = &self.settings;
        for curve in &settings.curves {
            hash.update(curve.name().as_bytes());
            let knee = curve.knee.map_or([0.0; 3], |k| [k.cycles, k.m, k.log_a]);
            for x in [curve.m, curve.log_a].into_iter().chain(knee) {
                hash.update(x.to_bits().to_be_bytes());
            }
        }
        // the mean-stress rule by what it does to a steel of round strengths
        let steel = mech::Material::steel(1.0, 2.0);
        let (linear, square) = settings.mean_stress.factors(&steel);
        for x in [
            linear,
            square,
            settings.limit_factor,
            settings.tortuosity,
            settings.places.pin_end,
            settings.places.box_end,
        ] {
            hash.update(x.to_bits().to_be_bytes());
        }
        hash.update(method.as_bytes());
        hash.finalize().to_vec()
    }
}

/// Digest of what the figures of one joint rest on.
pub(super) fn line_key(common: &[u8], line: &JointLine, case: Option<&Case>, flags: i64) -> i64 {
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
