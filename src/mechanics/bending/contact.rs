//! Bending between tool joints in tension and in compression, free of the wall or touching it.
//!
//! One function, [`Span::bend`], answers for limits, for the price of a bend and for exposures. The
//! tube is held tangent to the hole at its tool joints; its own weight between them is left out; the
//! bend is a plane one. The cases are those of Paslay & Cernocky 1991 (SPE 22547): no contact,
//! contact at a point, contact over a length (wrap). Their printed equations were not seen; these are
//! own derivations, checked against independent finite elements with a unilateral wall
//! (`tests/reference/wall_contact.csv`).
//!
//! Tool joints and tube are pressed against the same wall (inside of the bend in tension, outside in
//! compression), so how far the tube may move is half the difference of their diameters; the hole's
//! diameter only tells that there is a wall.
//!
//! With x from mid-span (or from the end of the wrapped length), K² = |F|/EI, u = KL, s = ±1 in
//! tension and compression, Ch and Sh the hyperbolic or circular functions of Kx, curvature over that
//! of the hole is A·Ch + B·Sh. In terms of `Shape`'s c₁ = |Ch − 1|, s₁ = |Sh − Kx| and
//! q = K²Δ/c, at the tool joints tangent and at mid-span on the wall:
//!   A·Sh + B·c₁ = u,   A·c₁ + B·s₁ = p,   p = u²/2 − s·q.
//! The wrapped length grows from mid-span once A would pass 1: then A = 1 and the free span x/K is
//! where G(x) = s₁²/c₁ − |Ch − 1 − s·x²/2| reaches q.

use super::magnification::{at_mid_span, at_tool_joint};

/// u = kL in compression beyond which nothing here holds: a span held in its middle buckles.
const HELD_SPAN_BUCKLES: f64 = 4.49;

/// How the tube lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Contact {
    /// Free of the wall, or no wall is known.
    Free,
    /// Touching at mid-span with this force, N.
    Point { force: f64 },
    /// Lying on the wall but for a free span of this length (m) at each tool joint.
    Wrap {
        /// Length free of the wall, from the tool joint, m.
        free_span: f64,
    },
}

/// How much more or less the tube bends than the hole: curvatures over that of the hole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bend {
    /// How the tube lies.
    pub contact: Contact,
    /// At the tool joints: more than the hole in tension, less in compression.
    pub ends: f64,
    /// For the tube between them: at mid-span in tension; in compression, where the tube bends most
    /// somewhere between, the largest anywhere along it.
    pub middle: f64,
}

impl Bend {
    /// The largest anywhere along the tube.
    pub fn largest(&self) -> f64 {
        self.ends.max(self.middle)
    }
}

/// The span that bends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// Half the distance between tool joints, m.
    pub half_length: f64,
    /// Bending stiffness EI, N·m².
    pub stiffness: f64,
    /// Half the difference of tool-joint and body diameter, m; none where no wall is known or not
    /// the tool joint: contact is not looked for then.
    pub standoff: Option<f64>,
}

impl Span {
    /// F·L²/EI.
    pub fn load(&self, force: f64) -> f64 {
        force * self.half_length * self.half_length / self.stiffness
    }

    /// Hole curvature (rad/m) at which the tube first touches the wall; infinite without force or
    /// without a wall, 0 where compression would buckle it free of the wall.
    pub fn contact_curvature(&self, force: f64) -> f64 {
        let Some(standoff) = self.standoff else { return f64::INFINITY };
        let v = self.load(force);
        let half = 0.5 * v.abs().sqrt();
        // [L²/2 − (L/K) tanh(KL/2)]/L² and its counterpart; series v/24 near zero
        let sag = if v.abs() < 1e-4 {
            v.abs() / 24.0 * (1.0 - v / 10.0)
        } else if v > 0.0 {
            0.5 - 0.5 * libm::tanh(half) / half
        } else if 2.0 * half < core::f64::consts::PI {
            0.5 * libm::tan(half) / half - 0.5
        } else {
            return 0.0;
        };
        standoff / (sag * self.half_length * self.half_length)
    }

    /// Above zero where the tube touches the wall: a function without poles, for finding the force at
    /// which it first does. Without a wall never, nor in a straight hole.
    pub fn over_contact(&self, force: f64, curvature: f64) -> f64 {
        let Some(standoff) = self.standoff.filter(|_| curvature > 0.0) else { return -1.0 };
        let v = self.load(force);
        let half = 0.5 * v.abs().sqrt();
        let over = curvature * self.half_length * self.half_length;
        if v.abs() < 1e-4 {
            return over * (v.abs() / 24.0 * (1.0 - v / 10.0)) - standoff;
        }
        if v > 0.0 {
            return 0.5 * over * (1.0 - libm::tanh(half) / half) - standoff;
        }
        let (sin, cos) = libm::sincos(half);
        0.5 * over * (sin / half - cos) - standoff * cos
    }

    /// Above zero where the tube lies on the wall over a length, if it touches at all.
    pub fn over_wrap(&self, force: f64, curvature: f64) -> f64 {
        let Some(standoff) = self.standoff else { return -1.0 };
        let v = self.load(force);
        let u = v.abs().sqrt();
        let allowed = standoff / (curvature * self.half_length * self.half_length);
        if u < 1e-3 {
            return u * u / 72.0 - allowed;
        }
        Shape::new(v > 0.0, u).gap() / (u * u) - allowed
    }

    /// Above zero where compression buckles the span, so that nobody can say how it bends: from kL = π
    /// on with no wall known or in a straight hole, from about 4.49 on where a wall holds it.
    pub fn over_buckling(&self, force: f64, curvature: f64) -> f64 {
        let held = self.standoff.is_some() && curvature > 0.0;
        let most = if held { HELD_SPAN_BUCKLES } else { core::f64::consts::PI };
        -self.load(force) - most * most
    }

    /// How the tube bends in a hole of this curvature (rad/m) under this force (N, tension positive).
    /// None where compression buckles it.
    pub fn bend(&self, force: f64, curvature: f64) -> Option<Bend> {
        let v = self.load(force);
        let u = v.abs().sqrt();
        if self.over_buckling(force, curvature) >= 0.0 {
            return None;
        }
        let touches = curvature > self.contact_curvature(force);
        let Some(standoff) = self.standoff.filter(|_| touches) else {
            let (ends, middle) = (at_tool_joint(v)?.abs(), at_mid_span(v)?);
            return Some(Bend { contact: Contact::Free, ends, middle });
        };
        let tension = v > 0.0;
        // K²Δ/c
        let allowed = u * u * standoff / (curvature * self.half_length * self.half_length);
        let whole = Shape::new(tension, u);
        if whole.gap() < allowed {
            let (a, b, ends) = whole.point(allowed);
            let force = 2.0 * self.stiffness * (u / self.half_length) * curvature * b.abs();
            let middle = if tension { a.abs() } else { whole.largest((a, b), ends) };
            return Some(Bend { contact: Contact::Point { force }, ends: ends.abs(), middle });
        }
        let Some(free) = whole.free_span(allowed) else {
            // no room to leave the wall
            let contact = Contact::Wrap { free_span: 0.0 };
            return Some(Bend { contact, ends: 1.0, middle: 1.0 });
        };
        let ends = free.x * free.sh / free.c1 - 1.0;
        let middle = if tension { 1.0 } else { free.largest((1.0, free.s1 / free.c1), ends) };
        let contact = Contact::Wrap { free_span: self.half_length * free.x / u };
        Some(Bend { contact, ends: ends.abs(), middle })
    }
}

/// Ch and Sh at one place, and what is left of them without their first terms, for one sign of the
/// force.
#[derive(Debug, Clone, Copy)]
struct Shape {
    tension: bool,
    x: f64,
    sh: f64,
    /// cosh x − 1, or 1 − cos x.
    c1: f64,
    /// sinh x − x, or x − sin x.
    s1: f64,
    /// cosh x − 1 − x²/2, or x²/2 − (1 − cos x).
    d: f64,
}

impl Shape {
    fn new(tension: bool, x: f64) -> Self {
        let square = x * x;
        if x < 1.0 {
            // the differences by their series in ±x², alternating in compression
            let y = if tension { square } else { -square };
            let series = |first: f64| {
                let (mut sum, mut term) = (1.0, 1.0);
                for k in 0..8_u32 {
                    let n = first + 2.0 * f64::from(k);
                    term *= y / ((n + 1.0) * (n + 2.0));
                    sum += term;
                }
                sum
            };
            let c1 = 0.5 * square * series(2.0);
            let s1 = x * square / 6.0 * series(3.0);
            let d = square * square / 24.0 * series(4.0);
            let sh = if tension { x + s1 } else { x - s1 };
            return Self { tension, x, sh, c1, s1, d };
        }
        if tension {
            let (ch, sh) = (libm::cosh(x), libm::sinh(x));
            return Self { tension, x, sh, c1: ch - 1.0, s1: sh - x, d: ch - 1.0 - 0.5 * square };
        }
        let (sin, cos) = libm::sincos(x);
        Self { tension, x, sh: sin, c1: 1.0 - cos, s1: x - sin, d: 0.5 * square - (1.0 - cos) }
    }

    /// G: how far the tube, lying on the wall up to x before its tool joint, is off it there, in
    /// units of c/K². Grows with x.
    fn gap(&self) -> f64 {
        self.s1 * self.s1 / self.c1 - self.d
    }

    /// A and B of a span that touches at mid-span, and the curvature at its end.
    fn point(&self, allowed: f64) -> (f64, f64, f64) {
        let Self { tension, x, sh, c1, s1, d: _ } = *self;
        let p = 0.5 * x * x - if tension { allowed } else { -allowed };
        let determinant = if x < 1.0 {
            sh * s1 - c1 * c1
        } else if tension {
            2.0 * c1 - x * sh
        } else {
            x * sh - 2.0 * c1
        };
        let a = (x * s1 - p * c1) / determinant;
        let b = (p * sh - x * c1) / determinant;
        let end = (x * (s1 - x * c1) + p * c1) / determinant;
        (a, b, end)
    }

    /// The free span of a tube that lies on the wall: where the gap is what is allowed. Newton on the
    /// fourth root of the gap, which is nearly a straight line; halving where that leaves the span.
    /// None without any room.
    fn free_span(&self, allowed: f64) -> Option<Self> {
        let fourth_root = |z: f64| z.sqrt().sqrt();
        let goal = fourth_root(allowed);
        if goal <= 0.0 {
            return None;
        }
        let (mut low, mut high) = (0.0, self.x);
        let mut at = Self::new(self.tension, (fourth_root(72.0) * goal).min(self.x));
        for _ in 0..60 {
            let root = fourth_root(at.gap());
            if root > goal {
                high = at.x;
            } else {
                low = at.x;
            }
            let ratio = at.s1 / at.c1;
            let slope = at.s1 - ratio * ratio * at.sh;
            let next = at.x - 4.0 * (root * root * root) * (root - goal) / slope;
            let next = if next >= low && next <= high { next } else { 0.5 * (low + high) };
            let step = (next - at.x).abs();
            at = Self::new(self.tension, next);
            if step <= 1e-15 * next {
                break;
            }
        }
        Some(at)
    }

    /// Largest |A cos + B sin| on the span: at its crest where that lies inside, else at an end.
    fn largest(&self, (a, b): (f64, f64), end: f64) -> f64 {
        let phase = libm::atan2(b, a);
        // of the crests, half a turn apart, the first after mid-span
        let crest = if phase < 0.0 { phase + core::f64::consts::PI } else { phase };
        if crest <= self.x { libm::hypot(a, b) } else { a.abs().max(end.abs()) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn span(standoff: Option<f64>) -> Span {
        Span { half_length: 4.7, stiffness: 1.2e6, standoff }
    }

    /// From one state to the next nothing jumps, in tension and in compression.
    #[test]
    fn states_join() {
        let span = span(Some(0.02));
        for curvature in [0.004, 0.008, 0.012, 0.02, 0.03] {
            let mut last: Option<Bend> = None;
            for i in 0..=20_000 {
                let force = -5.0e5 + 50.0 * f64::from(i);
                let bend = span.bend(force, curvature).unwrap();
                if let Some(last) = last {
                    let jump = (bend.ends - last.ends).abs() + (bend.middle - last.middle).abs();
                    assert!(jump < 2e-3, "{curvature} {force}: {last:?} {bend:?}");
                }
                last = Some(bend);
            }
        }
    }

    /// The functions that say when a state begins change sign where the state does.
    #[test]
    fn borders_are_those_of_the_states() {
        let span = span(Some(0.02));
        for i in 0..2_000 {
            let force = -4.0e5 + 600.0 * f64::from(i);
            for curvature in [0.002, 0.006, 0.01, 0.02] {
                let bend = span.bend(force, curvature).unwrap();
                let touches = span.over_contact(force, curvature) > 0.0;
                assert_eq!(touches, bend.contact != Contact::Free, "{force} {curvature}");
                if touches {
                    let wraps = span.over_wrap(force, curvature) >= 0.0;
                    let found = matches!(bend.contact, Contact::Wrap { .. });
                    assert_eq!(wraps, found, "{force} {curvature}");
                }
            }
        }
    }

    #[test]
    fn compression_without_a_wall_ends_at_half_a_wave() {
        let euler = -core::f64::consts::PI * core::f64::consts::PI * 1.2e6 / (4.7 * 4.7);
        assert!(span(None).bend(0.999 * euler, 0.01).is_some());
        assert_eq!(span(None).bend(1.001 * euler, 0.01), None);
        assert!(span(Some(0.02)).bend(1.3 * euler, 0.01).is_some());
        assert_eq!(span(Some(0.02)).bend(2.1 * euler, 0.01), None);
        // the ends bend less than the hole, not at all at a quarter of a wave
        assert!(span(None).bend(0.25 * euler, 0.01).unwrap().ends < 1e-12);
    }
}
