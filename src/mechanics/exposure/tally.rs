//! What follows from the log and the geometry alone, in closed form: hours, turns, footage, casing,
//! depths.

use super::outcome::PartExposure;
use crate::mechanics::string::{RunCase, Segment};

/// The interval of measured depth that a place sweeps in a segment, shallow end first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Swept {
    pub low: f64,
    pub high: f64,
}

impl Swept {
    /// Of a place at a distance from the bit.
    pub(super) fn new(segment: &Segment, distance: f64) -> Self {
        let (low, high) = segment.reach();
        Self { low: low - distance, high: high - distance }
    }

    /// Share of the segment's time spent deeper than `depth`: the bit moves at constant speed.
    pub(super) fn share_below(&self, depth: f64) -> f64 {
        if self.low >= depth && self.high > depth {
            return 1.0;
        }
        if self.high <= depth {
            return 0.0;
        }
        (self.high - depth) / (self.high - self.low)
    }
}

/// Adds up these segments for a part whose pin shoulder and whose middle are at these distances from
/// the bit.
pub(super) fn tally(
    case: &RunCase,
    segments: &[Segment],
    (pin, middle): (f64, f64),
) -> PartExposure {
    let mut sum = PartExposure::default();
    for segment in segments {
        sum.turned = sum.turned || segment.turns() > 0.0 && segment.reach().1 > pin;
        let swept = Swept::new(segment, middle);
        let below = swept.share_below(0.0);
        if below <= 0.0 {
            continue;
        }
        sum.hours_below_table += segment.hours * below;
        if segment.activity.drills() {
            sum.footage += (segment.bit_to - segment.bit_from).max(0.0) * below;
        }
        let turns = segment.turns();
        if turns <= 0.0 {
            continue;
        }
        let top = swept.low.max(0.0);
        sum.shallowest = Some(sum.shallowest.map_or(top, |s| s.min(top)));
        sum.deepest = Some(sum.deepest.map_or(swept.high, |d| d.max(swept.high)));
        let open = swept.share_below(case.cased_to.max(case.riser_to)).min(below);
        let below_riser = swept.share_below(case.riser_to).min(below);
        sum.rotating_hours += segment.hours * below;
        sum.revolutions += turns * below;
        sum.hours_in_casing += segment.hours * (below - open);
        sum.hours_in_riser += segment.hours * (below - below_riser);
        sum.revolutions_open_hole += turns * open;
        sum.beyond_survey = sum.beyond_survey.max(swept.high - case.path.surveyed_to());
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_of_a_segment() {
        let swept = Swept { low: -10.0, high: 30.0 };
        assert!((swept.share_below(0.0) - 0.75).abs() < 1e-15);
        assert!((swept.share_below(40.0)).abs() < 1e-15);
        assert!((swept.share_below(-20.0) - 1.0).abs() < 1e-15);
        let still = Swept { low: 5.0, high: 5.0 };
        assert!((still.share_below(0.0) - 1.0).abs() < 1e-15);
        assert!((still.share_below(5.0)).abs() < 1e-15);
    }
}
