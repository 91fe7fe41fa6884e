//! A text as words, numbers, quoted texts and signs, whatever language it is in.

use super::super::error::Span;
use super::super::parse::{Rule, reads};
use super::super::registry::{self, Record};

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Word,
    Number,
    /// In quotation marks that are closed.
    Text,
    /// In quotation marks of another keyboard.
    OddText,
    Sign,
}

#[derive(Clone, Copy, Debug)]
pub(super) struct Token<'t> {
    pub kind: Kind,
    pub text: &'t str,
    pub span: Span,
    /// No blank stands before it.
    pub joined: bool,
}

/// A text with its tokens. Places beyond the end are empty.
#[derive(Debug)]
pub(super) struct Line<'t> {
    pub text: &'t str,
    tokens: Vec<Token<'t>>,
}

/// Signs of more than one character.
const SIGNS: [&str; 19] = [
    "===", "!==", "<=", ">=", "<>", "==", "!=", "=>", "=<", ":=", "=~", "&&", "||", "--", "//",
    "/*", "**", "..", "''",
];
/// Quotation marks of other keyboards, opening and closing.
const ODD: [(char, &str); 6] =
    [('“', "”“\""), ('„', "”“"), ('”', "”\""), ('‘', "’'"), ('«', "»"), ('`', "`'")];
/// Marks of feet and inches where they stand behind a number.
pub(super) const FEET: [&str; 4] = ["'", "′", "’", "‘"];
pub(super) const INCHES: [&str; 4] = ["\"", "''", "″", "”"];

/// Words that join or end conditions.
const JOINS: [&str; 2] = ["and", "or"];
const WINDOWS: [&str; 6] = ["since", "before", "after", "from", "in", "as"];

impl<'t> Line<'t> {
    pub(super) fn of(text: &'t str) -> Self {
        let mut tokens: Vec<Token<'t>> = Vec::new();
        let mut at = 0;
        while let Some(c) = text[at..].chars().next() {
            let rest = &text[at..];
            if c.is_whitespace() {
                at += c.len_utf8();
                continue;
            }
            let last = tokens.last();
            let joined = last.is_some_and(|t| t.span.end == at);
            let behind_number = joined && last.is_some_and(|t| t.kind == Kind::Number);
            // A remark; but `19.5#` is a weight and `#2026-03-01#` a date.
            if c == '#' && !behind_number && !rest[1..].starts_with(|c: char| c.is_ascii_digit()) {
                at += rest.find('\n').unwrap_or(rest.len());
                continue;
            }
            let (kind, length) = first(rest, behind_number);
            let span = Span { start: at, end: at + length };
            tokens.push(Token { kind, text: &text[at..at + length], span, joined });
            at += length;
        }
        Self { text, tokens }
    }

    pub(super) fn len(&self) -> usize {
        self.tokens.len()
    }

    /// How deep parentheses are nested.
    pub(super) fn depth(&self) -> usize {
        let (mut depth, mut deepest) = (0usize, 0);
        for at in 0..self.len() {
            depth = if self.is(at, "(") {
                depth + 1
            } else {
                depth.saturating_sub(usize::from(self.is(at, ")")))
            };
            deepest = deepest.max(depth);
        }
        deepest
    }

    pub(super) fn get(&self, at: usize) -> Option<&Token<'t>> {
        self.tokens.get(at)
    }

    /// A word in small letters; empty where none stands.
    pub(super) fn word(&self, at: usize) -> String {
        self.get(at)
            .filter(|t| t.kind == Kind::Word)
            .map_or_else(String::new, |t| t.text.to_lowercase())
    }

    pub(super) fn is_word(&self, at: usize, of: &[&str]) -> bool {
        of.contains(&self.word(at).as_str())
    }

    pub(super) fn is(&self, at: usize, sign: &str) -> bool {
        self.get(at).is_some_and(|t| t.kind == Kind::Sign && t.text == sign)
    }

    pub(super) fn is_kind(&self, at: usize, kind: Kind) -> bool {
        self.get(at).is_some_and(|t| t.kind == kind)
    }

    pub(super) fn joined(&self, at: usize) -> bool {
        self.get(at).is_some_and(|t| t.joined)
    }

    /// From one token to another, both included.
    pub(super) fn span(&self, from: usize, to: usize) -> Span {
        let start = self.get(from).map_or(self.text.len(), |t| t.span.start);
        let end = self.get(to).map_or(start, |t| t.span.end);
        Span { start, end: end.max(start) }
    }

    pub(super) fn said(&self, from: usize, to: usize) -> &'t str {
        self.span(from, to).of(self.text)
    }

    /// The place behind the last token.
    pub(super) fn end(&self) -> Span {
        let end = self.tokens.last().map_or(0, |t| t.span.end);
        Span { start: end, end }
    }

    pub(super) fn compares(&self, at: usize) -> bool {
        ["=", "!=", "<", "<=", ">", ">="].iter().any(|sign| self.is(at, sign))
    }

    pub(super) fn is_field(&self, at: usize) -> bool {
        let word = self.word(at);
        !word.is_empty() && registry::is_field(&word)
    }

    pub(super) fn record(&self, at: usize) -> Option<Record> {
        Record::parse(&self.word(at))
    }

    /// The token behind the value that begins at a place: a date, a number with its unit, a text,
    /// a word.
    pub(super) fn past_value(&self, at: usize) -> Option<usize> {
        let token = self.get(at)?;
        let rest = &self.text[token.span.start..];
        let length = match token.kind {
            // `100..300`: the point belongs to the sign.
            Kind::Number if self.is(at + 1, "..") => token.text.len(),
            Kind::Number => [Rule::date, Rule::quantity].iter().find_map(|r| reads(*r, rest))?,
            Kind::Word | Kind::Text | Kind::OddText => token.text.len(),
            Kind::Sign => return None,
        };
        let end = token.span.start + length;
        Some((at + 1..self.len()).find(|i| self.tokens[*i].span.start >= end).unwrap_or(self.len()))
    }

    /// The closing parenthesis of the one at a place.
    pub(super) fn close(&self, open: usize) -> Option<usize> {
        let mut depth = 0usize;
        for at in open..self.len() {
            if self.is(at, "(") {
                depth += 1;
            } else if self.is(at, ")") {
                depth = depth.checked_sub(1)?;
                if depth == 0 {
                    return Some(at);
                }
            }
        }
        None
    }

    /// The token behind the condition that begins at a place: the next `and`, `or`, closing
    /// parenthesis or window word of its own level, or the end.
    pub(super) fn past_condition(&self, from: usize, with_and: bool) -> usize {
        let mut depth = 0usize;
        for at in from..self.len() {
            if self.is(at, "(") {
                depth += 1;
            } else if self.is(at, ")") {
                if depth == 0 {
                    return at;
                }
                depth -= 1;
            } else if depth == 0 && ((!with_and && self.is_word(at, &JOINS)) || self.is_window(at))
            {
                return at;
            }
        }
        self.len()
    }

    /// A window begins here; `in` alone begins a list.
    pub(super) fn is_window(&self, at: usize) -> bool {
        match self.word(at).as_str() {
            "in" => self.is_word(at + 1, &["last", "latest"]),
            "as" => self.is_word(at + 1, &["of"]),
            word => WINDOWS.contains(&word),
        }
    }
}

/// Kind and length of the first token of a text.
fn first(rest: &str, behind_number: bool) -> (Kind, usize) {
    let mut chars = rest.chars();
    let Some(c) = chars.next() else { return (Kind::Sign, 0) };
    let run = |of: fn(char) -> bool| rest.find(|c| !of(c)).unwrap_or(rest.len());
    if c.is_ascii_digit() {
        let whole = run(|c| c.is_ascii_digit());
        let after = &rest[whole..];
        let fraction = after
            .strip_prefix('.')
            .map_or(0, |f| f.find(|c: char| !c.is_ascii_digit()).unwrap_or(f.len()));
        return (Kind::Number, if fraction > 0 { whole + 1 + fraction } else { whole });
    }
    if c.is_alphabetic() || c == '_' {
        return (Kind::Word, run(|c| c.is_alphanumeric() && !"½¼¾⅛⅜⅝⅞".contains(c) || c == '_'));
    }
    if !behind_number {
        if matches!(c, '"' | '\'')
            && let Some(end) = rest[1..].find([c, '\n']).filter(|n| rest[1 + n..].starts_with(c))
        {
            return (Kind::Text, end + 2);
        }
        if let Some((open, close)) = ODD.iter().find(|(open, _)| *open == c) {
            let inner = &rest[open.len_utf8()..];
            if let Some(end) = inner.find(|c| close.contains(c)) {
                let mark = inner[end..].chars().next().map_or(0, char::len_utf8);
                return (Kind::OddText, open.len_utf8() + end + mark);
            }
        }
    }
    let sign = SIGNS.iter().find(|sign| rest.starts_with(**sign));
    (Kind::Sign, sign.map_or(c.len_utf8(), |sign| sign.len()))
}
