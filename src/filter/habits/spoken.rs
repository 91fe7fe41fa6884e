//! Questions as they are spoken: what was done to a joint, how old it is, where it is, how it compares
//! with others.

use super::super::error::Span;
use super::super::registry::{self, Record};
use super::habit::Habit;
use super::line::{Kind, Line};
use crate::model::{EventKind, Vocabulary, Work};

/// What was done, and the record that tells of it.
const DONE: [(&str, &str); 6] = [
    ("inspected", "inspection"),
    ("repaired", "repair"),
    ("moved", "move"),
    ("hired", "hire"),
    ("failed", "failure"),
    ("run", "run"),
];

/// What is said of a joint in one word, and what the book has of it.
const SAID: [(&str, &str); 16] = [
    ("cracked", "any finding (what = crack)"),
    ("galled", "any finding (what = galled)"),
    ("washed", "any finding (what = washout)"),
    ("jarred", "any event (what = jarring)"),
    ("stuck", "any event (what = stuck)"),
    ("dropped", "any event (what = drop)"),
    ("overpulled", "any event (what = overpull)"),
    ("redressed", "any repair (work = dress)"),
    ("refaced", "any repair (work = reface)"),
    ("straightened", "any repair (work = straighten)"),
    ("rehardbanded", "any repair (work = hardband)"),
    ("hardbanded", "any repair (work = hardband)"),
    ("recoated", "any repair (work = coat)"),
    ("overdue", "due for inspection"),
    ("undertorqued", "any makeup (verdict = under)"),
    ("overtorqued", "any makeup (verdict = over)"),
];

/// The trade's other names of fields.
const NAMES: [(&str, &str); 12] = [
    ("manufactured", "made"),
    ("manufacturer", "maker"),
    ("mill", "maker"),
    ("mfr", "maker"),
    ("received", "entered"),
    ("delivered", "entered"),
    ("customer", "owner"),
    ("yard", "location"),
    ("rack", "location"),
    ("thread", "connection"),
    ("condition", "class"),
    ("category", "class"),
];

/// Whether a condition may begin at a place.
fn begins(line: &Line<'_>, at: usize) -> bool {
    at.checked_sub(1).is_none_or(|b| line.is_word(b, &["and", "or", "not"]) || line.is(b, "("))
}

/// Whether a condition may end before a place.
fn ends(line: &Line<'_>, at: usize) -> bool {
    at >= line.len() || line.is_word(at, &["and", "or"]) || line.is(at, ")")
}

/// A number and the unit of time behind it: the place behind both, and the two.
fn so_long<'t>(line: &Line<'t>, at: usize) -> Option<(usize, &'t str)> {
    const UNITS: [&str; 8] = ["days", "day", "weeks", "week", "months", "month", "years", "year"];
    let there = line.is_kind(at, Kind::Number) && line.is_word(at + 1, &UNITS);
    there.then(|| (at + 2, line.said(at, at + 1)))
}

/// `age > 2 years`, `older than 2 years`: how long ago it was made.
pub(super) fn age(line: &Line<'_>, at: usize) -> Option<Habit> {
    // What stands before it may have an age of its own.
    let of_joints = begins(line, at) || line.is_word(at - 1, &["joint", "joints", "pipe", "pipes"]);
    let (sign, value) = match (line.word(at).as_str(), line.word(at + 1).as_str()) {
        ("older", "than") if of_joints => ("<", at + 2),
        ("younger" | "newer", "than") if of_joints => (">", at + 2),
        ("age", _) => match line.get(at + 1)?.text {
            ">" | ">=" => ("<", at + 2),
            "<" | "<=" => (">", at + 2),
            _ => return None,
        },
        _ => return None,
    };
    let (past, long) = so_long(line, value)?;
    let text = format!("made {sign} today - {long}");
    let habit = Habit::instead(line.span(at, past - 1), &[&text], line.said(at, at));
    let why = "how old a joint is tells the day on which it was made";
    Some(habit.because(why).pointing(line.span(at, value - 1)))
}

/// `last inspection older than 90 days`, `wall reading older than 1 year`: it has an age of its own.
pub(super) fn age_of(line: &Line<'_>, at: usize) -> Option<Habit> {
    let noun = at + usize::from(line.is_word(at, &["last", "latest", "the"]));
    let field = format!("{}_age", line.word(noun));
    let words = usize::from(line.is_word(noun + 1, &["reading", "measurement", "record"]));
    let old = noun + 1 + words;
    let sign = match line.word(old).as_str() {
        "older" => ">",
        "younger" | "newer" => "<",
        _ => return None,
    };
    let (past, long) = so_long(line, old + 2).filter(|_| line.is_word(old + 1, &["than"]))?;
    let text = format!("{field} {sign} {long}");
    let habit = Habit::instead(line.span(at, past - 1), &[&text], line.said(old, old + 1));
    let known = registry::is_field(&field) && begins(line, at);
    known
        .then(|| habit.because(format!("how old it is tells {field}")).pointing(line.span(at, old)))
}

/// `inspected more than 6 months ago`: before a day so long before today.
pub(super) fn more_than_ago(line: &Line<'_>, at: usize) -> Option<Habit> {
    let sign = match line.word(at).as_str() {
        "more" | "over" | "longer" => "<",
        "less" | "under" | "within" => ">",
        _ => return None,
    };
    let number = at + 1 + usize::from(line.is_word(at + 1, &["than"]));
    let (past, long) = so_long(line, number)?;
    let text = format!("{sign} today - {long}");
    let habit = Habit::instead(line.span(at, past), &[&text], line.said(at, past));
    let dated = at > 0 && line.is_kind(at - 1, Kind::Word) && line.is_word(past, &["ago", "back"]);
    dated.then(|| habit.because("what was longer ago has the earlier day"))
}

/// `repaired more than twice`, `recut at least 3 times`: how many records tell of it.
pub(super) fn so_often(line: &Line<'_>, at: usize) -> Option<Habit> {
    let lead = usize::from(line.is_word(at, &["has", "was", "had"]));
    let word = at + lead + usize::from(lead > 0 && line.is_word(at + 1, &["been"]));
    let said = line.word(word);
    let done = DONE.iter().find(|(name, _)| *name == said).map(|(_, record)| format!("{record}s"));
    let worked = || Work::from_word(&said).is_ok().then(|| format!("repairs (work = {said})"));
    let records = done.or_else(worked)?;
    let sign = match (line.word(word + 1).as_str(), line.word(word + 2).as_str()) {
        ("more", "than") => ">",
        ("less" | "fewer", "than") => "<",
        ("at", "least") => ">=",
        ("at", "most") => "<=",
        _ => return None,
    };
    let (number, last) = match line.word(word + 3).as_str() {
        "once" => ("1", word + 3),
        "twice" => ("2", word + 3),
        _ => (line.said(word + 3, word + 3), word + 4),
    };
    let times = last == word + 3
        || line.is_kind(word + 3, Kind::Number) && line.is_word(last, &["times", "time"]);
    let text = format!("count {records} {sign} {number}");
    let habit = Habit::instead(line.span(at, last), &[&text], line.said(at, word));
    (times && begins(line, at)).then(|| habit.because(format!("how often is counted: {records}")))
}

/// `damage = 0.5 or more`.
pub(super) fn or_more(line: &Line<'_>, at: usize) -> Option<Habit> {
    let sign = match line.word(at + 1).as_str() {
        "more" | "greater" | "over" | "above" | "higher" => ">=",
        "less" | "fewer" | "under" | "below" | "lower" => "<=",
        _ => return None,
    };
    let equal = (0..at).rev().find(|i| line.compares(*i)).filter(|i| line.is(*i, "="))?;
    let past = line.past_value(equal + 1).filter(|_| line.is_kind(equal + 1, Kind::Number))?;
    let text = format!("{sign} {}", line.said(equal + 1, past - 1));
    let habit = Habit::instead(line.span(equal, at + 1), &[&text], line.said(at, at + 1));
    let right = past == at && line.is_word(at, &["or", "and"]) && ends(line, at + 2);
    right.then(|| habit.pointing(line.span(at, at + 1)))
}

/// `not inspected for 6 months`, `never repaired`, `has never been moved since 2026-01-01`.
pub(super) fn never_done(line: &Line<'_>, at: usize) -> Option<Habit> {
    let lead = usize::from(line.is_word(at, &["has", "was", "is", "had"]));
    let not = at + lead;
    let been = not + 1 + usize::from(line.is_word(not + 1, &["been"]));
    let done = line.word(been);
    let (_, record) = DONE.iter().find(|(said, _)| *said == done)?;
    let never = line.is_word(not, &["never"]);
    if !never && !line.is_word(not, &["not"]) || !begins(line, at) {
        return None;
    }
    let (window, last) = match line.word(been + 1).as_str() {
        "for" if so_long(line, been + 2).is_some() => (" in last", been + 1),
        "in" if line.is_word(been + 2, &["last"]) => ("", been),
        "since" => ("", been),
        _ if ends(line, been + 1) && never => ("", been),
        _ => return None,
    };
    let text = format!("no {record}{window}");
    let habit = Habit::instead(line.span(at, last), &[&text], line.said(at, been));
    Some(
        habit.because(format!("what was done is a record: {record}")).pointing(line.span(at, been)),
    )
}

/// `cracked`, `was jarred`, `has been recut`, `overdue`, `under-torqued`.
pub(super) fn said_of_it(line: &Line<'_>, at: usize) -> Option<Habit> {
    let lead = usize::from(line.is_word(at, &["has", "was", "is", "had", "been"]));
    let word = at + lead + usize::from(lead > 0 && line.is_word(at + 1, &["been"]));
    let hyphen = line.is(word + 1, "-") && line.is_word(word, &["under", "over", "re"]);
    let last = word + if hyphen { 2 } else { 0 };
    let said = line.said(word, last).replace('-', "").to_lowercase();
    let known = SAID.iter().find(|(name, _)| *name == said).map(|(_, text)| (*text).to_owned());
    let text = known.or_else(|| {
        // Work and what happened, where a word of being stands before it.
        let work = Work::from_word(&said).is_ok().then(|| format!("any repair (work = {said})"));
        let event =
            || EventKind::from_word(&said).is_ok().then(|| format!("any event (what = {said})"));
        work.or_else(event).filter(|_| lead > 0)
    })?;
    // A record stands in a window, a rule does not.
    let windowed = text.starts_with("any ") && line.is_window(last + 1);
    if !begins(line, at) || !(windowed || ends(line, last + 1)) {
        return None;
    }
    let habit = Habit::instead(line.span(at, last), &[&text], line.said(at, last));
    Some(habit.because(format!("{said} is said of a record of the joint")))
}

/// `dent > 1/8 in`, `heat checks`, `string shot since 2026-01-01`: what was found on a joint or
/// happened to it is a condition of a record.
pub(super) fn of_a_record(line: &Line<'_>, at: usize) -> Option<Habit> {
    if !begins(line, at) {
        return None;
    }
    [2, 1, 0].into_iter().find_map(|more| {
        let past = at + more + 1;
        let words = (at..past).all(|i| line.is_kind(i, Kind::Word));
        let (record, condition) = condition_named(line, at, past).filter(|_| words)?;
        let said = line.said(at, past - 1);
        let (text, last) = if ends(line, past) || line.is_window(past) {
            (format!("any {record} ({condition})"), past - 1)
        } else if line.compares(past) && record == Record::Finding {
            let behind = line.past_value(past + 1)?;
            let value = line.said(past, behind - 1);
            let field = if line.is(behind - 1, "%") || line.is_word(behind - 1, &["percent"]) {
                "share"
            } else if line.is_word(behind - 1, &["in", "mm", "inch", "inches"]) {
                "size"
            } else {
                return None;
            };
            (format!("any {record} ({condition} and {field} {value})"), behind - 1)
        } else {
            return None;
        };
        let habit = Habit::instead(line.span(at, last), &[&text], said);
        let why = format!("{said} is said of a record of the joint");
        Some(habit.because(why).pointing(line.span(at, past - 1)))
    })
}

/// The record that words of the trade tell of, and its condition.
fn condition_named(line: &Line<'_>, at: usize, past: usize) -> Option<(Record, String)> {
    // Words of the language, and what is both a tool and what it did.
    const OTHERS: [&str; 8] = ["no", "not", "any", "every", "first", "last", "jar", "jars"];
    let said = line.said(at, past - 1);
    let field = registry::field(None, &line.word(at));
    let name = field.is_some_and(|f| matches!(f.kind, registry::Kind::Text));
    let alone = past == at + 1;
    let fields = registry::is_field(&said.to_lowercase().replace(' ', "_"));
    let other = line.is_word(at, &OTHERS) || line.record(at).is_some();
    if other || fields || field.is_some() && (alone || !name) {
        return None;
    }
    if let Ok(event) = EventKind::from_word(said) {
        return Some((Record::Event, format!("what = {}", event.word())));
    }
    let registry::Kind::Word(words) = registry::field(Some(Record::Finding), "what")?.kind else {
        return None;
    };
    let word = words.read(said)?;
    let end = ["pin", "box"].into_iter().find(|end| {
        (at..past).any(|i| line.is_word(i, &[end])) && !word.split('_').any(|part| part == *end)
    });
    let end = end.map_or_else(String::new, |end| format!(" and end = {end}"));
    Some((Record::Finding, format!("what = {word}{end}")))
}

/// `krevs > 100`: thousands of turns.
pub(super) fn thousands(line: &Line<'_>, at: usize) -> Option<Habit> {
    let said = line.is_word(at, &["krev", "krevs", "kilorevs", "kiloturns"]);
    let number = line.compares(at + 1) && line.is_kind(at + 2, Kind::Number);
    let (sign, many) = (line.said(at + 1, at + 1), line.said(at + 2, at + 2));
    let text = format!("revolutions {sign} {many} * 1000");
    let habit = Habit::instead(line.span(at, at + 2), &[&text], line.said(at, at));
    let why = "turns are counted one by one";
    (said && number && ends(line, at + 3)).then(|| habit.because(why).pointing(line.span(at, at)))
}

/// `any crack found`: found, made and done say nothing more.
pub(super) fn found(line: &Line<'_>, at: usize) -> Option<Habit> {
    let verb = ["found", "seen", "reported", "recorded", "done"];
    let asked = at.checked_sub(2).is_some_and(|b| line.is_word(b, &["any", "no", "every"]));
    let start = line.span(at.saturating_sub(1), at.saturating_sub(1)).end;
    let whole = Span { start, end: line.span(at, at).end };
    (asked && line.is_word(at, &verb))
        .then(|| Habit::instead(whole, &[""], line.said(at, at)).pointing(line.span(at, at)))
}

/// `len(runs) > 3`, `runs.count > 3`, `runs.any(well = "X")`.
pub(super) fn method(line: &Line<'_>, at: usize) -> Option<Habit> {
    if line.is_word(at, &["len", "size", "length"]) && line.is(at + 1, "(") {
        let record = line.record(at + 2).filter(|_| line.is(at + 3, ")"))?;
        let text = format!("count {record}s");
        return Some(Habit::instead(line.span(at, at + 3), &[&text], line.said(at, at)));
    }
    let record = line.record(at).filter(|_| line.is(at + 1, "."))?;
    let way = match line.word(at + 2).as_str() {
        "count" | "length" | "size" | "len" => "count",
        "any" | "some" | "exists" => "any",
        "all" | "every" => "every",
        "none" => "no",
        _ => return None,
    };
    let empty = line.is(at + 3, "(") && line.is(at + 4, ")");
    let last = at + if empty { 4 } else { 2 };
    let text = format!("{way} {record}{}", if way == "count" { "s" } else { " " });
    let text = text.trim_end();
    let habit = Habit::instead(line.span(at, last), &[text], line.said(at, at + 2));
    Some(habit.because("a record is asked with a word before it"))
}

/// `count distinct wells > 1`: whether one run was elsewhere than the latest.
pub(super) fn distinct(line: &Line<'_>, at: usize) -> Option<Habit> {
    let lead = usize::from(line.is_word(at, &["count", "number"]))
        + usize::from(line.is_word(at + 1, &["of"]));
    let distinct = at + lead;
    let named = line.is_word(distinct, &["distinct", "different", "unique"]);
    let field = line.word(distinct + 1);
    let field = field.strip_suffix('s').unwrap_or(&field);
    registry::field(Some(Record::Run), field).filter(|_| named)?;
    let sign = distinct + 2;
    let more = line.is(sign, ">") && line.said(sign + 1, sign + 1) == "1"
        || line.is(sign, ">=") && line.said(sign + 1, sign + 1) == "2";
    let text = format!("any run ({field} != {field} of latest run)");
    let habit = Habit::instead(line.span(at, sign + 1), &[&text], line.said(at, distinct));
    let hint =
        format!("write {text}, which asks for more than one; how many there are is not counted");
    let why = "different values are not counted: a run is compared with the latest";
    more.then(|| habit.because(why).saying(hint).pointing(line.span(at, distinct + 1)))
}

/// `wall < 90 % of nominal`: walls are of the nominal one.
pub(super) fn of_nominal(line: &Line<'_>, at: usize) -> Option<Habit> {
    let of = line.is_word(at, &["of"]) && line.is_word(at + 1, &["nominal", "new"]);
    let rest = usize::from(line.is_word(at + 2, &["wall"]));
    let start = at.checked_sub(1).map(|b| line.span(b, b).end)?;
    let span = Span { start, end: line.span(at, at + 1 + rest).end };
    let habit = Habit::instead(span, &[""], line.said(at, at + 1 + rest));
    of.then(|| {
        habit
            .because("a wall in per cent is of the nominal wall")
            .pointing(line.span(at, at + 1 + rest))
    })
}

/// `manufactured < 2024-01-01`: the trade's other names of fields.
pub(super) fn other_name(line: &Line<'_>, at: usize) -> Option<Habit> {
    let (said, field) = NAMES.iter().find(|(said, _)| line.is_word(at, &[said]))?;
    let behind = line.compares(at + 1)
        || line.is_window(at + 1)
        || line.is_word(at + 1, &["is", "in", "like", "not"]);
    let habit = Habit::instead(line.span(at, at), &[field], said);
    (behind && !line.is_field(at)).then(|| habit.because(format!("the book calls it {field}")))
}

/// `heat number = "H4417"`, `heat number H4417`: a word too many behind a name.
pub(super) fn number_of(line: &Line<'_>, at: usize) -> Option<Habit> {
    let spare =
        line.is_word(at, &["number", "no", "num", "nr", "name", "value", "code", "remaining"]);
    let name = |f: usize| {
        let field = registry::field(None, &line.word(f));
        let text = field.is_some_and(|f| matches!(f.kind, registry::Kind::Text));
        text && (line.is_kind(at + 1, Kind::Text) || line.is_kind(at + 1, Kind::Word))
    };
    let field = at.checked_sub(1).filter(|f| {
        spare && (line.is_field(*f) && line.compares(at + 1) || name(*f) && !ends(line, at + 1))
    })?;
    let start = line.span(field, field).end;
    let span = Span { start, end: line.span(at, at).end };
    let habit = Habit::instead(span, &[""], line.said(at, at));
    Some(habit.pointing(line.span(at, at)))
}

/// `located at "Yard B"`, `at rig "Rig 9"`, `in string "K1"`.
pub(super) fn whereabouts(line: &Line<'_>, at: usize) -> Option<Habit> {
    let located = usize::from(line.is_word(at, &["located", "standing", "stored", "racked"]));
    let place = at + located;
    let there = line.is_word(place, &["at", "in", "on", "of", "from"]);
    let the = usize::from(line.is_word(place + 1, &["the"]));
    let noun = line.word(place + 1 + the);
    let field = match noun.as_str() {
        "string" => "string",
        "rig" | "yard" | "rack" | "shop" | "location" => "location",
        _ if located > 0 => "location",
        _ => return None,
    };
    let text = place + 1 + the + usize::from(!noun.is_empty());
    let said = format!("{field} = {}", line.said(text, text));
    let habit = Habit::instead(line.span(at, text), &[&said], line.said(at, text - 1));
    let right = there && begins(line, at) && line.is_kind(text, Kind::Text);
    right.then(|| habit.pointing(line.span(at, text - 1)))
}

/// `count runs in well "X" > 1`, `ran in "X"`, `used in well "X"`: which runs stands in parentheses.
pub(super) fn runs_in_well(line: &Line<'_>, at: usize) -> Option<Habit> {
    let verb = line.is_word(at, &["ran", "used", "drilled"]) && begins(line, at);
    // What any, no and every ask of stands in parentheses by another rule.
    let counted = at.checked_sub(1).is_some_and(|b| line.is_word(b, &["count", "over"]));
    let record = line.record(at).filter(|r| *r == Record::Run && counted);
    if !verb && record.is_none() || !line.is_word(at + 1, &["in", "at", "on", "for"]) {
        return None;
    }
    let noun = line.word(at + 2);
    let by = match noun.as_str() {
        "well" | "hole" => "well",
        "rig" => "rig",
        "" if verb => "well",
        _ => return None,
    };
    let text = at + 2 + usize::from(!noun.is_empty());
    let lead = if verb { "any run".to_owned() } else { line.said(at, at).to_owned() };
    let said = format!("{lead} ({by} = {})", line.said(text, text));
    let habit = Habit::instead(line.span(at, text), &[&said], line.said(at, text - 1));
    line.is_kind(text, Kind::Text).then(|| habit.pointing(line.span(at, text - 1)))
}

/// `more hours than "K1-0417"`, `same heat as "K1-0417"`.
pub(super) fn than_another(line: &Line<'_>, at: usize) -> Option<Habit> {
    let (field, serial) = (line.word(at + 1), at + 3);
    let text = match (line.word(at).as_str(), line.word(at + 2).as_str()) {
        ("more" | "greater" | "larger", "than") => format!("{field} > {field} of "),
        ("less" | "fewer" | "smaller", "than") => format!("{field} < {field} of "),
        ("same", "as") if field == "heat" => "kin of ".to_owned(),
        ("same", "as") => format!("{field} = {field} of "),
        _ => return None,
    };
    let by = if text == "kin of " { " by heat" } else { "" };
    let text = format!("{text}{}{by}", line.said(serial, serial));
    let habit = Habit::instead(line.span(at, serial), &[&text], line.said(at, at + 2));
    let right = line.is_field(at + 1) && line.is_kind(serial, Kind::Text) && begins(line, at);
    right.then(|| habit.pointing(line.span(at, at + 2)))
}

/// `hours > average hours`, `< median hours`: over all joints.
pub(super) fn average_of_all(line: &Line<'_>, at: usize) -> Option<Habit> {
    let how = match line.word(at).as_str() {
        "average" | "mean" | "avg" => "mean",
        "median" => "percentile 50 of",
        _ => return None,
    };
    let field = at + 1 + usize::from(line.is_word(at + 1, &["of"]));
    let behind = at.checked_sub(1).is_some_and(|b| line.compares(b)) && ends(line, field + 1);
    let text = format!("{how} {} over joints", line.said(field, field));
    let habit = Habit::instead(line.span(at, field), &[&text], line.said(at, field));
    (behind && line.is_field(field)).then(|| habit.because("a mean is one over joints or records"))
}

/// `needs inspection`, `requires repair`, `due` alone.
pub(super) fn needs(line: &Line<'_>, at: usize) -> Option<Habit> {
    let call = ["inspection", "repair", "downgrade", "quarantine", "retire"];
    let verb = line.is_word(at, &["needs", "need", "requires", "awaiting"]);
    let word = line.word(at + 1);
    if verb && call.contains(&word.as_str()) && ends(line, at + 2) {
        let text = format!("due for {word}");
        return Some(Habit::instead(line.span(at, at + 1), &[&text], line.said(at, at)));
    }
    let alone = line.is_word(at, &["due"]) && begins(line, at) && ends(line, at + 1);
    let habit = Habit::instead(line.span(at, at), &["due for inspection"], "due");
    alone.then(|| habit.because("due needs a call: inspection, repair, downgrade or another"))
}

/// `hours in doglegs above 8 deg/100ft`: above and between are of bends.
pub(super) fn in_bends(line: &Line<'_>, at: usize) -> Option<Habit> {
    const BENDS: [&str; 5] = ["dogleg", "doglegs", "bend", "bends", "curvature"];
    let behind = at.checked_sub(1).is_some_and(|b| line.is_field(b) || line.is_word(b, &["turns"]));
    let bends = at + 1 + usize::from(line.is_word(at + 1, &["a", "the"]));
    let named = line.is_word(at, &["in", "through", "at"]) && line.is_word(bends, &BENDS);
    let (last, text) = match line.word(bends + 1).as_str() {
        "above" | "over" | "beyond" => (bends + 1, "above"),
        "between" => (bends + 1, "between"),
        "more" | "sharper" | "greater" if line.is_word(bends + 2, &["than"]) => {
            (bends + 2, "above")
        }
        _ => return None,
    };
    let habit = Habit::instead(line.span(at, last), &[text], line.said(at, bends));
    (behind && named).then(|| habit.because(format!("{text} is of bends by itself")))
}

/// `hours since it was inspected`.
pub(super) fn since_it_was(line: &Line<'_>, at: usize) -> Option<Habit> {
    let done = line.word(at + 3);
    let (_, record) = DONE.iter().find(|(said, _)| *said == done)?;
    let said = line.is_word(at, &["since"])
        && line.is_word(at + 1, &["it"])
        && line.is_word(at + 2, &["was"]);
    let text = format!("since last {record}");
    let habit = Habit::instead(line.span(at, at + 3), &[&text], line.said(at, at + 3));
    said.then_some(habit)
}

/// `last inspection before 2026-01-01`: of the last one its day is meant.
pub(super) fn last_before(line: &Line<'_>, at: usize) -> Option<Habit> {
    let last = line.is_word(at, &["last", "latest"]) && begins(line, at);
    let field = match line.word(at + 1).as_str() {
        "inspection" | "inspected" => "inspected",
        "move" | "moved" => "moved",
        _ => return None,
    };
    let sign = match line.word(at + 2).as_str() {
        "before" => "<",
        "after" => ">",
        "since" => ">=",
        _ => return None,
    };
    let past = line.past_value(at + 3).filter(|past| ends(line, *past))?;
    let text = format!("{field} {sign} {}", line.said(at + 3, past - 1));
    let habit = Habit::instead(line.span(at, past - 1), &[&text], line.said(at, at + 1));
    last.then(|| {
        habit
            .because(format!("the day of the last one is the field {field}"))
            .pointing(line.span(at, at + 1))
    })
}

/// `worst dogleg`, `highest tension`: what the book keeps is the largest.
pub(super) fn worst(line: &Line<'_>, at: usize) -> Option<Habit> {
    let said = line.is_word(at, &["worst", "highest", "largest", "peak", "sharpest"]);
    let field = format!("max_{}", line.word(at + 1));
    let habit = Habit::instead(line.span(at, at + 1), &[&field], line.said(at, at + 1));
    let known = registry::is_field(&field);
    (said && known).then(|| habit.saying(format!("did you mean {field}?")))
}
