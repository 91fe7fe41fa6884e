//! Entries as they count: with their amendments.

use std::path::Path;

use rusqlite::Connection;

use super::clock;
use super::entries::read_at;
use super::error::{InFile, Result, StoreError};
use crate::model::{Entry, EntryId, Vocabulary};
use crate::projection::amend::amended;
use crate::projection::facts::{self, Placed};
use crate::projection::kinds::Topic;

/// Amendments of an entry that stand, up to a place of the book, in canonical order.
pub(super) fn amendments(
    conn: &Connection,
    path: &Path,
    entry: &EntryId,
    known_to: i64,
) -> Result<Vec<Placed>> {
    let mut statement = conn
        .prepare_cached(
            "SELECT f.entry FROM book_fact f WHERE f.topic = ?1 AND f.subject = ?2 AND f.entry <= ?3
             AND NOT EXISTS (SELECT 1 FROM struck s WHERE s.entry = f.entry)",
        )
        .in_file(path)?;
    let places: Vec<i64> = statement
        .query_map((Topic::Amends.word(), entry.to_string(), known_to), |r| r.get(0))
        .and_then(Iterator::collect)
        .in_file(path)?;
    if places.is_empty() {
        return Ok(Vec::new());
    }
    let clock = clock::of(conn, path)?;
    let mut out = Vec::with_capacity(places.len());
    for place in places {
        let read = read_at(conn, path, place)?
            .ok_or_else(|| StoreError::NoEntry(format!("at position {place}")))?;
        out.push(Placed::new(place, read, clock));
    }
    facts::sort(&mut out);
    Ok(out)
}

/// An entry as it counts.
pub(super) fn counted(
    conn: &Connection,
    path: &Path,
    entry: Entry,
    known_to: i64,
) -> Result<Entry> {
    let by = amendments(conn, path, &entry.id, known_to)?;
    Ok(if by.is_empty() { entry } else { amended(&entry, by.iter().map(|p| &*p.entry)) })
}
