//! What a name means where it stands: a field of the record in scope, of the joint, or a rule.

use super::super::ast::{Source, Word};
use super::super::error::{ErrorKind, either};
use super::super::registry::{self, Field, Record};
use super::{Checker, Scope};

/// What a name means.
pub(super) enum Named {
    Field(&'static Field),
    Rule(usize),
}

impl Checker<'_, '_, '_> {
    /// What a name means here; an unknown one is reported.
    pub(super) fn resolve(&mut self, source: &Source) -> Option<Named> {
        match self.look_up(source) {
            Some(named) => Some(named),
            None => self.unknown_name(source),
        }
    }

    /// What a name means here, without a word when it means nothing.
    pub(super) fn look_up(&self, source: &Source) -> Option<Named> {
        let name = &source.name.text;
        if source.of_joint {
            return registry::field(None, name).map(Named::Field);
        }
        if let Some(record) = self.scope.record {
            if let Some(field) = registry::field(Some(record), name) {
                return Some(Named::Field(field));
            }
            if self.scope.anchor {
                return None;
            }
        }
        registry::field(None, name)
            .map(Named::Field)
            .or_else(|| self.rule_named(name).map(Named::Rule))
    }

    fn unknown_name<T>(&mut self, source: &Source) -> Option<T> {
        let Word { text: name, span } = &source.name;
        let Scope { record, anchor, behind, .. } = self.scope;
        if source.of_joint {
            let message = format!("a joint has no field {name}");
            let near = registry::nearest(name, registry::fields_of(None).map(|f| f.name));
            return self.fail(ErrorKind::Name, *span, message, did_you_mean(&near));
        }
        if let (true, Some(own)) = (anchor, record) {
            let (kind, hint) = match behind {
                Some(outer) if registry::field(Some(outer), name).is_some() => (
                    ErrorKind::Scope,
                    Some(format!(
                        "a condition of the {outer} goes before the window: {outer} ({name} …) since last {own}"
                    )),
                ),
                _ if registry::field(None, name).is_some() => (
                    ErrorKind::Scope,
                    Some(format!(
                        "a condition of the joint goes outside: {name} … and …; joint.{name} works here too"
                    )),
                ),
                _ => {
                    let near =
                        registry::nearest(name, registry::fields_of(Some(own)).map(|f| f.name));
                    (ErrorKind::Name, did_you_mean(&near))
                }
            };
            let message = format!("{name} is no field of the {own} that the window begins at");
            return self.fail(kind, *span, message, hint);
        }
        // Elsewhere in the language?
        let elsewhere = registry::records_with(name);
        if let Some(first) = elsewhere.first() {
            let message = match record {
                Some(own) => format!("{name} is no field of {own}s"),
                None => format!("{name} is no field of the joint"),
            };
            let many: Vec<String> = elsewhere.iter().map(|r| format!("{r}s")).collect();
            let hint = format!(
                "{name} is a field of {}: write any {first} ({name} …) or {name} of latest {first}",
                either(&many)
            );
            return self.fail(ErrorKind::Scope, *span, message, hint);
        }
        if Record::parse(name).is_some() {
            let message = format!("{name} is a kind of record, not a value");
            let hint = format!("write any {name} (…), count {name} or the like");
            return self.fail(ErrorKind::Name, *span, message, hint);
        }
        let own: Vec<&str> = record
            .into_iter()
            .flat_map(|r| registry::fields_of(Some(r)))
            .chain(registry::fields_of(None))
            .flat_map(|f| std::iter::once(f.name).chain(f.aliases.iter().copied()))
            .chain(self.context().rules.iter().map(|r| r.name.as_str()))
            .collect();
        let mut near = registry::nearest(name, own.into_iter());
        if near.is_empty() {
            near = registry::nearest(name, registry::fields().iter().map(|f| f.name));
        }
        let message = format!("nothing is called {name}");
        self.fail(ErrorKind::Name, *span, message, did_you_mean(&near))
    }

    /// The record kind of a word.
    pub(super) fn record(&mut self, word: &Word) -> Option<Record> {
        let found = Record::parse(&word.text);
        if found.is_none() {
            let message = format!("{} is no kind of record", word.text);
            let kinds = Record::ALL.map(Record::word);
            let near = registry::nearest(&word.text, kinds.into_iter());
            let hint = did_you_mean(&near).unwrap_or_else(|| {
                format!("records are {}", either(&kinds).replace(" or ", " and "))
            });
            self.fail::<()>(ErrorKind::Name, word.span, message, hint);
        }
        found
    }
}

pub(super) fn did_you_mean(near: &[&str]) -> Option<String> {
    (!near.is_empty()).then(|| format!("did you mean {}?", either(near)))
}
