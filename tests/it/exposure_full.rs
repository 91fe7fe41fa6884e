//! Exposures against runs that were integrated independently under the same definitions: every place,
//! every band. The first run is among the check values; both, with their bands, are read where the
//! open material names their folder.

use pipelore::mechanics::exposure::{BAND_WIDTH, PartExposure, Settings};
use pipelore::mechanics::path::{degrees_per_30m, from_degrees_per_30m};

use crate::check_values::{Misses, Row, rows, table};
use crate::exposure_run::{IntegratedRun, run, run_in};
use crate::open_data;

/// Relative agreement asked for.
const AGREEMENT: f64 = 1e-8;
/// Agreement of what is next to nothing.
const NOTHING: f64 = 1e-12;

const PLACES: [&str; 3] = ["pin_end", "middle", "box_end"];

/// 8 deg/100 ft, rad/m.
fn eight_degrees() -> f64 {
    from_degrees_per_30m(8.0 * 30.0 / 30.48)
}

fn check_part(run: &IntegratedRun, row: &Row, got: &PartExposure, misses: &mut Misses) {
    let serial = row.text("serial");
    let mut check = |column: &str, value: f64| {
        let Some(expected) = row.number(column) else { return };
        let tolerance = AGREEMENT * expected.abs() + NOTHING;
        misses.absolute(&format!("{serial} {column}"), value, expected, tolerance);
    };
    check("hours", got.rotating_hours);
    check("revolutions", got.revolutions);
    check("max_dogleg_deg_30m", degrees_per_30m(got.max_curvature));
    let (turns, hours) = run.above(run.serials[serial], eight_degrees());
    check("hours_above_8deg_100ft", hours);
    check("turns_above_8deg_100ft", turns);
    check("max_tension_n", got.max_tension.unwrap_or(f64::NAN));
    check("min_tension_n", got.min_tension.unwrap_or(f64::NAN));
    for (place, name) in PLACES.iter().enumerate() {
        check(&format!("damage_{name}"), got.damage[place]);
        check(&format!("max_bending_{name}_pa"), got.max_bending_stress[place]);
        let above = got.revolutions_above_limit[place];
        check(&format!("turns_above_no_fatigue_{name}"), above);
        let at_notch = got.revolutions_above_limit_at_notch[place];
        check(&format!("turns_above_no_fatigue_local_{name}"), at_notch);
    }
}

fn check_bands(rows: &[Row], serial: &str, got: &PartExposure, misses: &mut Misses) {
    for (band, (turns, hours)) in got.bands.turns.iter().zip(&got.bands.hours).enumerate() {
        let from = band as f64 * BAND_WIDTH;
        let row = rows.iter().find(|row| {
            row.text("serial") == serial && (row.given("band_from_deg_30m") - from).abs() < 1e-9
        });
        let expected = |column| row.and_then(|row| row.number(column)).unwrap_or(0.0);
        for (column, value) in [("turns", *turns), ("hours", *hours)] {
            let expected = expected(column);
            let tolerance = AGREEMENT * expected.abs() + NOTHING;
            misses.absolute(&format!("{serial} {column} at {from}"), value, expected, tolerance);
        }
    }
}

#[test]
fn the_first_run_agrees() {
    let run = run();
    let mut misses = Misses::default();
    for row in table("exposure_run/expected.csv") {
        let got = run.exposure(run.serials[row.text("serial")]);
        check_part(&run, &row, &got, &mut misses);
    }
    misses.none("exposures of the first run");
}

#[test]
fn both_runs_agree_in_every_place_and_band() {
    for name in ["A", "B"] {
        let folder = format!("../reference/exposure_full/{name}");
        let Some(folder) = open_data::folder(&folder) else { return };
        let run = run_in(&folder);
        let bands = rows(&folder.join("expected_bands.csv"));
        let mut misses = Misses::default();
        for row in rows(&folder.join("expected_full.csv")) {
            let got = run.exposure(run.serials[row.text("serial")]);
            check_part(&run, &row, &got, &mut misses);
            check_bands(&bands, row.text("serial"), &got, &mut misses);
        }
        misses.none(&format!("exposures of run {name}"));
    }
}

/// Doubling the points of quadrature changes no damage by more than is asked of agreement.
#[test]
fn twice_the_points_change_nothing() {
    let mut cases = vec![("first", run(), run())];
    if let Some(folder) = open_data::folder("../reference/exposure_full/B") {
        cases.push(("B", run_in(&folder), run_in(&folder)));
    }
    for (name, run, other) in cases {
        let settings = Settings { points: 2 * run.settings.points, ..run.settings.clone() };
        let finer = other.with(settings);
        let mut misses = Misses::default();
        for (serial, index) in &run.serials {
            let (a, b) = (run.exposure(*index), finer.exposure(*index));
            for place in 0..3 {
                let tolerance = AGREEMENT * b.damage[place] + NOTHING;
                let what = format!("{serial} damage {place}");
                misses.absolute(&what, a.damage[place], b.damage[place], tolerance);
            }
        }
        misses.none(&format!("twice the points, {name} run"));
    }
}
