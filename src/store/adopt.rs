//! What a book adopted, what founds it, and the clock by which it goes.

use std::path::Path;

use rusqlite::Connection;

use super::book::Book;
use super::entries::{append_one, last_position, write_all};
use super::error::{InFile, Result, StoreError};
use super::identity::Stamp;
use super::{clock, project};
use crate::condition::Edition;
use crate::model::{
    Adopted, AdoptionBody, Body, Chain, Clock, ClockBody, Draft, EntryId, EntryKind, Moment,
    Vocabulary,
};
use crate::projection::adoptions::{self, Adoptions};
use crate::projection::facts::Placed;
use crate::projection::kinds::Topic;
use crate::schema::{BookFactRow, Rows, StruckRow};

/// The adoption that founds a book on an edition.
///
/// The text stands in the entry: a verdict reads the same under a program that ships other sets, and
/// in the book of another site whose program never shipped these.
pub(super) fn founding(edition: &Edition, effective: Moment) -> Draft {
    let body = adoptions::body(Adopted::Edition, edition.name(), edition.text(), None);
    let body = Body::Adoption(AdoptionBody { founding: true, ..body });
    Draft { effective, evidence: None, body }
}

/// When the site of a chain began its book.
pub(super) fn begun(conn: &Connection, path: &Path, chain: &Chain) -> Result<Moment> {
    let begun: String = conn
        .query_row(
            "SELECT effective FROM entry WHERE kind = ?1 AND site = ?2 ORDER BY epoch LIMIT 1",
            [EntryKind::Epoch.word(), chain.site.as_str()],
            |r| r.get(0),
        )
        .in_file(path)?;
    begun.parse().map_err(|_| StoreError::Damaged {
        path: path.to_path_buf(),
        what: "its first entry has no date".to_owned(),
    })
}

impl Book {
    /// What the book adopted.
    pub fn adoptions(&self) -> Result<Adoptions> {
        let noted: Vec<BookFactRow> = self.rows(
            &Rows::of(BookFactRow::topic(), Topic::Adoption.word()).by(BookFactRow::entry()),
        )?;
        let clock = self.clock()?;
        let mut entries = Vec::with_capacity(noted.len());
        for fact in noted {
            if self.row::<StruckRow>(fact.entry)?.is_none() {
                let entry = self.entry_at(fact.entry)?.raw.read()?;
                entries.push(Placed::new(fact.entry, entry, clock));
            }
        }
        Ok(Adoptions::of(&entries)?)
    }

    /// Gives a book that no adoption founds the edition that judged it all along as an entry, dated
    /// to its beginning. Returns the entry's name; `None` for a book that has one.
    ///
    /// What the book says does not change. Under a program that ships another edition it would go on
    /// being judged by the first one, but only this entry tells other sites so.
    pub fn found(&mut self, stamp: &Stamp) -> Result<Option<EntryId>> {
        let (path, chain) = (self.path.clone(), self.identity().chain.clone());
        let tx = self.begin()?;
        let is_founded: bool = tx
            .query_row(
                // In a canonical body the words stand just so.
                "SELECT EXISTS (SELECT 1 FROM entry WHERE kind = ?1
                 AND instr(body, '\"founding\":true') > 0)",
                [EntryKind::Adoption.word()],
                |r| r.get(0),
            )
            .in_file(&path)?;
        if is_founded {
            return Ok(None);
        }
        let first = last_position(&tx, &path)?;
        let draft = founding(Edition::first(), begun(&tx, &path, &chain)?);
        let id = append_one(&tx, &path, &chain, &draft, stamp)?;
        project::apply(&tx, &path, first)?;
        tx.commit().in_file(&path)?;
        self.note_head()?;
        Ok(Some(id))
    }

    /// The book with facts that it does not hold, in a copy that nobody else sees: to ask what they
    /// would change.
    pub fn trial(&self, drafts: &[Draft], stamp: &Stamp) -> Result<Self> {
        let conn = self.copy()?;
        let (first, _) = write_all(&conn, &self.path, &self.identity().chain, drafts, stamp)?;
        project::apply_in_copy(&conn, &self.path, first)?;
        conn.execute_batch("COMMIT").in_file(&self.path)?;
        conn.pragma_update(None, "query_only", true).in_file(&self.path)?;
        Ok(Self::of_parts(conn, self.path.clone(), self.identity().clone(), None))
    }

    /// A copy that nobody else sees and that takes facts in as the book would: to see whether all that
    /// is to be written can be, before any of it is.
    pub fn rehearsal(&self) -> Result<Self> {
        let conn = self.copy()?;
        conn.execute_batch("COMMIT").in_file(&self.path)?;
        // What is refused is taken back.
        conn.pragma_update(None, "journal_mode", "MEMORY").in_file(&self.path)?;
        Ok(Self::rehearsing(conn, self.path.clone(), self.identity().clone()))
    }
}

impl Book {
    /// Gives a book that tells no clock the one by which it goes as an entry, dated to its beginning.
    /// Returns the entry's name; `None` for a book that tells one.
    pub fn found_clock(&mut self, stamp: &Stamp) -> Result<Option<EntryId>> {
        let (path, chain) = (self.path.clone(), self.identity().chain.clone());
        let clock = self.clock()?;
        let tx = self.begin()?;
        let is_told: bool = tx
            .query_row(
                // In a canonical body the words stand just so.
                "SELECT EXISTS (SELECT 1 FROM entry WHERE site = ?1 AND
                 (kind = ?2 OR kind = ?3 AND instr(body, '\"clock\":\"') > 0))",
                (chain.site.as_str(), EntryKind::Clock.word(), EntryKind::Epoch.word()),
                |r| r.get(0),
            )
            .in_file(&path)?;
        if is_told {
            return Ok(None);
        }
        let first = last_position(&tx, &path)?;
        let effective = begun(&tx, &path, &chain)?;
        let reason = "the offset recorded with the first entry; no clock was told".to_owned();
        let body = Body::Clock(ClockBody { clock: clock.to_string(), reason: Some(reason) });
        let draft = Draft { effective, evidence: None, body };
        let id = append_one(&tx, &path, &chain, &draft, stamp)?;
        project::apply(&tx, &path, first)?;
        tx.commit().in_file(&path)?;
        self.note_head()?;
        Ok(Some(id))
    }

    /// The civil clock by which the book goes.
    pub fn clock(&self) -> Result<Clock> {
        clock::of(&self.conn, &self.path)
    }
}
