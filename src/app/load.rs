//! Files taken in, judged, and reported file by file.

use super::take_in::{Source, Taken, clash_line, diagnostic_lines, take_in};
use super::{Error, Session, judge};
use crate::intake::{Kind, Options, Severity, Times};
use crate::model::EntryId;
use crate::report::{Block, Cell, Column, Report, Table};
use crate::store::AppendOptions;

/// How files are taken in.
#[derive(Clone, Debug, Default)]
pub struct LoadOptions {
    /// How they are read.
    pub read: Options,
    /// Keep the good rows of a file that has bad ones.
    pub partial: bool,
    /// Say what would be taken in, write nothing.
    pub dry_run: bool,
    /// Why it is taken in all the same where it is refused: joints sent out on hire that are not fit,
    /// readings that make steel grow.
    pub insist: Option<String>,
    /// What is told is over: nobody is sent anything, and nobody can read anything again.
    pub is_past: bool,
}

impl LoadOptions {
    pub(super) const fn append(&self) -> AppendOptions {
        AppendOptions { keep_conflicts: self.read.keep_conflicts, dry_run: self.dry_run }
    }
}

impl Session {
    /// Takes files of this machine in, one after another: certificates, surveys, runs, inspections,
    /// repairs, make-ups, moves … What the book already says is left out. The report has a line for
    /// each file, verdicts on what was inspected, and what is to be noted.
    ///
    /// Each file is written whole or not at all; those before one that is refused stay written.
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
        let mut refused = false;
        let present = self.present();
        let mut how = how.clone();
        how.read.times = Times { order: how.read.times.order, ..self.caller.times() };
        let mut report = Report::new("load");
        let mut table = Table {
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
            rows: Vec::new(),
            empty: "no file".to_owned(),
            below: None,
        };
        let mut notes = Vec::new();
        let mut verdicts = Report::new("load");
        let mut head = None;
        for name in files {
            let taken = take_in(&mut self.book, name, &how, from, &self.caller, &present)?;
            table.rows.push(row(name, &taken, how.dry_run));
            notes.extend(remarks(name, &taken, how.partial));
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
        report.push(Block::Table(table));
        report.blocks.append(&mut verdicts.blocks);
        if how.dry_run {
            report.push(Block::Note("a dry run: nothing was written".to_owned()));
        }
        notes.into_iter().for_each(|n| report.push(Block::Note(n)));
        if let Some(head) = head.filter(|_| !how.dry_run) {
            report.push(Block::Text(format!("head {head}")));
        }
        Ok(Loaded { report, refused })
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
fn remarks(name: &str, taken: &Taken, partial: bool) -> Vec<String> {
    let mut notes = Vec::new();
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
