//! The few pieces that need care: where tension passes zero, where the stress passes the knee of
//! the S–N curve, where an extreme may lie inside.

use super::chunk::{Chunk, Rule};
use super::lanes::{Constants, Cycles};

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

/// Root between two points of opposite sign: regula falsi with the Illinois halving.
fn root(f: &impl Fn(f64) -> f64, left: (f64, f64), right: (f64, f64)) -> f64 {
    let (mut a, mut fa) = left;
    let (mut b, mut fb) = right;
    for _ in 0..60 {
        if (b - a).abs() < 1e-12 {
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
        if (c - b).abs() < 1e-13 {
            b = c;
            break;
        }
        (b, fb) = (c, fc);
    }
    b
}

/// Damage per turn of piece `i`, cut where tension passes zero and where the range passes the knee.
pub(super) fn rate<const END: bool>(
    chunk: &Chunk,
    i: usize,
    rule: &Rule,
    k: &Constants,
    cycles: &Cycles,
) -> f64 {
    let range = |x: f64| k.range::<END>(chunk.tension(i, x), chunk.bend[i]).0;
    let zero = crossings(|x| chunk.tension(i, x));
    let mut cuts = [0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0];
    let mut count = 2;
    for x in &zero.0[..zero.1] {
        cuts[count] = *x;
        count += 1;
    }
    cuts[..count].sort_by(f64::total_cmp);
    // between zeros of tension the range is smooth
    let smooth = count;
    if cycles.knee() > 0.0 {
        for s in 1..smooth {
            let (from, to) = (cuts[s - 1], cuts[s]);
            let knee = crossings(|x| range(from + (to - from) * x) - cycles.knee());
            for x in &knee.0[..knee.1] {
                if count < cuts.len() {
                    cuts[count] = from + (to - from) * x;
                    count += 1;
                }
            }
        }
        cuts[..count].sort_by(f64::total_cmp);
    }
    let mut sum = [0.0];
    for pair in cuts[..count].windows(2) {
        let length = pair[1] - pair[0];
        for node in &rule.nodes {
            let range = [range(pair[0] + length * node.x)];
            cycles.rate(&range, &mut sum, |sum, damage| sum + length * node.weight * damage);
        }
    }
    sum[0]
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
        chunk.push(&Piece { tension: (100.0, 98.0), length: 1.0, ..Piece::default() }, 0.0);
        chunk.mean[0] = 100.0 + 1.5 - 5.0 / 3.0;
        let x = turning(&chunk, 0).unwrap();
        assert!((x - 0.3).abs() < 1e-12);
        assert!((largest(&chunk, 0, |t| t) - 100.45).abs() < 1e-12);
        assert!((chunk.tension(0, 0.6) - (100.0 + 1.8 - 1.8)).abs() < 1e-12);
    }
}
