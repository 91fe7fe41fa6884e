//! Recent use of each joint, in bins, as the outlook takes it.

use std::collections::{BTreeMap, BTreeSet};

use crate::policy::{BIN_DAYS, BINS, Driver, Outlook, Use, days_until};
use crate::projection::rows::JointRow;
use crate::report::ReportError;
use crate::store::{Book, RecentRun};
use crate::units::Measure;

use super::super::question::Present;

const DAY_MS: f64 = 86_400_000.0;

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
}

impl Recent {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "the span is a few months of milliseconds, the bins are few"
    )]
    pub(super) fn read(book: &Book, present: &Present) -> Result<Self, ReportError> {
        let now = present.now.0;
        let span = BINS as f64 * BIN_DAYS * DAY_MS;
        let since = now - span as i64;
        let mut used: BTreeMap<i64, Used> = BTreeMap::new();
        book.recent_runs(since, |run| add(used.entry(run.joint).or_default(), &run, since))?;
        let gaps = book.gaps_since(since)?.into_iter().collect();
        let mut young = BTreeMap::new();
        for joint in book.rows::<JointRow>("WHERE entered > ?1", &[&since])? {
            let bins = (now - joint.entered) as f64 / (BIN_DAYS * DAY_MS);
            young.insert(joint.joint, (bins.ceil() as usize).clamp(1, BINS));
        }
        Ok(Self { used, gaps, young })
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

    /// What each rotating hour moves a value by.
    pub(super) fn for_each_hour(&self, joint: i64, driver: Driver) -> Option<f64> {
        let hours: f64 = self.of(joint, Driver::Hours).filter(|u| !u.open)?.bins.iter().sum();
        if hours <= 0.0 {
            return None;
        }
        let moved: f64 = self.of(joint, driver).filter(|u| !u.open)?.bins.iter().sum();
        // Hours stand in seconds.
        Some(moved / (hours / 3600.0))
    }
}

/// Spreads a run over the bins that it lay in.
fn add(used: &mut Used, run: &RecentRun, since: i64) {
    let figures = [run.hours, run.revolutions, run.footage, run.damage, run.over_limit];
    let bin = BIN_DAYS * DAY_MS;
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

/// When a joint will have used up what is left.
pub(super) fn outlook(recent: &Recent, joint: i64, driver: Driver, left: f64) -> Outlook {
    match driver {
        // A value in days falls due by itself.
        Driver::Time => {
            let days = left / 86_400.0;
            Outlook::Days { earliest: days, likely: days, latest: Some(days) }
        }
        Driver::WallWear | Driver::PinWear | Driver::BoxWear => Outlook::RateUnknown,
        _ => match recent.of(joint, driver) {
            None => Outlook::UseUnknown,
            Some(recent) => days_until(left, &recent, 0.0),
        },
    }
}
