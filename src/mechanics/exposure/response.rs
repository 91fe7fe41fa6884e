//! From tension and curvature to bending stress, stress range and damage per turn, at one place of
//! one joint.

use super::settings::{BOX_END, MIDDLE, PIN_END, Settings};
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
    /// Bending stress per curvature without magnification, E·D/2, Pa·m.
    pub bending: f64,
    /// L²/EI, 1/N; 0 where the part follows the hole.
    pub slenderness: f64,
    /// 1/A, 1/m².
    pub per_area: f64,
    /// Mean-stress factors, linear and square (1/Pa, 1/Pa²).
    pub mean: (f64, f64),
    /// From bending amplitude in Pa to range in MPa, concentration and factors included.
    pub to_range: f64,
    pub life: Life,
}

impl Response {
    /// The three places of a part.
    pub(super) fn of(part: &Part, settings: &Settings, lives: &[Life; 3]) -> [Self; 3] {
        let half = 0.5 * part.length;
        let slenderness =
            if part.kind.spans_tool_joints() { half * half / part.stiffness() } else { 0.0 };
        [PIN_END, MIDDLE, BOX_END].map(|place| Self {
            bending: 0.5 * part.material.young * part.od,
            slenderness,
            per_area: 1.0 / part.area(),
            mean: settings.mean_stress.factors(&part.material),
            to_range: 2e-6 * part.concentration[place],
            life: lives[place],
        })
    }
}
