//! The nominal sizes of API drill pipe as data, with look-ups that name the nearest size.
//!
//! Source: API Spec 5D / 5DP and API RP 7G Table 1. Ten sizes were read on public pages and makers'
//! sheets (`published`); the other walls are recalled (`memory`). Of those, all but 4 1/2 in 24.66 and
//! 25.50, 5 7/8 in 23.40 and 26.30 and 6 5/8 in 27.70 are pinned by published tensile loads, which
//! they reproduce to the last digit (`tests/reference/pipe_body_ratings.csv`).

use super::evidence::Evidence;
use super::input::{InputError, MAX_DIAMETER, MAX_NUMBER, Quantity, not_negative, positive};
use super::us::{INCH, LB_PER_FT};

/// One line of the size table. Kept in the inches and lb/ft of the standard, read in SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NominalSize {
    od_in: f64,
    weight_lb_ft: f64,
    wall_in: f64,
    /// Whether the line was read or recalled.
    pub evidence: Evidence,
}

impl NominalSize {
    pub fn od(&self) -> f64 {
        self.od_in * INCH
    }

    /// Nominal weight, kg/m: a designation of the size (with threads and couplings of old), not
    /// the mass of the body or of a joint.
    pub fn weight(&self) -> f64 {
        self.weight_lb_ft * LB_PER_FT
    }

    pub fn wall(&self) -> f64 {
        self.wall_in * INCH
    }

    /// Outside diameter in the inches of the standard.
    pub const fn od_inches(&self) -> f64 {
        self.od_in
    }

    /// Nominal weight in the lb/ft of the standard.
    pub const fn weight_lb_per_ft(&self) -> f64 {
        self.weight_lb_ft
    }

    /// Wall in the inches of the standard.
    pub const fn wall_inches(&self) -> f64 {
        self.wall_in
    }
}

impl std::fmt::Display for NominalSize {
    /// Writes the size as the trade names it: `5 in 19.50 lb/ft (wall 0.362 in)`.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} in {:.2} lb/ft (wall {:.3} in)", self.od_in, self.weight_lb_ft, self.wall_in)
    }
}

const fn size(od_in: f64, weight_lb_ft: f64, wall_in: f64, evidence: Evidence) -> NominalSize {
    NominalSize { od_in, weight_lb_ft, wall_in, evidence }
}

use Evidence::{Memory, Published};

/// The sizes in order of outside diameter and weight.
pub const SIZES: [NominalSize; 27] = [
    size(2.375, 4.85, 0.190, Memory),
    size(2.375, 6.65, 0.280, Memory),
    size(2.875, 6.85, 0.217, Memory),
    size(2.875, 10.40, 0.362, Memory),
    size(3.5, 9.50, 0.254, Memory),
    size(3.5, 13.30, 0.368, Published),
    size(3.5, 15.50, 0.449, Published),
    size(4.0, 11.85, 0.262, Memory),
    size(4.0, 14.00, 0.330, Memory),
    size(4.0, 15.70, 0.380, Memory),
    size(4.5, 13.75, 0.271, Published),
    size(4.5, 16.60, 0.337, Published),
    size(4.5, 20.00, 0.430, Published),
    size(4.5, 22.82, 0.500, Memory),
    size(4.5, 24.66, 0.550, Memory),
    size(4.5, 25.50, 0.575, Memory),
    size(5.0, 16.25, 0.296, Published),
    size(5.0, 19.50, 0.362, Published),
    size(5.0, 25.60, 0.500, Published),
    size(5.5, 19.20, 0.304, Memory),
    size(5.5, 21.90, 0.361, Published),
    size(5.5, 24.70, 0.415, Memory),
    size(5.875, 23.40, 0.361, Memory),
    size(5.875, 26.30, 0.415, Memory),
    size(5.875, 28.70, 0.500, Published),
    size(6.625, 25.20, 0.330, Memory),
    size(6.625, 27.70, 0.362, Memory),
];

/// How far a given value may lie from the standard's and still mean it. SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SizeTolerance {
    /// On the outside diameter, m.
    pub od: f64,
    /// On the nominal weight, kg/m.
    pub weight: f64,
    /// On the nominal wall, m.
    pub wall: f64,
}

impl Default for SizeTolerance {
    /// 0.02 in on diameter, 0.15 lb/ft on weight, 0.005 in on wall: wide enough for values rounded
    /// to a tenth of a millimetre or of a pound, narrower than half the gap between sizes.
    fn default() -> Self {
        Self { od: 0.02 * INCH, weight: 0.15 * LB_PER_FT, wall: 0.005 * INCH }
    }
}

/// A size that the standard does not list; names the nearest that it does.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum SizeError {
    /// A value that is no number or no possible value.
    #[error(transparent)]
    Input(#[from] InputError),
    /// No size of that diameter.
    #[error(
        "no API drill pipe has an outside diameter of {:.2} mm ({:.3} in); the nearest is {nearest}",
        od * 1e3,
        od / INCH
    )]
    NoSuchDiameter {
        /// The diameter asked for, m.
        od: f64,
        /// The size of the nearest diameter.
        nearest: NominalSize,
    },
    /// No size of that weight in that diameter.
    #[error(
        "no API drill pipe of that diameter has a nominal weight of {:.2} kg/m ({:.2} lb/ft); \
         the nearest is {nearest}",
        weight,
        weight / LB_PER_FT
    )]
    NoSuchWeight {
        /// The weight asked for, kg/m.
        weight: f64,
        /// The size of the nearest weight in that diameter.
        nearest: NominalSize,
    },
    /// No size of that wall in that diameter.
    #[error(
        "no API drill pipe of that diameter has a nominal wall of {:.2} mm ({:.3} in); \
         the nearest is {nearest}",
        wall * 1e3,
        wall / INCH
    )]
    NoSuchWall {
        /// The wall asked for, m.
        wall: f64,
        /// The size of the nearest wall in that diameter.
        nearest: NominalSize,
    },
}

/// Returns the sizes of an outside diameter (m), lightest first.
pub fn of_diameter(
    od: f64,
    tolerance: SizeTolerance,
) -> Result<impl Iterator<Item = &'static NominalSize>, SizeError> {
    let od = positive(Quantity::OutsideDiameter, od, MAX_DIAMETER)?;
    let tolerance = not_negative(Quantity::Tolerance, tolerance.od, MAX_DIAMETER)?;
    let nearest = nearest(SIZES.iter(), NominalSize::od, od);
    if (nearest.od() - od).abs() > tolerance {
        return Err(SizeError::NoSuchDiameter { od, nearest: *nearest });
    }
    let found = nearest.od_in.to_bits();
    Ok(SIZES.iter().filter(move |s| s.od_in.to_bits() == found))
}

/// Returns the size of an outside diameter (m) and nominal weight (kg/m).
pub fn by_weight(
    od: f64,
    weight: f64,
    tolerance: SizeTolerance,
) -> Result<&'static NominalSize, SizeError> {
    let of_od = of_diameter(od, tolerance)?;
    let weight = positive(Quantity::LinearMass, weight, MAX_NUMBER)?;
    let within = not_negative(Quantity::Tolerance, tolerance.weight, MAX_NUMBER)?;
    let nearest = nearest(of_od, NominalSize::weight, weight);
    if (nearest.weight() - weight).abs() > within {
        return Err(SizeError::NoSuchWeight { weight, nearest: *nearest });
    }
    Ok(nearest)
}

/// Returns the size of an outside diameter (m) and nominal wall (m).
pub fn by_wall(
    od: f64,
    wall: f64,
    tolerance: SizeTolerance,
) -> Result<&'static NominalSize, SizeError> {
    let of_od = of_diameter(od, tolerance)?;
    let wall = positive(Quantity::NominalWall, wall, MAX_DIAMETER)?;
    let within = not_negative(Quantity::Tolerance, tolerance.wall, MAX_DIAMETER)?;
    let nearest = nearest(of_od, NominalSize::wall, wall);
    if (nearest.wall() - wall).abs() > within {
        return Err(SizeError::NoSuchWall { wall, nearest: *nearest });
    }
    Ok(nearest)
}

fn nearest(
    sizes: impl Iterator<Item = &'static NominalSize>,
    of: impl Fn(&NominalSize) -> f64,
    wanted: f64,
) -> &'static NominalSize {
    sizes
        .min_by(|a, b| (of(a) - wanted).abs().total_cmp(&(of(b) - wanted).abs()))
        .unwrap_or(&SIZES[0])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_size_is_found_by_its_weight_and_by_its_wall() {
        let tol = SizeTolerance::default();
        for size in &SIZES {
            assert_eq!(by_weight(size.od(), size.weight(), tol).unwrap(), size);
            assert_eq!(by_wall(size.od(), size.wall(), tol).unwrap(), size);
        }
    }

    #[test]
    fn sizes_stand_in_order_and_apart() {
        for pair in SIZES.windows(2) {
            let [a, b] = [pair[0], pair[1]];
            assert!(
                a.od_in < b.od_in || (a.weight_lb_ft < b.weight_lb_ft && a.wall_in < b.wall_in),
                "{a} before {b}"
            );
        }
    }

    #[test]
    fn metric_roundings_of_the_trade_are_understood() {
        let tol = SizeTolerance::default();
        let size = by_weight(0.127, 29.02, tol).unwrap();
        assert_eq!(size.to_string(), "5 in 19.50 lb/ft (wall 0.362 in)");
        assert_eq!(by_wall(0.1397, 0.00917, tol).unwrap().to_string(), SIZES[20].to_string());
        assert_eq!(of_diameter(0.1143, tol).unwrap().count(), 6);
    }

    #[test]
    fn a_miss_names_the_nearest() {
        let tol = SizeTolerance::default();
        let od = by_weight(0.130, 29.0, tol).unwrap_err().to_string();
        assert!(od.contains("130.00 mm (5.118 in)") && od.contains("5 in 16.25"), "{od}");
        let weight = by_weight(0.127, 27.0, tol).unwrap_err().to_string();
        assert!(weight.contains("18.14 lb/ft") && weight.contains("5 in 19.50"), "{weight}");
        let wall = by_wall(0.127, 0.0105, tol).unwrap_err().to_string();
        assert!(wall.contains("10.50 mm") && wall.contains("0.362"), "{wall}");
        assert!(by_weight(f64::NAN, 29.0, tol).is_err());
        assert!(by_weight(0.127, -1.0, tol).is_err());
    }
}
