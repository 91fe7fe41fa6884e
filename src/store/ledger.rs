//! The ledger of a book: facts appended and worked in, entries read.

use super::book::Book;
use super::entries::{
    COLUMNS, StoredEntry, at_position, check_content, check_links, from_row, head_of, is_file,
    last_position, position_of, read_at, write_all,
};
use super::error::{Clash, InFile, Result, StoreError};
use super::head::HeadMark;
use super::identity::Stamp;
use super::{amended, project};
use crate::model::{Body, Chain, Draft, Entry, EntryId, Instant, Recorded, Site, TakenAgain};

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
        self.proven_at(position)?.ok_or_else(|| StoreError::NoEntry(id.to_string()))
    }

    /// Reads an entry by its place in this book, proven: its content gives its hash, and its
    /// neighbours in the chain link to that.
    ///
    /// # Errors
    /// `Chain` for one that was altered; `NoEntry`.
    pub fn entry_at(&self, position: i64) -> Result<StoredEntry> {
        self.proven_at(position)?
            .ok_or_else(|| StoreError::NoEntry(format!("at position {position}")))
    }

    fn proven_at(&self, position: i64) -> Result<Option<StoredEntry>> {
        let stored = at_position(&self.conn, &self.path, position)?;
        if let Some(stored) = &stored
            && self.as_of.is_none()
            && is_file(&self.conn)
        {
            check_content(&self.path, stored)?;
            check_links(&self.conn, &self.path, stored)?;
        }
        Ok(stored)
    }

    /// Amendments of an entry that stand, the one that holds last.
    pub fn amendments_of(&self, entry: &EntryId) -> Result<Vec<Entry>> {
        let found = amended::amendments(&self.conn, &self.path, entry, i64::MAX)?;
        Ok(found.into_iter().map(|placed| Entry::clone(&placed.entry)).collect())
    }

    /// What an entry was, where it was set aside under another name and taken in again: the first entry
    /// of its epoch says so.
    pub fn taken_again(&self, entry: &EntryId) -> Result<Option<TakenAgain>> {
        if entry.chain.epoch == 1 {
            return Ok(None);
        }
        let first = EntryId { chain: entry.chain.clone(), number: 1 };
        let Some(position) = self.position_of(&first)? else { return Ok(None) };
        let Some(begun) = read_at(&self.conn, &self.path, position)? else { return Ok(None) };
        let Body::Epoch(b) = begun.body else { return Ok(None) };
        Ok(b.again.into_iter().find(|again| again.number == entry.number))
    }

    /// An entry as it counts, by its place: with what was amended of it.
    pub fn counted(&self, position: i64) -> Result<Entry> {
        let entry = self.entry_at(position)?.raw.read()?;
        // The words of a run that is seen as far as it had come are cut as amended.
        let cut = self.as_of.as_ref().is_some_and(|a| {
            let seen = a.sight();
            seen.under_way.contains(&position) || seen.struck_under_way.contains(&position)
        });
        if cut { Ok(entry) } else { amended::counted(&self.conn, &self.path, entry, i64::MAX) }
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
