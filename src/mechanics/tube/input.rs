//! Guards at the door of every rating: a value that is no number, or no possible dimension, is a
//! typed error before any arithmetic, so that no rating is ever a NaN.

use std::fmt;

/// What a refused value was meant to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Quantity {
    OutsideDiameter,
    InsideDiameter,
    NominalOutsideDiameter,
    NominalWall,
    Wall,
    RemainingFraction,
    YieldStrength,
    AverageYield,
    Load,
    Torque,
    Pull,
    Stretch,
    Length,
    SlipLength,
    LateralLoadFactor,
    TaperAngle,
    Friction,
    CompoundFactor,
    Modulus,
    LinearMass,
    Factor,
    Stress,
    BevelDiameter,
    Counterbore,
    GrooveDiameter,
    BoreBackDiameter,
    TorsionalRatio,
    Step,
    Tolerance,
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::OutsideDiameter => "outside diameter",
            Self::InsideDiameter => "inside diameter",
            Self::NominalOutsideDiameter => "nominal outside diameter",
            Self::NominalWall => "nominal wall",
            Self::Wall => "wall",
            Self::RemainingFraction => "fraction of nominal wall that remains",
            Self::YieldStrength => "yield strength",
            Self::AverageYield => "average yield strength",
            Self::Load => "load",
            Self::Torque => "torque",
            Self::Pull => "differential pull",
            Self::Stretch => "differential stretch",
            Self::Length => "length",
            Self::SlipLength => "slip length",
            Self::LateralLoadFactor => "lateral load factor",
            Self::TaperAngle => "slip taper angle",
            Self::Friction => "friction coefficient",
            Self::CompoundFactor => "friction factor of the thread compound",
            Self::Modulus => "elastic modulus",
            Self::LinearMass => "mass per length",
            Self::Factor => "design factor",
            Self::Stress => "stress",
            Self::BevelDiameter => "bevel diameter",
            Self::Counterbore => "counterbore diameter",
            Self::GrooveDiameter => "relief groove diameter",
            Self::BoreBackDiameter => "bore-back diameter",
            Self::TorsionalRatio => "torsional ratio",
            Self::Step => "rounding step",
            Self::Tolerance => "tolerance",
        })
    }
}

/// What is wrong with a refused value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fault {
    NotFinite,
    /// Zero or less where only a positive value is possible.
    NotPositive,
    /// Below zero where zero is the least possible.
    Negative,
    /// Above anything that this program rates; usually a wrong unit.
    TooLarge {
        /// The largest value accepted, SI.
        limit: f64,
    },
}

/// A value that can't be what it is said to be. SI units.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub struct InputError {
    /// What the value was meant to be.
    pub quantity: Quantity,
    /// The value as given, SI.
    pub value: f64,
    /// What is wrong with it.
    pub fault: Fault,
}

impl fmt::Display for InputError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (q, v) = (self.quantity, self.value);
        match self.fault {
            Fault::NotFinite => write!(f, "{q}: {v} is not a number that can be rated"),
            Fault::NotPositive => write!(f, "{q}: {v} is not possible, it has to be above zero"),
            Fault::Negative => write!(f, "{q}: {v} is not possible, it has to be zero or more"),
            Fault::TooLarge { limit } => {
                write!(f, "{q}: {v} is above {limit} (SI units), is the unit right?")
            }
        }
    }
}

/// Largest length, m: nothing in a drill string is wider, and wrong units show up.
pub(crate) const MAX_DIAMETER: f64 = 2.0;
/// Largest length along the string, m.
pub(crate) const MAX_LENGTH: f64 = 100_000.0;
/// Largest stress or modulus, Pa.
pub(crate) const MAX_STRESS: f64 = 1.0e12;
/// Largest force or torque, N or N·m.
pub(crate) const MAX_LOAD: f64 = 1.0e10;
/// Largest plain number (factors, ratios).
pub(crate) const MAX_NUMBER: f64 = 1.0e6;
/// Smallest positive value that is told from zero; keeps quotients finite.
const TINY: f64 = 1.0e-9;

/// Passes a finite value above zero and at most `limit`.
pub(crate) fn positive(quantity: Quantity, value: f64, limit: f64) -> Result<f64, InputError> {
    let value = bounded(quantity, value, limit)?;
    if value < TINY {
        return Err(InputError { quantity, value, fault: Fault::NotPositive });
    }
    Ok(value)
}

/// Passes a finite value of zero or more and at most `limit`.
pub(crate) fn not_negative(quantity: Quantity, value: f64, limit: f64) -> Result<f64, InputError> {
    let value = bounded(quantity, value, limit)?;
    if value < 0.0 {
        return Err(InputError { quantity, value, fault: Fault::Negative });
    }
    Ok(value)
}

/// Passes a finite value of either sign with a magnitude of at most `limit`.
pub(crate) fn bounded(quantity: Quantity, value: f64, limit: f64) -> Result<f64, InputError> {
    if !value.is_finite() {
        return Err(InputError { quantity, value, fault: Fault::NotFinite });
    }
    if value.abs() > limit {
        return Err(InputError { quantity, value, fault: Fault::TooLarge { limit } });
    }
    Ok(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn guards_name_the_quantity_and_the_fault() {
        let nan = positive(Quantity::Wall, f64::NAN, 1.0).unwrap_err();
        assert_eq!(nan.fault, Fault::NotFinite);
        let zero = positive(Quantity::Wall, 0.0, 1.0).unwrap_err();
        assert_eq!(zero.to_string(), "wall: 0 is not possible, it has to be above zero");
        let minus = not_negative(Quantity::Load, -1.0, 10.0).unwrap_err();
        assert_eq!(minus.fault, Fault::Negative);
        let mm = positive(Quantity::OutsideDiameter, 127.0, MAX_DIAMETER).unwrap_err();
        assert!(mm.to_string().contains("is the unit right?"), "{mm}");
        assert!(not_negative(Quantity::Load, 0.0, 1.0).is_ok());
    }
}
