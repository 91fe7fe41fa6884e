//! An inspection sheet as a workbook: one sheet to fill in at the rack and print, and three to read.
//!
//! Every word from a file is written as text with a text format, so that no spreadsheet takes it
//! for a formula, now or when somebody edits the cell. The only formulas are those of the
//! conditional formats and of the lists, and none of them holds a word of the book.

mod fill;
mod look;
mod reference;

use rust_xlsxwriter::{DocProperties, ExcelDateTime, Workbook, XlsxError};

use crate::report::sheet::InspectionSheet;

/// Name of the sheet to fill in.
pub const FILL: &str = "Inspection";
/// Name of the sheet that says how.
pub const HOW: &str = "How to";
/// Name of the sheet with the limits of each joint.
pub const LIMITS: &str = "Limits";
/// Name of the sheet with the words to choose from.
pub const WORDS: &str = "Words";

/// Why a workbook could not be made.
#[derive(Debug, thiserror::Error)]
#[error("the workbook cannot be written: {0}")]
pub struct WorkbookError(#[from] XlsxError);

/// Where things stand on the sheet to fill in, counted from 0.
#[derive(Clone, Debug)]
struct Layout {
    /// Row of the titles.
    header: u32,
    /// First row of a joint.
    first: u32,
    /// Rows with a joint.
    joints: u32,
    /// Empty rows below, for more findings of a joint or for joints that turn up.
    spare: u32,
    /// Column of the first reading's last value.
    readings: u16,
    count: u16,
}

/// Rows of the title and of what is written once.
const HEAD: u32 = 4;
/// Rows above the header at which a limits row may stand.
const LIMIT_GROUPS: usize = 3;
/// Empty rows at the end.
const SPARE: u32 = 12;

impl Layout {
    fn of(sheet: &InspectionSheet) -> Self {
        let groups = if sheet.groups.len() <= LIMIT_GROUPS { sheet.groups.len() } else { 0 };
        // Three rows of limits a group, bands, titles.
        let header = HEAD + 3 * u32::try_from(groups).unwrap_or(0) + 1;
        Self {
            header,
            first: header + 1,
            joints: u32::try_from(sheet.rows.len()).unwrap_or(u32::MAX - 2_000),
            spare: SPARE,
            readings: 3,
            count: u16::try_from(sheet.columns.len()).unwrap_or(u16::MAX),
        }
    }

    /// Row after the last that can be filled.
    const fn end(&self) -> u32 {
        self.first + self.joints + self.spare
    }

    /// Column of a reading's last value.
    const fn last(&self, n: u16) -> u16 {
        self.readings + 2 * n
    }

    /// Column to fill with a reading.
    const fn fill(&self, n: u16) -> u16 {
        self.readings + 2 * n + 1
    }

    /// First column after the readings.
    const fn after(&self) -> u16 {
        self.readings + 2 * self.count
    }

    /// Column of a reading's limits on the sheet of limits: Premium, Class 2, least, most.
    const fn limits(n: u16) -> u16 {
        2 + 4 * n
    }
}

/// Letters of a column counted from 0.
fn letters(column: u16) -> String {
    crate::intake::column_letters(usize::from(column) + 1)
}

/// Writes the workbook. `made` is the day on which it is made, as year, month and day.
pub fn workbook(sheet: &InspectionSheet, made: (u16, u8, u8)) -> Result<Vec<u8>, WorkbookError> {
    let layout = Layout::of(sheet);
    let mut book = Workbook::new();
    let created = ExcelDateTime::from_ymd(made.0, made.1, made.2)?;
    book.set_properties(
        &DocProperties::new().set_title(&sheet.title).set_creation_datetime(&created),
    );
    fill::write(book.add_worksheet().set_name(FILL)?, sheet, &layout)?;
    reference::how(book.add_worksheet().set_name(HOW)?, sheet)?;
    reference::limits(book.add_worksheet().set_name(LIMITS)?, sheet, &layout)?;
    reference::words(book.add_worksheet().set_name(WORDS)?, sheet)?;
    Ok(book.save_to_buffer()?)
}
