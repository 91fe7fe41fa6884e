//! Physical constants and conversions used by mechanics.

pub const GRAVITY: f64 = 9.80665;
/// Pascals in one pound-force per square inch.
pub const PASCALS_PER_PSI: f64 = 6_894.757_293_168_361;
/// Density of steel for buoyancy, kg/m³ (common practice; 65.5 lb/US gal is 7,849).
pub const STEEL_DENSITY: f64 = 7850.0;
/// Young's modulus of steel, Pa (30 million psi; API RP 7G).
pub const STEEL_YOUNG: f64 = 30.0e6 * PASCALS_PER_PSI;
