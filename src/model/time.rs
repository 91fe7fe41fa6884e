//! When things happened. A day stays a day: nobody invents a clock time that was not written.

use std::fmt;
use std::str::FromStr;

use chrono::{DateTime, Days, FixedOffset, NaiveDate, NaiveDateTime, SecondsFormat, TimeZone, Utc};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

/// Why a time could not be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("'{text}' is not a date or time; write 2026-03-04 or 2026-03-04T06:30:00+02:00")]
pub struct TimeError {
    pub text: String,
}

/// A point on the common time line: milliseconds since 1970-01-01T00:00:00Z.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Instant(pub i64);

impl Instant {
    /// The civil day at an offset from UTC.
    pub fn day(self, offset_minutes: i32) -> NaiveDate {
        self.at(offset_minutes).date_naive()
    }

    /// The civil time at an offset from UTC.
    pub fn at(self, offset_minutes: i32) -> DateTime<FixedOffset> {
        let utc = DateTime::<Utc>::from_timestamp_millis(self.0).unwrap_or(if self.0 < 0 {
            DateTime::<Utc>::MIN_UTC
        } else {
            DateTime::<Utc>::MAX_UTC
        });
        utc.with_timezone(&offset(offset_minutes))
    }
}

fn offset(minutes: i32) -> FixedOffset {
    FixedOffset::east_opt(minutes.clamp(-1439, 1439) * 60).unwrap_or_else(|| Utc.fix_offset())
}

/// A helper to name UTC as a fixed offset.
trait FixOffset {
    fn fix_offset(&self) -> FixedOffset;
}

impl FixOffset for Utc {
    fn fix_offset(&self) -> FixedOffset {
        use chrono::Offset;
        self.fix()
    }
}

/// A time as written: a whole day at the site, or a clock time with its offset.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Moment {
    Day(NaiveDate),
    Clock(DateTime<FixedOffset>),
}

impl Moment {
    /// First instant of the moment; a day begins at midnight of the site's offset.
    pub fn start(self, site_offset_minutes: i32) -> Instant {
        match self {
            Self::Day(day) => midnight(day, site_offset_minutes),
            Self::Clock(t) => Instant(t.timestamp_millis()),
        }
    }

    /// Instant at which the moment is over; a day ends at the next midnight.
    pub fn end(self, site_offset_minutes: i32) -> Instant {
        match self {
            Self::Day(day) => {
                midnight(day.checked_add_days(Days::new(1)).unwrap_or(day), site_offset_minutes)
            }
            Self::Clock(t) => Instant(t.timestamp_millis()),
        }
    }

    /// Reads a moment; a clock time without an offset is taken at the site's.
    pub fn parse_at(text: &str, site_offset_minutes: i32) -> Result<Self, TimeError> {
        let t = text.trim();
        let bad = || TimeError { text: text.to_owned() };
        if let Ok(day) = NaiveDate::parse_from_str(t, "%Y-%m-%d") {
            return Ok(Self::Day(day)).and_then(|m| m.checked().ok_or_else(bad));
        }
        let with_t = t.replacen(' ', "T", 1);
        if let Ok(clock) = DateTime::parse_from_rfc3339(&with_t) {
            return Self::Clock(clock).checked().ok_or_else(bad);
        }
        for format in ["%Y-%m-%dT%H:%M:%S%.f%#z", "%Y-%m-%dT%H:%M%#z"] {
            if let Ok(clock) = DateTime::parse_from_str(&with_t, format) {
                return Self::Clock(clock).checked().ok_or_else(bad);
            }
        }
        for format in ["%Y-%m-%dT%H:%M:%S%.f", "%Y-%m-%dT%H:%M"] {
            if let Ok(naive) = NaiveDateTime::parse_from_str(&with_t, format) {
                let clock = offset(site_offset_minutes).from_local_datetime(&naive).single();
                return clock.and_then(|c| Self::Clock(c).checked()).ok_or_else(bad);
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

    pub fn day(self) -> NaiveDate {
        match self {
            Self::Day(d) => d,
            Self::Clock(t) => t.date_naive(),
        }
    }
}

fn midnight(day: NaiveDate, offset_minutes: i32) -> Instant {
    let utc = day.and_time(chrono::NaiveTime::MIN).and_utc().timestamp_millis();
    Instant(utc - i64::from(offset_minutes) * 60_000)
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
        Self::parse_at(text, 0)
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
        let t = self.at.at(self.offset_minutes);
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
        let (start, end) = (day.start(120), day.end(120));
        assert_eq!(end.0 - start.0, 86_400_000);
        assert_eq!(start.at(0).to_rfc3339(), "2026-03-03T22:00:00+00:00");
        assert_eq!(start.day(120).to_string(), "2026-03-04");
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
        let local = Moment::parse_at("2026-03-04 06:30", -300).unwrap();
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
