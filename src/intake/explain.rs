//! What a kind of file holds: its columns, the titles that each goes by, units, and words to choose from.

use super::kinds::Kind;
use super::table::{Field, Holds};

/// A column that a kind of file may have.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Explained {
    /// Its name in `--columns`.
    pub key: String,
    /// A title that says all: its name, with a unit where it has one.
    pub title: String,
    /// Other titles that it goes by.
    pub also: Vec<String>,
    /// What its cells hold, in words.
    pub holds: String,
    /// A file without it, or without another of its kind, is not of this kind.
    pub needed: bool,
    /// Words to choose from.
    pub words: Vec<&'static str>,
    /// What a cell may look like.
    pub example: String,
}

/// The columns of a kind of file.
pub fn explain(kind: Kind) -> Vec<Explained> {
    let needs = |key: &str| kind.needs().iter().any(|group| group.contains(&key));
    kind.fields()
        .iter()
        .filter(|f| !f.kept_out && !f.key.contains(':'))
        .map(|f| Explained {
            key: f.key.clone(),
            title: title(f),
            also: f.aliases.clone(),
            holds: holds(f),
            needed: needs(&f.key),
            words: words(kind, f),
            example: example(kind, f),
        })
        .collect()
}

/// The first of the units that are usual.
fn unit(field: &Field) -> Option<String> {
    let examples = field.holds.examples();
    let first = examples.split(" or ").next().unwrap_or_default();
    (!first.is_empty()).then(|| first.to_owned())
}

fn title(field: &Field) -> String {
    let words = field.key.replace('_', " ");
    match unit(field).filter(|_| field.holds.needs_unit()) {
        Some(unit) => format!("{words} [{unit}]"),
        None => words,
    }
}

fn holds(field: &Field) -> String {
    match field.holds {
        Holds::Text => "text".to_owned(),
        Holds::Serial => "a serial number".to_owned(),
        Holds::When => "a date, 2026-03-04, or a time, 2026-03-04T06:30:00+02:00".to_owned(),
        Holds::Count => "a whole number".to_owned(),
        Holds::Flag => "yes or no".to_owned(),
        Holds::Any => "a number with its unit".to_owned(),
        Holds::Of(_) | Holds::Either(..) => match field.holds.examples() {
            units if units.is_empty() => "a number".to_owned(),
            units => format!("a number in {units}"),
        },
    }
}

fn example(kind: Kind, field: &Field) -> String {
    if let Some(word) = words(kind, field).first() {
        return (*word).to_owned();
    }
    match field.holds {
        Holds::Text => String::new(),
        Holds::Serial => "A-0001".to_owned(),
        Holds::When => "2026-03-04".to_owned(),
        Holds::Flag => "no".to_owned(),
        Holds::Count | Holds::Any | Holds::Of(_) | Holds::Either(..) => "1".to_owned(),
    }
}

/// Words to choose from: those of a vocabulary, where the field holds a text.
fn words(kind: Kind, field: &Field) -> Vec<&'static str> {
    super::kinds::words(kind, field).map_or_else(Vec::new, |words| (words.all)())
}
