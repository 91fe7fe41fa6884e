//! Words that have an order: a class is worse or better than another.

use super::super::ast::{Cmp, Expr, ExprKind};
use super::super::error::{ErrorKind, Span};
use super::super::registry::Kind;
use super::super::typed::{Phrase, Pred, Reference};
use super::conditions::Typed;
use super::{Advice, Checker};

impl Checker<'_, '_, '_> {
    /// `class worse than class_2`. It holds for the words on one side of the other, which are few:
    /// what SQL and the evaluator see is a list of words.
    pub(super) fn ranked(
        &mut self,
        value: &Expr,
        worse: bool,
        than: &Expr,
        span: Span,
    ) -> Option<Pred> {
        let Some((place, order)) = self.typed(value).and_then(ordered) else {
            let said = self.label(value.span);
            let sign = Span { start: value.span.end, end: than.span.start };
            let sign = Advice::write(sign, [if worse { " < " } else { " > " }]);
            let message = format!("{said} is not worse or better than another: only classes are");
            return self.fail(ErrorKind::Type, value.span, message, sign);
        };
        // The best comes first.
        let side = |at: usize| if worse { &order[at + 1..] } else { &order[..at] };
        match self.phrase(&place, value, than)? {
            Phrase::Known(word) => {
                let at = order.iter().position(|w| *w == word)?;
                let words: Vec<Phrase> = side(at).iter().map(|w| known(w)).collect();
                Some(match words.as_slice() {
                    // Nothing is worse than the worst, whatever it is.
                    [] => Pred::Const(false),
                    _ => Pred::OneOf { value: Phrase::Of(place), list: words },
                })
            }
            Phrase::Of(other) if ordered(Typed::Reference(other.clone())).is_some() => {
                let of = |place: &Reference, words: &[&str]| Pred::OneOf {
                    value: Phrase::Of(place.clone()),
                    list: words.iter().map(|w| known(w)).collect(),
                };
                let pairs = (0..order.len()).filter(|at| !side(*at).is_empty()).map(|at| {
                    let both = [of(&place, side(at)), of(&other, &order[at..=at])];
                    self.node(Pred::All(both.map(|p| self.node(p, span)).to_vec()), span)
                });
                Some(Pred::Any(pairs.collect()))
            }
            _ => {
                let said = self.label(than.span);
                self.fail(ErrorKind::Type, than.span, format!("{said} is no class"), None)
            }
        }
    }

    /// Words from one to another, both included, where the value's words have an order.
    pub(super) fn words_between(
        &self,
        value: &Expr,
        low: &Expr,
        high: &Expr,
    ) -> Option<Vec<&'static str>> {
        let field = self.field_called(self.slice(value.span))?;
        let Kind::Word(words) = field.kind else { return None };
        let order = words.best_first()?;
        let at = |e: &Expr| {
            let word = words.read(self.slice(e.span).trim_matches('"'))?;
            order.iter().position(|w| *w == word)
        };
        let (low, high) = (at(low)?, at(high)?);
        Some(order[low.min(high)..=low.max(high)].to_vec())
    }

    /// A word for what nobody knows, or a text of nothing, where someone compares with it.
    pub(super) fn unknown_word(&self, op: Cmp, left: &Expr, right: &Expr) -> Option<Span> {
        const WORDS: [&str; 6] = ["unknown", "null", "nil", "na", "missing", "unmeasured"];
        if let ExprKind::Text(text) = &right.kind {
            let named = matches!(left.kind, ExprKind::Named { .. } | ExprKind::Pick { .. });
            let empty = text.trim().is_empty() && matches!(op, Cmp::Eq | Cmp::Ne);
            return (named && empty).then_some(right.span);
        }
        let word = right.bare_word()?;
        let lower = word.text.to_lowercase();
        let is = matches!(op, Cmp::Eq | Cmp::Ne) && WORDS.contains(&lower.as_str());
        // A vocabulary may have the word.
        let own = self.field_called(self.slice(left.span)).is_some_and(
            |f| matches!(f.kind, Kind::Word(words) if words.list().contains(&lower.as_str())),
        );
        (is && !own).then_some(right.span)
    }
}

fn known(word: &str) -> Phrase {
    Phrase::Known(word.to_owned())
}

/// A word that has an order, and the order, the best first.
fn ordered(value: Typed) -> Option<(Reference, Vec<&'static str>)> {
    let Typed::Reference(place) = value else { return None };
    let Kind::Word(words) = place.field().kind else { return None };
    words.best_first().map(|order| (place, order))
}
