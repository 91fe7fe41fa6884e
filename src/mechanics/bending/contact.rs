//! Bending between tool joints when the tube touches the wall.
//!
//! The physical cases of Paslay & Cernocky 1991 (SPE 22547): no contact, contact at a point, contact
//! over a length (wrap). Their printed equations were not seen; these are own derivations, checked
//! against an independent finite-difference model. Pipe weight between joints is left out.
//!
//! x from mid-span (or from the end of the wrapped length), span a, s = +1 in tension and −1 in
//! compression, Ch and Sh the hyperbolic or circular functions: y'' = A Ch(Kx) + B Sh(Kx) with
//!   A Sh(Ka)/K + s B [Ch(Ka) − 1]/K = c a                          (tangent at the tool joint)
//!   s A [Ch(Ka) − 1]/K² + s B [Sh(Ka) − Ka]/K² = c a²/2 − s Δ      (standoff Δ at the contact)
//! Wrap begins when A reaches c; then A = c and a is the unknown.

use super::magnification::{at_mid_span, at_tool_joint};

/// How the tube lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Contact {
    /// Free of the wall.
    Free,
    /// Touching at mid-span with this force, N.
    Point { force: f64 },
    /// Lying on the wall but for a free span of this length (m) at each tool joint.
    Wrap {
        /// Length free of the wall, from the tool joint, m.
        free_span: f64,
    },
}

/// Magnified bending of one joint.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bend {
    /// How the tube lies.
    pub contact: Contact,
    /// Largest curvature of the tube over curvature of the hole.
    pub magnification: f64,
}

/// The span that bends: half the distance between tool joints (m), EI (N·m²), standoff of the body
/// from the wall when the tool joints touch it (m).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// Half the distance between tool joints, m.
    pub half_length: f64,
    /// Bending stiffness EI, N·m².
    pub stiffness: f64,
    /// Half the difference of tool-joint and body diameter, m.
    pub standoff: f64,
}

impl Span {
    pub fn load(&self, force: f64) -> f64 {
        force * self.half_length * self.half_length / self.stiffness
    }

    /// Hole curvature (rad/m) at which the tube first touches the wall; infinite without force.
    pub fn contact_curvature(&self, force: f64) -> f64 {
        let u = self.load(force);
        let half = 0.5 * u.abs().sqrt();
        // [L²/2 − (L/K) tanh(KL/2)]/L² and its counterpart; series u/24 near zero
        let sag = if u.abs() < 1e-4 {
            u.abs() / 24.0 * (1.0 - u / 10.0)
        } else if u > 0.0 {
            0.5 - 0.5 * libm::tanh(half) / half
        } else if 2.0 * half < core::f64::consts::PI {
            0.5 * libm::tan(half) / half - 0.5
        } else {
            return 0.0;
        };
        self.standoff / (sag * self.half_length * self.half_length)
    }

    /// Largest magnification in a hole of this curvature (rad/m) under this force (N, tension
    /// positive). None when compression reaches kL = π: the span buckles between its tool joints.
    pub fn bend(&self, force: f64, curvature: f64) -> Option<Bend> {
        let u = self.load(force);
        let free = if u >= 0.0 { at_tool_joint(u) } else { at_mid_span(u) }?;
        if curvature <= self.contact_curvature(force) {
            return Some(Bend { contact: Contact::Free, magnification: free });
        }
        let shape = Shape { k: u.abs().sqrt() / self.half_length, tension: u > 0.0 };
        let (a, b) = shape.point(self.half_length, curvature, self.standoff);
        let wrapped = if shape.tension { a >= curvature } else { a <= curvature };
        if !wrapped {
            let force = 2.0 * self.stiffness * shape.k * b.abs();
            let magnification = shape.largest(a, b, self.half_length) / curvature;
            return Some(Bend { contact: Contact::Point { force }, magnification });
        }
        let free_span = self.free_span(&shape, curvature);
        if free_span <= 0.0 {
            return Some(Bend { contact: Contact::Wrap { free_span: 0.0 }, magnification: 1.0 });
        }
        let b = shape.wrapped(free_span, curvature);
        let magnification = shape.largest(curvature, b, free_span) / curvature;
        Some(Bend { contact: Contact::Wrap { free_span }, magnification })
    }

    /// Free span at which the wrapped tube clears the standoff: bisection, the miss grows with it.
    fn free_span(&self, shape: &Shape, curvature: f64) -> f64 {
        let miss = |a: f64| {
            let b = shape.wrapped(a, curvature);
            shape.sag(curvature, b, a) - 0.5 * curvature * a * a + shape.sign() * self.standoff
        };
        let (mut low, mut high) = (0.0, self.half_length);
        if self.standoff <= 0.0 {
            return 0.0;
        }
        // at no free span only the standoff is left
        let positive = shape.tension;
        for _ in 0..200 {
            let middle = 0.5 * (low + high);
            if middle <= low || middle >= high {
                break;
            }
            if (miss(middle) > 0.0) == positive { low = middle } else { high = middle }
        }
        0.5 * (low + high)
    }
}

/// The functions Ch and Sh of one sign of the force.
struct Shape {
    k: f64,
    tension: bool,
}

impl Shape {
    fn sign(&self) -> f64 {
        if self.tension { 1.0 } else { -1.0 }
    }

    fn pair(&self, x: f64) -> (f64, f64) {
        let z = self.k * x;
        if self.tension { (libm::cosh(z), libm::sinh(z)) } else { (libm::cos(z), libm::sin(z)) }
    }

    /// s·[A(Ch − 1) + B(Sh − Kx)]/K²: the second integral of the curvature.
    fn sag(&self, a: f64, b: f64, x: f64) -> f64 {
        let (ch, sh) = self.pair(x);
        self.sign() * (a * (ch - 1.0) + b * (sh - self.k * x)) / (self.k * self.k)
    }

    /// A and B with contact at a point of a span.
    fn point(&self, span: f64, c: f64, standoff: f64) -> (f64, f64) {
        let (ch, sh) = self.pair(span);
        let (s, k) = (self.sign(), self.k);
        let m = [
            [sh / k, s * (ch - 1.0) / k],
            [s * (ch - 1.0) / (k * k), s * (sh - k * span) / (k * k)],
        ];
        let r = [c * span, 0.5 * c * span * span - s * standoff];
        let det = m[0][0] * m[1][1] - m[0][1] * m[1][0];
        ((r[0] * m[1][1] - m[0][1] * r[1]) / det, (m[0][0] * r[1] - r[0] * m[1][0]) / det)
    }

    /// B of a wrapped tube: A = c and the tangent condition.
    fn wrapped(&self, span: f64, c: f64) -> f64 {
        let (ch, sh) = self.pair(span);
        self.sign() * (c * span - c * sh / self.k) * self.k / (ch - 1.0)
    }

    /// Largest curvature on the span.
    fn largest(&self, a: f64, b: f64, span: f64) -> f64 {
        let (ch, sh) = self.pair(span);
        let ends = a.abs().max((a * ch + b * sh).abs());
        if self.tension {
            return ends;
        }
        let phase = libm::atan2(b, a);
        let crest = (0.0..=self.k * span).contains(&phase);
        if crest { libm::hypot(a, b) } else { ends }
    }
}
