//! What the book adopted: rules, limits, fatigue methods, in force one after another.

use crate::model::{Body, Instant};
use crate::projection::facts::{self, Placed};
use crate::schema::{BookFactRow, Rows, StruckRow};
use crate::store::{Book, StoreError};

use super::{Cell, Column, ReportError, Table, instant};

/// Adoptions of a kind that stand, in order of the day from which each is in force.
pub(super) fn standing(book: &Book, what: &str) -> Result<Vec<Placed>, ReportError> {
    let noted = Rows::of(BookFactRow::topic(), "adoption").is(BookFactRow::subject(), what);
    let mut entries = Vec::new();
    for fact in book.rows(&noted)? {
        if book.row::<StruckRow>(fact.entry)?.is_none() {
            let entry = book.entry_at(fact.entry)?.raw.read().map_err(StoreError::from)?;
            entries.push(Placed::new(fact.entry, entry));
        }
    }
    facts::sort(&mut entries);
    Ok(entries)
}

/// Of adoptions in order, the one in force at an instant, and the one that comes next.
pub(super) fn at(adopted: &[Placed], at: Instant) -> (Option<&Placed>, Option<&Placed>) {
    let next = adopted.partition_point(|p| p.at() <= at);
    (next.checked_sub(1).and_then(|last| adopted.get(last)), adopted.get(next))
}

/// The adoptions as a table.
pub(super) fn table(adopted: &[Placed], offset_minutes: i32) -> Table {
    Table {
        name: "adoptions",
        columns: vec![
            Column::plain("from", "in force from"),
            Column::plain("set", "set"),
            Column::plain("entry", "entry"),
            Column::plain("author", "adopted by"),
            Column::plain("remark", "remark").dispensable(1),
        ],
        rows: adopted
            .iter()
            .filter_map(|p| match &p.entry.body {
                Body::Adoption(b) => Some(vec![
                    instant(p.at().0, offset_minutes),
                    Cell::Text(b.name.clone()),
                    Cell::Text(p.entry.id.to_string()),
                    Cell::Text(p.entry.author.clone()),
                    Cell::text(b.remark.as_deref()),
                ]),
                _ => None,
            })
            .collect(),
        empty: "no set was adopted; the one that ships is in force".to_owned(),
        below: None,
    }
}
