//! The right side of a comparison with a word, a text or a set.

use super::super::ast::Word;
use super::super::ast::{Expr, ExprKind};
use super::super::error::{Advice, ErrorKind, Span};
use super::super::registry::{Kind, Words};
use super::super::typed::{Pattern, Phrase, Pred, Reference};
use super::Checker;
use super::conditions::Typed;

impl Checker<'_, '_, '_> {
    /// What a text or word is compared with; a broader word of the catalogue means all below it.
    pub(super) fn phrases(
        &mut self,
        place: &Reference,
        left: &Expr,
        right: &Expr,
    ) -> Option<Vec<Phrase>> {
        if let Kind::Word(words) = place.field().kind {
            let said = match &right.kind {
                ExprKind::Text(text) => Some(text.as_str()),
                _ => right.bare_word().map(|word| word.text.as_str()),
            };
            let all = said.map(|said| words.broader(said)).unwrap_or_default();
            if !all.is_empty() {
                return Some(all.into_iter().map(|w| Phrase::Known(w.to_owned())).collect());
            }
        }
        self.phrase(place, left, right).map(|phrase| vec![phrase])
    }

    /// What a text or word is compared with.
    pub(super) fn phrase(
        &mut self,
        place: &Reference,
        left: &Expr,
        right: &Expr,
    ) -> Option<Phrase> {
        let field = place.field();
        let words = match field.kind {
            Kind::Word(words) => Some(words),
            _ => None,
        };
        if let ExprKind::Text(text) = &right.kind {
            if words.is_none() {
                self.plain_text(left, right, text)?;
            }
            return match words {
                None => Some(Phrase::Known(crate::model::join_blanks(text))),
                Some(words) => match (words.read(text), words) {
                    (Some(word), _) => Some(Phrase::Known(word)),
                    (None, Words::Listed(_)) => Some(Phrase::Known(text.clone())),
                    // A set of one's own may know more words, but hardly one that is nearly the same.
                    (None, Words::Catalogued(_)) if words.nearest(text).is_none() => {
                        Some(Phrase::Known(words.kept(text)))
                    }
                    (None, _) => self.strange_word(field.name, words, right, text),
                },
            };
        }
        let said = self.slice(right.span);
        let bare = right.bare_word();
        if let Some(word) = bare {
            if let Some(word) = words.and_then(|w| w.read(&word.text)) {
                return Some(Phrase::Known(word));
            }
            if word.text.eq_ignore_ascii_case("none") && field.absent.may_be_none() {
                return Some(Phrase::None);
            }
            if self.names_a_phrase(right) {
                return self.other_phrase(right);
            }
            return match words {
                Some(words) => self.strange_word(field.name, words, right, &word.text),
                None => {
                    let name = self.label(left.span);
                    let message = format!("{name} is text");
                    let advice = Advice::write(right.span, [format!("\"{said}\"")])
                        .saying(format!("put it in quotes: {name} = \"{said}\""));
                    self.fail(ErrorKind::Word, right.span, message, advice)
                }
            };
        }
        match &right.kind {
            ExprKind::Named { .. } | ExprKind::Pick { .. } | ExprKind::OfJoint { .. } => {
                self.other_phrase(right)
            }
            // `class = 2`, `grade = G-105`: what reads as a number or a subtraction elsewhere.
            _ => {
                if let Some(word) = words.and_then(|w| w.read(said)) {
                    return Some(Phrase::Known(word));
                }
                match words {
                    Some(words) => self.strange_word(field.name, words, right, said),
                    None => {
                        let name = self.label(left.span);
                        let advice = Advice::write(right.span, [format!("\"{said}\"")])
                            .saying(format!("put it in quotes: {name} = \"{said}\""));
                        self.fail(ErrorKind::Type, right.span, format!("{name} is text"), advice)
                    }
                }
            }
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

    fn strange_word<T>(&mut self, field: &str, words: Words, at: &Expr, said: &str) -> Option<T> {
        if words.list().is_empty() {
            let hint = format!("write {field} = \"…\" with the word in quotes");
            return self.fail(ErrorKind::Word, at.span, format!("{said} is no word"), hint);
        }
        let advice = Advice::nearest(at.span, words.nearest(said).as_slice())
            .or(|| format!("it can be {}", words.list().join(", ")).into());
        let mut message = format!("{said} is no {}", field.replace('_', " "));
        if field == "grade" && self.scope.record.is_some() {
            message = format!("{said} says nothing about how far a run's figures can be trusted");
            let hint = "the steel's grade is joint.grade".to_owned();
            return self.fail(ErrorKind::Word, at.span, message, hint);
        }
        let other = matches!(words, Words::Listed(_) | Words::Catalogued(_))
            .then_some(" anything else goes in quotes");
        let hint = format!("{}{}", advice.hint.as_deref().unwrap_or_default(), other.unwrap_or(""));
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
                let kind = match words {
                    Words::Closed(lexicon) => lexicon.kind,
                    _ => "word",
                };
                self.fail(ErrorKind::Word, e.span, format!("{said} is no {kind}"), advice)
            }
        }
    }

    pub(super) fn like(&mut self, value: &Expr, pattern: &Word) -> Option<Pred> {
        match self.typed(value)? {
            Typed::Reference(place) if matches!(place.field().kind, Kind::Text | Kind::Word(_)) => {
                let pattern = Pattern(pattern.text.clone());
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
