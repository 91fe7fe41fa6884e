//! Kernel and plain integration side by side, figure by figure.

use pipelore::mechanics::exposure::{Flags, PartExposure, Settings};
use pipelore::mechanics::string::RunCase;

use crate::check_values::Misses;
use crate::exposure_plain::plain_all;
use crate::exposure_random::all;

/// Agreement asked of every figure.
const AGREEMENT: f64 = 1e-6;
/// Damage below this is none.
const NO_DAMAGE: f64 = 1e-9;

/// Every figure of `got` against `exact`, relative to 1e-6. Tension passes zero, so it is held to
/// 10 mN too; turns above a limit are those of a cut through the log, so they are held to a billionth
/// of all turns too.
pub fn compare(label: &str, got: &PartExposure, exact: &PartExposure, misses: &mut Misses) {
    let mut check = |what: &str, a: f64, b: f64, beside: f64| {
        misses.absolute(&format!("{label} {what}"), a, b, AGREEMENT * b.abs() + beside);
    };
    for (place, (a, b)) in got.damage.into_iter().zip(exact.damage).enumerate() {
        check(&format!("damage {place}"), a, b, AGREEMENT * NO_DAMAGE);
    }
    check("rotating hours", got.rotating_hours, exact.rotating_hours, 0.0);
    check("turns", got.revolutions, exact.revolutions, 0.0);
    check("footage", got.footage, exact.footage, 0.0);
    check("hours", got.hours_below_table, exact.hours_below_table, 0.0);
    check("dogleg", got.max_curvature, exact.max_curvature, 0.0);
    let tension = |t: Option<f64>| t.unwrap_or(f64::MAX);
    check("tension", tension(got.max_tension), tension(exact.max_tension), 0.01);
    check("least tension", tension(got.min_tension), tension(exact.min_tension), 0.01);
    for place in 0..3 {
        let bending = (got.max_bending_stress[place], exact.max_bending_stress[place]);
        check(&format!("bending {place}"), bending.0, bending.1, 0.0);
        for (what, a, b) in [
            ("above limit", got.revolutions_above_limit, exact.revolutions_above_limit),
            (
                "above limit at the notch",
                got.revolutions_above_limit_at_notch,
                exact.revolutions_above_limit_at_notch,
            ),
        ] {
            let what = format!("{what} {place}");
            check(&what, a[place], b[place], 1e-9 * exact.revolutions.max(1.0));
        }
    }
    for place in 0..3 {
        let (a, b) = (got.hours_in_compression[place], exact.hours_in_compression[place]);
        check(&format!("hours in compression {place}"), a, b, 1e-9 * exact.rotating_hours.max(1.0));
        let of = |hours: Option<f64>| hours.unwrap_or(-1.0);
        let (a, b) = (of(got.hours_in_contact[place]), of(exact.hours_in_contact[place]));
        check(&format!("hours in contact {place}"), a, b, 1e-8 * exact.rotating_hours.max(1.0));
    }
    let beside = 1e-8 * exact.rotating_hours.max(1.0);
    check("hours buckled", got.hours_buckled, exact.hours_buckled, beside);
    check("work", got.side_force_work, exact.side_force_work, 1e-6);
    check("side force", got.max_side_force, exact.max_side_force, 1e-9);
    check("cased", got.hours_in_casing, exact.hours_in_casing, 1e-12);
    check("riser", got.hours_in_riser, exact.hours_in_riser, 1e-12);
    check("open", got.revolutions_open_hole, exact.revolutions_open_hole, 1e-9);
    let depth = |d: Option<f64>| d.unwrap_or(-1.0);
    assert_eq!(got.turned, exact.turned, "turned");
    check("top", depth(got.shallowest), depth(exact.shallowest), 0.0);
    check("bottom", depth(got.deepest), depth(exact.deepest), 0.0);
    check("beyond", got.beyond_survey, exact.beyond_survey, 0.0);
    let bands = [(&got.bands.turns, &exact.bands.turns), (&got.bands.hours, &exact.bands.hours)];
    for (a, b) in bands {
        for (band, (a, b)) in a.iter().zip(b).enumerate() {
            check(&format!("band {band}"), *a, *b, 1e-9);
        }
    }
    let flags = format!("{label} flags: {} / {}", names(got.flags), names(exact.flags));
    misses.holds(&flags, got.flags == exact.flags);
}

/// Names of the flags that are set.
pub fn names(flags: Flags) -> String {
    let set = Flags::NAMES.into_iter().filter(|(flag, _)| flags.contains(*flag));
    set.map(|(_, name)| name).collect::<Vec<_>>().join(", ")
}

/// Every part of a run, kernel with these settings against plain integration of high order.
pub fn compare_run(label: &str, case: &RunCase, settings: &Settings, misses: &mut Misses) {
    let got = all(case, settings);
    let exact = plain_all(case, settings, 12);
    for (part, (a, b)) in got.iter().zip(&exact).enumerate() {
        compare(&format!("{label}, part {part}:"), a, b, misses);
    }
}
