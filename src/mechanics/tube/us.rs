//! Exact factors between the US units of the published formulas and SI.
//!
//! Published ratings are in inches, pounds-force, psi and ft-lb, and their coefficients belong to
//! those units. Factors are exact by definition (international inch and pound, standard gravity),
//! so that a rating printed in the units of its table is the table's figure.

/// Metres in an inch, exact by definition.
pub const INCH: f64 = 0.0254;
/// Metres in a foot, exact by definition.
pub const FOOT: f64 = 0.3048;
/// Newtons in a pound-force, exact by definition (0.45359237 kg × 9.80665 m/s²).
pub const LBF: f64 = 4.4482216152605;
/// Kilograms in a pound, exact by definition.
pub const LB: f64 = 0.45359237;
/// Pascals in a pound-force per square inch.
pub const PSI: f64 = LBF / (INCH * INCH);
/// Pascals in a thousand psi.
pub const KSI: f64 = 1000.0 * PSI;
/// Newton metres in a foot pound-force.
pub const FT_LBF: f64 = FOOT * LBF;
/// Kilograms per metre in a pound per foot.
pub const LB_PER_FT: f64 = LB / FOOT;

/// A length (m) as people of both worlds read it: `5.000 in (127.00 mm)`.
pub(crate) fn length_text(metres: f64) -> String {
    format!("{:.3} in ({:.2} mm)", metres / INCH, metres * 1e3)
}

/// A torque (N·m) the same way: `30,000 ft-lb (40.67 kN·m)`, without the comma.
pub(crate) fn torque_text(newton_metres: f64) -> String {
    format!("{:.0} ft-lb ({:.2} kN·m)", newton_metres / FT_LBF, newton_metres * 1e-3)
}
