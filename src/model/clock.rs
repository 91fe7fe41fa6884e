//! The civil clock of a site: what a day is there, and what its clock shows.

use std::fmt;
use std::str::FromStr;

use chrono::{MappedLocalTime, NaiveDate, NaiveDateTime, NaiveTime, Offset, TimeZone};
use chrono_tz::{TZ_VARIANTS, Tz};

use super::time::Instant;
use super::vocab::nearest_word;

/// A civil clock: that of a time zone, which may change with the season, or one at a fixed offset
/// from UTC. Offsets are whole minutes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Clock {
    /// Minutes ahead of UTC, less than a day.
    Offset(i32),
    /// A zone of the IANA data base.
    Zone(Tz),
}

impl Default for Clock {
    fn default() -> Self {
        Self::UTC
    }
}

/// When a clock shows a time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shown {
    Once(Instant),
    /// Clocks went back: first and second time.
    Twice(Instant, Instant),
    /// Clocks went forward over it.
    Never,
}

/// A name that no clock has.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "'{text}' is no clock: write a time zone like Europe/Oslo, an offset like +02:00, or UTC{}",
    near.as_ref().map(|n| format!("; did you mean {n}?")).unwrap_or_default()
)]
pub struct ClockError {
    pub text: String,
    pub near: Option<String>,
}

/// Minutes of a day.
const DAY: i32 = 1_440;

impl Clock {
    pub const UTC: Self = Self::Offset(0);

    /// The clock that is so many minutes ahead of UTC.
    pub fn of_offset(minutes: i32) -> Self {
        Self::Offset(minutes.clamp(1 - DAY, DAY - 1))
    }

    /// Minutes ahead of UTC at an instant.
    pub fn offset_minutes(self, at: Instant) -> i32 {
        match self {
            Self::Offset(minutes) => minutes,
            Self::Zone(zone) => minutes(zone.offset_from_utc_datetime(&at.utc().naive_utc()).fix()),
        }
    }

    /// When the clock shows a time.
    pub fn shown(self, time: NaiveDateTime) -> Shown {
        let ms = time.and_utc().timestamp_millis();
        let less = |minutes: i32| Instant(ms - i64::from(minutes) * 60_000);
        let zone = match self {
            Self::Offset(minutes) => return Shown::Once(less(minutes)),
            Self::Zone(zone) => zone,
        };
        match zone.offset_from_local_datetime(&time) {
            MappedLocalTime::Single(offset) => Shown::Once(less(minutes(offset.fix()))),
            MappedLocalTime::Ambiguous(a, b) => {
                let (a, b) = (less(minutes(a.fix())), less(minutes(b.fix())));
                Shown::Twice(a.min(b), a.max(b))
            }
            MappedLocalTime::None => Shown::Never,
        }
    }

    /// The first instant of a day. Where clocks go forward over midnight it begins later, and a day
    /// that a place left out is as short as nothing.
    pub fn midnight(self, day: NaiveDate) -> Instant {
        let time = day.and_time(NaiveTime::MIN);
        match self.shown(time) {
            Shown::Once(at) | Shown::Twice(at, _) => at,
            Shown::Never => {
                let utc = Instant(time.and_utc().timestamp_millis());
                let before = self.offset_minutes(Instant(utc.0 - i64::from(DAY) * 60_000));
                Instant(utc.0 - i64::from(before) * 60_000)
            }
        }
    }
}

fn minutes(offset: chrono::FixedOffset) -> i32 {
    offset.local_minus_utc().div_euclid(60)
}

impl fmt::Display for Clock {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Offset(0) => f.write_str("UTC"),
            Self::Offset(minutes) => {
                let (sign, n) = if *minutes < 0 { ('-', -minutes) } else { ('+', *minutes) };
                write!(f, "{sign}{:02}:{:02}", n / 60, n % 60)
            }
            Self::Zone(zone) => f.write_str(zone.name()),
        }
    }
}

/// Minutes of `+02:00`, `-0330`, `+2`.
fn offset(text: &str) -> Option<i32> {
    let (sign, rest) = match text.strip_prefix('+') {
        Some(rest) => (1, rest),
        None => (-1, text.strip_prefix(['-', '\u{2212}'])?),
    };
    let (hours, minutes) = match rest.split_once(':') {
        Some(parts) => parts,
        None if rest.len() == 4 => rest.split_at_checked(2)?,
        None => (rest, "0"),
    };
    let number = |t: &str| t.parse::<u8>().ok().map(i32::from).filter(|_| t.len() <= 2);
    let (hours, minutes) = (number(hours)?, number(minutes).filter(|m| *m < 60)?);
    let all = sign * (hours * 60 + minutes);
    (all.abs() < DAY).then_some(all)
}

impl FromStr for Clock {
    type Err = ClockError;

    fn from_str(text: &str) -> Result<Self, ClockError> {
        let t = text.trim();
        if ["utc", "z"].contains(&t.to_ascii_lowercase().as_str()) {
            return Ok(Self::UTC);
        }
        if let Some(minutes) = offset(t) {
            return Ok(Self::Offset(minutes));
        }
        let spelled = t.replace(' ', "_");
        let all = || TZ_VARIANTS.iter();
        if let Some(zone) = all().find(|z| z.name().eq_ignore_ascii_case(&spelled)) {
            return Ok(Self::Zone(*zone));
        }
        let place = |z: &Tz| z.name().rsplit('/').next().unwrap_or_default().to_owned();
        let city = spelled.rsplit('/').next().unwrap_or_default();
        let near = all()
            .find(|z| place(z).eq_ignore_ascii_case(city))
            .map(|z| z.name().to_owned())
            .or_else(|| nearest_word(&spelled, all().map(|z| z.name())));
        Err(ClockError { text: text.to_owned(), near })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Moment;

    fn clock(name: &str) -> Clock {
        name.parse().unwrap()
    }

    fn utc(ms: Instant) -> String {
        ms.at(Clock::UTC).to_rfc3339()
    }

    // Changes of clocks as the IANA time zone data base has them.
    #[test]
    fn a_day_begins_where_its_own_clock_says() {
        for (zone, day, begins, hours) in [
            ("Europe/Oslo", "2026-03-28", "2026-03-27T23:00:00+00:00", 24),
            ("Europe/Oslo", "2026-03-29", "2026-03-28T23:00:00+00:00", 23),
            ("Europe/Oslo", "2026-07-01", "2026-06-30T22:00:00+00:00", 24),
            ("Europe/Oslo", "2026-10-25", "2026-10-24T22:00:00+00:00", 25),
            ("America/St_Johns", "2026-01-01", "2026-01-01T03:30:00+00:00", 24),
            ("Pacific/Auckland", "2026-01-01", "2025-12-31T11:00:00+00:00", 24),
            // Midnight itself was left out.
            ("America/Sao_Paulo", "2018-11-04", "2018-11-04T03:00:00+00:00", 23),
            // The whole day was left out.
            ("Pacific/Apia", "2011-12-30", "2011-12-30T10:00:00+00:00", 0),
            ("+02:00", "2026-03-29", "2026-03-28T22:00:00+00:00", 24),
        ] {
            let moment: Moment = day.parse().unwrap();
            let (start, end) = (moment.start(clock(zone)), moment.end(clock(zone)));
            assert_eq!(utc(start), begins, "{zone} {day}");
            assert_eq!(end.0 - start.0, hours * 3_600_000, "{zone} {day}");
        }
    }

    #[test]
    fn a_time_is_shown_once_twice_or_never() {
        let at = |text: &str| NaiveDateTime::parse_from_str(text, "%Y-%m-%dT%H:%M").unwrap();
        let oslo = clock("europe/oslo");
        assert_eq!(oslo.shown(at("2026-03-29T02:30")), Shown::Never);
        let Shown::Twice(first, second) = oslo.shown(at("2026-10-25T02:30")) else { panic!() };
        assert_eq!(utc(first), "2026-10-25T00:30:00+00:00");
        assert_eq!(second.0 - first.0, 3_600_000);
        assert!(matches!(oslo.shown(at("2026-06-01T02:30")), Shown::Once(_)));
    }

    #[test]
    fn names_are_read_as_they_are_written() {
        for (text, name) in [
            ("+02:00", "+02:00"),
            ("-0330", "-03:30"),
            ("+2", "+02:00"),
            ("utc", "UTC"),
            ("Z", "UTC"),
            ("+00:00", "UTC"),
            ("america/st johns", "America/St_Johns"),
        ] {
            assert_eq!(clock(text).to_string(), name);
            assert_eq!(clock(name), clock(text));
        }
        let near = |text: &str| text.parse::<Clock>().unwrap_err().near;
        assert_eq!(near("Oslo").as_deref(), Some("Europe/Oslo"));
        assert_eq!(near("Europe/Olso").as_deref(), Some("Europe/Oslo"));
        for text in ["+24:00", "+02:60", "", "2", "+1:2:3"] {
            assert!(text.parse::<Clock>().is_err(), "{text}");
        }
    }

    #[test]
    fn days_rest_on_this_edition_of_the_time_zones() {
        // Derived rows hold where days begin: a new edition of the data base wants a new
        // `projection::VERSION`, or books keep the old days until they are rebuilt.
        assert_eq!(chrono_tz::IANA_TZDB_VERSION, "2025b");
    }
}
