//! Miner's sum and the probability of crack initiation.
//!
//! D = Σ nᵢ/Nᵢ. At failure the sum is lognormal with mean 1.0 and coefficient of variation 0.3 (JCSS
//! Probabilistic Model Code; Wirsching), the curve itself scatters by its standard deviation of
//! log N. With D on a design curve (mean less two deviations):
//! p = Φ{[log₁₀ D − 2·SD − μ]/√(SD² + s²)}, s² = ln(1 + 0.3²)/ln² 10, μ = −½ ln(1.09)/ln 10.
//!
//! A damage fraction ranks joints better than it forecasts their life (field studies found models
//! of this kind several times off): treat it as a ranking index. An inspection that finds nothing
//! does not reset it; it bounds a crack.

use super::curves::{Basis, Curve};

/// Coefficient of variation of the Miner sum at failure.
const MINER_SCATTER: f64 = 0.3;

/// Probability that a crack has started at this damage on this curve. None where the curve has no
/// scatter. `with_miner_scatter` adds the scatter of the sum itself.
pub fn initiation_probability(damage: f64, curve: &Curve, with_miner_scatter: bool) -> Option<f64> {
    let scatter = curve.scatter?;
    if damage.is_nan() || damage < 0.0 {
        return None;
    }
    if damage == 0.0 {
        return Some(0.0);
    }
    let offset = if curve.basis == Basis::Design { 2.0 * scatter } else { 0.0 };
    let ln10 = core::f64::consts::LN_10;
    let (mean, variance) = if with_miner_scatter {
        let log_variance = libm::log1p(MINER_SCATTER * MINER_SCATTER);
        (-0.5 * log_variance / ln10, log_variance / (ln10 * ln10))
    } else {
        (0.0, 0.0)
    };
    let z = (libm::log10(damage) - offset - mean) / (scatter * scatter + variance).sqrt();
    Some(0.5 * libm::erfc(-z * core::f64::consts::FRAC_1_SQRT_2))
}
