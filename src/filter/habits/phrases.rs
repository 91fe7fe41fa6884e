//! Words and signs that are said otherwise here.

use super::super::error::{Fix, Span};
use super::super::parse::{Rule, read_to};
use super::habit::Habit;
use super::line::{Kind, Line};

/// Single signs of other keyboards and languages.
const GLYPHS: [(&str, &str); 21] = [
    ("≧", ">="),
    ("≦", "<="),
    ("＞", ">"),
    ("＜", "<"),
    ("＝", "="),
    ("（", "("),
    ("）", ")"),
    ("，", ","),
    ("×", "*"),
    ("·", "*"),
    ("÷", "/"),
    ("–", "-"),
    ("—", "-"),
    ("$", ""),
    ("@", ""),
    (";", ""),
    ("--", "#"),
    ("//", "#"),
    ("\u{feff}", ""),
    ("\u{200b}", ""),
    ("\u{00ad}", ""),
];

pub(super) fn sign(line: &Line<'_>, at: usize) -> Option<Habit> {
    let token = line.get(at).filter(|t| t.kind == Kind::Sign)?;
    if token.text == "/*" {
        let rest = &line.text[token.span.start..];
        let end = rest.find("*/").map_or(rest.len(), |n| n + 2);
        let span = Span { start: token.span.start, end: token.span.start + end };
        return Some(
            Habit::instead(span, &[""], "/*")
                .saying("a remark begins with # and goes on to the end of the line"),
        );
    }
    let (said, instead) = GLYPHS.iter().find(|(said, _)| *said == token.text)?;
    let invisible = said.chars().all(|c| matches!(c, '\u{feff}' | '\u{200b}' | '\u{00ad}'));
    let habit = Habit::instead(token.span, &[instead], said);
    Some(if invisible {
        habit.because("a sign that cannot be seen stands here")
    } else {
        habit.because(format!("{said} is not a sign of this language"))
    })
}

/// Words that are said otherwise, the longest of those that begin alike first.
const PHRASES: &[(&str, &str)] = &[
    ("is greater than or equal to", ">="),
    ("is less than or equal to", "<="),
    ("greater than or equal to", ">="),
    ("less than or equal to", "<="),
    ("is not equal to", "!="),
    ("is equal to", "="),
    ("is greater than", ">"),
    ("is less than", "<"),
    ("is more than", ">"),
    ("is at least", ">="),
    ("is at most", "<="),
    ("is above", ">"),
    ("is over", ">"),
    ("is below", "<"),
    ("is under", "<"),
    ("is in", "in"),
    ("is due for", "due for"),
    ("is like", "like"),
    ("is better than", "better than"),
    ("is worse than", "worse than"),
    ("not equal to", "!="),
    ("equal to", "="),
    ("greater than", ">"),
    ("more than", ">"),
    ("longer than", ">"),
    ("less than", "<"),
    ("fewer than", "<"),
    ("lower than", "<"),
    ("smaller than", "<"),
    ("higher than", ">"),
    ("larger than", ">"),
    ("at least", ">="),
    ("at most", "<="),
    ("no less than", ">="),
    ("no more than", "<="),
    ("equals", "="),
    ("exceeds", ">"),
    ("eq", "="),
    ("ne", "!="),
    ("gt", ">"),
    ("lt", "<"),
    ("ge", ">="),
    ("le", "<="),
    ("below", "<"),
    ("under", "<"),
    ("over", ">"),
    ("as well as", "and"),
    ("but", "and"),
    ("plus", "and"),
    ("without", "and not"),
    ("except", "and not"),
    ("overdue for", "due for"),
    ("due for an", "due for"),
    ("due for a", "due for"),
    ("as at", "as of"),
    ("since new", ""),
    ("number of", "count"),
    ("how many", "count"),
    ("count of", "count"),
    ("average", "mean"),
    ("avg", "mean"),
    ("maximum", "max"),
    ("minimum", "min"),
    ("largest", "max"),
    ("smallest", "min"),
    ("total", "sum"),
    ("total", ""),
    ("some", "any"),
    ("exists", "any"),
    ("has", "any"),
    ("had", "any"),
    ("have", "any"),
    ("all", "every"),
    ("each", "every"),
    ("none", "no"),
    ("never", "no"),
    ("newest", "latest"),
    ("oldest", "first"),
    ("ilike", "like"),
    ("matches", "like"),
    ("worse", "worse than"),
    ("better", "better than"),
    ("due", "due for"),
    ("kin", "kin of"),
    ("at latest", "of latest"),
    ("at last", "of last"),
    ("at first", "of first"),
    ("from", "of"),
    ("of", "over"),
    ("x", "*"),
    ("if", ""),
    ("is", ""),
];

pub(super) fn phrase(line: &Line<'_>, at: usize) -> Option<Habit> {
    if !line.is_kind(at, Kind::Word) {
        return None;
    }
    // Each token may begin one of several: the rules try one place after another, so that the
    // phrase that makes the text whole is looked for here.
    let fits = |(said, instead): &&(&str, &str)| {
        let words: Vec<&str> = said.split(' ').collect();
        let there = words.iter().enumerate().all(|(i, w)| line.word(at + i) == **w);
        there && {
            let span = line.span(at, at + words.len() - 1);
            let mended = Fix::new(span, *instead).apply(line.text);
            read_to(Rule::filter, &mended) == mended.len()
        }
    };
    let longest = |(said, _): &&(&str, &str)| {
        said.split(' ').enumerate().all(|(i, w)| line.word(at + i) == w)
    };
    let (said, instead) = PHRASES.iter().find(fits).or_else(|| PHRASES.iter().find(longest))?;
    let past = at + said.split(' ').count();
    if line.is_kind(past, Kind::Number) && line.is_word(past + 2, &["ago", "back"]) {
        // More than so long ago is the earlier day.
        return None;
    }
    let span = line.span(at, past - 1);
    Some(Habit::instead(span, &[instead], line.text.get(span.start..span.end)?))
}

/// `the`, `a`, `an`.
pub(super) fn article(line: &Line<'_>, at: usize) -> Option<Habit> {
    let articles = ["the", "a", "an", "please", "show", "me", "joints", "pipe"];
    if !line.is_word(at, &articles) {
        return None;
    }
    let end = line.get(at + 1)?.span.start;
    let span = Span { end, ..line.span(at, at) };
    Some(Habit::instead(span, &[""], line.said(at, at)).pointing(line.span(at, at)))
}

/// A full stop or question mark at the end.
pub(super) fn left_over(line: &Line<'_>, at: usize) -> Option<Habit> {
    let last = at + 1 == line.len();
    let stop = [".", "?", "!", ","].iter().any(|s| line.is(at, s));
    let behind_unit = line.is(at, ".") && at > 0 && line.is_kind(at - 1, Kind::Word);
    ((last && stop) || behind_unit)
        .then(|| Habit::instead(line.span(at, at), &[""], line.said(at, at)))
}
