//! What a kind of file holds: its columns, the titles that each goes by, units, and words to choose from.

use super::kinds::{Kind, READING};
use super::table::{Field, Fields, Holds};

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
    let fields = kind.fields();
    // A reading of either end has a column for each.
    let has_ends = |key: &str| {
        let of_end =
            |end: &str| key.strip_prefix(READING).map(|what| format!("{READING}{end}:{what}"));
        ["pin", "box"]
            .iter()
            .filter_map(|end| of_end(end))
            .any(|key| fields.iter().any(|f| f.key == key))
    };
    fields
        .iter()
        .filter(|f| !f.kept_out && !has_ends(&f.key))
        .map(|f| Explained {
            key: name(fields, f),
            title: title(kind, f, &name(fields, f)),
            also: f.aliases.iter().filter(|a| **a != name(fields, f)).cloned().collect(),
            holds: holds(f),
            needed: needs(&f.key) || f.key.starts_with(READING) && needs(READING),
            words: words(kind, f),
            example: example(kind, f),
        })
        .collect()
}

/// The name of a column: of a reading its end, and what is read.
fn name(fields: &Fields, field: &Field) -> String {
    let reading = field.key.strip_prefix(READING).map(|what| what.replace(':', "_"));
    let leads_to_it =
        |name: &String| fields.named(name).is_some_and(|at| fields[at].key == field.key);
    reading.filter(leads_to_it).unwrap_or_else(|| field.typed().to_owned())
}

/// The first of the units that are usual.
fn unit(field: &Field) -> Option<String> {
    let examples = field.holds.examples();
    let first = examples.split(" or ").next().unwrap_or_default();
    (!first.is_empty()).then(|| first.to_owned())
}

/// Units of the channels of a log, each of which may be of several kinds.
const OF_LOGS: [(&str, &str); 4] =
    [("rop", "m/h"), ("wob", "kN"), ("torque", "kN.m"), ("hookload", "kN")];

fn title(kind: Kind, field: &Field, name: &str) -> String {
    let words = name.replace('_', " ");
    let of_log = OF_LOGS.iter().find(|(key, _)| kind == Kind::Log && *key == field.key);
    let unit = of_log.map(|(_, unit)| (*unit).to_owned()).or_else(|| unit(field));
    match unit.filter(|_| field.holds.needs_unit()) {
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
        Holds::Any if kind != Kind::Log => "1 %".to_owned(),
        Holds::Count | Holds::Any | Holds::Of(_) | Holds::Either(..) => "1".to_owned(),
    }
}

/// Words to choose from: those of a vocabulary, where the field holds a text.
fn words(kind: Kind, field: &Field) -> Vec<&'static str> {
    super::kinds::words(kind, field).map_or_else(Vec::new, |words| (words.all)())
}
