//! The kernel against plain integration, and laws of its figures, on the run that was integrated
//! independently.

use pipelore::mechanics::exposure::{PreparedRun, Settings};
use pipelore::mechanics::string::Segment;

use crate::check_values::Misses;
use crate::exposure_compare::compare;
use crate::exposure_plain::plain;
use crate::exposure_random::all;
use crate::exposure_run::{IntegratedRun, run};

/// Every figure of every part, kernel against plain integration.
#[test]
fn the_kernel_agrees_with_plain_integration() {
    let IntegratedRun { case, settings, .. } = run();
    let prepared = PreparedRun::new(&case, &settings).unwrap();
    let mut misses = Misses::default();
    for part in 0..case.string.parts().len() {
        let (a, b) = (prepared.part(part).unwrap(), plain(&case, &settings, 8, part));
        compare(&format!("part {part}:"), &a, &b, &mut misses);
    }
    misses.none("kernel against plain integration");
}

/// Doubling the points, or cutting every segment in two, changes no damage by 1e-6.
#[test]
fn order_and_cuts_do_not_matter() {
    let IntegratedRun { case, settings, .. } = run();
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
    let IntegratedRun { case, settings, .. } = run();
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
