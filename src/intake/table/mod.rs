//! Tables: rows of cells under a header that names fields and units. A reader of another format
//! (a workbook, a LAS file, a WITSML document) makes rows of cells and joins here.

mod blocks;
mod carried;
mod columns;
mod field;
mod heads;
mod layout;
mod row;
mod split;

use blocks::unfolded;
pub(crate) use carried::{Carried, carry, words as carried_words};
pub use columns::{Columns, ColumnsError, StatedColumn};
pub(crate) use field::{Field, Fields, Holds, find};
pub(crate) use heads::with_one_head;
pub(crate) use layout::{
    Column, Constant, LOOK, Layout, Where, constant, header_row, read as read_layout, titles,
};
pub(crate) use row::Row;
pub use split::Delimiter;
pub(crate) use split::{RawRow, detect, rows};

use std::collections::BTreeMap;

use super::ask::Question;
use super::diagnostic::{Diagnostic, Diagnostics};
use super::number::{Decimal, DecimalVerdict, DecimalVote};
use super::when::Times;
use crate::model::{Clock, fold};

/// How the values of a table are written.
#[derive(Clone, Debug, Default)]
pub(crate) struct Reading {
    /// Decimal sign, where the user stated one.
    pub decimal: Option<Decimal>,
    /// Texts that mean "no value", besides the usual ones.
    pub nulls: Vec<String>,
    pub times: Times,
}

/// A table ready to be read row by row.
#[derive(Clone, Debug)]
pub(crate) struct Table {
    pub file: String,
    /// Sheet of a workbook.
    pub sheet: Option<String>,
    /// Fields of its kind.
    pub fields: &'static Fields,
    /// What its head says.
    pub layout: Layout,
    pub rows: Vec<RawRow>,
    /// Rows below and between the data, and rows that repeat the header: skipped, and said.
    pub skipped: Vec<u64>,
    /// Rows of inspections in which nothing is entered.
    pub not_looked_at: Vec<u64>,
    /// Columns with cells that hold what stands above them.
    pub carried: Vec<Carried>,
    pub decimal: Decimal,
    /// How values are written.
    pub reading: Reading,
    /// Values for the whole file by field.
    pub constants: BTreeMap<String, Constant>,
    /// Columns whose missing unit was reported.
    unit_reported: Vec<usize>,
}

/// A cell with this text marks the row that shows how a template is filled in.
pub const EXAMPLE: &str = "example: take this row out";

/// Words with which a line below the data begins.
const FOOTERS: [&str; 24] = [
    "total",
    "totals",
    "sum",
    "average",
    "mean",
    "end",
    "page",
    "note",
    "notes",
    "remarks",
    "prepared",
    "checked",
    "approved",
    "signed",
    "signature",
    "printed",
    "legend",
    "source",
    "report",
    "count",
    "subtotal",
    "minimum",
    "maximum",
    "eof",
];

/// Words with which a line for a signature begins, where a colon ends the first cell.
const SIGNED: [&str; 8] =
    ["inspected", "witnessed", "reviewed", "verified", "received", "accepted", "name", "date"];

/// True for a row that ends a table: a sum, a signature, a line of dashes. A row that is more than
/// half full is data, whatever its first word.
fn is_footer(row: &RawRow, width: usize) -> bool {
    let first = row.cells.iter().map(|c| c.trim()).find(|c| !c.is_empty()).unwrap_or("");
    let drawn = row.cells.iter().all(|c| c.chars().all(|c| !c.is_alphanumeric()));
    let folded = fold(first);
    let word = folded.split('_').next().unwrap_or("");
    let sparse = 2 * row.filled() <= width;
    // "Inspected by:" is a label, and what follows it a name or a line to write one on.
    let signed = first.ends_with(':') && (FOOTERS.contains(&word) || SIGNED.contains(&word));
    drawn || signed || sparse && (FOOTERS.contains(&word) || first.starts_with('*'))
}

/// Words with which a heading between the data begins: of a stand, of a page.
const HEADINGS: [&str; 6] = ["stand", "stands", "page", "sheet", "section", "continued"];

/// Words with which a sum between the data begins.
const SUMS: [&str; 7] = ["subtotal", "sub_total", "total", "totals", "sum", "carried", "brought"];

/// True for a line between the data that is none of them: it is at most half full and begins with a
/// word for a heading, and no column that is read has anything else, or for a sum, and they have only
/// figures. A row that names a part or an operation is data, whatever its first word.
fn is_between(row: &RawRow, layout: &Layout) -> bool {
    let first = row.cells.iter().map(|c| c.trim()).find(|c| !c.is_empty()).unwrap_or("");
    let folded = fold(first);
    let begins = |word: &&str| {
        let rest = folded.strip_prefix(word);
        rest.is_some_and(|r| {
            r.is_empty() || r.starts_with(|c: char| c == '_' || c.is_ascii_digit())
        })
    };
    let read = layout.columns.iter().filter_map(|c| row.cells.get(c.number - 1));
    let mut others = read.map(|c| c.trim()).filter(|c| !c.is_empty() && *c != first);
    let is_heading = HEADINGS.iter().any(begins);
    2 * row.filled() <= layout.width
        && if is_heading {
            others.next().is_none()
        } else {
            SUMS.iter().any(begins) && others.all(|c| !c.starts_with(char::is_alphabetic))
        }
}

/// True for a row that is no data: a heading, a sum, what stands below the data.
pub(crate) fn is_aside(row: &RawRow, layout: &Layout) -> bool {
    is_footer(row, layout.width) || is_between(row, layout)
}

/// Rows of a table with their titles in one row and their blocks below each other; what was done to
/// them.
pub(crate) fn arranged(
    rows: Vec<RawRow>,
    fields: &Fields,
    stated: Option<&Columns>,
) -> (Vec<RawRow>, Vec<String>) {
    let mut notes = Vec::new();
    let mut rows = rows;
    // Columns that are stated in order need no titles.
    if stated.is_none_or(|s| !s.in_order()) {
        let joined;
        (rows, joined) = with_one_head(rows, fields);
        if joined {
            notes.push("titles stand in two rows and were read together".to_owned());
        }
    }
    let (rows, blocks) = unfolded(rows, fields);
    if blocks > 1 {
        notes.push(format!("{blocks} blocks stand side by side and were read one after another"));
    }
    (rows, notes)
}

impl Table {
    /// Takes rows under their layout. `None` when the decimal sign cannot be told.
    pub(crate) fn new(
        mut rows: Vec<RawRow>,
        layout: Layout,
        fields: &'static Fields,
        at: Where<'_>,
        reading: Reading,
        diagnostics: &mut Diagnostics,
    ) -> Option<Self> {
        if let Some(row) = rows.iter().find(|r| r.cells.iter().any(|c| c.trim() == EXAMPLE)) {
            diagnostics.push(
                at.error("the row that shows how a template is filled in still stands")
                    .at_row(row.number)
                    .help("take the row out, or write over all of it"),
            );
            return None;
        }
        rows.drain(..layout.first_data.min(rows.len()));
        let mut skipped = Vec::new();
        rows.retain(|r| r.filled() > 0);
        while let Some(row) = rows.pop_if(|r| is_footer(r, layout.width)) {
            skipped.push(row.number);
        }
        if let Some(header) = &layout.header {
            rows.retain(|r| {
                let again = r.cells == header.cells;
                if again {
                    skipped.push(r.number);
                }
                !again
            });
        }
        rows.retain(|r| {
            let between = is_between(r, &layout);
            if between {
                skipped.push(r.number);
            }
            !between
        });
        let mut reading = reading;
        if let Some(minutes) = layout.offset {
            reading.times.clock = Clock::Offset(minutes);
        }
        skipped.sort_unstable();
        let carried = carry(&mut rows, &layout, fields, at, diagnostics);
        let mut vote = DecimalVote::default();
        for column in layout.columns.iter().filter(|c| fields[c.field].holds.numeric()) {
            for cell in rows.iter().filter_map(|r| r.cells.get(column.number - 1)) {
                vote.see(cell);
            }
        }
        let decimal = reading.decimal.or_else(|| decide(&vote, at, diagnostics))?;
        let constants = layout.constants.iter().map(|c| (c.key.clone(), c.clone())).collect();
        Some(Self {
            file: at.file.to_owned(),
            sheet: at.sheet.map(str::to_owned),
            fields,
            layout,
            rows,
            skipped,
            not_looked_at: Vec::new(),
            carried,
            decimal,
            reading,
            constants,
            unit_reported: Vec::new(),
        })
    }

    /// Place of a field in the list.
    pub(crate) fn field(&self, key: &str) -> Option<usize> {
        self.fields.iter().position(|f| f.key == key)
    }

    /// True when a column or a value for the whole file gives the field.
    pub(crate) fn has(&self, key: &str) -> bool {
        self.constants.contains_key(key)
            || self.layout.columns.iter().any(|c| self.fields[c.field].key == key)
    }

    /// A value for the whole file, stated by the user or above the header.
    pub(crate) fn constant(&self, key: &str) -> Option<&str> {
        self.constants.get(key).map(|c| c.value.as_str())
    }

    /// Where a whole table is, for a message.
    pub(crate) fn error(&self, message: impl Into<String>) -> Diagnostic {
        Diagnostic::error(&self.file, message).in_sheet(self.sheet.as_deref())
    }

    /// A warning about the whole table.
    pub(crate) fn warning(&self, message: impl Into<String>) -> Diagnostic {
        Diagnostic::warning(&self.file, message).in_sheet(self.sheet.as_deref())
    }

    /// Reads every row with a function that turns it into something. Rows with an error are
    /// counted, and what the function made of them is dropped.
    pub(crate) fn each<T>(
        &mut self,
        diagnostics: &mut Diagnostics,
        mut f: impl FnMut(&mut Row<'_>) -> Option<T>,
    ) -> Vec<(u64, T)> {
        let mut out = Vec::new();
        let mut reported = std::mem::take(&mut self.unit_reported);
        for raw in &self.rows {
            let mut row = Row::new(self, raw, diagnostics, &mut reported);
            if !row.check_width() {
                continue;
            }
            let made = f(&mut row);
            if let (true, Some(made)) = (row.is_sound(), made) {
                out.push((raw.number, made));
            }
        }
        self.unit_reported = reported;
        out
    }

    /// Looks at every row beforehand, in their order; what is wrong with one is said when it is read.
    pub(crate) fn look<T>(&self, mut f: impl FnMut(&mut Row<'_>) -> T) -> Vec<T> {
        let (mut unsaid, mut reported) = (Diagnostics::default(), Vec::new());
        let look = |raw| f(&mut Row::new(self, raw, &mut unsaid, &mut reported));
        self.rows.iter().map(look).collect()
    }

    /// Reads the values that stand for the whole file as if they were a row.
    pub(crate) fn head<T>(
        &mut self,
        diagnostics: &mut Diagnostics,
        f: impl FnOnce(&mut Row<'_>) -> Option<T>,
    ) -> Option<T> {
        let raw = RawRow::default();
        let mut reported = Vec::new();
        let mut row = Row::new(self, &raw, diagnostics, &mut reported);
        let made = f(&mut row);
        if row.is_sound() { made } else { None }
    }
}

fn decide(vote: &DecimalVote, at: Where<'_>, diagnostics: &mut Diagnostics) -> Option<Decimal> {
    match vote.verdict() {
        DecimalVerdict::Sign(sign) => Some(sign),
        DecimalVerdict::Unclear(cell) => {
            diagnostics.push(
                Diagnostic::error(
                    at.file,
                    format!("'{cell}' may be a decimal number or have a comma between thousands"),
                )
                .in_sheet(at.sheet)
                .value(cell)
                .asks(Question::decimal())
                .help("state the decimal sign: --decimal comma or --decimal point"),
            );
            None
        }
        DecimalVerdict::Mixed(point, comma) => {
            diagnostics.push(
                Diagnostic::error(
                    at.file,
                    format!("'{point}' has a decimal point and '{comma}' a decimal comma"),
                )
                .in_sheet(at.sheet)
                .help("write all numbers of a file with one decimal sign"),
            );
            None
        }
    }
}
