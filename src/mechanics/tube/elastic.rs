//! Stretch, twist and free point.
//!
//! Source: Hooke's law; API RP 7G uses E = 30 × 10⁶ psi (published: a page that quotes its stretch
//! formula). Limits: elastic, uniform body; tool joints stretch and twist less, so a real string is
//! a little stiffer than its plain body.

use super::error::TubeError;
use super::input::{MAX_LENGTH, MAX_LOAD, MAX_STRESS, Quantity, bounded, not_negative, positive};
use super::section::Section;
use super::us::PSI;

/// Shear modulus of steel, 11.5 × 10⁶ psi, Pa (memory). A public guide uses 11.71 × 10⁶ psi for its
/// twist factors (published); state the one you use.
pub const SHEAR_STEEL: f64 = 11.5e6 * PSI;

/// Returns the stretch of a length (m) under a load (N), m: `P L / (E A)`.
///
/// Negative under compression.
pub fn stretch(section: &Section, young: f64, length: f64, load: f64) -> Result<f64, TubeError> {
    let e = positive(Quantity::Modulus, young, MAX_STRESS)?;
    let length = not_negative(Quantity::Length, length, MAX_LENGTH)?;
    let load = bounded(Quantity::Load, load, MAX_LOAD)?;
    Ok(load * length / (e * section.area))
}

/// Returns the twist per length under a torque (N·m), rad/m: `T / (G J)`.
pub fn twist_per_length(section: &Section, shear: f64, torque: f64) -> Result<f64, TubeError> {
    let g = positive(Quantity::Modulus, shear, MAX_STRESS)?;
    let torque = bounded(Quantity::Torque, torque, MAX_LOAD)?;
    Ok(torque / (g * section.polar_inertia))
}

/// Returns the free length above the stuck point, m: `E A Δe / ΔP`, from the extra stretch (m)
/// under an extra pull (N).
///
/// Source: Hooke's law; the free-point constant 2,500 A of public pages (published) is this with
/// E = 30 × 10⁶ psi. Limits: as for [`stretch`]; drag in an inclined hole holds pull back and makes
/// the free length look longer or shorter: take the mean of pulls and slack-offs.
pub fn free_length(
    section: &Section,
    young: f64,
    extra_stretch: f64,
    extra_pull: f64,
) -> Result<f64, TubeError> {
    let e = positive(Quantity::Modulus, young, MAX_STRESS)?;
    let stretch = not_negative(Quantity::Stretch, extra_stretch, MAX_LENGTH)?;
    // Less than a newton of extra pull is no pull test and would make the quotient run away.
    let pull = positive(Quantity::Pull, extra_pull, MAX_LOAD)?;
    Ok(e * section.area * stretch / pull)
}

#[cfg(test)]
mod tests {
    use super::super::us::INCH;
    use super::*;
    use crate::mechanics::constants::STEEL_YOUNG;

    fn five_inch() -> Section {
        Section::from_wall(5.0 * INCH, 0.362 * INCH).unwrap()
    }

    #[test]
    fn stretch_and_free_length_undo_each_other() {
        let s = five_inch();
        let e = stretch(&s, STEEL_YOUNG, 3000.0, 2.0e5).unwrap();
        let free = free_length(&s, STEEL_YOUNG, e, 2.0e5).unwrap();
        assert!((free - 3000.0).abs() < 1e-9);
        assert!(stretch(&s, STEEL_YOUNG, 3000.0, -2.0e5).unwrap() < 0.0);
    }

    #[test]
    fn impossible_inputs_are_refused() {
        let s = five_inch();
        assert!(free_length(&s, STEEL_YOUNG, 0.1, 0.0).is_err());
        assert!(stretch(&s, 0.0, 1.0, 1.0).is_err());
        assert!(twist_per_length(&s, SHEAR_STEEL, f64::NAN).is_err());
    }
}
