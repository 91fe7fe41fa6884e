//! Make-ups as they were judged: torque against target, and what makes them doubtful.

use crate::model::Vocabulary;
use crate::schema::{JointRow, MakeupRow, Rows};
use crate::store::Book;

use super::lookup::joint_row;
use super::{Block, Cell, Column, ReportError, Table};

/// The make-ups of an entry, one line an end; nothing where it holds none.
pub fn of_entry(book: &Book, entry: i64) -> Result<Option<Block>, ReportError> {
    let rows: Vec<MakeupRow> = book.rows(&Rows::of(MakeupRow::entry(), entry))?;
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
            Cell::number(m.stated_target.or(m.target_torque)),
            m.verdict.map_or(Cell::Missing, |v| Cell::Text(v.word().replace('_', " "))),
            Cell::text(m.gauge.as_deref()),
            if m.instrument_doubtful { Cell::Text("doubtful".to_owned()) } else { Cell::Missing },
        ]);
    }
    Ok(Some(Block::Table(Table {
        name: "makeups",
        columns: vec![
            Column::field(JointRow::serial()),
            Column::field(MakeupRow::end()),
            Column::field(MakeupRow::torque()),
            Column::field(MakeupRow::target_torque()).named("target"),
            Column::field(MakeupRow::verdict()),
            Column::field(MakeupRow::gauge()),
            Column::plain("doubt", "the gauge is").dispensable(1),
        ],
        rows: lines,
        empty: String::new(),
        below: None,
    })))
}
