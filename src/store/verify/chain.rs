//! The chains of a book, entry by entry. One thread reads while another hashes.

use std::collections::BTreeSet;
use std::sync::mpsc;

use super::super::book::Book;
use super::super::bundle_in::check_parents;
use super::super::entries::StoredEntry;
use super::super::epoch::told_lost;
use super::super::error::{Result, StoreError};
use super::structure::{Lineage, Structure};
use super::{Check, as_finding, with_causes};
use crate::ledger::{Chains, Hash, RawEntry, chain_label};
use crate::model::EntryId;

/// Entries handed over at once.
const BATCH: usize = 1024;
/// Batches that may wait.
const WAITING: usize = 4;

/// What a walk along the chains found.
pub(super) struct ChainWalk {
    pub check: Check,
    /// Whose book it is and how things arrived.
    pub structure: Check,
    pub chains: Chains,
    /// The first entry that is wrong.
    pub first_bad: Option<Bad>,
}

/// An entry that is wrong.
#[derive(Clone, Debug)]
pub(super) struct Bad {
    pub entry: RawEntry,
    pub position: i64,
}

/// The hashing side: takes entries in order of arrival.
struct Walk {
    check: Check,
    structure: Structure,
    chains: Chains,
    scratch: Vec<u8>,
    expected: i64,
    first_bad: Option<Bad>,
    /// Chains that are broken: site, epoch, entries that hang on the break.
    broken: Vec<(String, u32, u64)>,
    /// Ends of lost stretches after which entries were kept by decision.
    unproven: BTreeSet<(String, u32, u64)>,
}

impl Walk {
    fn take(&mut self, stored: &StoredEntry) {
        self.check.looked_at += 1;
        self.expected += 1;
        let raw = &stored.raw;
        if stored.position != self.expected {
            let (expected, found) = (self.expected, stored.position);
            self.check
                .fault(format!("position {expected} of the book is missing, {found} follows"));
            self.expected = found;
        }
        let of_chain = |b: &&mut (String, u32, u64)| b.1 == raw.epoch && b.0 == raw.site;
        if let Some(broken) = self.broken.iter_mut().find(of_chain) {
            broken.2 += 1;
            return;
        }
        let sound = Hash::of_entry(&stored.prev, raw, &mut self.scratch) == stored.hash;
        if let Err(fault) = self.chains.check_hashed(raw, &stored.prev, &stored.hash, sound) {
            self.check.fault(fault.to_string());
            self.broken.push((raw.site.clone(), raw.epoch, 0));
            self.first_bad
                .get_or_insert_with(|| Bad { entry: raw.clone(), position: stored.position });
        }
        self.structure.take(stored);
    }

    fn end(mut self) -> ChainWalk {
        for (site, epoch, hanging) in &self.broken {
            if *hanging > 0 {
                let chain = chain_label(site, *epoch);
                self.check.fault(format!("{hanging} later entries of {chain} hang on it"));
            }
        }
        for (site, epoch, from, to) in self.chains.missing() {
            let chain = chain_label(site, epoch);
            let which = if from == to {
                format!("entry {from} of {chain} was lost before a salvage and has")
            } else {
                format!("entries {from} to {to} of {chain} were lost before a salvage and have")
            };
            self.check.note(format!("{which} not come back"));
            if self.unproven.contains(&(site.to_owned(), epoch, to)) {
                self.check.note(format!(
                    "what follows them in {chain} was kept by decision: no trusted head links back \
                     to them"
                ));
            }
        }
        let structure = self.structure.end();
        ChainWalk { check: self.check, structure, chains: self.chains, first_bad: self.first_bad }
    }
}

impl Book {
    pub(super) fn check_chain(&self) -> Result<ChainWalk> {
        let lineage = Lineage::read(self)?;
        let mut check = Check::new("chain");
        let told = as_finding(told_lost(&self.conn, &self.path), &mut check)?.unwrap_or_default();
        let walk = Walk {
            check,
            structure: Structure::new(lineage),
            chains: Chains::with_lost(&told),
            unproven: told
                .iter()
                .filter(|l| l.unproven)
                .map(|l| (l.chain.site.as_str().to_owned(), l.chain.epoch, l.to))
                .collect(),
            scratch: Vec::new(),
            expected: 0,
            first_bad: None,
            broken: Vec::new(),
        };
        let (send, receive) = mpsc::sync_channel::<Vec<StoredEntry>>(WAITING);
        let (stopped, walked) = std::thread::scope(|scope| {
            let hashing = scope.spawn(move || {
                let mut walk = walk;
                for batch in receive {
                    batch.iter().for_each(|e| walk.take(e));
                }
                walk
            });
            let mut batch = Vec::with_capacity(BATCH);
            let stopped = self.each_readable(|entry| {
                batch.push(entry);
                if batch.len() == BATCH {
                    // The other side ends before this one only by a panic, which `join` tells.
                    let _ = send.send(std::mem::replace(&mut batch, Vec::with_capacity(BATCH)));
                }
            });
            let _ = send.send(batch);
            drop(send);
            (stopped, hashing.join())
        });
        let stopped = stopped?;
        let mut walked = walked
            .map_err(|_| StoreError::Fold {
                entry: "the chain".to_owned(),
                what: "the check itself failed".to_owned(),
            })?
            .end();
        if let Some(error) = stopped {
            walked.check.fault(format!(
                "after {} entries the next cannot be read: {}",
                walked.check.looked_at,
                with_causes(&error)
            ));
        }
        if walked.check.faults.is_empty() {
            as_finding(self.count_agrees(&mut walked), &mut Check::new("chain"))?;
            match check_parents(&self.conn, &self.path) {
                Err(e @ StoreError::Bundle(_)) => walked.check.fault(e.to_string()),
                other => {
                    as_finding(other, &mut walked.check)?;
                }
            }
        }
        Ok(walked)
    }

    /// The table and its index hold the same number of entries: a row that a damaged tree hides
    /// from one of them shows here.
    fn count_agrees(&self, walked: &mut ChainWalk) -> Result<()> {
        use super::super::error::InFile;
        let by_name: i64 = self
            .conn
            .query_row("SELECT count(*) FROM entry INDEXED BY sqlite_autoindex_entry_1", [], |r| {
                r.get(0)
            })
            .in_file(&self.path)?;
        if u64::try_from(by_name) != Ok(walked.check.looked_at) {
            walked.check.fault(format!(
                "{} entries stand in the book, {by_name} in its index of names",
                walked.check.looked_at
            ));
        }
        Ok(())
    }
}

impl Bad {
    pub(super) fn id(&self) -> Option<EntryId> {
        Some(EntryId { chain: self.entry.chain().ok()?, number: self.entry.number })
    }
}
