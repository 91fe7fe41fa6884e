//! `--as-of` and `--known-on`: questions asked of the book as it was.
//!
//! A command that opens the book through [`super::context::Context::open`] gets the view that was
//! asked for, and its clock; the answer says what it is when it is printed. Commands that write, or
//! that look at the file itself, know only the present.

use super::failure::{Failure, Kind, usage};
use crate::app::{KnownOn, Past};
use crate::model::{Clock, Moment, Recorded};

/// What was typed.
#[derive(Clone, Debug)]
pub(super) struct Words {
    pub as_of: Option<String>,
    pub known_on: Option<String>,
}

/// Reads what was typed, by the clock of the book.
pub(super) fn read(words: &Words, clock: Clock) -> Result<Past, Failure> {
    let (as_of, known_on) = (words.as_of.as_deref(), words.known_on.as_deref());
    let as_of = as_of
        .map(|text| Moment::parse_at(text, clock).map_err(|e| usage(format!("--as-of: {e}"))))
        .transpose()?;
    let known_on = known_on
        .map(|text| {
            if let Ok(moment) = Moment::parse_at(text, clock) {
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
    Ok(Past { as_of, known_on })
}

/// Says that the book was begun later.
pub(super) fn nothing_yet(on: Moment, begun: Option<Recorded>) -> Failure {
    let failure = usage(format!("--known-on: nothing had been written on {on}"));
    match begun {
        Some(begun) => failure
            .hint(format!("the book was begun at {begun}"))
            .hint("--as-of asks what was true on a date, by what the book knows now"),
        None => failure,
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
