//! Hours that a sheet tells of a run, and that run itself: they count once, by the run. Said when the
//! second of the two comes in.

use std::collections::BTreeMap;

use super::Error;
use crate::model::{Body, Draft, EntryId, EntryKind, GapBody, RunBody, name_key, same_name};
use crate::schema::{GapRow, JointRunRow, Rows, TouchRow};
use crate::store::Book;
use crate::units::Measure;

/// Hours that are told of one run.
struct Told {
    run: String,
    /// The first entry that tells them.
    entry: EntryId,
    /// Joints of which the run counts, and what is told of its hours does not.
    superseded: usize,
    /// Joints of which nobody knows whether the hours are of a run that counts.
    doubted: usize,
}

/// By the run of which hours are told.
type ByRun = BTreeMap<String, Told>;

/// What is to be said of facts that came in under these names.
pub(super) fn said(book: &Book, drafts: &[Draft], names: &[EntryId]) -> Result<Vec<String>, Error> {
    let mut all = ByRun::new();
    for (draft, name) in drafts.iter().zip(names) {
        if let Body::Run(b) = &draft.body {
            of_run(book, b, draft, name, &mut all)?;
        }
        let Body::Gap(b) = &draft.body else { continue };
        let Some(position) = book.position_of(name)?.filter(|_| b.hours.is_some()) else {
            continue;
        };
        for joint in draft.body.joints() {
            if let Some(joint) = book.position_of(&joint.joint)? {
                count(&mut all, book, joint, b, (position, name))?;
            }
        }
    }
    Ok(all.values().map(Told::words).collect())
}

/// What a run makes of hours that were told before it came.
fn of_run(
    book: &Book,
    run: &RunBody,
    draft: &Draft,
    name: &EntryId,
    all: &mut ByRun,
) -> Result<(), Error> {
    let Some(position) = book.position_of(name)? else { return Ok(()) };
    for joint in draft.body.joints() {
        let Some(joint) = book.position_of(&joint.joint)? else { continue };
        let of_run = Rows::of_joint(joint).is(JointRunRow::run(), position);
        let Some(row) = book.rows(&of_run)?.pop() else { continue };
        // Such stretches divide runs where they end.
        let stretches = Rows::of_joint(joint).at_least(TouchRow::cut(), row.start);
        for touch in book.rows(&stretches)? {
            if book.entry_at(touch.entry)?.raw.kind != EntryKind::Gap.word() {
                continue;
            }
            let entry = book.counted(touch.entry)?;
            let Body::Gap(b) = &entry.body else { continue };
            let is_named = b.run.as_ref().is_some_and(|r| same_name(r, &run.name));
            if b.hours.is_some() && (is_named || meets(book, joint, touch.entry, &row)?) {
                count(all, book, joint, b, (touch.entry, &entry.id))?;
            }
        }
    }
    Ok(())
}

/// Whether a run and a stretch of hours share some time.
fn meets(book: &Book, joint: i64, entry: i64, run: &JointRunRow) -> Result<bool, Error> {
    let row = book.rows(&Rows::of_joint(joint).is(GapRow::entry(), entry))?.pop();
    let since = |g: &GapRow| g.since.unwrap_or(g.until);
    Ok(row.is_some_and(|g| run.start < g.until && run.finish > since(&g)))
}

/// Counts a joint of an entry whose hours do not all count by themselves.
fn count(
    all: &mut ByRun,
    book: &Book,
    joint: i64,
    told: &GapBody,
    (position, name): (i64, &EntryId),
) -> Result<(), Error> {
    let hours = told.hours.as_ref().and_then(|h| h.stored(Measure::Hours));
    let row = book.rows(&Rows::of_joint(joint).is(GapRow::entry(), position))?.pop();
    if row.as_ref().is_some_and(|row| row.hours >= hours) {
        return Ok(());
    }
    let run = told.run.clone().unwrap_or_default();
    let of = all.entry(name_key(&run)).or_insert_with(|| Told {
        run,
        entry: name.clone(),
        superseded: 0,
        doubted: 0,
    });
    match row {
        None => of.superseded += 1,
        Some(_) => of.doubted += 1,
    }
    Ok(())
}

impl Told {
    fn words(&self) -> String {
        let of = |n: usize| if n == 1 { "1 joint".to_owned() } else { format!("{n} joints") };
        let mut parts = Vec::new();
        if self.superseded > 0 {
            parts.push(format!(
                "are not counted for {}: the book has that run, and its hours count by it",
                of(self.superseded)
            ));
        }
        if self.doubted > 0 {
            parts.push(format!(
                "may be those of a run that counts by itself for {}: only what cannot be counts \
                 beside it (`trace` tells); where it is that run, give both one name",
                of(self.doubted)
            ));
        }
        let run = if self.run.is_empty() { String::new() } else { format!(" of run {}", self.run) };
        format!("hours told{run} (from {} on) {}", self.entry, parts.join("; and "))
    }
}
