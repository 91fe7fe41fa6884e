//! Minimum curvature against published legs, points and whole wells.

use core::f64::consts::PI;
use std::fs;

use pipelore::mechanics::path::{Path, Station, degrees_per_30m};

use crate::check_values::{Misses, table};

const FOOT: f64 = 0.3048;

#[test]
fn published_legs() {
    let mut misses = Misses::default();
    for row in table("survey_legs.csv") {
        let unit = if row.text("length_unit") == "ft" { FOOT } else { 1.0 };
        let station = |n: &str| {
            let at = |column: &str| {
                row.given(&format!("{column}{n}{}", if column == "md" { "" } else { "_deg" }))
            };
            Station::from_degrees(at("md") * unit, at("inc"), at("azi"))
        };
        let (a, b) = (station("1"), station("2"));
        let path = Path::new(&[a, b]).unwrap();
        let (from, to) = (path.point(a.md).position, path.point(b.md).position);
        let name = row.text("example");
        if let Some(tolerance) = row.number("position_tolerance") {
            for (column, got) in [
                ("down", to.down - from.down),
                ("north", to.north - from.north),
                ("east", to.east - from.east),
            ] {
                if let Some(expected) = row.number(column) {
                    misses.absolute(&format!("{name} {column}"), got / unit, expected, tolerance);
                }
            }
        }
        let (Some(expected), Some(tolerance)) =
            (row.number("dogleg_deg"), row.number("dogleg_tolerance"))
        else {
            continue;
        };
        let curvature = path.curvature(0.5 * (a.md + b.md));
        let got = if row.text("dogleg_per") == "100ft" {
            curvature.to_degrees() * 30.48
        } else {
            degrees_per_30m(curvature)
        };
        if row.text("known_difference").is_empty() {
            misses.absolute(&format!("{name} dogleg"), got, expected, tolerance);
        } else {
            let still = (got - expected).abs() > tolerance;
            misses.holds(&format!("{name} known difference in dogleg ({got})"), still);
        }
    }
    misses.none("survey legs");
}

#[test]
fn published_points_on_arcs() {
    let legs = table("survey_legs.csv");
    let mut stations = Vec::new();
    for row in legs.iter().filter(|r| r.text("example").starts_with("SPE84246")) {
        if stations.is_empty() {
            stations.push(Station::from_degrees(0.0, 0.0, 0.0));
        }
        stations.push(Station::from_degrees(
            row.given("md2"),
            row.given("inc2_deg"),
            row.given("azi2_deg"),
        ));
    }
    let path = Path::new(&stations).unwrap();
    let mut misses = Misses::default();
    for row in table("survey_points.csv") {
        let md = row.given("md_m");
        let p = path.point(md);
        let (position, angle) =
            (row.given("position_tolerance_m"), row.given("angle_tolerance_deg"));
        misses.absolute(&format!("{md} inc"), p.inc * 180.0 / PI, row.given("inc_deg"), angle);
        misses.absolute(&format!("{md} azi"), p.azi * 180.0 / PI, row.given("azi_deg"), angle);
        misses.absolute(&format!("{md} tvd"), p.position.down, row.given("tvd_m"), position);
        misses.absolute(&format!("{md} north"), p.position.north, row.given("north_m"), position);
        misses.absolute(&format!("{md} east"), p.position.east, row.given("east_m"), position);
    }
    misses.none("survey points");
}

/// The open wells, station by station and leg by leg, within the rounding of their files: columns
/// to 0.01 (m, ft, deg/30 m) and angles to 0.01 deg.
#[test]
fn whole_wells_with_published_positions() {
    let Some(folder) = crate::open_data::folder("surveys") else { return };
    let mut misses = Misses::default();
    let mut wells = 0;
    for entry in fs::read_dir(folder).unwrap() {
        let file = entry.unwrap().path();
        let name = file.file_name().unwrap().to_string_lossy().into_owned();
        let text = String::from_utf8_lossy(&fs::read(&file).unwrap()).into_owned();
        let rows: Vec<Vec<f64>> =
            text.lines().filter(|l| !l.trim().is_empty()).map(numbers).collect();
        // well 2 of the standard's set is in feet
        let unit = if name.starts_with("iscwsa-2") { FOOT } else { 1.0 };
        well(&name, &rows, unit, &mut misses);
        wells += 1;
    }
    assert!(wells >= 3, "only {wells} wells found");
    misses.none("whole wells");
}

/// Numbers of a line, decimal comma or point.
fn numbers(line: &str) -> Vec<f64> {
    line.split_whitespace().map(|t| t.replace(',', ".").parse().unwrap()).collect()
}

/// Columns: md inc azi tvd, and in the research wells north, east (from the slot), dogleg.
///
/// A leg is good to the rounding of two positions and of its angles. A position is good to its own
/// rounding plus what the angles' rounding adds up to on the way: nothing visible in the research
/// wells, whose columns were computed from the printed angles, but the standard's well 2 was
/// computed before its angles were rounded, and drifts by up to 0.03 ft.
fn well(name: &str, rows: &[Vec<f64>], unit: f64, misses: &mut Misses) {
    let half_step = 0.005 * PI / 180.0;
    let stations: Vec<Station> =
        rows.iter().map(|r| Station::from_degrees(r[0] * unit, r[1], r[2])).collect();
    let path = Path::new(&stations).unwrap();
    let mut drift = 0.0;
    for pair in rows.windows(2) {
        let [above, row] = pair else { continue };
        let length = row[0] - above[0];
        let sine = libm::sin(above[1].max(row[1]) * PI / 180.0);
        drift += length * sine * half_step;
        let (from, p) = (path.point(above[0] * unit).position, path.point(row[0] * unit).position);
        let whole = if unit < 1.0 { 0.006 + drift } else { 0.011 };
        let leg = 0.0101 + length * half_step;
        let at = format!("{name} {}", row[0]);
        misses.absolute(&format!("{at} tvd"), p.down / unit, row[3], whole);
        misses.absolute(&format!("{at} leg"), (p.down - from.down) / unit, row[3] - above[3], leg);
        let [_, _, _, _, north, east, dogleg, ..] = row[..] else { continue };
        misses.absolute(&format!("{at} north"), p.north, north - rows[0][4], whole);
        misses.absolute(&format!("{at} east"), p.east, east - rows[0][5], whole);
        let got = degrees_per_30m(path.curvature(0.5 * (above[0] + row[0])));
        misses.absolute(&format!("{at} dogleg"), got, dogleg, 0.011);
    }
}
