//! Named filters and `due for`: rules used inside filters, checked once each.

use std::sync::Arc;

use crate::model::{Call, Vocabulary};

use super::super::ast::Word;
use super::super::error::{Advice, ErrorKind, Excerpt, Span};
use super::super::parse::Text;
use super::super::typed::{Pred, Rule as CheckedRule};
use super::{Checker, MAX_LEVELS, MAX_QUESTIONS, MAX_TRAIL, Session, rule_condition};

/// The rule at a place of the list, checked; `None` when it has errors, reported once.
pub(super) fn checked(session: &mut Session<'_>, at: usize) -> Option<Arc<CheckedRule>> {
    if let Some(known) = session.rules.get(&at) {
        return known.clone();
    }
    let rule = session.context.rules.all().get(at)?;
    let name: Arc<str> = rule.name.as_str().into();
    let before = session.nodes;
    let outer = std::mem::take(&mut session.deepest);
    let text = |t: &str| Text { rule: Some(Arc::clone(&name)), text: t.into() };
    let scope = rule.scope.as_deref().map(|s| rule_condition(&text(s), session));
    let filter = rule_condition(&text(&rule.filter), session);
    let found = match (scope, filter) {
        (Some(None), _) | (_, None) => None,
        (scope, Some(filter)) => Some(Arc::new(CheckedRule {
            name,
            scope: scope.flatten(),
            filter,
            size: session.nodes - before,
            depth: session.deepest,
        })),
    };
    session.deepest = outer;
    session.rules.insert(at, found.clone());
    found
}

impl Checker<'_, '_, '_> {
    /// A rule used at a place.
    fn used(&mut self, at: usize, span: Span) -> Option<Arc<CheckedRule>> {
        let place: Excerpt = self.text.at(span);
        if let Some(first) = self.session.stack.iter().position(|(open, _)| *open == at) {
            let mut trail: Vec<String> = self.session.stack[first..]
                .iter()
                .map(|(open, _)| self.context().rules.all()[*open].name.clone())
                .collect();
            let name = self.context().rules.all()[at].name.clone();
            trail.push(name.clone());
            let message = format!("the rule {name} leads back to itself: {}", trail.join(" → "));
            return self.fail(ErrorKind::Cycle, span, message, None);
        }
        if self.session.stack.len() >= MAX_TRAIL {
            return self.too_deep(span);
        }
        let known = self.session.rules.contains_key(&at);
        self.session.stack.push((at, place));
        let rule = checked(self.session, at);
        self.session.stack.pop();
        let rule = rule?;
        let levels = self.scope.level + rule.depth.levels;
        let questions = self.scope.questions + rule.depth.questions;
        self.session.deepest.reach(levels, questions);
        if levels > MAX_LEVELS || questions > MAX_QUESTIONS {
            return self.too_deep(span);
        }
        // Checking it has counted it once; every further use counts again.
        (!known || self.room(span, rule.size)).then_some(rule)
    }

    /// The place in the list of a named filter. A hyphen in a rule's name is written as an
    /// underscore here, for a hyphen subtracts.
    pub(super) fn rule_named(&self, name: &str) -> Option<usize> {
        let same = |rule: &str| rule.replace('-', "_").eq_ignore_ascii_case(name);
        self.context().rules.all().iter().position(|r| same(&r.name))
    }

    pub(super) fn named_rule(&mut self, at: usize, word: &Word) -> Option<Pred> {
        Some(Pred::Rule(self.used(at, word.span)?))
    }

    pub(super) fn due(&mut self, word: &Word) -> Option<Pred> {
        let call = match Call::from_word(&word.text) {
            Ok(call) => call,
            Err(e) => {
                let advice = Advice::nearest(word.span, e.nearest.as_slice())
                    .or(|| format!("rules call for {}", e.known.join(", ")).into());
                let message = format!("{} is nothing that a rule calls for", word.text);
                return self.fail(ErrorKind::Word, word.span, message, advice);
            }
        };
        let rules = self.calling(|made| made == call, word.span)?;
        if rules.is_empty() {
            let message = format!("no rule in force calls for {call}");
            let hint = "without such a rule nothing could ever be due".to_owned();
            return self.fail(ErrorKind::Name, word.span, message, hint);
        }
        Some(Pred::Due(rules))
    }

    /// The rules in force whose call is one of some, used at a place; `None` when one has errors.
    pub(super) fn calling(
        &mut self,
        is_one: impl Fn(Call) -> bool,
        span: Span,
    ) -> Option<Vec<Arc<CheckedRule>>> {
        let rules = self.context().rules.all().iter().enumerate();
        let at: Vec<usize> = rules.filter(|(_, r)| is_one(r.call)).map(|(at, _)| at).collect();
        // Each is used before one that has errors ends it, so that all errors are told.
        let used: Vec<_> = at.into_iter().map(|at| self.used(at, span)).collect();
        used.into_iter().collect()
    }
}
