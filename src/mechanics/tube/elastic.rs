//! Stretch, twist and free point.
//!
//! Source: Hooke's law; API RP 7G uses E = 30 × 10⁶ psi (published: a page that quotes its stretch
//! formula). Limits: elastic, uniform body; tool joints stretch and twist less, so a real string is
//! a little stiffer than its plain body.

use super::error::TubeError;
use super::input::{InputError, MAX_LENGTH, MAX_LOAD, MAX_NUMBER, MAX_STRESS, Quantity, bounded};
use super::input::{not_negative, positive};
use super::section::Section;
use super::us::{FOOT, INCH, LB_PER_FT, LBF, PSI};

/// Young's modulus of steel in the published formulas, 30 × 10⁶ psi, Pa.
pub const YOUNG_STEEL: f64 = 30.0e6 * PSI;
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

/// Returns the stretch by the rounded formula of API RP 7G, m: `e = L T / (735,000 W)` in inches,
/// feet, pounds, with W the weight of the **plain body**, lb/ft; here in SI (m, N, kg/m).
///
/// Source: a page that quotes RP 7G (published). Its worked example puts the assembled weight in
/// (8,500 ft, 230,000 lb, 23.52 lb/ft → 113.1 in) and so falls 24 % short: by the formula's own
/// derivation (A = W/3.4) W is the plain-end weight.
pub fn stretch_by_weight(plain_mass: f64, length: f64, load: f64) -> Result<f64, InputError> {
    let w = positive(Quantity::LinearMass, plain_mass, MAX_NUMBER)? / LB_PER_FT;
    let length = not_negative(Quantity::Length, length, MAX_LENGTH)? / FOOT;
    let load = bounded(Quantity::Load, load, MAX_LOAD)? / LBF;
    Ok(length * load / (735_000.0 * w) * INCH)
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

/// Returns the free length by the rounded formula of API RP 7G, m: `735,294 e W / ΔP` in inches,
/// lb/ft, pounds, with W the weight of the **plain body**; here in SI (kg/m, m, N).
///
/// Source: a public page on the free-point formula (published).
pub fn free_length_by_weight(
    plain_mass: f64,
    extra_stretch: f64,
    extra_pull: f64,
) -> Result<f64, InputError> {
    let w = positive(Quantity::LinearMass, plain_mass, MAX_NUMBER)? / LB_PER_FT;
    let stretch = not_negative(Quantity::Stretch, extra_stretch, MAX_LENGTH)? / INCH;
    let pull = positive(Quantity::Pull, extra_pull, MAX_LOAD)? / LBF;
    Ok(735_294.0 * stretch * w / pull * FOOT)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn five_inch() -> Section {
        Section::from_wall(5.0 * INCH, 0.362 * INCH).unwrap()
    }

    #[test]
    fn stretch_and_free_length_undo_each_other() {
        let s = five_inch();
        let e = stretch(&s, YOUNG_STEEL, 3000.0, 2.0e5).unwrap();
        let free = free_length(&s, YOUNG_STEEL, e, 2.0e5).unwrap();
        assert!((free - 3000.0).abs() < 1e-9);
        assert!(stretch(&s, YOUNG_STEEL, 3000.0, -2.0e5).unwrap() < 0.0);
    }

    #[test]
    fn the_rounded_formula_lies_within_a_thousandth_of_hooke() {
        let s = five_inch();
        // 3.4 lb/ft per square inch of steel is how RP 7G turns weight into area.
        let plain = s.area / (INCH * INCH) * 3.4 * LB_PER_FT;
        let a = stretch(&s, YOUNG_STEEL, 2000.0, 5.0e5).unwrap();
        let b = stretch_by_weight(plain, 2000.0, 5.0e5).unwrap();
        assert!((a / b - 1.0).abs() < 1e-3, "{a} {b}");
    }

    #[test]
    fn impossible_inputs_are_refused() {
        let s = five_inch();
        assert!(free_length(&s, YOUNG_STEEL, 0.1, 0.0).is_err());
        assert!(stretch(&s, 0.0, 1.0, 1.0).is_err());
        assert!(twist_per_length(&s, SHEAR_STEEL, f64::NAN).is_err());
        assert!(stretch_by_weight(0.0, 1.0, 1.0).is_err());
        assert!(free_length_by_weight(26.0, 0.1, -1.0).is_err());
    }
}
