//! Entries between the books of sites.

use std::io::{BufRead, Write};
use std::path::Path;

use super::past::{note_of, tomorrow};
use super::{Error, Session};
use crate::ledger::{KnownKeys, Sealer};
use crate::model::EntryId;
use crate::report::{Block, Cell, Column, Fact, Report, Table};
use crate::store::{
    BundleIn, BundleOut, StoreError, TakenIn, TakenStretch, known_keys_file, read_known,
};

/// Names of a list that are shown; the rest is counted.
const LISTED: usize = 12;

impl Session {
    /// Writes entries to a file for another site's book.
    pub(crate) fn bundle_out(&self, file: &Path, what: &BundleOut<'_>) -> Result<Report, Error> {
        let done = self.book.bundle_out(file, what, &self.caller.stamp())?;
        let mut report = Report::new("bundle_out");
        report.push(Block::Facts {
            name: "bundle",
            facts: vec![
                Fact::plain("file", "bundle", Cell::Text(file.display().to_string())),
                Fact::plain("entries", "entries", Cell::count(done.entries)),
                Fact::plain("sha256", "SHA-256", Cell::Text(done.sha256.clone())),
            ],
        });
        report.push(Block::Table(Table {
            name: "chains",
            columns: vec![
                Column::plain("chain", "chain"),
                Column::plain("from", "from"),
                Column::plain("to", "to"),
                Column::plain("head", "head"),
                Column::plain("sealed", "sealed"),
            ],
            rows: done
                .chains
                .iter()
                .map(|s| {
                    let last = EntryId { chain: s.chain.clone(), number: s.to };
                    vec![
                        Cell::Text(s.chain.to_string()),
                        Cell::count(s.from),
                        Cell::count(s.to),
                        Cell::Text(s.head.to_string()),
                        Cell::Truth(done.sealed.contains(&last)),
                    ]
                })
                .collect(),
            empty: String::new(),
            below: None,
        }));
        Ok(report)
    }

    /// Writes the same to a stream.
    pub(crate) fn write_bundle(
        &self,
        out: &mut impl Write,
        what: &BundleOut<'_>,
        name: &Path,
    ) -> Result<(), Error> {
        self.book.write_bundle(out, what, &self.caller.stamp(), name)?;
        Ok(())
    }

    /// Takes in entries that another site's book wrote.
    pub(crate) fn bundle_in(&mut self, file: &Path, how: &BundleIn) -> Result<Report, Error> {
        let done = self.book.bundle_in(file, how, &self.caller.stamp()).map_err(|e| match e {
            StoreError::NotFound { path } if path == *file => Error::NoFile(path),
            e => e.into(),
        })?;
        self.taken_in(&done, how.dry_run)
    }

    /// Takes in the same from a stream.
    pub(crate) fn read_bundle(
        &mut self,
        from: &mut impl BufRead,
        how: &BundleIn,
    ) -> Result<Report, Error> {
        let done = self.book.read_bundle(from, how, &self.caller.stamp())?;
        self.taken_in(&done, how.dry_run)
    }

    /// What came in, and what of it lies ahead.
    fn taken_in(&self, done: &TakenIn, dry_run: bool) -> Result<Report, Error> {
        let mut report = taken_in(done, dry_run);
        let now = self.caller.now.at;
        let ahead = self.book.lying_ahead(tomorrow(now, self.clock()))?;
        if !ahead.is_empty() {
            report.push(note_of(&ahead));
        }
        Ok(report)
    }
}

fn taken_in(done: &TakenIn, dry_run: bool) -> Report {
    let mut report = Report::new("bundle_in");
    let mut facts = vec![Fact::plain("sha256", "SHA-256", Cell::Text(done.sha256.clone()))];
    if dry_run {
        facts.push(Fact::plain("dry_run", "dry run", Cell::Truth(true)));
    }
    facts.push(Fact::plain(
        "arrival",
        "taken in by",
        done.arrival.as_ref().map_or(Cell::Missing, |e| Cell::Text(e.to_string())),
    ));
    let head = done.head.as_ref().map(ToString::to_string);
    facts.push(Fact::plain("head", "head", Cell::text(head.as_deref())));
    report.push(Block::Facts { name: "bundle", facts });
    report.push(Block::Table(Table {
        name: "chains",
        columns: vec![
            Column::plain("chain", "chain"),
            Column::plain("sent", "sent"),
            Column::plain("new", "new"),
            Column::plain("seal", "seal"),
        ],
        rows: done.chains.iter().map(row).collect(),
        empty: String::new(),
        below: None,
    }));
    for clash in &done.clashes {
        report.push(Block::Note(format!(
            "{}: {} ({} and {}); both were kept until a decision settles it",
            clash.serial, clash.what, clash.first, clash.second
        )));
    }
    if done.judges_otherwise {
        let note = "an adoption came with it: this book judges by other sets than before; \
                    `pipelore edition` names them";
        report.push(Block::Note(note.to_owned()));
    }
    for said in done.of_others.iter().take(LISTED) {
        report.push(Block::Note(said.to_string()));
    }
    if done.of_others.len() > LISTED {
        let count = done.of_others.len();
        report.push(Block::Note(format!(
            "{count} new entries in all strike, amend or set aside what other sites wrote; `entries` \
             lists them"
        )));
    }
    for entry in done.unseen.iter().take(LISTED) {
        report.push(Block::Note(entry.clone()));
    }
    if done.unseen.len() > LISTED {
        let count = done.unseen.len();
        report.push(Block::Note(format!(
            "{count} entries in all hold such names; verify lists them"
        )));
    }
    if !done.awaited.is_empty() {
        let shown: Vec<&str> = done.awaited.iter().take(LISTED).map(String::as_str).collect();
        let more = done.awaited.len().saturating_sub(shown.len());
        let rest = if more > 0 { format!(" and {more} more") } else { String::new() };
        report.push(Block::Note(format!(
            "entries name others that have not arrived yet: {}{rest}",
            shown.join(", ")
        )));
    }
    report
}

/// First and last number, for people.
pub(super) fn span((from, to): (u64, u64)) -> String {
    if from == to { from.to_string() } else { format!("{from} to {to}") }
}

fn row(stretch: &TakenStretch) -> Vec<Cell> {
    let seal = match &stretch.seal {
        None => "none".to_owned(),
        Some((Sealer::Known(holder), _)) if holder.is_empty() => "known key".to_owned(),
        Some((Sealer::Known(holder), _)) => format!("known key of {holder}"),
        Some((Sealer::Unknown, seal)) => format!("unknown key {}", seal.key),
    };
    vec![
        Cell::Text(stretch.chain.to_string()),
        Cell::Text(span(stretch.sent)),
        Cell::Text(match &*stretch.new {
            [] => "nothing".to_owned(),
            new => new.iter().map(|n| span(*n)).collect::<Vec<_>>().join(", "),
        }),
        Cell::Text(seal),
    ]
}

/// Keys known for sites: the file named, else the one beside the book.
pub(crate) fn known_keys(named: Option<&Path>, book: &Path) -> Result<KnownKeys, Error> {
    if let Some(file) = named {
        return Ok(read_known(file)?);
    }
    let beside = known_keys_file(book);
    if beside.exists() { Ok(read_known(&beside)?) } else { Ok(KnownKeys::default()) }
}
