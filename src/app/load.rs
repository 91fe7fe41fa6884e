//! Files taken in, judged, and reported file by file.

use super::plan::Plan;
use super::take_in::{Source, Taken, clash_line, diagnostic_lines, take_in};
use super::{Error, LoadOptions, Session, judge};
use crate::intake::{Diagnostics, Kind, Severity, Times, said_in_layout};
use crate::model::EntryId;
use crate::report::{Block, Cell, Column, Fact, Present, Report, Table};
use crate::store::AppendOptions;

impl Session {
    /// Takes files and folders of this machine in, in whatever order they are given: certificates,
    /// surveys, runs, inspections, repairs, make-ups, moves … What the book already says is left out.
    /// The report has a line for each file, verdicts on what was inspected, and what is to be noted.
    ///
    /// All of them are written or none; with [`LoadOptions::partial`] each by itself.
    ///
    /// # Errors
    /// [`Error::File`] with everything that is wrong with the first file that cannot be used;
    /// [`Error::Store`] when the book refuses what a file says, or cannot be written.
    pub fn load(&mut self, files: &[&str], how: &LoadOptions) -> Result<Report, Error> {
        if !how.dry_run {
            self.found()?;
        }
        Ok(self.load_from(files, how, &Source::DISK)?.report)
    }

    pub(crate) fn load_from(
        &mut self,
        files: &[&str],
        how: &LoadOptions,
        from: &Source<'_>,
    ) -> Result<Loaded, Error> {
        let present = self.present();
        let mut how = how.clone();
        how.read.times = Times { order: how.read.times.order, ..self.caller.times() };
        let plan = Plan::of(&self.book, files, &how, from, &self.caller)?;
        if plan.files.is_empty() {
            return Err(Error::Advice {
                what: "there is no file to take in".to_owned(),
                help: plan.out.iter().map(|(name, why)| format!("{name}: {why}")).collect(),
            });
        }
        let mut report = Report::new("load");
        if plan.is_shown {
            report.push(Block::Table(plan.table()));
            report.push(Block::Table(plan.columns()));
        }
        let with = (&how, from, &present);
        let taken = if how.partial || plan.files.len() == 1 {
            self.one_by_one(&plan, with)?
        } else {
            self.all_or_none(&plan, with)?
        };
        let mut refused = false;
        let (mut notes, mut rows) = (Vec::new(), Vec::new());
        let mut verdicts = Report::new("load");
        let mut head = None;
        for (name, taken) in &taken {
            rows.push(row(name, taken, how.dry_run));
            notes.extend(remarks(name, taken, (how.partial, how.dry_run)));
            let whole = taken.before.is_none() && taken.outcome.drafts.is_empty();
            if whole && taken.outcome.is_refused() {
                refused = true;
                notes.push(format!("{name} was refused whole; nothing of it was written"));
            }
            if let Some(appended) = &taken.appended {
                notes.extend(appended.clashes.iter().map(clash_line));
                verdicts.blocks.extend(taken.sent.iter().cloned());
                head.clone_from(&appended.head);
                if !how.dry_run {
                    let outcome = &taken.outcome;
                    let asks = (&self.caller, &present);
                    judge::after_load(&mut self.book, outcome, appended, asks, &mut verdicts)?;
                }
            }
        }
        report.push(Block::Table(files_table(rows)));
        report.blocks.append(&mut verdicts.blocks);
        if how.dry_run {
            report.push(Block::Note("a dry run: nothing was written".to_owned()));
        }
        notes.into_iter().for_each(|n| report.push(Block::Note(n)));
        if let Some(head) = head.filter(|_| !how.dry_run) {
            report.push(Block::Facts { name: "written", facts: vec![Fact::head(Some(head))] });
        }
        Ok(Loaded { report, refused })
    }

    /// Takes each file in by itself.
    fn one_by_one(
        &mut self,
        plan: &Plan,
        (how, from, present): (&LoadOptions, &Source<'_>, &Present),
    ) -> Result<Vec<(String, Taken)>, Error> {
        let taken = plan.files.iter().map(|name| {
            let how = plan.how_for(name, how);
            let append = how.append();
            let taken = take_in(&mut self.book, name, &how, append, from, &self.caller, present)?;
            Ok((name.clone(), taken))
        });
        taken.collect()
    }

    /// Takes all files in or none: first in a copy of the book, where each finds what those before it
    /// say, then all that they said into the book at once.
    fn all_or_none(
        &mut self,
        plan: &Plan,
        (how, from, present): (&LoadOptions, &Source<'_>, &Present),
    ) -> Result<Vec<(String, Taken)>, Error> {
        let mut copy = self.book.rehearsal()?;
        let (mut out, mut drafts) = (Vec::new(), Vec::new());
        let mut refused: Option<(String, Diagnostics)> = None;
        for name in &plan.files {
            let how = plan.how_for(name, how);
            // What excludes something may be set right by a file further on.
            let append = AppendOptions { keep_conflicts: true, dry_run: false };
            match take_in(&mut copy, name, &how, append, from, &self.caller, present) {
                Ok(mut taken) => {
                    drafts.extend(taken.written.iter().cloned());
                    if let Some(own) = &mut taken.appended {
                        own.clashes.clear();
                    }
                    out.push((name.clone(), taken));
                }
                // Everything that is wrong is said at once.
                Err(Error::File { name, diagnostics }) => match &mut refused {
                    None => refused = Some((name, diagnostics)),
                    Some((names, all)) => {
                        *names = format!("{names}, {name}");
                        all.append(diagnostics);
                    }
                },
                Err(e) => return Err(e),
            }
        }
        if let Some((name, diagnostics)) = refused {
            return Err(Error::File { name, diagnostics });
        }
        if drafts.is_empty() {
            return Ok(out);
        }
        // All of it at once: only now is it known what excludes what.
        let amended = out.iter().any(|(_, taken)| taken.amended);
        let how = how.append();
        let how = AppendOptions { keep_conflicts: how.keep_conflicts || amended, ..how };
        let appended = self.book.append(&drafts, &self.caller.stamp(), &how)?;
        let last = out.iter().rposition(|(_, taken)| taken.appended.is_some());
        for (at, (_, taken)) in out.iter_mut().enumerate() {
            if let Some(own) = &mut taken.appended {
                own.head.clone_from(&appended.head);
                if Some(at) == last {
                    own.clashes.clone_from(&appended.clashes);
                }
            }
        }
        Ok(out)
    }
}

/// A line for each file.
fn files_table(rows: Vec<Vec<Cell>>) -> Table {
    Table {
        name: "files",
        columns: vec![
            Column::plain("file", "file"),
            Column::plain("kind", "kind"),
            Column::plain("entries", "entries"),
            Column::plain("first", "first"),
            Column::plain("last", "last"),
            Column::plain("known", "already known").dispensable(2),
            Column::plain("refused", "rows refused").dispensable(1),
            Column::plain("not_looked_at", "not looked at").dispensable(3),
        ],
        rows,
        empty: "no file".to_owned(),
        below: None,
    }
}

/// What came of files that were taken in.
pub(crate) struct Loaded {
    pub report: Report,
    /// Nothing of one of them could be used.
    pub refused: bool,
}

fn row(name: &str, taken: &Taken, dry_run: bool) -> Vec<Cell> {
    let entries = taken.appended.as_ref().map_or(&[][..], |a| &a.entries);
    let name_of = |e: Option<&EntryId>| {
        e.filter(|_| !dry_run).map_or(Cell::Missing, |e| Cell::Text(e.to_string()))
    };
    vec![
        Cell::Text(name.to_owned()),
        Cell::text(taken.outcome.kind.map(Kind::word)),
        Cell::count(entries.len()),
        name_of(entries.first()),
        name_of(entries.last()),
        Cell::count(taken.known),
        Cell::count(taken.outcome.rows.refused),
        Cell::count(taken.outcome.rows.not_looked_at),
    ]
}

/// What is to be noted about a file.
fn remarks(name: &str, taken: &Taken, (partial, dry_run): (bool, bool)) -> Vec<String> {
    let mut notes = Vec::new();
    notes.extend(taken.layouts.iter().map(|(entry, body)| {
        let said = said_in_layout(body).join("; ");
        match entry.as_ref().filter(|_| !dry_run) {
            Some(entry) => format!(
                "{name}: files under this header are read so from now on ({entry}; `pipelore layouts` \
                 changes and drops it): {said}"
            ),
            None => format!("{name}: files under this header would be read so from now on: {said}"),
        }
    }));
    if let Some((first, last)) = &taken.before {
        notes.push(format!("{name} was taken in before, as {first} to {last}; nothing was added"));
    }
    notes.extend(taken.corrects.iter().map(|c| format!("{name}: {c}")));
    notes.extend(taken.outcome.notes.iter().map(|n| format!("{name}: {n}")));
    if taken.before.is_none() {
        let mut tell = |severity| {
            let lines = diagnostic_lines(&taken.outcome.diagnostics, severity);
            notes.extend((!lines.is_empty()).then(|| lines.join("\n")));
        };
        tell(Severity::Warning);
        if partial {
            tell(Severity::Error);
        }
    }
    notes
}
