//! Columns of pieces, and the pass that gives each its damage per turn.
//!
//! A piece is an interval of bit depth on which the place keeps to one short arc. Along it, x from
//! 0 to 1, tension is taken as the parabola with the right values at the ends and the right mean.
//! What it misses has no mean: a cubic term of a newton at most, and, where a weight step below
//! passes from arc to arc within the piece, some newtons that come and go. Damage feels the mean of
//! tension over the piece to first order, and such ripples only times themselves or times the
//! change of damage along the piece: a billionth, but for the few pieces that are cut for it.
#![expect(
    clippy::inline_always,
    reason = "a function compiled for wider vectors only passes that on to what is inlined into it"
)]

use super::lanes::{Column, Constants, Cycles, WIDTH, highest, lowest};
use super::quadrature::gauss_legendre;

/// A quadrature node on a piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Node {
    pub x: f64,
    pub weight: f64,
    /// Factors of both ends' values and of the mean there.
    pub parabola: [f64; 3],
}

impl Node {
    /// Tension here, from that at the ends and the mean.
    #[inline(always)]
    pub(super) fn tension(&self, t0: f64, t1: f64, mean: f64) -> f64 {
        let [a, b, c] = self.parabola;
        a * t0 + b * t1 + c * mean
    }
}

/// Nodes of a quadrature rule.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Rule {
    /// At least two, ascending.
    pub nodes: Vec<Node>,
    /// How far the ends lie beyond the outer nodes, in distances from first to last node.
    pub reach: f64,
}

/// Rules of rising order.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Rules([Rule; 4]);

/// Largest change of u = TL²/EI along a piece for which a rule is used; above the last, the last
/// rule. Two points are good to a relative 3.4e-4·Δu⁴ where slope 5 meets no tension, their worst
/// place; each further point gains more than these steps ask for.
const STEEP: [f64; 3] = [0.1, 0.8, 2.5];

impl Rules {
    pub(super) fn new(points: usize) -> Self {
        Self([0, 1, 2, 4].map(|more| Rule::new(points.max(2) + more)))
    }

    /// The rule for side forces, whose root needs two points more.
    pub(super) fn for_forces(&self) -> &Rule {
        &self.0[2]
    }

    /// The rule for a chunk with this largest change of u along a piece, `more` points finer.
    pub(super) fn of(&self, change: f64, more: usize) -> &Rule {
        let index = STEEP.iter().filter(|limit| change > **limit).count() + more;
        &self.0[index.min(self.0.len() - 1)]
    }

    /// The finest.
    pub(super) fn finest(&self) -> &Rule {
        &self.0[self.0.len() - 1]
    }
}

/// Factors of both ends' values and of the mean for the parabola at `x`.
#[inline(always)]
pub(super) fn parabola(x: f64) -> [f64; 3] {
    let y = 1.0 - x;
    [y * (1.0 - 3.0 * x), x * (3.0 * x - 2.0), 6.0 * x * y]
}

impl Rule {
    /// Gauss–Legendre; one point counts as two.
    pub(super) fn new(points: usize) -> Self {
        let mut rule = gauss_legendre(points.max(2));
        rule.sort_by(|a, b| a.0.total_cmp(&b.0));
        let node = |(x, weight)| Node { x, weight, parabola: parabola(x) };
        let nodes: Vec<Node> = rule.into_iter().map(node).collect();
        let first = nodes.first().map_or(0.0, |n| n.x);
        let last = nodes.last().map_or(1.0, |n| n.x);
        Self { nodes, reach: first / (last - first) }
    }
}

/// One piece, ends in the order shallow, deep.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Piece {
    pub tension: (f64, f64),
    /// Integral of tension over the piece, N·m.
    pub integral: f64,
    /// Measured depth of the shallow end, m.
    pub from: f64,
    pub length: f64,
    /// Weight on bit, N.
    pub wob: f64,
    /// Curvature that bends, rad/m.
    pub bend: f64,
    /// Diameter of the hole, m; 0 where it is not known.
    pub hole: f64,
    pub turns: f64,
    pub hours: f64,
}

impl Piece {
    /// How far tension may go inside the piece beyond its ends, N, as [`Chunk::beyond`] has it.
    pub(super) fn beyond(&self, jump: f64) -> f64 {
        if self.length <= 0.0 {
            return 0.0;
        }
        let mean = self.integral / self.length;
        let bow = 12.0 * (mean - 0.5 * (self.tension.0 + self.tension.1));
        let bow = if self.length > SHORT { bow.abs() } else { 0.0 };
        0.125 * jump * self.length * self.length + bow
    }
}

/// Pieces shorter than this (m) take the mean of their ends: their integral is a difference of
/// large numbers.
pub(super) const SHORT: f64 = 1e-3;

#[derive(Debug, Clone)]
pub(super) struct Chunk {
    /// How many are filled.
    pub len: usize,
    /// Tension at the shallow end, N.
    pub t0: Column,
    /// Tension at the deep end, N.
    pub t1: Column,
    pub mean: Column,
    /// Integral of tension, N·m.
    integral: Column,
    /// Measured depth of the shallow end, m.
    pub from: Column,
    /// Length of the piece, m.
    pub length: Column,
    /// Weight on bit, N.
    pub wob: Column,
    /// Curvature that bends, rad/m.
    pub bend: Column,
    /// Diameter of the hole, m; 0 where it is not known.
    pub hole: Column,
    /// Turns made in the piece.
    pub turns: Column,
    /// Hours that it took.
    pub hours: Column,
    pub rate: Column,
    /// Stress range at the first node, MPa.
    pub first: Column,
    /// Stress range at the last node, MPa.
    pub last: Column,
    /// Largest range without mean-stress correction at any node, MPa.
    pub top: Column,
    /// Above 0 where a piece needs care.
    pub odd: Column,
    /// Above 1 where the tube may touch a wall, or is compressed nearly to where its span buckles.
    pub touch: Column,
    /// What `top` can't exceed anywhere in the piece.
    pub bound: Column,
    sure: Column,
    range: Column,
}

impl Chunk {
    pub(super) fn new() -> Self {
        let zero = [0.0; WIDTH];
        Self {
            len: 0,
            t0: zero,
            t1: zero,
            mean: zero,
            integral: zero,
            from: zero,
            length: zero,
            wob: zero,
            bend: zero,
            hole: zero,
            turns: zero,
            hours: zero,
            rate: zero,
            first: zero,
            last: zero,
            top: zero,
            odd: zero,
            touch: zero,
            bound: zero,
            sure: zero,
            range: zero,
        }
    }

    #[inline]
    pub(super) fn push(&mut self, piece: &Piece) {
        let i = self.len;
        if i >= WIDTH {
            return;
        }
        self.t0[i] = piece.tension.0;
        self.t1[i] = piece.tension.1;
        self.integral[i] = piece.integral;
        self.from[i] = piece.from;
        self.length[i] = piece.length;
        self.wob[i] = piece.wob;
        self.bend[i] = piece.bend;
        self.hole[i] = piece.hole;
        self.turns[i] = piece.turns;
        self.hours[i] = piece.hours;
        self.len = i + 1;
    }

    /// Smallest tension at an end of a piece, and the largest difference between the ends of one, N;
    /// 0 and 0 of an empty chunk.
    #[inline(always)]
    fn spread(&self) -> (f64, f64) {
        let n = self.len.min(WIDTH);
        let (t0, t1) = (&self.t0[..n], &self.t1[..n]);
        if n == 0 {
            return (0.0, 0.0);
        }
        let mut steepest = [0.0; 8];
        let (a, rest_a) = t0.as_chunks::<8>();
        let (b, rest_b) = t1.as_chunks::<8>();
        for (x, y) in a.iter().zip(b) {
            for i in 0..8 {
                let rise = (x[i] - y[i]).abs();
                steepest[i] = if rise > steepest[i] { rise } else { steepest[i] };
            }
        }
        let rest = rest_a.iter().zip(rest_b).map(|(x, y)| (x - y).abs());
        (lowest(t0).min(lowest(t1)), rest.chain(steepest).fold(0.0, f64::max))
    }

    /// How far tension may go inside a piece beyond its ends, N: by the bow of its parabola, and by a
    /// jump of its second derivative.
    pub(super) fn beyond(&self, i: usize, jump: f64) -> f64 {
        let bow = 12.0 * (self.mean[i] - 0.5 * (self.t0[i] + self.t1[i]));
        0.125 * jump * self.length[i] * self.length[i] + bow.abs()
    }

    /// Whether there is no room left.
    #[inline]
    pub(super) fn is_full(&self) -> bool {
        self.len >= WIDTH
    }

    /// Tension at `x` of a piece, by its parabola.
    #[cfg(test)]
    pub(super) fn tension(&self, i: usize, x: f64) -> f64 {
        let [a, b, c] = parabola(x);
        a * self.t0[i] + b * self.t1[i] + c * self.mean[i]
    }

    /// Fills the result columns.
    #[inline(always)]
    pub(super) fn evaluate<const END: bool, const EITHER: bool>(
        &mut self,
        rule: &Rule,
        k: &Constants,
        cycles: &Cycles,
    ) {
        let n = self.len.min(WIDTH);
        let (t0, t1) = (&self.t0[..n], &self.t1[..n]);
        let mean = &mut self.mean[..n];
        let (integral, length) = (&self.integral[..n], &self.length[..n]);
        for i in 0..n {
            let h = if length[i] > SHORT { length[i] } else { 1.0 };
            let exact = integral[i] / h;
            let ends = 0.5 * (t0[i] + t1[i]);
            mean[i] = if length[i] > SHORT { exact } else { ends };
        }
        let (bend, mean) = (&self.bend[..n], &self.mean[..n]);
        let rate = &mut self.rate[..n];
        let (first, last) = (&mut self.first[..n], &mut self.last[..n]);
        let top = &mut self.top[..n];
        if let [p, q] = &rule.nodes[..] {
            // the usual rule, both points side by side
            for i in 0..n {
                let (t_p, t_q) =
                    (p.tension(t0[i], t1[i], mean[i]), q.tension(t0[i], t1[i], mean[i]));
                let (range_p, bending_p) = k.range::<END, EITHER>(t_p, bend[i]);
                let (range_q, bending_q) = k.range::<END, EITHER>(t_q, bend[i]);
                first[i] = range_p;
                last[i] = range_q;
                top[i] = bending_p.max(bending_q);
            }
            cycles.rate(first, rate, |_, damage| p.weight * damage);
            cycles.rate(last, rate, |rate, damage| rate + q.weight * damage);
            return;
        }
        rate.fill(0.0);
        top.fill(0.0);
        let range = &mut self.range[..n];
        for (index, node) in rule.nodes.iter().enumerate() {
            for i in 0..n {
                let t = node.tension(t0[i], t1[i], mean[i]);
                let (s, bending) = k.range::<END, EITHER>(t, bend[i]);
                range[i] = s;
                top[i] = top[i].max(bending);
            }
            cycles.rate(range, rate, |rate, damage| rate + node.weight * damage);
            if index == 0 {
                first.copy_from_slice(range);
            }
            if index + 1 == rule.nodes.len() {
                last.copy_from_slice(range);
            }
        }
    }

    /// Marks pieces that need care and sums up the chunk. `slack` is how much the logarithm of the
    /// range can change per newton, `jump` how much the second derivative of tension can (N/m²).
    #[inline(always)]
    pub(super) fn summary<const END: bool, const EITHER: bool>(
        &mut self,
        rule: &Rule,
        k: &Constants,
        (knee, slack, jump): (f64, f64, f64),
    ) -> Summary {
        let n = self.len.min(WIDTH);
        let (t0, t1) = (&self.t0[..n], &self.t1[..n]);
        let (mean, length) = (&self.mean[..n], &self.length[..n]);
        let (first, last) = (&self.first[..n], &self.last[..n]);
        let (top, odd) = (&self.top[..n], &mut self.odd[..n]);
        let (bends, touch) = (&self.bend[..n], &mut self.touch[..n]);
        let (bound, turns) = (&mut self.bound[..n], &mut self.range[..n]);
        let sure = &mut self.sure[..n];
        let outer = 1.05 * rule.nodes.first().map_or(1.0, |q| q.x);
        for i in 0..n {
            let step = last[i] - first[i];
            let rise = t1[i] - t0[i];
            // twelve times how far the parabola leaves its chord on average
            let bow = 12.0 * (mean[i] - 0.5 * (t0[i] + t1[i]));
            let bend = bow.abs();
            let (a, b) = (first[i] - rule.reach * step, last[i] + rule.reach * step);
            let (low, high) = if a < b { (a, b) } else { (b, a) };
            // what the straight line between the nodes may miss: its bend and a turn of tension
            let pad = 0.1 * step.abs() + high * (slack * bend + 1e-9);
            let below = if low - pad < knee { 1.0 } else { 0.0 };
            let above = if high + pad >= knee { 1.0 } else { 0.0 };
            let zero_inside = if (t0[i] > 0.0) == (t1[i] > 0.0) { 0.0 } else { 1.0 };
            let flat = jump * (length[i] * length[i]);
            let wavy = if waviness(slack, flat, rise) > WAVY { 1.0 } else { 0.0 };
            // between what tensions the piece lies
            let beyond = 0.25 * bend + 0.125 * flat;
            let (least, most) = if rise > 0.0 { (t0[i], t1[i]) } else { (t1[i], t0[i]) };
            let (least, most) = (least - beyond, most + beyond);
            let near = k.touch(least, most, bends[i]);
            let mut care = if near > 1.0 { 1.0 } else { 0.0 };
            if EITHER {
                let (v, w) = (least * k.slenderness, most * k.slenderness);
                let steep = if v < STEEPEST { 1.0 } else { 0.0 };
                let quarter = if END && v < QUARTER_WAVE && w > QUARTER_WAVE { 1.0 } else { 0.0 };
                touch[i] = if steep > 0.0 { 2.0 } else { near };
                care += steep + quarter;
                // in either place the free tube bends most at an extreme of tension; one that
                // touches bends no more than the free one does anywhere along it, or than the hole
                let (a, b) = if END {
                    let a = k.range::<true, true>(least, bends[i]).1;
                    let b = k.range::<true, true>(most, bends[i]).1;
                    (a, b)
                } else {
                    let a = k.range::<false, true>(least, bends[i]).1;
                    let b = k.range::<false, true>(most, bends[i]).1;
                    (a, b)
                };
                let free = if a > b { a } else { b };
                let pressed = k.range::<false, true>(least, bends[i]).1;
                let pressed = if pressed > free { pressed } else { free };
                let touching = if steep > 0.0 { f64::INFINITY } else { pressed };
                let touching = hole_or(k, bends[i], touching);
                bound[i] = if touch[i] > 1.0 { touching } else { free * (1.0 + 1e-9) };
                sure[i] = if touch[i] > 1.0 { 0.0 } else { 0.9 * top[i] };
            } else {
                touch[i] = near;
                let far = outer * rise.abs() + 0.25 * bend;
                let free = top[i] * (1.0 + slack * (far + 0.125 * flat));
                bound[i] = if near > 1.0 { hole_or(k, bends[i], free) } else { free };
                // a node's tension is that of the parabola, off by a ripple
                let reached = top[i] * (1.0 - slack * (0.025 * flat));
                sure[i] = if near > 1.0 { 0.0 } else { reached };
            }
            odd[i] = zero_inside + below * above + wavy + care;
            // slopes at the ends are rise ± bow/2
            turns[i] = rise.abs() - 0.5 * bend - flat;
        }
        Summary {
            odd: highest(odd) > 0.0,
            sure: highest(sure),
            bound: highest(bound),
            high: highest(t0).max(highest(t1)),
            low: lowest(t0).min(lowest(t1)),
            turning: lowest(turns) < 0.0,
        }
    }
}

/// Range without mean-stress correction of a tube that bends as the hole does, or another one that
/// is larger.
#[inline(always)]
fn hole_or(k: &Constants, curvature: f64, other: f64) -> f64 {
    let hole = k.scale * curvature;
    if hole > other { hole } else { other }
}

/// v = FL²/EI in compression at which the ends stop bending, kL = π/2, and start to bend the other way.
pub(super) const QUARTER_WAVE: f64 = -0.25 * core::f64::consts::PI * core::f64::consts::PI;
/// v in compression beyond which a piece is looked at closely: a span of kL = π buckles, and bending
/// rises without end before it does.
const STEEPEST: f64 = -8.5;

/// Ripple of ln(stress range) that a piece may hide times its rise along the piece; `flat` is as in
/// [`Chunk::summary`].
#[inline(always)]
pub(super) fn waviness(slack: f64, flat: f64, rise: f64) -> f64 {
    slack * slack * (0.025 * flat * rise.abs())
}

/// Waviness above which a piece is cut: damage misses about half of it.
pub(super) const WAVY: f64 = 1.5e-6;

/// What a chunk holds, in short.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Summary {
    /// Some piece needs care.
    pub odd: bool,
    /// Largest range without mean-stress correction, MPa: at least this.
    pub sure: f64,
    /// What it can't exceed anywhere.
    pub bound: f64,
    /// Largest tension at an end of a piece, N.
    pub high: f64,
    /// Smallest tension at an end of a piece, N.
    pub low: f64,
    /// Tension may turn inside some piece.
    pub turning: bool,
}

/// [`Chunk::spread`] for the widest vectors at hand.
pub(super) struct Spread<'a>(pub &'a Chunk);

impl pulp::NullaryFnOnce for Spread<'_> {
    type Output = (f64, f64);

    #[inline(always)]
    fn call(self) -> (f64, f64) {
        self.0.spread()
    }
}

/// [`dot`] for the widest vectors at hand.
pub(super) struct Dot<'a>(pub &'a [f64], pub &'a [f64]);

impl pulp::NullaryFnOnce for Dot<'_> {
    type Output = f64;

    #[inline(always)]
    fn call(self) -> f64 {
        dot(self.0, self.1)
    }
}

/// Sum of the products of two columns, in eight lanes added pairwise at the end.
#[inline(always)]
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let mut lanes = [0.0; 8];
    let (whole_a, rest_a) = a.as_chunks::<8>();
    let (whole_b, rest_b) = b.as_chunks::<8>();
    for (x, y) in whole_a.iter().zip(whole_b) {
        for i in 0..8 {
            lanes[i] += x[i] * y[i];
        }
    }
    for (i, (x, y)) in rest_a.iter().zip(rest_b).enumerate() {
        lanes[i] += x * y;
    }
    ((lanes[0] + lanes[4]) + (lanes[1] + lanes[5]))
        + ((lanes[2] + lanes[6]) + (lanes[3] + lanes[7]))
}
