//! Entries with their place in the book, in the one order in which folds read them. The order is
//! made of what an entry says and of its name, never of when it arrived.

use std::sync::Arc;

use chrono::NaiveDate;

use crate::model::{Body, Entry, EntryId, Instant};

/// An entry and its place in this book. The entry is shared: one that names thousands of joints
/// is read by the folds of them all.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Placed {
    /// Order of arrival here; names the entry in the projections, decides nothing.
    pub position: i64,
    /// The entry.
    pub entry: Arc<Entry>,
}

/// Place of runs in the order of facts at one instant, see [`rank`].
pub const RANK_OF_RUNS: u8 = 14;

/// Order of facts at one instant (for facts of a day: at its beginning): what came in, what took a
/// joint out of service, what was seen, decided, mended, moved, run.
pub const fn rank(body: &Body) -> u8 {
    match body {
        Body::Epoch(_) | Body::Arrival(_) | Body::Strike(_) | Body::Adoption(_) => 0,
        Body::Joint(_) => 1,
        Body::Opening(_) => 2,
        Body::Identity(_) => 3,
        Body::Gap(_) => 4,
        Body::Survey(_) | Body::Instrument(_) | Body::Check(_) => 5,
        Body::Event(_) | Body::Failure(_) => 6,
        Body::Inspection(_) => 7,
        Body::Decision(_) => 8,
        Body::Repair(_) => 9,
        Body::Makeup(_) => 10,
        Body::HireIn(_) => 11,
        Body::Move(_) => 12,
        Body::HireOut(_) => 13,
        Body::Run(_) => RANK_OF_RUNS,
        Body::Note(_) => 15,
    }
}

impl Placed {
    /// An entry at its place.
    pub fn new(position: i64, entry: Entry) -> Self {
        Self { position, entry: Arc::new(entry) }
    }

    /// The instant at which folds take the fact in: its beginning, or for a run its end.
    pub fn at(&self) -> Instant {
        match self.entry.body {
            Body::Run(_) => self.entry.ends(),
            _ => self.entry.starts(),
        }
    }

    /// The civil day of the fact, at the clock of its own place.
    pub fn day(&self) -> NaiveDate {
        self.entry.effective.day()
    }

    /// Sort key of the canonical order.
    pub fn key(&self) -> (Instant, u8, &EntryId) {
        (self.at(), rank(&self.entry.body), &self.entry.id)
    }
}

/// Puts entries in the canonical order.
pub fn sort(entries: &mut [Placed]) {
    entries.sort_by(|a, b| a.key().cmp(&b.key()));
}
