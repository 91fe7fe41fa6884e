//! Proves a book: file, head, chain, whose it is and how things arrived, references, evidence,
//! projections against a rebuild. Says the first thing wrong and everything that hangs on it.

mod chain;
mod evidence;
mod hanging;
mod projections;
mod structure;
mod times;

use std::path::Path;

use super::book::Book;
use super::entries::{COLUMNS, from_row, hash_of, is_file, last_position};
use super::error::{InFile, Result, StoreError};
use super::head::{self, HeadMark, Noted};
use super::struck_freely::{self, OfAnother};
use super::unseen::unseen_in;
use crate::ledger::{Chains, Hash, chain_label};
use crate::model::{Body, EntryId};

pub use hanging::Hanging;

/// One thing that was looked at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Check {
    /// What was looked at.
    pub name: &'static str,
    /// How much of it.
    pub looked_at: u64,
    /// The first things wrong, in words; empty when all is well.
    pub faults: Vec<String>,
    /// What is not wrong but worth knowing: what could not be looked at, and why.
    pub notes: Vec<String>,
}

/// What `verify` found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Verified {
    /// Every check made.
    pub checks: Vec<Check>,
    /// Head of the book's own chain.
    pub head: Option<HeadMark>,
    /// The first entry that is wrong, and everything that hangs on it.
    pub hanging: Option<Hanging>,
    /// Derived rows were compared with a rebuild: those of another version are not.
    pub compared: bool,
}

impl Verified {
    /// True when nothing was found wrong.
    pub fn sound(&self) -> bool {
        self.checks.iter().all(|c| c.faults.is_empty())
    }
}

/// Faults told of each check; more are only counted.
const TOLD: usize = 10;

impl Check {
    fn new(name: &'static str) -> Self {
        Self { name, looked_at: 0, faults: Vec::new(), notes: Vec::new() }
    }

    fn fault(&mut self, what: String) {
        if self.faults.len() < TOLD {
            self.faults.push(what);
        }
    }

    fn note(&mut self, what: String) {
        if self.notes.len() < TOLD {
            self.notes.push(what);
        }
    }
}

/// A damaged file is what a check looks for; it is a finding, and not the end of the looking.
fn as_finding<T>(result: Result<T>, check: &mut Check) -> Result<Option<T>> {
    match result {
        Ok(value) => Ok(Some(value)),
        Err(e @ (StoreError::Damaged { .. } | StoreError::Row { .. } | StoreError::Entry(_))) => {
            check.fault(with_causes(&e));
            Ok(None)
        }
        Err(e) => Err(e),
    }
}

fn with_causes(error: &dyn std::error::Error) -> String {
    let mut out = error.to_string();
    let mut cause = error.source();
    while let Some(c) = cause {
        out.push_str(": ");
        out.push_str(&c.to_string());
        cause = c.source();
    }
    out
}

impl Book {
    /// Looks at everything in the book; at a hash that a printed page names, and at the files in a
    /// folder that entries rest on, where they are given.
    pub fn verify(&self, pinned: Option<Hash>, evidence: Option<&Path>) -> Result<Verified> {
        // The note first, then the snapshot: what was noted was committed before.
        let noted = head::noted(&self.path);
        let snapshot = self.conn.unchecked_transaction().in_file(&self.path)?;
        let mut file = self.check_file()?;
        self.check_layout(&mut file)?;
        let readable = file.faults.is_empty();
        let mut head = Check::new("head");
        let checked = self.check_head(&mut head, &noted, pinned);
        as_finding(checked, &mut head)?;
        let chain = self.check_chain()?;
        let first_bad = chain.first_bad.clone();
        let mut checks = vec![file, head, chain.check, chain.structure];
        let intact =
            first_bad.is_none() && checks.iter().all(|c| c.name != "chain" || c.faults.is_empty());
        if intact {
            checks.push(self.check_references(&chain.chains)?);
            if let Some(folder) = evidence {
                checks.push(self.check_evidence(folder)?);
            }
            if readable {
                checks.push(self.check_projections()?);
            }
        }
        let compared = checks.iter().any(|c| c.name == "projections" && c.looked_at > 0);
        let hanging = first_bad.map(|bad| self.hanging_on(&bad));
        let own = super::entries::head_of(&self.conn, &self.path, &self.identity().chain);
        drop(snapshot);
        Ok(Verified { checks, head: own.ok().flatten(), hanging, compared })
    }

    /// Looks at the chains alone; the first thing wrong is the error.
    pub fn prove_chains(&self) -> Result<()> {
        let chain = self.check_chain()?;
        match chain.check.faults.into_iter().next() {
            None => Ok(()),
            Some(what) => Err(StoreError::Damaged { path: self.path.clone(), what }),
        }
    }

    /// The same of the file behind this book, which may be a view of its past, where the file holds no
    /// more entries than `most`. False where it does, and nothing was looked at.
    pub(crate) fn prove_chains_up_to(&self, most: i64) -> Result<bool> {
        if self.as_of.is_some() || !is_file(&self.conn) {
            return Self::open_to_examine(&self.path)?.prove_chains_up_to(most);
        }
        if last_position(&self.conn, &self.path)? > most {
            return Ok(false);
        }
        self.prove_chains().map(|()| true)
    }

    fn check_file(&self) -> Result<Check> {
        let mut check = Check::new("file");
        let run = || -> rusqlite::Result<Vec<String>> {
            let mut statement = self.conn.prepare("PRAGMA integrity_check(20)")?;
            let rows = statement.query_map([], |r| r.get::<_, String>(0))?;
            rows.collect()
        };
        let lines = as_finding(run().in_file(&self.path), &mut check)?;
        check.looked_at = 1;
        lines.into_iter().flatten().filter(|l| l != "ok").for_each(|l| check.fault(l));
        Ok(check)
    }

    fn check_head(&self, check: &mut Check, noted: &Noted, pinned: Option<Hash>) -> Result<()> {
        let side = || head::side_file(&self.path).display().to_string();
        match noted {
            Noted::Nothing => check.note(format!(
                "no head is noted in {}: that the tail is all there cannot be shown",
                side()
            )),
            Noted::Unreadable => check.fault(format!("{} holds no head", side())),
            Noted::Head(noted) => {
                check.looked_at += 1;
                if noted.entry.chain.site != self.identity().chain.site {
                    check.fault(format!("the head in {} is of another site's book", side()));
                } else if hash_of(&self.conn, &self.path, &noted.entry)? != Some(noted.hash) {
                    check.fault(format!(
                        "the head noted beside the book, {}, is not in it: its tail was lost or altered",
                        noted.entry
                    ));
                }
            }
        }
        let Some(hash) = pinned else { return Ok(()) };
        check.looked_at += 1;
        let mut statement = self
            .conn
            .prepare("SELECT site, epoch, number FROM entry WHERE hash = ?1")
            .in_file(&self.path)?;
        let mut rows = statement.query([&hash.0[..]]).in_file(&self.path)?;
        match rows.next().in_file(&self.path)? {
            None => check.fault(format!("no entry of this book has the hash {hash}")),
            Some(row) => {
                let name = || -> rusqlite::Result<String> {
                    let (site, epoch): (String, u32) = (row.get(0)?, row.get(1)?);
                    let number: i64 = row.get(2)?;
                    Ok(format!("{}-{number}", chain_label(&site, epoch)))
                };
                let name = name().in_file(&self.path)?;
                check.note(format!("{name} has the hash {hash}"));
            }
        }
        Ok(())
    }

    /// Every name in an entry names something here, or something that has not arrived yet.
    fn check_references(&self, chains: &Chains) -> Result<Check> {
        let mut check = Check::new("references");
        let lost = |id: &EntryId| {
            chains.missing().any(|(site, epoch, from, to)| {
                id.chain.site.as_str() == site
                    && id.chain.epoch == epoch
                    && (from..=to).contains(&id.number)
            })
        };
        let held = |id: &EntryId| {
            let head = chains.head(id.chain.site.as_str(), id.chain.epoch);
            head.is_some_and(|(number, _)| id.number >= 1 && id.number <= number) && !lost(id)
        };
        let own = &self.identity().chain;
        let mut awaited = 0u64;
        let seen = self.each_entry(|stored| {
            let entry = stored.raw.read()?;
            if let Some(what) = unseen_in(&stored.raw) {
                check.note(what);
            }
            let named = entry.body.joints().into_iter().map(|j| &j.joint);
            for id in named.chain(entry.body.entries()) {
                check.looked_at += 1;
                if held(id) {
                    continue;
                }
                // A chain names its own past; and what others name of this book's chain, it wrote.
                if (id.chain == *own || id.chain == entry.id.chain) && !lost(id) {
                    check.fault(format!("{} names {id}, which is not in this book", entry.id));
                } else {
                    awaited += 1;
                    check.note(format!("{} names {id}, which has not arrived", entry.id));
                }
            }
            if let Body::Adoption(b) = &entry.body
                && let Some(text) = &b.text
            {
                check.looked_at += 1;
                if crate::ledger::digest(text.as_bytes()) != b.sha256 {
                    check.fault(format!("{}: its text does not give its digest", entry.id));
                }
            }
            Ok(())
        });
        as_finding(seen, &mut check)?;
        if !self.is_stale()? {
            let old = struck_freely::up_to(&self.conn, &self.path)?;
            let said = as_finding(struck_freely::since(&self.conn, &self.path, 0), &mut check)?;
            let told = |s: &&OfAnother| s.not_in_force.is_some() || old > 0 && s.decision.is_none();
            said.iter().flatten().filter(told).for_each(|s| check.note(s.to_string()));
        }
        if awaited > TOLD as u64 {
            check.notes.push(format!("{awaited} names in all wait for entries to arrive"));
        }
        Ok(check)
    }

    /// Runs through the entries as far as they can be read; what stopped it, if anything did.
    fn each_readable(&self, mut see: impl FnMut(super::StoredEntry)) -> Result<Option<StoreError>> {
        let query = format!("SELECT {COLUMNS} FROM entry ORDER BY position");
        let mut statement = match self.conn.prepare(&query).in_file(&self.path) {
            Ok(statement) => statement,
            Err(e @ StoreError::Damaged { .. }) => return Ok(Some(e)),
            Err(e) => return Err(e),
        };
        let mut rows = match statement.query([]).in_file(&self.path) {
            Ok(rows) => rows,
            Err(e @ StoreError::Damaged { .. }) => return Ok(Some(e)),
            Err(e) => return Err(e),
        };
        loop {
            match rows.next().and_then(|r| r.map(from_row).transpose()).in_file(&self.path) {
                Ok(Some(entry)) => see(entry),
                Ok(None) => return Ok(None),
                Err(e @ StoreError::Damaged { .. }) => return Ok(Some(e)),
                Err(e) => return Err(e),
            }
        }
    }
}
