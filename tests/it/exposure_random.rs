//! Random runs for the laws of exposure, made from numbers so that their pieces can be altered.

use pipelore::mechanics::bending::PermissibleStress;
use pipelore::mechanics::exposure::{PartExposure, PreparedRun, Settings};
use pipelore::mechanics::fatigue::CurveTable;
use pipelore::mechanics::path::{Path, Station};
use pipelore::mechanics::string::{
    Bore, DrillString, Environment, Fluids, Kind, Material, Part, RunCase, Segment,
};
use pipelore::model::Activity;
use proptest::prelude::*;

/// A run from numbers, so that its pieces can be altered.
#[derive(Clone)]
pub struct Recipe {
    pub stations: Vec<Station>,
    pub parts: Vec<Part>,
    pub segments: Vec<Segment>,
    pub mud: f64,
}

/// Short enough to read when a law fails.
impl std::fmt::Debug for Recipe {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let stations: Vec<_> = self.stations.iter().map(|s| (s.md, s.inc, s.azi)).collect();
        let parts: Vec<_> = self.parts.iter().map(|p| (p.length, p.od)).collect();
        let log: Vec<_> = self
            .segments
            .iter()
            .map(|s| (s.activity, s.bit_from, s.bit_to, s.hours, s.revolutions, s.wob))
            .collect();
        write!(f, "mud {}; {stations:?}; {parts:?}; {log:?}", self.mud)
    }
}

impl Recipe {
    pub fn run(&self) -> RunCase {
        RunCase {
            path: Path::new(&self.stations).unwrap(),
            string: DrillString::new(self.parts.clone()).unwrap(),
            segments: self.segments.clone(),
            fluids: Fluids::same(self.mud),
            cased_to: 300.0,
            riser_to: 50.0,
            bore: Bore::everywhere(0.2159),
            environment: Environment::default(),
        }
    }
}

/// A segment from its rotary speed (turns per minute).
pub fn at_rpm(
    activity: Activity,
    (bit_from, bit_to): (f64, f64),
    hours: f64,
    rpm: f64,
    wob: f64,
) -> Segment {
    Segment {
        activity,
        bit_from,
        bit_to,
        hours,
        revolutions: rpm * 60.0 * hours,
        wob,
        torque: None,
        hookload: None,
    }
}

fn joint(kind: Kind, od: f64, wall: f64, air_weight: f64, length: f64) -> Part {
    Part {
        kind,
        length,
        od,
        id: od - 2.0 * wall,
        air_weight,
        tool_joint_od: Some(od + 0.04),
        material: Material::steel(724.0e6, 793.0e6),
        permissible: PermissibleStress::GradeE,
        concentration: [1.0, 1.0, 1.3],
    }
}

prop_compose! {
    /// Sharp and gentle holes, thick and thin pipe, every activity.
    pub fn recipe()(
        steps in prop::collection::vec((8.0..40.0_f64, -4.0..6.0_f64, -10.0..10.0_f64), 20..40),
        small in any::<bool>(),
        lengths in prop::collection::vec(8.8..9.9_f64, 30..60),
        log in prop::collection::vec(
            (0..6_usize, 0.0..25.0_f64, 0.1..2.0_f64, 30.0..160.0_f64, 0.0..120e3_f64), 3..12),
        start in 0.3..0.95_f64,
        mud in 1000.0..1900.0_f64,
    ) -> Recipe {
        let (mut md, mut inc, mut azi) = (200.0, 0.0_f64, 30.0);
        let mut stations = vec![Station::from_degrees(0.0, 0.0, 0.0), Station::from_degrees(md, 0.0, 0.0)];
        for (length, build, turn) in steps {
            md += length;
            // now and then a straight piece
            if build.abs() > 0.3 {
                inc = (inc + build).abs().min(95.0);
                azi += turn;
            }
            stations.push(Station::from_degrees(md, inc, azi));
        }
        let count = lengths.len();
        let parts: Vec<Part> = lengths.into_iter().enumerate().map(|(i, length)| match i {
            0..4 => joint(Kind::DrillCollar, 0.1651, 0.0468, 136.0, length),
            4..8 => joint(Kind::HeavyWeight, 0.127, 0.0254, 73.4, length),
            _ if small => joint(Kind::DrillPipe, 0.0603, 0.0071, 10.1, length),
            _ if i > count / 2 => joint(Kind::DrillPipe, 0.1397, 0.0092, 35.7, length),
            _ => joint(Kind::DrillPipe, 0.127, 0.0081, 31.0, length),
        }).collect();
        let mut bit = start * md;
        let mut segments = Vec::new();
        for (what, advance, hours, rpm, wob) in log {
            let (activity, to, rpm, wob) = match what {
                0 | 1 => (Activity::RotatingOnBottom, bit + advance, rpm, wob),
                2 => (Activity::ReamingUp, bit - 0.5 * advance, rpm, 0.0),
                3 => (Activity::ReamingDown, bit + advance, rpm, 0.0),
                4 => (Activity::RotatingOffBottom, bit, rpm, 0.0),
                _ => (Activity::Sliding, bit + advance, 20.0, wob),
            };
            segments.push(at_rpm(activity, (bit, to), hours, rpm, wob));
            bit = to;
        }
        Recipe { stations, parts, segments, mud }
    }
}

/// Settings on a shipped curve.
pub fn settings(curve: &str) -> Settings {
    Settings::with_curve(CurveTable::shipped().unwrap().get(curve).unwrap())
}

/// A curve in air.
pub const AIR: &str = "DNVGL-RP-C203 2016 air B1";

/// One part of a run.
pub fn exposure(run: &RunCase, settings: &Settings, part: usize) -> PartExposure {
    PreparedRun::new(run, settings).unwrap().part(part).unwrap()
}

/// Whether a part is in tension wherever it turns, its ends too: they are half a joint away from the
/// middle, whose tension is reported.
pub fn always_pulled(recipe: &Recipe, settings: &Settings, part: usize) -> bool {
    let joint = &recipe.parts[part];
    let aside = 0.5 * joint.length * joint.air_weight * 9.81;
    exposure(&recipe.run(), settings, part).min_tension.is_some_and(|low| low > aside)
}

/// Every part of a run, from the bit up.
pub fn all(run: &RunCase, settings: &Settings) -> Vec<PartExposure> {
    let prepared = PreparedRun::new(run, settings).unwrap();
    (0..run.string.parts().len()).map(|part| prepared.part(part).unwrap()).collect()
}

/// Relative agreement.
pub fn near(a: f64, b: f64, tolerance: f64) -> bool {
    (a - b).abs() <= tolerance * b.abs() + 1e-15
}

/// So many cases, or as many as `PROPTEST_CASES` says.
pub fn cases(usual: u32) -> ProptestConfig {
    match std::env::var_os("PROPTEST_CASES") {
        Some(_) => ProptestConfig::default(),
        None => ProptestConfig::with_cases(usual),
    }
}
