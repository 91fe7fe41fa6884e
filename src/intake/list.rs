//! A list of serials: what somebody read off the steel, with the place where it lies.

use std::sync::LazyLock;

use super::content::{bytes, decode, split};
use super::diagnostic::{Diagnostic, Diagnostics};
use super::kinds::Kind;
use super::lookup::World;
use super::number::Decimal;
use super::options::Options;
use super::table::{Field, Fields, Holds, RawRow, Reading, Table, Where, header_row, read_layout};
use super::workbook;

/// A serial of a list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Listed {
    /// As written.
    pub serial: String,
    /// Where it lies, where the list says.
    pub location: Option<String>,
    /// Row of the file.
    pub row: u64,
}

fn fields() -> &'static Fields {
    static ALL: LazyLock<Fields> = LazyLock::new(|| {
        let serials = format!("{} joints tag mark", super::kinds::SERIALS);
        Fields::new(vec![
            Field::new("serial", Holds::Serial, &serials),
            Field::new("location", Holds::Text, "place where rack yard bay"),
        ])
    });
    &ALL
}

/// Reads a list: a table with a column of serials, or one serial in each line.
pub fn read_list(
    name: &str,
    options: &Options,
    world: &World<'_>,
) -> Result<Vec<Listed>, Diagnostics> {
    let mut d = Diagnostics::default();
    let mut out = Vec::new();
    if let Some(bytes) = bytes(name, world, &mut d) {
        if workbook::is_workbook(&bytes) {
            match workbook::read(name, &bytes) {
                Ok(book) => {
                    for sheet in book.sheets {
                        out.extend(of_rows(name, Some(&sheet.name), sheet.rows, options, &mut d));
                    }
                }
                Err(e) => d.push(*e),
            }
        } else if let Some(text) = decode(name, &bytes, &mut Vec::new(), &mut d) {
            let rows = split(&text, options, Some(Kind::Moves), &mut Vec::new());
            out = of_rows(name, None, rows, options, &mut d);
        }
    }
    if out.is_empty() && d.errors() == 0 {
        d.push(
            Diagnostic::error(name, "the list holds no serial")
                .help("a column titled Serial, or one serial in each line"),
        );
    }
    if d.errors() > 0 { Err(d) } else { Ok(out) }
}

fn of_rows(
    name: &str,
    sheet: Option<&str>,
    rows: Vec<RawRow>,
    options: &Options,
    d: &mut Diagnostics,
) -> Vec<Listed> {
    let titled = header_row(&rows, fields(), None).is_some_and(|(_, found)| found.contains(&0));
    if !titled {
        let first = |r: &RawRow| {
            r.cells.iter().map(|c| c.trim()).find(|c| !c.is_empty()).map(str::to_owned)
        };
        return rows
            .iter()
            .filter_map(|r| Some(Listed { serial: first(r)?, location: None, row: r.number }))
            .collect();
    }
    let at = Where { sheet, ..Where::new(name, None) };
    let Some(layout) = read_layout(&rows, fields(), at, d) else { return Vec::new() };
    let reading = Reading {
        decimal: Some(options.decimal.unwrap_or(Decimal::Point)),
        nulls: options.nulls.clone(),
        times: options.times,
    };
    let Some(mut table) = Table::new(rows, layout, fields(), at, reading, d) else {
        return Vec::new();
    };
    let listed = table.each(d, |row| {
        let serial = row.text("serial")?;
        Some(Listed { serial, location: row.text("location"), row: row.number() })
    });
    listed.into_iter().map(|(_, listed)| listed).collect()
}
