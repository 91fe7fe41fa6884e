//! How files of a source are read, as a person said it.

use serde::{Deserialize, Serialize};

use crate::model::id::EntryId;

/// How files under a header are read, where their header does not say all of it: from then on files
/// under the same header are read so, until another layout of the header is told or this one is
/// withdrawn. A header that differs in a title, their order or the row of units is another one.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LayoutBody {
    /// Kind of file, by its word in files.
    pub file_kind: String,
    /// The columns of the header, in order.
    pub columns: Vec<LayoutColumn>,
    /// Cells of the row of units below the titles, where there is one.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub units: Vec<String>,
    /// Sign between columns, where it was said.
    pub delimiter: Option<String>,
    /// Decimal sign, where it was said.
    pub decimal: Option<String>,
    /// Texts that mean no value, besides the usual ones.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub nulls: Vec<String>,
    /// Order of day and month, where it was said.
    pub date_order: Option<String>,
    /// File of which it was said, without its folder.
    pub file: Option<String>,
    /// Files under the header are read so no longer.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub withdrawn: bool,
    pub reason: Option<String>,
}

/// A column of a header, as it is read.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LayoutColumn {
    /// Its title, runs of blanks as one.
    pub title: String,
    /// Field that it holds; a column without one is not used.
    pub field: Option<String>,
    /// Unit of its numbers, where they have one.
    pub unit: Option<String>,
    /// A person said so; else the title does.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub said: bool,
}

impl LayoutBody {
    /// Whether it is of the same header as another.
    pub fn is_of_the_head_of(&self, other: &Self) -> bool {
        let titles = |body: &Self| body.columns.iter().map(|c| c.title.clone()).collect::<Vec<_>>();
        titles(self) == titles(other) && self.units == other.units
    }

    /// Whether files are read by it as by another.
    pub fn reads_as(&self, other: &Self) -> bool {
        let plain = |body: &Self| {
            let mut body = Self { file: None, reason: None, ..body.clone() };
            body.columns.iter_mut().for_each(|c| c.said = false);
            body
        };
        plain(self) == plain(other)
    }
}

/// A layout in force, and who told it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ToldLayout {
    pub body: LayoutBody,
    /// The entry.
    pub told_by: EntryId,
    /// Author of the entry.
    pub author: String,
}
