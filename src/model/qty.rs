//! A quantity in an entry: exactly what was written, with its unit. The ledger hashes this text;
//! floats never reach it.

use std::fmt;

use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

use crate::units::{Measure, Quantity, Rational, Unit, UnitError, split_number};

/// A quantity as written, known to be readable.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Qty(String);

impl Qty {
    /// Takes a quantity as written, with its unit, for a place that holds `measure`.
    pub fn parse(text: &str, measure: Measure) -> Result<Self, UnitError> {
        Quantity::parse(text, measure.dimension())?;
        let (number, unit) = split_number(text);
        Ok(Self(if unit.is_empty() { number.to_owned() } else { format!("{number} {unit}") }))
    }

    /// Takes a number as written whose unit stands elsewhere (a column's header).
    pub fn with_unit(number: &str, unit: &Unit) -> Result<Self, UnitError> {
        let n = Rational::parse(number)
            .ok_or_else(|| UnitError::NotANumber { text: number.trim().to_owned() })?;
        unit.to_base(n).ok_or_else(|| UnitError::TooWide { text: number.trim().to_owned() })?;
        let (number, symbol) = (number.trim(), unit.symbol());
        Ok(Self(if symbol.is_empty() { number.to_owned() } else { format!("{number} {symbol}") }))
    }

    /// Writes a whole number of a measure's quanta, exactly, in a base unit of that measure.
    pub fn from_quanta(quanta: i64, measure: Measure, symbol: &str) -> Self {
        let unit = Unit::known(symbol, measure.dimension());
        let number = Rational::new(i128::from(quanta), i128::from(measure.quanta_per_base()))
            .and_then(|base| unit.from_base(base))
            .unwrap_or(Rational::ZERO);
        Self(if symbol.is_empty() { number.to_string() } else { format!("{number} {symbol}") })
    }

    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The quantity, read for a place that holds `measure`.
    pub fn quantity(&self, measure: Measure) -> Result<Quantity, UnitError> {
        Quantity::parse(&self.0, measure.dimension())
    }

    /// Whole quanta of a measure; `None` when of another kind or too large.
    pub fn stored(&self, measure: Measure) -> Option<i64> {
        self.quantity(measure).ok().and_then(|q| measure.store(&q))
    }

    /// Value in base units (metre, kilogram, second, degree); `None` when of another kind.
    pub fn base(&self, measure: Measure) -> Option<f64> {
        self.quantity(measure).ok().map(|q| q.to_f64())
    }
}

impl fmt::Display for Qty {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl Serialize for Qty {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.serialize_str(&self.0)
    }
}

impl<'de> Deserialize<'de> for Qty {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let text = String::deserialize(d)?;
        let (number, unit) = split_number(&text);
        if Rational::parse(number).is_none() {
            return Err(de::Error::custom(format!("'{text}' is not a quantity")));
        }
        Unit::meanings(unit).map_err(de::Error::custom)?;
        Ok(Self(text))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_what_was_written() {
        let od = Qty::parse(" 6 3/32 in ", Measure::Diameter).unwrap();
        assert_eq!(od.as_str(), "6 3/32 in");
        assert_eq!(od.stored(Measure::Diameter), Some(154_781_250));
        let wall = Qty::with_unit(".362", &Unit::known("in", Measure::Wall.dimension())).unwrap();
        assert_eq!(wall.as_str(), ".362 in");
        assert_eq!(wall.stored(Measure::Wall), Some(9_194_800));
        assert_eq!(wall.stored(Measure::Force), None);
    }

    #[test]
    fn quanta_are_written_exactly() {
        for quanta in [0, 1, 154_781_250, 123_456_789_012] {
            let q = Qty::from_quanta(quanta, Measure::Depth, "m");
            assert_eq!(q.stored(Measure::Depth), Some(quanta), "{q}");
        }
    }
}
