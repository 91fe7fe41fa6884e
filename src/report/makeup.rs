//! Make-ups as they were judged: torque against target, and what makes them doubtful.

use crate::projection::rows::MakeupRow;
use crate::store::Book;
use crate::units::Measure;

use super::lookup::joint_row;
use super::{Block, Cell, Column, ReportError, Table};

/// The make-ups of an entry, one line an end; nothing where it holds none.
pub fn of_entry(book: &Book, entry: i64) -> Result<Option<Block>, ReportError> {
    let rows: Vec<MakeupRow> = book.rows("WHERE entry = ?1 ORDER BY joint, end", &[&entry])?;
    if rows.is_empty() {
        return Ok(None);
    }
    let mut lines = Vec::new();
    for m in &rows {
        let joint = joint_row(book, m.joint)?;
        lines.push(vec![
            joint.map_or(Cell::Missing, |j| Cell::Text(j.serial)),
            Cell::Text(m.end.to_string()),
            Cell::number(m.torque),
            Cell::number(m.stated_target.or(m.target)),
            Cell::Text(m.verdict.replace('_', " ")),
            Cell::text(m.instrument.as_deref()),
            if m.doubtful { Cell::Text("doubtful".to_owned()) } else { Cell::Missing },
        ]);
    }
    Ok(Some(Block::Table(Table {
        name: "makeups",
        columns: vec![
            Column::plain("serial", "serial"),
            Column::plain("end", "end"),
            Column::of("torque", "torque", Measure::Torque),
            Column::of("target", "target", Measure::Torque),
            Column::plain("verdict", "verdict"),
            Column::plain("gauge", "gauge"),
            Column::plain("doubt", "the gauge is").dispensable(1),
        ],
        rows: lines,
        empty: String::new(),
        below: None,
    })))
}
