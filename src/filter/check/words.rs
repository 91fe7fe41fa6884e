//! The right side of a comparison with a word, a text or a set.

use std::collections::BTreeSet;

use super::super::ast::Word;
use super::super::ast::{Expr, ExprKind};
use super::super::error::{Advice, ErrorKind, Span};
use super::super::registry::{Field, Kind, Stored, Words};
use super::super::typed::{Pattern, Phrase, Pred, Reference};
use super::Checker;
use super::conditions::Typed;
use crate::model::{fold, same_name};
use crate::schema::each_word;

impl Checker<'_, '_, '_> {
    /// What a text or word is compared with: each of several for a broader word of the catalogue.
    pub(super) fn phrases(
        &mut self,
        place: &Reference,
        left: &Expr,
        right: &Expr,
    ) -> Option<Vec<Phrase>> {
        let field = place.field();
        if let Kind::Word(words) = field.kind
            && let Some(said) = self.said(right)
        {
            let all = meant(field, words, said);
            if !all.is_empty() {
                return Some(all.into_iter().map(Phrase::Known).collect());
            }
        }
        self.phrase(place, left, right).map(|phrase| vec![phrase])
    }

    /// The text of a value that is written out, be it a word, a text, or what reads as a number or a
    /// subtraction elsewhere: `class = 2`, `grade = G-105`.
    fn said<'e>(&'e self, e: &'e Expr) -> Option<&'e str> {
        match &e.kind {
            ExprKind::Text(text) => Some(text),
            ExprKind::Named { .. } => e.bare_word().map(|word| word.text.as_str()),
            ExprKind::Pick { .. } | ExprKind::OfJoint { .. } => None,
            _ => Some(self.slice(e.span)),
        }
    }

    /// What a text or word is compared with.
    pub(super) fn phrase(
        &mut self,
        place: &Reference,
        left: &Expr,
        right: &Expr,
    ) -> Option<Phrase> {
        let field = place.field();
        match (field.kind, &right.kind) {
            (Kind::Word(words), _) => self.word(field, words, right),
            (_, ExprKind::Text(text)) => {
                self.plain_text(left, right, text)?;
                Some(Phrase::Known(crate::model::join_blanks(text)))
            }
            (_, ExprKind::Pick { .. } | ExprKind::OfJoint { .. }) => self.other_phrase(right),
            _ => {
                let bare = right.bare_word();
                if bare.is_some_and(|word| word.text.eq_ignore_ascii_case("none"))
                    && field.absent.may_be_none()
                {
                    return Some(Phrase::None);
                }
                if matches!(right.kind, ExprKind::Named { .. })
                    && (bare.is_none() || self.names_a_phrase(right))
                {
                    return self.other_phrase(right);
                }
                let (name, said) = (self.label(left.span), self.slice(right.span));
                let advice = Advice::write(right.span, [format!("\"{said}\"")])
                    .saying(format!("put it in quotes: {name} = \"{said}\""));
                let kind = if bare.is_some() { ErrorKind::Word } else { ErrorKind::Type };
                self.fail(kind, right.span, format!("{name} is text"), advice)
            }
        }
    }

    /// A word of a vocabulary.
    fn word(&mut self, field: &Field, words: Words, right: &Expr) -> Option<Phrase> {
        let Some(said) = self.said(right).map(str::to_owned) else {
            return self.other_phrase(right);
        };
        if let Some(word) = meant(field, words, &said).into_iter().next() {
            return Some(Phrase::Known(word));
        }
        if let Some(bare) = right.bare_word() {
            if bare.text.eq_ignore_ascii_case("none") && field.absent.may_be_none() {
                return Some(Phrase::None);
            }
            if self.names_a_phrase(right) {
                return self.other_phrase(right);
            }
        }
        if !matches!(right.kind, ExprKind::Text(_)) {
            return self.strange_word(field, words, right, &said);
        }
        // Makers have words of their own, and a book may have adopted another catalogue: what stands
        // in the book can be asked for. A rule may come before the joints that it is for, but hardly
        // with a word that is nearly one that is known.
        let held = match (words, field.stored) {
            (Words::Catalogued(_), Stored::Column(c)) => (self.context().words)(c.table, c.name),
            (Words::Catalogued(_), _) => None,
            (Words::Closed(_), _) => return self.strange_word(field, words, right, &said),
        };
        let ahead = held.is_none() || !self.session.stack.is_empty();
        match held.and_then(|held| held_as(field, &held, &said)) {
            Some(word) => Some(Phrase::Known(word)),
            None if ahead && words.nearest(&said).is_none() => {
                Some(Phrase::Known(words.kept(&said)))
            }
            None => self.strange_word(field, words, right, &said),
        }
    }

    /// Refuses text with the wildcard of a pattern.
    fn plain_text(&mut self, left: &Expr, right: &Expr, text: &str) -> Option<()> {
        let sign = Span { start: left.span.end, end: right.span.start };
        let equal = !self.slice(sign).contains('!');
        if text.contains('*') && self.slice(sign).contains('=') {
            let message = "* stands for any characters behind like alone";
            let like = if equal { " like " } else { " not like " };
            let advice = Advice::write(sign, [like]);
            return self.fail(ErrorKind::Foreign, right.span, message, advice);
        }
        Some(())
    }

    /// True when a bare word is a field that holds text.
    fn names_a_phrase(&self, e: &Expr) -> bool {
        let ExprKind::Named { source, .. } = &e.kind else { return false };
        matches!(
            self.look_up(source),
            Some(super::names::Named::Field(f)) if matches!(f.kind, Kind::Text | Kind::Word(_))
        )
    }

    fn other_phrase(&mut self, e: &Expr) -> Option<Phrase> {
        match self.typed(e)? {
            Typed::Reference(place) if matches!(place.field().kind, Kind::Text | Kind::Word(_)) => {
                Some(Phrase::Of(place))
            }
            Typed::Told(phrase) => Some(phrase),
            _ => {
                let said = self.label(e.span);
                self.fail(ErrorKind::Type, e.span, format!("{said} is no text"), None)
            }
        }
    }

    fn strange_word<T>(&mut self, field: &Field, words: Words, at: &Expr, said: &str) -> Option<T> {
        if field.name == "grade" && field.record.is_some() && words.nearest(said).is_none() {
            let message =
                format!("{said} says nothing about how far a run's figures can be trusted");
            let hint = "the steel's grade is joint.grade".to_owned();
            return self.fail(ErrorKind::Word, at.span, message, hint);
        }
        let nearest = words.nearest(said);
        let advice = Advice::nearest(at.span, nearest.as_slice())
            .or(|| format!("it can be {}", some(words)).into());
        let mut message = format!("{said} is no {}", words.kind());
        let mut hint = advice.hint.clone().unwrap_or_default();
        match (words, &at.kind) {
            (Words::Closed(_), _) => {}
            (Words::Catalogued(_), ExprKind::Text(_)) => message += ", and the book holds none",
            (Words::Catalogued(_), _) => {
                let end = if hint.ends_with('?') { "" } else { ";" };
                hint += &format!("{end} anything else goes in quotes");
            }
        }
        self.fail(ErrorKind::Word, at.span, message, advice.saying(hint))
    }

    /// The bit of a word in a set.
    pub(super) fn bit(&mut self, words: Words, e: &Expr) -> Option<i64> {
        let said = match &e.kind {
            ExprKind::Text(text) => text.as_str(),
            _ => self.slice(e.span),
        };
        match words.bit(said) {
            Some(bit) => Some(bit),
            None => {
                let advice = Advice::nearest(e.span, words.nearest(said).as_slice())
                    .or(|| format!("it can be {}", words.list().join(", ")).into());
                let kind = words.kind();
                self.fail(ErrorKind::Word, e.span, format!("{said} is no {kind}"), advice)
            }
        }
    }

    pub(super) fn like(&mut self, value: &Expr, pattern: &Word) -> Option<Pred> {
        match self.typed(value)? {
            Typed::Reference(place) if matches!(place.field().kind, Kind::Text | Kind::Word(_)) => {
                let at = pattern.span;
                let pattern = Pattern(pattern.text.clone());
                self.some_word_fits(place.field(), &pattern, at)?;
                Some(Pred::Like { value: Phrase::Of(place), pattern })
            }
            _ => {
                let said = self.label(value.span);
                let message = format!("{said} is no text; like compares text with a pattern");
                self.fail(ErrorKind::Type, value.span, message, None)
            }
        }
    }
}

impl Checker<'_, '_, '_> {
    /// Refuses a pattern that no word of a vocabulary fits: it could match nothing.
    fn some_word_fits(&mut self, field: &Field, pattern: &Pattern, at: Span) -> Option<()> {
        let Kind::Word(words) = field.kind else { return Some(()) };
        if field.several || words.list().into_iter().any(|word| pattern.fits(word)) {
            return Some(());
        }
        // What a maker calls his own stands in the book; without a book nobody knows.
        if let (Words::Catalogued(_), Stored::Column(c)) = (words, field.stored) {
            match (self.context().words)(c.table, c.name) {
                Some(held) if !held.iter().any(|word| pattern.fits(word)) => {}
                _ => return Some(()),
            }
        }
        let none =
            if matches!(words, Words::Catalogued(_)) { ", and the book holds none" } else { "" };
        let message = format!("no {} is like \"{}\"{none}", words.kind(), pattern.0);
        let hint = format!("it can be {}; * stands for any characters", some(words));
        self.fail(ErrorKind::Word, at, message, hint)
    }
}

/// The words of a vocabulary that a text means, as they stand in the book; for a field that holds
/// several, each with all that must stand there, divided by commas.
fn meant(field: &Field, words: Words, said: &str) -> Vec<String> {
    if !field.several {
        return words.meant(said).into_iter().map(str::to_owned).collect();
    }
    let known = |word: String| words.meant(&word).into_iter().map(str::to_owned).collect();
    let each: Vec<Vec<String>> = each_word(said).map(known).collect();
    each.into_iter()
        .reduce(|all, next| {
            let pairs = all.iter().flat_map(|a| next.iter().map(move |b| format!("{a},{b}")));
            pairs.collect()
        })
        .unwrap_or_default()
}

/// How a strange word stands in the book, if it does.
fn held_as(field: &Field, held: &[String], said: &str) -> Option<String> {
    if !field.several {
        let same = |word: &&String| same_name(word, said) || fold(word) == fold(said);
        return held.iter().find(same).cloned();
    }
    let stand = held.iter().flat_map(|text| each_word(text)).collect::<BTreeSet<_>>();
    let wanted: Vec<String> = each_word(said).collect();
    let all = !wanted.is_empty() && wanted.iter().all(|word| stand.contains(word));
    all.then(|| wanted.join(","))
}

/// The words of a vocabulary, the first of them where it is long.
fn some(words: Words) -> String {
    const MOST: usize = 24;
    let list = words.list();
    let more = if list.len() > MOST { " …" } else { "" };
    format!("{}{more}", list.iter().take(MOST).copied().collect::<Vec<_>>().join(", "))
}
