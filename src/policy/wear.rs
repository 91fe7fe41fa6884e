//! How fast a dimension wears: from successive readings against rotating hours.
//!
//! A series holds readings between which nothing but use changed the dimension: a repair that
//! changes it, a custody gap and a run of unknown hours each end one. A nominal dimension is no
//! reading. A joint with readings enough has a rate of its own; others take the rate that the joints
//! of their string have in common, with the spread between those joints as its interval.

use super::outlook::{BIN_DAYS, Outlook, Q80, Use, days_until};
use super::trend::{Series, fit, median, next_of};
use crate::condition::Works;
use crate::model::{End, ReadingKind, Work};

/// Confidence of intervals of rates and dates.
pub const CONFIDENCE: f64 = 0.8;

/// A dimension that wears.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Worn {
    /// Wall of the tube.
    Wall,
    /// Outside diameter of the pin tool joint.
    PinOd,
    /// Outside diameter of the box tool joint.
    BoxOd,
    /// Tong length of the pin.
    PinTong,
    /// Tong length of the box.
    BoxTong,
}

impl Worn {
    pub const ALL: [Self; 5] = [Self::Wall, Self::PinOd, Self::BoxOd, Self::PinTong, Self::BoxTong];

    /// What people call it.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Wall => "wall",
            Self::PinOd => "pin OD",
            Self::BoxOd => "box OD",
            Self::PinTong => "pin tong length",
            Self::BoxTong => "box tong length",
        }
    }

    const fn reading(self) -> ReadingKind {
        match self {
            Self::Wall => ReadingKind::Wall,
            Self::PinOd | Self::BoxOd => ReadingKind::JointOd,
            Self::PinTong | Self::BoxTong => ReadingKind::TongSpace,
        }
    }

    const fn end(self) -> Option<End> {
        match self {
            Self::Wall => None,
            Self::PinOd | Self::PinTong => Some(End::Pin),
            Self::BoxOd | Self::BoxTong => Some(End::Box),
        }
    }

    /// Whether a repair changes this dimension, so that readings before and after it do not compare.
    pub fn changed_by(self, work: Work, end: Option<End>, works: &Works) -> bool {
        let on = match (self.end(), end) {
            (Some(own), Some(end)) => own == end,
            // An end that nobody named may be this one.
            _ => true,
        };
        on && works.voids(work, self.reading())
    }
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    pub at: i64,
    /// Seconds of rotation until then.
    pub used: f64,
    pub value: f64,
}

/// Cuts readings, in order of time, into series at breaks (instants of repairs, of the ends of
/// gaps and of runs of unknown hours). A reading of the instant of a break comes before it.
pub fn series(looks: &[Look], breaks: &[i64]) -> Vec<Series> {
    let mut breaks = breaks.to_vec();
    breaks.sort_unstable();
    let part = |l: &Look| breaks.partition_point(|b| *b < l.at);
    looks
        .chunk_by(|a, b| part(a) == part(b))
        .map(|same| same.iter().map(|l| (l.used, l.value)).collect())
        .collect()
}

/// Loss for each second of rotation, metres; positive when metal goes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rate {
    pub loss: f64,
    /// Interval, where readings are enough for one.
    pub interval: Option<(f64, f64)>,
    /// Where it comes from.
    pub basis: Basis,
    pub readings: usize,
    /// Scatter of readings about their trend (standard deviation, metres), where known.
    pub scatter: Option<f64>,
}

/// What a rate rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Basis {
    /// The joint's own readings.
    Own,
    /// Readings of so many joints of its string.
    Pooled(usize),
}

/// The rate of one joint by its own readings. It has an interval when they are enough for one.
pub fn own(series: &[Series]) -> Option<Rate> {
    let t = fit(series, CONFIDENCE)?;
    Some(Rate {
        loss: -t.slope,
        interval: t.interval.map(|(lo, hi)| (-hi, -lo)),
        basis: Basis::Own,
        readings: t.readings,
        scatter: None,
    })
}

/// The rate that joints have in common; each joint gives its series. The interval is for one joint
/// of them, not for their mean.
pub fn pooled<'a>(joints: impl Iterator<Item = &'a [Series]>) -> Option<Rate> {
    let mut every: Vec<Series> = Vec::new();
    let mut each = Vec::new();
    let mut residuals = Vec::new();
    for series in joints {
        let Some(t) = fit(series, CONFIDENCE) else { continue };
        each.push(-t.slope);
        for s in series.iter().filter(|s| s.len() >= 2) {
            if s.len() >= 3 {
                residuals.extend(about(s, t.slope));
            }
            every.push(s.clone());
        }
    }
    let t = fit(&every, CONFIDENCE)?;
    Some(Rate {
        loss: -t.slope,
        basis: Basis::Pooled(each.len()),
        interval: next_of(each, CONFIDENCE),
        readings: t.readings,
        // The median of deviations of a normal sample, times this, is its standard deviation.
        scatter: (!residuals.is_empty()).then(|| 1.4826 * median(residuals)),
    })
}

/// Distances of readings from the trend through their middle, widened for what the trend took.
fn about(series: &Series, slope: f64) -> Vec<f64> {
    let level = median(series.iter().map(|(x, y)| y - slope * x).collect());
    let n = series.len() as f64;
    let widen = (n / (n - 2.0)).sqrt();
    series.iter().map(|(x, y)| (y - slope * x - level).abs() * widen).collect()
}

/// The rate to plan with: the joint's own where its readings give an interval, else the common one.
pub fn of_joint(own: Option<Rate>, pooled: Option<Rate>) -> Option<Rate> {
    match own {
        Some(o) if o.interval.is_some() => {
            Some(Rate { scatter: pooled.and_then(|p| p.scatter), ..o })
        }
        _ => pooled.or(own),
    }
}

/// Foresees when a dimension that read `left` above its limit, `since` seconds of rotation ago, will
/// meet it. Three uncertainties, each at four in five, are taken as independent: of use to come, of
/// the rate, and of the reading; the squares of their logarithms add.
pub fn days_until_worn(left: f64, since: f64, rate: &Rate, recent: &Use) -> Outlook {
    if recent.open {
        return Outlook::UseUnknown;
    }
    if rate.loss <= 0.0 {
        return Outlook::NoWear;
    }
    let mean = recent.mean();
    if recent.bins.is_empty() || mean <= 0.0 {
        return Outlook::Idle;
    }
    let days = |left: f64, loss: f64| ((left / loss - since) / mean).max(0.0) * BIN_DAYS;
    let likely = days(left, rate.loss);
    let by_use = match days_until(left / rate.loss - since, recent, 0.0) {
        Outlook::Days { earliest, latest, .. } => (earliest, latest),
        other => return other,
    };
    let slip = rate.scatter.unwrap_or(0.0) * Q80;
    let by_reading = (days((left - slip).max(0.0), rate.loss), days(left + slip, rate.loss));
    let Some((slow, fast)) = rate.interval else {
        // A rate without an interval gives a likely day and nothing around it.
        return Outlook::Days { earliest: 0.0, likely, latest: None };
    };
    // The time is a quotient of what is left, the rate and the use: their errors multiply.
    let apart = |days: [f64; 3]| {
        days.map(|d| if d > 0.0 { (d / likely).ln().powi(2) } else { f64::INFINITY })
            .iter()
            .sum::<f64>()
            .sqrt()
    };
    if likely <= 0.0 {
        let latest = [by_use.1, (slow > 0.0).then(|| days(left, slow)), Some(by_reading.1)]
            .into_iter()
            .try_fold(0.0, |most: f64, d| d.map(|d| most.max(d)));
        return Outlook::Days { earliest: 0.0, likely: 0.0, latest };
    }
    let early = [by_use.0, days(left, fast.max(rate.loss)), by_reading.0];
    let late = by_use.1.filter(|_| slow > 0.0);
    let late = late.map(|by_use| apart([by_use, days(left, slow.min(rate.loss)), by_reading.1]));
    Outlook::Days {
        earliest: likely * (-apart(early)).exp(),
        likely,
        latest: late.map(|apart| likely * apart.exp()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::policy::BINS;

    fn look(at: i64, used: f64, value: f64) -> Look {
        Look { at, used, value }
    }

    fn changed(worn: Worn, work: Work, end: Option<End>) -> bool {
        worn.changed_by(work, end, &crate::condition::Standards::shipped().works)
    }

    #[test]
    fn repairs_that_change_a_dimension_are_known_by_their_effects() {
        assert!(changed(Worn::Wall, Work::Grind, None));
        assert!(!changed(Worn::Wall, Work::Recut, Some(End::Pin)));
        assert!(changed(Worn::BoxOd, Work::BuildUp, Some(End::Box)));
        assert!(!changed(Worn::BoxOd, Work::BuildUp, Some(End::Pin)));
        assert!(changed(Worn::PinOd, Work::NewToolJoint, None), "an end that nobody named");
        assert!(changed(Worn::PinTong, Work::Recut, Some(End::Pin)));
        assert!(changed(Worn::BoxTong, Work::Reface, Some(End::Box)));
        assert!(!changed(Worn::PinOd, Work::Coat, None));
    }

    #[test]
    fn a_series_ends_where_metal_was_put_on() {
        let looks = [
            look(1, 0.0, 0.168),
            look(2, 100.0, 0.167),
            look(3, 200.0, 0.166),
            look(5, 300.0, 0.168),
            look(6, 400.0, 0.167),
        ];
        let cut = series(&looks, &[3]);
        assert_eq!(cut.iter().map(Vec::len).collect::<Vec<_>>(), [3, 2]);
        let rate = own(&cut).unwrap();
        assert!((rate.loss - 1e-5).abs() < 1e-15, "{rate:?}");
        // Across the repair the joint would seem to wear at half that.
        assert!(own(&series(&looks, &[])).unwrap().loss < 0.6e-5);
    }

    #[test]
    fn a_short_life_takes_the_rate_of_its_string() {
        let line =
            |n: u32, r: f64| vec![(0..n).map(|i| (f64::from(i), -r * f64::from(i))).collect()];
        let mates: Vec<Vec<Series>> = (1..=9).map(|i| line(3, f64::from(i))).collect();
        let pool = pooled(mates.iter().map(Vec::as_slice)).unwrap();
        assert!((pool.loss - 5.0).abs() < 1e-12);
        assert_eq!(pool.interval, Some((1.0, 9.0)), "one joint of them, not their mean");
        assert_eq!(pool.basis, Basis::Pooled(9));
        let short = own(&line(2, 3.0));
        assert_eq!(of_joint(short, Some(pool)).unwrap().basis, Basis::Pooled(9));
        let long = own(&line(5, 3.0));
        assert_eq!(of_joint(long, Some(pool)).unwrap().basis, Basis::Own);
        assert_eq!(of_joint(None, None), None);
    }

    fn steady() -> Use {
        Use { bins: vec![100.0; BINS], open: false }
    }

    fn rate(loss: f64, interval: Option<(f64, f64)>) -> Rate {
        Rate { loss, interval, basis: Basis::Own, readings: 5, scatter: None }
    }

    #[test]
    fn use_since_the_reading_counts() {
        let r = rate(0.01, Some((0.01, 0.01)));
        let Outlook::Days { likely, .. } = days_until_worn(3.0, 100.0, &r, &steady()) else {
            panic!("no date")
        };
        // 300 s to go from the reading, 100 s gone, 100 s a bin.
        assert!((likely - 2.0 * BIN_DAYS).abs() < 1e-9);
    }

    #[test]
    fn an_uncertain_rate_widens_the_dates() {
        let r = rate(0.01, Some((0.005, 0.02)));
        let out = days_until_worn(3.0, 0.0, &r, &steady());
        let Outlook::Days { earliest, likely, latest: Some(latest) } = out else {
            panic!("{out:?}")
        };
        assert!((earliest - 1.5 * BIN_DAYS).abs() < 1e-6, "{earliest}");
        assert!((likely - 3.0 * BIN_DAYS).abs() < 1e-9);
        assert!((latest - 6.0 * BIN_DAYS).abs() < 1e-6, "{latest}");
        // A rate that may be nought has no latest day; one without an interval has none either.
        let flat = days_until_worn(3.0, 0.0, &rate(0.01, Some((-0.01, 0.02))), &steady());
        assert!(matches!(flat, Outlook::Days { latest: None, .. }));
        let bare = days_until_worn(3.0, 0.0, &rate(0.01, None), &steady());
        assert!(matches!(bare, Outlook::Days { latest: None, earliest: 0.0, .. }));
    }

    #[test]
    fn what_is_not_known_is_said() {
        let r = rate(0.01, None);
        let open = Use { open: true, ..steady() };
        assert_eq!(days_until_worn(1.0, 0.0, &r, &open), Outlook::UseUnknown);
        let idle = Use { bins: vec![0.0; 12], open: false };
        assert_eq!(days_until_worn(1.0, 0.0, &r, &idle), Outlook::Idle);
        assert_eq!(days_until_worn(1.0, 0.0, &rate(-0.01, None), &steady()), Outlook::NoWear);
    }
}
