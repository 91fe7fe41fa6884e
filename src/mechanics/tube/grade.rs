//! The four grades of API drill pipe with their strengths.

use std::fmt;
use std::str::FromStr;

use super::us::KSI;

/// A grade of drill pipe.
///
/// Source: API Spec 5D / 5DP, table of tensile requirements, as reprinted on several public pages
/// (published: a reprint of Spec 5D 2nd edition 1991, §6.7). Newer editions print the grades as E,
/// X, G, S with the same strengths.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Grade {
    /// E75, minimum yield 75 ksi.
    E75,
    /// X95, minimum yield 95 ksi.
    X95,
    /// G105, minimum yield 105 ksi.
    G105,
    /// S135, minimum yield 135 ksi.
    S135,
}

/// Strengths of a steel, Pa.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Steel {
    /// Specified minimum yield strength, Pa: every rating uses this one.
    pub min_yield: f64,
    /// Specified maximum yield strength, Pa.
    pub max_yield: f64,
    /// Specified minimum tensile strength, Pa.
    pub min_tensile: f64,
    /// Average yield strength of API RP 7G section 12, Pa (memory): used by its collapse-under-
    /// tension scaling only.
    pub average_yield: f64,
}

impl Grade {
    /// Every one, the weakest first.
    pub const ALL: [Self; 4] = [Self::E75, Self::X95, Self::G105, Self::S135];

    /// Returns the strengths of the grade.
    pub const fn steel(self) -> Steel {
        let (min, max, tensile, average) = match self {
            Self::E75 => (75.0, 105.0, 100.0, 85.0),
            Self::X95 => (95.0, 125.0, 105.0, 110.0),
            Self::G105 => (105.0, 135.0, 115.0, 120.0),
            Self::S135 => (135.0, 165.0, 145.0, 145.0),
        };
        Steel {
            min_yield: min * KSI,
            max_yield: max * KSI,
            min_tensile: tensile * KSI,
            average_yield: average * KSI,
        }
    }

    /// Returns the specified minimum yield strength, Pa.
    pub const fn min_yield(self) -> f64 {
        self.steel().min_yield
    }

    /// The name of a grade in any of its spellings; a maker's own as it is.
    pub fn spelled(text: &str) -> &str {
        text.parse().map_or(text, |known: Self| known.name())
    }

    /// The name as the trade writes it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::E75 => "E75",
            Self::X95 => "X95",
            Self::G105 => "G105",
            Self::S135 => "S135",
        }
    }
}

impl fmt::Display for Grade {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// A grade name that is none of the four.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0:?} is no grade of API drill pipe; the grades are E75, X95, G105 and S135")]
pub struct UnknownGrade(pub String);

impl FromStr for Grade {
    type Err = UnknownGrade;

    /// Reads `E75`, `E-75`, `e 75`, `E`, `Grade E`; other makers' grades are refused, since their
    /// strengths are the maker's.
    fn from_str(text: &str) -> Result<Self, UnknownGrade> {
        let key: String =
            text.chars().filter(char::is_ascii_alphanumeric).collect::<String>().to_lowercase();
        let key = key.strip_prefix("grade").unwrap_or(&key);
        match key {
            "e" | "e75" => Ok(Self::E75),
            "x" | "x95" => Ok(Self::X95),
            "g" | "g105" => Ok(Self::G105),
            "s" | "s135" => Ok(Self::S135),
            _ => Err(UnknownGrade(text.to_owned())),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn grades_read_back_in_every_usual_spelling() {
        for grade in Grade::ALL {
            assert_eq!(grade.name().parse(), Ok(grade));
            assert_eq!(grade.name().to_lowercase().parse(), Ok(grade));
        }
        assert_eq!("S-135".parse(), Ok(Grade::S135));
        assert_eq!("Grade E".parse(), Ok(Grade::E75));
        assert_eq!("X 95".parse(), Ok(Grade::X95));
        assert!("V150".parse::<Grade>().unwrap_err().to_string().contains("E75, X95"));
        assert!("".parse::<Grade>().is_err());
    }

    #[test]
    fn strengths_rise_with_the_grade() {
        for pair in Grade::ALL.windows(2) {
            let [a, b] = [pair[0].steel(), pair[1].steel()];
            assert!(a.min_yield < b.min_yield && a.max_yield < b.max_yield);
            assert!(a.min_tensile < b.min_tensile && a.average_yield < b.average_yield);
        }
    }
}
