//! From nominal dimensions and a state of wear to the dimensions that each rating uses.

use super::error::TubeError;
use super::input::{MAX_DIAMETER, Quantity, positive};
use super::section::Section;
use super::sizes::NominalSize;

/// The remaining-wall classes of the API RP 7G rating tables.
///
/// Source: API RP 7G 16th edition, Tables 2–7 and 24: uniform outside wear, all dimensions from
/// nominal. That the tables are built so is proved by published figures: sixteen twist factors of
/// new and Premium pipe reproduce to the last digit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum TubeClass {
    /// Nominal wall; internal yield carries the 12.5 % mill tolerance.
    New,
    /// 80 % of nominal wall.
    Premium,
    /// 70 % of nominal wall.
    Class2,
}

impl TubeClass {
    /// The classes from the best down.
    pub const ALL: [Self; 3] = [Self::New, Self::Premium, Self::Class2];

    /// Returns the fraction of nominal wall that the class's ratings assume.
    pub const fn remaining_wall(self) -> f64 {
        match self {
            Self::New => 1.0,
            Self::Premium => 0.80,
            Self::Class2 => 0.70,
        }
    }

    /// Returns the factor k of the internal-yield formula `2 Y k t / D` on nominal dimensions.
    ///
    /// 0.875 for new pipe is the mill tolerance on wall; worn classes use the wall that remains,
    /// so that a new tube rates *below* one with 95 % of its wall measured. Source: one-page
    /// DS-1 formula sheet (published); reproduced by a rental sheet: 17,105 psi new against
    /// 18,571 psi at 95 % for 5 in 19.50 S-135 (published).
    pub const fn internal_yield_factor(self) -> f64 {
        match self {
            Self::New => 0.875,
            Self::Premium => 0.80,
            Self::Class2 => 0.70,
        }
    }

    /// The name as the standard writes it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::New => "New",
            Self::Premium => "Premium",
            Self::Class2 => "Class 2",
        }
    }
}

impl std::fmt::Display for TubeClass {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.name())
    }
}

/// How the wall was lost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Wear {
    /// A class of the rating tables: uniform outside wear down to its fraction of nominal wall.
    Class(TubeClass),
    /// Uniform outside wear down to this fraction of nominal wall: 0.95 for 95 %, 0.875 for the
    /// Critical service class of ISO 10407-2.
    Fraction(f64),
    /// Measured wall, about equal round the ring, m; and the measured outside diameter if there
    /// is one. Without it the bore is taken as nominal, so that all wear is outside.
    Uniform {
        /// Wall that remains, m.
        wall: f64,
        /// Measured outside diameter, m.
        od: Option<f64>,
    },
    /// Wear on one side: the smallest wall of the ring, m; and the largest measured outside
    /// diameter if there is one.
    Eccentric {
        /// Smallest wall of the ring, m.
        minimum_wall: f64,
        /// Largest measured outside diameter, m.
        od: Option<f64>,
    },
}

/// Nominal dimensions of a tube, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Body {
    od: f64,
    wall: f64,
}

/// A wall on a diameter: what one pressure rating works with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WallOnDiameter {
    pub od: f64,
    pub wall: f64,
}

/// A tube in a state of wear, with the dimensions that each rating uses and why.
///
/// | wear | tension, torsion, bending | internal yield | collapse |
/// |---|---|---|---|
/// | class, fraction | bore nominal, wall `f t`, `D = d + 2 f t` | nominal D, `k t` | worn D and wall |
/// | uniform, measured | measured wall; D measured, else `d + 2 t` | the larger of nominal and measured D, measured wall | same as tension |
/// | eccentric, measured | smallest wall all round on the nominal bore (on the measured D if that is smaller) | the larger of nominal and measured D, smallest wall | largest measured D, else nominal D, with the smallest wall |
///
/// Eccentric wear is conservative in each column: metal beyond the smallest wall is not counted in
/// area and moments; internal yield takes the thinnest place at the widest diameter; collapse takes
/// the largest D/t. The out-of-roundness that wear on one side brings is **not** in the collapse
/// formula, which was fitted to new round pipe.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tube {
    pub nominal: Body,
    pub wear: Wear,
    /// Section for tension, torsion and bending.
    pub section: Section,
    /// Diameter and wall for internal yield; the wall has the factor k in it.
    pub internal_yield: WallOnDiameter,
    /// Diameter and wall for collapse.
    pub collapse: WallOnDiameter,
}

impl Body {
    /// Returns a body of these nominal dimensions, m.
    pub fn new(od: f64, wall: f64) -> Result<Self, TubeError> {
        let od = positive(Quantity::NominalOutsideDiameter, od, MAX_DIAMETER)?;
        let wall = positive(Quantity::NominalWall, wall, MAX_DIAMETER)?;
        // A bore has to be left, else neither wear nor a pressure rating has a meaning.
        if wall >= od / 2.0 {
            return Err(TubeError::WallOverHalfDiameter { wall, od });
        }
        Ok(Self { od, wall })
    }

    /// Nominal outside diameter, m.
    pub const fn od(self) -> f64 {
        self.od
    }

    pub const fn wall(self) -> f64 {
        self.wall
    }

    /// Nominal bore, m: wear is outside, so the bore stays nominal unless a diameter says other.
    pub fn id(self) -> f64 {
        self.od - 2.0 * self.wall
    }

    /// Returns the tube in a state of wear.
    pub fn worn(self, wear: Wear) -> Result<Tube, TubeError> {
        match wear {
            Wear::Class(class) => self.worn_outside(
                wear,
                class.remaining_wall() * self.wall,
                class.internal_yield_factor() * self.wall,
            ),
            Wear::Fraction(fraction) => {
                // Above 1 the wall is thicker than nominal, which mill tolerance allows.
                let wall = positive(Quantity::RemainingFraction, fraction, 2.0)? * self.wall;
                self.worn_outside(wear, wall, wall)
            }
            Wear::Uniform { wall, od: None } => {
                let wall = positive(Quantity::Wall, wall, MAX_DIAMETER)?;
                self.worn_outside(wear, wall, wall)
            }
            Wear::Uniform { wall, od: Some(od) } => {
                let section = bored(od, wall)?;
                Ok(Tube {
                    nominal: self,
                    wear,
                    section,
                    internal_yield: WallOnDiameter { od: self.od.max(od), wall },
                    collapse: WallOnDiameter { od, wall },
                })
            }
            Wear::Eccentric { minimum_wall, od } => {
                let wall = positive(Quantity::Wall, minimum_wall, MAX_DIAMETER)?;
                let ring = self.id() + 2.0 * wall;
                let widest = od.unwrap_or(self.od);
                // A gauged diameter below the ring (necked, crushed) is the smaller section.
                let section = bored(od.map_or(ring, |od| od.min(ring)), wall)?;
                bored(widest, wall)?;
                Ok(Tube {
                    nominal: self,
                    wear,
                    section,
                    internal_yield: WallOnDiameter { od: self.od.max(widest), wall },
                    collapse: WallOnDiameter { od: widest, wall },
                })
            }
        }
    }

    fn worn_outside(self, wear: Wear, wall: f64, burst_wall: f64) -> Result<Tube, TubeError> {
        let od = self.id() + 2.0 * wall;
        Ok(Tube {
            nominal: self,
            wear,
            section: Section::from_diameters(od, self.id())?,
            internal_yield: WallOnDiameter { od: self.od, wall: burst_wall },
            collapse: WallOnDiameter { od, wall },
        })
    }
}

/// A section that still has a bore.
fn bored(od: f64, wall: f64) -> Result<Section, TubeError> {
    let section = Section::from_wall(od, wall)?;
    if section.id > 0.0 { Ok(section) } else { Err(TubeError::WallOverHalfDiameter { wall, od }) }
}

impl From<&NominalSize> for Body {
    fn from(size: &NominalSize) -> Self {
        Self { od: size.od(), wall: size.wall() }
    }
}

impl From<NominalSize> for Body {
    fn from(size: NominalSize) -> Self {
        Self::from(&size)
    }
}

#[cfg(test)]
mod tests {
    use super::super::us::INCH;
    use super::*;

    fn five_inch() -> Body {
        Body::new(5.0 * INCH, 0.362 * INCH).unwrap()
    }

    #[test]
    fn a_class_wears_the_outside_and_keeps_the_bore() {
        let premium = five_inch().worn(Wear::Class(TubeClass::Premium)).unwrap();
        assert!((premium.section.id / INCH - 4.276).abs() < 1e-12);
        assert!((premium.section.od / INCH - 4.8552).abs() < 1e-12);
        assert!((premium.internal_yield.od / INCH - 5.0).abs() < 1e-12);
        assert!((premium.internal_yield.wall / INCH - 0.2896).abs() < 1e-12);
        assert!((premium.collapse.od - premium.section.od).abs() < 1e-15);
    }

    #[test]
    fn a_measured_wall_equal_to_the_class_wall_is_the_class() {
        let body = five_inch();
        let by_class = body.worn(Wear::Class(TubeClass::Class2)).unwrap();
        let by_wall = body.worn(Wear::Uniform { wall: 0.7 * body.wall(), od: None }).unwrap();
        assert_eq!(by_class.section, by_wall.section);
        assert_eq!(by_class.collapse, by_wall.collapse);
        assert_eq!(by_class.internal_yield, by_wall.internal_yield);
    }

    #[test]
    fn eccentric_wear_never_rates_above_uniform_wear_of_the_same_wall() {
        let body = five_inch();
        let wall = 0.29 * INCH;
        let uniform = body.worn(Wear::Uniform { wall, od: None }).unwrap();
        for od in [None, Some(4.95 * INCH), Some(4.8 * INCH)] {
            let eccentric = body.worn(Wear::Eccentric { minimum_wall: wall, od }).unwrap();
            assert!(eccentric.section.area <= uniform.section.area * (1.0 + 1e-12));
            assert!(
                eccentric.section.polar_modulus <= uniform.section.polar_modulus * (1.0 + 1e-12)
            );
            assert!(eccentric.internal_yield.wall <= uniform.internal_yield.wall);
        }
        let unmeasured = body.worn(Wear::Eccentric { minimum_wall: wall, od: None }).unwrap();
        assert!(
            unmeasured.collapse.od / unmeasured.collapse.wall
                > uniform.collapse.od / uniform.collapse.wall
        );
    }

    #[test]
    fn impossible_wear_is_refused() {
        let body = five_inch();
        assert!(body.worn(Wear::Fraction(0.0)).is_err());
        assert!(body.worn(Wear::Fraction(f64::NAN)).is_err());
        assert!(body.worn(Wear::Uniform { wall: 3.0 * INCH, od: Some(5.0 * INCH) }).is_err());
        assert!(body.worn(Wear::Uniform { wall: 2.5 * INCH, od: Some(5.0 * INCH) }).is_err());
        assert!(body.worn(Wear::Eccentric { minimum_wall: -0.1, od: None }).is_err());
        assert!(Body::new(5.0 * INCH, 2.5 * INCH).is_err());
        assert!(Body::new(5.0 * INCH, 2.6 * INCH).is_err());
    }
}
