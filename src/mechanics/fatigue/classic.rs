//! The classic fraction method's structure, as a check on ours.
//!
//! Hansford & Lubinski 1966 (SPE 1258) and API RP 7G 11 count, per dogleg, the turns that a joint
//! makes while it passes it, and add fractions of life. Their curves could not be read; what
//! carries over (recalled) is that turns are 60·rpm·length/ROP, so that a fraction is linear in rpm and
//! in 1/ROP, and that corrosion takes the stress that the same life allows down to 0.6.

use super::stress::StressAmplitude;

/// Turns of a joint while it passes a dogleg: `rpm` turns per minute, length of the dogleg (m),
/// rate of penetration (m/h).
pub fn turns_through(rpm: f64, length: f64, rate: f64) -> f64 {
    60.0 * rpm * length / rate
}

/// Scales a fraction read at one rotary speed and rate of penetration to others.
pub fn scaled_fraction(
    fraction: f64,
    (rpm, rate): (f64, f64),
    (reference_rpm, reference_rate): (f64, f64),
) -> f64 {
    fraction * (rpm / reference_rpm) * (reference_rate / rate)
}

/// The stress in air that does what this stress does in corrosive mud: divided by 0.6.
pub fn corrosive_equivalent(amplitude: StressAmplitude) -> StressAmplitude {
    StressAmplitude::from_pascals(amplitude.pascals() / crate::mechanics::bending::CORROSIVE_FACTOR)
}
