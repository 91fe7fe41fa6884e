//! What is wrong with a filter: the place, what was found, what would be right; and the block of
//! text with a caret that shows it.

use std::fmt::{self, Write as _};
use std::sync::Arc;

use unicode_width::UnicodeWidthChar;

/// A stretch of a filter's text, in bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub struct Span {
    /// First byte.
    pub start: usize,
    /// Byte after the last.
    pub end: usize,
}

impl Span {
    /// The stretch from the start of one to the end of the other.
    #[must_use]
    pub const fn to(self, other: Self) -> Self {
        Self { start: self.start, end: other.end }
    }

    /// The text of the stretch; empty when it does not lie in the text.
    pub fn of(self, text: &str) -> &str {
        text.get(self.start..self.end).unwrap_or_default()
    }
}

/// What sort of mistake it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ErrorKind {
    /// Not a sentence of the language.
    Syntax,
    /// A habit from another language.
    Foreign,
    /// Two comparisons in a row.
    Chained,
    /// Longer, deeper or larger than the limits.
    Limit,
    /// No field, filter or record of that name.
    Name,
    /// A word that the vocabulary does not hold.
    Word,
    /// A number without its unit, or with one that nobody knows.
    Unit,
    /// Quantities of different kinds.
    Dimension,
    /// A condition where a value should stand, or the reverse, or values that do not compare.
    Type,
    /// A window in the wrong place or without sense.
    Window,
    /// A field that is not in scope there.
    Scope,
    /// A named filter that leads back to itself.
    Cycle,
    /// A serial that no joint answers to.
    Serial,
    /// What only the book itself can be asked.
    Elsewhere,
}

/// A change of the text that makes it say what was meant.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fix {
    /// What is replaced; empty where something is put in.
    pub span: Span,
    pub text: String,
}

impl Fix {
    pub fn new(span: Span, text: impl Into<String>) -> Self {
        Self { span, text: text.into() }
    }

    /// The text with the change made.
    pub fn apply(&self, text: &str) -> String {
        let (start, end) = (floor(text, self.span.start), floor(text, self.span.end));
        format!("{}{}{}", &text[..start], self.text, &text[end.max(start)..])
    }
}

/// What would be right: words for people, and the changes that they speak of. Of several changes
/// one is meant, the likeliest first.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Advice {
    pub(super) hint: Option<String>,
    pub(super) fixes: Vec<Fix>,
}

impl From<Option<String>> for Advice {
    fn from(hint: Option<String>) -> Self {
        Self { hint, fixes: Vec::new() }
    }
}

impl From<String> for Advice {
    fn from(hint: String) -> Self {
        Some(hint).into()
    }
}

impl Advice {
    /// Write this in place of what stands there, or one of these.
    pub(super) fn write<S: Into<String>>(span: Span, texts: impl IntoIterator<Item = S>) -> Self {
        let fixes: Vec<Fix> = texts.into_iter().map(|t| Fix::new(span, t)).collect();
        let said: Vec<&str> = fixes.iter().map(|f| f.text.trim()).collect();
        let hint = match said.as_slice() {
            [] => None,
            [""] => Some("leave it out".to_owned()),
            said => Some(format!("write {}", said.join(", or "))),
        };
        Self { hint, fixes }
    }

    /// A name or word that looks like the strange one; none of them when none does.
    pub(super) fn nearest<S: AsRef<str>>(span: Span, near: &[S]) -> Self {
        let fixes = near.iter().map(|n| Fix::new(span, n.as_ref())).collect();
        let hint = (!near.is_empty()).then(|| format!("did you mean {}?", either(near)));
        Self { hint, fixes }
    }

    /// The same advice in other words.
    #[must_use]
    pub(super) fn saying(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }

    /// This advice, or other advice where this is none.
    #[must_use]
    pub(super) fn or(self, other: impl FnOnce() -> Self) -> Self {
        if self.hint.is_some() { self } else { other() }
    }
}

/// Where it is: a filter as typed, or the text of a named filter.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Excerpt {
    /// Name of the rule whose text it is; `None` for the filter as typed.
    pub rule: Option<Arc<str>>,
    pub text: Arc<str>,
    pub span: Span,
}

/// A mistake in a filter.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FilterError {
    /// What sort of mistake.
    pub kind: ErrorKind,
    /// What is wrong, in a sentence without a full stop.
    pub message: String,
    /// What would be right.
    pub hint: Option<String>,
    /// Changes of the text of its place that make it right; of several, one is meant.
    pub fixes: Vec<Fix>,
    pub place: Excerpt,
    /// Where the named filters that lead there are used, the innermost first.
    pub used: Vec<Excerpt>,
}

impl fmt::Display for FilterError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for FilterError {}

impl FilterError {
    /// The message, the text with a caret under the place, and the hint; no line is wider than
    /// `width` columns unless a word of the message is.
    pub fn render(&self, width: usize) -> String {
        let mut out = String::new();
        wrap(&mut out, "", &self.message, width);
        out.push_str(&self.below(width));
        out
    }

    /// What stands below the message.
    pub fn below(&self, width: usize) -> String {
        let mut out = String::new();
        if let Some(rule) = &self.place.rule {
            wrap(&mut out, "", &format!("in the rule {rule}:"), width);
        }
        caret_block(&mut out, &self.place, width);
        for used in &self.used {
            let whose = match &used.rule {
                Some(rule) => format!("which the rule {rule} uses here:"),
                None => "which is used here:".to_owned(),
            };
            wrap(&mut out, "", &whose, width);
            caret_block(&mut out, used, width);
        }
        if let Some(hint) = &self.hint {
            wrap(&mut out, "hint: ", hint, width);
        }
        out
    }
}

/// Writes words in lines of at most `width` columns; lines after the first are indented like it.
pub(crate) fn wrap(out: &mut String, lead: &str, text: &str, width: usize) {
    let text: String = text.chars().map(tame).collect();
    let indent = " ".repeat(lead.chars().count());
    let mut line = String::from(lead);
    let mut empty = true;
    for word in text.split_whitespace() {
        if !empty && shown_width(&line) + 1 + shown_width(word) > width {
            let _ = writeln!(out, "{line}");
            line.clone_from(&indent);
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    let _ = writeln!(out, "{line}");
}

/// Columns that a text takes on a screen.
pub(crate) fn shown_width(text: &str) -> usize {
    text.chars().map(|c| c.width().unwrap_or(0)).sum()
}

/// A character that is safe to print: control characters and those that turn the direction of
/// text become a dot.
pub(crate) fn tame(c: char) -> char {
    match c {
        '\t' => ' ',
        '\u{200B}'..='\u{200F}'
        | '\u{202A}'..='\u{202E}'
        | '\u{2060}'..='\u{206F}'
        | '\u{FEFF}' => '·',
        c if c.is_control() => '·',
        c => c,
    }
}

/// Writes the line that holds the place, and carets under it.
fn caret_block(out: &mut String, place: &Excerpt, width: usize) {
    let text = &*place.text;
    let start = floor(text, place.span.start);
    let end = floor(text, place.span.end).max(start);
    let line_start = text[..start].rfind('\n').map_or(0, |at| at + 1);
    let line_end = text[start..].find('\n').map_or(text.len(), |at| start + at);
    let line: Vec<char> = text[line_start..line_end].chars().map(tame).collect();
    let first = text[line_start..start].chars().count();
    let marked = text[start..end.min(line_end)].chars().count().max(1);

    // What is shown: the whole line, or a stretch of it around the place.
    let room = width.saturating_sub(4).max(20);
    let from =
        if line.len() <= room { 0 } else { first.saturating_sub(room / 2).min(line.len() - room) };
    let mut shown = String::new();
    let (mut lead, mut under) = (0, 0);
    for (at, c) in line.iter().enumerate().skip(from).take(room) {
        let w = c.width().unwrap_or(0);
        if at < first {
            lead += w;
        } else if at < first + marked {
            under += w;
        }
        shown.push(*c);
    }
    let (left, right) =
        (if from > 0 { "…" } else { "" }, if from + room < line.len() { "…" } else { "" });
    let _ = writeln!(out, "  {left}{shown}{right}");
    let lead = lead + left.chars().count();
    let _ = writeln!(out, "  {}{}", " ".repeat(lead), "^".repeat(under.max(1)));
}

/// The nearest place at or before a byte where a character begins.
fn floor(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// Joins alternatives as one says them: `a, b or c`.
pub(crate) fn either<S: AsRef<str>>(words: &[S]) -> String {
    match words {
        [] => String::new(),
        [one] => one.as_ref().to_owned(),
        [rest @ .., last] => {
            let rest: Vec<&str> = rest.iter().map(AsRef::as_ref).collect();
            format!("{} or {}", rest.join(", "), last.as_ref())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn error(text: &str, start: usize, end: usize) -> FilterError {
        FilterError {
            kind: ErrorKind::Unit,
            message: "dogleg needs a unit".to_owned(),
            hint: Some("8 deg/100ft or 8 deg/30m".to_owned()),
            fixes: Vec::new(),
            place: Excerpt { rule: None, text: text.into(), span: Span { start, end } },
            used: Vec::new(),
        }
    }

    #[test]
    fn the_caret_stands_under_the_place() {
        assert_eq!(
            error("max_dogleg > 8", 13, 14).render(80),
            "dogleg needs a unit\n  max_dogleg > 8\n               ^\n\
             hint: 8 deg/100ft or 8 deg/30m\n"
        );
    }

    #[test]
    fn wide_and_hostile_characters_keep_the_caret_in_place() {
        let text = "name = \"深い\u{1b}[31m\" x";
        let at = text.find(" x").unwrap() + 1;
        let shown = error(text, at, at + 1).render(80);
        assert!(!shown.contains('\u{1b}'), "{shown:?}");
        let lines: Vec<&str> = shown.lines().collect();
        let place = lines[1].chars().position(|c| c == 'x').unwrap();
        let before: usize = lines[1].chars().take(place).map(|c| c.width().unwrap()).sum();
        assert_eq!(lines[2].find('^'), Some(before));
    }

    #[test]
    fn a_long_line_is_shown_around_the_place() {
        let text = format!("{} bad {}", "a = 1 or ".repeat(200), "or a = 2 ".repeat(200));
        let at = text.find("bad").unwrap();
        for line in error(&text, at, at + 3).render(80).lines() {
            assert!(shown_width(line) <= 80, "{line}");
        }
        assert!(error(&text, at, at + 3).render(80).contains("bad"));
    }

    #[test]
    fn the_line_of_the_place_is_shown() {
        let shown = error("a = 1\nor b = 2\nor c = 3", 9, 10).render(80);
        assert!(shown.contains("  or b = 2\n     ^\n"), "{shown}");
        // beyond the end of the text
        assert!(error("a", 5, 9).render(80).contains("  a\n   ^\n"));
    }

    #[test]
    fn alternatives_read_aloud() {
        assert_eq!(either(&["a"]), "a");
        assert_eq!(either(&["a", "b", "c"]), "a, b or c");
    }
}
