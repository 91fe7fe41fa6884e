//! Exposures against an independently integrated run.

use std::collections::BTreeMap;

use pipelore::mechanics::exposure::{PartExposure, PreparedRun, Settings};
use pipelore::mechanics::path::degrees_per_30m;

use pipelore::mechanics::string::Segment;

use crate::check_values::{Misses, Row, table};
use crate::exposure_compare::names;
use crate::exposure_plain::plain;
use crate::exposure_random::all;
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
    let settings = settings();
    let refined = refined();
    let mut misses = Misses::default();
    for row in table("exposure_run/expected.csv") {
        let serial = row.text("serial");
        let got = plain(&case, &settings, 8, serials[serial]);
        compare(serial, &row, &got, &refined, &mut misses);
    }
    misses.none("exposures of the run, plain");
}

#[test]
fn the_kernel_agrees_with_the_independent_one() {
    let (case, serials) = run();
    let settings = settings();
    let refined = refined();
    let all = all(&case, &settings);
    let mut misses = Misses::default();
    for row in table("exposure_run/expected.csv") {
        let serial = row.text("serial");
        compare(serial, &row, &all[serials[serial]], &refined, &mut misses);
    }
    misses.none("exposures of the run, kernel");
}

/// Every figure of every part, kernel against plain integration.
#[test]
fn the_kernel_agrees_with_plain_integration() {
    let (case, _) = run();
    let settings = settings();
    let prepared = PreparedRun::new(&case, &settings).unwrap();
    let mut misses = Misses::default();
    for part in 0..case.string.parts().len() {
        let (a, b) = (prepared.part(part).unwrap(), plain(&case, &settings, 8, part));
        let mut check = |what: &str, a: f64, b: f64, tolerance: f64| {
            misses.absolute(&format!("{part} {what}"), a, b, tolerance * b.abs() + 1e-12);
        };
        check("pin end", a.damage[0], b.damage[0], 1e-7);
        check("middle", a.damage[1], b.damage[1], 1e-7);
        check("box end", a.damage[2], b.damage[2], 1e-7);
        check("bending", a.max_bending_stress, b.max_bending_stress, 1e-6);
        check("tension", a.max_tension.unwrap_or(0.0), b.max_tension.unwrap_or(0.0), 1e-6);
        check("least tension", a.min_tension.unwrap_or(0.0), b.min_tension.unwrap_or(0.0), 1e-6);
        check("dogleg", a.max_curvature, b.max_curvature, 1e-12);
        check("above limit", a.revolutions_above_limit, b.revolutions_above_limit, 1e-6);
        check("work", a.side_force_work, b.side_force_work, 1e-6);
        check("side force", a.max_side_force, b.max_side_force, 1e-6);
        for band in 0..a.bands.turns.len() {
            check("turns in band", a.bands.turns[band], b.bands.turns[band], 1e-9);
            check("hours in band", a.bands.hours[band], b.bands.hours[band], 1e-9);
        }
        misses.holds(
            &format!("{part} flags {} / {}", names(a.flags), names(b.flags)),
            a.flags == b.flags,
        );
    }
    misses.none("kernel against plain integration");
}

/// Doubling the points, or cutting every segment in two, changes no damage by 1e-6.
#[test]
fn order_and_cuts_do_not_matter() {
    let (case, _) = run();
    let settings = settings();
    let finer = Settings { points: 2 * settings.points, ..settings.clone() };
    let mut halved = case.clone();
    halved.segments = case
        .segments
        .iter()
        .flat_map(|s| {
            let (a, b) = s.split_at_fraction(0.5);
            [a, b]
        })
        .collect();
    let base = all(&case, &settings);
    let doubled = all(&case, &finer);
    let cut = all(&halved, &settings);
    let mut misses = Misses::default();
    for (part, a) in base.iter().enumerate() {
        for place in 0..3 {
            let what = |change: &str| format!("{part} place {place}, {change}");
            misses.relative(
                &what("twice the points"),
                doubled[part].damage[place],
                a.damage[place],
                1e-7,
            );
            misses.relative(&what("cut in two"), cut[part].damage[place], a.damage[place], 1e-7);
        }
    }
    misses.none("order and cuts");
}

/// The joint at the bit made every turn and every hour of the log.
#[test]
fn the_lowest_joint_counts_the_whole_log() {
    let (case, _) = run();
    let settings = settings();
    let lowest = PreparedRun::new(&case, &settings).unwrap().part(0).unwrap();
    let turning = || case.segments.iter().filter(|s| s.turns() > 0.0);
    let mut misses = Misses::default();
    misses.relative("turns", lowest.revolutions, turning().map(Segment::turns).sum(), 1e-12);
    misses.relative("hours", lowest.rotating_hours, turning().map(|s| s.hours).sum(), 1e-12);
    let all: f64 = case.segments.iter().map(|s| s.hours).sum();
    misses.relative("hours below", lowest.hours_below_table, all, 1e-12);
    let drilled = case.segments.iter().filter(|s| s.activity.drills());
    misses.relative("footage", lowest.footage, drilled.map(|s| s.bit_to - s.bit_from).sum(), 1e-12);
    misses.relative("bands", lowest.bands.turns.iter().sum(), lowest.revolutions, 1e-12);
    misses.none("lowest joint");
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
