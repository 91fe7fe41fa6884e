//! What was left out of a log, and what was odd about it, in words.

use std::collections::BTreeMap;

/// Reasons for which a row, or a value of it, does not count.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Why {
    Short,
    NoTime,
    NoBit,
    NoRpm,
    Repeated,
    Backward,
    Outside,
    Spike,
    Fast,
    NoRate,
    RateSpike,
    Slow,
    Ceiling,
}

impl Why {
    const fn words(self) -> &'static str {
        match self {
            Self::Short => "have too few cells",
            Self::NoTime => "have no readable time or depth",
            Self::NoBit => "have no bit depth",
            Self::NoRpm => "have no rotary speed",
            Self::Repeated => "repeat the time or depth of the row before",
            Self::Backward => "go back in time",
            Self::Outside => "lie outside the run",
            Self::Spike => "have a bit depth that no pipe can have moved to",
            Self::Fast => "have a rotary speed above 500 rpm",
            Self::NoRate => "have no rate of penetration",
            Self::RateSpike => "have a rate of penetration above what drilling reaches",
            Self::Slow => "have a rate of penetration too low to be drilling",
            Self::Ceiling => "have a value stuck at the 16-bit ceiling, which is dropped",
        }
    }
}

#[derive(Clone, Debug, Default)]
pub(super) struct Counts {
    by: BTreeMap<Why, (u64, u64)>,
}

impl Counts {
    /// Counts a row; the first row of each reason is kept.
    pub(super) fn add(&mut self, why: Why, row: u64) {
        self.by.entry(why).or_insert((0, row)).0 += 1;
    }

    pub(super) fn of(&self, why: Why) -> u64 {
        self.by.get(&why).map_or(0, |c| c.0)
    }

    /// `12 rows repeat the time of the row before (first: row 7)`.
    pub(super) fn words(&self) -> Vec<String> {
        self.by
            .iter()
            .map(|(why, (n, first))| {
                let rows = if *n == 1 { "row" } else { "rows" };
                format!("{n} {rows} {} (first: row {first})", why.words())
            })
            .collect()
    }
}

/// Metres with three decimals at most.
pub(super) fn metres(mm: i64) -> String {
    let text = format!("{:.3}", mm as f64 / 1000.0);
    text.trim_end_matches('0').trim_end_matches('.').to_owned() + " m"
}

/// Hours with two decimals.
pub(super) fn hours(ms: i64) -> String {
    format!("{:.2} h", ms as f64 / 3.6e6)
}
