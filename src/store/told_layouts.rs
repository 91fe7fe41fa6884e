//! Layouts of files, as entries tell them: of each header the last one that stands.

use super::book::Book;
use super::entries::at_position;
use super::error::{InFile, Result};
use crate::model::{Body, Clock, EntryId, EntryKind, Instant, ToldLayout};

impl Book {
    /// Layouts in force: of those of one header the last by the time of its entry, then by its name,
    /// whichever site told it, unless it is withdrawn.
    pub fn told_layouts(&self, clock: Clock) -> Result<Vec<ToldLayout>> {
        let places: Vec<i64> = self
            .conn
            .prepare(
                "SELECT position FROM entry WHERE kind = ?1
                 AND position NOT IN (SELECT entry FROM struck)",
            )
            .and_then(|mut s| s.query_map([EntryKind::Layout.word()], |r| r.get(0))?.collect())
            .in_file(&self.path)?;
        let mut told: Vec<((Instant, EntryId), ToldLayout)> = Vec::new();
        for place in places {
            let Some(stored) = at_position(&self.conn, &self.path, place)? else { continue };
            let entry = stored.raw.read()?;
            let since = (entry.starts(clock), entry.id.clone());
            let Body::Layout(body) = entry.body else { continue };
            told.push((since, ToldLayout { body, told_by: entry.id, author: entry.author }));
        }
        told.sort_by(|a, b| a.0.cmp(&b.0));
        let mut out: Vec<ToldLayout> = Vec::new();
        for (_, layout) in told {
            out.retain(|o| !o.body.is_of_the_head_of(&layout.body));
            out.push(layout);
        }
        out.retain(|layout| !layout.body.withdrawn);
        Ok(out)
    }
}
