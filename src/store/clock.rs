//! The civil clock by which a book goes: the one that its site told last.

use std::collections::BTreeSet;
use std::path::Path;

use rusqlite::{Connection, OptionalExtension};

use super::entries::at_position;
use super::error::{InFile, Result, StoreError};
use super::migrate;
use crate::model::{Body, Clock, ClockBody, ClockError, EntryKind, EpochBody};
use crate::projection::VERSION;

/// Works the clock out of the entries that stand. Only the site that keeps the book tells it; where it
/// never did, the offset recorded with the first entry does.
pub(super) fn told(conn: &Connection, path: &Path, struck: &BTreeSet<i64>) -> Result<Clock> {
    let site: String =
        conn.query_row("SELECT site FROM book WHERE only = 1", [], |r| r.get(0)).in_file(path)?;
    told_by(conn, path, &site, struck)
}

/// The same of a book of which only its site is known.
pub(super) fn told_by(
    conn: &Connection,
    path: &Path,
    site: &str,
    struck: &BTreeSet<i64>,
) -> Result<Clock> {
    let places: Vec<i64> = conn
        .prepare(&format!(
            "SELECT position FROM entry WHERE site = ?1 AND kind IN ('{}', '{}')
             ORDER BY epoch DESC, number DESC",
            EntryKind::Epoch.word(),
            EntryKind::Clock.word()
        ))
        .and_then(|mut s| s.query_map([site], |r| r.get(0))?.collect())
        .in_file(path)?;
    for position in places.into_iter().filter(|p| !struck.contains(p)) {
        let Some(stored) = at_position(conn, path, position)? else { continue };
        let entry = stored.raw.read()?;
        let (Body::Clock(ClockBody { clock, .. })
        | Body::Epoch(EpochBody { clock: Some(clock), .. })) = entry.body
        else {
            continue;
        };
        return clock.parse().map_err(|e: ClockError| StoreError::Fold {
            entry: entry.id.to_string(),
            what: format!("{e}; a newer version may know it"),
        });
    }
    let first: Option<i32> = conn
        .query_row(
            "SELECT recorded_offset FROM entry WHERE site = ?1 ORDER BY epoch, number LIMIT 1",
            [site],
            |r| r.get(0),
        )
        .optional()
        .in_file(path)?;
    Ok(Clock::of_offset(first.unwrap_or(0)))
}

/// The clock by which the derived rows were derived, where they are of this version.
pub(super) fn of_rows(conn: &Connection, path: &Path) -> Result<Option<Clock>> {
    let noted: Option<String> = conn
        .prepare_cached("SELECT clock FROM projection_state")
        .and_then(|mut s| s.query_row([], |r| r.get(0)).optional().map(Option::flatten))
        .in_file(path)?;
    Ok(noted.and_then(|name| name.parse().ok()))
}

/// The clock of a book whose derived rows may be of another version.
pub(super) fn of(conn: &Connection, path: &Path) -> Result<Clock> {
    let of_version = migrate::projection_version(conn).in_file(path)? == VERSION;
    if of_version && let Some(clock) = of_rows(conn, path)? {
        return Ok(clock);
    }
    told(conn, path, &BTreeSet::new())
}
