//! Exposures against runs that were integrated independently, taken in from files as a yard would load
//! them: certificates, survey, tally, log, header of the run, findings; and read from answers.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;

use super::cli::Desk;
use crate::check_values::{Misses, Row, rows};
use crate::open_data;

/// Relative agreement asked for: times are stored in milliseconds, turns in thousandths.
const AGREEMENT: f64 = 1e-6;
/// The same of what rests on a cut, whose depth is stored in nanometres.
const AT_A_CUT: f64 = 1e-5;

/// Values of a joint, and the smallest step in which the book keeps each.
const ASKED: [(&str, &str, f64); 14] = [
    ("hours", "hours", 3e-7),
    ("revolutions", "revolutions", 2e-3),
    ("max_dogleg", "max_dogleg_deg_30m", 1e-6),
    ("hours above 8 deg/100ft", "hours_above_8deg_100ft", 3e-7),
    ("damage at pin end", "damage_pin_end", 2e-15),
    ("damage at middle", "damage_middle", 2e-15),
    ("damage at box end", "damage_box_end", 2e-15),
    ("over_limit at pin end", "turns_above_no_fatigue_pin_end", 2e-3),
    ("over_limit at middle", "turns_above_no_fatigue_middle", 2e-3),
    ("over_limit at box end", "turns_above_no_fatigue_box_end", 2e-3),
    ("max_tension", "max_tension_n", 1.0),
    ("bending_pin of latest run", "max_bending_pin_end_pa", 1.0),
    ("bending_middle of latest run", "max_bending_middle_pa", 1.0),
    ("bending_box of latest run", "max_bending_box_end_pa", 1.0),
];

/// Depth of a cut that has a stress concentration, with a root of 0.5 mm (Peterson, Inglis).
fn depth_of(factor: f64, ultimate_ksi: f64) -> f64 {
    const ROOT: f64 = 0.5;
    let ultimate = ultimate_ksi * 6.894_757_293_168_361;
    let length = 0.0254 * (2070.0 / ultimate).powf(1.8);
    let shape = (factor - 1.0) * (1.0 + length / ROOT);
    ROOT * (shape / 2.0).powi(2)
}

/// Hours after the start of the run at which cuts were found, and the columns and distances from the pin
/// shoulder of where.
type Cuts<'c> = (f64, Vec<(&'c str, f64)>);

/// The files of a case as a yard has them, in an empty book; returns the joints with a cut.
fn load(desk: &Desk, case: &Path) -> Vec<String> {
    let text = |name: &str| std::fs::read_to_string(case.join(name)).unwrap();
    let head: serde_json::Value = serde_json::from_str(&text("case.json")).unwrap();
    let tally = rows(&case.join("tally.csv"));
    let start = head["run_start"].as_str().unwrap();
    let begin: chrono::DateTime<chrono::Utc> = start.parse().unwrap();
    let mut joints = "Serial,Component,New,OD [mm],Wall [mm],Air weight [kg/m],Grade,Length [m],\
                      TJ OD [mm],Received\n"
        .to_owned();
    let mut string = "Position,Serial,Component,Length [m],OD [mm],Wall [mm],Weight [kg/m],\
                      TJ OD [mm],Stress ratio\n"
        .to_owned();
    let mut cuts: BTreeMap<String, Cuts<'_>> = BTreeMap::new();
    for row in &tally {
        let of = |column: &str| row.number(column).map_or_else(String::new, |x| x.to_string());
        let (serial, kind) = (row.text("serial"), row.text("kind"));
        let grade = match (kind, row.given("uts_ksi") as i64) {
            ("drill pipe", 115) => "G-105",
            ("drill pipe", 145) => "S-135",
            (other, 95 | 140) if other != "drill pipe" => "",
            (kind, uts) => panic!("{kind} of {uts} ksi"),
        };
        writeln!(
            joints,
            "{serial},{kind},yes,{},{},{},{grade},{},{},2023-01-01",
            of("od_mm"),
            of("wall_mm"),
            of("air_weight_kg_m"),
            of("length_m"),
            of("tool_joint_od_mm")
        )
        .unwrap();
        writeln!(
            string,
            "{},{serial},{kind},{},{},{},{},{},{}",
            of("position"),
            of("length_m"),
            of("od_mm"),
            of("wall_mm"),
            of("air_weight_kg_m"),
            of("tool_joint_od_mm"),
            of("stress_ratio")
        )
        .unwrap();
        for (place, at) in [
            ("notch_pin_end", 0.6),
            ("notch_middle", 0.5 * row.given("length_m")),
            ("notch_box_end", row.given("length_m") - 0.9),
        ] {
            if row.number(place).is_some() {
                let from = row.number("notch_from_h").unwrap_or(0.0);
                cuts.entry(serial.to_owned())
                    .or_insert_with(|| (from, Vec::new()))
                    .1
                    .push((place, at));
            }
        }
    }
    desk.write("joints.csv", joints);
    desk.write("tally.csv", string);
    desk.write(
        "survey.csv",
        format!(
            "Well,Tern Moor 9\nDate,2023-06-01\nMD [m],Inclination [deg],Azimuth [deg]\n{}",
            text("survey.csv").split_once('\n').unwrap().1
        ),
    );
    let mut log = "Activity,Bit from [m],Bit to [m],Hours [h],RPM,WOB [kN]\n".to_owned();
    for line in text("log.csv").lines().skip(1) {
        log.push_str(line.rsplit_once(',').unwrap().0);
        log.push('\n');
    }
    desk.write("log.csv", log);
    let hours: f64 = rows(&case.join("log.csv")).iter().map(|r| r.given("hours")).sum();
    let end = begin + chrono::Duration::milliseconds((hours * 3.6e6).ceil() as i64);
    let mut header = format!(
        "name = \"R\"\nwell = \"Tern Moor 9\"\nstart = {start}\nend = {}\n\
         mud_weight = \"{} kg/m3\"\nenvironment = \"air\"\ntally = \"tally.csv\"\nlog = \"log.csv\"\n",
        end.format("%Y-%m-%dT%H:%M:%S%.3fZ"),
        head["mud_kg_m3"]
    );
    for section in rows(&case.join("hole.csv")) {
        let Some(diameter) = section.number("hole_diameter_mm") else { continue };
        writeln!(
            header,
            "[[section]]\nfrom = \"{} m\"\nto = \"{} m\"\ndiameter = \"{diameter} mm\"",
            section.given("from_m"),
            section.given("to_m")
        )
        .unwrap();
    }
    desk.write("run.toml", header);
    desk.run(&["load", "joints.csv", "survey.csv"]).ok();
    for (serial, (from, places)) in &cuts {
        let row = tally.iter().find(|r| r.text("serial") == serial).unwrap();
        let at = begin + chrono::Duration::milliseconds((from * 3.6e6).round() as i64);
        // The finding of one instant each: a file has one finding in a row.
        let mut found = "Serial,Date,Methods,Finding,Size,At\n".to_owned();
        for (place, x) in places {
            let depth = depth_of(row.given(place), row.given("uts_ksi"));
            let date = at.format("%Y-%m-%dT%H:%M:%S%.3fZ");
            writeln!(found, "{serial},{date},visual,cut,{depth:.6} mm,{x:.4} m").unwrap();
        }
        desk.write("cuts.csv", found);
        desk.run(&["load", "cuts.csv"]).ok();
    }
    desk.run(&["load", "run.toml"]).ok();
    desk.write(
        "method.toml",
        "name = \"as integrated\"\nair = \"DNVGL-RP-C203 2016 air B1\"\nmean_stress = \"goodman\"\n",
    );
    desk.run(&["rebuild", "--method", "method.toml"]).ok();
    cuts.into_keys().collect()
}

/// A figure of a joint in the base unit of the reference.
fn figure(joint: &serde_json::Value, asked: &str) -> Option<f64> {
    let value = &joint[asked];
    if value["bound"] == "at least" {
        return None;
    }
    let number = value.as_f64().or_else(|| value["value"].as_f64())?;
    let unit = value["unit"].as_str().unwrap_or_default();
    Some(match unit {
        "kN" => number * 1e3,
        "MPa" => number * 1e6,
        "" | "h" | "deg/30m" => number,
        other => panic!("{asked} is told in {other}"),
    })
}

fn compare(row: &Row, joint: &serde_json::Value, cut: bool, misses: &mut Misses) {
    let (serial, collar) = (row.text("serial"), row.text("kind") == "drill collar");
    for (asked, column, step) in ASKED {
        let got = figure(joint, asked);
        let Some(expected) = row.number(column) else {
            // Of a collar only the body has a figure, and the connection whose stress ratio is
            // stated; what never came into the hole bent nothing.
            let still = row.given("hours") == 0.0 && got == Some(0.0);
            assert!(still || collar && got.is_none(), "{serial} {asked}: {got:?}");
            continue;
        };
        let rated = column.ends_with("pin_end") && got.is_some();
        let place = ["pin_end", "box_end"].iter().any(|p| column.contains(p));
        if collar && place && !rated {
            assert_eq!(got, None, "{serial} {asked}");
            continue;
        }
        let agreement = if cut && column.starts_with("damage") { AT_A_CUT } else { AGREEMENT };
        // Below zero the pipe is in compression, which is no pull.
        let expected = if asked == "max_tension" { expected.max(0.0) } else { expected };
        let tolerance = agreement * expected.abs() + step;
        misses.absolute(&format!("{serial} {asked}"), got.unwrap_or(f64::NAN), expected, tolerance);
    }
}

#[test]
fn both_runs_agree_when_they_come_as_files() {
    let show = ASKED.map(|a| a.0).join(",");
    for name in ["A", "B"] {
        let Some(case) = open_data::folder(&format!("../reference/exposure_full/{name}")) else {
            return;
        };
        let desk = Desk::with_book();
        let cut = load(&desk, &case);
        let told = desk
            .run(&[
                "find",
                "true",
                "--show",
                &format!("serial,{show}"),
                "--json",
                "--units",
                "metric",
            ])
            .json();
        let joints = told["joints"].as_array().unwrap();
        let mut misses = Misses::default();
        for row in rows(&case.join("expected_full.csv")) {
            let serial = row.text("serial");
            let joint = joints.iter().find(|j| j["serial"] == serial);
            let joint = joint.unwrap_or_else(|| panic!("{serial} is not answered"));
            compare(&row, joint, cut.iter().any(|s| s == serial), &mut misses);
        }
        misses.none(&format!("figures of run {name} from its files"));
    }
}
