//! What `enter` and `assess` share: FIELD=VALUE words, read as the one row of a file would be.

use super::error::words as usage;
use super::{Caller, Error};
use crate::intake::{
    Delimiter, Diagnostic, Diagnostics, Kind, Lookup, MemoryFiles, Options, Outcome, Severity,
    World, unwatched,
};
use crate::model::{Body, fold};

/// Name and value of each word.
pub(crate) type Fields = Vec<(String, String)>;

/// What the reader calls the place of these words.
const PLACE: &str = "command line";

/// Name and value of each word.
pub(crate) fn pairs(words: &[String]) -> Result<Fields, Error> {
    words
        .iter()
        .map(|word| match word.split_once('=') {
            Some((name, value)) => Ok((name.trim().to_owned(), value.trim().to_owned())),
            None => Err(usage(format!("'{word}' says nothing; write FIELD=VALUE, like end=pin"))),
        })
        .collect()
}

/// Whether a field is among them, under one of its names.
pub(crate) fn names(fields: &[(String, String)], any: &[&str]) -> bool {
    fields.iter().any(|(name, _)| any.contains(&fold(name).as_str()))
}

/// Names of the date of a fact.
pub(crate) const DATE: &[&str] = &["date", "day", "at", "when", "time"];

/// Names of the joint.
pub(crate) const JOINT: &[&str] =
    &["joint", "serial", "serials", "serial_number", "serial_no", "sn"];

/// Adds the present as the date, where none is given.
pub(crate) fn dated(fields: &mut Fields, caller: &Caller) {
    if !names(fields, DATE) {
        fields.push(("date".to_owned(), caller.present().to_string()));
    }
}

/// Reads the words as a file of one row. Drafts carry no evidence: nothing but the words was there.
pub(crate) fn read(
    kind: Kind,
    fields: &[(String, String)],
    lookup: &dyn Lookup,
    caller: &Caller,
    keep_conflicts: bool,
) -> Result<Outcome, Error> {
    let files = MemoryFiles::default().with(PLACE, row(fields)?);
    let world = World { files: &files, lookup, progress: &unwatched };
    let options = Options {
        kind: Some(kind),
        delimiter: Some(Delimiter::Comma),
        times: caller.times(),
        keep_conflicts,
        every_column: true,
        ..Options::default()
    };
    let mut outcome = crate::intake::read(PLACE, &options, &world);
    let looked = outcome.drafts.iter().any(|d| matches!(d.body, Body::Inspection(_)));
    if kind == Kind::Inspections && !looked && !outcome.is_refused() {
        outcome.diagnostics.push(
            Diagnostic::error(PLACE, "no reading, no finding and no method: nothing was looked at")
                .help(
                    "say what was measured or found, or by which methods nothing was: methods=\
                     'visual tube; visual connection'; a remark alone is a note",
                ),
        );
    }
    for draft in &mut outcome.drafts {
        draft.evidence = None;
    }
    Ok(outcome)
}

/// Refuses words that cannot be used.
pub(super) fn refused(outcome: &Outcome, what: &'static str) -> Result<(), Error> {
    if outcome.is_refused() || outcome.drafts.is_empty() {
        return Err(Error::Fields { what, diagnostics: outcome.diagnostics.clone() });
    }
    Ok(())
}

/// The failure of words with which something is wrong.
pub(super) const fn refuse(what: &'static str, diagnostics: Diagnostics) -> Error {
    Error::Fields { what, diagnostics }
}

/// What is wrong, word by word. The place is the word itself: there is no row to point at.
pub(crate) fn wrong(diagnostics: &Diagnostics) -> Vec<String> {
    let mut lines = Vec::new();
    for d in diagnostics.list().iter().filter(|d| d.severity == Severity::Error) {
        let place = match (&d.column, &d.value) {
            (Some(c), Some(v)) => format!("{}={v}: ", c.name),
            (Some(c), None) => format!("{}: ", c.name),
            _ => String::new(),
        };
        lines.push(format!("  {place}{}", d.message));
        lines.extend(d.help.iter().map(|h| format!("    {h}")));
    }
    lines
}

/// A header and one row.
fn row(fields: &[(String, String)]) -> Result<Vec<u8>, Error> {
    let mut out = csv::Writer::from_writer(Vec::new());
    out.write_record(fields.iter().map(|f| &f.0))
        .and_then(|()| out.write_record(fields.iter().map(|f| &f.1)))
        .map_err(usage)?;
    out.into_inner().map_err(usage)
}
