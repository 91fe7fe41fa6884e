//! Entries as they stand in the file: one read and written by its place, its name or its chain.

use std::path::Path;

use rusqlite::{Connection, Row as SqlRow};

use super::error::{InFile, Result, StoreError};
use super::head::HeadMark;
use super::identity::Stamp;
use crate::ledger::{ChainFault, Hash, RawEntry};
use crate::model::{Chain, Draft, Entry, EntryId, EntryKind, Site};
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

/// Whether entries stand in the book's own file in their own words: a view of the past has runs that
/// were under way as far as they had come, and so has a copy in memory.
pub(super) fn in_own_words(conn: &Connection, path: &Path) -> Result<bool> {
    let overlaid: bool = conn
        .prepare_cached(
            "SELECT EXISTS (SELECT 1 FROM temp.sqlite_schema WHERE type = 'view' AND name = 'entry')",
        )
        .and_then(|mut s| s.query_row([], |r| r.get(0)))
        .in_file(path)?;
    Ok(!overlaid && is_file(conn))
}

/// Whether a connection is to a file, and not to a copy in memory.
pub(super) fn is_file(conn: &Connection) -> bool {
    conn.path().is_some_and(|p| !p.is_empty())
}

/// Refuses an entry whose content does not give the hash that stands beside it.
pub(super) fn check_content(path: &Path, stored: &StoredEntry) -> Result<()> {
    if Hash::of_entry(&stored.prev, &stored.raw, &mut Vec::new()) == stored.hash {
        return Ok(());
    }
    let source = ChainFault::Content { entry: stored.raw.label() };
    Err(StoreError::Chain { path: path.to_path_buf(), source })
}

/// Refuses an entry that its neighbours in the chain do not link to: one that was altered with its
/// hash. The last of a chain has the head beside the book for that.
pub(super) fn check_links(conn: &Connection, path: &Path, stored: &StoredEntry) -> Result<()> {
    let number = i64::try_from(stored.raw.number).unwrap_or(i64::MAX);
    let mut neighbours = conn
        .prepare_cached(
            "SELECT number, prev, hash FROM entry
             WHERE site = ?1 AND epoch = ?2 AND number IN (?3 - 1, ?3 + 1)",
        )
        .in_file(path)?;
    let mut rows = neighbours.query((&stored.raw.site, stored.raw.epoch, number)).in_file(path)?;
    let broken = |entry| {
        let source = ChainFault::Link { entry };
        Err(StoreError::Chain { path: path.to_path_buf(), source })
    };
    while let Some(row) = rows.next().in_file(path)? {
        let other: i64 = row.get(0).in_file(path)?;
        let link = |at| row.get_ref(at).ok()?.as_blob().ok().and_then(Hash::from_bytes);
        if other < number && link(2) != Some(stored.prev) {
            return broken(stored.raw.label());
        }
        if other > number && link(1) != Some(stored.hash) {
            return broken(format!("what follows {}", stored.raw.label()));
        }
    }
    Ok(())
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

/// Kind of the entry at a place; `None` for one that this version does not know.
pub(super) fn kind_of(conn: &Connection, path: &Path, position: i64) -> Result<Option<EntryKind>> {
    let kind: String = conn
        .prepare_cached("SELECT kind FROM entry WHERE position = ?1")
        .and_then(|mut s| s.query_row([position], |r| r.get(0)))
        .in_file(path)?;
    Ok(EntryKind::named(&kind))
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

/// Hash of the entry at a place, as it is stored; `None` where there is none.
pub(super) fn hash_at(conn: &Connection, path: &Path, position: i64) -> Result<Option<Vec<u8>>> {
    let mut statement =
        conn.prepare_cached("SELECT hash FROM entry WHERE position = ?1").in_file(path)?;
    let mut rows = statement.query([position]).in_file(path)?;
    rows.next().in_file(path)?.map(|r| r.get(0).in_file(path)).transpose()
}

/// Hash of an entry; `None` when the book does not hold it.
pub(super) fn hash_of(conn: &Connection, path: &Path, entry: &EntryId) -> Result<Option<Hash>> {
    let mut statement = conn
        .prepare_cached("SELECT hash FROM entry WHERE site = ?1 AND epoch = ?2 AND number = ?3")
        .in_file(path)?;
    let number = i64::try_from(entry.number).unwrap_or(i64::MAX);
    let mut rows =
        statement.query((entry.chain.site.as_str(), entry.chain.epoch, number)).in_file(path)?;
    let Some(row) = rows.next().in_file(path)? else { return Ok(None) };
    let bytes: Vec<u8> = row.get(0).in_file(path)?;
    Ok(Hash::from_bytes(&bytes))
}

/// Hash that an entry links to; `None` when the book does not hold the entry.
pub(super) fn link_of(conn: &Connection, path: &Path, entry: &EntryId) -> Result<Option<Hash>> {
    let Some(position) = position_of(conn, path, entry)? else { return Ok(None) };
    Ok(at_position(conn, path, position)?.map(|e| e.prev))
}

/// Last entry of a chain.
pub(super) fn head_of(conn: &Connection, path: &Path, chain: &Chain) -> Result<Option<HeadMark>> {
    let mut statement = conn
        .prepare_cached(
            "SELECT number, hash FROM entry WHERE site = ?1 AND epoch = ?2
             ORDER BY number DESC LIMIT 1",
        )
        .in_file(path)?;
    let mut rows = statement.query((chain.site.as_str(), chain.epoch)).in_file(path)?;
    let Some(row) = rows.next().in_file(path)? else { return Ok(None) };
    let number: i64 = row.get(0).in_file(path)?;
    let bytes: Vec<u8> = row.get(1).in_file(path)?;
    let (Ok(number), Some(hash)) = (u64::try_from(number), Hash::from_bytes(&bytes)) else {
        return Err(StoreError::Damaged {
            path: path.to_path_buf(),
            what: format!("the last entry of {chain} has no sound number and hash"),
        });
    };
    Ok(Some(HeadMark { entry: EntryId { chain: chain.clone(), number }, hash }))
}

/// An entry as the ledger would hold it.
pub(super) fn as_stored(entry: &Entry) -> Result<RawEntry> {
    let draft = Draft {
        effective: entry.effective,
        evidence: entry.evidence.clone(),
        body: entry.body.clone(),
    };
    Ok(RawEntry::write(&draft, &entry.id, entry.recorded, &entry.author, &entry.program)?)
}
