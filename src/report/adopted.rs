//! What the book adopted: rules, limits, fatigue methods, in force one after another.

use crate::projection::facts::{self, Placed};
use crate::projection::rows::{BookFactRow, StruckRow};
use crate::store::{Book, StoreError};

use super::ReportError;

/// Adoptions of a kind that stand, in order of the day from which each is in force.
pub(super) fn standing(book: &Book, what: &str) -> Result<Vec<Placed>, ReportError> {
    let noted: Vec<BookFactRow> =
        book.rows("WHERE topic = 'adoption' AND subject = ?1 ORDER BY entry", &[&what])?;
    let mut entries = Vec::new();
    for fact in noted {
        if book.rows::<StruckRow>("WHERE entry = ?1", &[&fact.entry])?.is_empty() {
            let entry = book.entry_at(fact.entry)?.raw.read().map_err(StoreError::from)?;
            entries.push(Placed::new(fact.entry, entry));
        }
    }
    facts::sort(&mut entries);
    Ok(entries)
}
