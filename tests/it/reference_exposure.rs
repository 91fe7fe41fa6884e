//! Exposures against an independently integrated run.

use std::collections::BTreeMap;

use pipelore::mechanics::exposure::{PartExposure, Settings, plain};
use pipelore::mechanics::path::degrees_per_30m;

use crate::check_values::{Misses, Row, table};
use crate::exposure_run::{run, settings};

/// Relative agreement asked for.
const AGREEMENT: f64 = 1e-6;

/// Damages that the first independent integration missed, and a finer one has.
fn refined() -> BTreeMap<(String, String), f64> {
    let key = |r: &Row| (r.text("serial").to_owned(), r.text("place").to_owned());
    table("exposure_run/refined.csv").iter().map(|r| (key(r), r.given("damage"))).collect()
}

#[test]
fn plain_integration_agrees_with_the_independent_one() {
    let (case, serials) = run();
    let settings = Settings { points: 8, ..settings() };
    let refined = refined();
    let mut misses = Misses::default();
    for row in table("exposure_run/expected.csv") {
        let serial = row.text("serial");
        let got = plain(&case, &settings, serials[serial]).unwrap();
        compare(serial, &row, &got, &refined, &mut misses);
    }
    misses.none("exposures of the run, plain");
}

fn compare(
    serial: &str,
    row: &Row,
    got: &PartExposure,
    refined: &BTreeMap<(String, String), f64>,
    misses: &mut Misses,
) {
    let mut check = |column: &str, value: f64| {
        misses.relative(&format!("{serial} {column}"), value, row.given(column), AGREEMENT);
    };
    check("hours", got.rotating_hours);
    check("revolutions", got.revolutions);
    check("max_dogleg_deg_30m", degrees_per_30m(got.max_curvature));
    check("max_bending_pa", got.max_bending_stress);
    match got.max_tension {
        Some(tension) => check("max_tension_n", tension),
        // the table writes −1e99 for a joint that never turned in the hole
        None => misses.holds(&format!("{serial} never turned"), row.given("max_tension_n") < -1e98),
    }
    for (column, damage) in
        ["damage_pin_end", "damage_middle", "damage_box_end"].into_iter().zip(got.damage)
    {
        let expected = row.given(column);
        let name = format!("{serial} {column}");
        if let Some(finer) = refined.get(&(serial.to_owned(), column.to_owned())) {
            misses.holds(&format!("{name} differs"), (expected / finer - 1.0).abs() > AGREEMENT);
            misses.relative(&name, damage, *finer, AGREEMENT);
        } else if expected > 1e-9 {
            misses.relative(&name, damage, expected, AGREEMENT);
        }
    }
}
