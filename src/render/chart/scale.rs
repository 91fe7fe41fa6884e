//! Where an axis begins and ends, where it is marked, and what stands there.

use chrono::{Datelike, Months, NaiveDate};

use crate::model::{Clock, DAY_MS, Instant};
use crate::report::chart::{Axis, Scale};
use crate::units::{Measure, UnitSystem};

/// An axis in the units that people read.
pub(super) struct Ruler {
    pub from: f64,
    pub to: f64,
    /// Marked values, each with its text.
    pub ticks: Vec<(f64, String)>,
    pub title: String,
}

/// A stored value in the units of the axis: civil days since 1970, or the unit that is shown.
pub(super) fn value(scale: Scale, n: i64, units: UnitSystem) -> f64 {
    match scale {
        Scale::Time(clock) => {
            (n as f64 + f64::from(clock.offset_minutes(Instant(n))) * 60_000.0) / DAY_MS as f64
        }
        Scale::Of(m) => m.value(n, units),
    }
}

impl Ruler {
    /// A ruler for values between two stored ones, with about so many ticks.
    pub(super) fn new(axis: &Axis, reach: (i64, i64), units: UnitSystem, wanted: usize) -> Self {
        let (lo, hi) = (value(axis.scale, reach.0, units), value(axis.scale, reach.1, units));
        match axis.scale {
            Scale::Time(_) => time(lo, hi, wanted),
            Scale::Of(measure) => numbers(axis, measure, (lo.min(hi), lo.max(hi)), units, wanted),
        }
    }
}

fn numbers(
    axis: &Axis,
    measure: Measure,
    (lo, hi): (f64, f64),
    units: UnitSystem,
    wanted: usize,
) -> Ruler {
    let lo = if axis.from_zero { lo.min(0.0) } else { lo };
    let width = if hi > lo { hi - lo } else { hi.abs().max(1.0) * 0.1 };
    let lo = if hi > lo { lo } else { lo - if axis.from_zero { 0.0 } else { width / 2.0 } };
    let whole = matches!(measure, Measure::Count);
    let step = step(width / wanted.max(1) as f64).max(if whole { 1.0 } else { 0.0 });
    let from = if axis.from_zero && lo >= 0.0 { 0.0 } else { (lo / step).floor() * step };
    let room = if axis.from_zero { hi + 0.03 * width } else { hi };
    let to = ((room.max(lo + width) / step).ceil() * step).max(from + step);
    let decimals = decimals(step);
    let mut ticks = Vec::new();
    let mut n = 0.0;
    // A ruler has a few dozen ticks at most: the step was chosen from the width.
    while from + n * step <= to + 1e-9 * step && n < 64.0 {
        let at = from + n * step;
        ticks.push((at, grouped(at, decimals)));
        n += 1.0;
    }
    let unit = measure.unit_symbol(units);
    let title = match (axis.title.as_str(), unit) {
        (title, "") => title.to_owned(),
        ("", unit) => format!("[{unit}]"),
        (title, unit) => format!("{title} [{unit}]"),
    };
    Ruler { from, to, ticks, title }
}

/// The nearest 1, 2 or 5 times a power of ten above.
fn step(rough: f64) -> f64 {
    let power = 10f64.powf(rough.max(1e-18).log10().floor());
    let lead = rough / power;
    power
        * if lead <= 1.0 {
            1.0
        } else if lead <= 2.0 {
            2.0
        } else if lead <= 5.0 {
            5.0
        } else {
            10.0
        }
}

fn decimals(step: f64) -> usize {
    let mut n = 0;
    let mut s = step;
    while n < 12 && (s - s.round()).abs() > 1e-6 * step.max(s) {
        s *= 10.0;
        n += 1;
    }
    n
}

fn grouped(x: f64, decimals: usize) -> String {
    let text = format!("{x:.decimals$}");
    let text = if x == 0.0 { text.trim_start_matches('-').to_owned() } else { text };
    let (whole, rest) = text.find('.').map_or((text.as_str(), ""), |at| text.split_at(at));
    let digits = whole.trim_start_matches('-');
    if digits.len() < 5 {
        return text;
    }
    let mut out = String::new();
    if whole.starts_with('-') {
        out.push('-');
    }
    for (i, c) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i) % 3 == 0 {
            out.push(',');
        }
        out.push(c);
    }
    out + rest
}

/// Ticks at the first days of months, or at midnights when all lies within weeks.
fn time(lo: f64, hi: f64, wanted: usize) -> Ruler {
    let pad = ((hi - lo) * 0.02).max(0.5);
    let (from, to) = (lo - pad, hi + pad);
    let mut ticks = Vec::new();
    let span = to - from;
    let day_of = |d: f64| {
        #[expect(clippy::cast_possible_truncation, reason = "a day of a chart")]
        let ms = (d * DAY_MS as f64) as i64;
        Instant(ms).day(Clock::UTC)
    };
    let number = |d: NaiveDate| f64::from(d.num_days_from_ce() - 719_163);
    if span < 75.0 {
        let step = (span / wanted as f64).ceil().max(1.0);
        let mut at = from.ceil();
        while at <= to {
            ticks.push((at, day_of(at).format("%Y-%m-%d").to_string()));
            at += step;
        }
        return Ruler { from, to, ticks, title: String::new() };
    }
    let months = span / 30.4375;
    let step = [1u32, 2, 3, 6, 12, 24, 60, 120]
        .into_iter()
        .find(|s| months / f64::from(*s) <= wanted as f64)
        .unwrap_or(240);
    let first = day_of(from);
    let month0 = (first.month0() / step.min(12)) * step.min(12);
    let mut at = NaiveDate::from_ymd_opt(first.year(), month0 + 1, 1);
    while let Some(day) = at
        && number(day) <= to
    {
        if number(day) >= from {
            ticks.push((number(day), day.format("%Y-%m").to_string()));
        }
        at = day.checked_add_months(Months::new(step));
    }
    Ruler { from, to, ticks, title: String::new() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_hold_the_values() {
        let axis = Axis::of("damage", Measure::Damage);
        let one = 1_000_000_000_000_000;
        let r = Ruler::new(&axis, (0, 2_259_200_000_000_000), UnitSystem::Us, 5);
        assert_eq!(r.ticks.first().unwrap().1, "0.0");
        assert!(r.to >= 2.2592 && r.from <= 0.0);
        let flat = Ruler::new(&axis, (one, one), UnitSystem::Us, 5);
        assert!(flat.to > flat.from && flat.ticks.len() > 1);
        let none = Ruler::new(&axis, (0, 0), UnitSystem::Us, 5);
        assert!(none.to > none.from);
    }

    #[test]
    fn time_is_marked_at_months() {
        let day = |y, m, d| {
            let date = NaiveDate::from_ymd_opt(y, m, d).unwrap();
            date.and_hms_opt(0, 0, 0).unwrap().and_utc().timestamp_millis()
        };
        let r = Ruler::new(
            &Axis::time(Clock::UTC),
            (day(2024, 9, 2), day(2026, 5, 19)),
            UnitSystem::Us,
            8,
        );
        let texts: Vec<&str> = r.ticks.iter().map(|t| t.1.as_str()).collect();
        assert_eq!(
            texts,
            ["2024-10", "2025-01", "2025-04", "2025-07", "2025-10", "2026-01", "2026-04"]
        );
    }
}
