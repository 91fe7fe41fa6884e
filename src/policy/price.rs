//! Prices of a hire, from a file of the owner's: what it does not name is not charged.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use rust_decimal::prelude::ToPrimitive;
use rust_decimal::{Decimal, RoundingStrategy};
use serde::Deserialize;

use crate::model::{Class, Component, Vocabulary, WordError, Work};
use crate::schema::Words;
use crate::units::{Dimension, Measure, Quantity};

/// An amount of the currency, as the file writes it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Amount(Decimal);

impl Amount {
    /// Reads `12`, `12.5` or `12.5000`: not negative, at most four digits after the point.
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        let (whole, part) = text.split_once('.').unwrap_or((text, ""));
        let digits = |t: &str| t.bytes().all(|b| b.is_ascii_digit());
        if whole.is_empty() || whole.len() > 12 || part.len() > 4 || !digits(whole) || !digits(part)
        {
            return None;
        }
        Decimal::from_str_exact(text.trim_end_matches('.')).ok().map(Self)
    }

    /// As many times: `quanta` of which `one` make one.
    #[must_use]
    pub fn times(self, quanta: i64, one: i64) -> Self {
        let quantity = Decimal::from(quanta) / Decimal::from(one.max(1));
        Self(self.0.saturating_mul(quantity))
    }

    /// The amount as quanta of [`Measure::Factor`], which is shown with two digits.
    pub fn quanta(self) -> i64 {
        let per = Decimal::from(Measure::Factor.quanta_per_base());
        self.to_cents().0.saturating_mul(per).to_i64().unwrap_or(i64::MAX)
    }

    /// The amount as quanta of [`Measure::Factor`], to the last digit of the file.
    pub fn exact_quanta(self) -> i64 {
        let per = Decimal::from(Measure::Factor.quanta_per_base());
        self.0.saturating_mul(per).to_i64().unwrap_or(i64::MAX)
    }

    /// To whole hundredths; a half goes up.
    #[must_use]
    pub fn to_cents(self) -> Self {
        Self(self.0.round_dp_with_strategy(2, RoundingStrategy::MidpointAwayFromZero))
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

/// Rates for each joint.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rates {
    pub once: Option<Amount>,
    /// A day on hire.
    pub day: Option<Amount>,
    /// A day on hire on which it was in no run, in place of `day`.
    pub standby_day: Option<Amount>,
    /// A day after the agreed end, in place of `day` and `standby_day`.
    pub late_day: Option<Amount>,
    pub hour: Option<Amount>,
    /// A foot of hole drilled while it was in the string.
    pub foot: Option<Amount>,
    /// A metre of it.
    pub metre: Option<Amount>,
    /// An inspection after it came back.
    pub inspection: Option<Amount>,
    pub lost: Option<Amount>,
    /// It failed, and came back.
    pub failed: Option<Amount>,
}

impl Rates {
    /// These, and the others where these say nothing.
    const fn or(self, others: Self) -> Self {
        const fn first(a: Option<Amount>, b: Option<Amount>) -> Option<Amount> {
            if a.is_some() { a } else { b }
        }
        Self {
            once: first(self.once, others.once),
            day: first(self.day, others.day),
            standby_day: first(self.standby_day, others.standby_day),
            late_day: first(self.late_day, others.late_day),
            hour: first(self.hour, others.hour),
            foot: first(self.foot, others.foot),
            metre: first(self.metre, others.metre),
            inspection: first(self.inspection, others.inspection),
            lost: first(self.lost, others.lost),
            failed: first(self.failed, others.failed),
        }
    }
}

/// Rates of joints of one kind: of a size, a grade, a class going out.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct KindRates {
    pub component: Option<Component>,
    /// Outside diameter of the body, nm.
    pub size: Option<i64>,
    pub grade: Option<String>,
    /// Class that it went out in.
    pub class: Option<Class>,
    pub rates: Rates,
}

/// A joint as far as its rates go by it.
#[derive(Clone, Copy, Debug)]
pub struct Rated<'a> {
    pub component: Component,
    /// Outside diameter of the body, nm.
    pub size: Option<i64>,
    pub grade: Option<&'a str>,
    /// Class that it went out in.
    pub class: Option<Class>,
}

/// Sizes that differ by less are one, nm: half of 1/32 in.
const SAME_SIZE: i64 = 396_875;

impl KindRates {
    fn is_for(&self, joint: &Rated<'_>) -> bool {
        let size = |wanted: i64| joint.size.is_some_and(|s| (s - wanted).abs() <= SAME_SIZE);
        let grade = |wanted: &String| {
            joint.grade.is_some_and(|g| Words::GRADES.kept(g) == Words::GRADES.kept(wanted))
        };
        self.component.is_none_or(|c| c == joint.component)
            && self.size.is_none_or(size)
            && self.grade.as_ref().is_none_or(grade)
            && self.class.is_none_or(|c| joint.class == Some(c))
    }
}

/// The prices of a hire.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Prices {
    /// Currency, as the file names it.
    pub currency: String,
    /// Where they are agreed.
    pub source: Option<String>,
    /// Name and address of who hires out, line by line.
    pub owner: Vec<String>,
    /// How days are counted.
    pub days: Days,
    /// Days that are charged for each joint at least.
    pub minimum_days: i64,
    /// The agreed last day.
    pub until: Option<NaiveDate>,
    joint: Rates,
    kinds: Vec<KindRates>,
    /// For each repair, by work.
    pub repair: BTreeMap<Work, Amount>,
    /// For each joint that came back in a lower class.
    pub downgrade: BTreeMap<(Class, Class), Amount>,
    lost: BTreeMap<Component, Amount>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileText {
    currency: String,
    source: Option<String>,
    #[serde(default)]
    owner: Vec<String>,
    #[serde(default)]
    days: Days,
    #[serde(default)]
    minimum_days: u32,
    until: Option<String>,
    #[serde(default)]
    joint: Rates,
    #[serde(default)]
    rates: Vec<KindText>,
    #[serde(default)]
    repair: BTreeMap<String, Amount>,
    #[serde(default)]
    downgrade: BTreeMap<String, Amount>,
    #[serde(default)]
    lost: BTreeMap<String, Amount>,
}

#[derive(Deserialize)]
struct KindText {
    component: Option<String>,
    size: Option<String>,
    grade: Option<String>,
    class: Option<String>,
    #[serde(flatten)]
    rates: BTreeMap<String, toml::Value>,
}

impl KindText {
    fn read(self) -> Result<KindRates, String> {
        let wrong = |what: &dyn std::fmt::Display| format!("[[rates]]: {what}");
        let length = |text: &String| {
            let read = Quantity::parse(text, Dimension::LENGTH).map_err(|e| wrong(&e))?;
            Measure::Diameter.store(&read).ok_or_else(|| wrong(&format!("'{text}' is no diameter")))
        };
        let rates = toml::Value::Table(self.rates.into_iter().collect());
        let kind = KindRates {
            component: word(self.component.as_ref()).map_err(|e| wrong(&e))?,
            size: self.size.as_ref().map(length).transpose()?,
            grade: self.grade,
            class: word(self.class.as_ref()).map_err(|e| wrong(&e))?,
            rates: rates.try_into().map_err(|e: toml::de::Error| wrong(&e.message()))?,
        };
        let all = KindRates { rates: kind.rates, ..KindRates::default() };
        if kind == all {
            return Err(wrong(&"says for no component, size, grade or class; that is [joint]"));
        }
        Ok(kind)
    }
}

fn word<V: Vocabulary>(text: Option<&String>) -> Result<Option<V>, WordError> {
    text.map(|t| V::from_word(t)).transpose()
}

impl Prices {
    /// Reads a price file.
    ///
    /// # Errors
    /// What is wrong with it, with its place.
    pub fn parse(text: &str) -> Result<Self, String> {
        let file: FileText =
            toml::from_str(text).map_err(|e| e.to_string().trim_end().to_owned())?;
        let until = file.until.map(|day| {
            let bad = |_| format!("until: '{day}' is no day; write it like 2026-03-31");
            NaiveDate::parse_from_str(&day, "%Y-%m-%d").map_err(bad)
        });
        let mut prices = Self {
            currency: file.currency,
            source: file.source,
            owner: file.owner,
            days: file.days,
            minimum_days: i64::from(file.minimum_days),
            until: until.transpose()?,
            joint: file.joint,
            ..Self::default()
        };
        for kind in file.rates {
            prices.kinds.push(kind.read()?);
        }
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

    /// Rates of a joint: of each rate the first kind that it is of and that names it, else what
    /// holds for every joint.
    pub fn of(&self, joint: &Rated<'_>) -> Rates {
        let lost = self.lost.get(&joint.component).copied();
        let mine = self.kinds.iter().filter(|k| k.is_for(joint));
        let general = Rates { lost, ..Rates::default() }.or(self.joint);
        mine.fold(Rates::default(), |all, kind| all.or(kind.rates)).or(general)
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
    fn the_first_kind_that_fits_names_the_rate() {
        let p = Prices::parse(
            "currency = \"EUR\"\n[joint]\nday = 1\nonce = 9\n\
             [[rates]]\nsize = \"5 in\"\nclass = \"premium\"\nday = 3\n\
             [[rates]]\nsize = \"127 mm\"\nday = 2\nstandby_day = 0.5\n",
        )
        .unwrap();
        let rates = |class, size| {
            let component = Component::DrillPipe;
            p.of(&Rated { component, size: Some(size), grade: None, class: Some(class) })
        };
        let premium = rates(Class::Premium, 127_000_000);
        assert_eq!(premium.day, Some(amount("3")));
        assert_eq!(premium.standby_day, Some(amount("0.5")));
        assert_eq!(premium.once, Some(amount("9")));
        assert_eq!(rates(Class::Class2, 127_000_000).day, Some(amount("2")));
        assert_eq!(rates(Class::Class2, 139_700_000).day, Some(amount("1")));
    }

    #[test]
    fn a_price_file_says_what_it_means_or_what_is_wrong() {
        let p = Prices::parse(
            "currency = \"EUR\"\ndays = \"both_ends\"\n[joint]\nday = 1.1\n[repair]\nrecut = 250\n\
             [downgrade]\n\"premium to class 2\" = \"400.00\"\n[lost]\ndrill_pipe = 2400\n",
        )
        .unwrap();
        let pipe = Rated {
            component: Component::DrillPipe,
            size: Some(127_000_000),
            grade: Some("S135"),
            class: Some(Class::Premium),
        };
        assert_eq!(p.of(&pipe).day, Some(amount("1.1")));
        assert_eq!(p.of(&pipe).lost, Some(amount("2400")));
        assert_eq!(p.downgrade[&(Class::Premium, Class::Class2)], amount("400"));
        assert_eq!(p.days, Days::BothEnds);
        for (text, says) in [
            ("", "currency"),
            ("currency = \"EUR\"\n[joint]\nweek = 7", "week"),
            ("currency = \"EUR\"\n[joint]\nday = -7", "no amount"),
            ("currency = \"EUR\"\n[[rates]]\nday = 7", "that is [joint]"),
            ("currency = \"EUR\"\n[[rates]]\nsize = \"5 in\"\nweek = 7", "week"),
            ("currency = \"EUR\"\n[[rates]]\nsize = \"5 kg\"\nday = 7", "'kg' measures a mass"),
            ("currency = \"EUR\"\nuntil = \"31.3.2026\"", "2026-03-31"),
            ("currency = \"EUR\"\n[repair]\nrecutt = 7", "did you mean recut"),
            ("currency = \"EUR\"\n[downgrade]\n\"class_2 to premium\" = 7", "no way down"),
            ("currency = \"EUR\"\n[downgrade]\npremium = 7", "is not like"),
        ] {
            let e = Prices::parse(text).unwrap_err();
            assert!(e.contains(says), "{text}: {e}");
        }
    }
}
