//! The source that stands beside each bending figure, for reports.

use crate::mechanics::tube::{Evidence, Source};

/// A figure of bending in a curved hole that a report can print.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum BendingFigure {
    /// Permissible bending stress without fatigue.
    PermissibleStress,
    /// Dogleg without fatigue, the tube free of the wall.
    NoFatigueDogleg,
    /// Dogleg without fatigue, the tube touching the wall.
    ContactDogleg,
    /// Dogleg at a side force on the tool joint.
    SideForceDogleg,
    /// Bending stress at a dogleg.
    BendingStress,
}

impl BendingFigure {
    /// Returns the source of the figure.
    pub const fn source(self) -> Source {
        match self {
            Self::PermissibleStress => Source {
                document: "Lubinski 1961 (SPE 1543-G); API RP 7G 16th edition",
                place: "section 8, Grade E and S-135 branches, with erratum 13",
                formula: "E: 19,500 − 10/67 σ − 0.6/670² (σ − 33,500)²; \
                          S-135: 20,000 (1 − σ/145,000) psi; corrosive × 0.6",
                evidence: Evidence::Memory,
                limits: "steel, endless life below the limit, which newer S–N curves deny; \
                         X-95 and G-105 take the E branch (common practice)",
            },
            Self::NoFatigueDogleg => Source {
                document: "Lubinski 1961 (SPE 1543-G); API RP 7G 16th edition",
                place: "section 8, equations 17 to 20",
                formula: "c = σb/(E D/2) · tanh(KL)/(KL), K² = T/(EI)",
                evidence: Evidence::Memory,
                limits: "tube free of the wall between its tool joints, in tension",
            },
            Self::ContactDogleg => Source {
                document: "Cases of Paslay & Cernocky 1991 (SPE 22547)",
                place: "free, point and wrap contact; own derivation, the paper's equations not seen",
                formula: "",
                evidence: Evidence::Computed,
                limits: "agrees with a finite-difference model to four figures; pipe weight between \
                         tool joints left out",
            },
            Self::SideForceDogleg => Source {
                document: "API RP 7G 16th edition",
                place: "section 8, side force on tool joints; 2,000 lb is customary",
                formula: "F = 2 L T c",
                evidence: Evidence::CommonPractice,
                limits: "wear and heat checking, no fatigue",
            },
            Self::BendingStress => Source {
                document: "Beam in a curved hole",
                place: "tension and compression, contact counted where the tube touches; the largest \
                        along the tube",
                formula: "σb = E D/2 · c · magnification",
                evidence: Evidence::Computed,
                limits: "elastic, in the plane of the bend, without stress concentration; pipe weight \
                         between tool joints left out",
            },
        }
    }
}
