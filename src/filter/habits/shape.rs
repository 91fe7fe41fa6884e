//! How a filter of another language is put together: statements, lists, parentheses, values that
//! are joined.

use super::super::error::{Fix, Span};
use super::super::registry;
use super::habit::Habit;
use super::line::{Kind, Line};

/// `select … where`, `where`, `find`, `order by …`, `limit 10`.
pub(super) fn statement(line: &Line<'_>, at: usize) -> Option<Habit> {
    if at == 0
        && line.is_word(0, &["select", "find", "where", "if", "list", "show", "filter", "get"])
    {
        let place = (0..line.len()).find(|i| line.is_word(*i, &["where"])).unwrap_or(0);
        let end = line.get(place + 1).map_or(line.text.len(), |t| t.span.start);
        let span = Span { start: line.span(0, 0).start, end };
        let habit = Habit::instead(span, &[""], "").pointing(line.span(0, 0));
        return Some(
            habit
                .because("a filter is the condition alone")
                .saying(format!("leave out {}", line.said(0, place))),
        );
    }
    let by = line.is_word(at, &["order", "group", "sort", "sorted", "ordered"])
        && line.is_word(at + 1, &["by"]);
    let limit = line.is_word(at, &["limit", "top"]) && line.is_kind(at + 1, Kind::Number);
    if !(by || limit) {
        return None;
    }
    let end = line.end().end;
    let start = if at > 0 { line.span(at - 1, at - 1).end } else { 0 };
    let habit = Habit::instead(Span { start, end }, &[""], "").pointing(line.span(at, at));
    let option = match line.word(at).as_str() {
        "group" => "--by COLUMN counts by a column",
        "limit" | "top" => "--limit N shows the first N",
        _ => "--sort COLUMN sorts",
    };
    Some(habit.because("a filter says which, not in what order or how many").saying(option))
}

/// `and` with nothing on one side of it.
pub(super) fn nothing_there(line: &Line<'_>, at: usize) -> Option<Habit> {
    if !line.is_word(at, &["and", "or"]) {
        return None;
    }
    let doubled = line.is_word(at + 1, &["and", "or"])
        || ["&&", "||", "&", "|"].iter().any(|s| line.is(at + 1, s));
    if doubled {
        let end = line.span(at + 1, at + 1).start;
        let start = line.span(at, at).start;
        let habit = Habit::instead(Span { start, end }, &[""], line.said(at, at));
        return Some(habit.pointing(line.span(at + 1, at + 1)));
    }
    if at == 0 {
        let end = line.get(1).map_or(line.text.len(), |t| t.span.start);
        return Some(
            Habit::instead(Span { start: 0, end }, &[""], line.said(0, 0))
                .pointing(line.span(0, 0)),
        );
    }
    (at + 1 == line.len()).then(|| {
        let start = line.span(at - 1, at - 1).end;
        let habit = Habit::instead(Span { start, end: line.end().end }, &[""], line.said(at, at));
        habit.because(format!("nothing follows {}", line.said(at, at))).pointing(line.span(at, at))
    })
}

/// `max dogleg`, `max-dogleg`, `max.dogleg`: one name written as several words.
pub(super) fn field_in_words(line: &Line<'_>, at: usize) -> Option<Habit> {
    for words in [3, 2] {
        let mut name = String::new();
        let mut place = at;
        for n in 0..words {
            let word = line.word(place);
            if word.is_empty() {
                return None;
            }
            name.push_str(if n > 0 { "_" } else { "" });
            name.push_str(&word);
            place += 1;
            let sign = line.is(place, "-") || line.is(place, ".");
            if n + 1 < words && sign {
                place += 1;
            }
            if n + 1 < words && !line.is_kind(place, Kind::Word) {
                break;
            }
        }
        let whole = name.split('_').count() >= words;
        let known =
            registry::is_field(&name) && !(line.is_field(at) && line.is_word(at + 1, &["of"]));
        if whole && known && name.contains('_') && place > at + 1 {
            let span = line.span(at, place - 1);
            let mut habit = Habit::instead(span, &[&name], span.of(line.text));
            habit.message = format!("{} is one name", span.of(line.text));
            return Some(habit.saying(format!("did you mean {name}?")));
        }
    }
    None
}

/// `in premium, class_2`, `in [premium]`, `= (premium, class_2)`, `= premium, class_2`.
pub(super) fn list(line: &Line<'_>, at: usize) -> Option<Habit> {
    let inside = line.is_word(at, &["in"]);
    let sign = line.is(at, "=") || line.is(at, "!=");
    if !inside && !sign {
        return None;
    }
    if inside && !may_be_in(line, at) {
        return None;
    }
    let open = line.is(at + 1, "(");
    if open && (inside || !line.close(at + 1).is_some_and(|c| line.said(at + 1, c).contains(','))) {
        return None;
    }
    let bracket = ["[", "{"].iter().any(|s| line.is(at + 1, s));
    let from = at + 1 + usize::from(open || bracket);
    let mut place = from;
    loop {
        place = line.past_value(place)?;
        if line.is(place, ",") {
            place += 1;
        } else {
            break;
        }
    }
    let closed = ["]", "}", ")"].iter().any(|s| line.is(place, s)) && (open || bracket);
    let many = line.said(from, place - 1).contains(',');
    if (sign && !many) || (inside && bracket && !closed) {
        return None;
    }
    let word = if line.is(at, "!=") { "not in" } else { "in" };
    let text = format!("{word} ({})", line.said(from, place - 1));
    let last = if closed { place } else { place - 1 };
    let habit = Habit::instead(line.span(at, last), &[&text], line.said(at + 1, at + 1));
    Some(
        habit
            .because("a list stands behind in, in parentheses")
            .pointing(line.span(at + 1, at + 1)),
    )
}

/// Whether the values of a list may stand behind the `in` at a place: a field stands before it, and
/// where that is a number no word behind it.
fn may_be_in(line: &Line<'_>, at: usize) -> bool {
    let not = usize::from(at > 0 && line.is_word(at - 1, &["not"]));
    let Some(before) = at.checked_sub(1 + not) else { return false };
    line.is_field(before) && !(is_number(&line.word(before)) && line.is_kind(at + 1, Kind::Word))
}

/// Whether a name is that of a number, of a joint or of any record.
fn is_number(name: &str) -> bool {
    let mut fields = registry::fields().iter();
    fields.any(|f| (f.name == name || f.aliases.contains(&name)) && f.measure().is_some())
}

/// `class = premium or class_2`, `class != premium and class_2`, `class = premium/class_2`.
pub(super) fn values_joined(line: &Line<'_>, at: usize) -> Option<Habit> {
    let equal = line.is(at, "=");
    if !(equal || line.is(at, "!=")) || at == 0 || !line.is_field(at - 1) {
        return None;
    }
    let mut values = Vec::new();
    let mut place = at + 1;
    let mut joint = None;
    let end = loop {
        let past = line.past_value(place)?;
        values.push(line.said(place, past - 1));
        let join = line.is_word(past, &["or", "and"]) || line.is(past, "/") || line.is(past, ",");
        let next = line.past_value(past + 1);
        let alone = next.is_some_and(|n| {
            let ends = n >= line.len() || line.is(n, ")") || line.is_word(n, &["and", "or"]);
            let value = line.is_kind(past + 1, Kind::Text)
                || line.is_kind(past + 1, Kind::Number)
                || (line.is_kind(past + 1, Kind::Word) && !line.is_field(past + 1));
            ends && value
                && !line.is_word(past + 1, &["not", "any", "no", "due", "kin", "true", "false"])
        });
        if join && alone {
            joint = joint.or(Some(past));
            place = past + 1;
        } else {
            break past;
        }
    };
    let joint = joint?;
    // Two conditions of which the second is a flag or rule are no list.
    let field = registry::field(None, &line.word(at - 1));
    let worded = field.is_none_or(|f| match f.kind {
        registry::Kind::Word(words) => {
            words.list().is_empty()
                || values.iter().all(|v| words.read(v.trim_matches('"')).is_some())
        }
        registry::Kind::Text => values.iter().all(|v| v.starts_with('"')),
        _ => true,
    });
    let word = if equal { "in" } else { "not in" };
    let text = format!("{word} ({})", values.join(", "));
    let habit = Habit::instead(line.span(at, end - 1), &[&text], line.said(joint, joint));
    let at = line.span(joint, end - 1);
    worded.then(|| habit.because("several values stand in a list").pointing(at))
}

/// `hours > 100 h and < 300 h`: the value is said again.
pub(super) fn repeated(line: &Line<'_>, at: usize) -> Option<Habit> {
    if !line.is_word(at, &["and", "or"]) || !line.compares(at + 1) {
        return None;
    }
    let sign = (0..at).rev().find(|i| line.compares(*i))?;
    let from = (0..sign)
        .rev()
        .take_while(|i| !line.is_word(*i, &["and", "or"]) && !line.is(*i, "("))
        .last()?;
    let said = line.said(from, sign - 1);
    let start = line.span(at + 1, at + 1).start;
    let fix = Fix::new(Span { start, end: start }, format!("{said} "));
    let habit = Habit { fixes: vec![fix], ..Habit::instead(line.span(at + 1, at + 1), &[], "") };
    Some(
        habit
            .because("a value is missing before this sign")
            .saying(format!("write {said} again: and {said} {} …", line.said(at + 1, at + 1))),
    )
}

/// `hours not > 100 h`, `class not premium`.
pub(super) fn negated_sign(line: &Line<'_>, at: usize) -> Option<Habit> {
    if !line.is_word(at, &["not", "isn"]) || at == 0 || !line.is_field(at - 1) {
        return None;
    }
    let sign = line.get(at + 1)?;
    let text = match sign.text {
        ">" => "<=",
        ">=" => "<",
        "<" => ">=",
        "<=" => ">",
        "=" => "!=",
        _ => {
            let habit = Habit::instead(line.span(at, at), &["!="], line.said(at, at));
            return (sign.kind == Kind::Word || sign.kind == Kind::Text).then_some(habit).filter(
                |_| {
                    !line.is_word(
                        at + 1,
                        &[
                            "in", "like", "between", "measured", "known", "recorded", "read",
                            "worse", "better",
                        ],
                    )
                },
            );
        }
    };
    Some(Habit::instead(line.span(at, at + 1), &[text], line.said(at, at + 1)))
}

/// `hours = 100..300 h`, `hours between 100 h to 300 h`, `hours from 100 h to 300 h`.
pub(super) fn span_of_values(line: &Line<'_>, at: usize) -> Option<Habit> {
    let between = line.is_word(at, &["between"]);
    if !(between || line.is_word(at, &["from", "in"]) || line.is(at, "=") || line.is(at, ":")) {
        return None;
    }
    let middle = line.past_value(at + 1)?;
    let to = line.is_word(middle, &["to", "thru", "through"]) || line.is(middle, "..");
    let end = line.past_value(middle + 1).filter(|_| to)?;
    if line.is_kind(at + 1, Kind::Word) {
        return None;
    }
    let (low, high) = (line.said(at + 1, middle - 1), line.said(middle + 1, end - 1));
    let text = format!("between {low} and {high}");
    let habit = Habit::instead(line.span(at, end - 1), &[&text], line.said(middle, middle));
    Some(habit.pointing(line.span(middle, middle)))
}

/// `wall unknown`, `wall not measured`, `unknown wall`, `no wall`.
pub(super) fn unknown(line: &Line<'_>, at: usize) -> Option<Habit> {
    const WORDS: [&str; 6] = ["unknown", "missing", "unmeasured", "null", "empty", "blank"];
    const KNOWN: [&str; 4] = ["measured", "known", "recorded", "read"];
    if line.is_word(at, &["unknown", "missing", "no"])
        && line.is_field(at + 1)
        && line.record(at + 1).is_none()
    {
        let text = format!("{} is unknown", line.said(at + 1, at + 1));
        return Some(
            Habit::instead(line.span(at, at + 1), &[&text], line.said(at, at))
                .pointing(line.span(at + 1, at + 1)),
        );
    }
    if !line.is_field(at) {
        return None;
    }
    let is = usize::from(line.is_word(at + 1, &["is"]));
    let not = usize::from(line.is_word(at + 1 + is, &["not"]));
    let word = at + 1 + is + not;
    let negative = line.is_word(word, &WORDS);
    let positive = line.is_word(word, &KNOWN);
    if !(negative || positive) {
        return None;
    }
    let unknown = negative != (not == 1);
    let text = if unknown { "is unknown" } else { "is not unknown" };
    Some(Habit::instead(line.span(at + 1, word), &[text], line.said(at + 1, word)))
}

/// `class premium`, `any run (well "X")`: a field and a value with nothing between.
pub(super) fn equals(line: &Line<'_>, at: usize) -> Option<Habit> {
    let value = line.is_kind(at + 1, Kind::Text)
        || (line.is_kind(at + 1, Kind::Word) && !line.is_window(at + 1));
    let not_sign = !line.is_word(
        at + 1,
        &[
            "and", "or", "not", "is", "in", "like", "between", "of", "above", "last", "latest",
            "this", "by", "lower", "higher", "smaller", "larger",
        ],
    );
    // A number is never equal to a word.
    let name = line.word(at);
    let number = is_number(&name);
    let a_word = line.is_kind(at + 1, Kind::Word);
    // A day and a flag are equal to few words.
    let other = registry::field(None, &name)
        .is_some_and(|f| matches!(f.kind, registry::Kind::Date | registry::Kind::Flag));
    let strange = other && !line.is_word(at + 1, &["today", "true", "false", "yes", "no"]);
    if !line.is_field(at) || !value || !not_sign || (a_word && (number || strange)) {
        return None;
    }
    let end = line.span(at, at).end;
    let fix = Fix::new(Span { start: end, end }, " =");
    let habit = Habit { fixes: vec![fix], ..Habit::instead(line.span(at + 1, at + 1), &[], "") };
    let (field, value) = (line.said(at, at), line.said(at + 1, at + 1));
    Some(
        habit
            .because(format!("a sign is missing between {field} and {value}"))
            .saying(format!("write {field} = {value}")),
    )
}

/// A comma between conditions.
pub(super) fn comma(line: &Line<'_>, at: usize) -> Option<Habit> {
    if !line.is(at, ",") || at + 1 >= line.len() {
        return None;
    }
    Some(Habit::instead(line.span(at, at), &[" and"], ","))
}

/// `[…]`, `{…}`.
pub(super) fn brackets(line: &Line<'_>, at: usize) -> Option<Habit> {
    let close = if line.is(at, "[") {
        "]"
    } else if line.is(at, "{") {
        "}"
    } else {
        return None;
    };
    let end = (at..line.len()).find(|i| line.is(*i, close))?;
    let inner = if end > at + 1 { line.said(at + 1, end - 1) } else { "" };
    let name = end == at + 2 && line.is_field(at + 1);
    let text = if name { inner.to_owned() } else { format!("({inner})") };
    let habit = Habit::instead(line.span(at, end), &[&text], line.said(at, at));
    Some(habit.because("only round brackets are used").pointing(line.span(at, at)))
}

/// Parentheses that are not closed, or never opened.
pub(super) fn parentheses(line: &Line<'_>, at: usize) -> Option<Habit> {
    if at != line.len() {
        return None;
    }
    let mut open: Vec<usize> = Vec::new();
    for place in 0..line.len() {
        if line.is(place, "(") {
            open.push(place);
        } else if line.is(place, ")") && open.pop().is_none() {
            let habit = Habit::instead(line.span(place, place), &[""], ")");
            return Some(habit.because("this parenthesis closes nothing"));
        }
    }
    let first = *open.first()?;
    let fix = Fix::new(line.end(), ")".repeat(open.len()));
    let habit = Habit { fixes: vec![fix], ..Habit::instead(line.span(first, first), &[], "(") };
    let many = if open.len() == 1 { "a )".to_owned() } else { format!("{} )", open.len()) };
    Some(habit.because("this parenthesis is never closed").saying(format!("put {many} at the end")))
}
