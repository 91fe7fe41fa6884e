//! From tension and curvature to bending stress, stress range and damage per turn, at one place of
//! one joint.

use super::settings::{BOX_END, MIDDLE, PIN_END, Settings};
use crate::mechanics::bending::{Bend, Span};
use crate::mechanics::fatigue::Curve;
use crate::mechanics::string::Part;

/// An S–N curve as the kernel wants it: damage per turn is S^m·10^(−log a), S in MPa.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Life {
    /// Slope and 10^(−log a) above the knee.
    pub first: (f64, f64),
    /// The same below the knee; equal to the first without one.
    pub second: (f64, f64),
    /// Stress range at the knee, MPa; 0 without one.
    pub knee: f64,
}

impl Life {
    pub(super) fn new(curve: &Curve) -> Self {
        let first = (curve.m, libm::exp10(-curve.log_a));
        let Some((knee, at)) = curve.knee.zip(curve.knee_range()) else {
            return Self { first, second: first, knee: 0.0 };
        };
        Self { first, second: (knee.m, libm::exp10(-knee.log_a)), knee: at.megapascals() }
    }

    /// Damage of one turn at a stress range, MPa.
    pub(super) fn damage(&self, range: f64) -> f64 {
        let (m, scale) = if range >= self.knee { self.first } else { self.second };
        libm::pow(range, m) * scale
    }
}

/// The chain of one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Response {
    /// An end of the body; else its middle.
    pub end: bool,
    /// Bending stress per curvature without magnification, E·D/2, Pa·m.
    pub bending: f64,
    /// How the body hangs between its tool joints, with a wall; none where the part follows the hole.
    pub span: Option<Span>,
    /// A hole wider than this (m) is a wall to touch; infinite where nobody knows.
    pub wall: f64,
    /// Whether compression is felt; else it counts as no pull.
    pub compression: bool,
    /// 1/A, 1/m².
    pub per_area: f64,
    /// Mean-stress factors, linear and square (1/Pa, 1/Pa²).
    pub mean: (f64, f64),
    /// Stress concentration on the alternating stress.
    pub concentration: f64,
    pub life: Life,
}

impl Response {
    /// The three places of a part.
    pub(super) fn of(part: &Part, settings: &Settings, lives: &[Life; 3]) -> [Self; 3] {
        [PIN_END, MIDDLE, BOX_END].map(|place| Self {
            end: place != MIDDLE,
            bending: 0.5 * part.material.young * part.od,
            span: part.span(Some(f64::INFINITY)),
            wall: part.tool_joint_od.unwrap_or(f64::INFINITY),
            compression: settings.compression,
            per_area: 1.0 / part.area(),
            mean: settings.mean_stress.factors(&part.material),
            concentration: part.concentration[place],
            life: lives[place],
        })
    }

    /// L²/EI, 1/N; 0 where the part follows the hole.
    pub(super) fn slenderness(&self) -> f64 {
        self.span.map_or(0.0, |span| span.load(1.0))
    }

    /// The span in a hole of this diameter, m.
    pub(super) fn span_in(&self, hole: f64) -> Option<Span> {
        let walled = hole > self.wall;
        self.span.map(|span| Span { standoff: span.standoff.filter(|_| walled), ..span })
    }

    /// The tension by which the tube bends, N.
    pub(super) fn felt(&self, tension: f64) -> f64 {
        if self.compression { tension } else { tension.max(0.0) }
    }

    /// Curvature here over that of the hole; none where the span buckles.
    pub(super) fn magnification(&self, tension: f64, curvature: f64, hole: f64) -> Option<f64> {
        let Some(span) = self.span_in(hole) else { return Some(1.0) };
        let here = |bend: Bend| if self.end { bend.ends } else { bend.middle };
        span.bend(self.felt(tension), curvature).map(here)
    }
}
