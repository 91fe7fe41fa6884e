//! What must be known before a part can be passed, and what else could be measured on it.

use std::sync::LazyLock;

use crate::model::{Class, Component, Method, Provenance, ReadingKind, Scope, Vocabulary};

use super::limit::ForClass;
use super::table::{Table, TableError, TableProblem};
use super::words::Part;

/// Something to be known of a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Wanted {
    /// A value.
    Reading(ReadingKind),
    /// A look by this method.
    Look(Method),
    /// An inspection for this.
    Scope(Scope),
}

/// What a part needs before it can be passed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Need {
    /// Components.
    pub components: Vec<Component>,
    /// The part.
    pub part: Part,
    /// The class from which on it is needed, better ones included; `None` for every class.
    pub from_class: Option<Class>,
    /// What.
    pub wanted: Wanted,
    /// Whether the part is not passed without it.
    pub critical: bool,
    /// Why.
    pub why: String,
    /// Where this was read, or what it rests on.
    pub source: String,
    /// What stands behind it.
    pub provenance: Provenance,
}

static SHIPPED: LazyLock<Option<Vec<Need>>> =
    LazyLock::new(|| read(include_str!("data/needs.csv")).ok());

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

/// What must be known, and could be, of the parts of this component.
///
/// `None` when the table could not be read: then nothing can be passed.
pub fn needs(component: Component) -> Option<Vec<&'static Need>> {
    SHIPPED.as_ref().map(|all| all.iter().filter(|n| n.components.contains(&component)).collect())
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

    #[test]
    fn the_table_reads_and_every_component_needs_something() {
        if let Err(errors) = read(include_str!("data/needs.csv")) {
            panic!("{}", crate::condition::table::lines(&errors));
        }
        for c in Component::ALL {
            let all = needs(*c).unwrap();
            for part in [Part::Pin, Part::Box] {
                assert!(all.iter().any(|n| n.part == part && n.critical), "{c} {part}");
            }
        }
    }

    #[test]
    fn drill_pipe_is_not_passed_without_wall_ends_and_a_look() {
        let critical: Vec<String> = needs(Component::DrillPipe)
            .unwrap()
            .iter()
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
