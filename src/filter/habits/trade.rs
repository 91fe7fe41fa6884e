//! Questions in the words of a yard: what is said there in one breath stands here in a condition.

use super::super::registry::{self, Absent, Kind as FieldKind, Record};
use super::habit::Habit;
use super::line::{Kind, Line};
use crate::model::{EventKind, Vocabulary, Work};

/// `class = premium or better`.
pub(super) fn or_better(line: &Line<'_>, at: usize) -> Option<Habit> {
    let worse_than = match line.word(at + 1).as_str() {
        "better" | "higher" | "above" | "up" => "not worse than",
        "worse" | "lower" | "below" | "down" => "not better than",
        _ => return None,
    };
    let from = at.checked_sub(3).filter(|f| line.is_field(*f) && line.is(f + 1, "="))?;
    let text = format!("{} {worse_than} {}", line.said(from, from), line.said(at - 1, at - 1));
    let join = line.is_word(at, &["or", "and"]);
    let habit = Habit::instead(line.span(from, at + 1), &[&text], line.said(at, at + 1));
    join.then(|| habit.pointing(line.span(at, at + 1)))
}

/// `in last year`, `in the past month`.
pub(super) fn last_unit(line: &Line<'_>, at: usize) -> Option<Habit> {
    let begins = line.is_word(at, &["in", "within", "during", "over", "for", "since"]);
    let the = usize::from(line.is_word(at + 1, &["the"]));
    let last = at + 1 + the;
    let unit = line.is_word(last + 1, &["year", "month", "week", "day"]);
    if !begins || !line.is_word(last, &["last", "past", "previous"]) || !unit {
        return None;
    }
    let text = format!("in last 1 {}", line.word(last + 1));
    let said = line.said(at, last + 1);
    Some(Habit::instead(line.span(at, last + 1), &[&text], said))
}

/// `days since last inspection > 180`: whether there was one in so many days.
pub(super) fn days_since(line: &Line<'_>, at: usize) -> Option<Habit> {
    let unit = match line.word(at).as_str() {
        "days" | "day" => "days",
        "months" | "month" => "months",
        "years" | "year" => "years",
        _ => return None,
    };
    let last = usize::from(line.is_word(at + 2, &["last", "latest"]));
    let record = at + 2 + last;
    let kind = line.record(record).filter(|_| line.is_word(at + 1, &["since"]))?;
    let end = if line.is(record + 1, "(") { line.close(record + 1)? } else { record };
    let which = match line.get(end + 1)?.text {
        ">" | ">=" => "no",
        "<" | "<=" => "any",
        _ => return None,
    };
    line.get(end + 2).filter(|t| t.kind == Kind::Number)?;
    let condition = if end > record { line.said(record + 1, end) } else { "" };
    let blank = if condition.is_empty() { "" } else { " " };
    let number = line.said(end + 2, end + 2);
    let text = format!("{which} {kind}{blank}{condition} in last {number} {unit}");
    // `180 days`, or 180 alone.
    let past = end + 2 + usize::from(line.is_word(end + 3, &["days", "months", "years", "d"]));
    Some(Habit::instead(line.span(at, past), &[&text], "").pointing(line.span(at, record)).because(
        format!("{} since is asked of a window: whether there was one in it", line.word(at)),
    ))
}

/// `hours since recut`, `since last jarring`: work and what happened are conditions of a record.
pub(super) fn since_work(line: &Line<'_>, at: usize) -> Option<Habit> {
    let word = line.word(at + 1);
    let record = if Work::from_word(&word).is_ok() {
        "repair (work"
    } else if EventKind::from_word(&word).is_ok() {
        "event (what"
    } else {
        return None;
    };
    let text = format!("last {record} = {word})");
    let habit = Habit::instead(line.span(at + 1, at + 1), &[&text], line.said(at + 1, at + 1));
    (line.is_word(at, &["since"]) && line.record(at + 1).is_none()).then_some(habit)
}

/// `what = jar*` without quotation marks.
pub(super) fn bare_pattern(line: &Line<'_>, at: usize) -> Option<Habit> {
    let star = line.is(at + 2, "*") && line.joined(at + 2);
    if !line.is(at, "=") || !line.is_kind(at + 1, Kind::Word) || !star {
        return None;
    }
    let text = format!("like \"{}\"", line.said(at + 1, at + 2));
    let habit = Habit::instead(line.span(at, at + 2), &[&text], line.said(at + 1, at + 2));
    Some(habit.because("* stands for any characters behind like alone"))
}

/// `removed over repairs > 1 in`: how the values are put together is missing.
pub(super) fn over_alone(line: &Line<'_>, at: usize) -> Option<Habit> {
    let field = line.word(at);
    let record = line.record(at + 2).filter(|_| line.is_word(at + 1, &["over"]))?;
    let found = registry::field(Some(record), &field)?;
    let folded = at
        .checked_sub(1)
        .is_some_and(|b| line.is_word(b, &["sum", "max", "min", "mean", "total", "average", "of"]));
    if folded || found.measure().is_none() {
        return None;
    }
    let adds = ["hours", "revolutions", "footage", "damage", "removed", "times", "blows"];
    let ways = if adds.contains(&field.as_str()) {
        ["sum", "max", "min", "mean"]
    } else {
        ["max", "min", "mean", "sum"]
    };
    let texts = ways.map(|way| format!("{way} {}", line.said(at, at)));
    let texts = texts.each_ref().map(String::as_str);
    let habit = Habit::instead(line.span(at, at), &texts, line.said(at, at));
    Some(habit.because(format!("how the values of {record}s are put together is missing")))
}

/// `more than 5 runs`: `count runs > 5`.
pub(super) fn so_many(line: &Line<'_>, at: usize) -> Option<Habit> {
    let (words, sign) = match (line.word(at).as_str(), line.word(at + 1).as_str()) {
        ("more" | "over", "than") => (2, ">"),
        ("less" | "fewer", "than") => (2, "<"),
        ("at", "least") => (2, ">="),
        ("at", "most") => (2, "<="),
        ("exactly" | "only", _) => (1, "="),
        _ => return None,
    };
    let (number, record) = (at + words, at + words + 1);
    line.get(number).filter(|t| t.kind == Kind::Number)?;
    line.record(record)?;
    let begins =
        at.checked_sub(1).is_none_or(|b| line.is_word(b, &["and", "or", "not"]) || line.is(b, "("));
    let end = line.past_condition(record + 1, false).max(record + 1);
    let end = if line.is(record + 1, "(") { line.close(record + 1)? + 1 } else { end };
    let text = format!("count {} {sign} {}", line.said(record, end - 1), line.said(number, number));
    let habit = Habit::instead(line.span(at, end - 1), &[&text], line.said(at, at + words - 1));
    begins.then(|| habit.pointing(line.span(at, at + words - 1)))
}

/// `80th percentile of hours`.
pub(super) fn percentile(line: &Line<'_>, at: usize) -> Option<Habit> {
    let ordinal = line.joined(at + 1) && line.is_word(at + 1, &["st", "nd", "rd", "th"]);
    let field = at + 3 + usize::from(line.is_word(at + 3, &["of"]));
    let named = ordinal && line.is_word(at + 2, &["percentile"]) && line.is_field(field);
    let over = line.is_word(field + 1, &["over"]);
    let tail = if over { "" } else { " over joints" };
    let text = format!("percentile {} of {}{tail}", line.said(at, at), line.said(field, field));
    let habit = Habit::instead(line.span(at, field), &[&text], line.said(at, at + 2));
    named.then(|| habit.pointing(line.span(at, at + 2)))
}

/// `wall_loss per 100 h`: a value in so much of another.
pub(super) fn per_hours(line: &Line<'_>, at: usize) -> Option<Habit> {
    if !line.is_word(at, &["per"]) || at == 0 {
        return None;
    }
    let number = line.is_kind(at + 1, Kind::Number);
    let unit = at + 1 + usize::from(number);
    if !line.is_word(unit, &["h", "hr", "hrs", "hour", "hours"]) {
        return None;
    }
    let from = (at.saturating_sub(3)..at).find(|from| {
        registry::is_field(&(*from..at).map(|i| line.word(i)).collect::<Vec<_>>().join("_"))
    })?;
    let name = (from..at).map(|i| line.word(i)).collect::<Vec<_>>().join("_");
    let many = if number { line.said(at + 1, at + 1) } else { "1" };
    let text = format!("{name} / hours * {many} h");
    let habit = Habit::instead(line.span(from, unit), &[&text], line.said(at, at));
    Some(habit.pointing(line.span(at, unit)))
}

/// `makeups of pin end > 50`, `number of makeups on pin`: the make-ups that an end has.
pub(super) fn makeups_of_end(line: &Line<'_>, at: usize) -> Option<Habit> {
    let count = usize::from(line.is_word(at, &["count", "number"]));
    let of = usize::from(count > 0 && line.is_word(at + 1, &["of"]));
    let (makeups, end) = (at + count + of, at + count + of + 2);
    let said = line.is_word(makeups, &["makeups"]);
    let side = line.is_word(end, &["pin", "box"]).then(|| line.word(end))?;
    let last = end + usize::from(line.is_word(end + 1, &["end", "ends"]));
    let text = format!("{side}_makeups");
    let habit = Habit::instead(line.span(at, last), &[&text], line.said(at, last));
    (said && line.is_word(makeups + 1, &["of", "on", "at"])).then_some(habit)
}

/// `joints in repair`, `in stock and …`: where a joint stands is its status.
pub(super) fn in_status(line: &Line<'_>, at: usize) -> Option<Habit> {
    let status = match line.word(at + 1).as_str() {
        "repair" => "in_repair",
        "stock" => "in_stock",
        "quarantine" => "quarantine",
        _ => return None,
    };
    let joints = usize::from(at > 0 && line.is_word(at - 1, &["joints", "pipe", "is", "are"]));
    let from = at - joints;
    let begins =
        from == 0 || line.is_word(from - 1, &["and", "or", "not"]) || line.is(from - 1, "(");
    let text = format!("status = {status}");
    let habit = Habit::instead(line.span(from, at + 1), &[&text], line.said(at, at + 1));
    (begins && line.is_word(at, &["in"])).then(|| habit.pointing(line.span(at, at + 1)))
}

/// `neighbour of "K1-0417"`.
pub(super) fn neighbour(line: &Line<'_>, at: usize) -> Option<Habit> {
    let said = line.is_word(at, &["neighbour", "neighbours", "neighbor", "neighbors"]);
    let serial = line.is_kind(at + 2, Kind::Text) && line.is_word(at + 1, &["of"]) && said;
    let text = format!("kin of {} by neighbour", line.said(at + 2, at + 2));
    let habit = Habit::instead(line.span(at, at + 2), &[&text], line.said(at, at + 1));
    serial.then(|| habit.pointing(line.span(at, at + 1)))
}

/// `hours of run "K1-R07"`, `hours in well "Larkfield 2H"`: the part that such runs have.
pub(super) fn of_named_run(line: &Line<'_>, at: usize) -> Option<Habit> {
    let field = registry::field(Some(Record::Run), &line.word(at))?;
    let by = match line.word(at + 2).as_str() {
        "run" => "name",
        "well" => "well",
        "rig" => "rig",
        _ => return None,
    };
    let joined =
        line.is_word(at + 1, &["of", "in", "on", "at"]) && line.is_kind(at + 3, Kind::Text);
    let way = if field.name.starts_with("max_") { "max" } else { "sum" };
    let text =
        format!("{way} {} over runs ({by} = {})", line.said(at, at), line.said(at + 3, at + 3));
    let habit = Habit::instead(line.span(at, at + 3), &[&text], line.said(at + 1, at + 2));
    (joined && field.measure().is_some()).then(|| habit.pointing(line.span(at + 1, at + 2)))
}

/// `idle for 6 months`, `not used since 2026-01-01`: no run then.
pub(super) fn idle(line: &Line<'_>, at: usize) -> Option<Habit> {
    let words = match (line.word(at).as_str(), line.word(at + 1).as_str()) {
        ("idle" | "unused", _) => 1,
        ("not", "used" | "run") => 2,
        _ => return None,
    };
    let window = match line.word(at + words).as_str() {
        "since" => "since",
        "for" => "in last",
        "in" if line.is_word(at + words + 1, &["last"]) => "in",
        _ => return None,
    };
    let text = format!("no run {window}");
    Some(Habit::instead(line.span(at, at + words), &[&text], line.said(at, at + words - 1)))
}

/// `fit to run`, `not fit`.
pub(super) fn fit(line: &Line<'_>, at: usize) -> Option<Habit> {
    let not = usize::from(line.is_word(at, &["not"]));
    let word = at + not;
    let use_ = line.is_word(word + 1, &["to", "for"])
        && line.is_word(word + 2, &["run", "use", "service"]);
    let last = word + if use_ { 2 } else { 0 };
    let alone =
        last + 1 >= line.len() || line.is_word(last + 1, &["and", "or"]) || line.is(last + 1, ")");
    let behind_sign = at
        .checked_sub(1)
        .is_some_and(|b| line.compares(b) || line.is(b, ",") || line.is_word(b, &["not"]));
    if !line.is_word(word, &["fit"]) || !alone || behind_sign {
        return None;
    }
    let text = if not == 1 { "fit = not_fit" } else { "fit = fit" };
    let habit = Habit::instead(line.span(at, last), &[text], line.said(at, last));
    Some(habit.because("fit is a word of its own: fit, not_fit, or unknown"))
}

/// `rpm > 150` of a run: its turns in its hours.
pub(super) fn rotary_speed(line: &Line<'_>, at: usize) -> Option<Habit> {
    let end =
        line.past_value(at + 2).filter(|_| line.is_word(at, &["rpm"]) && line.compares(at + 1))?;
    let value = line.said(at + 2, end - 1);
    let unit = if value.contains("rpm") { "" } else { " rpm" };
    let text = format!("run_revolutions / run_hours {} {value}{unit}", line.said(at + 1, at + 1));
    let habit = Habit::instead(line.span(at, end - 1), &[&text], "rpm");
    Some(habit.because("a run keeps its turns and hours").pointing(line.span(at, at)))
}

/// `no string`, `location = none`: there is none where the book can know that, else it is unknown.
pub(super) fn none(line: &Line<'_>, at: usize) -> Option<Habit> {
    let (field, last) = if line.is_word(at, &["no"]) && line.is_field(at + 1) {
        (at + 1, at + 1)
    } else if line.is_field(at) && line.is(at + 1, "=") && line.is_word(at + 2, &["none"]) {
        (at, at + 2)
    } else {
        return None;
    };
    let found = registry::field(None, &line.word(field))?;
    let known = !matches!(found.absent, Absent::Unknown);
    if !matches!(found.kind, FieldKind::Text | FieldKind::Word(_))
        || line.record(field).is_some()
        || (known && last == field + 2)
    {
        return None;
    }
    let said = line.said(field, field);
    let text = if known { format!("{said} = none") } else { format!("{said} is unknown") };
    let habit = Habit::instead(line.span(at, last), &[&text], line.said(at, last));
    Some(habit.because(format!("that there is no {said} is asked otherwise")))
}

/// `serial from K1-0400 to K1-0420`: names have no order, but they may begin alike.
pub(super) fn names_in_order(line: &Line<'_>, at: usize) -> Option<Habit> {
    let field = at.checked_sub(1).filter(|_| line.is_word(at, &["from", "between"]))?;
    registry::field(None, &line.word(field)).filter(|f| matches!(f.kind, FieldKind::Text))?;
    let end = line.past_condition(at + 1, true);
    let to = (at + 2..end).find(|i| line.is_word(*i, &["to", "and"]))?;
    let end = line.past_condition(to + 1, false);
    let bare = |from: usize, to: usize| line.said(from, to).trim_matches('"');
    let (first, last) = (bare(at + 1, to - 1), bare(to + 1, end - 1));
    let alike = first.chars().zip(last.chars()).take_while(|(a, b)| a == b).map(|(a, _)| a);
    let alike: String = alike.collect();
    let text = format!("like \"{alike}*\"");
    let name = line.said(field, field);
    let hint = format!(
        "write {name} {text}, which takes in all that begin so, or list them: {name} in (\"{first}\", …)"
    );
    let habit = Habit::instead(line.span(at, end - 1), &[&text], line.said(at, at)).saying(hint);
    let message = format!("{name} is a name, and names lie between nothing");
    (!alike.is_empty()).then(|| habit.because(message).pointing(line.span(field, field)))
}
