//! Hours that a sheet tells of a run, and that run itself: they count once, by the run. Said when the
//! second of the two comes in.

use std::collections::BTreeMap;

use super::Error;
use crate::model::{
    Body, Draft, EntryId, EntryKind, GapBody, RunBody, name_key, plural, same_name,
};
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

/// What is found to be said, and what was read for it.
struct Search<'b> {
    book: &'b Book,
    /// By the run of which hours are told.
    found: BTreeMap<String, Told>,
    /// What entries tell of stretches, by place: one entry tells of many joints, and is read once. None
    /// where an entry tells of no hours.
    stretches: BTreeMap<i64, Option<(EntryId, GapBody)>>,
}

/// What is to be said of facts that came in under these names.
pub(super) fn said(book: &Book, drafts: &[Draft], names: &[EntryId]) -> Result<Vec<String>, Error> {
    let mut search = Search { book, found: BTreeMap::new(), stretches: BTreeMap::new() };
    for (draft, name) in drafts.iter().zip(names) {
        if let Body::Run(run) = &draft.body {
            search.of_run(run, draft, name)?;
        }
        if let Body::Gap(gap) = &draft.body
            && gap.hours.is_some()
        {
            search.of_stretch(gap, draft, name)?;
        }
    }
    Ok(search.found.values().map(Told::words).collect())
}

impl Search<'_> {
    /// What the runs of the book make of hours that are told of a stretch.
    fn of_stretch(&mut self, gap: &GapBody, draft: &Draft, name: &EntryId) -> Result<(), Error> {
        let Some(position) = self.book.position_of(name)? else { return Ok(()) };
        for joint in draft.body.joints() {
            if let Some(joint) = self.book.position_of(&joint.joint)? {
                let row = self.row(joint, position)?;
                self.count(gap, name, row.as_ref());
            }
        }
        Ok(())
    }

    /// What a run makes of hours that were told before it came.
    fn of_run(&mut self, run: &RunBody, draft: &Draft, name: &EntryId) -> Result<(), Error> {
        let Some(position) = self.book.position_of(name)? else { return Ok(()) };
        for joint in draft.body.joints() {
            let Some(joint) = self.book.position_of(&joint.joint)? else { continue };
            let of_run = Rows::of_joint(joint).is(JointRunRow::run(), position);
            let Some(in_run) = self.book.rows(&of_run)?.pop() else { continue };
            // Such stretches divide runs where they end.
            let since = Rows::of_joint(joint).at_least(TouchRow::cut(), in_run.start);
            for touch in self.book.rows(&since)? {
                let Some((told_by, gap)) = self.stretch(touch.entry)? else { continue };
                let row = self.row(joint, touch.entry)?;
                let is_named = gap.run.as_ref().is_some_and(|r| same_name(r, &run.name));
                if is_named || row.as_ref().is_some_and(|row| meets(row, &in_run)) {
                    self.count(&gap, &told_by, row.as_ref());
                }
            }
        }
        Ok(())
    }

    /// The stretch of whose hours an entry tells.
    fn stretch(&mut self, position: i64) -> Result<Option<(EntryId, GapBody)>, Error> {
        if let Some(known) = self.stretches.get(&position) {
            return Ok(known.clone());
        }
        let is_gap = self.book.entry_at(position)?.raw.kind == EntryKind::Gap.word();
        let entry = is_gap.then(|| self.book.counted(position)).transpose()?;
        let told = entry.and_then(|entry| {
            let Body::Gap(gap) = entry.body else { return None };
            gap.hours.is_some().then_some((entry.id, gap))
        });
        self.stretches.insert(position, told.clone());
        Ok(told)
    }

    /// The row of a joint's stretch; none where a run of the book took its place.
    fn row(&self, joint: i64, entry: i64) -> Result<Option<GapRow>, Error> {
        Ok(self.book.rows(&Rows::of_joint(joint).is(GapRow::entry(), entry))?.pop())
    }

    /// Counts a joint whose told hours do not all count by themselves.
    fn count(&mut self, gap: &GapBody, told_by: &EntryId, row: Option<&GapRow>) {
        let hours = gap.hours.as_ref().and_then(|h| h.stored(Measure::Hours));
        if row.is_some_and(|row| row.hours >= hours) {
            return;
        }
        let run = gap.run.clone().unwrap_or_default();
        let of = self.found.entry(name_key(&run)).or_insert_with(|| Told {
            run,
            entry: told_by.clone(),
            superseded: 0,
            doubted: 0,
        });
        match row {
            None => of.superseded += 1,
            Some(_) => of.doubted += 1,
        }
    }
}

/// Whether a stretch of hours and a run share some time.
fn meets(row: &GapRow, run: &JointRunRow) -> bool {
    run.start < row.until && run.finish > row.since.unwrap_or(row.until)
}

impl Told {
    fn words(&self) -> String {
        let mut parts = Vec::new();
        if self.superseded > 0 {
            parts.push(format!(
                "are not counted for {}: the book has that run, and its hours count by it",
                plural(self.superseded, "joint")
            ));
        }
        if self.doubted > 0 {
            parts.push(format!(
                "may be those of a run that counts by itself for {}: only what cannot be counts \
                 beside it (`trace` tells); where it is that run, give both one name",
                plural(self.doubted, "joint")
            ));
        }
        let run = if self.run.is_empty() { String::new() } else { format!(" of run {}", self.run) };
        format!("hours told{run} (from {} on) {}", self.entry, parts.join("; and "))
    }
}
