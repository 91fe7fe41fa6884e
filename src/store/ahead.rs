//! What lies ahead: entries dated to a day that is to come.

use super::book::Book;
use super::entries::{at_position, sql_list};
use super::error::{InFile, Result};
use crate::model::{EntryId, EntryKind, Instant};
use crate::projection::kinds::{Role, kinds};

/// An entry that is dated ahead.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ahead {
    pub entry: EntryId,
    pub kind: EntryKind,
    /// Its date as written.
    pub date: String,
}

/// Entries that are dated ahead.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct LyingAhead {
    pub count: usize,
    /// The first of them, by date.
    pub first: Vec<Ahead>,
}

/// So many are told by name.
const TOLD: usize = 5;

impl LyingAhead {
    pub const fn is_empty(&self) -> bool {
        self.count == 0
    }
}

impl Book {
    /// Entries that stand and begin at an instant or later, and runs that go on past it: what a view
    /// up to that instant would have to leave out.
    pub fn lying_ahead(&self, from: Instant) -> Result<LyingAhead> {
        let waiting = sql_list(kinds(Role::waits));
        let places: Vec<i64> = self
            .conn
            .prepare_cached(&format!(
                "SELECT entry FROM (
                     SELECT t.entry AS entry, t.at AS at FROM entry_time t WHERE t.at >= ?1
                     UNION SELECT r.run, r.finish FROM run r WHERE r.finish > ?1 AND r.start < ?1)
                 WHERE entry NOT IN (SELECT entry FROM struck)
                 AND (SELECT kind FROM entry e WHERE e.position = entry) NOT IN ({waiting})
                 ORDER BY at, entry"
            ))
            .and_then(|mut s| s.query_map([from.0], |r| r.get(0))?.collect())
            .in_file(&self.path)?;
        let mut out = LyingAhead { count: places.len(), first: Vec::new() };
        for position in places.into_iter().take(TOLD) {
            let Some(stored) = at_position(&self.conn, &self.path, position)? else { continue };
            let entry = stored.raw.read()?;
            let (kind, date) = (entry.body.kind(), entry.effective.to_string());
            out.first.push(Ahead { entry: entry.id, kind, date });
        }
        Ok(out)
    }
}
