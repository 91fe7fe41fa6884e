//! What a name means where it stands: a field of the record in scope, of the joint, or a rule.

use super::super::ast::{Source, Word};
use super::super::error::{Advice, ErrorKind, either};
use super::super::registry::{self, Field, Record};
use super::meant::of_entries;
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

    /// The field at the place on the joint that a source names; the field itself where it names none.
    pub(super) fn at_place(
        &mut self,
        field: &'static Field,
        source: &Source,
    ) -> Option<&'static Field> {
        let Some(at) = &source.place else { return Some(field) };
        let found = registry::at_place(field, at.place);
        if found.is_none() {
            let message =
                format!("{} stands for the whole joint, not for a place on it", field.name);
            let placed: Vec<&str> = registry::fields_of(field.record)
                .filter(|f| registry::at_place(f, at.place).is_some())
                .map(|f| f.name)
                .collect();
            let hint = (!placed.is_empty()).then(|| {
                let what = either(&placed);
                format!("{what} can be asked at pin end, at middle or at box end")
            });
            return self.fail(ErrorKind::Type, at.span, message, hint);
        }
        found
    }

    fn unknown_name<T>(&mut self, source: &Source) -> Option<T> {
        let Word { text: name, span } = &source.name;
        let Scope { record, anchor, behind, .. } = self.scope;
        if source.of_joint {
            let message = format!("a joint has no field {name}");
            let near = registry::nearest(name, registry::fields_of(None).map(|f| f.name));
            return self.fail(ErrorKind::Name, *span, message, Advice::nearest(*span, &near));
        }
        if let (true, Some(own)) = (anchor, record) {
            let (kind, advice) = match behind {
                Some(outer) if registry::field(Some(outer), name).is_some() => (
                    ErrorKind::Scope,
                    Advice::from(format!(
                        "a condition of the {outer} goes before the window: {outer} ({name} …) since last {own}"
                    )),
                ),
                _ if registry::field(None, name).is_some() => (
                    ErrorKind::Scope,
                    Advice::write(*span, [format!("joint.{name}")]).saying(format!(
                        "a condition of the joint goes outside: {name} … and …; joint.{name} works here too"
                    )),
                ),
                _ => {
                    let near =
                        registry::nearest(name, registry::fields_of(Some(own)).map(|f| f.name));
                    (ErrorKind::Name, Advice::nearest(*span, &near))
                }
            };
            let message = format!("{name} is no field of the {own} that the window begins at");
            return self.fail(kind, *span, message, advice);
        }
        // What the trade says for it.
        if let Some(field) = self.also_said(name) {
            let message = format!("nothing is called {name}");
            let advice = Advice::nearest(*span, &[field]);
            return self.fail(ErrorKind::Name, *span, message, advice);
        }
        if let Some(hint) = of_entries(name, record) {
            let message = format!("{name} is said of entries; a filter asks what they tell");
            return self.fail(ErrorKind::Name, *span, message, hint);
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
            let advice = self.asked_of_records(*first).saying(hint);
            return self.fail(ErrorKind::Scope, *span, message, advice);
        }
        if Record::parse(name).is_some() {
            let message = format!("{name} is a kind of record, not a value");
            let advice = if self.scope.comparison.is_some() {
                Advice::write(*span, [format!("count {name}")])
            } else {
                Advice::write(*span, [format!("any {name}")])
            };
            let advice = advice.saying(format!("write any {name} (…), count {name} or the like"));
            return self.fail(ErrorKind::Name, *span, message, advice);
        }
        let word = self.word_of_a_field(source);
        let own: Vec<&str> = record
            .into_iter()
            .flat_map(|r| registry::fields_of(Some(r)))
            .chain(registry::fields_of(None))
            .flat_map(|f| std::iter::once(f.name).chain(f.aliases.iter().copied()))
            .chain(self.context().rules.all().iter().map(|r| r.name.as_str()))
            .collect();
        let mut near = registry::nearest(name, own.into_iter());
        if near.is_empty() {
            near = registry::nearest(name, registry::fields().iter().map(|f| f.name));
        }
        if near.is_empty() {
            // A part of a name: age of wall_age.
            let part = name.to_ascii_lowercase();
            let whole = record.into_iter().flat_map(|r| registry::fields_of(Some(r)));
            near = whole
                .chain(registry::fields_of(None))
                .map(|f| f.name)
                .filter(|f| f.split('_').any(|p| p == part))
                .take(3)
                .collect();
        }
        let message = format!("nothing is called {name}");
        let advice = word.or(|| match self.records_of_a_word(name) {
            Some(records) if self.scope.comparison.is_none() && record.is_none() => {
                Advice::write(*span, [format!("any {records}")])
            }
            _ => Advice::nearest(*span, &near),
        });
        self.fail(ErrorKind::Name, *span, message, advice)
    }

    /// The record kind of a word.
    pub(super) fn record(&mut self, word: &Word) -> Option<Record> {
        let found = Record::parse(&word.text);
        if found.is_none() {
            let message = format!("{} is no kind of record", word.text);
            let kinds = Record::ALL.map(Record::word);
            let near = registry::nearest(&word.text, kinds.into_iter());
            let advice = match self.records_of_a_word(&word.text) {
                Some(records) => Advice::write(word.span, [records]),
                None => Advice::nearest(word.span, &near),
            };
            let advice = advice
                .or(|| format!("records are {}", either(&kinds).replace(" or ", " and ")).into());
            self.fail::<()>(ErrorKind::Name, word.span, message, advice);
        }
        found
    }
}
