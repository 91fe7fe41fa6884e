//! Dates ahead against simulated fleets whose wear and use are known: the interval must hold the true
//! date as often as it says.

use pipelore::policy::trend::Series;
use pipelore::policy::wear::{CONFIDENCE, Look, days_until_worn, of_joint, own, pooled, series};
use pipelore::policy::{BIN_DAYS, BINS, Outlook, Use, days_until};

use crate::chance;

/// A small generator with a fixed seed: the same fleet on every machine.
struct Dice(u64);

impl Dice {
    fn even(&mut self) -> f64 {
        (chance::next(&mut self.0) >> 11) as f64 / (1u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        let (a, b) = (self.even().max(1e-12), self.even());
        (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
    }
}

/// Use of a bin, seconds: about a hundred hours, some bins idle.
fn bin_of_use(dice: &mut Dice) -> f64 {
    if dice.even() < 0.2 { 0.0 } else { (100.0 + 40.0 * dice.normal()).max(0.0) * 3_600.0 }
}

struct Joint {
    series: Vec<Series>,
    recent: Use,
    since: f64,
    left: f64,
    /// Loss for a second, as it is.
    loss: f64,
    /// True wall above the limit now.
    truly_left: f64,
}

/// A joint with `looks` readings, each `spacing` bins apart, read with an error.
fn joint(dice: &mut Dice, looks: usize, spacing: usize, error: f64) -> Joint {
    // About 1 mm in 1,000 h, unlike from joint to joint by a fifth.
    let loss = 1e-3 / 3.6e6 * (0.2 * dice.normal()).exp();
    let mut used = 0.0;
    let mut bins = Vec::new();
    let mut seen = Vec::new();
    for n in 0..looks {
        seen.push(Look {
            at: i64::try_from(n).unwrap(),
            used,
            value: 9e-3 - loss * used + error * dice.normal(),
        });
        for _ in 0..spacing {
            bins.push(bin_of_use(dice));
            used += bins.last().unwrap();
        }
    }
    while bins.len() < BINS {
        bins.insert(0, bin_of_use(dice));
    }
    let last = *seen.last().unwrap();
    let limit = 9e-3 - loss * used - 0.8e-3;
    Joint {
        series: series(&seen, &[]),
        recent: Use { bins: bins[bins.len() - BINS..].to_vec(), open: false },
        since: used - last.used,
        left: last.value - limit,
        loss,
        truly_left: 0.8e-3,
    }
}

/// Days until the true wall meets the limit, use going on as it did.
fn truth(dice: &mut Dice, j: &Joint) -> f64 {
    let mut left = j.truly_left;
    let mut days = 0.0;
    loop {
        let gone = bin_of_use(dice) * j.loss;
        if gone >= left {
            return days + BIN_DAYS * left / gone;
        }
        left -= gone;
        days += BIN_DAYS;
    }
}

/// Shares of fleets' joints whose true date lies within, before and after the interval.
fn coverage(looks: usize, fleet: usize, error: f64) -> (f64, f64, f64) {
    let mut dice = Dice(20_261_125);
    let (mut all, mut before, mut after, mut silent) = (0.0, 0.0, 0.0, 0.0);
    for _ in 0..40 {
        let joints: Vec<Joint> = (0..fleet).map(|_| joint(&mut dice, looks, 4, error)).collect();
        let pool = pooled(joints.iter().map(|j| j.series.as_slice()));
        for j in &joints {
            let rate = of_joint(own(&j.series), pool).unwrap();
            let out = days_until_worn(j.left, j.since, &rate, &j.recent);
            // Readings that err more than they show wear give no date, and say so.
            let Outlook::Days { earliest, latest, .. } = out else {
                assert_eq!(out, Outlook::NoWear);
                silent += 1.0;
                continue;
            };
            let day = truth(&mut dice, j);
            all += 1.0;
            before += f64::from(u8::from(day < earliest));
            after += f64::from(u8::from(latest.is_some_and(|l| day > l)));
        }
    }
    assert!(silent < 0.05 * all, "{silent} of {all} without a date");
    (1.0 - (before + after) / all, before / all, after / all)
}

#[test]
fn dates_of_wear_hold_the_true_ones_as_often_as_they_say() {
    let mut wrong = Vec::new();
    for (looks, fleet) in [(2, 30), (3, 30), (4, 30), (6, 30), (4, 6)] {
        // A gauge that repeats to 0.02 mm, and one to 0.1 mm.
        for error in [2e-5, 1e-4] {
            let (within, before, after) = coverage(looks, fleet, error);
            println!(
                "{looks} looks, {fleet} joints, {error}: {within:.3} ({before:.3}, {after:.3})"
            );
            // A sample of 1,200 has a standard error of about 0.012.
            if within < CONFIDENCE - 0.035 || before > 0.135 || after > 0.135 {
                wrong.push((looks, fleet, error, within, before, after));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:?}");
}

#[test]
fn dates_of_counters_hold_the_true_ones_as_often_as_they_say() {
    let mut dice = Dice(7);
    let (mut all, mut within) = (0.0, 0.0);
    for _ in 0..2_000 {
        let recent = Use { bins: (0..BINS).map(|_| bin_of_use(&mut dice)).collect(), open: false };
        let remaining = 800.0 * 3_600.0;
        let Outlook::Days { earliest, latest, .. } = days_until(remaining, &recent, 0.0) else {
            panic!("no date")
        };
        let j = Joint {
            series: Vec::new(),
            recent,
            since: 0.0,
            left: 0.0,
            loss: 1.0,
            truly_left: remaining,
        };
        let day = truth(&mut dice, &j);
        all += 1.0;
        within += f64::from(u8::from(day >= earliest && latest.is_none_or(|l| day <= l)));
    }
    let share = within / all;
    assert!((CONFIDENCE - 0.035..=0.93).contains(&share), "{share}");
}
