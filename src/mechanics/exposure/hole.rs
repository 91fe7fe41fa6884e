//! The hole as the kernel wants it: short arcs in a row, true vertical depth on each a cubic.
//!
//! Arcs are subdivided until they turn by no more than [`TURN`] and are no longer than [`LENGTH`].
//! On such a piece the cubic through depth and direction at both ends misses true vertical depth by
//! less than κ³h⁴/384, under a micrometre, which is worth under a millinewton of tension.

use super::plain::band;
use crate::mechanics::path::Path;

/// Largest turn of a piece, rad.
const TURN: f64 = 0.03;
/// Longest piece, m.
const LENGTH: f64 = 15.0;

/// A short arc.
#[derive(Debug, Clone, Copy)]
pub(super) struct Short {
    /// True vertical depth as a cubic in the distance from the start of the piece.
    pub tvd: [f64; 4],
    /// Integral of true vertical depth from the table to the start of the piece, m².
    pub integral: f64,
    /// Curvature that bends the pipe (tortuosity included), rad/m.
    pub bend: f64,
    /// Curvature of the path, rad/m.
    pub curvature: f64,
    /// Downward component of the normal at the start, times one and as a parabola downhole.
    pub normal: [f64; 3],
    /// Downward component of the binormal; on a straight piece the sine of inclination.
    pub binormal: f64,
    /// Dogleg band.
    pub band: usize,
}

impl Short {
    /// True vertical depth and its slope, the cosine of inclination, `s` past the start.
    #[inline]
    pub(super) fn tvd_at(&self, s: f64) -> (f64, f64) {
        cubic(&self.tvd, s)
    }

    /// Integral of true vertical depth from the table to `s` past the start.
    pub(super) fn integral_at(&self, s: f64) -> f64 {
        self.integral + area(&self.tvd, s)
    }

    /// Downward component of the normal, `s` past the start.
    #[inline]
    pub(super) fn normal_at(&self, s: f64) -> f64 {
        self.normal[0] + s * (self.normal[1] + s * self.normal[2])
    }
}

/// Value and slope of a cubic.
#[inline]
pub(super) fn cubic(c: &[f64; 4], s: f64) -> (f64, f64) {
    let value = c[0] + s * (c[1] + s * (c[2] + s * c[3]));
    let slope = c[1] + s * (2.0 * c[2] + s * (3.0 * c[3]));
    (value, slope)
}

/// Integral of a cubic from 0.
#[inline]
pub(super) fn area(c: &[f64; 4], s: f64) -> f64 {
    s * (c[0] + s * (0.5 * c[1] + s * (c[2] * (1.0 / 3.0) + s * (0.25 * c[3]))))
}

/// The cubic with these values and slopes at 0 and `h`.
pub(super) fn through(h: f64, (v0, d0): (f64, f64), (v1, d1): (f64, f64)) -> [f64; 4] {
    let rise = (v1 - v0) / h;
    let c2 = (3.0 * rise - 2.0 * d0 - d1) / h;
    let c3 = (d0 + d1 - 2.0 * rise) / (h * h);
    [v0, d0, c2, c3]
}

/// Short arcs from the table down to a depth.
#[derive(Debug, Clone)]
pub(super) struct Hole {
    /// Measured depths between pieces, one more than there are pieces.
    pub md: Vec<f64>,
    /// The pieces.
    pub short: Vec<Short>,
}

impl Hole {
    /// Cuts a path down to `deepest`, with `tortuosity` (rad/m) added to what bends the pipe.
    pub(super) fn new(path: &Path, deepest: f64, tortuosity: f64) -> Self {
        let (mut mds, mut short) = (Vec::new(), Vec::new());
        let mut integral = 0.0;
        let arcs = path.arcs();
        for (index, arc) in arcs.iter().enumerate() {
            let end = match arcs.get(index + 1) {
                Some(next) => next.md,
                None => arc.md + (deepest - arc.md).max(0.0) + 1.0,
            };
            let length = end - arc.md;
            let mut count = 1_u32;
            while arc.curvature * length > TURN * f64::from(count)
                || length > LENGTH * f64::from(count)
            {
                count += 1;
            }
            let at = |i: u32| length * f64::from(i) / f64::from(count);
            for i in 0..count {
                let (from, to) = (at(i), at(i + 1));
                let point = |s: f64| (arc.tvd_at(s), arc.tangent_at(s).down);
                let tvd = through(to - from, point(from), point(to));
                let middle = 0.5 * (from + to);
                let (normal, tangent) = (arc.normal_at(middle), arc.tangent_at(middle));
                // n' = −κt and t' = κn, from the middle of the piece, then moved to its start
                let (k, n, h) = (arc.curvature, normal.down, 0.5 * (to - from));
                let (first, second) = (-k * tangent.down, -0.5 * k * k * n);
                short.push(Short {
                    tvd,
                    integral,
                    bend: k + tortuosity,
                    curvature: k,
                    normal: [n - h * first + h * h * second, first - 2.0 * h * second, second],
                    binormal: if k > 0.0 {
                        arc.binormal_down()
                    } else {
                        libm::hypot(tangent.north, tangent.east)
                    },
                    band: band(k + tortuosity),
                });
                integral += area(&tvd, to - from);
                mds.push(arc.md + from);
            }
            if index + 1 == arcs.len() {
                mds.push(end);
            }
        }
        Self { md: mds, short }
    }

    /// The piece that holds a depth, starting the search at `near`.
    #[inline]
    pub(super) fn find(&self, md: f64, near: usize) -> usize {
        let mut at = near;
        while at + 1 < self.short.len() && self.md[at + 1] <= md {
            at += 1;
        }
        while at > 0 && self.md[at] > md {
            at -= 1;
        }
        at
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
        let hole = Hole::new(&path, 500.0, 0.0);
        let mut at = 0;
        for i in 0..4_990 {
            let md = f64::from(i) * 0.1;
            at = hole.find(md, at);
            let (tvd, cosine) = hole.short[at].tvd_at(md - hole.md[at]);
            let p = path.point(md);
            assert!((tvd - p.position.down).abs() < 1e-6, "{md}: {tvd}");
            assert!((cosine - p.tangent.down).abs() < 1e-6, "{md}: {cosine}");
            let arc = &path.arcs()[path.arc_index(md)];
            let normal = arc.normal_at(md - arc.md).down;
            let got = hole.short[at].normal_at(md - hole.md[at]);
            assert!((normal - got).abs() < 2e-6, "{md}: {normal} {got}");
        }
    }
}
