//! What hangs below a joint, as a function of bit depth, tabulated once for a run.
//!
//! With Δwᵢ the steps of buoyed weight per metre at distances dᵢ from the bit, the tension at a
//! distance x is T(B) = F(B) − WOB − w·tvd(B − x), F(B) = Σ Δwᵢ·tvd(B − dᵢ) over the steps below x.
//! F is the same for all joints of one weight, whatever the segment, and smooth but for jumps of its
//! second derivative where a step passes from arc to arc.
//!
//! Damage hangs on the mean tension over a piece, so it is the integral G of F that is tabulated,
//! every [`STEP`] or, for a string of very many weights, a few times that, exact at the entries.
//! Between them G is the cubic through values and slopes, F its slope: a jump J of F'' between two
//! entries makes F miss by about J·STEP²/50, millinewtons for collars in a sharp hole, and the mean
//! over a piece by far less.
//!
//! Entries lie at multiples of the step, wherever the log starts, so that one segment alone meets
//! the same table as the whole log does.

use super::hole::{Cubic, Hole, slope, through, value};
use super::lanes::ROUNDER;
use super::walk::Turning;
use crate::mechanics::loads::rotating::WeightStep;
use crate::mechanics::path::Path;

/// Distance between entries, m; a power of two, so that depths of entries are exact.
const STEP: f64 = 0.25;
/// Steps of weight above which entries lie twice and four times as far apart: a table of 600 weights
/// and 3,000 m then takes 60 MB.
const MANY: [usize; 2] = [48, 192];

/// F for every step of weight.
#[derive(Debug, Clone)]
pub(super) struct Hangings {
    /// Bit depth of the first entry.
    start: f64,
    /// Distance between entries, m, and its inverse.
    step: (f64, f64),
    /// Bit depths between which the table may be asked.
    reach: (f64, f64),
    /// For each step of weight, G between entries.
    levels: Vec<Vec<Cubic>>,
    steps: Vec<WeightStep>,
    /// Largest jump of F'', N/m².
    jump: f64,
}

impl Hangings {
    /// Tabulates F between two bit depths for the first `levels` steps of weight.
    pub(super) fn new(
        hole: &Hole,
        steps: &[WeightStep],
        levels: usize,
        (shallow, deep): (f64, f64),
    ) -> Self {
        let wider = MANY.iter().filter(|many| steps.len() > **many).count();
        let width = STEP * [1.0, 2.0, 4.0][wider];
        let steps = &steps[..levels.min(steps.len())];
        // one entry to spare at either end, for depths that rounding moves past them; an even
        // number of steps, because a depth halfway between entries is rounded to even
        let start = 2.0 * width * ((shallow / (2.0 * width)).floor() - 1.0);
        let mut entries = 3;
        while start + width * (entries as f64 - 2.0) <= deep {
            entries += 1;
        }
        // G and F at every entry
        let mut sums = vec![(0.0, 0.0); entries];
        let mut tables = Vec::with_capacity(steps.len());
        let (mut weight_below, mut largest) = (0.0, 0.0_f64);
        for step in steps {
            let change = step.weight - weight_below;
            weight_below = step.weight;
            largest = largest.max(change.abs());
            let mut at = 0;
            for (entry, sum) in sums.iter_mut().enumerate() {
                let md = start + width * entry as f64 - step.distance;
                let (tvd, integral) = if md < 0.0 {
                    // above the table stands vertical pipe
                    (md, 0.5 * md * md)
                } else {
                    at = hole.find(md, at);
                    hole.depth(at, md - hole.starts[at].md)
                };
                sum.0 += change * integral;
                sum.1 += change * tvd;
            }
            tables.push(sums.windows(2).map(|pair| through(width, pair[0], pair[1])).collect());
        }
        let jump = largest * hole.largest_jump();
        Self {
            start,
            step: (width, width.recip()),
            reach: (shallow, deep),
            levels: tables,
            steps: steps.to_vec(),
            jump,
        }
    }

    /// Whether the table covers these bit depths.
    pub(super) fn covers(&self, low: f64, high: f64) -> bool {
        self.reach.0 <= low && high <= self.reach.1
    }

    /// How many steps of weight are tabulated.
    pub(super) fn levels(&self) -> usize {
        self.levels.len()
    }

    /// The step of weight that a distance from the bit belongs to.
    pub(super) fn level(&self, distance: f64) -> usize {
        self.steps.partition_point(|s| s.distance <= distance).saturating_sub(1)
    }

    /// The weight of a level, N/m.
    pub(super) fn weight(&self, level: usize) -> f64 {
        self.steps[level].weight
    }

    /// Bound of the change of tension per metre of bit depth at a distance from the bit, N/m: every step
    /// of weight below moves along some direction of the hole, and so does the place.
    pub(super) fn steepest(&self, distance: f64) -> f64 {
        let (mut below, mut sum) = (0.0, 0.0);
        for step in &self.steps[..=self.level(distance)] {
            sum += f64::abs(step.weight - below);
            below = step.weight;
        }
        sum + below.abs()
    }

    /// Largest jump of F'', N/m².
    pub(super) fn jump(&self) -> f64 {
        self.jump
    }

    /// F at a bit depth for what hangs below a distance from the bit, by the path itself.
    pub(super) fn by_path(&self, path: &Path, bit: f64, distance: f64) -> f64 {
        let mut below = 0.0;
        let steps = &self.steps[..=self.level(distance)];
        let term = |step: &WeightStep| {
            let change = step.weight - below;
            below = step.weight;
            change * path.tvd(bit - step.distance)
        };
        steps.iter().map(term).sum()
    }

    /// The table of a level.
    pub(super) fn table(&self, level: usize) -> &[Cubic] {
        &self.levels[level]
    }

    /// F and G of a level where the bit is deepest in each of these segments: the same for all joints of
    /// one weight.
    pub(super) fn deepest(&self, level: usize, segments: &[Turning]) -> Vec<(f64, f64)> {
        segments.iter().map(|segment| self.at(&self.levels[level], segment.high)).collect()
    }

    /// F and G at a bit depth of the run.
    #[inline]
    pub(super) fn at(&self, table: &[Cubic], bit: f64) -> (f64, f64) {
        let offset = bit - self.start;
        // the nearest integer to offset/step − ½ is in the low bits of the sum: entries are half
        // open but for rounding, and at an entry the cubics of both sides agree
        let shifted = (offset * self.step.1 - 0.5) + ROUNDER;
        let entry = shifted - ROUNDER;
        let index = (shifted.to_bits() & 0xFFFF_FFFF) as usize;
        let cubic = &table[index.min(table.len() - 1)];
        let s = offset - self.step.0 * entry;
        (slope(cubic, s), value(cubic, s))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mechanics::path::Station;
    use crate::mechanics::string::Bore;

    #[test]
    fn the_table_follows_the_sum() {
        let deg = Station::from_degrees;
        let path = Path::new(&[
            deg(0.0, 0.0, 0.0),
            deg(500.0, 0.0, 0.0),
            deg(530.0, 6.0, 0.0),
            deg(560.0, 3.0, 20.0),
            deg(900.0, 50.0, 20.0),
        ])
        .unwrap();
        let hole = Hole::new(&path, &Bore::default(), 900.0, 0.0, &[]);
        let steps = [
            WeightStep { distance: 0.0, weight: 1130.0 },
            WeightStep { distance: 170.0, weight: 610.0 },
            WeightStep { distance: 280.0, weight: 258.0 },
        ];
        let hangings = Hangings::new(&hole, &steps, 3, (520.0, 880.0));
        let exact = |bit: f64| {
            let changes = [1130.0, -520.0, -352.0];
            steps.iter().zip(changes).map(|(s, c)| c * path.tvd(bit - s.distance)).sum::<f64>()
        };
        let table = hangings.table(hangings.level(300.0));
        for edge in [520.0 - 1e-10, 520.0, 880.0, 880.0 + 1e-10] {
            assert!((hangings.at(table, edge).0 - exact(edge)).abs() < 0.01, "{edge}");
        }
        let mut integral = hangings.at(table, 520.0).1;
        for i in 0..3_600 {
            let bit = 520.0 + 0.1 * f64::from(i);
            let (force, _) = hangings.at(table, bit);
            assert!((force - exact(bit)).abs() < 0.01, "{bit}: {force}");
            let (_, next) = hangings.at(table, bit + 0.1);
            let simpson = 0.1 / 6.0 * (exact(bit) + 4.0 * exact(bit + 0.05) + exact(bit + 0.1));
            assert!((next - integral - simpson).abs() < 1e-3, "{bit}");
            integral = next;
        }
    }
}
