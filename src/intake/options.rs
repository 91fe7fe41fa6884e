//! How a file is to be read, as far as that is stated.

use std::collections::BTreeMap;

use super::kinds::Kind;
use super::log::CutRules;
use super::number::Decimal;
use super::table::{Columns, Delimiter};
use super::when::Times;

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
    /// Values that hold for every row: `well`, `date`, `inspector` … by the name of the field.
    pub given: BTreeMap<String, String>,
    /// How a log is cut.
    pub cut: CutRules,
    /// A clash with the book is a warning, not an error.
    pub keep_conflicts: bool,
    /// A column that nothing reads is an error: each was typed on purpose.
    pub every_column: bool,
}

impl Options {
    /// The options that a file's companions share.
    pub(super) fn plain(&self) -> Self {
        Self { kind: None, columns: None, delimiter: None, given: BTreeMap::new(), ..self.clone() }
    }
}
