//! Dates and times as files write them.

use std::fmt;

use chrono::{DateTime, Datelike as _, NaiveDate, NaiveTime, Weekday};

use crate::model::{Clock, Instant, Moment, Shown, TimeError};

/// Which of two numbers before the year is the day.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum DateOrder {
    /// 4/3/2026 is the fourth of March.
    DayFirst,
    /// 4/3/2026 is the third of April.
    MonthFirst,
}

impl DateOrder {
    /// The word for it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::DayFirst => "day-first",
            Self::MonthFirst => "month-first",
        }
    }

    /// Reads `day first` or `month first`.
    pub fn parse(text: &str) -> Option<Self> {
        match text.trim().to_ascii_lowercase().replace(['-', '_'], " ").as_str() {
            "day first" | "dmy" => Some(Self::DayFirst),
            "month first" | "mdy" => Some(Self::MonthFirst),
            _ => None,
        }
    }
}

/// How dates and times of a file are to be understood.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Times {
    /// Clock of the site: of days, and of times that state no offset.
    pub clock: Clock,
    /// Order of day and month, where the user stated one.
    pub order: Option<DateOrder>,
    /// The present, where what lies ahead of it is to be refused.
    pub now: Option<Instant>,
}

impl Default for Times {
    fn default() -> Self {
        Self { clock: Clock::UTC, order: None, now: None }
    }
}

/// Why a text is no date or time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum WhenError {
    NoDate,
    /// Day and month cannot be told apart.
    Order,
    /// A year of two digits.
    ShortYear,
    /// A number without a unit, or a spreadsheet's count of days.
    Number,
    /// Clocks went forward over it.
    Skipped,
    /// The date is on another day of the week.
    Weekday,
    /// A time of day alone.
    NoDay,
}

impl WhenError {
    pub(super) const fn message(self) -> &'static str {
        match self {
            Self::NoDate => "is not a date or time",
            Self::Order => "does not say which number is the day",
            Self::ShortYear => "has a year of two digits",
            Self::Number => "is a plain number, not a date",
            Self::Skipped => "is a time that the clock of the site never shows",
            Self::Weekday => "is on another day of the week",
            Self::NoDay => "is a time of day, and nothing says of which day",
        }
    }

    /// What would be right.
    pub(super) const fn help(self) -> &'static str {
        match self {
            Self::NoDate => "write 2026-03-04 or 2026-03-04T06:30:00+02:00",
            Self::ShortYear => {
                "write 2026-03-04; in a spreadsheet: format the column as yyyy-mm-dd and save it again"
            }
            Self::NoDay => {
                "write the day with it, or add a column for it, titled date; a log that counts from its \
                 beginning says so by a unit, as in \"time [h]\""
            }
            Self::Weekday => "correct the date, or the day of the week, or leave that out",
            Self::Order => {
                "write 2026-03-04, or state the order: --date-order day-first or month-first"
            }
            Self::Number => {
                "write 2026-03-04; a spreadsheet's day number is not read as a date (format the \
                 column as a date before saving)"
            }
            Self::Skipped => {
                "clocks are put forward over it: write the time with its offset from UTC, as in \
                 2026-03-04T06:30:00+02:00"
            }
        }
    }
}

impl WhenError {
    /// What would be right, for the text at hand.
    pub(super) fn help_for(self, text: &str) -> String {
        let epoch = (self == Self::Number).then(|| Epoch::of(&[text])).flatten();
        match epoch.and_then(|e| Some((e, e.instant(text)?))) {
            Some((epoch, ms)) => format!(
                "as {epoch} it is {}: write it so",
                Instant(ms).at(Clock::UTC).format("%Y-%m-%dT%H:%M:%SZ")
            ),
            None => self.help().to_owned(),
        }
    }
}

/// A count of time since 1970-01-01T00:00:00Z, as computers keep it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Epoch {
    Seconds,
    Milliseconds,
}

/// Instants that a log or a list may tell, ms since 1970: the years 2000 to 2099. As any other time their
/// counts would be three decades or more.
const OF_THIS_CENTURY: std::ops::Range<f64> = 946_684_800_000.0..4_102_444_800_000.0;

impl Epoch {
    /// What all of these numbers count, where they can count nothing else.
    pub(super) fn of(texts: &[&str]) -> Option<Self> {
        let fits = |epoch: &Self| {
            let within = |t: &&str| {
                let whole = t.trim().split(['.', ',']).next().unwrap_or_default();
                // Dates may be written as eight digits, and no count of this century has so few.
                whole.len() >= 9 && epoch.ms(t).is_some_and(|ms| OF_THIS_CENTURY.contains(&ms))
            };
            !texts.is_empty() && texts.iter().all(within)
        };
        [Self::Seconds, Self::Milliseconds].into_iter().find(fits)
    }

    fn ms(self, text: &str) -> Option<f64> {
        let text = text.trim();
        if !text.bytes().all(|b| b.is_ascii_digit() || matches!(b, b'.' | b',')) {
            return None;
        }
        let value: f64 = text.replace(',', ".").parse().ok()?;
        Some(if self == Self::Seconds { value * 1000.0 } else { value })
    }

    /// Milliseconds since 1970-01-01T00:00:00Z.
    #[expect(clippy::cast_possible_truncation, reason = "the range is checked first")]
    pub(super) fn instant(self, text: &str) -> Option<i64> {
        let ms = self.ms(text).filter(|ms| OF_THIS_CENTURY.contains(ms))?;
        Some(ms.round_ties_even() as i64)
    }
}

impl fmt::Display for Epoch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let unit = if *self == Self::Seconds { "seconds" } else { "milliseconds" };
        write!(f, "{unit} since 1970-01-01T00:00:00Z")
    }
}

const MONTHS: [&str; 12] =
    ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];

fn month_word(word: &str) -> Option<u32> {
    const FULL: [&str; 12] = [
        "january",
        "february",
        "march",
        "april",
        "may",
        "june",
        "july",
        "august",
        "september",
        "october",
        "november",
        "december",
    ];
    let word = word.trim_end_matches('.').to_ascii_lowercase();
    let at = MONTHS
        .iter()
        .position(|m| *m == word)
        .or_else(|| FULL.iter().position(|m| *m == word))
        .or_else(|| (word == "sept").then_some(8))?;
    u32::try_from(at + 1).ok()
}

impl From<TimeError> for WhenError {
    fn from(e: TimeError) -> Self {
        match e {
            TimeError::Unreadable { .. } => Self::NoDate,
            TimeError::Skipped { .. } => Self::Skipped,
        }
    }
}

/// Reads a date or a time.
pub(super) fn moment(text: &str, times: Times) -> Result<Moment, WhenError> {
    read(text, times).map(|(moment, _)| moment)
}

/// The same, and whether the clock shows that time twice: then it is the first.
pub(super) fn read(text: &str, times: Times) -> Result<(Moment, bool), WhenError> {
    let text = text.trim();
    // Word processors write hyphens of their own.
    let hyphens = text.replace(['\u{2010}', '\u{2011}', '\u{2012}', '\u{2013}', '\u{2212}'], "-");
    let text = hyphens.as_str();
    match Moment::read_at(text, times.clock) {
        Ok(read) => return Ok(read),
        Err(e @ TimeError::Skipped { .. }) => return Err(e.into()),
        Err(TimeError::Unreadable { .. }) => {}
    }
    if text.parse::<f64>().is_ok() {
        return Err(WhenError::Number);
    }
    // The clock part begins at the last blank or T before the first colon.
    let (date, time) = match text.find(':') {
        Some(colon) => {
            let alone = || {
                let clock = text.bytes().all(|b| b.is_ascii_digit() || matches!(b, b':' | b'.'));
                if clock && colon > 0 { WhenError::NoDay } else { WhenError::NoDate }
            };
            let at = text[..colon].rfind([' ', 'T']).ok_or_else(alone)?;
            (text[..at].trim().trim_end_matches(','), text[at + 1..].trim())
        }
        None => (text, ""),
    };
    let day = date_part(date, times.order)?;
    let spelled = if time.is_empty() {
        day.format("%Y-%m-%d").to_string()
    } else {
        format!("{}T{}", day.format("%Y-%m-%d"), time_part(time).ok_or(WhenError::NoDate)?)
    };
    Ok(Moment::read_at(&spelled, times.clock)?)
}

/// The day of the week that a word names, whole or cut short.
fn weekday(word: &str) -> Option<Weekday> {
    let known = word.len() >= 2 && word.bytes().all(|b| b.is_ascii_alphabetic());
    known.then(|| word.parse().ok()).flatten()
}

/// A date, with the day of the week or without; one that is on another day of the week is none.
fn date_part(text: &str, order: Option<DateOrder>) -> Result<NaiveDate, WhenError> {
    let parts: Vec<&str> =
        text.split(['/', '.', '-', ' ', ',']).filter(|p| !p.is_empty()).collect();
    let (days, parts): (Vec<&str>, Vec<&str>) =
        parts.into_iter().partition(|p| weekday(p).is_some());
    let on = match days[..] {
        [] => None,
        [day] => weekday(day),
        [..] => return Err(WhenError::NoDate),
    };
    let day = day_of(&parts, text.contains('.') && days.is_empty(), order)?;
    if on.is_some_and(|on| on != day.weekday()) {
        return Err(WhenError::Weekday);
    }
    Ok(day)
}

fn day_of(parts: &[&str], dots: bool, order: Option<DateOrder>) -> Result<NaiveDate, WhenError> {
    let [a, b, c] = parts[..] else { return Err(WhenError::NoDate) };
    let number = |t: &str| t.parse::<u32>().ok();
    let build = |y: &str, m: u32, d: u32| {
        if y.len() == 2 && y.bytes().all(|b| b.is_ascii_digit()) {
            return Err(WhenError::ShortYear);
        }
        let year = (y.len() == 4).then(|| y.parse().ok()).flatten().ok_or(WhenError::NoDate)?;
        NaiveDate::from_ymd_opt(year, m, d).ok_or(WhenError::NoDate)
    };
    match (number(a), number(b), number(c)) {
        (Some(_), Some(m), Some(d)) if a.len() == 4 => build(a, m, d),
        (Some(x), Some(y), Some(_)) => {
            // Dots stand between day, month and year in that order wherever they are used.
            let order = match (order, dots, x > 12, y > 12) {
                (Some(o), ..) => o,
                (None, true, ..) | (None, false, true, false) => DateOrder::DayFirst,
                (None, false, false, true) => DateOrder::MonthFirst,
                _ if c.len() == 2 => return Err(WhenError::ShortYear),
                _ if x == y => DateOrder::DayFirst,
                _ => return Err(WhenError::Order),
            };
            match order {
                DateOrder::DayFirst => build(c, y, x),
                DateOrder::MonthFirst => build(c, x, y),
            }
        }
        (Some(d), None, Some(_)) => build(c, month_word(b).ok_or(WhenError::NoDate)?, d),
        (None, Some(d), Some(_)) => build(c, month_word(a).ok_or(WhenError::NoDate)?, d),
        _ => Err(WhenError::NoDate),
    }
}

/// `6:30 PM`, `06:30:00 +02:00` as ISO writes them.
fn time_part(text: &str) -> Option<String> {
    let lower = text.to_ascii_lowercase();
    let (clock, half) = match lower.strip_suffix("pm") {
        Some(t) => (t, 12),
        None => match lower.strip_suffix("am") {
            Some(t) => (t, 0),
            None => return Some(text.replace(' ', "")),
        },
    };
    let clock = clock.trim();
    let (hour, rest) = clock.split_once(':')?;
    let hour: u32 = hour.parse().ok().filter(|h| (1..=12).contains(h))?;
    Some(format!("{:02}:{rest}", hour % 12 + half))
}

/// Reads the common spelling of a log's time stamps fast; falls back on `moment`.
#[derive(Clone, Debug)]
pub(super) struct StampReader {
    times: Times,
    /// Day last read and its first millisecond, without an offset.
    day: [u8; 10],
    day_ms: i64,
    /// Offset of the clock on that day, ms; `None` for a day on which it changes.
    day_offset: Option<i64>,
    /// The stamp last read.
    last: i64,
    /// A stamp was one of two times that the clock shows alike.
    pub twice: bool,
    /// Stamps are counts of time.
    epoch: Option<Epoch>,
}

impl StampReader {
    /// A reader for a file.
    pub(super) fn new(times: Times) -> Self {
        let (day, last) = ([0; 10], i64::MIN);
        Self { times, day, day_ms: 0, day_offset: None, last, twice: false, epoch: None }
    }

    /// A reader for a file whose stamps are counts of time.
    pub(super) fn counting(times: Times, epoch: Option<Epoch>) -> Self {
        Self { epoch, ..Self::new(times) }
    }

    /// Milliseconds since 1970-01-01T00:00:00Z.
    pub(super) fn read(&mut self, bytes: &[u8]) -> Option<i64> {
        let bytes = bytes.trim_ascii();
        if let Some(epoch) = self.epoch {
            return epoch.instant(std::str::from_utf8(bytes).ok()?);
        }
        let read = self.fast(bytes).or_else(|| self.slow(bytes))?;
        self.last = read;
        Some(read)
    }

    /// A time by the clock of the site. Of two that look alike it is the first, unless the log has
    /// come past that already.
    fn by_clock(&mut self, local_ms: i64) -> Option<i64> {
        let time = DateTime::from_timestamp_millis(local_ms)?.naive_utc();
        match self.times.clock.shown(time) {
            Shown::Once(at) => Some(at.0),
            Shown::Twice(first, second) => {
                self.twice = true;
                Some(if first.0 < self.last { second.0 } else { first.0 })
            }
            Shown::Never => None,
        }
    }

    fn fast(&mut self, b: &[u8]) -> Option<i64> {
        if b.len() < 19 || !matches!(b[10], b'T' | b' ') || b[13] != b':' || b[16] != b':' {
            return None;
        }
        if b[..10] != self.day {
            let text = std::str::from_utf8(&b[..10]).ok()?;
            let day = NaiveDate::parse_from_str(text, "%Y-%m-%d").ok()?;
            self.day_ms = day.and_time(NaiveTime::MIN).and_utc().timestamp_millis();
            self.day.copy_from_slice(&b[..10]);
            let clock = self.times.clock;
            let (from, to) = (Moment::Day(day).start(clock), Moment::Day(day).end(clock));
            let offset = |at| i64::from(clock.offset_minutes(at)) * 60_000;
            self.day_offset = Some(offset(from)).filter(|o| *o == offset(Instant(to.0 - 1)));
        }
        let two = |at: usize| -> Option<i64> {
            let (x, y) = (b[at].wrapping_sub(b'0'), b[at + 1].wrapping_sub(b'0'));
            (x < 10 && y < 10).then(|| i64::from(x) * 10 + i64::from(y))
        };
        let (h, m, s) = (two(11)?, two(14)?, two(17)?);
        if h > 23 || m > 59 || s > 59 {
            return None;
        }
        let mut ms = self.day_ms + ((h * 60 + m) * 60 + s) * 1000;
        let mut at = 19;
        if b.get(at) == Some(&b'.') {
            at += 1;
            let mut scale = 100;
            while let Some(d) = b.get(at).map(|d| d.wrapping_sub(b'0')).filter(|d| *d < 10) {
                ms += i64::from(d) * scale;
                scale /= 10;
                at += 1;
            }
        }
        let offset = match b.get(at) {
            None => match self.day_offset {
                Some(offset) => return Some(ms - offset),
                None => return self.by_clock(ms),
            },
            Some(b'Z' | b'z') if b.len() == at + 1 => 0,
            Some(sign @ (b'+' | b'-')) if b.len() == at + 6 && b[at + 3] == b':' => {
                let minutes = two(at + 1)? * 60 + two(at + 4)?;
                if *sign == b'-' { -minutes } else { minutes }
            }
            Some(_) => return None,
        };
        Some(ms - offset * 60_000)
    }

    #[cold]
    fn slow(&mut self, bytes: &[u8]) -> Option<i64> {
        let text = std::str::from_utf8(bytes).ok()?;
        match read(text, self.times) {
            Ok((Moment::Clock(t), true)) => {
                self.by_clock(t.naive_local().and_utc().timestamp_millis())
            }
            Ok((Moment::Clock(t), false)) => Some(t.timestamp_millis()),
            Ok((Moment::Day(_), _)) | Err(_) => None,
        }
    }
}

/// A clock time from milliseconds, written as a clock shows it.
pub(super) fn clock_time(ms: i64, clock: Clock) -> Moment {
    Moment::Clock(Instant(ms).at(clock))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn told(text: &str) -> Result<String, WhenError> {
        moment(text, Times { clock: Clock::Offset(120), ..Times::default() }).map(|m| m.to_string())
    }

    #[test]
    fn reads_what_can_only_mean_one_thing() {
        for (text, want) in [
            ("2026-03-04", "2026-03-04"),
            ("2026/03/04", "2026-03-04"),
            ("04-Mar-2026", "2026-03-04"),
            ("4 March 2026", "2026-03-04"),
            ("Mar 4, 2026", "2026-03-04"),
            ("04.03.2026", "2026-03-04"),
            ("Wed 04-Mar-2026", "2026-03-04"),
            ("Wednesday, 4 March 2026", "2026-03-04"),
            ("2026\u{2011}03\u{2011}04", "2026-03-04"),
            ("25/03/2026", "2026-03-25"),
            ("03/25/2026", "2026-03-25"),
            ("2026-03-04 06:30", "2026-03-04T06:30:00+02:00"),
            ("04-Mar-2026 6:30:15 PM", "2026-03-04T18:30:15+02:00"),
            ("25/03/2026 00:00:01", "2026-03-25T00:00:01+02:00"),
            ("2026/03/04 06:30:00Z", "2026-03-04T06:30:00Z"),
        ] {
            assert_eq!(told(text).as_deref(), Ok(want), "{text}");
        }
    }

    #[test]
    fn refuses_to_guess() {
        for (text, want) in [
            ("04/03/2026", WhenError::Order),
            ("04/03/26", WhenError::ShortYear),
            ("4-Mar-26", WhenError::ShortYear),
            ("45720.5", WhenError::Number),
            ("soon", WhenError::NoDate),
            ("Mon 04-Mar-2026", WhenError::Weekday),
            ("Wed. 04/03/2026", WhenError::Order),
            ("31-Feb-2026", WhenError::NoDate),
            ("06:30", WhenError::NoDay),
        ] {
            assert_eq!(told(text), Err(want), "{text}");
        }
        let stated = Times { order: Some(DateOrder::MonthFirst), ..Times::default() };
        assert_eq!(moment("04/03/2026", stated).map(|m| m.to_string()).unwrap(), "2026-04-03");
    }

    #[test]
    fn stamps_read_fast_and_slow_alike() {
        let mut r = StampReader::new(Times { clock: Clock::Offset(60), ..Times::default() });
        let want = 1_772_605_800_000; // 2026-03-04T06:30:00Z
        for text in [
            "2026-03-04T06:30:00Z",
            "2026-03-04 07:30:00",
            "2026-03-04T09:30:00.000+03:00",
            " 2026-03-04T01:00:00-05:30 ",
            "04-Mar-2026 07:30:00",
        ] {
            assert_eq!(r.read(text.as_bytes()), Some(want), "{text}");
        }
        assert_eq!(r.read(b"2026-03-04 07:30:00.25"), Some(want + 250));
        assert_eq!(clock_time(want, Clock::Offset(60)).to_string(), "2026-03-04T07:30:00+01:00");
        for bad in ["", "2026-03-04", "2026-03-04T25:00:00", "2026-02-30T00:00:00", "x"] {
            assert_eq!(r.read(bad.as_bytes()), None, "{bad}");
        }
    }

    // Clocks of Oslo in 2026 as the IANA time zone data base has them.
    #[test]
    fn times_of_a_day_on_which_clocks_change_are_told_apart() {
        let times = Times { clock: "Europe/Oslo".parse().unwrap(), ..Times::default() };
        let told = |text: &str| read(text, times).map(|(m, twice)| (m.to_string(), twice));
        assert_eq!(told("2026-03-29 02:30"), Err(WhenError::Skipped));
        assert_eq!(told("29-Mar-2026 2:30 AM"), Err(WhenError::Skipped));
        assert_eq!(told("2026-10-25 02:30"), Ok(("2026-10-25T02:30:00+02:00".to_owned(), true)));
        let mut log = StampReader::new(times);
        let mut minutes = Vec::new();
        for text in [
            "2026-10-25 01:30:00",
            "2026-10-25 02:30:00",
            "2026-10-25 02:10:00",
            "2026-10-25 02:40",
            "2026-10-25 03:00:00",
        ] {
            minutes.push(log.read(text.as_bytes()).unwrap() / 60_000);
        }
        let steps: Vec<i64> = minutes.windows(2).map(|w| w[1] - w[0]).collect();
        assert_eq!(steps, [60, 40, 30, 20]);
        assert!(log.twice);
        assert_eq!(log.read(b"2026-03-29 02:30:00"), None);
    }

    proptest! {
        #[test]
        fn soup_never_panics(text in "\\PC{0,40}", shaped in "[0-9T: /.-]{0,30}") {
            let mut r = StampReader::new(Times::default());
            for t in [text, shaped] {
                let _ = moment(&t, Times::default());
                let _ = r.read(t.as_bytes());
            }
        }
    }
}
