//! What a joint went through, added up: each sum a lower bound, and whether it is exact.

use crate::model::{Histogram, Stated};
use crate::units::Measure;

use super::rows::{JointRunRow, RunPartRow};

/// A sum that is exact, or a lower bound.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Sum {
    /// What is certain.
    pub lo: i64,
    /// True when more may have happened.
    pub open: bool,
}

impl Sum {
    /// The upper bound; `None` when there is none.
    pub const fn hi(self) -> Option<i64> {
        if self.open { None } else { Some(self.lo) }
    }

    fn add(&mut self, value: Option<i64>) {
        match value {
            Some(v) => self.lo = self.lo.saturating_add(v),
            None => self.open = true,
        }
    }

    fn raise(&mut self, value: Option<i64>) {
        match value {
            Some(v) => self.lo = self.lo.max(v),
            None => self.open = true,
        }
    }

    /// A value stated from before the book.
    pub fn stated(stated: Option<&Stated>, measure: Measure) -> Self {
        match stated {
            Some(Stated::Known(q)) => {
                q.stored(measure).map_or(Self { lo: 0, open: true }, |lo| Self { lo, open: false })
            }
            Some(Stated::Estimated(q)) => Self { lo: q.stored(measure).unwrap_or(0), open: true },
            None => Self { lo: 0, open: true },
        }
    }
}

/// Everything that accumulates.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Totals {
    /// Rotating hours, ms.
    pub hours: Sum,
    /// Turns, thousandths.
    pub revolutions: Sum,
    /// Hole drilled while in it, nm.
    pub footage: Sum,
    /// Damage at each of the three places.
    pub damage: [Sum; 3],
    /// Make-ups of the pin in its generation.
    pub pin_makeups: Sum,
    /// Make-ups of the box in its generation.
    pub box_makeups: Sum,
    /// Sharpest bend turned in.
    pub max_dogleg: Sum,
    /// Largest tension while rotating.
    pub max_tension: Sum,
    /// Rotating hours inside casing.
    pub cased_hours: Sum,
    /// Turns in open hole.
    pub open_turns: Sum,
    /// Side-force work on the tool joint.
    pub side_work: Sum,
    /// Turns above the no-fatigue dogleg.
    pub over_limit: Sum,
    /// Turns and hours by dogleg.
    pub histogram: Histogram,
}

/// What one run, or a part of one, adds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Share {
    /// Rotating hours.
    pub hours: Option<i64>,
    /// Turns.
    pub revolutions: Option<i64>,
    /// Hole drilled.
    pub footage: Option<i64>,
    /// Damage at the three places of *now*, wherever those were in the run.
    pub damage: [Option<i64>; 3],
    /// Sharpest bend.
    pub max_dogleg: Option<i64>,
    /// Largest tension.
    pub max_tension: Option<i64>,
    /// Hours in casing.
    pub cased_hours: Option<i64>,
    /// Turns in open hole.
    pub open_turns: Option<i64>,
    /// Side-force work.
    pub side_work: Option<i64>,
    /// Turns above the limit.
    pub over_limit: Option<i64>,
    /// By dogleg.
    pub histogram: Histogram,
}

impl Totals {
    /// Marks every sum as a lower bound: something may have happened that nobody wrote down.
    pub fn open_all(&mut self) {
        for sum in [
            &mut self.hours,
            &mut self.revolutions,
            &mut self.footage,
            &mut self.pin_makeups,
            &mut self.box_makeups,
            &mut self.max_dogleg,
            &mut self.max_tension,
            &mut self.cased_hours,
            &mut self.open_turns,
            &mut self.side_work,
            &mut self.over_limit,
        ]
        .into_iter()
        .chain(&mut self.damage)
        {
            sum.open = true;
        }
    }

    /// Adds a share. One that is only estimated adds to what is certain nothing that is exact.
    pub fn add(&mut self, share: &Share, exact: bool) {
        self.hours.add(share.hours);
        self.revolutions.add(share.revolutions);
        self.footage.add(share.footage);
        for (sum, value) in self.damage.iter_mut().zip(share.damage) {
            sum.add(value);
        }
        self.max_dogleg.raise(share.max_dogleg);
        self.max_tension.raise(share.max_tension);
        self.cased_hours.add(share.cased_hours);
        self.open_turns.add(share.open_turns);
        self.side_work.add(share.side_work);
        self.over_limit.add(share.over_limit);
        self.histogram.add(&share.histogram);
        if !exact {
            let makeups = (self.pin_makeups, self.box_makeups);
            self.open_all();
            (self.pin_makeups, self.box_makeups) = makeups;
        }
    }

    /// Damage of the joint: the worst place that is left of it.
    pub fn worst_damage(&self) -> Sum {
        Sum {
            lo: self.damage.iter().map(|d| d.lo).max().unwrap_or(0),
            open: self.damage.iter().any(|d| d.open),
        }
    }
}

/// Distances of the three places from the datum (the pin shoulder that the joint entered with), nm.
pub type Places = [i64; 3];

/// Places of a joint of a length whose pin end has lost `removed`.
pub fn places(length: i64, removed: i64, pin_offset: i64, box_offset: i64) -> Places {
    [removed + pin_offset, removed + length / 2, removed + length - box_offset]
}

/// Damage at the places of now of a run whose places stood elsewhere on the body.
///
/// Between two places of the run the damage is taken as linear, beyond the outer ones as theirs:
/// the curvature of a pulled joint in a bend falls off convexly from the tool joint, so a straight
/// line between places never claims less than was there.
pub fn damage_at(now: &Places, then: &Places, damage: [Option<i64>; 3]) -> [Option<i64>; 3] {
    if now == then {
        return damage;
    }
    let [Some(a), Some(b), Some(c)] = damage else { return [None; 3] };
    now.map(|x| {
        Some(if x <= then[0] {
            a
        } else if x <= then[1] {
            between(x, then[0], then[1], a, b)
        } else if x <= then[2] {
            between(x, then[1], then[2], b, c)
        } else {
            c
        })
    })
}

fn between(x: i64, x0: i64, x1: i64, y0: i64, y1: i64) -> i64 {
    if x1 <= x0 {
        return y0.max(y1);
    }
    let part = i128::from(y1 - y0) * i128::from(x - x0);
    let step = part.div_euclid(i128::from(x1 - x0));
    i64::try_from(i128::from(y0) + step).unwrap_or(i64::MAX)
}

impl Share {
    /// What a whole run adds.
    pub fn of_run(run: &JointRunRow, now: &Places, then: &Places) -> Self {
        let damage = [run.damage_pin, run.damage_middle, run.damage_box];
        Self {
            hours: run.hours,
            revolutions: run.revolutions,
            footage: run.footage,
            damage: damage_at(now, then, damage),
            max_dogleg: run.max_dogleg,
            max_tension: run.max_tension,
            cased_hours: run.cased_hours,
            open_turns: run.open_turns,
            side_work: run.side_work,
            over_limit: run.over_limit,
            histogram: Histogram::decode(&run.histogram).unwrap_or_default(),
        }
    }

    /// What the part of a run before a cut adds.
    pub fn of_part(part: &RunPartRow, now: &Places, then: &Places) -> Self {
        let damage = [part.damage_pin, part.damage_middle, part.damage_box];
        Self {
            hours: part.hours,
            revolutions: part.revolutions,
            footage: part.footage,
            damage: damage_at(now, then, damage),
            max_dogleg: part.max_dogleg,
            max_tension: part.max_tension,
            cased_hours: part.cased_hours,
            open_turns: part.open_turns,
            side_work: part.side_work,
            over_limit: part.over_limit,
            histogram: Histogram::decode(&part.histogram).unwrap_or_default(),
        }
    }

    /// What is left of this share after `earlier`, a part of it; maxima are given, for they cannot
    /// be subtracted.
    #[must_use]
    pub fn after(&self, earlier: &Self, max_dogleg: Option<i64>, max_tension: Option<i64>) -> Self {
        let less = |a: Option<i64>, b: Option<i64>| Some(a? - b?);
        let mut histogram = self.histogram.clone();
        histogram.subtract(&earlier.histogram);
        let mut damage = [None; 3];
        for (i, d) in damage.iter_mut().enumerate() {
            *d = less(self.damage[i], earlier.damage[i]);
        }
        Self {
            hours: less(self.hours, earlier.hours),
            revolutions: less(self.revolutions, earlier.revolutions),
            footage: less(self.footage, earlier.footage),
            damage,
            max_dogleg,
            max_tension,
            cased_hours: less(self.cased_hours, earlier.cased_hours),
            open_turns: less(self.open_turns, earlier.open_turns),
            side_work: less(self.side_work, earlier.side_work),
            over_limit: less(self.over_limit, earlier.over_limit),
            histogram,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cut_back_takes_its_metal_away() {
        let then = places(9_500_000_000, 0, 600_000_000, 900_000_000);
        let damage = [Some(100), Some(20), Some(60)];
        assert_eq!(damage_at(&then, &then, damage), damage);
        // One metre off the pin end: the new pin place stood between the old one and the middle.
        let now = places(8_500_000_000, 1_000_000_000, 600_000_000, 900_000_000);
        assert_eq!(now[0], 1_600_000_000);
        let moved = damage_at(&now, &then, damage);
        assert_eq!(moved[0], Some(100 - 80 * 1_000 / 4_150 - 1));
        assert_eq!(moved[2], Some(60));
        assert_eq!(damage_at(&now, &then, [Some(1), None, Some(1)]), [None; 3]);
    }

    #[test]
    fn unknown_values_make_a_sum_a_lower_bound() {
        let mut sum = Sum::default();
        sum.add(Some(5));
        assert_eq!(sum.hi(), Some(5));
        sum.add(None);
        assert_eq!((sum.lo, sum.hi()), (5, None));
    }
}
