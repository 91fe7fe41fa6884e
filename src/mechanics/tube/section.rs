//! The ring: area and moments of a round tube.

use std::f64::consts::PI;

use super::error::TubeError;
use super::input::{MAX_DIAMETER, Quantity, not_negative, positive};

/// Section properties of a round tube. SI units.
///
/// Source: strength of materials; used by API RP 7G Appendix A. Check: a rental sheet prints area
/// 5.275 in², Z 5.708 in³, Zp 11.415 in³ for new 5 in 19.50 lb/ft and 4.154, 4.476, 8.953 for
/// Premium (published).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Section {
    pub od: f64,
    pub id: f64,
    pub wall: f64,
    /// Cross-section area of the metal, m².
    pub area: f64,
    /// Second moment of area about a diameter, I, m⁴.
    pub inertia: f64,
    /// Polar moment, J = 2 I, m⁴.
    pub polar_inertia: f64,
    /// Section modulus, Z = 2 I / D, m³.
    pub modulus: f64,
    /// Polar section modulus, Zp = 2 J / D, m³.
    pub polar_modulus: f64,
}

impl Section {
    /// Returns the section of a tube from its outside and inside diameters, m.
    ///
    /// A solid bar (inside diameter 0) is accepted.
    pub fn from_diameters(od: f64, id: f64) -> Result<Self, TubeError> {
        let od = positive(Quantity::OutsideDiameter, od, MAX_DIAMETER)?;
        let id = not_negative(Quantity::InsideDiameter, id, MAX_DIAMETER)?;
        if id >= od {
            return Err(TubeError::InsideOverOutside { id, od });
        }
        let (od2, id2) = (od * od, id * id);
        let inertia = PI / 64.0 * (od2 * od2 - id2 * id2);
        let polar_inertia = 2.0 * inertia;
        Ok(Self {
            od,
            id,
            wall: (od - id) / 2.0,
            area: PI / 4.0 * (od2 - id2),
            inertia,
            polar_inertia,
            modulus: 2.0 * inertia / od,
            polar_modulus: 2.0 * polar_inertia / od,
        })
    }

    /// Returns the section of a tube from its outside diameter and wall, m.
    pub fn from_wall(od: f64, wall: f64) -> Result<Self, TubeError> {
        let od = positive(Quantity::OutsideDiameter, od, MAX_DIAMETER)?;
        let wall = positive(Quantity::Wall, wall, MAX_DIAMETER)?;
        if wall > od / 2.0 {
            return Err(TubeError::WallOverHalfDiameter { wall, od });
        }
        Self::from_diameters(od, (od - 2.0 * wall).max(0.0))
    }
}

#[cfg(test)]
mod tests {
    use super::super::us::INCH;
    use super::*;

    #[test]
    fn a_solid_bar_has_the_textbook_moments() {
        let bar = Section::from_diameters(2.0, 0.0).unwrap();
        assert!((bar.area - PI).abs() < 1e-12);
        assert!((bar.inertia - PI / 4.0).abs() < 1e-12);
        assert!((bar.polar_modulus - PI / 2.0).abs() < 1e-12);
    }

    #[test]
    fn wall_and_diameters_describe_the_same_ring() {
        let a = Section::from_wall(5.0 * INCH, 0.362 * INCH).unwrap();
        let b = Section::from_diameters(5.0 * INCH, 4.276 * INCH).unwrap();
        assert!((a.area - b.area).abs() < 1e-15);
        assert!((a.wall - b.wall).abs() < 1e-15);
    }

    #[test]
    fn impossible_rings_are_named() {
        assert!(matches!(
            Section::from_diameters(0.1, 0.1),
            Err(TubeError::InsideOverOutside { .. })
        ));
        let thick = Section::from_wall(0.1, 0.051).unwrap_err();
        assert!(thick.to_string().contains("no bore is left"), "{thick}");
        assert!(Section::from_wall(f64::NAN, 0.01).is_err());
        assert!(Section::from_wall(0.1, -0.01).is_err());
        assert!(Section::from_diameters(0.1, -0.01).is_err());
        assert!(Section::from_wall(0.1, 0.05).is_ok(), "a bar is a tube without a bore");
    }
}
