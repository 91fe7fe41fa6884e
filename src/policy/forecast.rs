//! Chances of dates ahead, and of counts over many joints.

use super::outlook::{Outlook, Q80};
use super::trend::normal;

/// Chance that a limit is met by a day from now, where the outlook gives dates: half by the likely
/// day, a tenth before the earliest, a tenth after the latest, and lognormal between. An outlook
/// without a latest day stays at one half after the likely one.
pub fn chance_by(outlook: &Outlook, day: f64) -> Option<f64> {
    let Outlook::Days { earliest, likely, latest } = *outlook else { return None };
    if day < likely {
        // Without an earliest day the chance grows evenly from none now.
        return Some(if earliest <= 0.0 {
            0.5 * (day / likely).max(0.0)
        } else if earliest >= likely || day <= 0.0 {
            0.0
        } else {
            normal(-Q80 * (likely / day).ln() / (likely / earliest).ln())
        });
    }
    Some(match latest {
        Some(latest) if latest <= likely => 1.0,
        // Likely now: from then on evenly to the latest.
        Some(latest) if likely <= 0.0 => (0.5 + 0.4 * day / latest).min(1.0),
        Some(latest) => normal(Q80 * (day / likely).ln() / (latest / likely).ln()),
        None => 0.5,
    })
}

/// A count that is expected, with the interval into which it falls four times in five.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Expected {
    pub mean: f64,
    pub least: f64,
    pub most: f64,
}

/// Adds up chances of single joints, taken as independent: the count has their sum as its mean and
/// the sum of `p(1 - p)` as its variance.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Count {
    mean: f64,
    variance: f64,
    joints: usize,
}

impl Count {
    pub fn add(&mut self, chance: f64) {
        self.mean += chance;
        self.variance += chance * (1.0 - chance);
        self.joints += 1;
    }

    pub fn expected(&self) -> Expected {
        let width = Q80 * self.variance.sqrt();
        Expected {
            mean: self.mean,
            least: (self.mean - width).max(0.0),
            most: (self.mean + width).min(self.joints as f64),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_interval_of_an_outlook_is_four_in_five() {
        let o = Outlook::Days { earliest: 10.0, likely: 20.0, latest: Some(50.0) };
        for (day, chance) in [(10.0, 0.1), (20.0, 0.5), (50.0, 0.9)] {
            assert!((chance_by(&o, day).unwrap() - chance).abs() < 1e-9, "{day}");
        }
        let open = Outlook::Days { earliest: 10.0, likely: 20.0, latest: None };
        assert_eq!(chance_by(&open, 1e6), Some(0.5));
        let sure = Outlook::Days { earliest: 20.0, likely: 20.0, latest: Some(20.0) };
        assert_eq!((chance_by(&sure, 19.9), chance_by(&sure, 20.0)), (Some(0.0), Some(1.0)));
        assert_eq!(chance_by(&Outlook::Idle, 5.0), None);
    }

    #[test]
    fn counts_spread_as_independent_joints_do() {
        let mut c = Count::default();
        (0..100).for_each(|_| c.add(0.5));
        let e = c.expected();
        assert!((e.mean - 50.0).abs() < 1e-9 && (e.most - e.mean - Q80 * 5.0).abs() < 1e-9);
        let mut sure = Count::default();
        sure.add(1.0);
        assert_eq!(sure.expected(), Expected { mean: 1.0, least: 1.0, most: 1.0 });
    }
}
