//! Recent use of each joint, in bins, as the outlook takes it.

use crate::model::DAY_MS;
use std::collections::{BTreeMap, BTreeSet};

use crate::policy::wear::{Worn, days_until_worn};
use crate::policy::{BIN_DAYS, BINS, Driver, Outlook, Use, days_until};
use crate::report::ReportError;
use crate::schema::{JointRow, Rows};
use crate::store::{Book, RecentRun};
use crate::units::Measure;

use super::super::question::Present;
use super::super::wear::Wear;

/// Uses that are counted, in this order.
const COUNTED: [(Driver, Measure); 5] = [
    (Driver::Hours, Measure::Hours),
    (Driver::Revolutions, Measure::Turns),
    (Driver::Footage, Measure::Depth),
    (Driver::Damage, Measure::Damage),
    (Driver::OverLimit, Measure::Turns),
];

/// What was used of a joint.
#[derive(Clone, Debug, Default)]
struct Used {
    bins: [[f64; BINS]; COUNTED.len()],
    open: [bool; COUNTED.len()],
}

/// Recent use of all joints.
pub(super) struct Recent {
    used: BTreeMap<i64, Used>,
    gaps: BTreeSet<i64>,
    /// Bins that each joint has been in the book, where fewer than all.
    young: BTreeMap<i64, usize>,
    /// Wear rates, where a rule asks for them.
    wear: Wear,
}

/// The dimension that a driver wears.
pub(super) const fn worn(driver: Driver) -> Option<Worn> {
    match driver {
        Driver::WallWear => Some(Worn::Wall),
        Driver::PinWear => Some(Worn::PinOd),
        Driver::BoxWear => Some(Worn::BoxOd),
        _ => None,
    }
}

impl Recent {
    /// Reads recent use of all joints, or of one, and wear rates where `wear` says that they are
    /// wanted.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "the span is a few months of milliseconds, the bins are few"
    )]
    pub(super) fn read(
        book: &Book,
        only: Option<&JointRow>,
        present: &Present,
        wear: bool,
    ) -> Result<Self, ReportError> {
        let now = present.now.0;
        let span = BINS as f64 * BIN_DAYS * DAY_MS as f64;
        let since = now - span as i64;
        let mut used: BTreeMap<i64, Used> = BTreeMap::new();
        let one = only.map(|joint| joint.joint);
        book.recent_runs(since, one, |run| add(used.entry(run.joint).or_default(), &run, since))?;
        let gaps = book.gaps_since(since)?.into_iter().collect();
        let mut young = BTreeMap::new();
        let joints: Vec<JointRow> = match only {
            Some(joint) => vec![joint.clone()],
            None if wear => book.rows(&Rows::all())?,
            None => book.rows(&Rows::all().above(JointRow::entered(), since))?,
        };
        for joint in joints.iter().filter(|j| j.entered > since) {
            let bins = (now - joint.entered) as f64 / (BIN_DAYS * DAY_MS as f64);
            young.insert(joint.joint, (bins.ceil() as usize).clamp(1, BINS));
        }
        let wear = match only {
            _ if !wear => Wear::default(),
            Some(joint) => Wear::beside(book, joint, now)?,
            None => Wear::read(book, &joints, now)?,
        };
        Ok(Self { used, gaps, young, wear })
    }

    fn of(&self, joint: i64, driver: Driver) -> Option<Use> {
        let at = COUNTED.iter().position(|(d, _)| *d == driver)?;
        let bins = self.young.get(&joint).copied().unwrap_or(BINS);
        let gap = self.gaps.contains(&joint);
        Some(match self.used.get(&joint) {
            None => Use { bins: vec![0.0; bins], open: gap },
            Some(u) => Use { bins: u.bins[at][BINS - bins..].to_vec(), open: gap || u.open[at] },
        })
    }

    /// Rotating hours of the joint until what is left is used up.
    pub(super) fn hours_until(
        &self,
        joint: i64,
        driver: Driver,
        left: f64,
        value: CountedIn,
    ) -> Option<f64> {
        if let Some(worn) = worn(driver) {
            let rate = self.wear.rate(worn, joint).filter(|r| r.loss > 0.0)?;
            let metres = self.metres(joint, value)?;
            return Some((left * metres / rate.loss - self.wear.since(worn, joint)?) / 3_600.0);
        }
        let sum = |driver| {
            let known = self.of(joint, driver).filter(|u: &Use| !u.open)?;
            Some(known.bins.iter().sum::<f64>()).filter(|s| *s > 0.0)
        };
        // Hours stand in seconds.
        Some(left * sum(Driver::Hours)? / sum(driver)? / 3_600.0)
    }
}

/// Spreads a run over the bins that it lay in.
fn add(used: &mut Used, run: &RecentRun, since: i64) {
    let figures = [run.hours, run.revolutions, run.footage, run.damage, run.over_limit];
    let bin = BIN_DAYS * DAY_MS as f64;
    let from = (run.start - since) as f64 / bin;
    let to = ((run.finish - since) as f64 / bin).max(from + 1e-9);
    for (at, (figure, (_, measure))) in figures.iter().zip(COUNTED).enumerate() {
        let Some(quanta) = figure else {
            used.open[at] = true;
            continue;
        };
        let whole = measure.base_f64(*quanta);
        for (b, slot) in used.bins[at].iter_mut().enumerate() {
            let part = (to.min(b as f64 + 1.0) - from.max(b as f64)).max(0.0) / (to - from);
            *slot += whole * part;
        }
    }
}

/// In what the value of a rule is counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum CountedIn {
    /// In its own base unit.
    Plain,
    /// As a part of the nominal wall.
    OfWall,
}

impl Recent {
    /// Metres in one of a value that wears.
    fn metres(&self, joint: i64, value: CountedIn) -> Option<f64> {
        match value {
            CountedIn::Plain => Some(1.0),
            CountedIn::OfWall => self.wear.nominal_wall(joint),
        }
    }

    /// When a joint will have used up what is left.
    pub(super) fn outlook(
        &self,
        joint: i64,
        driver: Driver,
        left: f64,
        value: CountedIn,
    ) -> Outlook {
        if driver == Driver::Time {
            // A value in days falls due by itself.
            let days = left / 86_400.0;
            return Outlook::Days { earliest: days, likely: days, latest: Some(days) };
        }
        if let Some(worn) = worn(driver) {
            let (Some(rate), Some(metres)) =
                (self.wear.rate(worn, joint), self.metres(joint, value))
            else {
                return Outlook::RateUnknown;
            };
            let (Some(since), Some(hours)) =
                (self.wear.since(worn, joint), self.of(joint, Driver::Hours))
            else {
                return Outlook::UseUnknown;
            };
            return days_until_worn(left * metres, since, &rate, &hours);
        }
        self.of(joint, driver).map_or(Outlook::UseUnknown, |u| days_until(left, &u, 0.0))
    }
}
