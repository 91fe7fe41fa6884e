//! The fields that tell whether a joint is fit to run. What is recorded of the joint stands in its
//! row; what the rules in force call for comes on top when it is asked, so that a filter answers as
//! every other command does. In the filter of a rule they tell the record alone.

use std::sync::Arc;

use super::super::error::Span;
use super::super::parse::Text;
use super::super::typed::{Called, Case, Node, Operand, Pattern, Phrase, Pred, Reference, Shown};
use super::Checker;
use crate::condition::{Fitness, Ground};
use crate::model::Vocabulary;

/// A field that rules have a say in.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Told {
    Fit,
    Because,
}

fn told(place: &Reference) -> Option<Told> {
    let Reference::Read(read) = place else { return None };
    if read.field.record.is_some() || read.past.is_some() {
        return None;
    }
    match read.field.name {
        "fit" => Some(Told::Fit),
        "unfit_because" => Some(Told::Because),
        _ => None,
    }
}

impl Checker<'_, '_, '_> {
    /// A field that the rules have a say in, where they are asked.
    fn asks_rules(&self, place: &Reference) -> Option<Told> {
        told(place).filter(|_| self.text.rule.is_none() && !self.context().rules.all().is_empty())
    }

    /// Whether a rule certainly gives a ground.
    fn called(&mut self, of: Ground, open: bool, span: Span) -> Option<Node> {
        let rules = self.calling(|call| Ground::of_call(call) == of, span)?;
        let says: Arc<str> = match of {
            Ground::InspectionDue => "a rule calls for an inspection".into(),
            Ground::CalledOut => "a rule calls for repair, quarantine or retirement".into(),
            _ => "a rule calls for a lower class".into(),
        };
        let whole = Span { start: 0, end: says.len() };
        let pred = Pred::Called(Called { rules, open });
        Some(Node { pred, text: Text { rule: None, text: says }, span: whole })
    }

    /// A condition on such a field, with what the rules say; any other as it is.
    pub(super) fn with_rules(&mut self, pred: Pred, span: Span) -> Option<Pred> {
        match pred {
            Pred::OneOf { value: Phrase::Of(place), list } => match self.asks_rules(&place) {
                None => Some(Pred::OneOf { value: Phrase::Of(place), list }),
                Some(Told::Fit) => self.any(&place, list, span, Self::is_fit),
                Some(Told::Because) => self.any(&place, list, span, Self::is_because),
            },
            Pred::Like { value: Phrase::Of(place), pattern } => match self.asks_rules(&place) {
                None => Some(Pred::Like { value: Phrase::Of(place), pattern }),
                Some(Told::Fit) => {
                    let fitting = Fitness::ALL.iter().map(|fit| fit.word());
                    let fitting = fitting.filter(|word| pattern.fits(word));
                    let list = fitting.map(|word| Phrase::Known(word.to_owned())).collect();
                    self.any(&place, list, span, Self::is_fit)
                }
                Some(Told::Because) => self.like_because(place, pattern, span),
            },
            Pred::Unknown(Operand::Reference(place))
                if self.asks_rules(&place) == Some(Told::Fit) =>
            {
                self.fit_unknown(&place, span)
            }
            other => Some(other),
        }
    }

    fn any(
        &mut self,
        place: &Reference,
        list: Vec<Phrase>,
        span: Span,
        each: fn(&mut Self, &Reference, Phrase, Span) -> Option<Pred>,
    ) -> Option<Pred> {
        let mut nodes = Vec::new();
        for phrase in list {
            let pred = each(self, place, phrase, span)?;
            nodes.push(self.node(pred, span));
        }
        if nodes.len() == 1 { nodes.pop().map(|n| n.pred) } else { Some(Pred::Any(nodes)) }
    }

    /// What the record says.
    fn recorded(&self, place: &Reference, word: &str, span: Span) -> Node {
        let value = Phrase::Of(place.clone());
        self.node(Pred::OneOf { value, list: vec![Phrase::Known(word.to_owned())] }, span)
    }

    fn not(&self, node: Node, span: Span) -> Node {
        self.node(Pred::Not(Box::new(node)), span)
    }

    fn is_fit(&mut self, place: &Reference, phrase: Phrase, span: Span) -> Option<Pred> {
        let word = match &phrase {
            Phrase::Known(word) => Fitness::from_word(word).ok(),
            _ => None,
        };
        let Some(word) = word else {
            return Some(Pred::OneOf { value: Phrase::Of(place.clone()), list: vec![phrase] });
        };
        let is = |c: &Self, word: Fitness| c.recorded(place, word.word(), span);
        // Where an inspection is due nobody can say.
        let open = self.called(Ground::InspectionDue, true, span)?;
        let out = self.called(Ground::CalledOut, false, span)?;
        Some(match word {
            Fitness::NotFit => Pred::Any(vec![is(self, Fitness::NotFit), out, open]),
            Fitness::Fit => {
                let lesser = self.called(Ground::WorkDue, false, span)?;
                let not_lesser = self.not(lesser, span);
                let not_lesser = self.node(Pred::Any(vec![not_lesser, open.clone()]), span);
                let not_out = self.not(out, span);
                let not_open = self.not(open, span);
                Pred::All(vec![is(self, Fitness::Fit), not_out, not_lesser, not_open])
            }
            Fitness::Restricted => {
                let lesser = self.called(Ground::WorkDue, false, span)?;
                let by_rule = self.node(Pred::Any(vec![lesser, open.clone()]), span);
                let by_rule = self.node(Pred::All(vec![is(self, Fitness::Fit), by_rule]), span);
                let restricts = Pred::Any(vec![is(self, Fitness::Restricted), by_rule]);
                let restricts = self.node(restricts, span);
                let not_out = self.not(out, span);
                let not_open = self.not(open, span);
                Pred::All(vec![not_out, not_open, restricts])
            }
        })
    }

    fn fit_unknown(&mut self, place: &Reference, span: Span) -> Option<Pred> {
        let unknown = self.node(Pred::Unknown(Operand::Reference(place.clone())), span);
        let due = self.called(Ground::InspectionDue, false, span)?;
        let out = self.called(Ground::CalledOut, false, span)?;
        let bad = self.recorded(place, Fitness::NotFit.word(), span);
        let good = self.not(bad, span);
        let due = self.node(Pred::All(vec![good, due]), span);
        let not_out = self.not(out, span);
        Some(Pred::All(vec![not_out, self.node(Pred::Any(vec![unknown, due]), span)]))
    }

    /// A word is among the grounds; several of them are all that there are.
    fn is_because(&mut self, place: &Reference, phrase: Phrase, span: Span) -> Option<Pred> {
        let of_rules = |ground: &Ground| Ground::OF_RULES.contains(ground);
        let own = |phrase| Pred::OneOf { value: Phrase::Of(place.clone()), list: vec![phrase] };
        let (recorded, given): (Pred, Vec<Ground>) = match &phrase {
            Phrase::None => (own(phrase), Vec::new()),
            Phrase::Known(words) => {
                let (given, told): (Vec<_>, Vec<_>) = words
                    .split(',')
                    .partition(|word| Ground::from_word(word).is_ok_and(|g| of_rules(&g)));
                let given: Vec<_> = given.iter().flat_map(|w| Ground::from_word(w)).collect();
                let recorded = match (given.as_slice(), told.as_slice()) {
                    ([], [_]) => return Some(own(phrase)),
                    ([ground], []) => {
                        return self.called(*ground, false, span).map(|node| node.pred);
                    }
                    (_, []) => own(Phrase::None),
                    // The record tells this word and no other.
                    (_, [only]) => Pred::Like {
                        value: Phrase::Of(place.clone()),
                        pattern: Pattern((*only).to_owned()),
                    },
                    (_, told) => own(Phrase::Known(told.join(","))),
                };
                (recorded, given)
            }
            Phrase::Unknown | Phrase::Of(_) => return Some(own(phrase)),
        };
        let mut terms = vec![self.node(recorded, span)];
        for ground in Ground::OF_RULES {
            let called = self.called(ground, false, span)?;
            terms.push(if given.contains(&ground) { called } else { self.not(called, span) });
        }
        Some(Pred::All(terms))
    }

    /// What is recorded is of a pattern, or a word that a rule gives is.
    fn like_because(&mut self, place: Reference, pattern: Pattern, span: Span) -> Option<Pred> {
        let given = Ground::OF_RULES.into_iter().filter(|ground| pattern.fits(ground.word()));
        let given: Vec<_> = given.map(|ground| self.called(ground, false, span)).collect();
        let given = given.into_iter().collect::<Option<Vec<_>>>()?;
        let own = self.node(Pred::Like { value: Phrase::Of(place), pattern }, span);
        Some(Pred::Any([vec![own], given].concat()))
    }

    /// Such a field as it is shown, with what the rules say; any other as it is.
    pub(super) fn shown_with_rules(&mut self, place: Reference, span: Span) -> Option<Shown> {
        let Some(told) = self.asks_rules(&place) else { return Some(Shown::Reference(place)) };
        let mut cases = Vec::new();
        for ground in Ground::OF_RULES {
            cases.push((ground, self.called(ground, false, span)?));
        }
        let case = |when, then: Option<&'static str>| Case { when, then };
        if told == Told::Because {
            let more = cases.into_iter().map(|(g, node)| case(node, Some(g.word()))).collect();
            return Some(Shown::Cases { place, cases: Vec::new(), more });
        }
        let [out, due, lesser] = <[_; 3]>::try_from(cases).ok()?.map(|(_, node)| node);
        let word = |c: &Self, word: Fitness| c.recorded(&place, word.word(), span);
        let bad = word(self, Fitness::NotFit);
        let fit = word(self, Fitness::Fit);
        let lesser = self.node(Pred::All(vec![fit, lesser]), span);
        let cases = vec![
            case(out, Some(Fitness::NotFit.word())),
            case(bad, Some(Fitness::NotFit.word())),
            case(due, None),
            case(lesser, Some(Fitness::Restricted.word())),
        ];
        Some(Shown::Cases { place, cases, more: Vec::new() })
    }
}
