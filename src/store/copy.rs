//! A copy of the book without some of its entries, derived anew: in memory, the rest of a large one on
//! disk, in a file without a name. It is how the book is seen as it was known, and as of a date where
//! what is not seen cannot be left out by itself.

use std::collections::BTreeMap;
use std::path::Path;
use std::time::Duration;

use rusqlite::Connection;
use rusqlite::backup::{Backup, StepResult};

use super::amended::counted;
use super::as_of::hidden_with_others;
use super::book::Book;
use super::clock;
use super::connect::keep_plans;
use super::entries::{as_stored, at_position, sql_list};
use super::error::{InFile, Result, StoreError};
use super::{functions, project};
use crate::ledger::RawEntry;
use crate::model::{Clock, DAY_MS, EntryKind, Instant, Vocabulary};
use crate::projection::facts::Placed;
use crate::projection::horizon::words_at;
use crate::projection::kinds::Topic;

/// What a view leaves out.
#[derive(Debug, Default)]
pub(super) struct LeftOut {
    /// Known entries that tell of later.
    pub later: usize,
    /// Runs that were under way.
    pub under_way: Vec<i64>,
}

/// How often, and how long, to wait for a writer who has the file for itself.
const PATIENCE: (u32, Duration) = (500, Duration::from_millis(10));

/// Most of a copy that is held in memory, KiB.
const MEMORY: i64 = 1 << 20;

impl Book {
    /// A copy of the book up to a place, as seen from a date.
    pub(super) fn copy_without(
        &self,
        before: Option<Instant>,
        known_to: i64,
    ) -> Result<(Connection, LeftOut)> {
        let (copy, path) = (self.copy()?, &self.path);
        copy.execute_batch(&format!(
            "CREATE TEMP TABLE left_out AS SELECT position FROM entry WHERE position > {known_to};
             CREATE UNIQUE INDEX temp.left_out_position ON left_out (position);"
        ))
        .in_file(path)?;
        let mut left_out = LeftOut::default();
        if let Some(horizon) = before {
            let by_time = copy
                .execute(
                    "INSERT INTO temp.left_out SELECT entry FROM entry_time
                     WHERE at >= ?1 AND entry <= ?2",
                    [horizon.0, known_to],
                )
                .in_file(path)?;
            let with_others = hidden_with_others(&copy, path, horizon, known_to)?;
            left_out.later = by_time + with_others.len();
            let mut add =
                copy.prepare("INSERT OR IGNORE INTO temp.left_out VALUES (?1)").in_file(path)?;
            for position in with_others {
                add.execute([position]).in_file(path)?;
            }
        }
        let reworded = match before {
            Some(horizon) => reworded(&copy, path, horizon, known_to)?,
            None => BTreeMap::new(),
        };
        copy.execute("DELETE FROM entry WHERE position IN (SELECT position FROM left_out)", [])
            .in_file(path)?;
        for (position, raw) in &reworded {
            copy.execute(
                "UPDATE entry SET effective = ?2, body = ?3 WHERE position = ?1",
                (position, &raw.effective, &raw.body),
            )
            .in_file(path)?;
            // Its amendments are in the words that were cut.
            copy.execute(
                "DELETE FROM entry WHERE position IN
                     (SELECT entry FROM book_fact WHERE topic = ?1 AND subject = ?2)",
                (Topic::Amends.word(), raw.label()),
            )
            .in_file(path)?;
            if raw.kind == EntryKind::Run.word() {
                left_out.under_way.push(*position);
            }
        }
        copy.execute_batch("DROP TABLE temp.left_out").in_file(path)?;
        project::anew(&copy, path)?;
        copy.execute_batch("COMMIT").in_file(path)?;
        Ok((copy, left_out))
    }

    /// A copy that nobody else sees, inside a transaction, without guards.
    pub(super) fn copy(&self) -> Result<Connection> {
        let path = &self.path;
        let mut copy = Connection::open("").in_file(path)?;
        let set = |conn: &Connection| -> rusqlite::Result<()> {
            conn.pragma_update(None, "cache_size", -MEMORY)?;
            conn.pragma_update(None, "synchronous", "OFF")?;
            conn.pragma_update(None, "temp_store", "MEMORY")?;
            conn.set_prepared_statement_cache_capacity(256);
            keep_plans(conn)?;
            functions::register(conn)
        };
        set(&copy).in_file(path)?;
        {
            let backup = Backup::new(&self.conn, &mut copy).in_file(path)?;
            // All pages at once: one state of the book.
            let mut tries = 0;
            while backup.step(-1).in_file(path)? != StepResult::Done {
                tries += 1;
                if tries > PATIENCE.0 {
                    return Err(StoreError::Busy { path: path.clone() });
                }
                std::thread::sleep(PATIENCE.1);
            }
        }
        // What stands in a stranger's file as a trigger has no business here, nor have ours.
        let triggers: Vec<String> = {
            let mut statement = copy
                .prepare("SELECT name FROM sqlite_schema WHERE type = 'trigger'")
                .in_file(path)?;
            let names = statement.query_map([], |r| r.get(0)).in_file(path)?;
            names.collect::<rusqlite::Result<_>>().in_file(path)?
        };
        for name in triggers {
            let sql = format!("DROP TRIGGER \"{}\"", name.replace('"', "\"\""));
            copy.execute_batch(&sql).in_file(path)?;
        }
        copy.pragma_update(None, "journal_mode", "OFF").in_file(path)?;
        copy.execute_batch("BEGIN").in_file(path)?;
        Ok(copy)
    }
}

/// Entries that are seen in other words than their own.
fn reworded(
    copy: &Connection,
    path: &Path,
    horizon: Instant,
    known_to: i64,
) -> Result<BTreeMap<i64, RawEntry>> {
    // As written, a day may be two off by clock offsets and by where the day ends.
    let about = Instant(horizon.0.saturating_sub(2 * DAY_MS)).day(Clock::UTC).to_string();
    let mut statement = copy
        .prepare(&format!(
            "SELECT position FROM entry WHERE kind IN ({})
                 AND substr(effective, 1, 10) >= ?1
                 AND position NOT IN (SELECT position FROM temp.left_out)",
            sql_list([EntryKind::Run, EntryKind::Decision])
        ))
        .in_file(path)?;
    let places = statement.query_map([about], |r| r.get(0)).in_file(path)?;
    let clock = clock::of(copy, path)?;
    let mut out = BTreeMap::new();
    for position in places {
        let position = position.in_file(path)?;
        let Some(stored) = at_position(copy, path, position)? else { continue };
        let entry = counted(copy, path, stored.raw.read()?, known_to)?;
        if let Some(words) = words_at(&Placed::new(position, entry, clock), horizon) {
            out.insert(position, as_stored(&words)?);
        }
    }
    Ok(out)
}
