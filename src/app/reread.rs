//! A file that was taken in before and is read otherwise now: what differs, and the amendments that put
//! the new reading in the place of the old.

use std::collections::BTreeMap;

use super::Error;
use super::strike::decision_on;
use super::take_in::{name_joints, span};
use crate::intake::Outcome;
use crate::model::{AmendBody, Body, Draft, Entry, EntryId, Evidence, FieldChange, Moment, Site};
use crate::projection::amend::{EFFECTIVE, fields, with_changes};
use crate::schema::StruckRow;
use crate::store::Book;

/// Fields that are named of an entry; the rest is counted.
const NAMED: usize = 3;

/// What a file says now against what its entries say.
pub(super) struct Reread {
    /// Entries that say something else, and what differs.
    changed: Vec<(Entry, Vec<FieldChange>)>,
    /// Facts that the first reading did not have.
    fresh: Vec<Draft>,
}

impl Reread {
    /// Compares a file's drafts with the entries between two places of the book that came from it; those
    /// that the book says already have the names of their entries.
    pub(super) fn of(
        book: &Book,
        outcome: &Outcome,
        mut names: Vec<Option<EntryId>>,
        (first, last): (i64, i64),
    ) -> Result<Self, Error> {
        // Of one place in the file, in the order in which they were read.
        let mut known: BTreeMap<(&str, Option<String>), Vec<Entry>> = BTreeMap::new();
        for position in (first..=last).rev() {
            let entry = book.counted(position)?;
            let of_file = entry.evidence.as_ref().is_some_and(|e| e.sha256 == outcome.sha256);
            if of_file && book.row::<StruckRow>(position)?.is_none() {
                let place = place(&entry.body, entry.evidence.as_ref());
                known.entry((entry.body.kind().word(), place)).or_default().push(entry);
            }
        }
        let said: Vec<bool> = names.iter().map(Option::is_some).collect();
        let mut before = Vec::with_capacity(outcome.drafts.len());
        for (draft, name) in outcome.drafts.iter().zip(&mut names) {
            let place = place(&draft.body, draft.evidence.as_ref());
            let entry = known.get_mut(&(draft.body.kind().word(), place)).and_then(Vec::pop);
            if name.is_none() {
                *name = entry.as_ref().map(|e| e.id.clone());
            }
            before.push(entry);
        }
        // Joints that the file introduces have the names of their entries in these.
        let mut drafts = outcome.drafts.clone();
        name_joints(book, &mut drafts, &names, 0)?;
        let mut out = Self { changed: Vec::new(), fresh: Vec::new() };
        for ((draft, before), said) in drafts.into_iter().zip(before).zip(said) {
            match before {
                _ if said => {}
                None => out.fresh.push(draft),
                Some(entry) => {
                    let changes = changes(&entry, &draft)?;
                    if !changes.is_empty() {
                        out.changed.push((entry, changes));
                    }
                }
            }
        }
        Ok(out)
    }

    /// The entries say, as amended, what the file says.
    pub(super) fn is_same(&self) -> bool {
        self.changed.is_empty() && self.fresh.is_empty()
    }

    /// That nothing was written, and how the new reading comes in the place of the old.
    pub(super) fn refused(&self, name: &str, before: &(String, String)) -> Error {
        let span = span(before);
        let mut what = format!("{name} was taken in before, as {span}, and is read otherwise now");
        if let Some((entry, changes)) = self.changed.first() {
            let said: Vec<String> = changes.iter().take(NAMED).map(in_words).collect();
            let more = match changes.len().saturating_sub(NAMED) {
                0 => String::new(),
                n => format!(" and {n} more fields"),
            };
            what = format!("{what}: {}: {}{more}", entry.id, said.join("; "));
        }
        if !self.fresh.is_empty() {
            what = format!("{what}; {} facts are new", self.fresh.len());
        }
        let run = self.changed.iter().find(|(entry, _)| matches!(entry.body, Body::Run(_)));
        let help = match run {
            Some((run, _)) => vec![format!(
                "for another tally, log or reading of a run: pipelore strike {} --reason '…' --instead \
                 {name}",
                run.id
            )],
            None => vec![
                "if the first reading was wrong, amend its entries: the same command with --correct \
                 'why it was wrong'"
                    .to_owned(),
                format!(
                    "one entry by hand: pipelore enter amend entry={} FIELD=VALUE reason='…'",
                    before.0
                ),
            ],
        };
        Error::Advice { what: format!("{what}; nothing was written"), help }
    }

    /// Facts that the first reading did not have, and amendments of a date that make the entries say what
    /// the file says now.
    pub(super) fn drafts(
        self,
        reason: &str,
        effective: Moment,
        own: &Site,
    ) -> Result<(Vec<Draft>, Vec<Draft>), Error> {
        let mut amendments = Vec::new();
        for (entry, changes) in self.changed {
            decision_on(&entry.id, own, None)?;
            let amend = AmendBody {
                entry: entry.id.clone(),
                changes,
                reason: reason.to_owned(),
                decision: None,
            };
            with_changes(&entry, &amend).map_err(|why| Error::Advice {
                what: format!("{} cannot be amended: {why}", entry.id),
                help: vec![format!(
                    "strike it, and take the file in as what stands instead: pipelore strike {} \
                     --reason '…' --instead FILE",
                    entry.id
                )],
            })?;
            amendments.push(Draft { effective, evidence: None, body: Body::Amend(amend) });
        }
        Ok((self.fresh, amendments))
    }
}

/// What tells facts of one kind from one file apart: a run by its name, since other files are its
/// evidence too; the rest by its place in the file.
fn place(body: &Body, evidence: Option<&Evidence>) -> Option<String> {
    if let Body::Run(run) = body { Some(run.name.clone()) } else { evidence?.place.clone() }
}

/// What makes an entry say what a draft says.
fn changes(entry: &Entry, draft: &Draft) -> Result<Vec<FieldChange>, Error> {
    let wrong = |what: String| Error::Words { what, help: None };
    let (was, is) = (fields(&entry.body).map_err(wrong)?, fields(&draft.body).map_err(wrong)?);
    let some = |v: Option<&serde_json::Value>| v.filter(|v| !v.is_null()).cloned();
    let mut names: Vec<&String> = was.keys().chain(is.keys()).collect();
    names.sort_unstable();
    names.dedup();
    let mut out: Vec<FieldChange> = names
        .into_iter()
        .map(|n| FieldChange { field: n.clone(), was: some(was.get(n)), is: some(is.get(n)) })
        .filter(|c| c.was != c.is)
        .collect();
    if entry.effective != draft.effective {
        let value = |m| serde_json::to_value(m).ok();
        let (was, is) = (value(entry.effective), value(draft.effective));
        out.push(FieldChange { field: EFFECTIVE.to_owned(), was, is });
    }
    Ok(out)
}

fn in_words(change: &FieldChange) -> String {
    let value = |v: &Option<serde_json::Value>| match v {
        None => "nothing".to_owned(),
        Some(serde_json::Value::String(s)) => s.clone(),
        Some(serde_json::Value::Array(list)) => format!("{} lines", list.len()),
        Some(other) => other.to_string(),
    };
    let field = change.field.replace('_', " ");
    match (&change.was, &change.is) {
        (Some(serde_json::Value::Array(_)), Some(serde_json::Value::Array(_))) => {
            format!("{field} differ")
        }
        (was, is) => format!("{field} {}, was {}", value(is), value(was)),
    }
}
