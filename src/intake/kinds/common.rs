//! What the kinds of file have in common.

use crate::intake::lookup::Lookup;
use crate::intake::table::{Field, Holds, Row};
use crate::model::{EntryId, Moment};

/// What a reader of rows needs besides the rows.
pub(in crate::intake) struct Context<'a> {
    pub lookup: &'a dyn Lookup,
    /// Clashes with the book are warnings, not errors.
    pub keep_conflicts: bool,
}

/// The date of a row, which every fact needs.
pub(super) fn date(row: &mut Row<'_>) -> Option<Moment> {
    if row.text("date").is_none() {
        row.missing("date", "every fact needs the day it happened: add a date column, or state one date for the file");
        return None;
    }
    row.moment("date")
}

pub(super) fn text(key: &str, aliases: &str) -> Field {
    Field::new(key, Holds::Text, aliases)
}

pub(super) fn when(key: &str, aliases: &str) -> Field {
    Field::new(key, Holds::When, aliases)
}

pub(super) fn serial() -> Field {
    Field::new("serial", Holds::Serial, SERIALS)
}

/// Titles of the column that names a joint. "Joint no" is not among them: it numbers rows.
pub(in crate::intake) const SERIALS: &str = "serial_number serial_no serial_nr serial_num serials sn s_n ser_no joint joint_serial pipe_serial joint_id stencil";

/// Titles of the column that says when something happened.
pub(super) const DATES: &str = "day when effective date_time datetime date_of_event";

pub(super) fn entries(row: &mut Row<'_>, c: &Context<'_>, key: &str) -> Vec<EntryId> {
    let text = row.text(key).unwrap_or_default();
    let mut out = Vec::new();
    for part in text.split([';', ',']).map(str::trim).filter(|p| !p.is_empty()) {
        match part.parse::<EntryId>() {
            Ok(entry) if c.lookup.has_entry(&entry) => out.push(entry),
            Ok(entry) => row.wrong(Some(key), format!("the book has no entry {entry}"), ""),
            Err(e) => row.wrong(Some(key), e.to_string(), ""),
        }
    }
    out
}

/// The words that correct a field of an entry.
pub fn amend_with(entry: &EntryId) -> String {
    format!("pipelore enter amend entry={entry} FIELD=VALUE reason='…'")
}
