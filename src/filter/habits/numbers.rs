//! Numbers and units as other languages and the trade write them.

use super::super::error::Span;
use super::habit::Habit;
use super::line::{FEET, INCHES, Kind, Line};
use crate::units::Rational;

/// A number, with a fraction behind it where one stands: `6`, `6 5/8`, `6-5/8`, `5/8`; and the token
/// behind it.
fn number(line: &Line<'_>, at: usize) -> Option<(String, usize)> {
    let slash = |at: usize| {
        line.is_kind(at, Kind::Number) && line.is(at + 1, "/") && line.is_kind(at + 2, Kind::Number)
    };
    if !line.is_kind(at, Kind::Number) {
        return None;
    }
    if slash(at) {
        return Some((line.said(at, at + 2).to_owned(), at + 3));
    }
    let whole = line.said(at, at);
    let hyphen = usize::from(line.is(at + 1, "-"));
    if slash(at + 1 + hyphen) {
        let from = at + 1 + hyphen;
        return Some((format!("{whole} {}", line.said(from, from + 2)), from + 3));
    }
    Some((whole.to_owned(), at + 1))
}

fn is_one_of(line: &Line<'_>, at: usize, signs: &[&str]) -> bool {
    signs.iter().any(|sign| line.is(at, sign))
}

/// A length in inches as text.
fn inches(feet: &str, inches: &str) -> Option<String> {
    let feet = Rational::parse(feet)?.checked_mul(Rational::integer(12))?;
    let (whole, part) = inches.rsplit_once(' ').unwrap_or((inches, ""));
    if part.is_empty() {
        let sum = feet.checked_add(Rational::parse(whole)?)?;
        return Some(sum.as_integer().map_or_else(|| sum.to_f64().to_string(), |n| n.to_string()));
    }
    let sum = feet.checked_add(Rational::parse(whole)?)?.as_integer()?;
    Some(format!("{sum} {part}"))
}

/// Marks of feet and inches behind a number.
pub(super) fn marks(line: &Line<'_>, at: usize) -> Option<Habit> {
    let (said, mark) = number(line, at)?;
    if is_one_of(line, mark, &INCHES) {
        let text = format!("{said} in");
        let habit = Habit::instead(line.span(at, mark), &[&text], "");
        return Some(habit.pointing(line.span(mark, mark)).because("a quotation mark is no unit"));
    }
    if !is_one_of(line, mark, &FEET) {
        return None;
    }
    let (text, last) = match number(line, mark + 1) {
        Some((more, end)) if is_one_of(line, end, &INCHES) => {
            (format!("{} in", inches(&said, &more)?), end)
        }
        _ if at > 0 && line.is(at - 1, "/") => (format!("{said}ft"), mark),
        _ => (format!("{said} ft"), mark),
    };
    let habit = Habit::instead(line.span(at, last), &[&text], "");
    Some(habit.pointing(line.span(mark, mark)).because("a quotation mark is no unit"))
}

/// `31 ft 6 in`.
pub(super) fn feet_and_inches(line: &Line<'_>, at: usize) -> Option<Habit> {
    let (feet, foot) = number(line, at)?;
    let (more, inch) = number(line, foot + 1)?;
    let said = line.is_word(foot, &["ft", "feet", "foot"])
        && line.is_word(inch, &["in", "inch", "inches"]);
    let text = format!("{} in", said.then(|| inches(&feet, &more)).flatten()?);
    Some(Habit::instead(line.span(at, inch), &[&text], "").because("a length has one unit"))
}

/// `6⅝`.
pub(super) fn fraction_sign(line: &Line<'_>, at: usize) -> Option<Habit> {
    const SIGNS: [(&str, &str); 7] = [
        ("½", "1/2"),
        ("¼", "1/4"),
        ("¾", "3/4"),
        ("⅛", "1/8"),
        ("⅜", "3/8"),
        ("⅝", "5/8"),
        ("⅞", "7/8"),
    ];
    let token = line.get(at)?;
    let (_, text) = SIGNS.iter().find(|(sign, _)| *sign == token.text)?;
    let lead = if token.joined { " " } else { "" };
    let trail = if line.joined(at + 1) { " " } else { "" };
    Some(Habit::instead(token.span, &[&format!("{lead}{text}{trail}")], token.text))
}

/// `1,000,000`, `1 000 000`, `1'000'000`, `1_000_000`.
pub(super) fn grouped(line: &Line<'_>, at: usize) -> Option<Habit> {
    let first = line.get(at).filter(|t| t.kind == Kind::Number && t.text.len() <= 3)?;
    let mut digits = first.text.to_owned();
    let (mut last, mut groups, mut comma) = (at, 0, false);
    loop {
        let next = last + 1;
        let sign = [",", "'", "’"].iter().any(|s| line.is(next, s)) && line.joined(next);
        let place = if sign && line.joined(next + 1) { next + 1 } else { next };
        let Some(token) = line.get(place) else { break };
        let whole = token.text.split('.').next().unwrap_or_default();
        let fraction = line.is(place + 1, "/");
        match token.kind {
            Kind::Number if (place > next || !token.joined) && whole.len() == 3 && !fraction => {
                digits.push_str(token.text);
                comma |= place > next && line.is(next, ",");
                (last, groups) = (place, groups + 1);
            }
            Kind::Word if token.joined && token.text.starts_with('_') => {
                let rest: String = token.text.chars().filter(|c| *c != '_').collect();
                if !rest.chars().all(|c| c.is_ascii_digit()) {
                    break;
                }
                digits.push_str(&rest);
                (last, groups) = (place, groups + 1);
            }
            _ => break,
        }
    }
    if groups == 0 {
        return None;
    }
    let span = line.span(at, last);
    let decimal = format!("{}.{}", first.text, line.said(last, last));
    let texts =
        if comma && groups == 1 { vec![digits.as_str(), &decimal] } else { vec![digits.as_str()] };
    Some(
        Habit::instead(span, &texts, "")
            .because("a number stands without signs between its digits"),
    )
}

/// `82,5`.
pub(super) fn decimal_comma(line: &Line<'_>, at: usize) -> Option<Habit> {
    let joined = line.is(at + 1, ",") && line.joined(at + 1) && line.joined(at + 2);
    if !(line.is_kind(at, Kind::Number) && joined && line.is_kind(at + 2, Kind::Number)) {
        return None;
    }
    let text = format!("{}.{}", line.said(at, at), line.said(at + 2, at + 2));
    let habit =
        Habit::instead(line.span(at, at + 2), &[&text], "").pointing(line.span(at + 1, at + 1));
    Some(habit.because("the decimal sign is a point"))
}

/// `30k`, `1.5M`.
pub(super) fn suffix(line: &Line<'_>, at: usize) -> Option<Habit> {
    let times = match line.get(at + 1).filter(|t| t.joined)?.text {
        "k" | "K" => 1_000,
        "M" => 1_000_000,
        _ => return None,
    };
    let number = Rational::parse(line.get(at).filter(|t| t.kind == Kind::Number)?.text)?;
    let text = number.checked_mul(Rational::integer(times))?.as_integer()?.to_string();
    Some(Habit::instead(line.span(at, at + 1), &[&text], line.said(at, at + 1)))
}

/// `%86`.
pub(super) fn percent_first(line: &Line<'_>, at: usize) -> Option<Habit> {
    if !line.is(at, "%") || !line.is_kind(at + 1, Kind::Number) {
        return None;
    }
    let text = format!("{} %", line.said(at + 1, at + 1));
    Some(Habit::instead(line.span(at, at + 1), &[&text], "%"))
}

/// `10^2`, `10**2`.
pub(super) fn power(line: &Line<'_>, at: usize) -> Option<Habit> {
    if !line.is(at + 1, "^") && !line.is(at + 1, "**") {
        return None;
    }
    let base: i64 = line.get(at).filter(|t| t.kind == Kind::Number)?.text.parse().ok()?;
    let power: u32 = line.get(at + 2).filter(|t| t.kind == Kind::Number)?.text.parse().ok()?;
    let text = base.checked_pow(power)?.to_string();
    let habit = Habit::instead(line.span(at, at + 2), &[&text], line.said(at + 1, at + 1));
    Some(habit.pointing(line.span(at + 1, at + 1)))
}

/// `90 % of target_torque`, `90 % target_torque`.
pub(super) fn part_of(line: &Line<'_>, at: usize) -> Option<Habit> {
    let percent = line.is(at, "%") && at > 0 && line.is_kind(at - 1, Kind::Number);
    let of = usize::from(line.is_word(at + 1, &["of"]));
    if !percent || !line.is_field(at + 1 + of) {
        return None;
    }
    let start = line.span(at, at).end;
    let span = Span { start, end: line.span(at + 1 + of, at + 1 + of).start };
    let habit = Habit::instead(span, &[" * "], line.said(at + 1, at + 1));
    Some(habit.pointing(line.span(at + 1, at + 1)))
}

/// `5 deg per 100 ft`, `30 foot pounds`, `30 ft*lbf`.
pub(super) fn unit_in_words(line: &Line<'_>, at: usize) -> Option<Habit> {
    // Behind a number it is a unit; else it is so much for each of some records.
    let per = at > 0 && line.is_kind(at - 1, Kind::Number) || line.record(at + 2).is_some();
    if line.is_word(at + 1, &["per"]) && line.is_kind(at, Kind::Word) && per {
        let number = usize::from(line.is_kind(at + 2, Kind::Number));
        let last = at + 2 + number;
        let text = format!("{}/{}", line.said(at, at), line.said(at + 2, last).replace(' ', ""));
        let habit = Habit::instead(line.span(at, last), &[&text], "per");
        return Some(habit.pointing(line.span(at + 1, at + 1)));
    }
    let star = usize::from(line.is(at + 1, "*"));
    let foot = line.is_word(at, &["foot", "ft", "feet"]);
    let pounds = line.is_word(at + 1 + star, &["pounds", "pound", "lbs", "lb", "lbf"]);
    let kilo = line.is_word(at, &["kilofoot", "kft"]) && pounds;
    let text = if kilo { "kft.lbf" } else { "ft.lbf" };
    (kilo || foot && pounds).then(|| {
        Habit::instead(line.span(at, at + 1 + star), &[text], line.said(at, at + 1 + star))
    })
}
