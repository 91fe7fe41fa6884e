//! What was meant by a word or value that stands alone: the field that holds the word, the joint of
//! a serial, records that are counted.

use super::super::ast::{Expr, ExprKind, Source};
use super::super::error::{Advice, Span};
use super::super::registry::{self, Field, Kind, Record, Words};
use super::Checker;

/// What the trade says for fields, records and their words, where the language has another word.
const ALSO_SAID: &[(&str, &str)] = &[
    ("dls", "max_dogleg"),
    ("dogleg", "max_dogleg"),
    ("doglegs", "max_dogleg"),
    ("rwt", "wall"),
    ("remaining_wall", "wall"),
    ("wt", "wall"),
    ("thickness", "wall_thickness"),
    ("rot_hours", "hours"),
    ("rotating_hours", "hours"),
    ("hrs", "hours"),
    ("krevs", "revolutions"),
    ("rotations", "revolutions"),
    ("sn", "serial"),
    ("serial_no", "serial"),
    ("serial_number", "serial"),
    ("id", "serial"),
    ("yard", "location"),
    ("place", "location"),
    ("ppf", "weight"),
    ("manufacturer", "maker"),
    ("state", "status"),
];

/// What is said of entries, which the ledger holds, and not of what they tell.
const OF_ENTRIES: [&str; 10] = [
    "author",
    "written_by",
    "entered_by",
    "recorded_by",
    "written",
    "recorded",
    "struck",
    "struck_by",
    "entry",
    "hash",
];

/// Where to ask what a name says of entries.
pub(super) fn of_entries(name: &str, record: Option<Record>) -> Option<String> {
    let known = OF_ENTRIES.iter().any(|of| of.eq_ignore_ascii_case(name));
    let kind = record.map_or("joint", Record::word);
    known.then(|| {
        format!(
            "who wrote an entry, when, and whether it was struck: pipelore entries --kind {kind}"
        )
    })
}

impl Checker<'_, '_, '_> {
    /// The field of a name in this scope, without a word when there is none.
    pub(super) fn field_called(&self, name: &str) -> Option<&'static Field> {
        let record = self.scope.record.and_then(|r| registry::field(Some(r), name));
        record.or_else(|| registry::field(None, name))
    }

    /// What the trade's own word is called here.
    pub(super) fn also_said(&self, name: &str) -> Option<&'static str> {
        let name = name.to_lowercase();
        let (_, field) = ALSO_SAID.iter().find(|(said, _)| *said == name)?;
        self.field_called(field).map(|_| *field)
    }

    /// The comparison that was meant by a value alone.
    pub(super) fn condition_from(&self, e: &Expr) -> Advice {
        match &e.kind {
            ExprKind::Text(text) if !(self.context().joints)(text).is_empty() => {
                Advice::write(e.span, [format!("serial = \"{text}\"")])
            }
            ExprKind::Count(_) => {
                let end = Span { start: e.span.end, end: e.span.end };
                let said = self.label(e.span);
                Advice::write(end, [" > 0"]).saying(format!("write for example {said} > 0"))
            }
            _ => Advice::default(),
        }
    }

    /// The comparison of a word that is no field with the field whose word it is.
    pub(super) fn word_of_a_field(&self, source: &Source) -> Advice {
        let Source { of_joint: false, name, place: None, above: None, up_to: None } = source else {
            return Advice::default();
        };
        if self.scope.comparison.is_some() {
            return Advice::default();
        }
        let holds = |f: &&Field| match f.kind {
            Kind::Word(words @ Words::Closed(_)) => words.list().contains(&name.text.as_str()),
            _ => false,
        };
        let own = self.scope.record.into_iter().flat_map(|r| registry::fields_of(Some(r)));
        if let Some(field) = own.chain(registry::fields_of(None)).find(holds) {
            return Advice::write(name.span, [format!("{} = {}", field.name, name.text)]);
        }
        Advice::default()
    }

    /// The question to records of a kind that a word of theirs stands for: `any jarring`.
    pub(super) fn records_of_a_word(&self, word: &str) -> Option<String> {
        let word = word.to_lowercase();
        let word = word.as_str();
        let held = |record: Record| {
            let holds = |f: &&Field| match f.kind {
                Kind::Word(words) => words.list().contains(&word),
                _ => false,
            };
            ["what", "work", "ruling"]
                .iter()
                .filter_map(|name| registry::field(Some(record), name))
                .find(holds)
                .map(|f| format!("{record} ({} = {word})", f.name))
        };
        Record::ALL.into_iter().find_map(held)
    }

    /// A question to the records that have a field which the joint has not.
    pub(super) fn asked_of_records(&self, record: Record) -> Advice {
        match self.scope.comparison {
            Some(span) if self.scope.record.is_none() => {
                let said = self.label(span);
                Advice::write(span, [format!("any {record} ({said})")])
            }
            _ => Advice::default(),
        }
    }
}
