//! Salvage: reads what a damaged book still holds into a new one, under a new epoch of its site.
//! The damaged file is copied first and only the copy is opened; the original is never touched.

mod again;
mod proof;

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use rusqlite::{Connection, OpenFlags, TransactionBehavior};

use super::book::Book;
use super::carve::{self, Images};
use super::entries::{COLUMNS, StoredEntry, from_row, head_of, insert, last_position, write_all};
use super::epoch::{self, Beginning};
use super::error::{InFile, Result, StoreError};
use super::head::{self, HeadMark};
use super::identity::{Identity, Stamp};
use super::whole::{beside, in_new_file, open_plain, resolved};
use super::{migrate, project};
use crate::ledger::Hash;
use crate::model::{Body, Chain, EntryId, Site};
use crate::units::UnitSystem;
pub use proof::{SalvageDecision, SalvagedChain};
use proof::{Sorted, Trust, sort_out};

/// What a salvage did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Salvaged {
    /// Chains, by name.
    pub chains: Vec<SalvagedChain>,
    /// Images of entries that are lost: they can be read, and their content does not give their
    /// hash.
    pub torn: Vec<StoredEntry>,
    /// What reads as an entry and is proven by nothing: its content does not give its hash, and no
    /// link of a chain says where it belongs. It is no entry of any chain, and not in the new book.
    pub apart: Vec<StoredEntry>,
    /// Entries kept in all.
    pub kept: u64,
    /// Entries kept of which one bit was wrong: their hash told which.
    pub mended: Vec<String>,
    /// Entries kept by decision, to which no trusted end links.
    pub by_decision: u64,
    /// Entries that were set aside and taken in again: their name, and their new one.
    pub again: Vec<(EntryId, EntryId)>,
    /// Entries that were set aside and tell of the book of their site: not taken in again.
    pub not_again: Vec<String>,
    /// Entries kept that name what was set aside; what comes in under such a name they would name.
    pub naming: Vec<String>,
    /// Where the entries were read: by SQLite, or page by page.
    pub by_pages: bool,
    /// What the new book's chain continues.
    pub parent: Option<HeadMark>,
    /// The new book's first own entry.
    pub head: HeadMark,
    /// What was wrong with the file, as far as reading it told.
    pub wrong: Vec<String>,
}

impl Salvaged {
    /// True when everything that was seen is in the new book.
    pub fn complete(&self) -> bool {
        self.apart.is_empty() && self.chains.iter().all(|c| c.kept == c.seen && c.lost.is_empty())
    }
}

/// Entries found in a damaged file.
struct Found {
    images: Images,
    owner: Option<OwnerRow>,
    wrong: Vec<String>,
    by_pages: bool,
}

/// The row that says whose book a file is.
struct OwnerRow {
    site: String,
    epoch: u32,
    units: String,
}

impl Book {
    /// Reads a damaged book's entries and writes to a new book, where nothing stands, what is
    /// proven: each chain from its beginning on, and what links back from an end that is trusted:
    /// the head noted beside the file, heads that entries of the own chain name; and what
    /// is decided beside.
    ///
    /// # Errors
    /// A file in which no entry of any book can be found; a target that exists.
    pub fn salvage(
        damaged: &Path,
        to: &Path,
        decision: &SalvageDecision,
        stamp: &Stamp,
    ) -> Result<Salvaged> {
        let damaged = &*resolved(damaged)?;
        let noted = head::read(damaged);
        let found = read_damaged(damaged, noted.as_ref().map(|n| &n.hash))?;
        let how = How { damaged, to, noted: noted.as_ref(), decision };
        let salvaged = in_new_file(to, |draft| write_anew(draft, &how, found, stamp))?;
        head::write(to, &salvaged.head)?;
        Ok(salvaged)
    }
}

/// Whether an entry that SQLite does not show any more still stands in the pages or the log.
pub(super) fn still_there(file: &Path, lost: &HeadMark) -> Result<bool> {
    let found = carve::entries(file, &beside(file, "-wal"), Some(&lost.hash))
        .map_err(|e| StoreError::io(file, e))?;
    Ok(found.has(&lost.hash))
}

/// Reads every entry that can be found: by SQLite where it can, else page by page.
fn read_damaged(damaged: &Path, noted: Option<&Hash>) -> Result<Found> {
    let folder = tempfile::tempdir().map_err(|e| StoreError::io(damaged, e))?;
    let copy = folder.path().join("copy");
    let copied = |from: &Path, to: &Path| {
        let copied = open_plain(from)
            .and_then(|mut from| std::io::copy(&mut from, &mut fs::File::create(to)?));
        copied.map_err(|e| StoreError::io(from, e))
    };
    copied(damaged, &copy)?;
    let log = beside(damaged, "-wal");
    if log.exists() {
        copied(&log, &beside(&copy, "-wal"))?;
    }
    let mut wrong = Vec::new();
    // The pages as they stand, before SQLite folds the log in.
    let carved = carve::entries(&copy, &beside(&copy, "-wal"), noted)
        .map_err(|e| StoreError::io(damaged, e))?;
    let (mut images, owner) = read_by_sqlite(&copy, &mut wrong);
    let by_pages = images.add(carved);
    if images.is_empty() {
        return Err(StoreError::Damaged {
            path: damaged.to_path_buf(),
            what: "no entry of a book can be found in it".to_owned(),
        });
    }
    Ok(Found { images, owner, wrong, by_pages })
}

fn read_by_sqlite(copy: &Path, wrong: &mut Vec<String>) -> (Images, Option<OwnerRow>) {
    let mut out = Images::default();
    let mut owner = None;
    let mut read = || -> rusqlite::Result<()> {
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let conn = Connection::open_with_flags(copy, flags)?;
        let row = conn.query_row("SELECT site, epoch, units FROM book WHERE only = 1", [], |r| {
            Ok(OwnerRow { site: r.get(0)?, epoch: r.get(1)?, units: r.get(2)? })
        });
        owner = row.ok();
        let mut statement =
            conn.prepare(&format!("SELECT {COLUMNS} FROM entry NOT INDEXED ORDER BY position"))?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            match from_row(row) {
                Ok(entry) => {
                    out.take(entry);
                }
                Err(e) => wrong.push(e.to_string()),
            }
        }
        Ok(())
    };
    if let Err(e) = read() {
        wrong.push(e.to_string());
    }
    (out, owner)
}

/// How to write anew what was found.
struct How<'a> {
    damaged: &'a Path,
    to: &'a Path,
    noted: Option<&'a HeadMark>,
    decision: &'a SalvageDecision,
}

/// Whose book it was.
struct Owner {
    site: Site,
    /// Epoch that it wrote last, where the file still says so.
    epoch: Option<u32>,
    written: String,
    units: UnitSystem,
}

/// Tells the owner: by the row of the file that says so, by the head noted beside it, or by the
/// entry at its beginning.
fn owner(row: Option<&OwnerRow>, noted: Option<&HeadMark>, kept: &[StoredEntry]) -> Option<Owner> {
    let site = row
        .and_then(|r| Site::parse(&r.site).ok())
        .or_else(|| noted.map(|n| n.entry.chain.site.clone()))
        .or_else(|| Site::parse(&kept.iter().min_by_key(|e| e.position)?.raw.site).ok())?;
    let own = |e: &&StoredEntry| e.raw.site == site.as_str();
    let begun = kept.iter().filter(own).find_map(|e| {
        let Body::Epoch(b) = e.raw.read().ok()?.body else { return None };
        Some((b.site, UnitSystem::parse(&b.units)))
    });
    let units_of_row = row.and_then(|r| UnitSystem::parse(&r.units));
    let (written, units) = begun.unwrap_or_else(|| (site.to_string(), None));
    let epoch = row
        .filter(|r| Site::parse(&r.site).is_ok_and(|s| s == site))
        .map(|r| r.epoch)
        .or_else(|| noted.map(|n| n.entry.chain.epoch));
    Some(Owner { site, epoch, written, units: units.or(units_of_row).unwrap_or_default() })
}

fn write_anew(draft: &Path, how: &How<'_>, found: Found, stamp: &Stamp) -> Result<Salvaged> {
    let How { damaged, to, noted, decision } = *how;
    let Found { images, owner: row, wrong, by_pages } = found;
    let mended = images.mended().clone();
    let site_of_row = row.as_ref().and_then(|r| Site::parse(&r.site).ok());
    let own = site_of_row.as_ref().or(noted.map(|n| &n.entry.chain.site));
    let trust = Trust { own: own.map(Site::as_str), noted: noted.map(|n| n.hash), decision };
    let Sorted { kept, mut chains, lost, by_decision, aside, torn, apart } =
        sort_out(images, &trust);
    let owner = owner(row.as_ref(), noted, &kept).ok_or_else(|| StoreError::Damaged {
        path: damaged.to_path_buf(),
        what: "whose book it was cannot be found in it".to_owned(),
    })?;
    let site = owner.site.as_str();
    let mut conn = Book::blank(draft, to)?;
    let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate).in_file(to)?;
    migrate::apply(&tx, stamp.now.at.0).in_file(to)?;
    migrate::lay_out_projections(&tx).in_file(to)?;
    // The book goes on from where its own chain can be read: the latest epoch that it wrote.
    let mut parent: Option<HeadMark> = None;
    for (position, entry) in (1i64..).zip(&kept) {
        insert(&tx, to, &StoredEntry { position, ..entry.clone() })?;
        let raw = &entry.raw;
        let least = parent.as_ref().map_or(0, |p| p.entry.chain.epoch);
        let most = owner.epoch.unwrap_or(u32::MAX);
        if raw.site == site && (least..=most).contains(&raw.epoch) {
            let chain = Chain { site: owner.site.clone(), epoch: raw.epoch };
            let entry_id = EntryId { chain, number: raw.number };
            parent = Some(HeadMark { entry: entry_id, hash: entry.hash });
        }
    }
    let counts = |n: &&HeadMark| n.entry.chain.site == owner.site && !decision.covers(&n.entry);
    if let Some(n) = noted.filter(counts) {
        let key = (n.entry.chain.site.as_str().to_owned(), n.entry.chain.epoch);
        let state =
            chains.entry(key).or_insert_with(|| SalvagedChain::new(n.entry.chain.to_string()));
        if n.entry.number > state.seen {
            state.seen = n.entry.number;
            state.broke.get_or_insert_with(|| {
                format!("{} was noted beside the file and is not in it", n.entry)
            });
        }
    }
    // Above every epoch of the site of which anything was seen.
    let seen = chains.keys().filter(|k| k.0 == site).map(|k| k.1).max().unwrap_or(0);
    let epoch = seen.max(owner.epoch.unwrap_or(0)).saturating_add(1);
    let identity =
        Identity { chain: Chain { site: owner.site.clone(), epoch }, units: owner.units };
    let reason = format!("salvaged from {}{}", name_of(damaged), decision.said());
    let naming = again::naming(&kept, &aside)?;
    let taken = if decision.take_again {
        again::of(&aside, &identity.chain)?
    } else {
        again::Again::default()
    };
    let beginning = Beginning::Later {
        parent: parent.as_ref(),
        reason: &reason,
        salvaged: Some(&lost),
        again: &taken.told,
    };
    let clock = super::clock::told_by(&tx, to, site, &BTreeSet::new())?;
    let written = (owner.written.as_str(), clock);
    let mut head = epoch::begin(&tx, to, &identity, written, &beginning, stamp)?;
    let (_, names) = write_all(&tx, to, &identity.chain, &taken.drafts, stamp)?;
    if let Some(last) = head_of(&tx, to, &identity.chain)? {
        head = last;
    }
    project::rebuild(&tx, to)?;
    tx.commit().in_file(to)?;
    let count = u64::try_from(last_position(&conn, to)?).unwrap_or(0);
    conn.close().map_err(|(_, e)| StoreError::from_sqlite(to, e))?;
    let mended = kept.iter().filter(|e| mended.contains(&e.hash)).map(|e| e.raw.label());
    Ok(Salvaged {
        chains: chains.into_values().collect(),
        torn,
        apart,
        kept: count.saturating_sub(1 + names.len() as u64),
        mended: mended.collect(),
        by_decision,
        again: taken.told.into_iter().map(|t| t.entry).zip(names).collect(),
        not_again: taken.left,
        naming,
        by_pages,
        parent,
        head,
        wrong,
    })
}

/// The last part of a path, for people.
fn name_of(path: &Path) -> String {
    path.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned())
}
