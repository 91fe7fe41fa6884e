//! The engines, how each spells names, texts and what SQLite's functions say, and why one is refused.

use std::path::Path;

use crate::schema::Table;

use super::super::super::error::{ErrorKind, Excerpt, FilterError};

/// The column that tells whose book a row is of.
pub(super) const SITE: &str = "site";

/// An engine that reads a publication.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dialect {
    DuckDb,
    Spark,
}

/// Why a filter has no statement for an engine.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    #[error(
        "parts of runs before a date are worked out by the program when it is asked, and are in no publication"
    )]
    Parts,
    #[error(
        "kin of other joints is asked of the book, whose joints are not those of a publication"
    )]
    Kin,
    #[error(
        "what other joints say was asked of the book, whose joints are not those of a publication"
    )]
    Others,
    #[error("a number without bound has no place in a statement")]
    Infinite,
    #[error("a text with a sign that ends it has no place in a statement")]
    Sign,
    #[error("no words of that engine are known for it")]
    Unread,
}

impl Refusal {
    /// The error that says so of a place in a filter.
    pub fn at(self, place: Excerpt, dialect: Dialect) -> FilterError {
        FilterError {
            kind: ErrorKind::Elsewhere,
            message: format!("this has no statement for {}: {self}", dialect.word()),
            hint: Some("ask the book itself, without --sql".to_owned()),
            fixes: Vec::new(),
            place,
            used: Vec::new(),
        }
    }
}

/// Where the tables of a publication are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Source {
    /// The folder of a state.
    Folder(String),
    /// Tables or views whose names begin so.
    Prefix(String),
}

impl Source {
    /// A folder where there is a slash in it or one stands there, else the beginning of names.
    pub fn told(text: &str) -> Self {
        let named = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '.';
        if !text.chars().all(named) || Path::new(text).is_dir() {
            Self::Folder(text.trim_end_matches('/').to_owned())
        } else {
            Self::Prefix(text.to_owned())
        }
    }
}

impl Dialect {
    /// Its word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::DuckDb => "duckdb",
            Self::Spark => "spark",
        }
    }

    /// A name of a table or column.
    pub(super) fn name(self, name: &str) -> String {
        match self {
            Self::DuckDb => format!("\"{name}\""),
            Self::Spark => format!("`{name}`"),
        }
    }

    /// A text as it is written in a statement.
    pub(super) fn quoted(self, text: &str) -> Result<String, Refusal> {
        if text.contains('\0') {
            return Err(Refusal::Sign);
        }
        Ok(match self {
            Self::DuckDb => format!("'{}'", text.replace('\'', "''")),
            Self::Spark => {
                let mut out = String::from("'");
                for c in text.chars() {
                    match c {
                        '\\' => out.push_str("\\\\"),
                        '\'' => out.push_str("\\'"),
                        // With a brace behind it names a setting, whose value would be put there.
                        '$' => out.push_str("\\u0024"),
                        c if c.is_control() => out.push_str(&format!("\\u{:04x}", u32::from(c))),
                        c => out.push(c),
                    }
                }
                out.push('\'');
                out
            }
        })
    }

    /// A text that no name is: it stands for "there is none".
    pub(super) const fn none(self) -> &'static str {
        match self {
            Self::DuckDb => "chr(1)",
            Self::Spark => "'\\u0001'",
        }
    }

    /// A text with the capitals of ASCII as small letters.
    pub(super) fn small_ascii(self, text: &str) -> String {
        format!("translate({text}, 'ABCDEFGHIJKLMNOPQRSTUVWXYZ', 'abcdefghijklmnopqrstuvwxyz')")
    }

    /// A stored text as names compare ([`crate::model::name_key`]): small letters, sign by sign. It has
    /// single blanks already.
    pub(super) fn name_key(self, text: &str) -> String {
        match self {
            // One letter of which the small one is two signs.
            Self::DuckDb => format!("lower(replace({text}, 'İ', 'i̇'))"),
            // One that is written otherwise at the end of a word.
            Self::Spark => format!("lower(replace({text}, 'Σ', 'σ'))"),
        }
    }

    /// The largest or smallest of a list, NULL where one of them is.
    pub(super) fn first_sorted(self, largest: bool, values: &[&str]) -> String {
        let list = values.join(", ");
        match (self, largest) {
            (Self::DuckDb, true) => format!("list_sort([{list}], 'DESC', 'NULLS FIRST')[1]"),
            (Self::DuckDb, false) => format!("list_sort([{list}], 'ASC', 'NULLS FIRST')[1]"),
            (Self::Spark, largest) => {
                let function = if largest { "array_max" } else { "array_min" };
                format!(
                    "transform(array(array({list})), v -> IF(exists(v, e -> e IS NULL), NULL, \
                     {function}(v)))[0]"
                )
            }
        }
    }
}

/// What a statement calls a table of the publication.
pub(super) fn of_publication(table: Table) -> String {
    format!("p_{}", table.name())
}
