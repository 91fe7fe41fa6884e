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

/// Where the parabola of a piece turns, if it turns inside.
pub(super) fn turning(chunk: &Chunk, i: usize) -> Option<f64> {
    let rise = chunk.t1[i] - chunk.t0[i];
    let bow = 12.0 * (chunk.mean[i] - 0.5 * (chunk.t0[i] + chunk.t1[i]));
    let (shallow, deep) = (rise + 0.5 * bow, rise - 0.5 * bow);
    (shallow * deep < 0.0).then(|| shallow / bow)
}

/// Largest of a function of tension over a piece: at its ends or where tension turns.
pub(super) fn largest(chunk: &Chunk, i: usize, f: impl Fn(f64) -> f64) -> f64 {
    let ends = f(chunk.t0[i]).max(f(chunk.t1[i]));
    match turning(chunk, i) {
        Some(x) => ends.max(f(chunk.tension(i, x))),
        None => ends,
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
    fn the_parabola_turns_where_its_slope_is_nothing() {
        let mut chunk = Chunk::new();
        // 100 + 3x − 5x², mean 100 + 3/2 − 5/3
        chunk.push(&Piece { tension: (100.0, 98.0), length: 1.0, ..Piece::default() });
        chunk.mean[0] = 100.0 + 1.5 - 5.0 / 3.0;
        let x = turning(&chunk, 0).unwrap();
        assert!((x - 0.3).abs() < 1e-12);
        assert!((largest(&chunk, 0, |t| t) - 100.45).abs() < 1e-12);
        assert!((chunk.tension(0, 0.6) - (100.0 + 1.8 - 1.8)).abs() < 1e-12);
    }
}
