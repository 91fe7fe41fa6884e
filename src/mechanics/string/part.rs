//! One part of the drill string: what mechanics needs to know about it.

use core::f64::consts::PI;

use super::CaseError;
use crate::mechanics::bending::{PermissibleStress, Span};
use crate::mechanics::constants::{GRAVITY, STEEL_DENSITY, STEEL_YOUNG};

/// The metal of a part, as far as it decides which formulas hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Metal {
    /// Carbon or alloy steel.
    Steel,
    /// Aluminium alloy: outside the validity of steel S–N curves.
    Aluminium,
    /// Titanium alloy: outside validity too.
    Titanium,
}

impl Metal {
    /// The metal other than steel that a grade names.
    pub fn named(grade: &str) -> Option<Self> {
        let word: String = grade.chars().filter(char::is_ascii_alphabetic).collect();
        match word.to_ascii_lowercase().as_str() {
            "aluminium" | "aluminum" | "al" => Some(Self::Aluminium),
            "titanium" | "ti" => Some(Self::Titanium),
            _ => None,
        }
    }

    pub const fn name(self) -> &'static str {
        match self {
            Self::Steel => "steel",
            Self::Aluminium => "aluminium",
            Self::Titanium => "titanium",
        }
    }
}

/// Elastic and strength properties.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Material {
    pub metal: Metal,
    pub young: f64,
    pub density: f64,
    /// Minimum yield strength, Pa.
    pub yield_strength: f64,
    /// Minimum ultimate tensile strength, Pa.
    pub ultimate_strength: f64,
}

impl Material {
    /// Steel of given yield and ultimate strength, Pa.
    pub fn steel(yield_strength: f64, ultimate_strength: f64) -> Self {
        Self {
            metal: Metal::Steel,
            young: STEEL_YOUNG,
            density: STEEL_DENSITY,
            yield_strength,
            ultimate_strength,
        }
    }
}

/// What a part is, as far as it decides how it bends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Drill pipe: the tube hangs between tool joints, so that tension concentrates its bending.
    DrillPipe,
    HeavyWeight,
    /// Drill collar: no upset to stand off on; it follows the hole.
    DrillCollar,
    /// A sub, motor, tool, stabiliser: follows the hole.
    Other,
}

impl Kind {
    /// Whether the tube spans between tool joints, free of the wall.
    pub fn spans_tool_joints(self) -> bool {
        matches!(self, Self::DrillPipe | Self::HeavyWeight)
    }
}

/// One part of the string (a joint, or one of several equal parts).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    pub kind: Kind,
    /// Length from shoulder to shoulder, m.
    pub length: f64,
    /// Outside diameter of the body as it is now, m.
    pub od: f64,
    /// Inside diameter of the body, m.
    pub id: f64,
    /// Weight in air per metre of length, tool joints included, kg/m.
    pub air_weight: f64,
    /// Outside diameter of the tool joint, m, where known.
    pub tool_joint_od: Option<f64>,
    pub material: Material,
    /// Which branch of the classic permissible stress its grade follows.
    pub permissible: PermissibleStress,
    /// Stress concentration (1 for none) at pin end, middle and box end: slip cuts, pits.
    pub concentration: [f64; 3],
}

impl Part {
    /// Cross-section of the body, m².
    pub fn area(&self) -> f64 {
        PI / 4.0 * (self.od * self.od - self.id * self.id)
    }

    /// Second moment of area of the body, m⁴.
    pub fn inertia(&self) -> f64 {
        let (d2, b2) = (self.od * self.od, self.id * self.id);
        PI / 64.0 * (d2 * d2 - b2 * b2)
    }

    /// Bending stiffness EI, N·m².
    pub fn stiffness(&self) -> f64 {
        self.material.young * self.inertia()
    }

    /// Wall thickness of the body, m.
    pub fn wall(&self) -> f64 {
        0.5 * (self.od - self.id)
    }

    /// How the body bends between its tool joints, in a hole of this diameter (m) where it is known;
    /// none for a part that follows the hole. A hole no wider than the tool joint is not known.
    pub fn span(&self, hole: Option<f64>) -> Option<Span> {
        let wall = self.tool_joint_od.zip(hole).is_some_and(|(joint, hole)| hole > joint);
        self.kind.spans_tool_joints().then(|| Span {
            half_length: 0.5 * self.length,
            stiffness: self.stiffness(),
            standoff: wall.then(|| self.standoff()),
        })
    }

    /// The diameter that touches the hole: the tool joint's where known, else the body's.
    pub fn contact_diameter(&self) -> f64 {
        self.tool_joint_od.map_or(self.od, |d| d.max(self.od))
    }

    /// Standoff of the body from the wall when the tool joints touch it, m.
    pub fn standoff(&self) -> f64 {
        0.5 * (self.contact_diameter() - self.od)
    }

    /// Effective (buoyed) weight per metre, N/m: weight of metal and of the fluid inside less the
    /// fluid displaced outside, tool joints counted through the weight per metre.
    ///
    /// w = g·[m + ρᵢAᵢ − ρₒ(Aᵢ + m/ρₛ)]; with one fluid inside and out that is m·g·(1 − ρ/ρₛ).
    pub fn buoyed_weight(&self, fluids: &Fluids) -> f64 {
        let bore = PI / 4.0 * self.id * self.id;
        GRAVITY
            * (self.air_weight * (1.0 - fluids.outside / self.material.density)
                + (fluids.inside - fluids.outside) * bore)
    }

    /// Names the first value that a part can't have; `part` counts from the bit.
    pub fn check(&self, part: usize) -> Result<(), CaseError> {
        let wrong = |what| Err(CaseError::Part { part, what });
        let m = &self.material;
        if !(self.length > 0.0 && self.length.is_finite()) {
            return wrong("length must be above 0 m");
        }
        if !(self.od > 0.0 && self.od.is_finite()) {
            return wrong("outside diameter must be above 0 m");
        }
        if !(0.0 <= self.id && self.id < self.od) {
            return wrong("inside diameter must lie between 0 and the outside diameter");
        }
        if !(self.air_weight >= 0.0 && self.air_weight.is_finite()) {
            return wrong("weight per metre must be 0 kg/m or more");
        }
        if self.tool_joint_od.is_some_and(|d| !(d > 0.0 && d.is_finite())) {
            return wrong("tool joint diameter must be above 0 m");
        }
        if !(m.young > 0.0 && m.young.is_finite() && m.density > 0.0 && m.density.is_finite()) {
            return wrong("Young's modulus and density must be above 0");
        }
        if !(m.yield_strength > 0.0 && m.ultimate_strength > 0.0) {
            return wrong("yield and ultimate strength must be above 0 Pa");
        }
        if self.concentration.iter().any(|k| !(*k >= 1.0 && k.is_finite())) {
            return wrong("stress concentration must be 1 or more");
        }
        Ok(())
    }
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fluids {
    pub inside: f64,
    pub outside: f64,
}

impl Fluids {
    /// One mud inside and out.
    pub fn same(density: f64) -> Self {
        Self { inside: density, outside: density }
    }
}
