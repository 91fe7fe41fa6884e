//! Books as they were: what was true on a date, what the book said on a date.

use super::Error;
use crate::model::{EntryId, Instant, Moment, Recorded};
use crate::report::Block;
use crate::report::past::{Seen, blocks};
use crate::store::{Book, LookBack};

/// How far the book is known.
#[derive(Clone, Debug)]
pub enum KnownOn {
    /// As on a day, or at a time.
    Date(Moment),
    /// As when it held an entry.
    Entry(EntryId),
}

/// From where the book is looked at.
#[derive(Clone, Debug, Default)]
pub struct Past {
    /// What was true on a day, or at a time; all that is known when absent.
    pub as_of: Option<Moment>,
    /// What the book said then; all that it says when absent.
    pub known_on: Option<KnownOn>,
}

/// A view that was made.
pub(super) struct Made {
    /// The time at which its clock stands.
    pub now: Recorded,
    pub blocks: Vec<Block>,
}

/// First instant after a moment.
fn after(moment: Moment, offset_minutes: i32) -> Instant {
    match moment {
        Moment::Day(_) => moment.end(offset_minutes),
        Moment::Clock(_) => Instant(moment.start(offset_minutes).0.saturating_add(1)),
    }
}

impl Past {
    /// The book as it was.
    pub(super) fn of(&self, book: &Book, now: Recorded) -> Result<(Book, Made), Error> {
        let offset = now.offset_minutes;
        let mut clock = now.at;
        let known_to = match &self.known_on {
            None => None,
            Some(KnownOn::Date(moment)) => {
                let until = after(*moment, offset);
                clock = Instant(until.0 - 1).min(now.at);
                let place = book.place_before(until)?;
                Some(place.ok_or_else(|| nothing_yet(book, *moment))?)
            }
            Some(KnownOn::Entry(entry)) => {
                let place = book.place_with(entry)?;
                clock = Instant(book.entry_at(place)?.raw.recorded_ms);
                Some(place)
            }
        };
        let before = self.as_of.map(|m| after(m, offset));
        if let Some(before) = before {
            clock = Instant(before.0 - 1);
        }
        let view = book.look_back(&LookBack { known_to, before })?;
        let now = Recorded { at: clock, offset_minutes: offset };
        let seen = Seen {
            as_of: self.as_of.map(|m| m.to_string()),
            known_on: self.known_on.as_ref().map(|k| match k {
                KnownOn::Date(m) => m.to_string(),
                KnownOn::Entry(e) => e.to_string(),
            }),
            place: view.position,
            head: view.head.as_ref().map(ToString::to_string),
            later: view.later,
            under_way: view.under_way.iter().map(ToString::to_string).collect(),
            now: clock,
        };
        let blocks = blocks(&view.book, &seen)?;
        Ok((view.book, Made { now, blocks }))
    }
}

fn nothing_yet(book: &Book, on: Moment) -> Error {
    let begun = book.entry_at(1).ok().map(|first| Recorded {
        at: Instant(first.raw.recorded_ms),
        offset_minutes: first.raw.recorded_offset,
    });
    Error::NothingYet { on, begun }
}
