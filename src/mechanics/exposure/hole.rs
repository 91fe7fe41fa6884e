//! The hole as the kernel wants it: short arcs in a row, true vertical depth on each a cubic.
//!
//! Arcs are subdivided until they turn by no more than [`TURN`] and are no longer than [`LENGTH`].
//! On such a piece the cubic through depth and direction at both ends misses true vertical depth by
//! less than κ³h⁴/384, under a micrometre, which is worth under a millinewton of tension.

use crate::mechanics::path::{Arc, Path};
use crate::mechanics::string::Bore;

/// Largest turn of a piece, rad.
const TURN: f64 = 0.03;
const LENGTH: f64 = 15.0;
/// Shortest piece that a cut may leave, m.
const SHORTEST: f64 = 1e-6;

/// A cubic in the distance from its start.
pub(super) type Cubic = [f64; 4];

/// Value of a cubic.
#[inline]
pub(super) fn value(c: &Cubic, s: f64) -> f64 {
    c[0] + s * (c[1] + s * (c[2] + s * c[3]))
}

/// Slope of a cubic.
#[inline]
pub(super) fn slope(c: &Cubic, s: f64) -> f64 {
    c[1] + s * (2.0 * c[2] + s * (3.0 * c[3]))
}

/// Integral of a cubic from 0.
#[inline]
pub(super) fn area(c: &Cubic, s: f64) -> f64 {
    s * (c[0] + s * (0.5 * c[1] + s * (c[2] * (1.0 / 3.0) + s * (0.25 * c[3]))))
}

/// The cubic with these values and slopes at 0 and `h`.
pub(super) fn through(h: f64, (v0, d0): (f64, f64), (v1, d1): (f64, f64)) -> Cubic {
    let rise = (v1 - v0) / h;
    let c2 = (3.0 * rise - 2.0 * d0 - d1) / h;
    let c3 = (d0 + d1 - 2.0 * rise) / (h * h);
    [v0, d0, c2, c3]
}

/// Where a short arc starts.
#[derive(Debug, Clone, Copy)]
pub(super) struct Start {
    pub md: f64,
    /// True vertical depth, m.
    pub tvd: f64,
    /// Integral of true vertical depth from the table down to here, m².
    pub integral: f64,
    /// Curvature below that bends the pipe (tortuosity included), rad/m.
    pub bend: f64,
    /// Diameter of the hole below, m; 0 where it is not known.
    pub diameter: f64,
}

/// What else is known of a short arc.
#[derive(Debug, Clone, Copy)]
pub(super) struct Short {
    pub tvd: Cubic,
    /// Curvature of the path, rad/m.
    pub curvature: f64,
    /// Downward component of the normal.
    pub normal: Cubic,
    /// Downward component of the binormal; on a straight piece the sine of inclination.
    pub binormal: f64,
}

impl Short {
    fn new(arc: &Arc, (from, to): (f64, f64)) -> Self {
        let end = |s: f64| (arc.tvd_at(s), arc.tangent_at(s).down);
        let middle = 0.5 * (from + to);
        let (normal, tangent) = (arc.normal_at(middle), arc.tangent_at(middle));
        // n' = −κt and t' = κn about the middle of the piece, then moved to its start
        let (k, n, h) = (arc.curvature, normal.down, 0.5 * (to - from));
        let (first, second) = (-k * tangent.down, -0.5 * k * k * n);
        let third = -k * k * first / 6.0;
        Self {
            tvd: through(to - from, end(from), end(to)),
            curvature: k,
            normal: [
                n - h * (first - h * (second - h * third)),
                first - h * (2.0 * second - 3.0 * h * third),
                second - 3.0 * h * third,
                third,
            ],
            binormal: if k > 0.0 {
                arc.binormal_down()
            } else {
                libm::hypot(tangent.north, tangent.east)
            },
        }
    }

    /// Downward component of the normal, `s` past the start.
    #[inline]
    pub(super) fn normal_at(&self, s: f64) -> f64 {
        value(&self.normal, s)
    }
}

/// Short arcs from the table down to a depth.
#[derive(Debug, Clone)]
pub(super) struct Hole {
    /// What it is cut from.
    pub path: Path,
    /// Their starts, and the end of the last one.
    pub starts: Vec<Start>,
    /// The rest about them.
    pub shorts: Vec<Short>,
}

/// Length of an arc, and into how many short ones it is cut.
fn short_arcs(curvature: f64, length: f64) -> (f64, u32) {
    let mut count = 1_u32;
    while curvature * length > TURN * f64::from(count) || length > LENGTH * f64::from(count) {
        count += 1;
    }
    (length, count)
}

/// The same for what lies beyond the survey: as many pieces of full length as it takes to pass a
/// depth below the last station.
fn beyond(depth: f64) -> (f64, u32) {
    let mut count = 1_u32;
    while LENGTH * f64::from(count) < depth + 1.0 {
        count += 1;
    }
    (LENGTH * f64::from(count), count)
}

impl Hole {
    /// Cuts a path down to `deepest` or somewhat below, with `tortuosity` (rad/m) added to what bends
    /// the pipe, and cut at these depths and where the width of the hole changes. Where pieces end
    /// doesn't hang on `deepest`.
    pub(super) fn new(
        path: &Path,
        bore: &Bore,
        deepest: f64,
        tortuosity: f64,
        cuts: &[f64],
    ) -> Self {
        let (mut starts, mut shorts) = (Vec::new(), Vec::new());
        let mut integral = 0.0;
        let arcs = path.arcs();
        for (index, arc) in arcs.iter().enumerate() {
            let (length, count) = match arcs.get(index + 1) {
                Some(next) => short_arcs(arc.curvature, next.md - arc.md),
                None => beyond(deepest - arc.md),
            };
            let mut ends: Vec<f64> =
                (0..=count).map(|i| length * f64::from(i) / f64::from(count)).collect();
            let inside = |cut: &f64| *cut > SHORTEST && *cut < length - SHORTEST;
            ends.extend(cuts.iter().map(|cut| cut - arc.md).filter(inside));
            let edges = bore.sections().iter().flat_map(|s| [s.from, s.to]);
            ends.extend(edges.map(|edge| edge - arc.md).filter(inside));
            ends.sort_by(f64::total_cmp);
            ends.dedup_by(|b, a| *b - *a < SHORTEST);
            for pair in ends.windows(2) {
                let (from, to) = (pair[0], pair[1]);
                let short = Short::new(arc, (from, to));
                let (md, tvd) = (arc.md + from, short.tvd[0]);
                let bend = arc.curvature + tortuosity;
                let diameter = bore.at(arc.md + 0.5 * (from + to)).unwrap_or(0.0);
                starts.push(Start { md, tvd, integral, bend, diameter });
                integral += area(&short.tvd, to - from);
                shorts.push(short);
            }
            if index + 1 == arcs.len() {
                let tvd = arc.tvd_at(length);
                let md = arc.md + length;
                starts.push(Start { md, tvd, integral, bend: 0.0, diameter: 0.0 });
            }
        }
        Self { path: path.clone(), starts, shorts }
    }

    /// Largest jump of the second derivative of true vertical depth from one piece to the next, 1/m.
    pub(super) fn largest_jump(&self) -> f64 {
        let ends = self.starts.windows(2).map(|pair| pair[1].md - pair[0].md);
        let second = self.shorts.iter().zip(ends).map(|(short, length)| {
            let [_, _, c2, c3] = short.tvd;
            (2.0 * c2, 2.0 * c2 + 6.0 * c3 * length)
        });
        let (mut largest, mut before) = (0.0_f64, None);
        for (start, end) in second {
            if let Some(before) = before {
                largest = largest.max(f64::abs(start - before));
            }
            before = Some(end);
        }
        largest
    }

    /// The piece that holds a depth, starting the search at `near`.
    #[inline]
    pub(super) fn find(&self, md: f64, near: usize) -> usize {
        let mut at = near;
        while at + 1 < self.shorts.len() && self.starts[at + 1].md <= md {
            at += 1;
        }
        while at > 0 && self.starts[at].md > md {
            at -= 1;
        }
        at
    }

    /// The piece that holds a depth.
    pub(super) fn at(&self, md: f64) -> usize {
        let after = self.starts[..self.shorts.len()].partition_point(|s| s.md <= md);
        after.saturating_sub(1)
    }

    /// True vertical depth and its integral from the table, `s` past the start of a piece.
    #[inline]
    pub(super) fn depth(&self, at: usize, s: f64) -> (f64, f64) {
        let cubic = &self.shorts[at].tvd;
        (value(cubic, s), self.starts[at].integral + area(cubic, s))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mechanics::path::Station;

    #[test]
    fn cubics_follow_the_path() {
        let deg = Station::from_degrees;
        let path = Path::new(&[
            deg(50.0, 0.0, 0.0),
            deg(80.0, 3.0, 10.0),
            deg(110.0, 9.0, 60.0),
            deg(300.0, 60.0, 80.0),
            deg(330.0, 60.0, 80.0),
        ])
        .unwrap();
        let hole = Hole::new(&path, &Bore::default(), 500.0, 0.0, &[33.0, 200.0]);
        let (mut at, mut last) = (0, 0.0);
        for i in 0..4_990 {
            let md = f64::from(i) * 0.1;
            at = hole.find(md, at);
            let along = md - hole.starts[at].md;
            let (tvd, integral) = hole.depth(at, along);
            let cosine = slope(&hole.shorts[at].tvd, along);
            let p = path.point(md);
            assert!((tvd - p.position.down).abs() < 1e-6, "{md}: {tvd}");
            assert!((cosine - p.tangent.down).abs() < 1e-6, "{md}: {cosine}");
            if i > 0 {
                let between = 0.1 / 6.0 * (path.tvd(md - 0.1) + 4.0 * path.tvd(md - 0.05) + tvd);
                assert!((integral - last - between).abs() < 1e-6, "{md}");
            }
            last = integral;
            let arc = &path.arcs()[path.arc_index(md)];
            let normal = arc.normal_at(md - arc.md).down;
            let got = hole.shorts[at].normal_at(along);
            assert!((normal - got).abs() < 1e-8, "{md}: {normal} {got}");
        }
    }
}
