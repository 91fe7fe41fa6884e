//! What must be known before a part can be passed, and what else could be measured on it.

use crate::model::{Class, Component, Method, Provenance, ReadingKind, Scope, Vocabulary};

use super::limit::ForClass;
use super::table::{Table, TableError, TableProblem};
use super::words::Part;

/// Something to be known of a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Wanted {
    Reading(ReadingKind),
    /// A look by this method.
    Look(Method),
    /// An inspection for this.
    Scope(Scope),
}

/// What a part needs before it can be passed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Need {
    pub components: Vec<Component>,
    pub part: Part,
    /// The class from which on it is needed, better ones included; `None` for every class.
    pub from_class: Option<Class>,
    pub wanted: Wanted,
    /// Whether the part is not passed without it.
    pub critical: bool,
    pub why: String,
    /// Where this was read, or what it rests on.
    pub source: String,
    /// What stands behind it.
    pub provenance: Provenance,
}

/// What the parts of every component need.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Needs(Vec<Need>);

fn read(text: &str) -> Result<Vec<Need>, Vec<TableError>> {
    let columns =
        ["component", "part", "class", "kind", "word", "critical", "why", "source", "provenance"];
    let mut table = Table::read(text, &columns, &[]);
    let rows = table.each(|row, errors| {
        let not = |column: &str, wanted: &str| {
            row.error(
                column,
                TableProblem::Not { found: row.text(column).to_owned(), wanted: wanted.to_owned() },
            )
        };
        let from_class = match ForClass::parse(row.text("class")) {
            Ok(ForClass::Class(c)) => Some(c),
            Ok(ForClass::Any) => None,
            Ok(ForClass::New) => {
                errors.push(not("class", "is no class that a part can be passed in"));
                None
            }
            Err(e) => {
                errors.push(row.error("class", e));
                None
            }
        };
        let wanted = match row.text("kind") {
            "reading" => row.word("word", errors).map(Wanted::Reading),
            "look" => row.word("word", errors).map(Wanted::Look),
            "scope" => row.word("word", errors).map(Wanted::Scope),
            _ => {
                errors.push(not("kind", "is neither reading, look nor scope"));
                None
            }
        };
        let critical = match row.text("critical") {
            "yes" => true,
            "no" => false,
            _ => {
                errors.push(not("critical", "is neither yes nor no"));
                true
            }
        };
        Some(Need {
            components: row.words("component", errors),
            part: row.word("part", errors)?,
            from_class,
            wanted: wanted?,
            critical,
            why: row.need("why", "say why", errors)?,
            source: row.need("source", "say where this is from", errors)?,
            provenance: row.word("provenance", errors)?,
        })
    });
    if table.errors.is_empty() { Ok(rows) } else { Err(table.errors) }
}

impl Needs {
    /// Reads the table; every error with its line and column.
    pub fn parse(text: &str) -> Result<Self, Vec<TableError>> {
        read(text).map(Self)
    }

    /// What must be known, and could be, of the parts of this component. Where the table is silent of a
    /// component none of it can be passed.
    pub fn of(&self, component: Component) -> impl Iterator<Item = &Need> + Clone {
        self.0.iter().filter(move |n| n.components.contains(&component))
    }
}

impl Wanted {
    /// The word for it in files and filters.
    pub fn word(self) -> &'static str {
        match self {
            Self::Reading(r) => r.word(),
            Self::Look(m) => m.word(),
            Self::Scope(s) => s.word(),
        }
    }

    /// What it is, in print.
    pub fn text(self) -> String {
        let text = self.word().replace('_', " ");
        match text.strip_prefix("tj ") {
            Some(rest) => format!("tool joint {}", rest.to_uppercase()),
            None => text.replace(" od", " OD"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    use crate::condition::edition::FIRST;

    #[test]
    fn every_component_needs_something() {
        for c in Component::ALL {
            let mut all = FIRST.needs.of(*c);
            for part in [Part::Pin, Part::Box] {
                assert!(all.any(|n| n.part == part && n.critical), "{c} {part}");
            }
        }
    }

    #[test]
    fn drill_pipe_is_not_passed_without_wall_ends_and_a_look() {
        let critical: Vec<String> = FIRST
            .needs
            .of(Component::DrillPipe)
            .filter(|n| n.critical && n.from_class.is_none())
            .map(|n| format!("{} {}", n.part, n.wanted.text()))
            .collect();
        assert_eq!(
            critical,
            [
                "tube wall",
                "tube visual tube",
                "pin visual connection",
                "pin tool joint OD",
                "box visual connection",
                "box tool joint OD",
                "box shoulder"
            ]
        );
    }
}
