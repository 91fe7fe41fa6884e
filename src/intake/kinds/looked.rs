//! Which rows of inspections tell of work done. A list of joints that is issued with serials, dates
//! and names in it tells of none until somebody writes into it what was measured, found or done.

use super::inspection::finding_columns;
use crate::intake::diagnostic::Diagnostics;
use crate::intake::table::{Row, Table};
use crate::model::{InspectionBody, Reading, ReadingKind, Scope, fold};

/// Fields that say who, when, where and by what rules, and nothing of what was done.
const ABOUT: [&str; 8] =
    ["serial", "date", "standard", "firm", "inspector", "report", "instrument", "location"];

/// Fields that are said of a joint and are no work on it.
const ASIDE: [&str; 2] = ["paint", "remark"];

/// Fields that say how joints were looked at.
const HOW: [&str; 2] = ["methods", "covers"];

/// Titles of the columns of an issued sheet that are there to be read.
const TO_READ: [&str; 4] = ["key", "now", "last", "open before"];

/// Texts that say that nothing was found.
pub(super) fn is_clean(text: &str) -> bool {
    matches!(
        fold(text).as_str(),
        "" | "none"
            | "nil"
            | "ok"
            | "no"
            | "good"
            | "clean"
            | "no_findings"
            | "no_defects"
            | "none_found"
            | "nothing_found"
    )
}

/// What is entered in a row itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Entered {
    Nothing,
    /// Something is said of the joint, and no work on it.
    Aside,
    /// A reading, a finding, a method, a class. Methods for the whole file are said of such rows
    /// alone, and of all rows where none has a cell for any of these.
    Work,
}

/// What is entered in a row itself.
pub(super) fn entered(row: &Row<'_>) -> Entered {
    let mut cells = row.cells().filter(|c| !ABOUT.contains(&c.key)).peekable();
    if cells.peek().is_none() {
        return Entered::Work;
    }
    let told = cells.filter(|c| c.says || found_nothing(c.key, c.text));
    // One cell over many rows says how joints were looked at, not which of them, and finds none sound.
    let told = told.filter(|c| !c.merged || !(HOW.contains(&c.key) || is_clean(c.text)));
    let told = told.map(|c| if ASIDE.contains(&c.key) { Entered::Aside } else { Entered::Work });
    told.max().unwrap_or(Entered::Nothing)
}

/// Whether a cell for findings says that somebody looked and found nothing.
fn found_nothing(key: &str, text: &str) -> bool {
    let has_word = text.chars().any(char::is_alphabetic);
    has_word && is_clean(text) && finding_columns().iter().any(|c| c.0 == key)
}

/// What an inspection rests on: a reading, a finding, or how the joint was looked at.
pub(super) const fn is_looked_at(body: &InspectionBody) -> bool {
    !(body.readings.is_empty()
        && body.findings.is_empty()
        && body.methods.is_empty()
        && body.covers.is_empty())
}

/// What readings cover by themselves, where nobody states how they were taken.
pub fn read_scopes(readings: &[Reading]) -> Vec<Scope> {
    let scopes = [(ReadingKind::Wall, Scope::Wall), (ReadingKind::BodyOd, Scope::BodyOd)];
    let taken = |kind| readings.iter().any(|r| r.what == kind);
    scopes.into_iter().filter(|(kind, _)| taken(*kind)).map(|(_, scope)| scope).collect()
}

/// Takes the methods out of a sheet that was issued with them filled in: they say what was asked
/// for, and nobody has stated that it was done.
pub(super) fn drop_planned_methods(table: &mut Table, diagnostics: &mut Diagnostics) {
    let titled = |title: &str| table.layout.unused.iter().any(|(_, t)| t == title);
    if !TO_READ.iter().all(|title| titled(title)) {
        return;
    }
    let fields = table.fields;
    let planned =
        |c: &crate::intake::table::Column| fields[c.field].key == "methods" && c.title == "Methods";
    let Some(column) = table.layout.columns.iter().find(|c| planned(c)).cloned() else { return };
    table.layout.columns.retain(|c| !planned(c));
    table.layout.unused.push((column.number, column.title.clone()));
    let message = "the methods of this sheet stood in it before it was filled in; nobody states \
                   that they were used, and readings alone are taken";
    diagnostics.push(table.warning(message).in_column(column.number, &column.title).help(
        "say what was done on the joints that were filled in: --set methods=\"visual tube; od \
         gauge\", or title the column 'Methods used' where each cell says it",
    ));
}
