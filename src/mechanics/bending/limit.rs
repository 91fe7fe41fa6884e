//! Doglegs that do no fatigue damage by the classic rule, and doglegs limited by side force.
//!
//! Lubinski 1961; API RP 7G section 8 (recalled; erratum 13 of the 1998 edition corrects the
//! constant of the S-135 branch to 20,000). Permissible bending stress falls with tension; the
//! branches are mean-stress rules in themselves, so no other is laid on top. They assume endless
//! life below the limit, which newer S–N curves do not: report both.

use super::contact::{Bend, Span};
use super::magnification::at_tool_joint;
use crate::mechanics::constants::PASCALS_PER_PSI;

/// Which permissible-stress branch applies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum PermissibleStress {
    /// Grade E. Also used for X-95 and G-105, which have no branch of their own (common practice,
    /// cautious).
    GradeE,
    /// S-135.
    S135,
}

/// Factor on permissible bending stress in corrosive mud (API RP 7G, recalled).
pub const CORROSIVE_FACTOR: f64 = 0.6;

/// Sharpest hole that is looked at, rad/m: about 90 degrees per 30 m, beyond any well.
pub const SHARPEST: f64 = 0.0525;

impl PermissibleStress {
    /// The branch that a grade's minimum yield strength (Pa) goes by: S-135's own from 135 ksi up,
    /// Grade E's below (common practice for X-95 and G-105, cautious).
    pub fn for_yield(yield_strength: f64) -> Self {
        if yield_strength > 134_000.0 * PASCALS_PER_PSI { Self::S135 } else { Self::GradeE }
    }

    /// Axial stress up to which the branch is given, Pa.
    pub fn highest_axial(self) -> f64 {
        PASCALS_PER_PSI
            * match self {
                Self::GradeE => 67_000.0,
                Self::S135 => 133_400.0,
            }
    }

    /// Permissible bending stress (amplitude, Pa) under an axial stress (Pa). Compression counts as
    /// no axial stress. None above the range of the branch.
    pub fn bending(self, axial: f64) -> Option<f64> {
        let s = axial.max(0.0) / PASCALS_PER_PSI;
        if axial > self.highest_axial() {
            return None;
        }
        let psi = match self {
            Self::GradeE => {
                let over = s - 33_500.0;
                19_500.0 - 10.0 / 67.0 * s - 0.6 / (670.0 * 670.0) * over * over
            }
            Self::S135 => 20_000.0 * (1.0 - s / 145_000.0),
        };
        Some(psi * PASCALS_PER_PSI)
    }
}

/// The tube of a joint, for its limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tube {
    pub od: f64,
    pub area: f64,
    pub young: f64,
    /// Span between tool joints.
    pub span: Span,
}

impl Tube {
    /// Bending stress amplitude (Pa) at the tool joint in a hole of this curvature (rad/m) under
    /// this tension (N): E·D/2·c·KL/tanh KL. Compression magnifies nothing at the tool joint.
    pub fn bending_stress(&self, tension: f64, curvature: f64) -> f64 {
        let u = self.span.load(tension.max(0.0));
        0.5 * self.young * self.od * curvature * at_tool_joint(u).unwrap_or(1.0)
    }

    /// Largest dogleg (rad/m) without fatigue: permissible stress / (E·D/2) · tanh KL/KL. `factor` is 1, or
    /// [`CORROSIVE_FACTOR`]. Zero above the range of the branch.
    pub fn no_fatigue_curvature(
        &self,
        branch: PermissibleStress,
        tension: f64,
        factor: f64,
    ) -> f64 {
        let Some(permissible) = branch.bending(tension / self.area) else { return 0.0 };
        factor * permissible.max(0.0) / self.bending_stress(tension, 1.0)
    }

    /// Bending stress amplitude (Pa) at the worst place of the span, contact with the wall counted,
    /// and how the tube lies: E·D/2·c·(largest magnification). Tension is positive. None where
    /// compression buckles the span between its tool joints.
    pub fn stress_with_contact(&self, force: f64, curvature: f64) -> Option<(f64, Bend)> {
        let bend = self.span.bend(force, curvature)?;
        Some((0.5 * self.young * self.od * curvature * bend.largest(), bend))
    }

    /// Largest dogleg (rad/m) without fatigue when the tube may touch the wall of the hole, and how
    /// it then lies. Never below [`Self::no_fatigue_curvature`] in tension: contact takes bending
    /// off the tool joint. In compression the worst place is mid-span.
    ///
    /// None above the range of the branch, where the span buckles, and where no hole that can be
    /// drilled (up to [`SHARPEST`]) reaches the permissible stress.
    pub fn no_fatigue_with_contact(
        &self,
        branch: PermissibleStress,
        force: f64,
        factor: f64,
    ) -> Option<(f64, Bend)> {
        let permissible = factor * branch.bending(force / self.area)?.max(0.0);
        let over = |c: f64| self.stress_with_contact(force, c).map(|(s, _)| s > permissible);
        if !over(SHARPEST)? {
            return None;
        }
        let (mut low, mut high) = (0.0, SHARPEST);
        // The stress grows with the curvature in each of the three states and across their borders.
        for _ in 0..200 {
            let middle = 0.5 * (low + high);
            if middle <= low || middle >= high {
                break;
            }
            if over(middle)? { high = middle } else { low = middle }
        }
        let bend = self.span.bend(force, low)?;
        Some((low, bend))
    }

    /// Dogleg (rad/m) at which the side force on a joint reaches `force` (N): F = 2·L·T·c. 2,000 lb
    /// is customary (common practice).
    pub fn side_force_curvature(&self, tension: f64, force: f64) -> f64 {
        if tension <= 0.0 {
            return f64::INFINITY;
        }
        force / (2.0 * self.span.half_length * tension)
    }
}
