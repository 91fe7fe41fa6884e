//! Proves a book: chain, references, projections against a rebuild, SQLite's own check.

use std::collections::BTreeSet;
use std::path::Path;

use rusqlite::{Connection, OpenFlags};

use super::book::Book;
use super::error::{InFile, Result};
use super::head::{self, HeadMark};
use super::{migrate, project};
use crate::ledger::{Chains, Hash};
use crate::model::Body;

/// One thing that was looked at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Check {
    /// What was looked at.
    pub name: &'static str,
    /// How much of it.
    pub looked_at: u64,
    /// The first things wrong, in words; empty when all is well.
    pub faults: Vec<String>,
}

/// What `verify` found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Verified {
    /// Every check made.
    pub checks: Vec<Check>,
    /// Head of the book's own chain.
    pub head: Option<HeadMark>,
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
        Self { name, looked_at: 0, faults: Vec::new() }
    }

    fn fault(&mut self, what: String) {
        if self.faults.len() < TOLD {
            self.faults.push(what);
        }
    }
}

impl Book {
    /// Looks at everything. `pinned` is a head that a printed page names.
    pub fn verify(&self, pinned: Option<&str>) -> Result<Verified> {
        let mut checks = vec![self.check_file()?];
        let (chain, known) = self.check_chain()?;
        checks.push(self.check_heads(&chain, pinned)?);
        let intact = chain.check.faults.is_empty();
        checks.push(chain.check);
        if intact {
            checks.push(self.check_references(&known)?);
            checks.push(self.check_projections()?);
        }
        Ok(Verified { checks, head: self.head()? })
    }

    fn check_file(&self) -> Result<Check> {
        let mut check = Check::new("file");
        let mut statement = self.conn.prepare("PRAGMA integrity_check(20)").in_file(&self.path)?;
        let rows = statement.query_map([], |r| r.get::<_, String>(0)).in_file(&self.path)?;
        for row in rows {
            check.looked_at += 1;
            let line = row.in_file(&self.path)?;
            if line != "ok" {
                check.fault(line);
            }
        }
        Ok(check)
    }

    fn check_chain(&self) -> Result<(Chain, BTreeSet<String>)> {
        let mut chains = Chains::new();
        let mut check = Check::new("chain");
        let mut known = BTreeSet::new();
        let mut expected = 0;
        let mut hanging = 0u64;
        self.each_entry(|stored| {
            expected += 1;
            check.looked_at += 1;
            if hanging > 0 {
                hanging += 1;
                return Ok(());
            }
            if stored.position != expected {
                check.fault(format!("position {expected} of the book is missing"));
                expected = stored.position;
            }
            if let Err(fault) = chains.check(&stored.raw, &stored.prev, &stored.hash) {
                check.fault(fault.to_string());
                hanging = 1;
            }
            known.insert(stored.raw.label());
            Ok(())
        })?;
        if hanging > 1 {
            check.fault(format!("{} entries after it hang on it", hanging - 1));
        }
        Ok((Chain { check, chains }, known))
    }

    fn check_heads(&self, chain: &Chain, pinned: Option<&str>) -> Result<Check> {
        let mut check = Check::new("head");
        if let Some(anchored) = head::read(&self.path) {
            check.looked_at += 1;
            if self.hash_of(&anchored.entry)? != Some(anchored.hash) {
                check.fault(format!(
                    "the head noted beside the book, {}, is not in it: its tail was lost or altered",
                    anchored.entry
                ));
            }
        }
        if let Some(pinned) = pinned {
            check.looked_at += 1;
            match pinned.parse::<Hash>() {
                Err(e) => check.fault(e.to_string()),
                Ok(hash) => {
                    let found: i64 = self
                        .conn
                        .query_row(
                            "SELECT count(*) FROM entry WHERE hash = ?1",
                            [&hash.0[..]],
                            |r| r.get(0),
                        )
                        .in_file(&self.path)?;
                    if found == 0 {
                        check.fault(format!("no entry of this book has the hash {hash}"));
                    }
                }
            }
        }
        let own = &self.identity().chain;
        if chain.chains.head(own.site.as_str(), own.epoch).is_none() {
            check.fault(format!("the book has no entries of its own chain {own}"));
        }
        Ok(check)
    }

    fn check_references(&self, known: &BTreeSet<String>) -> Result<Check> {
        let mut check = Check::new("references");
        self.each_entry(|stored| {
            let entry = stored.raw.read()?;
            let named = entry.body.joints().into_iter().map(|j| &j.joint);
            for id in named.chain(entry.body.entries()) {
                check.looked_at += 1;
                if !known.contains(&id.to_string()) {
                    check.fault(format!("{} names {id}, which is not in this book", entry.id));
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
        })?;
        Ok(check)
    }

    /// Projects the ledger anew, in memory, and compares table by table.
    fn check_projections(&self) -> Result<Check> {
        let mut check = Check::new("projections");
        let copy = self.ledger_in_memory()?;
        project::rebuild(&copy, &self.path)?;
        for table in migrate::projection_tables() {
            let ours = rows_of(&self.conn, &self.path, table)?;
            let anew = rows_of(&copy, &self.path, table)?;
            check.looked_at += ours.len() as u64;
            if ours != anew {
                let first = ours.iter().zip(&anew).find(|(a, b)| a != b);
                let key = first.map_or_else(
                    || format!("{} rows in place of {}", ours.len(), anew.len()),
                    |(a, _)| format!("first at {}", a.first().map_or("", String::as_str)),
                );
                check.fault(format!("table {table} differs from a rebuild: {key}"));
            }
        }
        Ok(check)
    }

    /// A copy of the ledger alone in a database in memory.
    pub(super) fn ledger_in_memory(&self) -> Result<Connection> {
        let mut copy = Connection::open_in_memory_with_flags(
            OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX,
        )
        .in_file(&self.path)?;
        copy.set_prepared_statement_cache_capacity(256);
        super::functions::register(&copy).in_file(&self.path)?;
        let tx = copy.transaction().in_file(&self.path)?;
        migrate::apply(&tx, 0).in_file(&self.path)?;
        self.each_entry(|stored| super::ledger::insert(&tx, &self.path, &stored))?;
        tx.commit().in_file(&self.path)?;
        Ok(copy)
    }
}

struct Chain {
    check: Check,
    chains: Chains,
}

/// All rows of a table as text, in key order.
fn rows_of(conn: &Connection, path: &Path, table: &str) -> Result<Vec<Vec<String>>> {
    // Table names come from this program's own migration.
    let mut statement = conn.prepare(&format!("SELECT * FROM \"{table}\"")).in_file(path)?;
    let columns = statement.column_count();
    let mut rows = statement.query([]).in_file(path)?;
    let mut out = Vec::new();
    while let Some(row) = rows.next().in_file(path)? {
        let mut values = Vec::with_capacity(columns);
        for c in 0..columns {
            values.push(format!("{:?}", row.get_ref(c).in_file(path)?));
        }
        out.push(values);
    }
    out.sort();
    Ok(out)
}
