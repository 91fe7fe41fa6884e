//! A report's tables as a workbook: one sheet a table, numbers as numbers, words as words that no
//! spreadsheet takes for a formula. A sum over a column of lower bounds is a lower bound; the column
//! beside it says which values are.

use rust_xlsxwriter::{
    Color, DocProperties, ExcelDateTime, Format, FormatAlign, FormatBorder, Workbook, Worksheet,
    XlsxError,
};

use crate::report::{Block, Report, Table};
use crate::units::{Measure, UnitSystem};

use super::table::{Value, heads, value};

/// Why a workbook could not be made.
#[derive(Debug, thiserror::Error)]
pub enum XlsxFailure {
    /// The report is no table.
    #[error("this answer has no table to write as a workbook; ask for --json")]
    NoTable,
    /// A sheet has more rows than a workbook takes.
    #[error("{0} rows are more than a sheet of a workbook takes (1,048,576); use --csv")]
    TooLong(usize),
    #[error("the workbook cannot be written: {0}")]
    Write(#[from] XlsxError),
}

/// Rows that a sheet takes below its header.
const ROWS: usize = 1_048_575;
/// Letters that a cell takes.
const LETTERS: usize = 32_000;

/// Writes the tables of a report, with its notes on a sheet of their own.
pub fn render(report: &Report, units: UnitSystem) -> Result<Vec<u8>, XlsxFailure> {
    let mut book = Workbook::new();
    let created = ExcelDateTime::from_ymd(2000, 1, 1)?;
    book.set_properties(&DocProperties::new().set_creation_datetime(&created));
    let mut tables = 0;
    let mut notes: Vec<&str> = Vec::new();
    for block in &report.blocks {
        match block {
            Block::Table(table) => {
                tables += 1;
                let name = sheet_name(table.name, tables);
                write_table(book.add_worksheet().set_name(name)?, table, units)?;
            }
            Block::Heading(t) | Block::Text(t) | Block::Note(t) | Block::Caution(t) => {
                notes.push(t);
            }
            Block::Counted(c) => notes.extend((!c.says.is_empty()).then_some(c.says.as_str())),
            Block::Facts { .. }
            | Block::Bars(_)
            | Block::Chart(_)
            | Block::Verbatim { .. }
            | Block::Explained(_) => {}
        }
    }
    if tables == 0 {
        return Err(XlsxFailure::NoTable);
    }
    if !notes.is_empty() {
        let ws = book.add_worksheet().set_name("notes")?;
        ws.set_column_width(0, 100)?;
        for (row, note) in (0u32..).zip(notes) {
            ws.write_string_with_format(row, 0, cut(note), &words().set_text_wrap())?;
        }
    }
    Ok(book.save_to_buffer()?)
}

/// A name that a sheet may have: short, and unlike the others.
fn sheet_name(name: &str, n: usize) -> String {
    let tidy: String =
        name.chars().filter(|c| c.is_alphanumeric() || *c == '_' || *c == ' ').take(24).collect();
    if n == 1 { tidy } else { format!("{tidy} {n}") }
}

fn words() -> Format {
    Format::new().set_num_format("@").set_quote_prefix().set_align(FormatAlign::Top)
}

fn cut(text: &str) -> String {
    text.chars().take(LETTERS).collect()
}

/// Digits of a measure: two more than a screen shows, so that nothing is lost to rounding.
fn number_format(measure: Option<Measure>, units: UnitSystem) -> String {
    match measure.map(|m| m.decimals(units)) {
        None | Some(0) => "#,##0".to_owned(),
        Some(n) => format!("#,##0.{}", "0".repeat(n)),
    }
}

fn write_table(ws: &mut Worksheet, table: &Table, units: UnitSystem) -> Result<(), XlsxFailure> {
    if table.rows.len() > ROWS {
        return Err(XlsxFailure::TooLong(table.rows.len()));
    }
    let head = words()
        .set_bold()
        .set_text_wrap()
        .set_background_color(Color::RGB(0xEE_F1_F3))
        .set_border_bottom(FormatBorder::Thin);
    let text = words();
    let day = Format::new().set_num_format("yyyy-mm-dd");
    let time = Format::new().set_num_format("yyyy-mm-dd hh:mm");
    let heads = heads(table, units);
    for (c, (at, head_of)) in (0u16..).zip(&heads) {
        let title = head_of.title();
        let number =
            |measure: Option<Measure>| Format::new().set_num_format(number_format(measure, units));
        let column = number(head_of.measure());
        ws.write_string_with_format(0, c, cut(&title), &head)?;
        let mut width = title.chars().count();
        for (r, row) in (1u32..).zip(&table.rows) {
            let Some(cell) = row.get(*at) else { continue };
            match value(head_of, cell, units) {
                Value::Missing => {}
                Value::Text(t) => {
                    width = width.max(t.chars().count());
                    ws.write_string_with_format(r, c, cut(&t), &text)?;
                }
                Value::Whole(n) => {
                    ws.write_number_with_format(r, c, n as f64, &column)?;
                }
                Value::Quanta(n, m) => {
                    let shown = crate::report::sheet::sheet_value(n, m, units);
                    ws.write_number_with_format(r, c, shown, &number(Some(m)))?;
                }
                Value::Truth(b) => {
                    ws.write_boolean(r, c, b)?;
                }
                Value::Real(x, measure) => {
                    let shown = measure.map_or(x, |m| m.unit(units).show_base(x));
                    ws.write_number_with_format(r, c, shown, &number(measure))?;
                }
                Value::Day(d) => {
                    width = width.max(10);
                    match ExcelDateTime::parse_from_str(&d.to_string()) {
                        Ok(t) => ws.write_datetime_with_format(r, c, &t, &day)?,
                        // Before 1900 a spreadsheet has no dates.
                        Err(_) => ws.write_string_with_format(r, c, d.to_string(), &text)?,
                    };
                }
                Value::Time(t) => {
                    width = width.max(16);
                    let local = t.naive_local().format("%Y-%m-%dT%H:%M:%S").to_string();
                    match ExcelDateTime::parse_from_str(&local) {
                        Ok(t) => ws.write_datetime_with_format(r, c, &t, &time)?,
                        Err(_) => ws.write_string_with_format(r, c, t.to_rfc3339(), &text)?,
                    };
                }
            }
        }
        ws.set_column_width(c, width.clamp(6, 60) as f64 + 1.0)?;
    }
    ws.set_freeze_panes(1, 0)?;
    let last_column = u16::try_from(heads.len()).unwrap_or(u16::MAX).saturating_sub(1);
    let last_row = u32::try_from(table.rows.len()).unwrap_or(u32::MAX);
    if last_row > 0 {
        ws.autofilter(0, 0, last_row, last_column)?;
    }
    const A4: u8 = 9;
    ws.set_landscape().set_paper_size(A4).set_print_fit_to_pages(1, 0);
    ws.set_repeat_rows(0, 0)?;
    Ok(())
}
