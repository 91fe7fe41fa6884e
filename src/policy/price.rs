//! Prices of a hire, from a file of the owner's: what it does not name is not charged.

use std::collections::BTreeMap;

use serde::Deserialize;

use crate::model::{Class, Component, Vocabulary, Work};
use crate::units::Measure;

/// Ten-thousandths of the currency: exact, as the file writes it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Amount(i128);

impl Amount {
    const UNIT: i128 = 10_000;

    /// Reads `12`, `12.5` or `12.5000`.
    pub fn parse(text: &str) -> Option<Self> {
        let (whole, part) = text.trim().split_once('.').unwrap_or((text.trim(), ""));
        let digits = |t: &str| t.bytes().all(|b| b.is_ascii_digit());
        if whole.is_empty() || whole.len() > 12 || part.len() > 4 || !digits(whole) || !digits(part)
        {
            return None;
        }
        let part = format!("{part:0<4}");
        Some(Self(whole.parse::<i128>().ok()? * Self::UNIT + part.parse::<i128>().ok()?))
    }

    /// As many times: `quanta` of which `one` make one.
    #[must_use]
    pub fn times(self, quanta: i64, one: i64) -> Self {
        let product = self.0.saturating_mul(i128::from(quanta));
        let one = i128::from(one.max(1));
        // To the nearest; a half goes up.
        Self((product + one / 2).div_euclid(one))
    }

    /// The amount as quanta of [`Measure::Factor`], which is shown with two digits.
    pub fn quanta(self) -> i64 {
        let per = i128::from(Measure::Factor.quanta_per_base()) / Self::UNIT;
        i64::try_from(self.to_cents().0.saturating_mul(per)).unwrap_or(i64::MAX)
    }

    /// To whole hundredths; a half goes up.
    #[must_use]
    pub const fn to_cents(self) -> Self {
        Self((self.0 + 50).div_euclid(100) * 100)
    }
}

impl std::ops::Add for Amount {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl std::iter::Sum for Amount {
    fn sum<I: Iterator<Item = Self>>(all: I) -> Self {
        all.fold(Self::default(), std::ops::Add::add)
    }
}

impl<'de> Deserialize<'de> for Amount {
    fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        #[derive(Deserialize)]
        #[serde(untagged)]
        enum Written {
            Whole(i64),
            Part(f64),
            Text(String),
        }
        let text = match Written::deserialize(from)? {
            Written::Whole(n) => n.to_string(),
            // The shortest text that reads back as the number: what the file says.
            Written::Part(x) => x.to_string(),
            Written::Text(t) => t,
        };
        Self::parse(&text).ok_or_else(|| {
            serde::de::Error::custom(format!(
                "'{text}' is no amount; write it like 12.50, not negative, with at most four digits \
                 after the point"
            ))
        })
    }
}

/// How days on hire are counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Days {
    /// From the day out to the day back: a joint that comes back the next day has one.
    #[default]
    Between,
    /// Day out and day back both count.
    BothEnds,
}

impl Days {
    /// Days of a joint, from those between.
    pub const fn of(self, between: i64) -> i64 {
        match self {
            Self::Between => between,
            Self::BothEnds => between + 1,
        }
    }
}

/// Rates for each joint.
#[derive(Clone, Debug, PartialEq, Eq, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct JointRates {
    pub once: Option<Amount>,
    /// A day on hire.
    pub day: Option<Amount>,
    pub hour: Option<Amount>,
    /// A foot of hole drilled while it was in the string.
    pub foot: Option<Amount>,
    /// A metre of it.
    pub metre: Option<Amount>,
}

/// The prices of a hire.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Prices {
    /// Currency, as the file names it.
    pub currency: String,
    /// Where they are agreed.
    pub source: Option<String>,
    /// How days are counted.
    pub days: Days,
    pub joint: JointRates,
    /// For each repair, by work.
    pub repair: BTreeMap<Work, Amount>,
    /// For each joint that came back in a lower class.
    pub downgrade: BTreeMap<(Class, Class), Amount>,
    /// For each joint that did not come back, or failed.
    pub lost: BTreeMap<Component, Amount>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileText {
    currency: String,
    source: Option<String>,
    #[serde(default)]
    days: Days,
    #[serde(default)]
    joint: JointRates,
    #[serde(default)]
    repair: BTreeMap<String, Amount>,
    #[serde(default)]
    downgrade: BTreeMap<String, Amount>,
    #[serde(default)]
    lost: BTreeMap<String, Amount>,
}

impl Prices {
    /// Reads a price file.
    ///
    /// # Errors
    /// What is wrong with it, with its place.
    pub fn parse(text: &str) -> Result<Self, String> {
        let file: FileText =
            toml::from_str(text).map_err(|e| e.to_string().trim_end().to_owned())?;
        let mut prices = Self {
            currency: file.currency,
            source: file.source,
            days: file.days,
            joint: file.joint,
            ..Self::default()
        };
        for (word, amount) in file.repair {
            let work = Work::from_word(&word).map_err(|e| format!("[repair]: {e}"))?;
            prices.repair.insert(work, amount);
        }
        for (words, amount) in file.downgrade {
            let wrong = || format!("[downgrade]: '{words}' is not like \"premium to class_2\"");
            let (from, to) = words.split_once(" to ").ok_or_else(wrong)?;
            let class = |w: &str| Class::from_word(w).map_err(|e| format!("[downgrade]: {e}"));
            let pair = (class(from)?, class(to)?);
            if pair.0 >= pair.1 {
                return Err(format!("[downgrade]: '{words}' is no way down"));
            }
            prices.downgrade.insert(pair, amount);
        }
        for (word, amount) in file.lost {
            let component = Component::from_word(&word).map_err(|e| format!("[lost]: {e}"))?;
            prices.lost.insert(component, amount);
        }
        Ok(prices)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn amount(text: &str) -> Amount {
        Amount::parse(text).unwrap()
    }

    #[test]
    fn amounts_are_exact() {
        assert_eq!(amount("0.1") + amount("0.2"), amount("0.3"));
        assert_eq!(amount("1.25").times(3, 1), amount("3.75"));
        // 90 minutes at 10 an hour.
        assert_eq!(amount("10").times(5_400_000, 3_600_000), amount("15"));
        assert_eq!(amount("12.345").to_cents(), amount("12.35"));
        assert_eq!(amount("2.5").quanta(), 2_500_000);
        for bad in ["", "-1", "1.23456", "1e3", "12,50", "."] {
            assert_eq!(Amount::parse(bad), None, "{bad}");
        }
    }

    #[test]
    fn a_price_file_says_what_it_means_or_what_is_wrong() {
        let p = Prices::parse(
            "currency = \"EUR\"\ndays = \"both_ends\"\n[joint]\nday = 1.1\n[repair]\nrecut = 250\n\
             [downgrade]\n\"premium to class 2\" = \"400.00\"\n[lost]\ndrill_pipe = 2400\n",
        )
        .unwrap();
        assert_eq!(p.joint.day, Some(amount("1.1")));
        assert_eq!(p.downgrade[&(Class::Premium, Class::Class2)], amount("400"));
        assert_eq!(p.days.of(14), 15);
        for (text, says) in [
            ("", "currency"),
            ("currency = \"EUR\"\n[joint]\nweek = 7", "week"),
            ("currency = \"EUR\"\n[joint]\nday = -7", "no amount"),
            ("currency = \"EUR\"\n[repair]\nrecutt = 7", "did you mean recut"),
            ("currency = \"EUR\"\n[downgrade]\n\"class_2 to premium\" = 7", "no way down"),
            ("currency = \"EUR\"\n[downgrade]\npremium = 7", "is not like"),
        ] {
            let e = Prices::parse(text).unwrap_err();
            assert!(e.contains(says), "{text}: {e}");
        }
    }
}
