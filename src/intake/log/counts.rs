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
    /// A part of the log that came before tells that time or depth.
    Told,
    /// The header of the log, again.
    Header,
    Outside,
    Spike,
    Fast,
    NoRate,
    RateSpike,
    Slow,
    Ceiling,
}

impl Why {
    /// Whether what the rig did then is not in the figures: no other row speaks for it.
    const fn loses(self) -> bool {
        match self {
            Self::Short
            | Self::NoTime
            | Self::NoBit
            | Self::NoRpm
            | Self::Spike
            | Self::Fast
            | Self::NoRate
            | Self::RateSpike
            | Self::Slow => true,
            Self::Repeated
            | Self::Backward
            | Self::Told
            | Self::Header
            | Self::Outside
            | Self::Ceiling => false,
        }
    }

    const fn words(self) -> &'static str {
        match self {
            Self::Short => "have too few cells",
            Self::NoTime => "have no readable time or depth",
            Self::NoBit => "have no bit depth",
            Self::NoRpm => "have no rotary speed",
            Self::Repeated => "repeat the time or depth of the row before",
            Self::Backward => "go back in time",
            Self::Told => "tell what a part before told already",
            Self::Header => "are the header again",
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

    /// Whether rows were lost.
    pub(super) fn lose(&self) -> bool {
        self.by.keys().any(|why| why.loses())
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
pub(in crate::intake) fn metres(mm: i64) -> String {
    let text = format!("{:.3}", mm as f64 / 1000.0);
    text.trim_end_matches('0').trim_end_matches('.').to_owned() + " m"
}

/// Hours with two decimals.
pub(super) fn hours(ms: i64) -> String {
    format!("{:.2} h", ms as f64 / 3.6e6)
}
