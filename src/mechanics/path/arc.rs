//! One circular arc of the hole, described from its middle.
//!
//! With unit tangent `t` and inward normal `n` at the middle of the arc, the direction at an angle
//! φ from there is cos φ·t + sin φ·n. Sum and difference of the two station directions give both
//! vectors without cancellation, however slight the bend, and mirror-image arcs come out equal.

use super::station::{SAME_DIRECTION, Station, dogleg};

/// A vector or position: north, east, down.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Vector {
    pub north: f64,
    pub east: f64,
    pub down: f64,
}

impl Vector {
    /// `self + k·other`.
    pub(super) fn plus(self, k: f64, other: Self) -> Self {
        Self {
            north: self.north + k * other.north,
            east: self.east + k * other.east,
            down: self.down + k * other.down,
        }
    }

    /// `k·self`.
    pub(super) fn times(self, k: f64) -> Self {
        Self { north: k * self.north, east: k * self.east, down: k * self.down }
    }

    /// Unit vector of a direction.
    pub(super) fn direction(inc: f64, azi: f64) -> Self {
        let (sin, cos) = libm::sincos(inc);
        let (sin_azi, cos_azi) = libm::sincos(azi);
        Self { north: sin * cos_azi, east: sin * sin_azi, down: cos }
    }
}

/// sin x / x, with its series near zero.
fn sinc(x: f64) -> f64 {
    if x.abs() < 1e-4 { 1.0 - x * x / 6.0 } else { libm::sin(x) / x }
}

/// A piece of hole of constant curvature between two measured depths.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arc {
    /// Measured depth where it starts, m.
    pub md: f64,
    pub length: f64,
    /// Curvature, rad/m; 0 for a straight piece.
    pub curvature: f64,
    /// Position of its start.
    pub start: Vector,
    /// Unit tangent at its middle.
    pub(super) tangent: Vector,
    /// Unit normal at its middle, towards the centre of curvature; zero for a straight piece.
    pub(super) normal: Vector,
}

impl Arc {
    /// Every number that it is made of.
    pub(super) fn numbers(&self) -> [f64; 12] {
        let Self { md, length, curvature, start: s, tangent: t, normal: n } = *self;
        let [sn, se, sd] = [s.north, s.east, s.down];
        let [tn, te, td] = [t.north, t.east, t.down];
        [md, length, curvature, sn, se, sd, tn, te, td, n.north, n.east, n.down]
    }

    pub(super) fn straight(md: f64, length: f64, start: Vector, tangent: Vector) -> Self {
        Self { md, length, curvature: 0.0, start, tangent, normal: Vector::default() }
    }

    /// The arc of minimum curvature between two stations.
    pub(super) fn between(a: &Station, b: &Station, start: Vector) -> Self {
        let length = b.md - a.md;
        let turned = dogleg(a, b);
        let from = Vector::direction(a.inc, a.azi);
        let to = Vector::direction(b.inc, b.azi);
        let sum = from.plus(1.0, to);
        let (half_sin, half_cos) = libm::sincos(0.5 * turned);
        let tangent = sum.times(0.5 / half_cos);
        if turned <= SAME_DIRECTION {
            return Self::straight(a.md, length, start, tangent);
        }
        // to − from by sums to products, so that a slight bend keeps its plane
        let (sin_inc, cos_inc) = libm::sincos(0.5 * (a.inc + b.inc));
        let (sin_dinc, cos_dinc) = libm::sincos(0.5 * (b.inc - a.inc));
        let (sin_azi, cos_azi) = libm::sincos(0.5 * (a.azi + b.azi));
        let (sin_dazi, cos_dazi) = libm::sincos(0.5 * (b.azi - a.azi));
        let sine_difference = 2.0 * cos_inc * sin_dinc;
        let sine_sum = 2.0 * sin_inc * cos_dinc;
        let change = Vector {
            north: cos_azi * cos_dazi * sine_difference - sin_azi * sin_dazi * sine_sum,
            east: sin_azi * cos_dazi * sine_difference + cos_azi * sin_dazi * sine_sum,
            down: -2.0 * sin_inc * sin_dinc,
        };
        Self {
            md: a.md,
            length,
            curvature: turned / length,
            start,
            tangent,
            normal: change.times(0.5 / half_sin),
        }
    }

    /// Angle from the middle of the arc to `s` metres past its start.
    fn angle(&self, s: f64) -> f64 {
        self.curvature * (s - 0.5 * self.length)
    }

    /// Unit tangent `s` metres past the start.
    pub fn tangent_at(&self, s: f64) -> Vector {
        let (sin, cos) = libm::sincos(self.angle(s));
        self.tangent.times(cos).plus(sin, self.normal)
    }

    /// Unit normal `s` metres past the start (towards the centre); zero on a straight piece.
    pub fn normal_at(&self, s: f64) -> Vector {
        let (sin, cos) = libm::sincos(self.angle(s));
        if self.curvature == 0.0 {
            return Vector::default();
        }
        self.normal.times(cos).plus(-sin, self.tangent)
    }

    /// Downward component of the binormal (tangent × normal), the same all along the arc.
    pub fn binormal_down(&self) -> f64 {
        self.tangent.north * self.normal.east - self.tangent.east * self.normal.north
    }

    /// Position `s` metres past the start: the chord of that part of the arc.
    pub fn position_at(&self, s: f64) -> Vector {
        let chord = s * sinc(0.5 * self.curvature * s);
        let (sin, cos) = libm::sincos(0.5 * self.curvature * (s - self.length));
        self.start.plus(chord, self.tangent.times(cos).plus(sin, self.normal))
    }

    /// True vertical depth `s` metres past the start.
    pub fn tvd_at(&self, s: f64) -> f64 {
        let chord = s * sinc(0.5 * self.curvature * s);
        let (sin, cos) = libm::sincos(0.5 * self.curvature * (s - self.length));
        self.start.down + chord * (self.tangent.down * cos + self.normal.down * sin)
    }
}
