//! Days as people write them.

use chrono::{Datelike, Days, Months, NaiveDate};

use super::super::error::{Fix, Span};
use super::super::parse::{Rule, reads};
use super::super::registry;
use super::habit::Habit;
use super::line::{Kind, Line};

/// First and last day of what was written, and the token behind it.
type Read = (Vec<(NaiveDate, NaiveDate)>, usize);

const MONTHS: [&str; 12] =
    ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];

fn day(year: i32, month: u32, day: u32) -> Option<(NaiveDate, NaiveDate)> {
    NaiveDate::from_ymd_opt(year, month, day).map(|d| (d, d))
}

fn month(year: i32, month: u32) -> Option<(NaiveDate, NaiveDate)> {
    let first = NaiveDate::from_ymd_opt(year, month, 1)?;
    Some((first, first.checked_add_months(Months::new(1))?.checked_sub_days(Days::new(1))?))
}

fn number(line: &Line<'_>, at: usize) -> Option<(u32, usize)> {
    let token = line.get(at).filter(|t| t.kind == Kind::Number)?;
    let digits = token.text.len();
    (digits <= 8).then(|| token.text.parse().ok()).flatten().map(|n| (n, digits))
}

fn month_name(line: &Line<'_>, at: usize) -> Option<u32> {
    let word = line.word(at);
    let at = MONTHS.iter().position(|m| word.starts_with(m) && word.len() <= 9)?;
    u32::try_from(at + 1).ok()
}

fn year(n: u32, digits: usize) -> Option<i32> {
    match digits {
        4 if (1900..2200).contains(&n) => i32::try_from(n).ok(),
        2 => i32::try_from(2000 + n).ok(),
        _ => None,
    }
}

/// `1st`, `2nd`: the ending behind a number.
fn ending(line: &Line<'_>, at: usize) -> usize {
    usize::from(line.joined(at) && line.is_word(at, &["st", "nd", "rd", "th"]))
}

fn read(line: &Line<'_>, at: usize) -> Option<Read> {
    let sep = |at: usize| usize::from(["-", "/", ".", ","].iter().any(|s| line.is(at, s)));
    // March 1, 2026; Mar 2026
    if let Some(m) = month_name(line, at) {
        let (n, digits) = number(line, at + 1 + sep(at + 1))?;
        let end = at + 2 + sep(at + 1);
        if let Some(y) = year(n, digits).filter(|_| digits == 4) {
            return Some((vec![month(y, m)?], end));
        }
        let end = end + ending(line, end);
        let (y, digits) = number(line, end + sep(end))?;
        return Some((vec![day(year(y, digits)?, m, n)?], end + sep(end) + 1));
    }
    let token = line.get(at).filter(|t| t.kind == Kind::Number)?;
    // 01.03.2026 and 2026.03.01: two of its numbers read as one.
    if let Some((a, b)) = token.text.split_once('.') {
        let next = if line.is(at + 1, ".") { at + 2 } else { at + 1 };
        let (c, digits) = number(line, next)?;
        let (first, second): (u32, u32) = (a.parse().ok()?, b.parse().ok()?);
        let found = if a.len() == 4 {
            day(year(first, 4)?, second, c)?
        } else {
            day(year(c, digits)?, second, first)?
        };
        return Some((vec![found], next + 1));
    }
    let (a, digits) = number(line, at)?;
    if digits == 8 {
        let found = day(i32::try_from(a / 10_000).ok()?, a / 100 % 100, a % 100)?;
        return Some((vec![found], at + 1));
    }
    // 1 March 2026, 1-Mar-2026
    let after = at + 1 + ending(line, at + 1);
    let after = after + usize::from(line.is_word(after, &["of"]));
    if let Some(m) = month_name(line, after + sep(after)) {
        let next = after + sep(after) + 1;
        let (y, digits) = number(line, next + sep(next))?;
        return Some((vec![day(year(y, digits)?, m, a)?], next + sep(next) + 1));
    }
    let year_alone = year(a, digits).filter(|_| digits == 4);
    if sep(at + 1) == 0 {
        let y = year_alone?;
        let whole = (month(y, 1)?.0, month(y, 12)?.1);
        // A number with a unit is no year.
        let unit = line.is_kind(at + 1, Kind::Word)
            && reads(Rule::quantity, &line.text[token.span.start..]) != Some(token.text.len());
        return (!unit).then(|| (vec![whole], at + 1));
    }
    let (b, _) = number(line, at + 2)?;
    if sep(at + 3) == 0 {
        // 2026-03
        return Some((vec![month(year_alone?, b)?], at + 3));
    }
    let (c, digits) = number(line, at + 4)?;
    if let Some(y) = year_alone {
        return Some((vec![day(y, b, c)?], at + 5));
    }
    // Which of the two is the month, nobody knows unless one of them cannot be.
    let y = year(c, digits)?;
    let both: Vec<_> = [day(y, b, a), day(y, a, b)].into_iter().flatten().collect();
    let same = both.len() == 2 && both[0] == both[1];
    (!both.is_empty()).then(|| (if same { vec![both[0]] } else { both }, at + 5))
}

/// A day in another spelling than that of this language.
pub(super) fn spelled(line: &Line<'_>, at: usize) -> Option<Habit> {
    let before = |n: usize| at.checked_sub(n);
    // Not inside a number or date that began before.
    if before(1)
        .is_some_and(|b| line.is_kind(b, Kind::Number) || line.is(b, "/") || line.is(b, "."))
    {
        return None;
    }
    let (days, end) = read(line, at)?;
    let said = line.said(at, end - 1);
    let iso = |d: NaiveDate| format!("{:04}-{:02}-{:02}", d.year(), d.month(), d.day());
    let whole = days.first().is_some_and(|(a, b)| a == b);
    if whole && said == iso(days[0].0) {
        return None;
    }
    let dated = before(1).is_some_and(|b| {
        line.compares(b)
            || line.is_word(
                b,
                &["since", "before", "after", "from", "to", "of", "and", "between", "on", "until"],
            )
    });
    if !dated {
        return None;
    }
    let span = line.span(at, end - 1);
    let message = "days are written 2026-03-01";
    if !whole && before(1).is_some_and(|b| line.is(b, "=")) {
        let texts: Vec<String> =
            days.iter().map(|(a, b)| format!("between {} and {}", iso(*a), iso(*b))).collect();
        let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
        let all = Span { start: line.span(at - 1, at - 1).start, ..span };
        return Some(Habit::instead(all, &texts, said).because(message).pointing(span));
    }
    let last = before(1).is_some_and(|b| {
        line.is(b, ">") || line.is(b, "<=") || line.is_word(b, &["after", "to", "of"])
    });
    let texts: Vec<String> = days.iter().map(|(a, b)| iso(if last { *b } else { *a })).collect();
    let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
    Some(Habit::instead(span, &texts, said).because(message))
}

/// `any run in 2025`, `hours during May 2026`, `made in 2020`: from its first day to its last.
pub(super) fn in_period(line: &Line<'_>, at: usize) -> Option<Habit> {
    let before = at.checked_sub(1).filter(|_| line.is_word(at, &["in", "during"]))?;
    let (days, end) = read(line, at + 1)?;
    let [(first, last)] = days[..] else { return None };
    let field = registry::field(None, &line.word(before));
    let dated = field.is_some_and(|f| matches!(f.kind, registry::Kind::Date));
    let number = field.is_some_and(|f| f.measure().is_some());
    let ran = line.is_word(before, &["ran", "used", "drilled"]);
    if !(dated || number || ran || line.record(before).is_some() || line.is(before, ")")) {
        return None;
    }
    let iso = |d: NaiveDate| format!("{:04}-{:02}-{:02}", d.year(), d.month(), d.day());
    let (lead, to) = if dated { ("between", "and") } else { ("from", "to") };
    let text = format!("{lead} {} {to} {}", iso(first), iso(last));
    let (from, text) = if ran { (before, format!("any run {text}")) } else { (at, text) };
    let habit = Habit::instead(line.span(from, end - 1), &[&text], line.said(at, end - 1));
    let why = format!("{} has a first and a last day", line.said(at + 1, end - 1));
    (first != last).then(|| habit.because(why).pointing(line.span(at, end - 1)))
}

/// `hours last 30 days > 100 h`, `any run past 6 months`.
pub(super) fn last_so_long(line: &Line<'_>, at: usize) -> Option<Habit> {
    const UNITS: [&str; 8] = ["days", "day", "weeks", "week", "months", "month", "years", "year"];
    let behind = at.checked_sub(1).is_some_and(|b| line.is_field(b) || line.is(b, ")"));
    let last = line.is_word(at, &["last", "past"]) && line.is_kind(at + 1, Kind::Number);
    let habit = Habit::instead(line.span(at, at), &["in last"], line.said(at, at));
    (behind && last && line.is_word(at + 2, &UNITS)).then_some(habit)
}

/// A day in quotation marks, with or without a word of another language before it.
pub(super) fn quoted(line: &Line<'_>, at: usize) -> Option<Habit> {
    let token = line.get(at)?;
    let marked = line.is(at, "#").then(|| {
        let rest = &line.text[token.span.end..];
        rest.find('#').map(|n| (&rest[..n], token.span.end + n + 1))
    });
    let (inner, end) = match (token.kind, marked.flatten()) {
        (_, Some(found)) => found,
        (Kind::Text | Kind::OddText, None) => {
            (token.text.trim_matches(|c: char| !c.is_alphanumeric()), token.span.end)
        }
        _ => return None,
    };
    let day = Line::of(inner);
    let (days, past) = read(&day, 0)?;
    let (first, _) = days.first().filter(|_| past == day.len() && days.len() == 1)?;
    let dated = inner.contains(['-', '/', '.', ' ']);
    let called = |n: usize| {
        at.checked_sub(n)
            .is_some_and(|b| line.is_word(b, &["date", "timestamp", "to_date", "datetime"]))
    };
    let (from, end) = match (called(1), called(2) && line.is(at.wrapping_sub(1), "(")) {
        (true, _) => (at - 1, end),
        (_, true) => (at - 2, line.span(at + 1, at + 1).end),
        _ => (at, end),
    };
    let span = Span { start: line.span(from, from).start, end };
    let text = first.format("%Y-%m-%d").to_string();
    dated
        .then(|| Habit::instead(span, &[&text], "").because("a day stands without quotation marks"))
}

/// `6 months ago`.
pub(super) fn ago(line: &Line<'_>, at: usize) -> Option<Habit> {
    if !line.is_kind(at, Kind::Number) || !line.is_word(at + 2, &["ago", "back"]) {
        return None;
    }
    let text = format!("today - {}", line.said(at, at + 1));
    let habit = Habit::instead(line.span(at, at + 2), &[&text], line.said(at + 2, at + 2));
    Some(habit.pointing(line.span(at + 2, at + 2)))
}

/// `now()`, `yesterday`.
pub(super) fn called(line: &Line<'_>, at: usize) -> Option<Habit> {
    const TODAY: [&str; 7] =
        ["now", "today", "sysdate", "getdate", "current_date", "curdate", "current_timestamp"];
    let text = match line.word(at).as_str() {
        "yesterday" => "today - 1 day",
        word if TODAY.contains(&word) => "today",
        _ => return None,
    };
    let call = line.is(at + 1, "(") && line.is(at + 2, ")");
    let span = line.span(at, if call { at + 2 } else { at });
    let said = span.of(line.text);
    (said != text)
        .then(|| Habit { fixes: vec![Fix::new(span, text)], ..Habit::instead(span, &[text], said) })
}
