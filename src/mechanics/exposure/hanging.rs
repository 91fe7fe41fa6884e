//! What hangs below a joint, as a function of bit depth, tabulated once for a run.
//!
//! With Δwᵢ the steps of buoyed weight per metre at distances dᵢ from the bit, the tension at a
//! distance x is T(B) = F(B) − WOB − w·tvd(B − x), F(B) = Σ Δwᵢ·tvd(B − dᵢ) over the steps below x.
//! F is the same for all joints of one weight, whatever the segment; its second derivative jumps
//! where a step passes from arc to arc, so those bit depths are the knots of a piecewise cubic.
//! Steps beyond the [`KNOTTED`] largest are small and don't get knots of their own.

use super::hole::{Hole, cubic, through};
use crate::mechanics::loads::rotating::WeightStep;

/// How many steps of weight get knots.
const KNOTTED: usize = 6;

/// F for every step of weight.
#[derive(Debug, Clone)]
pub(super) struct Hangings {
    /// Bit depths between the cubics.
    knots: Vec<f64>,
    /// For each step of weight, the cubics between knots.
    levels: Vec<Vec<[f64; 4]>>,
    steps: Vec<WeightStep>,
}

impl Hangings {
    /// Tabulates F between two bit depths for the first `levels` steps of weight.
    pub(super) fn new(
        hole: &Hole,
        steps: &[WeightStep],
        levels: usize,
        (shallow, deep): (f64, f64),
    ) -> Self {
        let steps = &steps[..levels.min(steps.len())];
        let mut changes = Vec::with_capacity(steps.len());
        let mut before = 0.0;
        for step in steps {
            changes.push(step.weight - before);
            before = step.weight;
        }
        let knots = knots(hole, steps, &changes, (shallow, deep));
        let mut sums = vec![(0.0, 0.0); knots.len()];
        let mut tables = Vec::with_capacity(steps.len());
        for (step, change) in steps.iter().zip(&changes) {
            let mut at = 0;
            for (sum, knot) in sums.iter_mut().zip(&knots) {
                let md = knot - step.distance;
                // above the table stands vertical pipe
                let (tvd, cosine) = if md < 0.0 {
                    (md, 1.0)
                } else {
                    at = hole.find(md, at);
                    hole.short[at].tvd_at(md - hole.md[at])
                };
                sum.0 += change * tvd;
                sum.1 += change * cosine;
            }
            let pieces = knots.windows(2).zip(sums.windows(2));
            tables.push(pieces.map(|(k, s)| through(k[1] - k[0], s[0], s[1])).collect());
        }
        Self { knots, levels: tables, steps: steps.to_vec() }
    }

    /// The step of weight that a distance from the bit belongs to.
    pub(super) fn level(&self, distance: f64) -> usize {
        self.steps.partition_point(|s| s.distance <= distance).saturating_sub(1)
    }

    /// The weight of a level, N/m.
    pub(super) fn weight(&self, level: usize) -> f64 {
        self.steps[level].weight
    }

    /// F and its slope at a bit depth; `near` remembers the place.
    #[inline]
    pub(super) fn at(&self, level: &[[f64; 4]], bit: f64, near: &mut usize) -> (f64, f64) {
        let mut at = *near;
        while at + 1 < level.len() && self.knots[at + 1] <= bit {
            at += 1;
        }
        while at > 0 && self.knots[at] > bit {
            at -= 1;
        }
        *near = at;
        cubic(&level[at], bit - self.knots[at])
    }

    /// The cubics of a level.
    pub(super) fn table(&self, level: usize) -> &[[f64; 4]] {
        &self.levels[level]
    }
}

/// Bit depths where one of the larger steps passes from arc to arc.
fn knots(
    hole: &Hole,
    steps: &[WeightStep],
    changes: &[f64],
    (shallow, deep): (f64, f64),
) -> Vec<f64> {
    let mut by_size: Vec<usize> = (0..steps.len()).collect();
    by_size.sort_by(|a, b| changes[*b].abs().total_cmp(&changes[*a].abs()).then(a.cmp(b)));
    by_size.truncate(KNOTTED);
    // one above each end, so that no bit depth of the run lies on the last knot
    let mut knots = vec![shallow - 1.0, shallow, deep, deep + 1.0];
    for index in by_size {
        let distance = steps[index].distance;
        let inside = |k: &f64| *k > shallow && *k < deep;
        knots.extend(hole.md.iter().map(|md| md + distance).filter(inside));
    }
    knots.sort_by(f64::total_cmp);
    // knots closer than a micrometre are one: a cubic needs some length
    knots.dedup_by(|b, a| *b - *a < 1e-6);
    knots
}
