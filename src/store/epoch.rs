//! Epochs: a chain begins, or goes on after a restore under a new name, so that what the lost book
//! had written can come back beside what the restored one writes.

use std::path::Path;

use rusqlite::Connection;

use super::book::Book;
use super::entries::{StoredEntry, at_position, hash_of, head_of, insert, last_position};
use super::error::{InFile, Result, StoreError};
use super::head::{self, HeadMark};
use super::identity::{Identity, Stamp};
use super::{project, whole};
use crate::ledger::{Hash, RawEntry};
use crate::model::{
    Body, Chain, Clock, Draft, EntryId, EntryKind, EpochBody, Head, LostStretch, TakenAgain,
};

/// How a chain begins.
pub(super) enum Beginning<'a> {
    /// A new site's first book.
    First,
    /// A later epoch of a site.
    Later {
        /// What it continues; `None` when nothing of the site's chain is left.
        parent: Option<&'a HeadMark>,
        /// Why.
        reason: &'a str,
        /// Put together from a damaged book, which had lost this of its chains.
        salvaged: Option<&'a [LostStretch]>,
        /// What was set aside and is taken in again behind it.
        again: &'a [TakenAgain],
    },
}

/// Writes the first entry of a chain and the row that says whose book it is.
pub(super) fn begin(
    conn: &Connection,
    path: &Path,
    identity: &Identity,
    (site_as_written, clock): (&str, Clock),
    beginning: &Beginning<'_>,
    stamp: &Stamp,
) -> Result<HeadMark> {
    let chain = &identity.chain;
    let (parent, reason, salvaged, again) = match beginning {
        Beginning::First => (None, None, None, &[][..]),
        Beginning::Later { parent, reason, salvaged, again } => {
            (*parent, Some((*reason).to_owned()), *salvaged, *again)
        }
    };
    let draft = Draft {
        effective: stamp.present(),
        evidence: None,
        body: Body::Epoch(EpochBody {
            site: site_as_written.to_owned(),
            units: identity.units.as_str().to_owned(),
            clock: Some(clock.to_string()),
            parent: parent.map(|p| Head { entry: p.entry.clone(), hash: p.hash.to_string() }),
            reason,
            salvaged: salvaged.is_some(),
            lost: salvaged.unwrap_or_default().to_vec(),
            again: again.to_vec(),
        }),
    };
    let entry = EntryId { chain: chain.clone(), number: 1 };
    let raw = RawEntry::write(&draft, &entry, stamp.now, &stamp.author, &stamp.program)?;
    let prev = parent.map_or(Hash::NONE, |p| p.hash);
    let hash = Hash::of_entry(&prev, &raw, &mut Vec::new());
    let position = last_position(conn, path)? + 1;
    insert(conn, path, &StoredEntry { position, raw, prev, hash })?;
    let now = stamp.now.at.0;
    let raised = conn
        .execute("UPDATE book SET epoch = ?1, created_ms = ?2", (chain.epoch, now))
        .in_file(path)?;
    if raised == 0 {
        conn.execute(
            "INSERT INTO book (only, site, epoch, units, created_ms) VALUES (1, ?1, ?2, ?3, ?4)",
            (chain.site.as_str(), chain.epoch, identity.units.as_str(), now),
        )
        .in_file(path)?;
    }
    Ok(HeadMark { entry, hash })
}

/// What came of going on with a restored book.
#[derive(Debug)]
pub struct Resumed {
    /// The book, open, under its new epoch.
    pub book: Book,
    /// Where the old chain ends in this file; the new one continues it.
    pub parent: HeadMark,
    /// First entry of the new epoch.
    pub head: HeadMark,
    /// Head that was noted beside the file and is not in it.
    pub lost: Option<HeadMark>,
}

/// How far an epoch may lie above those that a book knows: each is a restore, and a number from
/// nowhere would use up those that are left.
pub(super) const EPOCHS_AHEAD: u32 = 1_000;

/// Greatest epoch of a site among the entries of a book.
pub(super) fn greatest_epoch(conn: &Connection, path: &Path, site: &str) -> Result<u32> {
    conn.query_row("SELECT coalesce(max(epoch), 0) FROM entry WHERE site = ?1", [site], |r| {
        r.get(0)
    })
    .in_file(path)
}

/// Entries that begin a later epoch, with what they say.
pub(super) fn later_epochs(
    conn: &Connection,
    path: &Path,
) -> Result<Vec<(StoredEntry, EpochBody)>> {
    let mut statement = conn
        .prepare_cached("SELECT position FROM entry WHERE kind = ?1 AND epoch > 1")
        .in_file(path)?;
    let places =
        statement.query_map([EntryKind::Epoch.word()], |r| r.get::<_, i64>(0)).in_file(path)?;
    let mut out = Vec::new();
    for place in places {
        let Some(stored) = at_position(conn, path, place.in_file(path)?)? else { continue };
        if let Body::Epoch(body) = stored.raw.read()?.body {
            out.push((stored, body));
        }
    }
    Ok(out)
}

/// What salvages of this book, or of those whose entries it holds, say that they had lost.
pub(super) fn told_lost(conn: &Connection, path: &Path) -> Result<Vec<LostStretch>> {
    Ok(later_epochs(conn, path)?.into_iter().flat_map(|(_, body)| body.lost).collect())
}

impl Book {
    /// Goes on with a book that was restored: begins the next epoch of its site, which continues
    /// the last entry that is there. `epoch` asks for a number above all that other sites know.
    ///
    /// # Errors
    /// A broken chain, or a tail that can still be read (both are for `salvage`); an epoch that is not above those known here.
    pub fn resume(path: &Path, reason: &str, epoch: Option<u32>, stamp: &Stamp) -> Result<Resumed> {
        let path = &*whole::resolved(path)?;
        let lost = Self::lost_head(path)?;
        if let Some(lost) = &lost
            && super::salvage::still_there(path, lost)?
        {
            let head = lost.entry.to_string();
            return Err(StoreError::TailInLog { path: path.to_path_buf(), head });
        }
        let mut book = Self::open_without_tail(path)?;
        book.prove_chains()?;
        let old = book.identity().chain.clone();
        let (units, clock) = (book.identity().units, book.clock()?);
        let path = book.path.clone();
        let tx = book.begin()?;
        let parent = head_of(&tx, &path, &old)?.ok_or_else(|| StoreError::Damaged {
            path: path.clone(),
            what: format!("it has no entry of its own chain {old}"),
        })?;
        let least = greatest_epoch(&tx, &path, old.site.as_str())?
            .max(lost.as_ref().map_or(0, |l| l.entry.chain.epoch))
            .saturating_add(1);
        let chosen = epoch.unwrap_or(least);
        if chosen < least {
            return Err(StoreError::EpochTaken { asked: chosen, least });
        }
        let most = least.saturating_add(EPOCHS_AHEAD - 1);
        if chosen > most || chosen == u32::MAX {
            return Err(StoreError::EpochAhead { asked: chosen, least, most });
        }
        let identity = Identity { chain: Chain { site: old.site.clone(), epoch: chosen }, units };
        let site = site_as_written(&tx, &path, &old)?;
        let first = last_position(&tx, &path)?;
        let beginning =
            Beginning::Later { parent: Some(&parent), reason, salvaged: None, again: &[] };
        let head = begin(&tx, &path, &identity, (&site, clock), &beginning, stamp)?;
        project::apply(&tx, &path, first)?;
        tx.commit().in_file(&path)?;
        (book.identity, book.wrote) = (identity, true);
        head::write(&path, &head)?;
        Ok(Resumed { book, parent, head, lost })
    }
}

impl Book {
    /// The head noted beside a book, when the book does not hold it.
    fn lost_head(path: &Path) -> Result<Option<HeadMark>> {
        let Some(noted) = head::read(path) else { return Ok(None) };
        let book = Self::open_to_examine(path)?;
        let ours = noted.entry.chain.site == book.identity().chain.site;
        let held = hash_of(&book.conn, path, &noted.entry)? == Some(noted.hash);
        Ok((ours && !held).then_some(noted))
    }
}

/// The name of the site as the chain's first entry has it.
fn site_as_written(conn: &Connection, path: &Path, chain: &Chain) -> Result<String> {
    let first = EntryId { chain: chain.clone(), number: 1 };
    let entry = super::entries::position_of(conn, path, &first)?
        .map(|p| super::entries::read_at(conn, path, p))
        .transpose()?
        .flatten();
    let begun = entry.map(|e| e.body);
    Ok(if let Some(Body::Epoch(b)) = begun { b.site } else { chain.site.to_string() })
}
