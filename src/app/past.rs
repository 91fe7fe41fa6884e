//! Books as they were: what was true on a date, what the book said on a date.

use super::Error;
use crate::model::{Clock, EntryId, Instant, Moment, Recorded};
use crate::report::Block;
use crate::report::past::{Seen, blocks};
use crate::store::{Book, LookBack, LyingAhead};

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
fn after(moment: Moment, clock: Clock) -> Instant {
    match moment {
        Moment::Day(_) => moment.end(clock),
        Moment::Clock(_) => Instant(moment.start(clock).0.saturating_add(1)),
    }
}

/// First instant of the day after that of an instant: what is dated from then on lies ahead.
pub(super) fn tomorrow(now: Instant, clock: Clock) -> Instant {
    Moment::Day(now.day(clock)).end(clock)
}

/// Says that entries dated ahead do not count.
pub(super) fn note_of(ahead: &LyingAhead) -> Block {
    let mut told: Vec<String> = ahead
        .first
        .iter()
        .map(|a| format!("{} ({} of {})", a.entry, a.kind.word().replace('_', " "), a.date))
        .collect();
    if ahead.count > told.len() {
        told.push(format!("and {} more", ahead.count - told.len()));
    }
    let (are, their) = if ahead.count == 1 {
        ("entry is", "its day comes")
    } else {
        ("entries are", "their days come")
    };
    Block::Note(format!(
        "{} {are} dated after today and not counted until {their}: {}",
        ahead.count,
        told.join(", ")
    ))
}

impl Past {
    /// The book as it was.
    pub(super) fn of(
        &self,
        book: &Book,
        now: Recorded,
        clock: Clock,
    ) -> Result<(Book, Made), Error> {
        let mut at = now.at;
        let known_to = match &self.known_on {
            None => None,
            Some(KnownOn::Date(moment)) => {
                let until = after(*moment, clock);
                at = Instant(until.0 - 1).min(now.at);
                let place = book.place_before(until, now.at)?;
                Some(place.ok_or_else(|| nothing_yet(book, *moment))?)
            }
            Some(KnownOn::Entry(entry)) => {
                let place = book.place_with(entry)?;
                at = book.time_of_place(place, now.at)?;
                Some(place)
            }
        };
        let asked = self.as_of.map(|m| after(m, clock));
        if let Some(before) = asked {
            at = Instant(before.0 - 1);
        }
        let mut view = book.look_back(&LookBack { known_to, before: asked })?;
        let mut ahead = None;
        if asked.is_none() {
            let tomorrow = tomorrow(at, clock);
            let lying = view.book.lying_ahead(tomorrow)?;
            if !lying.is_empty() {
                ahead = Some(note_of(&lying));
                view = book.look_back(&LookBack { known_to, before: Some(tomorrow) })?;
            }
        }
        let now = Recorded { at, offset_minutes: clock.offset_minutes(at) };
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
            now: at,
        };
        let mut blocks = blocks(&view.book, &seen)?;
        blocks.extend(ahead);
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
