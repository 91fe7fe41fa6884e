//! Salvage: reads what a damaged book still holds into a new one, under a new epoch of its site.
//! The damaged file is copied first and only the copy is opened; the original is never touched.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

use rusqlite::{Connection, OpenFlags, TransactionBehavior};

use super::book::Book;
use super::carve::{self, Images};
use super::entries::{COLUMNS, StoredEntry, from_row, insert, last_position};
use super::epoch::{self, Beginning};
use super::error::{InFile, Result, StoreError};
use super::head::{self, HeadMark};
use super::identity::{Identity, Stamp};
use super::whole::{beside, in_new_file, resolved};
use super::{migrate, project};
use crate::ledger::{ChainFault, Chains, Hash};
use crate::model::{Body, Chain, EntryId, Site};
use crate::units::UnitSystem;

/// What became of one chain.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SalvagedChain {
    /// The chain.
    pub chain: String,
    /// Last number kept; 0 when none was.
    pub kept: u64,
    /// Greatest number of which anything was seen, in the file or in the head noted beside it.
    pub seen: u64,
    /// Entries after the break that can be read, but that the chain no longer proves.
    pub unproven: u64,
    /// Why it breaks off; `None` when everything seen was kept.
    pub broke: Option<String>,
}

/// What a salvage did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Salvaged {
    /// Chains, by name.
    pub chains: Vec<SalvagedChain>,
    /// What reads as an entry and is proven by nothing: its content does not give its hash, and no
    /// link of a chain says where it belongs. It is no entry of any chain, and not in the new book.
    pub apart: Vec<StoredEntry>,
    /// Entries kept in all.
    pub kept: u64,
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
        self.apart.is_empty() && self.chains.iter().all(|c| c.kept == c.seen)
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
    /// Reads a damaged book's entries until each chain breaks and writes them to a new book where
    /// nothing stands.
    ///
    /// # Errors
    /// A file in which no entry of any book can be found; a target that exists.
    pub fn salvage(damaged: &Path, to: &Path, stamp: &Stamp) -> Result<Salvaged> {
        let damaged = &*resolved(damaged)?;
        let found = read_damaged(damaged)?;
        let noted = head::read(damaged);
        let salvaged =
            in_new_file(to, |draft| write_anew(damaged, draft, to, found, noted.as_ref(), stamp))?;
        head::write(to, &salvaged.head)?;
        Ok(salvaged)
    }
}

/// Whether an entry that SQLite does not show any more still stands in the pages or the log.
pub(super) fn still_there(file: &Path, lost: &HeadMark) -> Result<bool> {
    let found = carve::entries(file, &beside(file, "-wal")).map_err(|e| StoreError::io(file, e))?;
    Ok(found.has(&lost.hash))
}

/// Reads every entry that can be found: by SQLite where it can, else page by page.
fn read_damaged(damaged: &Path) -> Result<Found> {
    let folder = tempfile::tempdir().map_err(|e| StoreError::io(damaged, e))?;
    let copy = folder.path().join("copy");
    fs::copy(damaged, &copy).map_err(|e| StoreError::io(damaged, e))?;
    let log = beside(damaged, "-wal");
    if log.exists() {
        fs::copy(&log, beside(&copy, "-wal")).map_err(|e| StoreError::io(&log, e))?;
    }
    let mut wrong = Vec::new();
    // The pages as they stand, before SQLite folds the log in.
    let carved =
        carve::entries(&copy, &beside(&copy, "-wal")).map_err(|e| StoreError::io(damaged, e))?;
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
                Ok(entry) => out.take(entry),
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

/// What the walk along the chains keeps, and what it does not.
struct Sorted {
    kept: Vec<StoredEntry>,
    chains: BTreeMap<(String, u32), SalvagedChain>,
    apart: Vec<StoredEntry>,
}

/// Keeps of each chain what the chain proves, from its first entry on.
///
/// A chain is made of entries whose content gives their hash, so that its name is proven too. Of
/// two entries of one name the first that fits the chain is kept. A torn image says by its links,
/// never by its own words, where it belongs.
fn sort_out(images: Images) -> Sorted {
    let (sound, torn) = images.sorted();
    let places = Places::of(&sound);
    let mut by_chain: BTreeMap<(String, u32), BTreeMap<u64, Vec<StoredEntry>>> = BTreeMap::new();
    for e in sound {
        let chain = by_chain.entry((e.raw.site.clone(), e.raw.epoch)).or_default();
        chain.entry(e.raw.number).or_default().push(e);
    }
    let mut kept = Vec::new();
    let mut chains = BTreeMap::new();
    for (name, numbers) in by_chain {
        let epoch = if name.1 > 1 { format!("/{}", name.1) } else { String::new() };
        let mut state = SalvagedChain {
            chain: format!("{}{epoch}", name.0),
            kept: 0,
            seen: numbers.keys().next_back().copied().unwrap_or(0),
            unproven: 0,
            broke: None,
        };
        let mut walk = Chains::new();
        let mut at = 0;
        for (number, candidates) in numbers {
            if state.broke.is_some() {
                state.unproven += 1;
                continue;
            }
            let mut fault = None;
            let fit = candidates.into_iter().find(|e| {
                // One that does not fit leaves the walk as it was.
                let checked = walk.check(&e.raw, &e.prev, &e.hash);
                checked.map_err(|f| fault = Some(f.to_string())).is_ok()
            });
            match fit {
                Some(mut entry) => {
                    state.kept = number;
                    // No hash covers the position; within a chain it can only rise.
                    at = at.max(entry.position);
                    entry.position = at;
                    kept.push(entry);
                }
                None => {
                    state.broke = fault;
                    state.unproven += 1;
                }
            }
        }
        chains.insert(name, state);
    }
    kept.sort_by_key(|e| e.position);
    let apart = torn.into_iter().filter(|e| !places.count(e, &mut chains)).collect();
    Sorted { kept, chains, apart }
}

/// Chain and number of an entry.
type Place = (String, u32, u64);

/// Where sound entries stand, by their own hash and by the one that they link to.
struct Places {
    by_hash: BTreeMap<Hash, Place>,
    by_prev: BTreeMap<Hash, Place>,
}

impl Places {
    fn of(sound: &[StoredEntry]) -> Self {
        let place = |e: &StoredEntry| (e.raw.site.clone(), e.raw.epoch, e.raw.number);
        // What begins a chain links to another, or to none.
        let linked = sound.iter().filter(|e| e.raw.number > 1);
        Self {
            by_hash: sound.iter().map(|e| (e.hash, place(e))).collect(),
            by_prev: linked.map(|e| (e.prev, place(e))).collect(),
        }
    }

    /// The place of a torn image: behind the one to which it links, before the one that links to it;
    /// or by its own name, where that is an entry which was kept, or the next of its chain.
    fn of_torn(
        &self,
        torn: &StoredEntry,
        chains: &BTreeMap<(String, u32), SalvagedChain>,
    ) -> Option<Place> {
        let behind = self.by_hash.get(&torn.prev).map(|(s, e, n)| (s.clone(), *e, n + 1));
        let before = || self.by_prev.get(&torn.hash).map(|(s, e, n)| (s.clone(), *e, n - 1));
        let named = || {
            let name = (torn.raw.site.clone(), torn.raw.epoch);
            let chain = chains.get(&name)?;
            (torn.raw.number <= chain.kept + 1).then_some((name.0, name.1, torn.raw.number))
        };
        behind.or_else(before).or_else(named)
    }

    /// Counts a torn image for the chain that it belongs to; false when it belongs to none. One of an
    /// entry of which a sound image is there is nothing new.
    fn count(
        &self,
        torn: &StoredEntry,
        chains: &mut BTreeMap<(String, u32), SalvagedChain>,
    ) -> bool {
        if self.by_prev.contains_key(&torn.prev) {
            return true;
        }
        let Some((site, epoch, number)) = self.of_torn(torn, chains) else { return false };
        let Some(chain) = chains.get_mut(&(site, epoch)) else { return false };
        if number > chain.kept {
            chain.unproven += 1;
            chain.seen = chain.seen.max(number);
            if number == chain.kept + 1 {
                let entry = format!("{}-{number}", chain.chain);
                chain.broke = Some(ChainFault::Content { entry }.to_string());
            }
        }
        true
    }
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

fn write_anew(
    damaged: &Path,
    draft: &Path,
    to: &Path,
    found: Found,
    noted: Option<&HeadMark>,
    stamp: &Stamp,
) -> Result<Salvaged> {
    let Found { images, owner: row, wrong, by_pages } = found;
    let Sorted { kept, mut chains, apart } = sort_out(images);
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
    let noted = noted.filter(|n| n.entry.chain.site == owner.site);
    if let Some(n) = noted {
        let key = (n.entry.chain.site.as_str().to_owned(), n.entry.chain.epoch);
        let state = chains.entry(key).or_insert_with(|| SalvagedChain {
            chain: n.entry.chain.to_string(),
            kept: 0,
            seen: 0,
            unproven: 0,
            broke: None,
        });
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
    let reason = format!("salvaged from {}", name_of(damaged));
    let beginning = Beginning::Later { parent: parent.as_ref(), reason: &reason, salvaged: true };
    let clock = super::clock::told_by(&tx, to, site, &BTreeSet::new())?;
    let written = (owner.written.as_str(), clock);
    let head = epoch::begin(&tx, to, &identity, written, &beginning, stamp)?;
    project::rebuild(&tx, to)?;
    tx.commit().in_file(to)?;
    let count = u64::try_from(last_position(&conn, to)?).unwrap_or(0);
    conn.close().map_err(|(_, e)| StoreError::from_sqlite(to, e))?;
    Ok(Salvaged {
        chains: chains.into_values().collect(),
        apart,
        kept: count.saturating_sub(1),
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
