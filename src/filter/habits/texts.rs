//! Texts without their quotation marks, or in others.

use super::super::error::Span;
use super::super::registry;
use super::habit::Habit;
use super::line::{Kind, Line};

fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('"', "\"\""))
}

/// `“K1”`, `‘K1’`, `` `K1` ``.
pub(super) fn odd_quotes(line: &Line<'_>, at: usize) -> Option<Habit> {
    let token = line.get(at).filter(|t| t.kind == Kind::OddText)?;
    let mark = token.text.chars().next()?;
    let inner = &token.text[mark.len_utf8()..];
    let inner = inner.char_indices().next_back().map_or(inner, |(end, _)| &inner[..end]);
    let habit = Habit::instead(token.span, &[&quoted(inner)], token.text);
    Some(habit.because("text stands in plain double quotation marks"))
}

/// A pattern without quotation marks, or in the words of another language.
pub(super) fn pattern_words(line: &Line<'_>, at: usize) -> Option<Habit> {
    let (words, before, after) = match (line.word(at).as_str(), line.word(at + 1).as_str()) {
        ("starts" | "begins" | "beginning" | "starting", "with") => (2, "", "*"),
        ("ends" | "ending", "with" | "in") => (2, "*", ""),
        ("startswith" | "starts_with", _) => (1, "", "*"),
        ("endswith" | "ends_with", _) => (1, "*", ""),
        ("contains" | "includes" | "containing", _) => (1, "*", "*"),
        ("matches" | "ilike" | "regexp" | "rlike" | "glob", _) => (1, "", ""),
        ("like", _) => (1, "", ""),
        _ => return None,
    };
    let value = at + words;
    let last = end_of_text(line, value)?;
    let bare = line.said(value, last);
    if line.is_word(at, &["like"]) && bare.starts_with('"') {
        return None;
    }
    let text = bare.trim_matches(|c| matches!(c, '"' | '\'' | '%' | '“' | '”'));
    let text = format!("like {}", quoted(&format!("{before}{text}{after}")));
    Some(
        Habit::instead(line.span(at, last), &[&text], line.said(at, value - 1))
            .pointing(line.span(at, at)),
    )
}

/// The last token of a text that begins at a place: words, numbers and signs without a blank
/// between them.
fn end_of_text(line: &Line<'_>, at: usize) -> Option<usize> {
    let first = line.get(at)?;
    if matches!(first.kind, Kind::Text | Kind::OddText) {
        return Some(at);
    }
    let mut last = at;
    while line.get(last + 1).is_some_and(|t| t.joined && !["(", ")", ",", "\""].contains(&t.text)) {
        last += 1;
    }
    Some(last)
}

/// `K1-0417` without quotation marks.
pub(super) fn serial(line: &Line<'_>, at: usize) -> Option<Habit> {
    if line.joined(at) || !line.is_kind(at, Kind::Word) {
        return None;
    }
    let last = end_of_text(line, at)?;
    let said = line.said(at, last);
    let made = |c: char| c.is_alphanumeric() || matches!(c, '-' | '_' | '*' | '?' | '/' | '.');
    let marked =
        said.contains('-') && said.chars().any(|c| c.is_ascii_digit()) && said.chars().all(made);
    // A name less another name is a subtraction.
    if !marked || last == at || line.is_field(at) {
        return None;
    }
    let before = at.checked_sub(1);
    let valued = before.is_some_and(|b| {
        line.compares(b)
            || line.is(b, "(") && b > 0 && line.is_word(b - 1, &["in"])
            || line.is(b, ",")
            || line.is_word(b, &["of", "like"])
    });
    let span = line.span(at, last);
    if valued {
        let habit = Habit::instead(span, &[&quoted(said)], said);
        return Some(habit.because("a serial stands in quotation marks"));
    }
    if before.is_some_and(|b| line.is_word(b, &["kin"])) {
        let text = format!("of {}", quoted(said));
        return Some(
            Habit::instead(span, &[&text], said).because("a serial stands in quotation marks"),
        );
    }
    if before.is_some_and(|b| line.is_field(b)) {
        let text = format!("= {}", quoted(said));
        return Some(
            Habit::instead(span, &[&text], said).because("a serial stands in quotation marks"),
        );
    }
    let text = format!("serial = {}", quoted(said));
    Some(Habit::instead(span, &[&text], said).because("a serial alone is no condition"))
}

/// `location = Harrow Yard`.
pub(super) fn words(line: &Line<'_>, at: usize) -> Option<Habit> {
    let compared = at.checked_sub(1).is_some_and(|b| line.is(b, "=") || line.is(b, "!="));
    if !compared || !(line.is_kind(at, Kind::Word) || line.is_kind(at, Kind::Number)) {
        return None;
    }
    let past = line.past_condition(at, false);
    let plain = (at..past).all(|i| {
        line.is_kind(i, Kind::Word)
            || line.is_kind(i, Kind::Number)
            || line.is(i, "-")
            || line.is(i, ".")
            || line.is(i, "'")
    });
    if !plain || past <= at + 1 {
        return None;
    }
    let said = line.said(at, past - 1);
    // Where the first word is a value of the field, what follows is no part of it.
    let words = at.checked_sub(2).and_then(|f| registry::field(None, &line.word(f)));
    if let Some(registry::Kind::Word(words)) = words.map(|f| f.kind)
        && words.read(line.said(at, at)).is_some()
        && words.read(said).is_none()
    {
        return None;
    }
    let habit = Habit::instead(line.span(at, past - 1), &[&quoted(said)], said);
    Some(habit.because("a text of several words stands in quotation marks"))
}

/// A quotation mark that is not closed, or was not opened.
pub(super) fn open_quote(line: &Line<'_>, at: usize) -> Option<Habit> {
    let mark = ["\"", "'", "“", "”"].iter().any(|m| line.is(at, m));
    if !mark {
        return None;
    }
    let compared = at
        .checked_sub(1)
        .is_some_and(|b| line.compares(b) || line.is(b, "(") || line.is_word(b, &["of", "like"]));
    if compared {
        let past = line.past_condition(at + 1, false).max(at + 1);
        let inner = line.said(at + 1, past - 1);
        let habit = Habit::instead(line.span(at, past - 1), &[&quoted(inner)], "");
        return Some(
            habit.because("this quotation mark is never closed").pointing(line.span(at, at)),
        );
    }
    let sign = (0..at).rev().find(|i| line.compares(*i))?;
    let start = line.span(sign + 1, sign + 1).start;
    let inner = line.text.get(start..line.span(at, at).start)?;
    let span = Span { start, end: line.span(at, at).end };
    let habit = Habit::instead(span, &[&quoted(inner)], "");
    Some(habit.because("this quotation mark was never opened").pointing(line.span(at, at)))
}
