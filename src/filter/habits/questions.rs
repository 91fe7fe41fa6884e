//! Questions to records, functions and windows of other languages.

use super::super::error::{Fix, Span};
use super::super::registry::{self, Record, Stored};
use super::habit::Habit;
use super::line::{Kind, Line};
use crate::model::article;

const QUESTIONS: [&str; 8] = ["any", "no", "every", "latest", "last", "first", "count", "over"];

/// The trade's other words for records.
const RECORDS: [(&str, &str); 14] = [
    ("trip", "run"),
    ("trips", "runs"),
    ("bha_run", "run"),
    ("insp", "inspection"),
    ("survey", "inspection"),
    ("connection", "makeup"),
    ("connections", "makeups"),
    ("defect", "finding"),
    ("defects", "findings"),
    ("fault", "finding"),
    ("incident", "event"),
    ("incidents", "events"),
    ("transfer", "move"),
    ("rental", "hire"),
];

/// `count(runs)`, `sum(hours)`, `isnull(wall)`.
pub(super) fn function(line: &Line<'_>, at: usize) -> Option<Habit> {
    let name = line.word(at);
    if !line.is(at + 1, "(") {
        return None;
    }
    let close = line.close(at + 1)?;
    let span = line.span(at, close);
    let inner = if close > at + 2 { line.said(at + 2, close - 1) } else { "" };
    let instead = |text: &str| {
        Some(
            Habit::instead(span, &[text], "")
                .pointing(line.span(at, at))
                .because(format!("{} is no function: this language has none", line.said(at, at))),
        )
    };
    if name == "count" && line.record(at + 2).is_some() {
        return instead(&format!("count {inner}"));
    }
    if ["isnull", "is_null", "isnan", "isblank", "isna"].contains(&name.as_str()) {
        return instead(&format!("({inner} is unknown)"));
    }
    if ["upper", "lower", "trim", "abs", "coalesce"].contains(&name.as_str()) && close == at + 3 {
        return instead(inner);
    }
    let fold = match name.as_str() {
        "sum" | "total" => "sum",
        "max" | "maximum" => "max",
        "min" | "minimum" => "min",
        "mean" | "avg" | "average" => "mean",
        _ => return None,
    };
    if (at + 2..close).any(|i| line.is_word(i, &["over"])) {
        return instead(&format!("{fold} {inner}"));
    }
    if close != at + 3 || !line.is_field(at + 2) {
        return None;
    }
    let counter = registry::field(None, inner)
        .is_some_and(|f| matches!(f.stored, Stored::Counter { .. } | Stored::Between(..)));
    if counter && fold != "min" && fold != "mean" {
        return instead(inner);
    }
    let over = registry::records_with(inner).first().map(|r| format!("{fold} {inner} over {r}s"));
    instead(&over?)
}

/// `run (…)` without saying which.
pub(super) fn records_without_question(line: &Line<'_>, at: usize) -> Option<Habit> {
    line.record(at)?;
    let asked = at.checked_sub(1).is_some_and(|b| line.is_word(b, &QUESTIONS) || line.is(b, "."));
    if asked || !line.is(at + 1, "(") {
        return None;
    }
    let start = line.span(at, at).start;
    let said = line.said(at, at);
    let fix = Fix::new(Span { start, end: start }, "any ");
    let habit = Habit { fixes: vec![fix], ..Habit::instead(line.span(at, at), &[], said) };
    let hint = format!("write any {said} (…), no {said} (…), every {said} (…) or the like");
    Some(habit.because(format!("{said} needs a word before it")).saying(hint))
}

/// `any trip`: the trade's other words for records.
pub(super) fn other_record(line: &Line<'_>, at: usize) -> Option<Habit> {
    let asked = at.checked_sub(1).is_some_and(|b| line.is_word(b, &QUESTIONS));
    let make_up = line.is_word(at, &["make"])
        && line.is_word(at + 1 + usize::from(line.is(at + 1, "-")), &["up", "ups"]);
    if asked && make_up {
        let last = at + 1 + usize::from(line.is(at + 1, "-"));
        return Some(Habit::instead(line.span(at, last), &["makeup"], line.said(at, last)));
    }
    let (_, record) = RECORDS.iter().find(|(said, _)| line.is_word(at, &[said]))?;
    asked.then(|| Habit::instead(line.span(at, at), &[record], line.said(at, at)))
}

/// `run.well = "X"`, `latest run.well`, `last inspection's wall`, `wall at latest inspection`.
pub(super) fn field_of_record(line: &Line<'_>, at: usize) -> Option<Habit> {
    if let Some(record) = line.record(at) {
        let dot = line.is(at + 1, ".") && line.joined(at + 1);
        let s = line.is(at + 1, "'") && line.is_word(at + 2, &["s"]);
        let field = at + if s { 3 } else { 2 };
        if !(dot || s) || registry::field(Some(record), &line.word(field)).is_none() {
            return None;
        }
        let said = line.said(field, field);
        if at.checked_sub(1).is_some_and(|b| line.is_word(b, &["latest", "last", "first"])) {
            let which = if line.is_word(at - 1, &["first"]) { "first" } else { "latest" };
            let text = format!("{said} of {which} {record}");
            let habit = Habit::instead(line.span(at - 1, field), &[&text], line.said(at, field));
            return Some(habit.pointing(line.span(at, field)));
        }
        let end = line.past_value(field + 2).filter(|_| line.compares(field + 1))?;
        let text = format!("any {record} ({})", line.said(field, end - 1));
        let habit = Habit::instead(line.span(at, end - 1), &[&text], line.said(at, field));
        return Some(habit.pointing(line.span(at, field)));
    }
    None
}

/// `hours > 5 h since last inspection`: the window stands behind the value.
pub(super) fn window_behind(line: &Line<'_>, at: usize) -> Option<Habit> {
    let begins = line.is_window(at);
    let end = line.past_value(at.checked_sub(1)?).filter(|_| begins);
    // The comparison before it: a sign and one value.
    let sign = (0..at).rev().find(|i| line.compares(*i)).filter(|_| end.is_some() || begins)?;
    if line.past_value(sign + 1)? != at || sign == 0 {
        return None;
    }
    let past = line.past_condition(at + 1, false);
    // A window word may follow a window: since … before ….
    let past = if past < line.len() && line.is_window(past) {
        line.past_condition(past + 1, false)
    } else {
        past
    };
    let window = line.said(at, past - 1);
    // `in last year` is one.
    let said = window.to_lowercase();
    let window = match said.strip_prefix("in last ") {
        Some(unit @ ("year" | "month" | "week" | "day")) => format!("in last 1 {unit}"),
        _ => window.to_owned(),
    };
    let text = format!("{window} {}", line.said(sign, at - 1));
    let habit = Habit::instead(line.span(sign, past - 1), &[&text], line.said(at, at));
    let field = line.said(sign - 1, sign - 1);
    let hint = format!(
        "a window goes right behind the field or record that it limits: {field} {window} {}",
        line.said(sign, at - 1)
    );
    Some(habit.pointing(line.span(at, at)).saying(hint))
}

/// Windows in other words.
pub(super) fn window_word(line: &Line<'_>, at: usize) -> Option<Habit> {
    let word = line.word(at);
    let the = usize::from(line.is_word(at + 1, &["the"]));
    let last = usize::from(line.is_word(at + 1 + the, &["last", "latest", "past", "previous"]));
    let next = at + 1 + the + last;
    let span = line.span(at, next - 1);
    let said = span.of(line.text);
    let habit = |text: &str| Some(Habit::instead(span, &[text], said));
    let number = line.is_kind(next, Kind::Number) && line.is_kind(next + 1, Kind::Word);
    let alone = ["in", "within", "during", "past", "since"].contains(&word.as_str());
    let with_last = the + last > 0 && ["over", "for"].contains(&word.as_str());
    if number && (alone || with_last) {
        return habit("in last");
    }
    if let Some(record) = line.record(next) {
        let since = ["since", "after", "from"].contains(&word.as_str());
        let first = line.is_word(at + 1, &["first"]);
        if since && !first && said != "since last" {
            let habit = Habit::instead(span, &["since last"], said);
            return Some(
                habit.because(format!("a window begins since the last or first {record}")),
            );
        }
    }
    let value = line.past_value(at + 1)?;
    let dated = line.is_kind(at + 1, Kind::Number) || line.is_word(at + 1, &["today"]);
    match word.as_str() {
        "between" if dated && line.is_word(value, &["and", "to"]) => {
            let end = line.past_value(value + 1)?;
            let (from, to) = (line.said(at + 1, value - 1), line.said(value + 1, end - 1));
            let text = format!("from {from} to {to}");
            let habit = Habit::instead(line.span(at, end - 1), &[&text], &word);
            Some(habit.pointing(line.span(at, at)))
        }
        "until" | "till" if dated => {
            let day = line.said(at + 1, value - 1);
            let texts = [format!("before {day}"), format!("as of {day}")];
            let habit = Habit::instead(line.span(at, value - 1), &[&texts[0], &texts[1]], &word);
            let hint = format!("write {}, or {} to count that day too", texts[0], texts[1]);
            Some(habit.pointing(line.span(at, at)).saying(hint))
        }
        // What it was on a day.
        "on" | "at" if dated && at > 0 && is_kept_by_day(&line.word(at - 1)) => {
            let text = format!("as of {}", line.said(at + 1, value - 1));
            let habit = Habit::instead(line.span(at, value - 1), &[&text], &word);
            Some(habit.pointing(line.span(at, at)))
        }
        "on" if dated => {
            let day = line.said(at + 1, value - 1);
            let text = format!("from {day} to {day}");
            let habit = Habit::instead(line.span(at, value - 1), &[&text], &word);
            Some(habit.pointing(line.span(at, at)))
        }
        _ => None,
    }
}

/// Whether a name is a field of the joint of which the book keeps what it was.
fn is_kept_by_day(name: &str) -> bool {
    registry::field(None, name).is_some_and(|f| f.past.is_some())
}

/// `any run well = "X"`: the condition of records stands in parentheses.
pub(super) fn condition_without_parentheses(line: &Line<'_>, at: usize) -> Option<Habit> {
    let record: Record = line.record(at)?;
    let asked = at.checked_sub(1).is_some_and(|b| line.is_word(b, &QUESTIONS));
    let joining =
        ["where", "with", "that", "which", "having", "whose", "in", "if", "when", "is", "="];
    let lead = usize::from(
        line.is_word(at + 1, &joining) && !line.is_window(at + 1) || line.is(at + 1, "="),
    );
    let from = at + 1 + lead;
    let past = line.past_condition(from, false);
    if !asked || from >= past || line.is(at + 1, "(") || line.is_window(at + 1) {
        return None;
    }
    let said = line.said(from, past - 1);
    // A word alone is what was found, done or failed.
    let what =
        ["what", "work", "ruling"].iter().find(|f| registry::field(Some(record), f).is_some());
    let condition = match (what, past - from) {
        (Some(what), 1) if !line.is_field(from) => format!("{what} = {said}"),
        (_, 2) if line.is_field(from) => {
            format!("{} = {}", line.said(from, from), line.said(from + 1, from + 1))
        }
        _ => said.to_owned(),
    };
    let text = format!(" ({condition})");
    let span = Span { start: line.span(at, at).end, end: line.span(from, past - 1).end };
    let fix = Fix::new(span, text);
    let habit = Habit { fixes: vec![fix], ..Habit::instead(line.span(at + 1, at + 1), &[], "") };
    let article = article(record.word());
    let message = format!("the condition of {article} {record} stands in parentheses");
    let question = line.said(at - 1, at);
    Some(habit.because(message).saying(format!("write {question} ({condition})")))
}

/// `hours above 100 h`: above counts above a bend; a limit has a sign.
pub(super) fn above_a_value(line: &Line<'_>, at: usize) -> Option<Habit> {
    let limit = line.is_word(at, &["above"]) && at > 0 && line.is_field(at - 1);
    let past = line.past_value(at + 1).filter(|_| limit)?;
    let curved = line.said(at + 1, past - 1).contains("deg") || line.compares(past);
    if curved {
        return None;
    }
    let habit = Habit::instead(line.span(at, at), &[">"], "above");
    let whole = line.span(at, past - 1);
    Some(habit.because("above is said of a bend: hours above 8 deg/100ft").pointing(whole))
}
