//! `--as-of` and `--known-on`: questions asked of the book as it was.
//!
//! A command that opens the book through [`super::context::Context::open`] gets the view that was
//! asked for, and its clock; the answer says what it is when it is printed. Commands that write, or
//! that look at the file itself, know only the present.

use super::failure::{Failure, Kind, usage};
use crate::model::{EntryId, Instant, Moment, Recorded};
use crate::report::Block;
use crate::report::past::{Seen, blocks};
use crate::store::{Book, LookBack};

/// How far the book is known.
#[derive(Clone, Debug)]
enum KnownOn {
    /// As on a day, or at a time.
    Date(Moment),
    /// As when it held an entry.
    Entry(EntryId),
}

/// From where the book is looked at.
#[derive(Clone, Debug, Default)]
pub(super) struct Past {
    as_of: Option<Moment>,
    known_on: Option<KnownOn>,
}

/// A view that was made.
#[derive(Clone, Debug)]
pub(super) struct Made {
    /// The time at which its clock stands.
    pub now: Recorded,
    /// What it is.
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
    /// Reads what was typed; `None` for the present.
    pub(super) fn read(
        as_of: Option<&str>,
        known_on: Option<&str>,
        offset_minutes: i32,
    ) -> Result<Option<Self>, Failure> {
        if as_of.is_none() && known_on.is_none() {
            return Ok(None);
        }
        let as_of = as_of
            .map(|text| {
                Moment::parse_at(text, offset_minutes).map_err(|e| usage(format!("--as-of: {e}")))
            })
            .transpose()?;
        let known_on = known_on
            .map(|text| {
                if let Ok(moment) = Moment::parse_at(text, offset_minutes) {
                    return Ok(KnownOn::Date(moment));
                }
                text.parse().map(KnownOn::Entry).map_err(|_| {
                    usage(format!(
                        "--known-on: '{text}' is neither a date like 2026-03-04 nor an entry like \
                         yard-17"
                    ))
                })
            })
            .transpose()?;
        Ok(Some(Self { as_of, known_on }))
    }

    /// The book as it was.
    pub(super) fn of(&self, book: &Book, now: Recorded) -> Result<(Book, Made), Failure> {
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

fn nothing_yet(book: &Book, moment: Moment) -> Failure {
    let failure = usage(format!("--known-on: nothing had been written on {moment}"));
    match book.entry_at(1) {
        Ok(first) => {
            let recorded = Recorded {
                at: Instant(first.raw.recorded_ms),
                offset_minutes: first.raw.recorded_offset,
            };
            failure
                .hint(format!("the book was begun at {recorded}"))
                .hint("--as-of asks what was true on a date, by what the book knows now")
        }
        Err(_) => failure,
    }
}

/// Says that the past cannot be written.
pub(super) fn refused(name: &str) -> Failure {
    Failure::new(
        Kind::Usage,
        format!("`{name}` knows the book only as it is; --as-of and --known-on go with questions"),
    )
    .hint("a fact is dated when it happened, whenever it is written: give it its date")
    .hint("pipelore find 'class = premium' --as-of 2026-03-01")
}
