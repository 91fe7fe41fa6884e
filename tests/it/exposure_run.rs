//! The invented runs whose exposures were integrated independently, as cases of this crate.

use std::collections::BTreeMap;

use pipelore::mechanics::bending::PermissibleStress;
use pipelore::mechanics::constants::PASCALS_PER_PSI;
use pipelore::mechanics::exposure::{PartExposure, PreparedRun, Settings};
use pipelore::mechanics::fatigue::{CurveTable, MeanStress};
use pipelore::mechanics::path::{Path, Station};
use pipelore::mechanics::string::{
    Bore, BoreSection, DrillString, Environment, Fluids, Kind, Material, Part, RunCase, Segment,
};
use pipelore::model::Activity;

use crate::check_values::{Row, table};
use crate::exposure_random::at_rpm;

/// Notches of a part from an instant on.
#[derive(Clone, Copy)]
pub struct Notches {
    concentration: [f64; 3],
    /// Hours after the start of the run.
    from: f64,
}

/// A run that was integrated independently.
pub struct IntegratedRun {
    pub case: RunCase,
    pub settings: Settings,
    /// Part index of each serial.
    pub serials: BTreeMap<String, usize>,
    /// Stress concentration of each part before its notches, and its notches.
    notches: Vec<Option<Notches>>,
    prepared: PreparedRun,
}

impl IntegratedRun {
    /// From the rows of its files; `mud` in kg/m³.
    fn new(mud: f64, survey: &[Row], hole: &[Row], tally: &[Row], log: &[Row]) -> Self {
        let stations: Vec<Station> = survey
            .iter()
            .map(|r| Station::from_degrees(r.given("md_m"), r.given("inc_deg"), r.given("azi_deg")))
            .collect();
        let section = |row: &Row| {
            let diameter = row.number("hole_diameter_mm")? * 1e-3;
            Some(BoreSection { from: row.given("from_m"), to: row.given("to_m"), diameter })
        };
        let mut serials = BTreeMap::new();
        let (mut parts, mut notches) = (Vec::new(), Vec::new());
        for (index, row) in tally.iter().enumerate() {
            serials.insert(row.text("serial").to_owned(), index);
            parts.push(part(row));
            let notch = |column| row.number(column).unwrap_or(1.0);
            let at = ["notch_pin_end", "notch_middle", "notch_box_end"].map(notch);
            let from = row.number("notch_from_h").unwrap_or(0.0);
            notches.push((at != [1.0; 3]).then_some(Notches { concentration: at, from }));
        }
        let case = RunCase {
            path: Path::new(&stations).unwrap(),
            string: DrillString::new(parts).unwrap(),
            segments: log.iter().map(segment).collect(),
            fluids: Fluids::same(mud),
            cased_to: 0.0,
            riser_to: 0.0,
            bore: Bore::new(hole.iter().filter_map(section).collect()),
            environment: Environment::default(),
        };
        let curve = CurveTable::shipped().unwrap().get("DNVGL-RP-C203 2016 air B1").unwrap();
        let settings = Settings { mean_stress: MeanStress::Goodman, ..Settings::with_curve(curve) };
        let prepared = PreparedRun::new(&case, &settings).unwrap();
        Self { case, settings, serials, notches, prepared }
    }

    /// With other settings.
    pub fn with(self, settings: Settings) -> Self {
        let prepared = PreparedRun::new(&self.case, &settings).unwrap();
        Self { settings, prepared, ..self }
    }

    /// Turns and hours of a part in bends sharper than this, rad/m.
    pub fn above(&self, index: usize, curvature: f64) -> (f64, f64) {
        let times = self.prepared.doglegs(index).unwrap();
        let sharper = times.iter().filter(|time| time.curvature > curvature);
        sharper.fold((0.0, 0.0), |sum, time| (sum.0 + time.turns, sum.1 + time.hours))
    }

    /// What a part went through, with its notches from when they were there.
    pub fn exposure(&self, index: usize) -> PartExposure {
        let part = self.case.string.parts()[index];
        let Some(notches) = self.notches[index] else { return self.prepared.part(index).unwrap() };
        let (mut before, mut after) = (Vec::new(), Vec::new());
        let mut at = 0.0;
        for segment in &self.case.segments {
            let (head, tail) = segment.split_at_fraction((notches.from - at) / segment.hours);
            at += segment.hours;
            if head.hours > 0.0 {
                before.push(head);
            }
            if tail.hours > 0.0 {
                after.push(tail);
            }
        }
        let mut notched = part;
        for (k, notch) in notched.concentration.iter_mut().zip(notches.concentration) {
            *k *= notch;
        }
        let of = |segments: Vec<Segment>, part: &Part| {
            self.prepared.of_segments(segments).unwrap().part_as(index, part).unwrap()
        };
        let mut sum = of(before, &part);
        sum.add(&of(after, &notched));
        sum
    }
}

fn part(row: &Row) -> Part {
    let (od, wall) = (row.given("od_mm") * 1e-3, row.given("wall_mm") * 1e-3);
    Part {
        kind: match row.text("kind") {
            "drill pipe" => Kind::DrillPipe,
            "heavy-weight drill pipe" => Kind::HeavyWeight,
            "drill collar" => Kind::DrillCollar,
            other => panic!("{other}"),
        },
        length: row.given("length_m"),
        od,
        id: od - 2.0 * wall,
        air_weight: row.given("air_weight_kg_m"),
        tool_joint_od: row.number("tool_joint_od_mm").map(|d| d * 1e-3),
        material: Material::steel(724.0e6, row.given("uts_ksi") * 1e3 * PASCALS_PER_PSI),
        permissible: match row.text("no_fatigue_rule") {
            "S135" => PermissibleStress::S135,
            _ => PermissibleStress::GradeE,
        },
        concentration: [row.number("stress_ratio").unwrap_or(1.0), 1.0, 1.0],
    }
}

fn segment(row: &Row) -> Segment {
    let activity = match row.text("activity") {
        "drilling rotating" => Activity::RotatingOnBottom,
        "reaming up" => Activity::ReamingUp,
        "reaming down" => Activity::ReamingDown,
        "rotating off bottom" => Activity::RotatingOffBottom,
        "sliding" => Activity::Sliding,
        "tripping" => Activity::NotRotating,
        other => panic!("{other}"),
    };
    let bit = (row.given("bit_from_m"), row.given("bit_to_m"));
    let wob = row.given("wob_kn") * 1e3;
    at_rpm(activity, bit, row.given("hours"), row.given("rpm"), wob)
}

/// The first of them, whose files and figures are check values of the project.
pub fn run() -> IntegratedRun {
    let file = |name| table(&format!("exposure_run/{name}.csv"));
    IntegratedRun::new(1200.0, &file("survey"), &file("hole"), &file("tally"), &file("log"))
}

/// One of the runs in a folder.
pub fn run_in(folder: &std::path::Path) -> IntegratedRun {
    let file = |name: &str| crate::check_values::rows(&folder.join(name));
    let text = std::fs::read_to_string(folder.join("case.json")).unwrap();
    let case: serde_json::Value = serde_json::from_str(&text).unwrap();
    let mud = case["mud_kg_m3"].as_f64().unwrap();
    let [survey, hole, tally, log] = ["survey.csv", "hole.csv", "tally.csv", "log.csv"].map(file);
    let run = IntegratedRun::new(mud, &survey, &hole, &tally, &log);
    let factor = case["no_fatigue_factor"].as_f64().unwrap();
    let settings = Settings { limit_factor: factor, ..run.settings.clone() };
    run.with(settings)
}
