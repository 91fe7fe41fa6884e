//! How a file is to be read, as far as that is stated.

use std::collections::BTreeMap;

use super::kinds::Kind;
use super::log::CutRules;
use super::number::Decimal;
use super::table::{Columns, Delimiter};
use super::when::{DateOrder, Times};
use super::witsml::Part;
use crate::model::ToldLayout;

/// What becomes of hidden rows of a sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hidden {
    /// They are rows like the others.
    Take,
    /// They are no part of it.
    Leave,
}

impl Hidden {
    /// Reads `take` or `leave`.
    pub fn parse(text: &str) -> Option<Self> {
        match text.trim().to_ascii_lowercase().as_str() {
            "take" => Some(Self::Take),
            "leave" => Some(Self::Leave),
            _ => None,
        }
    }
}

/// How a file is to be read.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// What it is about; told by its header when absent.
    pub kind: Option<Kind>,
    /// Its columns, where its header does not say enough.
    pub columns: Option<Columns>,
    /// Its delimiter; detected when absent.
    pub delimiter: Option<Delimiter>,
    /// Its decimal sign; told from its numbers when absent.
    pub decimal: Option<Decimal>,
    /// Texts that mean "no value", besides the usual ones.
    pub nulls: Vec<String>,
    /// Dates, and clock times without an offset.
    pub times: Times,
    /// What becomes of hidden rows of a sheet; asked for where there are any.
    pub hidden: Option<Hidden>,
    /// Values that hold for every row: `well`, `date`, `inspector` … by the name of the field.
    pub given: BTreeMap<String, String>,
    /// How a log is cut.
    pub cut: CutRules,
    /// A clash with the book is a warning, not an error.
    pub keep_conflicts: bool,
    /// A run is one that is to be: the book may have one of its name, it ends when what is planned is
    /// done, and what else it states beside a run is for the plan.
    pub plan: bool,
    /// A column that nothing reads is an error: each was typed on purpose.
    pub every_column: bool,
    /// Which object of a document with several is meant, by an identifier or its name.
    pub object: Option<String>,
    /// Objects of other files that runs of a document may be made of.
    pub parts: Vec<Part>,
    /// The layout of the book by which it is read.
    pub by: Option<Box<ByLayout>>,
}

/// That a file is read by a layout.
#[derive(Clone, Debug)]
pub struct ByLayout {
    pub told: ToldLayout,
    /// What is stated, without it.
    pub stated: Options,
}

/// Names under which it is said how a file is read, as options of `load` have them.
pub const SAYS: [&str; 9] =
    ["as", "columns", "set", "delimiter", "decimal", "null", "date-order", "hidden", "cut"];

impl Options {
    /// Takes what is said under one of the names in [`SAYS`].
    ///
    /// # Errors
    /// A sentence when the name or the text means nothing.
    pub fn say(&mut self, name: &str, text: &str) -> Result<(), String> {
        let wrong = |what: &str, known: &str| format!("'{text}' is no {what}; known: {known}");
        match name {
            "as" => self.kind = Some(Kind::parse(text)?),
            "columns" => self.columns = Some(text.parse().map_err(|e| format!("{e}"))?),
            "set" => {
                let (name, value) = text
                    .split_once('=')
                    .ok_or_else(|| format!("'{text}' sets nothing; write --set NAME=VALUE"))?;
                self.given.insert(name.trim().to_owned(), value.trim().to_owned());
            }
            "delimiter" => {
                let known = "comma, semicolon, tab, blanks";
                self.delimiter =
                    Some(Delimiter::parse(text).ok_or_else(|| wrong("delimiter", known))?);
            }
            "decimal" => {
                let found = Decimal::parse(text);
                self.decimal = Some(found.ok_or_else(|| wrong("decimal sign", "point, comma"))?);
            }
            "null" => self.nulls.push(text.to_owned()),
            "date-order" => {
                let known = "day-first, month-first";
                self.times.order =
                    Some(DateOrder::parse(text).ok_or_else(|| wrong("order", known))?);
            }
            "hidden" => {
                let found = Hidden::parse(text);
                self.hidden =
                    Some(found.ok_or_else(|| wrong("way with hidden rows", "take, leave"))?);
            }
            "cut" => self.cut = text.parse().map_err(|e| format!("{e}"))?,
            _ => {
                return Err(format!("'{name}' says nothing of a file; known: {}", SAYS.join(", ")));
            }
        }
        Ok(())
    }

    /// What is stated, whatever a layout says: it is for the file of its header alone.
    pub(super) fn unaided(&self) -> &Self {
        self.by.as_ref().map_or(self, |by| &by.stated)
    }

    /// The layout by which a file is read.
    pub(super) fn told(&self) -> Option<&ToldLayout> {
        self.by.as_ref().map(|by| &by.told)
    }

    /// The options that a file's companions share.
    pub(super) fn plain(&self) -> Self {
        Self {
            kind: None,
            columns: None,
            delimiter: None,
            given: BTreeMap::new(),
            object: None,
            by: None,
            ..self.unaided().clone()
        }
    }
}
