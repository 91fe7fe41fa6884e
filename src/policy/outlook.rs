//! When a value that grows with use will meet its limit, from the joint's own recent use.
//!
//! Recent use is cut into equal bins. Their mean gives the likely date; their scatter gives the
//! dates around it. Over `t` bins to come, the sum of use has the mean `m·t` and, bins taken as
//! independent, the variance `s²·t`, to which the uncertainty of the mean itself over `k` bins
//! seen adds `s²·t²/k` (prediction interval of a sum; any statistics handbook). The interval ends
//! where `m·t ± q·s·√(t + t²/k)` meets what remains.

/// Quantile of the normal distribution that leaves a tenth on each side.
pub(super) const Q80: f64 = 1.281_551_565_5;

/// Days in a bin.
pub const BIN_DAYS: f64 = 365.25 / 12.0;

/// Bins that are looked back on.
pub const BINS: usize = 12;

/// Recent use of a joint.
#[derive(Clone, Debug, PartialEq)]
pub struct Use {
    /// Use in each bin, oldest first; fewer than [`BINS`] where the joint is younger.
    pub bins: Vec<f64>,
    /// Some of it is not known, so that use was at least this.
    pub open: bool,
}

/// When a limit will be met.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Outlook {
    /// Between these days from now; four times in five, if use goes on as it did.
    Days {
        earliest: f64,
        likely: f64,
        /// Latest; `None` when the scatter of use leaves it open.
        latest: Option<f64>,
    },
    /// It was not used of late.
    Idle,
    /// Its recent use is not known.
    UseUnknown,
    /// How fast use moves the value is not known.
    RateUnknown,
    /// Readings show no wear.
    NoWear,
}

impl Use {
    /// Mean of a bin.
    pub fn mean(&self) -> f64 {
        self.bins.iter().sum::<f64>() / self.bins.len().max(1) as f64
    }

    /// Standard deviation of a bin; with one bin, as large as the mean.
    fn scatter(&self) -> f64 {
        let n = self.bins.len() as f64;
        let mean = self.mean();
        if self.bins.len() < 2 {
            return mean;
        }
        let squares: f64 = self.bins.iter().map(|x| (x - mean).powi(2)).sum();
        (squares / (n - 1.0)).sqrt()
    }
}

/// Foresees when `remaining` will be used up. `relative` is the relative standard error of the
/// rate at which use moves the value (zero for counters, which move with use itself).
pub fn days_until(remaining: f64, recent: &Use, relative: f64) -> Outlook {
    if recent.open {
        return Outlook::UseUnknown;
    }
    let mean = recent.mean();
    if recent.bins.is_empty() || mean <= 0.0 {
        return Outlook::Idle;
    }
    if remaining <= 0.0 {
        return Outlook::Days { earliest: 0.0, likely: 0.0, latest: Some(0.0) };
    }
    let (s, k) = (recent.scatter(), recent.bins.len() as f64);
    let likely = remaining / mean;
    let spread = |t: f64| Q80 * (s * s * (t + t * t / k) + (mean * t * relative).powi(2)).sqrt();
    let earliest = root(|t| mean * t + spread(t) - remaining, likely);
    // Past a hundred times the likely time nobody plans.
    let latest = root_above(|t| mean * t - spread(t) - remaining, likely, 100.0 * likely);
    Outlook::Days {
        earliest: earliest * BIN_DAYS,
        likely: likely * BIN_DAYS,
        latest: latest.map(|t| t * BIN_DAYS),
    }
}

/// Root of a growing function between nought and a point where it is not negative.
fn root(f: impl Fn(f64) -> f64, above: f64) -> f64 {
    let (mut lo, mut hi) = (0.0, above);
    for _ in 0..60 {
        let mid = 0.5 * (lo + hi);
        if f(mid) < 0.0 { lo = mid } else { hi = mid }
    }
    hi
}

/// First root at or above a point where the function is not positive, if there is one below `end`.
fn root_above(f: impl Fn(f64) -> f64, from: f64, end: f64) -> Option<f64> {
    let (mut lo, mut hi) = (from, from);
    while f(hi) < 0.0 {
        lo = hi;
        hi *= 1.25;
        if hi > end {
            return None;
        }
    }
    for _ in 0..60 {
        let mid = 0.5 * (lo + hi);
        if f(mid) < 0.0 { lo = mid } else { hi = mid }
    }
    Some(hi)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn steady(x: f64) -> Use {
        Use { bins: vec![x; BINS], open: false }
    }

    #[test]
    fn steady_use_gives_one_date() {
        let Outlook::Days { earliest, likely, latest } = days_until(100.0, &steady(50.0), 0.0)
        else {
            panic!("no date")
        };
        assert!((likely - 2.0 * BIN_DAYS).abs() < 1e-9);
        assert!((earliest - likely).abs() < 1e-6 && (latest.unwrap() - likely).abs() < 1e-6);
    }

    #[test]
    fn scatter_widens_and_uncertain_rates_widen_more() {
        let restless = Use { bins: [0.0, 100.0].repeat(6), open: false };
        let width = |r: f64| match days_until(200.0, &restless, r) {
            Outlook::Days { earliest, latest: Some(latest), likely } => {
                assert!(earliest < likely && likely < latest);
                latest - earliest
            }
            other => panic!("{other:?}"),
        };
        assert!(width(0.3) > width(0.0));
    }

    #[test]
    fn idle_and_unknown_use_say_so() {
        assert_eq!(days_until(1.0, &steady(0.0), 0.0), Outlook::Idle);
        let open = Use { open: true, ..steady(1.0) };
        assert_eq!(days_until(1.0, &open, 0.0), Outlook::UseUnknown);
        let wild = Use { bins: vec![0.0, 0.0, 0.0, 90.0], open: false };
        assert!(matches!(days_until(500.0, &wild, 0.0), Outlook::Days { latest: None, .. }));
    }
}
