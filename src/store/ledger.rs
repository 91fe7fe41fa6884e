//! Entries in and out of the file.

use std::path::Path;

use rusqlite::{Connection, Row as SqlRow};

use super::book::{Book, Stamp, head_of};
use super::error::{Clash, InFile, Result, StoreError};
use super::head::HeadMark;
use super::project;
use crate::ledger::{Hash, RawEntry};
use crate::model::{Chain, Draft, Entry, EntryId, EntryKind, Instant, Recorded, Site};
use crate::projection::alone::wrong_by_itself;

/// An entry with its place in this book and its link in the chain.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StoredEntry {
    /// Order of arrival in this book.
    pub position: i64,
    /// The entry as stored.
    pub raw: RawEntry,
    /// Hash of the entry before it in its chain.
    pub prev: Hash,
    /// Its own hash.
    pub hash: Hash,
}

/// How to append.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct AppendOptions {
    /// Keep facts that exclude each other, flagged, in place of refusing the new ones.
    pub keep_conflicts: bool,
    /// Work everything out, then leave the book as it was.
    pub dry_run: bool,
}

/// What an append did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Appended {
    /// Names of the entries written, in the order of the drafts.
    pub entries: Vec<EntryId>,
    /// The head afterwards.
    pub head: Option<HeadMark>,
    /// Facts that exclude each other and were kept, flagged.
    pub clashes: Vec<Clash>,
}

/// Who wrote a run, and when.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RunHead {
    /// The entry.
    pub id: EntryId,
    /// When it was written.
    pub recorded: Recorded,
    /// The person.
    pub author: String,
    /// Program and version.
    pub program: String,
    /// The tally changed during the run.
    pub swapped: bool,
}

/// Columns of an entry in the order in which `from_row` reads them.
pub(super) const COLUMNS: &str = "position, site, epoch, number, kind, effective, recorded_ms, \
     recorded_offset, author, program, evidence, body, encoding, prev, hash";

/// Reads a stored entry; a hash of the wrong length reads as zeros, which no chain accepts.
pub(super) fn from_row(row: &SqlRow<'_>) -> rusqlite::Result<StoredEntry> {
    let hash = |at| -> rusqlite::Result<Hash> {
        Ok(row.get_ref(at)?.as_blob().ok().and_then(Hash::from_bytes).unwrap_or(Hash::NONE))
    };
    Ok(StoredEntry {
        position: row.get(0)?,
        raw: RawEntry {
            site: row.get(1)?,
            epoch: row.get(2)?,
            // A negative number names no entry; the chain will say so.
            number: u64::try_from(row.get::<_, i64>(3)?).unwrap_or(0),
            kind: row.get(4)?,
            effective: row.get(5)?,
            recorded_ms: row.get(6)?,
            recorded_offset: row.get(7)?,
            author: row.get(8)?,
            program: row.get(9)?,
            evidence: row.get(10)?,
            body: row.get(11)?,
            encoding: row.get(12)?,
        },
        prev: hash(13)?,
        hash: hash(14)?,
    })
}

pub(super) fn insert(conn: &Connection, path: &Path, entry: &StoredEntry) -> Result<()> {
    let e = &entry.raw;
    conn.prepare_cached(
        "INSERT INTO entry (position, site, epoch, number, kind, effective, recorded_ms, \
         recorded_offset, author, program, evidence, body, encoding, prev, hash) \
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15)",
    )
    .and_then(|mut s| {
        s.execute(rusqlite::params![
            entry.position,
            e.site,
            e.epoch,
            i64::try_from(e.number).unwrap_or(i64::MAX),
            e.kind,
            e.effective,
            e.recorded_ms,
            e.recorded_offset,
            e.author,
            e.program,
            e.evidence,
            e.body,
            e.encoding,
            &entry.prev.0[..],
            &entry.hash.0[..],
        ])
    })
    .in_file(path)?;
    Ok(())
}

/// Words of kinds as a list of SQL.
pub(super) fn sql_list(kinds: impl IntoIterator<Item = EntryKind>) -> String {
    kinds.into_iter().map(|kind| format!("'{}'", kind.word())).collect::<Vec<_>>().join(", ")
}

pub(super) fn last_position(conn: &Connection, path: &Path) -> Result<i64> {
    conn.query_row("SELECT coalesce(max(position), 0) FROM entry", [], |r| r.get(0)).in_file(path)
}

/// Reads one entry by its place.
pub(super) fn at_position(
    conn: &Connection,
    path: &Path,
    position: i64,
) -> Result<Option<StoredEntry>> {
    let mut statement = conn
        .prepare_cached(&format!("SELECT {COLUMNS} FROM entry WHERE position = ?1"))
        .in_file(path)?;
    let mut rows = statement.query([position]).in_file(path)?;
    rows.next().in_file(path)?.map(|r| from_row(r).in_file(path)).transpose()
}

/// Reads one entry's fact by its place.
pub(super) fn read_at(conn: &Connection, path: &Path, position: i64) -> Result<Option<Entry>> {
    at_position(conn, path, position)?.map(|s| Ok(s.raw.read()?)).transpose()
}

/// Place of an entry in this book.
pub(super) fn position_of(conn: &Connection, path: &Path, id: &EntryId) -> Result<Option<i64>> {
    let mut statement = conn
        .prepare_cached("SELECT position FROM entry WHERE site = ?1 AND epoch = ?2 AND number = ?3")
        .in_file(path)?;
    let number = i64::try_from(id.number).unwrap_or(i64::MAX);
    let mut rows =
        statement.query((id.chain.site.as_str(), id.chain.epoch, number)).in_file(path)?;
    rows.next().in_file(path)?.map(|r| r.get(0).in_file(path)).transpose()
}

/// Name of the entry at a place.
pub(super) fn name_of(conn: &Connection, path: &Path, position: i64) -> Result<EntryId> {
    let (site, epoch, number): (String, u32, i64) = conn
        .prepare_cached("SELECT site, epoch, number FROM entry WHERE position = ?1")
        .and_then(|mut s| s.query_row([position], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?))))
        .in_file(path)?;
    let site =
        Site::parse(&site).map_err(|_| StoreError::NoEntry(format!("at position {position}")))?;
    let number = u64::try_from(number).unwrap_or(0);
    Ok(EntryId { chain: Chain { site, epoch }, number })
}

/// Writes one fact at the end of a chain and of the book, without working it in.
pub(super) fn append_one(
    conn: &Connection,
    path: &Path,
    chain: &Chain,
    draft: &Draft,
    stamp: &Stamp,
) -> Result<EntryId> {
    let (number, prev) = match head_of(conn, path, chain)? {
        Some(h) => (h.entry.number, h.hash),
        None => (0, Hash::NONE),
    };
    let id = EntryId { chain: chain.clone(), number: number + 1 };
    let raw = RawEntry::write(draft, &id, stamp.now, &stamp.author, &stamp.program)?;
    let hash = Hash::of_entry(&prev, &raw, &mut Vec::new());
    let position = last_position(conn, path)? + 1;
    insert(conn, path, &StoredEntry { position, raw, prev, hash })?;
    Ok(id)
}

/// Writes facts at the end of a chain and of the book, without working them in. Returns the last
/// position before them, and their names.
pub(super) fn write_all(
    conn: &Connection,
    path: &Path,
    chain: &Chain,
    drafts: &[Draft],
    stamp: &Stamp,
) -> Result<(i64, Vec<EntryId>)> {
    let (mut number, mut prev) = match head_of(conn, path, chain)? {
        Some(h) => (h.entry.number, h.hash),
        None => (0, Hash::NONE),
    };
    let first = last_position(conn, path)?;
    let mut scratch = Vec::new();
    let mut entries = Vec::with_capacity(drafts.len());
    for (position, draft) in (first + 1..).zip(drafts) {
        number += 1;
        let id = EntryId { chain: chain.clone(), number };
        let raw = RawEntry::write(draft, &id, stamp.now, &stamp.author, &stamp.program)?;
        // What is written must read back, and be right by itself.
        wrong_by_itself(&raw.read()?)
            .map_err(|what| StoreError::Fold { entry: id.to_string(), what })?;
        let hash = Hash::of_entry(&prev, &raw, &mut scratch);
        insert(conn, path, &StoredEntry { position, raw, prev, hash })?;
        prev = hash;
        entries.push(id);
    }
    Ok((first, entries))
}

impl Book {
    /// Writes facts at the end of the book and works them into the projections, in one
    /// transaction: all or nothing.
    ///
    /// # Errors
    /// `Refused` when a fact excludes one already there (unless told to keep conflicts); anything
    /// that SQLite or the file system says. The book is then as it was.
    pub fn append(
        &mut self,
        drafts: &[Draft],
        stamp: &Stamp,
        options: &AppendOptions,
    ) -> Result<Appended> {
        let chain = self.identity().chain.clone();
        let path = self.path().to_path_buf();
        let tx = self.begin()?;
        let (first, entries) = write_all(&tx, &path, &chain, drafts, stamp)?;
        let project::Applied { clashes, misfit, .. } = project::apply(&tx, &path, first)?;
        if !options.keep_conflicts {
            if let Some((entry, what)) = misfit {
                return Err(StoreError::Fold { entry, what });
            }
            if !clashes.is_empty() {
                return Err(StoreError::Refused(clashes));
            }
        }
        let head = head_of(&tx, &path, &chain)?;
        if options.dry_run {
            tx.rollback().in_file(&path)?;
            return Ok(Appended { entries, head: self.head()?, clashes });
        }
        tx.commit().in_file(&path)?;
        self.note_head()?;
        Ok(Appended { entries, head, clashes })
    }

    /// Runs through all entries in order of arrival.
    pub fn each_entry(&self, mut see: impl FnMut(StoredEntry) -> Result<()>) -> Result<()> {
        let mut statement = self
            .conn
            .prepare(&format!("SELECT {COLUMNS} FROM entry ORDER BY position"))
            .in_file(&self.path)?;
        let mut rows = statement.query([]).in_file(&self.path)?;
        while let Some(row) = rows.next().in_file(&self.path)? {
            see(from_row(row).in_file(&self.path)?)?;
        }
        Ok(())
    }

    /// Reads an entry by name.
    pub fn entry(&self, id: &EntryId) -> Result<StoredEntry> {
        let position = position_of(&self.conn, &self.path, id)?
            .ok_or_else(|| StoreError::NoEntry(id.to_string()))?;
        at_position(&self.conn, &self.path, position)?
            .ok_or_else(|| StoreError::NoEntry(id.to_string()))
    }

    /// Reads an entry by its place in this book.
    pub fn entry_at(&self, position: i64) -> Result<StoredEntry> {
        at_position(&self.conn, &self.path, position)?
            .ok_or_else(|| StoreError::NoEntry(format!("at position {position}")))
    }

    /// Who wrote a run and when, without what it says: a run's body is long.
    pub fn run_head(&self, position: i64) -> Result<RunHead> {
        let mut statement = self
            .conn
            .prepare_cached(
                // In a canonical body the words stand just so.
                "SELECT site, epoch, number, recorded_ms, recorded_offset, author, program,
                        instr(body, '\"swaps\":[') > 0 FROM entry WHERE position = ?1",
            )
            .in_file(&self.path)?;
        let mut rows = statement.query([position]).in_file(&self.path)?;
        let Some(row) = rows.next().in_file(&self.path)? else {
            return Err(StoreError::NoEntry(format!("at position {position}")));
        };
        let read = || -> rusqlite::Result<(String, RunHead)> {
            let site: String = row.get(0)?;
            let chain = Chain { site: self.identity.chain.site.clone(), epoch: row.get(1)? };
            let number = u64::try_from(row.get::<_, i64>(2)?).unwrap_or(0);
            let at = Instant(row.get(3)?);
            Ok((
                site,
                RunHead {
                    id: EntryId { chain, number },
                    recorded: Recorded { at, offset_minutes: row.get(4)? },
                    author: row.get(5)?,
                    program: row.get(6)?,
                    swapped: row.get(7)?,
                },
            ))
        };
        let (site, mut head) = read().in_file(&self.path)?;
        if site != head.id.chain.site.as_str() {
            head.id.chain.site = Site::parse(&site)
                .map_err(|_| StoreError::NoEntry(format!("at position {position}")))?;
        }
        Ok(head)
    }

    /// Place of an entry in this book.
    pub fn position_of(&self, id: &EntryId) -> Result<Option<i64>> {
        position_of(&self.conn, &self.path, id)
    }

    /// Number of entries.
    pub fn length(&self) -> Result<i64> {
        match &self.as_of {
            Some(as_of) => Ok(as_of.sight().place),
            None => last_position(&self.conn, &self.path),
        }
    }
}
