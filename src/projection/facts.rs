//! Entries with their place in the book, in the one order in which folds read them. The order is
//! made of what an entry says and of its name, never of when it arrived.

use std::sync::Arc;

use chrono::NaiveDate;

use crate::model::{Body, Clock, Entry, EntryId, Instant};

use super::kinds::role;

/// An entry and its place in this book. The entry is shared: one that names thousands of joints
/// is read by the folds of them all.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Placed {
    /// Order of arrival here; names the entry in the projections, decides nothing.
    pub position: i64,
    /// The entry.
    pub entry: Arc<Entry>,
    /// The clock of this book, by which its days are days.
    pub clock: Clock,
}

impl Placed {
    /// An entry at its place.
    pub fn new(position: i64, entry: Entry, clock: Clock) -> Self {
        Self { position, entry: Arc::new(entry), clock }
    }

    /// The instant at which folds take the fact in: its beginning, or for a run its end.
    pub fn at(&self) -> Instant {
        if matches!(self.entry.body, Body::Run(_)) {
            self.entry.ends(self.clock)
        } else {
            self.entry.starts(self.clock)
        }
    }

    /// The instant at which the fact began: before [`Self::at`] for a run.
    pub fn began(&self) -> Instant {
        let Body::Run(b) = &self.entry.body else { return self.at() };
        // Told by a day and a clock time, it may end before it begins by another clock.
        b.start.start(self.clock).min(self.at())
    }

    /// The civil day of the fact.
    pub fn day(&self) -> NaiveDate {
        self.entry.effective.day(self.clock)
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
