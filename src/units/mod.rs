//! Dimensions, units with exact factors, parsing and printing of quantities.
//!
//! Owns what a number with a unit means, and one spelling of it for files, filters and screens.
//! Knows nothing of drilling.

mod dimension;
mod measure;
mod quantity;
mod rational;
mod unit;

pub use dimension::Dimension;
pub use measure::{Measure, UnitSystem};
pub use quantity::{Quantity, split_number};
pub use rational::Rational;
pub use unit::{Unit, UnitError, examples};
