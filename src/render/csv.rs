//! A report's tables as CSV (RFC 4180): units in the header, plain numbers, no formulas.

use crate::report::{Cell, Report, Table};
use crate::units::UnitSystem;

use super::safe::for_spreadsheet;
use super::value::show;

/// Why CSV could not be written.
#[derive(Debug, thiserror::Error)]
pub enum CsvError {
    /// The report is no table.
    #[error("this answer has no table to write as CSV; ask for --json")]
    NoTable,
    #[error("the table cannot be written as CSV: {0}")]
    Write(String),
}

/// Writes the first table of a report.
pub fn render(report: &Report, units: UnitSystem) -> Result<String, CsvError> {
    let table = report.tables().next().ok_or(CsvError::NoTable)?;
    write(table, units).map_err(|e| CsvError::Write(e.to_string()))
}

fn write(table: &Table, units: UnitSystem) -> Result<String, Box<dyn std::error::Error>> {
    let mut out = ::csv::Writer::from_writer(Vec::new());
    out.write_record(table.columns.iter().map(
        |c| match c.measure.map(|m| m.unit_symbol(units)) {
            Some(unit) if !unit.is_empty() => {
                for_spreadsheet(&format!("{} [{unit}]", c.name)).into_owned()
            }
            _ => for_spreadsheet(&c.name).into_owned(),
        },
    ))?;
    for row in &table.rows {
        out.write_record(row.iter().zip(&table.columns).map(|(cell, column)| {
            let number = |n: i64| match column.measure {
                Some(m) => plain(m.value(n, units)),
                None => n.to_string(),
            };
            match cell {
                Cell::Missing => String::new(),
                Cell::Text(t) => for_spreadsheet(t).into_owned(),
                Cell::Number(n) => number(*n),
                Cell::Bound { lo, hi: None } => format!("≥ {}", number(*lo)),
                Cell::Bound { lo, hi: Some(hi) } => format!("{} to {}", number(*lo), number(*hi)),
                Cell::Truth(b) => b.to_string(),
                Cell::Of(..) | Cell::Json(_) => show(cell, None, units),
                Cell::Day(d) => d.to_string(),
                Cell::Time(t) => t.to_rfc3339(),
                Cell::Real(x) => plain(column.measure.map_or(*x, |m| m.unit(units).show_base(*x))),
            }
        }))?;
    }
    Ok(String::from_utf8(out.into_inner()?)?)
}

/// A number to twelve significant digits, without an exponent where it can do without.
fn plain(x: f64) -> String {
    format!("{x:.11e}").parse::<f64>().map_or_else(|_| x.to_string(), |v| v.to_string())
}
