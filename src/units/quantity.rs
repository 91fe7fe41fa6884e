//! A number with its unit, as someone wrote it.

use std::fmt;

use super::dimension::Dimension;
use super::rational::Rational;
use super::unit::{Unit, UnitError, examples};

/// A number with its unit. Keeps both as written; converts exactly.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Quantity {
    number: Rational,
    unit: Unit,
}

/// Splits `6 3/32 in` into the number and the unit.
pub fn split_number(text: &str) -> (&str, &str) {
    let text = text.trim();
    let mut end = 0;
    let bytes = text.as_bytes();
    for (i, c) in text.char_indices() {
        let part_of_number = match c {
            '0'..='9' | '.' => true,
            '+' | '-' => i == 0 || matches!(bytes.get(i - 1), Some(b'e' | b'E')) && end == i,
            // A space or slash belongs to the number only when a digit follows it.
            ' ' | '/' => {
                bytes[i + 1..].iter().find(|b| **b != b' ').is_some_and(u8::is_ascii_digit)
            }
            'e' | 'E' => {
                end == i
                    && i > 0
                    && match bytes.get(i + 1) {
                        Some(b'+' | b'-') => bytes.get(i + 2).is_some_and(u8::is_ascii_digit),
                        Some(b) => b.is_ascii_digit(),
                        None => false,
                    }
            }
            _ => false,
        };
        if !part_of_number {
            break;
        }
        end = i + c.len_utf8();
    }
    let (number, unit) = text.split_at(end);
    (number.trim(), unit.trim())
}

impl Quantity {
    /// Joins a number and a unit.
    pub const fn new(number: Rational, unit: Unit) -> Self {
        Self { number, unit }
    }

    /// Reads a quantity whose dimension the place demands: `6 3/32 in`, `155mm`, `82 %`.
    ///
    /// A plain number stands for itself; a number without a unit where one is needed is an error
    /// that says which units would do.
    pub fn parse(text: &str, wanted: Dimension) -> Result<Self, UnitError> {
        let (number, unit) = split_number(text);
        let value = Rational::parse(number)
            .ok_or_else(|| UnitError::NotANumber { text: text.trim().to_owned() })?;
        if unit.is_empty() && wanted != Dimension::NUMBER {
            return Err(UnitError::Missing {
                number: number.to_owned(),
                example: examples(wanted),
            });
        }
        let unit = Unit::parse(unit, wanted)?;
        let quantity = Self { number: value, unit };
        quantity.base().ok_or_else(|| UnitError::TooWide { text: text.trim().to_owned() })?;
        Ok(quantity)
    }

    /// The number as written.
    pub const fn number(&self) -> Rational {
        self.number
    }

    /// The unit as written.
    pub const fn unit(&self) -> &Unit {
        &self.unit
    }

    pub const fn dimension(&self) -> Dimension {
        self.unit.dimension()
    }

    /// Exact value in base units; `None` when too wide to hold.
    pub fn base(&self) -> Option<Rational> {
        self.unit.to_base(self.number)
    }

    /// Value in base units (metre, kilogram, second, degree, kelvin), nearest float.
    pub fn to_f64(&self) -> f64 {
        self.base().map_or(f64::NAN, Rational::to_f64)
    }
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.number)?;
        if !self.unit.symbol().is_empty() {
            write!(f, " {}", self.unit.symbol())?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn splits_number_from_unit() {
        for (text, number, unit) in [
            ("6 3/32 in", "6 3/32", "in"),
            ("155mm", "155", "mm"),
            ("8 deg/100ft", "8", "deg/100ft"),
            ("82%", "82", "%"),
            ("-1.5e3 N", "-1.5e3", "N"),
            ("12", "12", ""),
            ("in", "", "in"),
            ("5 1/2 in", "5 1/2", "in"),
            ("3 ft/h", "3", "ft/h"),
            ("2 years", "2", "years"),
        ] {
            assert_eq!(split_number(text), (number, unit), "{text}");
        }
    }

    #[test]
    fn converts_exactly() {
        let base = |t: &str, d| Quantity::parse(t, d).unwrap().base().unwrap();
        assert_eq!(base("6 3/32 in", Dimension::LENGTH), Rational::parse("0.15478125").unwrap());
        assert_eq!(base("3 deg/30m", Dimension::CURVATURE), Rational::parse("0.1").unwrap());
        assert_eq!(base("1500 h", Dimension::TIME), Rational::integer(5_400_000));
        assert_eq!(base("90 %", Dimension::NUMBER), Rational::parse("0.9").unwrap());
    }

    #[test]
    fn a_bare_number_is_told_what_it_lacks() {
        assert_eq!(
            Quantity::parse("8", Dimension::CURVATURE).unwrap_err().to_string(),
            "8 has no unit; write for example deg/100ft or deg/30m"
        );
        assert_eq!(
            Quantity::parse("eight in", Dimension::LENGTH).unwrap_err().to_string(),
            "'eight in' is not a number"
        );
    }

    proptest! {
        #[test]
        fn printing_reads_back(n in -1_000_000_000i64..1_000_000_000, d in 1i64..4096, unit in prop::sample::select(vec!["in", "mm", "ft", "m"])) {
            let number = Rational::new(i128::from(n), i128::from(d)).unwrap();
            let q = Quantity::new(number, Unit::parse(unit, Dimension::LENGTH).unwrap());
            prop_assert_eq!(Quantity::parse(&q.to_string(), Dimension::LENGTH).unwrap(), q);
        }

        #[test]
        fn conversion_there_and_back_is_exact(n in any::<i32>(), from in 0usize..4, to in 0usize..4) {
            const UNITS: [&str; 4] = ["in", "mm", "ft", "m"];
            let unit = |i: usize| Unit::parse(UNITS[i], Dimension::LENGTH).unwrap();
            let number = Rational::integer(i64::from(n));
            let base = unit(from).to_base(number).unwrap();
            let there = unit(to).from_base(base).unwrap();
            let back = unit(from).from_base(unit(to).to_base(there).unwrap()).unwrap();
            prop_assert_eq!(back, number);
        }

        #[test]
        fn soup_never_panics(text in "\\PC{0,40}") {
            let _ = Quantity::parse(&text, Dimension::LENGTH);
            let _ = Unit::meanings(&text);
        }
    }
}
