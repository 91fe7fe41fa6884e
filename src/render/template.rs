//! A template of a kind of file: titles with units, words to choose from, a row that shows how.

use rust_xlsxwriter::{DataValidation, Format, Workbook};

use super::sheet::WorkbookError;
use crate::intake::{EXAMPLE, Explained, FOR_READING};

/// Rows below the titles in which words are offered.
const ROWS: u32 = 1_000;
/// Signs that a list of words may have in one cell's rule.
const LONGEST_LIST: usize = 255;

/// A workbook to fill in: a sheet of the kind, and one to read.
pub fn workbook(kind: &str, columns: &[Explained]) -> Result<Vec<u8>, WorkbookError> {
    let mut book = Workbook::new();
    let (bold, needed) = (
        Format::new().set_bold().set_text_wrap(),
        Format::new()
            .set_bold()
            .set_text_wrap()
            .set_underline(rust_xlsxwriter::FormatUnderline::Single),
    );
    let text = Format::new().set_num_format("@");
    let sheet = book.add_worksheet();
    sheet.set_name(kind)?;
    sheet.set_freeze_panes(1, 0)?;
    let mut last = 0;
    for (at, column) in (0u16..).zip(columns) {
        let format = if column.needed { &needed } else { &bold };
        sheet.write_with_format(0, at, &column.title, format)?;
        sheet.write_with_format(1, at, &column.example, &text)?;
        sheet.set_column_width(at, 14)?;
        if !column.words.is_empty() && column.words.join(",").len() <= LONGEST_LIST {
            let list = DataValidation::new().allow_list_strings(&column.words)?;
            sheet.add_data_validation(1, at, ROWS, at, &list)?;
        }
        last = at + 1;
    }
    sheet.write(1, last, EXAMPLE)?;
    let read = book.add_worksheet();
    read.set_name("Columns")?;
    read.write(0, 0, format!("{FOR_READING}: the columns of a file of kind {kind}"))?;
    for (at, title) in (0u16..).zip(["column", "holds", "other titles", "words"]) {
        read.write_with_format(1, at, title, &bold)?;
        read.set_column_width(at, 30)?;
    }
    for (row, column) in (2u32..).zip(columns) {
        let cells =
            [&column.title, &column.holds, &column.also.join(", "), &column.words.join(", ")];
        for (at, cell) in (0u16..).zip(cells) {
            read.write_with_format(row, at, cell.as_str(), &text)?;
        }
    }
    Ok(book.save_to_buffer()?)
}
