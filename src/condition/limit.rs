//! One limit: a criterion, a class, a comparison, a number with what it is a part of, and the
//! source that stands beside every verdict that uses it.

use std::fmt;

use crate::mechanics::connection::ConnectionType;
use crate::mechanics::tube::Grade;
use crate::model::{Class, Component, Provenance, Vocabulary, WordError, fold, vocabulary};
use crate::units::{Dimension, Measure, Quantity, Rational};

use super::criterion::Criterion;
use super::table::TableProblem;
use super::words::Seal;

vocabulary!(
    /// How a value is held against a limit. Comparisons are exact.
    Comparison, "comparison", {
        /// `>=`.
        AtLeast = "at_least" [],
        /// `>`.
        Above = "above" [],
        /// `<=`.
        AtMost = "at_most" [],
        /// `<`.
        Below = "below" [],
        /// `none`: there must be none at all.
        Absent = "none" [],
        /// `=`: a nominal dimension.
        Equal = "equal" [],
    }
);

impl Comparison {
    /// Reads a sign or a word.
    pub fn parse(text: &str) -> Result<Self, WordError> {
        match text.trim() {
            ">=" | "≥" => Ok(Self::AtLeast),
            ">" => Ok(Self::Above),
            "<=" | "≤" => Ok(Self::AtMost),
            "<" => Ok(Self::Below),
            "=" => Ok(Self::Equal),
            word => Self::from_word(word),
        }
    }

    pub const fn sign(self) -> &'static str {
        match self {
            Self::AtLeast => ">=",
            Self::Above => ">",
            Self::AtMost => "<=",
            Self::Below => "<",
            Self::Absent => "none",
            Self::Equal => "=",
        }
    }

    /// Whether a value keeps the limit.
    pub fn holds(self, value: Rational, limit: Rational) -> bool {
        match self {
            Self::AtLeast => value >= limit,
            Self::Above => value > limit,
            Self::AtMost => value <= limit,
            Self::Below => value < limit,
            Self::Absent => value <= Rational::ZERO,
            Self::Equal => value == limit,
        }
    }

    /// True when a larger value is the safer one.
    pub const fn wants_more(self) -> bool {
        matches!(self, Self::AtLeast | Self::Above)
    }
}

/// What a limit is a part of, or what it is added to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Reference {
    /// Nominal wall of the body.
    NominalWall,
    /// Nominal outside diameter of the body.
    NominalOd,
    /// Mean wall beside a cut.
    AdjacentWall,
    /// Nominal outside diameter of the tool joint.
    JointOd,
    /// Width of the seal.
    SealWidth,
    /// One turn of a thread.
    Turn,
    /// Nominal value of the dimension itself.
    Nominal,
    /// Nominal depth of the box connection.
    BoxDepth,
}

impl Reference {
    const WORDS: [(Self, &'static str); 8] = [
        (Self::NominalWall, "nominal wall"),
        (Self::NominalOd, "nominal OD"),
        (Self::AdjacentWall, "average adjacent wall"),
        (Self::JointOd, "tool joint OD"),
        (Self::SealWidth, "seal width"),
        (Self::Turn, "a turn"),
        (Self::Nominal, "nominal"),
        (Self::BoxDepth, "box depth"),
    ];

    fn parse(text: &str) -> Option<Self> {
        let key = fold(text);
        Self::WORDS.iter().find(|(_, w)| fold(w) == key).map(|(r, _)| *r)
    }
}

impl fmt::Display for Reference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let word = Self::WORDS.iter().find(|(r, _)| r == self).map_or("", |(_, w)| w);
        f.write_str(word)
    }
}

/// What the number of a limit means.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Basis {
    /// A share of something; the number is 0.8 for 80 %.
    ShareOf(Reference),
    /// A length; the number is in nanometres.
    Length,
    /// A length over something; the number is in nanometres.
    Over(Reference),
    Ratio,
    Count,
}

impl Basis {
    /// Reads a unit as the limits table writes it: `% of nominal wall`, `in`, `in over nominal`,
    /// `ratio`, `count`. Gives the basis and, for lengths, the unit.
    fn parse(text: &str) -> Result<(Self, Option<&str>), TableProblem> {
        let text = text.trim();
        let not =
            |wanted: &str| TableProblem::Not { found: text.to_owned(), wanted: wanted.to_owned() };
        if let Some(rest) = text.strip_prefix('%') {
            let what = rest.trim().strip_prefix("of ").unwrap_or_default();
            return Reference::parse(what).map(|r| (Self::ShareOf(r), None)).ok_or_else(|| {
                let known: Vec<_> = Reference::WORDS.iter().map(|(_, w)| *w).collect();
                not(&format!("is no share; write % of one of: {}", known.join(", ")))
            });
        }
        match text {
            "ratio" => return Ok((Self::Ratio, None)),
            "count" => return Ok((Self::Count, None)),
            "" => return Err(TableProblem::Empty("write what the limit is in, for example in")),
            _ => {}
        }
        match text.split_once(" over ") {
            Some((unit, what)) => {
                Reference::parse(what).map(|r| (Self::Over(r), Some(unit.trim()))).ok_or_else(
                    || not("is no length over something; write for example in over nominal"),
                )
            }
            None => Ok((Self::Length, Some(text))),
        }
    }
}

/// For which class a limit holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum ForClass {
    Class(Class),
    /// For every class, and for parts without classes.
    Any,
    /// Not a limit of wear: a nominal dimension or a tolerance of new pipe.
    New,
}

impl ForClass {
    pub(super) fn parse(text: &str) -> Result<Self, WordError> {
        match fold(text).as_str() {
            "any" | "every" | "all" => Ok(Self::Any),
            "new" => Ok(Self::New),
            _ => Class::from_word(text).map(Self::Class),
        }
    }
}

impl fmt::Display for ForClass {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Class(c) => c.fmt(f),
            Self::Any => f.write_str("any class"),
            Self::New => f.write_str("new"),
        }
    }
}

/// A condition under which a limit holds.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Applies {
    Connection(String),
    Grade(String),
    /// For this kind of shoulder.
    Seal(Seal),
    /// For bodies of this outside diameter, nanometres, both ends included.
    Od(i64, i64),
    /// For bodies of this nominal wall, nanometres, both ends included.
    Wall(i64, i64),
    /// For tool joints of this nominal outside diameter, nanometres, both ends included.
    JointOd(i64, i64),
}

/// Name of a connection or grade without what people write differently: `5-1/2 FH`, `5 1/2 fh`.
pub fn plain_name(text: &str) -> String {
    text.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}

impl Applies {
    pub(super) fn parse_all(text: &str) -> Result<Vec<Self>, TableProblem> {
        text.split(';').map(str::trim).filter(|p| !p.is_empty()).map(Self::parse).collect()
    }

    fn parse(text: &str) -> Result<Self, TableProblem> {
        let not =
            |wanted: &str| TableProblem::Not { found: text.to_owned(), wanted: wanted.to_owned() };
        let (key, value) = text
            .split_once('=')
            .ok_or_else(|| not("is no condition; write for example connection=NC50"))?;
        let value = value.trim();
        let range = || -> Result<(i64, i64), TableProblem> {
            let length = |t: &str| -> Result<i64, TableProblem> {
                let q = Quantity::parse(t, Dimension::LENGTH)?;
                Measure::Diameter.store(&q).ok_or_else(|| not("is too long to keep"))
            };
            match value.split_once("..") {
                Some((from, to)) => Ok((length(from)?, length(to)?)),
                None => length(value).map(|at| (at, at)),
            }
        };
        match fold(key).as_str() {
            "connection" => Ok(Self::Connection(plain_name(ConnectionType::spelled(value)))),
            "grade" => Ok(Self::Grade(plain_name(Grade::spelled(value)))),
            "seal" => Ok(Self::Seal(Seal::from_word(value)?)),
            "od" => range().map(|(a, b)| Self::Od(a, b)),
            "wall" => range().map(|(a, b)| Self::Wall(a, b)),
            "tj_od" => range().map(|(a, b)| Self::JointOd(a, b)),
            _ => Err(not("is no condition; known: connection, grade, seal, od, wall, tj_od")),
        }
    }
}

/// A limit and where it comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Limit {
    pub criterion: Criterion,
    /// Components for which it holds; every one when empty.
    pub components: Vec<Component>,
    pub class: ForClass,
    /// How the value is held against it.
    pub comparison: Comparison,
    /// The number: a share, or nanometres, as `basis` says.
    pub number: Rational,
    /// What the number means.
    pub basis: Basis,
    /// Conditions under which it holds.
    pub applies: Vec<Applies>,
    /// The limit as written, with its unit: `80 % of nominal wall`.
    pub written: String,
    /// Standard that it belongs to; limits that differ are told apart by it.
    pub standard: String,
    pub edition: String,
    /// Where it was read, or what it rests on.
    pub source: String,
    /// What stands behind it.
    pub provenance: Provenance,
    /// False for the looser of two sources that differ.
    pub in_force: bool,
    pub note: String,
    /// Line of the table; 0 for one that the caller computed.
    pub line: u64,
}

impl Limit {
    /// Reads the number and unit of a limit.
    pub(super) fn value(number: &str, unit: &str) -> Result<(Rational, Basis), TableProblem> {
        let (basis, length_unit) = Basis::parse(unit)?;
        let read = || {
            Rational::parse(number).ok_or_else(|| TableProblem::Not {
                found: number.to_owned(),
                wanted: "is not a number".to_owned(),
            })
        };
        let too_wide = || TableProblem::Not {
            found: number.to_owned(),
            wanted: "has more digits than can be kept exactly".to_owned(),
        };
        let value = match (basis, length_unit) {
            (Basis::Count, _) if number.trim().is_empty() => Rational::ZERO,
            (Basis::ShareOf(_), _) => {
                read()?.checked_div(Rational::integer(100)).ok_or_else(too_wide)?
            }
            (_, Some(unit)) => Quantity::parse(&format!("{number} {unit}"), Dimension::LENGTH)?
                .base()
                .and_then(|b| b.checked_mul(Rational::integer(Measure::Wall.quanta_per_base())))
                .ok_or_else(too_wide)?,
            _ => read()?,
        };
        Ok((value, basis))
    }

    /// The limit as a reader sees it: `>= 80 % of nominal wall`.
    pub fn text(&self) -> String {
        match self.comparison {
            Comparison::Absent => "none".to_owned(),
            _ => format!("{} {}", self.comparison.sign(), self.written),
        }
    }

    /// Standard and edition, for the line under a verdict.
    pub fn authority(&self) -> String {
        if self.edition.is_empty() {
            self.standard.clone()
        } else {
            format!("{}, {}", self.standard, self.edition)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_numbers_with_what_they_are_part_of() {
        let (n, b) = Limit::value("87.5", "% of nominal wall").unwrap();
        assert_eq!((n, b), (Rational::new(7, 8).unwrap(), Basis::ShareOf(Reference::NominalWall)));
        let (n, b) = Limit::value("1/32", "in over nominal").unwrap();
        assert_eq!((n, b), (Rational::integer(793_750), Basis::Over(Reference::Nominal)));
        let (n, b) = Limit::value("134.95", "mm").unwrap();
        assert_eq!((n, b), (Rational::integer(134_950_000), Basis::Length));
        assert_eq!(Limit::value("", "count").unwrap().0, Rational::ZERO);
    }

    #[test]
    fn a_wrong_unit_is_told_what_would_be_right() {
        for (number, unit, said) in [
            (
                "80",
                "% of wall",
                "'% of wall' is no share; write % of one of: nominal wall, nominal OD, average adjacent wall, tool joint OD, seal width, a turn, nominal, box depth",
            ),
            ("1/32", "kg", "'kg' measures a mass, not a length; write for example in, mm, ft or m"),
            ("eighty", "% of nominal wall", "'eighty' is not a number"),
            (
                "1",
                "in over the moon",
                "'in over the moon' is no length over something; write for example in over nominal",
            ),
        ] {
            assert_eq!(Limit::value(number, unit).unwrap_err().to_string(), said);
        }
    }

    #[test]
    fn conditions_read_names_and_ranges() {
        assert_eq!(
            Applies::parse_all("connection=5-1/2 FH; od=4 in..4 5/8 in; seal=api").unwrap(),
            [
                Applies::Connection("512fh".to_owned()),
                Applies::Od(101_600_000, 117_475_000),
                Applies::Seal(Seal::Single),
            ]
        );
        assert!(Applies::parse_all("colour=red").is_err());
        assert!(Applies::parse_all("od=4").unwrap_err().to_string().contains("has no unit"));
        assert_eq!(plain_name("5 1/2 FH"), plain_name("5-1/2 fh"));
    }
}
