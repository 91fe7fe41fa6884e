//! Tension, torsion and internal yield of a tube, and the four ratings together.

use super::collapse::{Collapse, collapse};
use super::error::TubeError;
use super::input::{MAX_STRESS, Quantity, positive};
use super::section::Section;
use super::wear::{Tube, WallOnDiameter};

/// The torsion coefficient of API RP 7G as printed, 0.096167 ft-lb per (psi·in³), made
/// dimensionless (× 12 in/ft): shear yield is 57.7 % of tensile yield.
const TORSION: f64 = 0.096167 * 12.0;

/// The ratings of a tube at one yield strength. SI units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ratings {
    /// Yield strength that they stand on, Pa.
    pub yield_strength: f64,
    /// Axial load at minimum yield, N.
    pub tension: f64,
    /// Torque at minimum torsional yield, N·m.
    pub torsion: f64,
    /// Internal pressure at minimum yield, Pa.
    pub internal_yield: f64,
    /// Minimum collapse pressure, without tension.
    pub collapse: Collapse,
}

impl Tube {
    /// Returns the four ratings for a yield strength, Pa.
    pub fn ratings(&self, yield_strength: f64) -> Result<Ratings, TubeError> {
        Ok(Ratings {
            yield_strength,
            tension: tension(&self.section, yield_strength)?,
            torsion: torsion(&self.section, yield_strength)?,
            internal_yield: internal_yield(self.internal_yield, yield_strength)?,
            collapse: collapse(self.collapse, yield_strength)?,
        })
    }
}

/// Returns the axial load at which the section yields, N: `P = Y A`.
///
/// Source: API RP 7G Appendix A (formula on public pages, published). Pull alone, no bending, no
/// torque, no pressure; the usual allowance is 0.9 of it
/// ([`hook_load_margin`](super::handling::hook_load_margin)).
pub fn tension(section: &Section, yield_strength: f64) -> Result<f64, TubeError> {
    let y = positive(Quantity::YieldStrength, yield_strength, MAX_STRESS)?;
    Ok(y * section.area)
}

/// Returns the torque at which the section yields, N·m: `Q = 0.096167 J Y / D` in ft-lb, in, psi.
///
/// Source: API RP 7G Appendix A (0.096167 is 0.577/6; that shear yield is 57.7 % of tensile yield
/// was read, published; the coefficient's last digit reproduces the tables). Torque alone.
pub fn torsion(section: &Section, yield_strength: f64) -> Result<f64, TubeError> {
    let y = positive(Quantity::YieldStrength, yield_strength, MAX_STRESS)?;
    Ok(TORSION * section.polar_inertia * y / section.od)
}

/// Returns the internal pressure at which a wall yields, Pa: Barlow, `2 Y t / D`.
///
/// Source: API RP 7G Appendix A, factor k per class in the wall (see
/// [`TubeClass::internal_yield_factor`](super::wear::TubeClass::internal_yield_factor));
/// published. Thin-wall formula, conservative for the walls of drill pipe; the body only, not the
/// connection's seal.
pub fn internal_yield(tube: WallOnDiameter, yield_strength: f64) -> Result<f64, TubeError> {
    let y = positive(Quantity::YieldStrength, yield_strength, MAX_STRESS)?;
    Ok(2.0 * y * tube.wall / tube.od)
}

#[cfg(test)]
mod tests {
    use super::super::grade::Grade;
    use super::super::us::{FT_LBF, INCH, LBF, PSI};
    use super::super::wear::{Body, TubeClass, Wear};

    #[test]
    fn five_inch_e75_is_the_table() {
        let body = Body::new(5.0 * INCH, 0.362 * INCH).unwrap();
        let new = body
            .worn(Wear::Class(TubeClass::New))
            .unwrap()
            .ratings(Grade::E75.min_yield())
            .unwrap();
        assert!((new.tension / LBF - 395_595.0).abs() < 1.0);
        assert!((new.torsion / FT_LBF - 41_167.0).abs() < 1.0);
        let premium = body
            .worn(Wear::Class(TubeClass::Premium))
            .unwrap()
            .ratings(Grade::E75.min_yield())
            .unwrap();
        assert!((premium.internal_yield / PSI - 8_688.0).abs() < 1.0);
    }

    #[test]
    fn new_pipe_carries_the_mill_tolerance_and_measured_pipe_does_not() {
        let body = Body::new(5.0 * INCH, 0.362 * INCH).unwrap();
        let y = Grade::S135.min_yield();
        let new = body.worn(Wear::Class(TubeClass::New)).unwrap().ratings(y).unwrap();
        let worn = body.worn(Wear::Fraction(0.95)).unwrap().ratings(y).unwrap();
        assert!((new.internal_yield / PSI - 17_105.0).abs() < 1.0);
        assert!((worn.internal_yield / PSI - 18_571.0).abs() < 1.0);
        assert!(worn.tension < new.tension);
    }

    #[test]
    fn a_yield_that_is_no_yield_is_refused() {
        let tube =
            Body::new(5.0 * INCH, 0.362 * INCH).unwrap().worn(Wear::Class(TubeClass::New)).unwrap();
        for y in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(tube.ratings(y).is_err());
        }
    }
}
