//! Quantities of the command line: any unit of their kind, none without one.

use crate::cli::failure::{Failure, usage};
use crate::units::{Measure, Quantity};

/// Reads a quantity in base units (metre, kilogram, second, degree, kelvin).
pub(super) fn quantity(flag: &str, text: &str, measure: Measure) -> Result<f64, Failure> {
    let value = Quantity::parse(text, measure.dimension())
        .map_err(|e| usage(format!("{flag}: {e}")))?
        .to_f64();
    if value.is_finite() { Ok(value) } else { Err(usage(format!("{flag}: '{text}' is too large"))) }
}

/// Reads a quantity that may not be there.
pub(in crate::cli) fn maybe(
    flag: &str,
    text: Option<&str>,
    measure: Measure,
) -> Result<Option<f64>, Failure> {
    text.map(|t| quantity(flag, t, measure)).transpose()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_without_a_unit_is_told_which_would_do() {
        let metres = quantity("--od", "6 5/8 in", Measure::Diameter).unwrap();
        assert!((metres - 0.168_275).abs() < 1e-12);
        assert!(
            (quantity("--tension", "150 klbf", Measure::LoadRating).unwrap() - 667_233.2).abs()
                < 0.1
        );
        for (text, part) in
            [("5", "has no unit"), ("5 ksi", "a length"), ("five in", "not a number")]
        {
            let failure = quantity("--od", text, Measure::Diameter).unwrap_err();
            let said = format!("{failure:?}");
            assert!(said.contains("--od: ") && said.contains(part), "{text}: {said}");
        }
    }
}
