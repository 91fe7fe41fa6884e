//! When things happened. A day stays a day: nobody invents a clock time that was not written.

use std::fmt;
use std::str::FromStr;

use chrono::{DateTime, Days, FixedOffset, NaiveDate, NaiveDateTime, SecondsFormat, Utc};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

use super::clock::{Clock, Shown};

/// Why a time could not be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TimeError {
    #[error("'{text}' is not a date or time; write 2026-03-04 or 2026-03-04T06:30:00+02:00")]
    Unreadable { text: String },
    /// Clocks went forward over it.
    #[error(
        "the clock of {clock} never shows {text}: it is put forward over that time; write the time \
         with its offset from UTC, as in 2026-03-04T06:30:00+02:00"
    )]
    Skipped { text: String, clock: Clock },
}

/// Milliseconds of a day of 24 hours.
pub const DAY_MS: i64 = 86_400_000;

/// A point on the common time line: milliseconds since 1970-01-01T00:00:00Z.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Instant(pub i64);

impl Instant {
    /// The civil day by a clock.
    pub fn day(self, clock: Clock) -> NaiveDate {
        self.at(clock).date_naive()
    }

    /// The civil time by a clock.
    pub fn at(self, clock: Clock) -> DateTime<FixedOffset> {
        let minutes = clock.offset_minutes(self).clamp(-1439, 1439);
        let utc = self.utc();
        let offset = FixedOffset::east_opt(minutes * 60);
        offset.map_or_else(|| utc.fixed_offset(), |offset| utc.with_timezone(&offset))
    }

    pub(super) fn utc(self) -> DateTime<Utc> {
        DateTime::<Utc>::from_timestamp_millis(self.0).unwrap_or(if self.0 < 0 {
            DateTime::<Utc>::MIN_UTC
        } else {
            DateTime::<Utc>::MAX_UTC
        })
    }
}

/// A time as written: a whole day at the site, or a clock time with its offset.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Moment {
    Day(NaiveDate),
    Clock(DateTime<FixedOffset>),
}

impl Moment {
    /// First instant of the moment; a day begins at midnight of the clock.
    pub fn start(self, clock: Clock) -> Instant {
        match self {
            Self::Day(day) => clock.midnight(day),
            Self::Clock(t) => Instant(t.timestamp_millis()),
        }
    }

    /// Instant at which the moment is over; a day ends at the next midnight.
    pub fn end(self, clock: Clock) -> Instant {
        match self {
            Self::Day(day) => clock.midnight(day.checked_add_days(Days::new(1)).unwrap_or(day)),
            Self::Clock(t) => Instant(t.timestamp_millis()),
        }
    }

    /// Reads a moment; a clock time without an offset is by the clock, and of two such times the
    /// first.
    pub fn parse_at(text: &str, clock: Clock) -> Result<Self, TimeError> {
        Self::read_at(text, clock).map(|(moment, _)| moment)
    }

    /// The same, and whether the clock shows that time twice.
    pub fn read_at(text: &str, clock: Clock) -> Result<(Self, bool), TimeError> {
        let t = text.trim();
        let bad = || TimeError::Unreadable { text: text.to_owned() };
        let once = |moment: Self| moment.checked().map(|m| (m, false)).ok_or_else(bad);
        if let Ok(day) = NaiveDate::parse_from_str(t, "%Y-%m-%d") {
            return once(Self::Day(day));
        }
        let with_t = t.replacen(' ', "T", 1);
        if let Ok(time) = DateTime::parse_from_rfc3339(&with_t) {
            return once(Self::Clock(time));
        }
        for format in ["%Y-%m-%dT%H:%M:%S%.f%#z", "%Y-%m-%dT%H:%M%#z"] {
            if let Ok(time) = DateTime::parse_from_str(&with_t, format) {
                return once(Self::Clock(time));
            }
        }
        for format in ["%Y-%m-%dT%H:%M:%S%.f", "%Y-%m-%dT%H:%M"] {
            if let Ok(naive) = NaiveDateTime::parse_from_str(&with_t, format) {
                let (at, twice) = match clock.shown(naive) {
                    Shown::Once(at) => (at, false),
                    Shown::Twice(first, _) => (first, true),
                    Shown::Never => {
                        return Err(TimeError::Skipped { text: text.to_owned(), clock });
                    }
                };
                return once(Self::Clock(at.at(clock))).map(|(moment, _)| (moment, twice));
            }
        }
        Err(bad())
    }

    /// Keeps years to four digits, so that every moment has one spelling.
    fn checked(self) -> Option<Self> {
        use chrono::Datelike;
        let year = match self {
            Self::Day(d) => d.year(),
            Self::Clock(c) => c.year(),
        };
        (1900..=9999).contains(&year).then_some(self)
    }

    /// The civil day: as written, or by a clock.
    pub fn day(self, clock: Clock) -> NaiveDate {
        match self {
            Self::Day(d) => d,
            Self::Clock(t) => Instant(t.timestamp_millis()).day(clock),
        }
    }
}

impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Day(d) => write!(f, "{}", d.format("%Y-%m-%d")),
            Self::Clock(t) => f.write_str(&t.to_rfc3339_opts(SecondsFormat::AutoSi, true)),
        }
    }
}

impl FromStr for Moment {
    type Err = TimeError;

    fn from_str(text: &str) -> Result<Self, TimeError> {
        Self::parse_at(text, Clock::UTC)
    }
}

impl Serialize for Moment {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Moment {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        String::deserialize(d)?.parse().map_err(de::Error::custom)
    }
}

/// When an entry was written: the instant in UTC and the clock offset of the place.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Recorded {
    pub at: Instant,
    /// Offset of the site's clock from UTC.
    pub offset_minutes: i32,
}

impl fmt::Display for Recorded {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let t = self.at.at(Clock::of_offset(self.offset_minutes));
        f.write_str(&t.to_rfc3339_opts(SecondsFormat::Millis, true))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_is_the_whole_day_of_the_site() {
        let day: Moment = "2026-03-04".parse().unwrap();
        assert_eq!(day.to_string(), "2026-03-04");
        let clock = Clock::Offset(120);
        let (start, end) = (day.start(clock), day.end(clock));
        assert_eq!(end.0 - start.0, DAY_MS);
        assert_eq!(start.at(Clock::UTC).to_rfc3339(), "2026-03-03T22:00:00+00:00");
        assert_eq!(start.day(clock).to_string(), "2026-03-04");
    }

    #[test]
    fn clock_times_keep_their_offset() {
        for (text, shown) in [
            ("2026-03-04T06:30:00+02:00", "2026-03-04T06:30:00+02:00"),
            ("2026-03-04 06:30+0200", "2026-03-04T06:30:00+02:00"),
            ("2026-03-04T06:30:00Z", "2026-03-04T06:30:00Z"),
            ("2026-03-04T06:30:00.250Z", "2026-03-04T06:30:00.250Z"),
        ] {
            let m: Moment = text.parse().unwrap();
            assert_eq!(m.to_string(), shown);
            assert_eq!(m.to_string().parse::<Moment>().unwrap(), m);
        }
        let local = Moment::parse_at("2026-03-04 06:30", Clock::Offset(-300)).unwrap();
        assert_eq!(local.to_string(), "2026-03-04T06:30:00-05:00");
    }

    #[test]
    fn nonsense_is_told_what_would_be_right() {
        for bad in
            ["", "04/03/2026", "2026-13-01", "2026-02-30", "12026-01-01", "yesterday", "0001-01-01"]
        {
            assert!(bad.parse::<Moment>().is_err(), "{bad}");
        }
    }
}
