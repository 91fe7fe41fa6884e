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

/// Places where a piece is cut; the last one is its end.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cuts {
    at: [f64; 9],
    count: usize,
}

impl Cuts {
    fn push(&mut self, x: f64) {
        if self.count < self.at.len() {
            self.at[self.count] = x;
            self.count += 1;
        }
    }

    /// Ascending, the end of the piece last.
    pub(super) fn places(&self) -> &[f64] {
        &self.at[..self.count]
    }
}

/// Cuts a piece where tension passes zero and, between those, where the range passes the knee.
pub(super) fn cuts(
    tension: impl Fn(f64) -> f64,
    over_knee: impl Fn(f64) -> f64,
    knee: bool,
) -> Cuts {
    let zeros = crossings(tension);
    let mut cuts = Cuts { at: [0.0; 9], count: 0 };
    let mut from = 0.0;
    for to in zeros.0[..zeros.1].iter().copied().chain([1.0]) {
        if knee {
            let found = crossings(|x| over_knee(from + (to - from) * x));
            for x in &found.0[..found.1] {
                cuts.push(from + (to - from) * x);
            }
        }
        cuts.push(to);
        from = to;
    }
    cuts
}

/// Whether tension may turn inside a piece: the parabola does, or its ends are so near each other
/// that a jump of the second derivative below `flat` (N, the jump times h²) may hide a turn.
fn may_turn(chunk: &Chunk, i: usize, flat: f64) -> bool {
    let rise = chunk.t1[i] - chunk.t0[i];
    let bow = 12.0 * (chunk.mean[i] - 0.5 * (chunk.t0[i] + chunk.t1[i]));
    (rise + 0.5 * bow) * (rise - 0.5 * bow) < 0.0 || rise.abs() < flat
}

/// Samples inside a piece on which tension may turn.
const SAMPLES: u32 = 16;

/// Smallest and largest tension of a piece, by its exact tension where it may turn inside.
pub(super) fn extremes(
    chunk: &Chunk,
    i: usize,
    jump: f64,
    exact: impl Fn(f64) -> f64,
) -> (f64, f64) {
    let (a, b) = (chunk.t0[i], chunk.t1[i]);
    let (mut low, mut high) = if a < b { (a, b) } else { (b, a) };
    let length = chunk.length[i];
    if length <= 0.0 || !may_turn(chunk, i, jump * length * length) {
        return (low, high);
    }
    let mut widen = |t: f64| {
        low = low.min(t);
        high = high.max(t);
    };
    turns(exact, (a, b), &mut widen);
    (low, high)
}

/// Largest value of a function inside a piece, from its values at the ends.
pub(super) fn peak(f: impl Fn(f64) -> f64, ends: (f64, f64)) -> f64 {
    let mut top = ends.0.max(ends.1);
    turns(f, ends, &mut |value| top = top.max(value));
    top
}

/// Calls `each` with the values of a function at samples where it turns, and at the turn itself as
/// the parabola through three samples has it.
fn turns(f: impl Fn(f64) -> f64, (a, b): (f64, f64), each: &mut impl FnMut(f64)) {
    let step = 1.0 / f64::from(SAMPLES);
    let (mut before, mut here) = (a, f(step));
    for k in 2..=SAMPLES {
        let x = step * f64::from(k);
        let next = if k == SAMPLES { b } else { f(x) };
        if (here - before) * (next - here) <= 0.0 {
            let bow = before - 2.0 * here + next;
            let shift = if bow.abs() > 0.0 { 0.5 * (before - next) / bow } else { 0.0 };
            each(here);
            each(f(x - step + step * shift.clamp(-1.0, 1.0)));
        }
        (before, here) = (here, next);
    }
}

/// Share of a piece on which a function is above zero.
pub(super) fn share_above(f: impl Fn(f64) -> f64) -> f64 {
    let (at, count) = crossings(&f);
    let mut share = 0.0;
    let mut from = 0.0;
    for to in at[..count].iter().copied().chain([1.0]) {
        if f(0.5 * (from + to)) > 0.0 {
            share += to - from;
        }
        from = to;
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
        assert!((share_above(|x| (x - 0.2) * (x - 0.7)) - 0.5).abs() < 1e-12);
        assert!((share_above(|_| 1.0) - 1.0).abs() < 1e-15);
    }

    #[test]
    fn extremes_lie_where_tension_turns() {
        let mut chunk = Chunk::new();
        // 100 + 3x − 5x², mean 100 + 3/2 − 5/3
        chunk.push(&Piece { tension: (100.0, 98.0), length: 1.0, ..Piece::default() });
        chunk.mean[0] = 100.0 + 1.5 - 5.0 / 3.0;
        let (low, high) = extremes(&chunk, 0, 0.0, |x| chunk.tension(0, x));
        assert!((high - 100.45).abs() < 1e-12 && (low - 98.0).abs() < 1e-12);
        assert!((chunk.tension(0, 0.6) - (100.0 + 1.8 - 1.8)).abs() < 1e-12);
        // a turn that only the jump gives away
        let corner = |x: f64| 98.0 + 2.0 * x + 8.0 * (x - 0.4).max(0.0) * (0.9 - x);
        chunk.push(&Piece { tension: (98.0, corner(1.0)), length: 1.0, ..Piece::default() });
        chunk.mean[1] = 99.0;
        let (_, seen) = extremes(&chunk, 1, 16.0, corner);
        assert!(seen > 99.79 && seen < 100.0, "{seen}");
    }
}
