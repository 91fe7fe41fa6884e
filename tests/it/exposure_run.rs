//! The invented run whose exposures were integrated independently, as a case of this crate.

use std::collections::BTreeMap;

use pipelore::mechanics::bending::PermissibleStress;
use pipelore::mechanics::exposure::Settings;
use pipelore::mechanics::fatigue::{CurveTable, MeanStress};
use pipelore::mechanics::path::{Path, Station};
use pipelore::mechanics::string::{
    DrillString, Environment, Fluids, Kind, Material, Part, RunCase,
};
use pipelore::model::Activity;

use crate::check_values::table;
use crate::exposure_random::at_rpm;

/// Mud, kg/m³.
pub const MUD: f64 = 1200.0;
/// Ultimate strength, Pa.
const ULTIMATE: f64 = 793.0e6;
/// Young's modulus of the case, Pa.
const YOUNG: f64 = 206_842_700_000.0;

/// The run, and the part index of each serial.
pub fn run() -> (RunCase, BTreeMap<String, usize>) {
    let stations: Vec<Station> = table("exposure_run/survey.csv")
        .iter()
        .map(|r| Station::from_degrees(r.given("md_m"), r.given("inc_deg"), r.given("azi_deg")))
        .collect();
    let mut serials = BTreeMap::new();
    let mut parts = Vec::new();
    for (index, row) in table("exposure_run/tally.csv").iter().enumerate() {
        serials.insert(row.text("serial").to_owned(), index);
        let (od, wall) = (row.given("od_mm") * 1e-3, row.given("wall_mm") * 1e-3);
        parts.push(Part {
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
            tool_joint_od: Some(od + 0.041),
            material: Material { young: YOUNG, ..Material::steel(724.0e6, ULTIMATE) },
            permissible: PermissibleStress::GradeE,
            concentration: [1.0; 3],
        });
    }
    let segments = table("exposure_run/log.csv")
        .iter()
        .map(|row| {
            let activity = match row.text("activity") {
                "drilling rotating" => Activity::RotatingOnBottom,
                "reaming up" => Activity::ReamingUp,
                "reaming down" => Activity::ReamingDown,
                "rotating off bottom" => Activity::RotatingOffBottom,
                "sliding" => Activity::Sliding,
                other => panic!("{other}"),
            };
            let bit = (row.given("bit_from_m"), row.given("bit_to_m"));
            let wob = row.given("wob_kn") * 1e3;
            at_rpm(activity, bit, row.given("hours"), row.given("rpm"), wob)
        })
        .collect();
    let case = RunCase {
        path: Path::new(&stations).unwrap(),
        string: DrillString::new(parts).unwrap(),
        segments,
        fluids: Fluids::same(MUD),
        cased_to: 0.0,
        riser_to: 0.0,
        hole_diameter: Some(0.2159),
        environment: Environment::default(),
    };
    (case, serials)
}

/// The settings of the independent integration.
pub fn settings() -> Settings {
    let curve = CurveTable::shipped().unwrap().get("DNVGL-RP-C203 2016 air B1").unwrap();
    Settings { mean_stress: MeanStress::Goodman, ..Settings::with_curve(curve) }
}
