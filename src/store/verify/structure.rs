//! Whose book it is: the row that says so against the entry that began its chain; what arrived
//! from elsewhere against the entries that say so; the layout against this program's.

use std::collections::BTreeMap;

use super::super::book::Book;
use super::super::entries::{StoredEntry, at_position, position_of};
use super::super::epoch::told_lost;
use super::super::error::{InFile, Result};
use super::super::migrate;
use super::{Check, as_finding};
use crate::ledger::{RawEntry, chain_label};
use crate::model::{Body, Chain, EntryId, EntryKind, Site};

/// The chains that the book wrote, one after the other, each from a position on.
#[derive(Debug, Default)]
pub(super) struct Lineage {
    /// From the latest back: first position, chain.
    chains: Vec<(i64, Chain)>,
    /// Position of the latest epoch that was put together from a damaged book.
    salvaged: i64,
    faults: Vec<String>,
}

impl Lineage {
    /// Reads it from the book's own row back through the epochs.
    pub(super) fn read(book: &Book) -> Result<Self> {
        let mut check = Check::new("book");
        let mut out = Self::default();
        as_finding(out.follow(book), &mut check)?;
        out.faults.extend(check.faults);
        Ok(out)
    }

    fn follow(&mut self, book: &Book) -> Result<()> {
        let mut chain = book.identity().chain.clone();
        loop {
            let first = EntryId { chain: chain.clone(), number: 1 };
            let stored = match position_of(&book.conn, &book.path, &first)? {
                Some(p) => at_position(&book.conn, &book.path, p)?,
                None => None,
            };
            let Some(stored) = stored else {
                let lost = told_lost(&book.conn, &book.path)?;
                if lost.iter().any(|l| l.chain == chain && l.from == 1) {
                    // What began it is lost and told so; the chain was the book's own from there on.
                    self.chains.push((1, chain));
                    return Ok(());
                }
                self.faults
                    .push(format!("{first}, which began the book's own chain, is not in it"));
                return Ok(());
            };
            let Body::Epoch(body) = stored.raw.read()?.body else {
                self.faults.push(format!("{first} does not begin a chain"));
                return Ok(());
            };
            if self.chains.is_empty() {
                self.compare_row(book, &stored, &body.units)?;
            }
            if Site::parse(&body.site).ok().as_ref() != Some(&chain.site) {
                self.faults.push(format!("{first} begins a chain of another site"));
            }
            self.chains.push((stored.position, chain.clone()));
            if body.salvaged {
                self.salvaged = self.salvaged.max(stored.position);
            }
            match body.parent {
                Some(parent) if parent.entry.chain.epoch < chain.epoch => {
                    chain = parent.entry.chain;
                }
                _ => return Ok(()),
            }
        }
    }

    fn compare_row(&mut self, book: &Book, first: &StoredEntry, units: &str) -> Result<()> {
        let (row_units, created): (String, i64) = book
            .conn
            .query_row("SELECT units, created_ms FROM book WHERE only = 1", [], |r| {
                Ok((r.get(0)?, r.get(1)?))
            })
            .in_file(&book.path)?;
        let label = first.raw.label();
        if row_units != units {
            self.faults.push(format!("the book says units {row_units}, {label} says {units}"));
        }
        if created != first.raw.recorded_ms {
            self.faults.push(format!("the book was not begun when {label} was written"));
        }
        Ok(())
    }

    /// The chain that the book wrote at a position.
    fn own(&self, position: i64) -> Option<&Chain> {
        let began = self.chains.iter().find(|(from, _)| *from <= position);
        began.or(self.chains.last()).map(|(_, chain)| chain)
    }
}

/// Stretches of chains: first and last number, hash of the last.
type Arrivals = BTreeMap<(String, u32), Vec<(u64, u64, String)>>;

/// Follows what arrived: entries of other chains stand directly before the entry that says so.
#[derive(Debug)]
pub(super) struct Structure {
    check: Check,
    lineage: Lineage,
    /// Entries of other chains since the last own one.
    waiting: Arrivals,
}

impl Structure {
    pub(super) fn new(mut lineage: Lineage) -> Self {
        let mut check = Check::new("book");
        lineage.faults.drain(..).for_each(|f| check.fault(f));
        Self { check, lineage, waiting: BTreeMap::new() }
    }

    pub(super) fn take(&mut self, stored: &StoredEntry) {
        let raw = &stored.raw;
        let own = self.lineage.own(stored.position);
        if own.is_none_or(|c| c.site.as_str() != raw.site || c.epoch != raw.epoch) {
            let key = (raw.site.clone(), raw.epoch);
            let hash = stored.hash.to_string();
            let stretches = self.waiting.entry(key).or_default();
            match stretches.last_mut().filter(|(_, to, _)| *to + 1 == raw.number) {
                Some(stretch) => (stretch.1, stretch.2) = (raw.number, hash),
                None => stretches.push((raw.number, raw.number, hash)),
            }
            return;
        }
        let kind = EntryKind::named(&raw.kind);
        if kind == Some(EntryKind::Arrival) {
            self.arrived(raw, stored.position);
        } else if kind != Some(EntryKind::Epoch) {
            // A book that was salvaged or restored between two arrivals begins anew with an epoch.
            if self.waiting.is_empty() {
                return;
            }
            self.unannounced(&raw.label());
        }
        self.waiting.clear();
    }

    fn unannounced(&mut self, by: &str) {
        let first = self.waiting.iter().next();
        if let Some(((site, epoch), (from, ..))) = first.and_then(|(c, s)| Some((c, s.first()?))) {
            let chain = chain_label(site, *epoch);
            self.check.fault(format!(
                "{chain}-{from} came from elsewhere and {by} does not say how it arrived"
            ));
        }
    }

    fn arrived(&mut self, raw: &RawEntry, position: i64) {
        self.check.looked_at += 1;
        let label = raw.label();
        let Ok(entry) = raw.read() else {
            self.check.fault(format!("{label} cannot be read"));
            return;
        };
        let Body::Arrival(body) = entry.body else { return };
        let mut stated = Arrivals::new();
        for a in body.chains {
            let key = (a.chain.site.as_str().to_owned(), a.chain.epoch);
            stated.entry(key).or_default().push((a.from, a.to, a.head));
        }
        let sound = if position < self.lineage.salvaged {
            // A salvage keeps of each chain what can be proved; the rest comes back by bundle.
            let within = |(from, to, head): &(u64, u64, String), stated: &[(u64, u64, String)]| {
                stated.iter().any(|(first, last, hash)| {
                    first <= from && (to < last || to == last && head == hash)
                })
            };
            self.waiting.iter().all(|(chain, kept)| {
                stated.get(chain).is_some_and(|stated| kept.iter().all(|k| within(k, stated)))
            })
        } else {
            stated == self.waiting && !stated.is_empty()
        };
        if !sound {
            self.check
                .fault(format!("{label} says what arrived, and other entries stand before it"));
        }
    }

    pub(super) fn end(mut self) -> Check {
        if !self.waiting.is_empty() {
            self.unannounced("no later entry");
        }
        self.check
    }
}

impl Book {
    /// Tables, indexes and triggers are those that this program lays out.
    pub(super) fn check_layout(&self, check: &mut Check) -> Result<()> {
        if self.is_stale()? {
            check.note("its layout is of another version and was not compared".to_owned());
            return Ok(());
        }
        let ours = migrate::expected_layout().in_file(&self.path)?;
        let found = as_finding(migrate::layout(&self.conn).in_file(&self.path), check)?;
        let Some(found) = found else { return Ok(()) };
        for (name, sql) in &ours {
            match found.get(name) {
                None => check.fault(format!("{} {} is missing", name.0, name.1)),
                Some(other) if other != sql => {
                    check.fault(format!("{} {} was changed", name.0, name.1));
                }
                Some(_) => {}
            }
        }
        for name in found.keys().filter(|n| !ours.contains_key(*n)) {
            check.fault(format!("{} {} is none of a book's", name.0, name.1));
        }
        check.looked_at += ours.len() as u64;
        Ok(())
    }
}
