//! The trend behind wear rates against published tables and an independent library.

use pipelore::policy::trend::{discordant, fit};

use crate::check_values::{Misses, table};

/// Chance that Kendall's S is at or above a value, for one series.
fn at_or_above(n: usize, s: i64) -> f64 {
    let pairs = i64::try_from(n * (n - 1) / 2).unwrap();
    // S is the pairs less twice the discordant ones.
    discordant(&[n])
        .iter()
        .zip(0i64..)
        .filter(|(_, discordant)| pairs - 2 * discordant >= s)
        .map(|(p, _)| p)
        .sum()
}

#[test]
fn kendall_critical_values_agree_with_tables() {
    let mut misses = Misses::default();
    for row in table("kendall_critical.csv") {
        let (n, s) = (row.text("n").parse().unwrap(), row.text("s").parse().unwrap());
        let tail = row.given("tail");
        let here = at_or_above(n, s);
        // Tables print a value that S may not take; it then stands for the next that it can.
        let before = at_or_above(n, s - 2);
        let what = format!("n = {n}, S = {s}, tail {tail}: {before:.4} before, {here:.4} at");
        misses.holds(&what, here <= tail && before > tail);
    }
    misses.none("critical values of Kendall's S");
}

#[test]
fn slopes_and_exact_tails_agree_with_an_independent_library() {
    let mut misses = Misses::default();
    for row in table("theil_sen.csv") {
        let points: Vec<(f64, f64)> = row
            .text("points")
            .split(' ')
            .map(|p| {
                p.split_once(':').map(|(x, y)| (x.parse().unwrap(), y.parse().unwrap())).unwrap()
            })
            .collect();
        let n = points.len();
        let slope = fit(&[points], 0.8).unwrap().slope;
        let wanted = row.given("slope");
        misses.relative(&format!("slope of {n}"), slope, wanted, 1e-12);
        if let (Some(tail), Ok(s)) = (row.number("tail_of_s"), row.text("s").parse::<i64>()) {
            // The library's tail is that of S at or below; S is symmetric.
            let ours = at_or_above(n, -s);
            misses.relative(&format!("tail of {n}"), ours, tail, 1e-9);
        }
    }
    misses.none("slopes and tails");
}
