//! What `rate dogleg` says of a bend is what a joint that turns in it is exposed to: one function
//! answers both, whatever the pull and however the tube lies.

use assert_cmd::Command;
use pipelore::mechanics::bending::PermissibleStress;
use pipelore::mechanics::constants::PASCALS_PER_PSI;
use pipelore::mechanics::exposure::{MIDDLE, PreparedRun, Settings};
use pipelore::mechanics::fatigue::CurveTable;
use pipelore::mechanics::path::{Path, Station};
use pipelore::mechanics::string::{
    Bore, DrillString, Environment, Fluids, Kind, Material, Part, RunCase,
};
use pipelore::model::Activity;

use crate::exposure_random::at_rpm;

const INCH: f64 = 0.0254;
const POUND: f64 = 4.448_221_615_260_5;

/// A joint of 5 in 19.50 lb/ft, new, 30 ft between its shoulders, without weight: the pull is the same
/// all along it.
fn joint(tool_joint_in: Option<f64>) -> Part {
    Part {
        kind: Kind::DrillPipe,
        length: 360.0 * INCH,
        od: 5.0 * INCH,
        id: (5.0 - 2.0 * 0.362) * INCH,
        air_weight: 0.0,
        tool_joint_od: tool_joint_in.map(|d| d * INCH),
        material: Material::steel(931e6, 1000e6),
        permissible: PermissibleStress::S135,
        concentration: [1.0; 3],
    }
}

/// Largest bending stress at ends and middle of a joint that turns in a bend under a pull, psi.
fn exposed(tool_joint_in: Option<f64>, (klbf, dogleg): (f64, f64)) -> f64 {
    let deg = Station::from_degrees;
    let stations = [deg(0.0, 0.0, 0.0), deg(100.0, 0.0, 0.0), deg(100.0 + 30.48, dogleg, 0.0)];
    let turning =
        at_rpm(Activity::RotatingOnBottom, (125.0, 125.0), 1.0, 100.0, -klbf * 1e3 * POUND);
    let case = RunCase {
        path: Path::new(&stations).unwrap(),
        string: DrillString::new(vec![joint(tool_joint_in)]).unwrap(),
        segments: vec![turning],
        fluids: Fluids::same(0.0),
        cased_to: 0.0,
        riser_to: 0.0,
        bore: Bore::everywhere(8.5 * INCH),
        environment: Environment::default(),
    };
    let curve = CurveTable::shipped().unwrap().get("DNVGL-RP-C203 2016 air B1").unwrap();
    let run = PreparedRun::new(&case, &Settings::with_curve(curve)).unwrap();
    let stress = run.part(0).unwrap().max_bending_stress;
    assert!((stress[0] - stress[2]).abs() < 1e-9 * stress[0], "both ends bend alike");
    assert_eq!(stress[MIDDLE] > stress[0], klbf < 0.0, "{klbf} klbf: {stress:?}");
    stress.into_iter().fold(0.0, f64::max) / PASCALS_PER_PSI
}

/// The same as `rate dogleg` prices it, psi, and how the tube lies.
fn rated(tool_joint_in: Option<f64>, (klbf, dogleg): (f64, f64)) -> (f64, String) {
    let mut command = Command::cargo_bin("pipelore").unwrap();
    command.env_remove("PIPELORE_BOOK").args(["rate", "dogleg", "5 in 19.50 lb/ft S-135"]);
    command.args(["--class", "new", "--length", "30 ft", "--json"]);
    command.args([format!("--tension={klbf} klbf"), format!("--dogleg={dogleg} deg/100ft")]);
    if let Some(d) = tool_joint_in {
        command.arg(format!("--tool-joint={d} in"));
    }
    let out = command.output().unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let answer: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    let row = &answer["cost"][0];
    assert_eq!(row["bending"]["unit"], "ksi");
    let lies = row["lies"].as_str().unwrap().to_owned();
    (1e3 * row["bending"]["value"].as_f64().unwrap(), lies)
}

#[test]
fn exposures_bend_as_rated() {
    let mut seen = Vec::new();
    for tool_joint in [Some(6.375), None] {
        for klbf in [-100.0, -30.0, -5.0, 5.0, 50.0, 100.0, 250.0] {
            for dogleg in [2.0, 9.0, 16.0] {
                let (rate, lies) = rated(tool_joint, (klbf, dogleg));
                let exposure = exposed(tool_joint, (klbf, dogleg));
                let name = format!("{tool_joint:?} {klbf} klbf {dogleg}: {lies}");
                assert!((rate / exposure - 1.0).abs() < 1e-9, "{name}: {rate} {exposure}");
                seen.push((klbf < 0.0, lies));
            }
        }
    }
    // each state of the tube was met on both sides of zero
    for compressed in [true, false] {
        for lies in ["is free", "touches mid-span", "lies on the wall", "taken as free"] {
            assert!(seen.contains(&(compressed, lies.to_owned())), "{compressed} {lies}: {seen:?}");
        }
    }
}
