//! Columns of pieces, and the pass that gives each its damage per turn.
//!
//! A piece is an interval of bit depth on which the place keeps to one short arc. Along it, x from
//! 0 to 1, tension is taken as the cubic through its values and slopes at the ends, moved so that
//! its mean is right. The move matters where a weight step below passes from arc to arc within the
//! piece: tension then leaves the cubic by some newtons, smoothly enough for its mean to carry the
//! whole effect on damage.
#![expect(
    clippy::inline_always,
    reason = "a function compiled for wider vectors only passes that on to what is inlined into it"
)]

use super::lanes::{Column, Constants, Cycles, WIDTH, highest, lowest};
use super::quadrature::gauss_legendre;

/// A quadrature node on a piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Node {
    /// Where.
    pub x: f64,
    /// Its weight.
    pub weight: f64,
    /// Factors of t0, t1, p0 and p1 there.
    pub cubic: [f64; 4],
}

/// Nodes of a quadrature rule.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Rule {
    /// At least two, ascending.
    pub nodes: Vec<Node>,
    /// How far the ends lie beyond the outer nodes, in distances from first to last node.
    pub reach: f64,
}

/// Factors of value and slope at both ends for the cubic at `x`.
#[inline(always)]
pub(super) fn hermite(x: f64) -> [f64; 4] {
    let y = 1.0 - x;
    [y * y * (1.0 + 2.0 * x), x * x * (3.0 - 2.0 * x), x * y * y, -(x * x * y)]
}

impl Rule {
    /// Gauss–Legendre; one point counts as two.
    pub(super) fn new(points: usize) -> Self {
        let mut rule = gauss_legendre(points.max(2));
        rule.sort_by(|a, b| a.0.total_cmp(&b.0));
        let node = |(x, weight)| Node { x, weight, cubic: hermite(x) };
        let nodes: Vec<Node> = rule.into_iter().map(node).collect();
        let first = nodes.first().map_or(0.0, |n| n.x);
        let last = nodes.last().map_or(1.0, |n| n.x);
        Self { nodes, reach: first / (last - first) }
    }
}

/// One piece, ends in the order shallow, deep.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Piece {
    /// Tension, N.
    pub tension: (f64, f64),
    /// Its slope with depth, N/m.
    pub slope: (f64, f64),
    /// What the cubic misses of the mean tension, times length, N·m.
    pub missed: f64,
    /// Length, m.
    pub length: f64,
    /// Turns.
    pub turns: f64,
}

/// Pieces in columns.
#[derive(Debug, Clone)]
pub(super) struct Chunk {
    /// How many are filled.
    pub len: usize,
    /// Tension at the shallow end, N.
    pub t0: Column,
    /// Tension at the deep end, N.
    pub t1: Column,
    /// Slope of tension at the shallow end times length of the piece, N.
    pub p0: Column,
    /// Slope of tension at the deep end times length of the piece, N.
    pub p1: Column,
    /// What the cubic misses of the mean tension, times length, N·m.
    missed: Column,
    /// Length of the piece, m.
    length: Column,
    /// The move of the cubic, N.
    pub shift: Column,
    /// Curvature that bends, rad/m.
    pub bend: Column,
    /// Turns made in the piece.
    pub turns: Column,
    /// Damage per turn.
    pub rate: Column,
    /// Stress range at the first node, MPa.
    pub first: Column,
    /// Stress range at the last node, MPa.
    pub last: Column,
    /// Largest range without mean-stress correction at any node, MPa.
    pub top: Column,
    /// 1 where a piece needs care, else 0.
    pub odd: Column,
    /// What `top` can't exceed anywhere in the piece.
    pub bound: Column,
    range: Column,
}

impl Chunk {
    pub(super) fn new() -> Self {
        let zero = [0.0; WIDTH];
        Self {
            len: 0,
            t0: zero,
            t1: zero,
            p0: zero,
            p1: zero,
            missed: zero,
            length: zero,
            shift: zero,
            bend: zero,
            turns: zero,
            rate: zero,
            first: zero,
            last: zero,
            top: zero,
            odd: zero,
            bound: zero,
            range: zero,
        }
    }

    /// Adds a piece.
    #[inline]
    pub(super) fn push(&mut self, piece: &Piece, bend: f64) {
        let i = self.len;
        if i >= WIDTH {
            return;
        }
        self.t0[i] = piece.tension.0;
        self.t1[i] = piece.tension.1;
        self.p0[i] = piece.slope.0 * piece.length;
        self.p1[i] = piece.slope.1 * piece.length;
        self.missed[i] = piece.missed;
        self.length[i] = piece.length;
        self.bend[i] = bend;
        self.turns[i] = piece.turns;
        self.len = i + 1;
    }

    /// Whether there is no room left.
    #[inline]
    pub(super) fn is_full(&self) -> bool {
        self.len >= WIDTH
    }

    /// Tension at `x` of a piece.
    #[inline(always)]
    pub(super) fn tension(&self, i: usize, x: f64) -> f64 {
        let [a, b, c, d] = hermite(x);
        a * self.t0[i] + b * self.t1[i] + c * self.p0[i] + d * self.p1[i] + self.shift[i]
    }

    /// Fills the result columns.
    #[inline(always)]
    pub(super) fn evaluate<const END: bool>(
        &mut self,
        rule: &Rule,
        k: &Constants,
        cycles: &Cycles,
    ) {
        let n = self.len.min(WIDTH);
        let (t0, t1) = (&self.t0[..n], &self.t1[..n]);
        let (p0, p1) = (&self.p0[..n], &self.p1[..n]);
        let bend = &self.bend[..n];
        let (rate, range) = (&mut self.rate[..n], &mut self.range[..n]);
        let (first, last) = (&mut self.first[..n], &mut self.last[..n]);
        let top = &mut self.top[..n];
        let shift = &mut self.shift[..n];
        let (missed, length) = (&self.missed[..n], &self.length[..n]);
        for i in 0..n {
            // a piece without length misses nothing
            let h = if length[i] > 0.0 { length[i] } else { 1.0 };
            shift[i] = missed[i] / h;
        }
        rate.fill(0.0);
        top.fill(0.0);
        for (q, node) in rule.nodes.iter().enumerate() {
            let [a, b, c, d] = node.cubic;
            for i in 0..n {
                let t = a * t0[i] + b * t1[i] + c * p0[i] + d * p1[i] + shift[i];
                let (s, bending) = k.range::<END>(t, bend[i]);
                range[i] = s;
                top[i] = top[i].max(bending);
            }
            cycles.add(range, node.weight, rate);
            if q == 0 {
                first.copy_from_slice(range);
            }
            if q + 1 == rule.nodes.len() {
                last.copy_from_slice(range);
            }
        }
    }

    /// Marks pieces that need care and sums up the chunk. `slack` is how much the logarithm of the
    /// range can change per newton.
    #[inline(always)]
    pub(super) fn summary(&mut self, rule: &Rule, knee: f64, slack: f64) -> Summary {
        let n = self.len.min(WIDTH);
        let (t0, t1) = (&self.t0[..n], &self.t1[..n]);
        let (p0, p1) = (&self.p0[..n], &self.p1[..n]);
        let (first, last) = (&self.first[..n], &self.last[..n]);
        let (top, odd) = (&self.top[..n], &mut self.odd[..n]);
        let (bound, turns) = (&mut self.bound[..n], &mut self.range[..n]);
        let outer = 1.5 * rule.nodes.first().map_or(1.0, |q| q.x);
        for i in 0..n {
            let step = last[i] - first[i];
            let bend = (p0[i] - p1[i]).abs();
            let (a, b) = (first[i] - rule.reach * step, last[i] + rule.reach * step);
            let (low, high) = if a < b { (a, b) } else { (b, a) };
            // what the straight line between the nodes may miss: its bend and a turn of tension
            let pad = 0.1 * step.abs() + high * (slack * bend + 1e-9);
            let knee_near = (low - pad < knee) & (high + pad >= knee);
            let zero_inside = (t0[i] > 0.0) != (t1[i] > 0.0);
            odd[i] = if knee_near | zero_inside { 1.0 } else { 0.0 };
            let far = outer * (t1[i] - t0[i]).abs() + 0.25 * bend;
            bound[i] = top[i] * (1.0 + slack * far);
            turns[i] = p0[i] * p1[i];
        }
        Summary {
            odd: highest(odd) > 0.0,
            top: highest(top),
            bound: highest(bound),
            high: highest(t0).max(highest(t1)),
            low: lowest(t0).min(lowest(t1)),
            turning: lowest(turns) < 0.0,
        }
    }
}

/// What a chunk holds, in short.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Summary {
    /// Some piece needs care.
    pub odd: bool,
    /// Largest range without mean-stress correction at a node, MPa.
    pub top: f64,
    /// What it can't exceed anywhere.
    pub bound: f64,
    /// Largest tension at an end of a piece, N.
    pub high: f64,
    /// Smallest tension at an end of a piece, N.
    pub low: f64,
    /// Tension turns inside some piece.
    pub turning: bool,
}

/// Sum of the products of two columns, in eight lanes added pairwise at the end.
#[inline(always)]
pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
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
