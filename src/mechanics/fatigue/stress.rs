//! Stress amplitude and stress range as types, so that neither they nor their units get mixed.
//!
//! A rotating pipe in a bend sees σb and −σb once a turn: amplitude σb, range 2σb. Classic
//! drill-pipe limits are amplitudes in psi, S–N curves of the standards are ranges in MPa.

/// Half the difference of highest and lowest stress of a cycle.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct StressAmplitude(f64);

/// Difference of highest and lowest stress of a cycle.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct StressRange(f64);

impl StressAmplitude {
    pub fn from_pascals(value: f64) -> Self {
        Self(value)
    }

    pub fn pascals(self) -> f64 {
        self.0
    }

    /// The range of the same cycle: twice the amplitude.
    pub fn range(self) -> StressRange {
        StressRange(2.0 * self.0)
    }
}

impl StressRange {
    pub fn from_megapascals(value: f64) -> Self {
        Self(value * 1e6)
    }

    pub fn megapascals(self) -> f64 {
        self.0 * 1e-6
    }

    pub fn pascals(self) -> f64 {
        self.0
    }
}
