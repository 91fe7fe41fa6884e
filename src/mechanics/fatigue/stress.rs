//! Stress amplitude and stress range as types, so that neither they nor their units get mixed.
//!
//! A rotating pipe in a bend sees σb and −σb once a turn: amplitude σb, range 2σb. Classic
//! drill-pipe limits are amplitudes in psi, S–N curves of the standards are ranges in MPa.

use crate::mechanics::constants::PASCALS_PER_PSI;

/// Half the difference of highest and lowest stress of a cycle.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct StressAmplitude(f64);

/// Difference of highest and lowest stress of a cycle.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct StressRange(f64);

macro_rules! stress_units {
    ($name:ident) => {
        impl $name {
            /// From Pa.
            pub fn from_pascals(value: f64) -> Self {
                Self(value)
            }

            /// From MPa.
            pub fn from_megapascals(value: f64) -> Self {
                Self(value * 1e6)
            }

            /// From psi.
            pub fn from_psi(value: f64) -> Self {
                Self(value * PASCALS_PER_PSI)
            }

            /// In Pa.
            pub fn pascals(self) -> f64 {
                self.0
            }

            /// In MPa.
            pub fn megapascals(self) -> f64 {
                self.0 * 1e-6
            }

            /// In psi.
            pub fn psi(self) -> f64 {
                self.0 / PASCALS_PER_PSI
            }
        }
    };
}

stress_units!(StressAmplitude);
stress_units!(StressRange);

impl StressAmplitude {
    /// The range of the same cycle: twice the amplitude.
    pub fn range(self) -> StressRange {
        StressRange(2.0 * self.0)
    }
}

impl StressRange {
    /// The amplitude of the same cycle: half the range.
    pub fn amplitude(self) -> StressAmplitude {
        StressAmplitude(0.5 * self.0)
    }
}
