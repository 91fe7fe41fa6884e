//! Finding places on a piece: where tension passes zero, where the stress passes the knee of the
//! S–N curve, where an extreme lies inside.

use super::chunk::Chunk;

/// Places on a piece where a function passes zero, ascending, from its values at the ends and in
/// the middle. At most two.
pub(super) fn crossings(f: impl Fn(f64) -> f64) -> ([f64; 2], usize) {
    let mut found = ([0.0; 2], 0);
    let mut left = (0.0, f(0.0));
    for x in [0.5, 1.0] {
        let right = (x, f(x));
        if (left.1 > 0.0) != (right.1 > 0.0) {
            found.0[found.1] = root(&f, left, right);
            found.1 += 1;
        }
        left = right;
    }
    found
}

/// How near a root must be found, as a share of a piece.
const NEAR: f64 = 1e-10;

/// Root between two points of opposite sign: regula falsi with the Illinois halving.
fn root(f: &impl Fn(f64) -> f64, left: (f64, f64), right: (f64, f64)) -> f64 {
    let (mut a, mut fa) = left;
    let (mut b, mut fb) = right;
    for _ in 0..60 {
        if (b - a).abs() < NEAR {
            break;
        }
        let c = b - fb * (b - a) / (fb - fa);
        let fc = f(c);
        if fc == 0.0 {
            return c;
        }
        if (fc > 0.0) == (fb > 0.0) {
            fa *= 0.5;
        } else {
            (a, fa) = (b, fb);
        }
        if (c - b).abs() < NEAR {
            b = c;
            break;
        }
        (b, fb) = (c, fc);
    }
    b
}

/// Ends of the smooth parts of a piece, ascending.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cuts {
    at: [f64; 32],
    count: usize,
}

impl Cuts {
    /// A piece in this many equal parts.
    pub(super) fn equal(parts: u32) -> Self {
        let mut cuts = Self { at: [0.0; 32], count: 0 };
        for part in 0..=parts {
            cuts.push(f64::from(part) / f64::from(parts));
        }
        cuts
    }

    fn push(&mut self, x: f64) {
        if self.count < self.at.len() {
            self.at[self.count] = x;
            self.count += 1;
        }
    }

    /// Cuts each part where a function passes zero, as far as three points of it show that.
    pub(super) fn refine(&mut self, f: impl Fn(f64) -> f64) {
        let whole = *self;
        self.count = 1;
        for (from, to) in whole.parts() {
            let (at, count) = crossings(|x| f(from + (to - from) * x));
            for x in &at[..count] {
                self.push(from + (to - from) * x);
            }
            self.push(to);
        }
    }

    /// The parts, from one cut to the next.
    pub(super) fn parts(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.at[..self.count].windows(2).map(|pair| (pair[0], pair[1]))
    }
}

/// Whether tension may turn inside a piece: the parabola's slopes at the ends, rise ± bow/2, differ in
/// sign, or lie so near zero that a jump of the second derivative below `flat` (N, the jump times
/// h²) may turn one of them.
fn may_turn(chunk: &Chunk, i: usize, flat: f64) -> bool {
    let rise = chunk.t1[i] - chunk.t0[i];
    let bow = 12.0 * (chunk.mean[i] - 0.5 * (chunk.t0[i] + chunk.t1[i]));
    rise.abs() - 0.5 * bow.abs() < flat
}

/// Where on a piece tension is smallest and largest, and its values there: by its exact tension where
/// it may turn inside.
pub(super) fn extremes(
    chunk: &Chunk,
    i: usize,
    jump: f64,
    exact: impl Fn(f64) -> f64,
) -> [(f64, f64); 2] {
    let (a, b) = (chunk.t0[i], chunk.t1[i]);
    let length = chunk.length[i];
    if length <= 0.0 || !may_turn(chunk, i, jump * length * length) {
        return if a < b { [(0.0, a), (1.0, b)] } else { [(1.0, b), (0.0, a)] };
    }
    let values = samples(&exact, (a, b));
    let (x, least) = largest(|x| -exact(x), values.map(|t| -t));
    [(x, -least), largest(exact, values)]
}

/// Largest value of a function inside a piece, from its values at the ends.
pub(super) fn peak(f: impl Fn(f64) -> f64, ends: (f64, f64)) -> f64 {
    let values = samples(&f, ends);
    largest(f, values).1
}

/// Into how many parts a piece is cut to look for a turn.
const PARTS: usize = 8;

/// A function at the ends of all parts.
fn samples(f: &impl Fn(f64) -> f64, (a, b): (f64, f64)) -> [f64; PARTS + 1] {
    core::array::from_fn(|k| match k {
        0 => a,
        PARTS => b,
        _ => f(k as f64 / PARTS as f64),
    })
}

/// Where a function with these samples is largest, and its value there: between the neighbours of the highest, unless it
/// falls off on both sides as rounding does, or from an end too steeply for a turn beside it.
fn largest(f: impl Fn(f64) -> f64, values: [f64; PARTS + 1]) -> (f64, f64) {
    let mut best = 0;
    for (k, value) in values.iter().enumerate() {
        if *value > values[best] {
            best = k;
        }
    }
    let at = |k: usize| k as f64 / PARTS as f64;
    let top = values[best];
    let (left, right) = (best.saturating_sub(1), (best + 1).min(PARTS));
    let middle = best.clamp(1, PARTS - 1);
    let bow = (values[middle - 1] - 2.0 * values[middle] + values[middle + 1]).abs();
    let fall = (top - values[left]).max(top - values[right]);
    if bow <= FLAT * top.abs() || (middle != best && fall >= bow) {
        return (at(best), top);
    }
    let inside = highest(f, (at(left), at(right)));
    if inside.1 > top { inside } else { (at(best), top) }
}

/// A bow of three samples below this share of their value is rounding.
const FLAT: f64 = 1e-10;

/// Where a function with one peak on an interval is largest, and its value there: golden section, to
/// six millionths of the interval.
pub(super) fn highest(f: impl Fn(f64) -> f64, (from, to): (f64, f64)) -> (f64, f64) {
    const SHARE: f64 = 0.618_033_988_749_894_9;
    let (mut low, mut high) = (from, to);
    let at = |low: f64, high: f64| low + SHARE * (high - low);
    let (mut left, mut right) = (at(high, low), at(low, high));
    let (mut f_left, mut f_right) = (f(left), f(right));
    for _ in 0..25 {
        if f_left > f_right {
            (high, right, f_right) = (right, left, f_left);
            left = at(high, low);
            f_left = f(left);
        } else {
            (low, left, f_left) = (left, right, f_right);
            right = at(low, high);
            f_right = f(right);
        }
    }
    if f_left > f_right { (left, f_left) } else { (right, f_right) }
}

/// Share of a piece on which a function that is smooth between these cuts is above zero. What `f`
/// misses is made good where it passes zero, by a step with its slope and the `exact` function.
pub(super) fn share_above(cuts: &Cuts, f: impl Fn(f64) -> f64, exact: impl Fn(f64) -> f64) -> f64 {
    let mut share = 0.0;
    for (from, to) in cuts.parts() {
        let (at, count) = crossings(|x| f(from + (to - from) * x));
        let mut begin = from;
        for x in &at[..count] {
            let root = from + (to - from) * x;
            let beside = 1e-5 * (to - from);
            let (before, after) = ((root - beside).max(from), (root + beside).min(to));
            let slope = (f(after) - f(before)) / (after - before);
            let step = exact(root) / slope;
            let end = if step.abs() < to - from { (root - step).clamp(begin, to) } else { root };
            if f(0.5 * (begin + end)) > 0.0 {
                share += end - begin;
            }
            begin = end;
        }
        if f(0.5 * (begin + to)) > 0.0 {
            share += to - begin;
        }
    }
    share
}

#[cfg(test)]
mod tests {
    use super::super::chunk::Piece;
    use super::*;

    #[test]
    fn roots_are_found() {
        let (at, count) = crossings(|x| (x - 0.2) * (x - 0.7));
        assert_eq!(count, 2);
        assert!((at[0] - 0.2).abs() < 1e-12 && (at[1] - 0.7).abs() < 1e-12);
        let (at, count) = crossings(|x| x * x * x - 0.001);
        assert_eq!(count, 1);
        assert!((at[0] - 0.1).abs() < 1e-11);
        let rough = |x| (x - 0.2) * (x - 0.7) + 1e-7;
        assert!(
            (share_above(&Cuts::equal(1), rough, |x| (x - 0.2) * (x - 0.7)) - 0.5).abs() < 1e-12
        );
        assert!((share_above(&Cuts::equal(1), |_| 1.0, |_| 1.0) - 1.0).abs() < 1e-15);
    }

    #[test]
    fn extremes_lie_where_tension_turns() {
        let mut chunk = Chunk::new();
        // 100 + 3x − 5x², mean 100 + 3/2 − 5/3
        chunk.push(&Piece { tension: (100.0, 98.0), length: 1.0, ..Piece::default() });
        chunk.mean[0] = 100.0 + 1.5 - 5.0 / 3.0;
        let [(_, low), (_, high)] = extremes(&chunk, 0, 0.0, |x| chunk.tension(0, x));
        assert!((high - 100.45).abs() < 1e-12 && (low - 98.0).abs() < 1e-12);
        assert!((chunk.tension(0, 0.6) - (100.0 + 1.8 - 1.8)).abs() < 1e-12);
        // a turn that only the jump gives away
        let corner = |x: f64| 98.0 + 2.0 * x + 8.0 * (x - 0.4).max(0.0) * (0.9 - x);
        chunk.push(&Piece { tension: (98.0, corner(1.0)), length: 1.0, ..Piece::default() });
        chunk.mean[1] = 99.0;
        let [_, (_, seen)] = extremes(&chunk, 1, 16.0, corner);
        assert!((seen - 99.925).abs() < 1e-9, "{seen}");
        // one beside the end, before the first sample
        let beside = |x: f64| 98.0 + 0.4 * x - 5.0 * x * x;
        chunk.push(&Piece { tension: (98.0, beside(1.0)), length: 1.0, ..Piece::default() });
        chunk.mean[2] = 98.0 + 0.2 - 5.0 / 3.0;
        let [_, (_, seen)] = extremes(&chunk, 2, 0.0, beside);
        assert!((seen - 98.008).abs() < 1e-9, "{seen}");
    }
}
