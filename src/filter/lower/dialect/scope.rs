//! What names mean in a statement: row sources with the types of their columns.

use crate::schema::{Column, Table};

/// What kind of values an expression has. SQLite knows no truth values of its own and takes whole
/// numbers for them; other engines tell them apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Type {
    Truth,
    Whole,
    Real,
    Text,
    /// Turns and hours by dogleg: a list of bands.
    Bands,
    /// NULL alone.
    Nothing,
}

impl Type {
    /// The type of values that may be of either.
    pub(super) fn or(self, other: Self) -> Self {
        match (self, other) {
            (Self::Nothing, one) | (one, Self::Nothing) => one,
            (Self::Truth, Self::Truth) => Self::Truth,
            (Self::Real, _) | (_, Self::Real) => Self::Real,
            (Self::Truth | Self::Whole, Self::Truth | Self::Whole) => Self::Whole,
            (one, _) => one,
        }
    }
}

/// A column of a row source.
#[derive(Clone, Copy, Debug)]
pub(super) struct Told {
    pub(super) kind: Type,
    /// It is never NULL.
    pub(super) always: bool,
}

/// Columns of a query with their names.
pub(super) type Columns = Vec<(Option<String>, Told)>;

/// The columns of a row source.
#[derive(Clone, Debug)]
pub(super) enum Shape {
    Table(Table),
    Columns(Vec<(String, Told)>),
}

/// A row source in scope.
#[derive(Clone, Debug)]
pub(super) struct Known {
    pub(super) alias: String,
    pub(super) shape: Shape,
    /// What its columns are written behind.
    pub(super) path: String,
    /// Its columns may all be NULL.
    pub(super) left: bool,
}

impl Known {
    pub(super) fn column(&self, name: &str) -> Option<Told> {
        let told = match &self.shape {
            Shape::Table(table) => {
                if name == super::engine::SITE {
                    return Some(Told { kind: Type::Text, always: !self.left });
                }
                table.spec().columns.iter().find_map(|c| stored(c, name))
            }
            Shape::Columns(columns) => {
                columns.iter().find_map(|(own, told)| (own == name).then_some(*told))
            }
        }?;
        Some(Told { always: told.always && !self.left, ..told })
    }

    pub(super) const fn table(&self) -> Option<Table> {
        match self.shape {
            Shape::Table(table) => Some(table),
            Shape::Columns(_) => None,
        }
    }
}

fn stored(column: &Column, name: &str) -> Option<Told> {
    let kind = match column.sql {
        "TEXT" => Type::Text,
        "BLOB" => Type::Bands,
        _ => Type::Whole,
    };
    column.stored().find_map(|(own, always)| (own == name).then_some(Told { kind, always }))
}

/// Row sources of a query and of those around it, the innermost last.
#[derive(Clone, Debug, Default)]
pub(super) struct Scope {
    levels: Vec<Vec<Known>>,
}

impl Scope {
    /// The same with a query inside.
    pub(super) fn inside(&self) -> Self {
        let mut levels = self.levels.clone();
        levels.push(Vec::new());
        Self { levels }
    }

    /// Whether nothing stands around a query.
    pub(super) const fn is_empty(&self) -> bool {
        self.levels.is_empty()
    }

    pub(super) fn put(&mut self, known: Known) {
        if let Some(level) = self.levels.last_mut() {
            level.push(known);
        }
    }

    /// The row source of an alias.
    pub(super) fn source(&self, alias: &str) -> Option<&Known> {
        self.levels.iter().rev().flatten().find(|known| known.alias == alias)
    }

    /// The row source that a column without an alias is of.
    pub(super) fn holder(&self, column: &str) -> Option<&Known> {
        self.levels.iter().rev().flatten().find(|known| known.column(column).is_some())
    }
}
