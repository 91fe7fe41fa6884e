//! Mean-stress rules: the fully reversed amplitude that does the same damage.
//!
//! Textbook forms (recalled): Goodman σa/(1 − σm/Su), Soderberg σa/(1 − σm/Sy), Gerber
//! σa/(1 − (σm/Su)²), Morrow σa/(1 − σm/σf'). Compression gives no benefit. The curves of
//! structural standards already contain the mean stress of welded details, and Lubinski's
//! permissible stresses are mean-stress rules in themselves: correcting twice is cautious, and said.

use super::stress::StressAmplitude;
use crate::mechanics::string::Material;

#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum MeanStress {
    None,
    /// Goodman, on ultimate strength.
    #[default]
    Goodman,
    /// Gerber, on ultimate strength.
    Gerber,
    /// Soderberg, on yield strength.
    Soderberg,
    /// Morrow, on true fracture strength (Pa).
    Morrow {
        /// True fracture strength, Pa.
        fracture_strength: f64,
    },
}

/// Least value of 1 − σm/S: a mean stress at or above the strength doesn't make damage infinite or
/// negative, it counts as a hundredfold stress (and is flagged by whoever asks).
pub const LEAST_RESERVE: f64 = 0.01;

/// What true fracture strength is above ultimate strength in steel, Pa: 345 MPa (50 ksi), a textbook
/// rule for steels under about 500 Brinell (recalled).
const FRACTURE_ABOVE_ULTIMATE: f64 = 345.0e6;

impl MeanStress {
    /// Morrow's rule for a steel whose fracture strength was not measured: ultimate strength and
    /// 345 MPa.
    pub fn morrow_for(material: &Material) -> Self {
        Self::Morrow { fracture_strength: material.ultimate_strength + FRACTURE_ABOVE_ULTIMATE }
    }

    pub const fn name(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::Goodman => "Goodman",
            Self::Gerber => "Gerber",
            Self::Soderberg => "Soderberg",
            Self::Morrow { .. } => "Morrow",
        }
    }

    /// The rule as 1 − (linear·σm + square·σm²): its two factors for a material, 1/Pa and 1/Pa².
    pub fn factors(self, material: &Material) -> (f64, f64) {
        match self {
            Self::None => (0.0, 0.0),
            Self::Goodman => (1.0 / material.ultimate_strength, 0.0),
            Self::Soderberg => (1.0 / material.yield_strength, 0.0),
            Self::Morrow { fracture_strength } => (1.0 / fracture_strength, 0.0),
            Self::Gerber => (0.0, 1.0 / (material.ultimate_strength * material.ultimate_strength)),
        }
    }

    /// Fully reversed amplitude that does the same damage as this amplitude about a mean stress (Pa).
    pub fn equivalent(
        self,
        amplitude: StressAmplitude,
        mean: f64,
        material: &Material,
    ) -> StressAmplitude {
        let (linear, square) = self.factors(material);
        let m = mean.max(0.0);
        let reserve = (1.0 - m * (linear + square * m)).max(LEAST_RESERVE);
        StressAmplitude::from_pascals(amplitude.pascals() / reserve)
    }
}
