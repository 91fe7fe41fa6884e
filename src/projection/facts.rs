//! Entries with their place in the book, in the one order in which folds read them. The order is
//! made of what an entry says and of its name, never of when it arrived.

use std::sync::Arc;

use chrono::NaiveDate;

use crate::model::{Body, Entry, EntryId, Instant};

use super::kinds::role;

/// An entry and its place in this book. The entry is shared: one that names thousands of joints
/// is read by the folds of them all.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Placed {
    /// Order of arrival here; names the entry in the projections, decides nothing.
    pub position: i64,
    /// The entry.
    pub entry: Arc<Entry>,
}

impl Placed {
    /// An entry at its place.
    pub fn new(position: i64, entry: Entry) -> Self {
        Self { position, entry: Arc::new(entry) }
    }

    /// The instant at which folds take the fact in: its beginning, or for a run its end.
    pub fn at(&self) -> Instant {
        if matches!(self.entry.body, Body::Run(_)) {
            self.entry.ends()
        } else {
            self.entry.starts()
        }
    }

    /// The civil day of the fact, at the clock of its own place.
    pub fn day(&self) -> NaiveDate {
        self.entry.effective.day()
    }

    /// Sort key of the canonical order.
    pub fn key(&self) -> (Instant, u8, &EntryId) {
        (self.at(), role(self.entry.body.kind()).rank, &self.entry.id)
    }
}

/// Puts entries in the canonical order.
pub fn sort(entries: &mut [Placed]) {
    entries.sort_by(|a, b| a.key().cmp(&b.key()));
}
