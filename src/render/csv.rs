//! A report's table as CSV (RFC 4180): units in the header, plain numbers, no formulas. A value
//! between bounds is its lower bound, with what bound it is in a column of its own.

use crate::report::{Report, Table};
use crate::units::UnitSystem;

use super::safe::{for_screen, for_spreadsheet};
use super::table::{Value, heads, value};

/// Why CSV could not be written.
#[derive(Debug, thiserror::Error)]
pub enum CsvError {
    /// The report is no table.
    #[error("this answer has no table to write as CSV; ask for --json")]
    NoTable,
    #[error("the table cannot be written as CSV: {0}")]
    Write(String),
}

/// Who reads the table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reader {
    /// A program or a file: each cell as it is.
    Machine,
    /// A terminal, to which control characters are commands: they are shown as `\u{…}`.
    Screen,
}

/// A table as CSV.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Written {
    pub text: String,
    /// Cells that begin like a formula, and have an apostrophe before them.
    pub guarded: usize,
}

/// Writes the first table of a report, for a program or a file.
pub fn render(report: &Report, units: UnitSystem) -> Result<String, CsvError> {
    render_for(report, units, Reader::Machine).map(|written| written.text)
}

/// Writes the first table of a report.
pub fn render_for(report: &Report, units: UnitSystem, reader: Reader) -> Result<Written, CsvError> {
    let table = report.tables().next().ok_or(CsvError::NoTable)?;
    let mut guarded = 0;
    let text =
        write(table, units, reader, &mut guarded).map_err(|e| CsvError::Write(e.to_string()))?;
    Ok(Written { text, guarded })
}

fn write(
    table: &Table,
    units: UnitSystem,
    reader: Reader,
    guarded: &mut usize,
) -> Result<String, Box<dyn std::error::Error>> {
    let mut cell = |text: &str| {
        let safe = for_spreadsheet(text);
        *guarded += usize::from(safe.len() > text.len());
        match reader {
            Reader::Machine => safe.into_owned(),
            Reader::Screen => for_screen(&safe).into_owned(),
        }
    };
    let mut out = ::csv::Writer::from_writer(Vec::new());
    let heads = heads(table, units);
    out.write_record(heads.iter().map(|(_, head)| cell(&head.name())))?;
    for row in &table.rows {
        out.write_record(heads.iter().map(|(at, head)| match value(head, &row[*at], units) {
            Value::Missing => String::new(),
            Value::Text(t) => cell(&t),
            Value::Whole(n) => n.to_string(),
            Value::Quanta(n, m) => plain(m.value(n, units)),
            Value::Real(x, measure) => plain(measure.map_or(x, |m| m.unit(units).show_base(x))),
            Value::Truth(b) => b.to_string(),
            Value::Day(d) => d.to_string(),
            Value::Time(t) => t.to_rfc3339(),
        }))?;
    }
    Ok(String::from_utf8(out.into_inner()?)?)
}

/// A number to twelve significant digits, without an exponent where it can do without.
fn plain(x: f64) -> String {
    format!("{x:.11e}").parse::<f64>().map_or_else(|_| x.to_string(), |v| v.to_string())
}
