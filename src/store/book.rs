//! A book: one file, opened after a look at its header.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags, Transaction, TransactionBehavior};

use super::as_of::AsOf;
use super::connect::{configure, open_read_only};
use super::entries::{at_position, hash_of, head_of, is_file, last_position, write_all};
use super::error::{InFile, Result, StoreError};
use super::head::{self, HeadMark, Noted};
use super::identity::{Identity, Stamp};
use super::log::Glance;
use super::whole::in_new_file;
use super::{adopt, epoch, header, log, migrate, whole};
use crate::condition::Edition;
use crate::ledger::Hash;
use crate::model::{Chain, Clock, NameError, Site};
use crate::units::UnitSystem;

/// What for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Access {
    /// Questions only; the file is opened read-only.
    Read,
    /// Entries will be written.
    Write,
}

/// An open book.
#[derive(Debug)]
pub struct Book {
    pub(super) conn: Connection,
    pub(super) path: PathBuf,
    pub(super) identity: Identity,
    access: Access,
    /// No head stands beside the file: whether its tail is there cannot be told.
    headless: bool,
    /// Something was committed through this handle.
    pub(super) wrote: bool,
    /// The date from which it is seen, where that is not now.
    pub(super) as_of: Option<Arc<AsOf>>,
    /// How the file looked when it was opened, where it is read without a lock.
    unlocked: Option<Glance>,
}

/// What is chosen for a new book.
#[derive(Clone, Copy, Debug)]
pub struct Founding<'a> {
    /// Unit system in which it is read.
    pub units: UnitSystem,
    /// The edition on which it is founded.
    pub edition: &'a Edition,
    /// The civil clock of its site.
    pub clock: Clock,
}

/// Pages of a book that two connections are worth opening for: some ten thousand joints.
const WORTH_TWO: i64 = 15_000;

/// Pages that a reader keeps at hand, KiB. Questions go through large tables once, in the order in
/// which they stand: to fill memory that is used once costs more than the reading. With 64 MiB a
/// look at every joint of 100,000 took 90 ms, with 8 MiB 45, with this 20.
const READER: i64 = 2_048;

/// Bytes of a page of a new book. Scans of large tables take two thirds of the time that they take
/// with pages of 4 KiB, and the file is a twelfth smaller; larger ones give little more, and a run of
/// many joints would write too much of what did not change.
const PAGE: i64 = 8_192;

impl Book {
    /// Starts a book at a path where nothing stands yet, founded on an edition that brings every set.
    /// Its clock stands at the offset of the stamp.
    pub fn create(
        path: &Path,
        site: &str,
        units: UnitSystem,
        edition: &Edition,
        stamp: &Stamp,
    ) -> Result<Self> {
        let clock = Clock::of_offset(stamp.now.offset_minutes);
        Self::create_on(path, site, &Founding { units, edition, clock }, stamp)
    }

    /// The same, of everything that is chosen for it.
    pub fn create_on(
        path: &Path,
        site: &str,
        founding: &Founding<'_>,
        stamp: &Stamp,
    ) -> Result<Self> {
        let name = Site::parse(site).map_err(|source: NameError| StoreError::Fold {
            entry: "the first entry".to_owned(),
            what: source.to_string(),
        })?;
        let chain = Chain { site: name, epoch: 1 };
        let identity = Identity { chain, units: founding.units };
        let head = in_new_file(path, |draft| {
            Self::lay_out(draft, path, &identity, site, founding, stamp)
        })?;
        if let Some(head) = head {
            head::write(path, &head)?;
        }
        let book = Self::open(path, Access::Write)?;
        Ok(Self { wrote: true, ..book })
    }

    /// Fills an empty file at `draft` with a new book; errors name it `path`.
    fn lay_out(
        draft: &Path,
        path: &Path,
        identity: &Identity,
        site: &str,
        founding: &Founding<'_>,
        stamp: &Stamp,
    ) -> Result<Option<HeadMark>> {
        let mut conn = Self::blank(draft, path)?;
        let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate).in_file(path)?;
        migrate::apply(&tx, stamp.now.at.0).in_file(path)?;
        migrate::lay_out_projections(&tx).in_file(path)?;
        let first = epoch::Beginning::First;
        epoch::begin(&tx, path, identity, (site, founding.clock), &first, stamp)?;
        let founded = adopt::founding(founding.edition, stamp.present());
        write_all(&tx, path, &identity.chain, &[founded], stamp)?;
        super::project::apply(&tx, path, 0)?;
        let head = head_of(&tx, path, &identity.chain)?;
        tx.commit().in_file(path)?;
        // The log is folded in: the file is whole by itself.
        conn.close().map_err(|(_, e)| StoreError::from_sqlite(path, e))?;
        Ok(head)
    }

    /// A view of the past, of what it is made of.
    pub(super) const fn of_parts(
        conn: Connection,
        path: PathBuf,
        identity: Identity,
        as_of: Option<Arc<AsOf>>,
    ) -> Self {
        Self {
            conn,
            path,
            identity,
            access: Access::Read,
            headless: false,
            wrote: false,
            as_of,
            unlocked: None,
        }
    }

    /// A copy that is written to; no head is noted for it.
    pub(super) fn rehearsing(conn: Connection, path: PathBuf, identity: Identity) -> Self {
        Self { headless: true, ..Self::of_parts(conn, path, identity, None) }
    }

    /// A connection to a file that stands empty, set up to be a book; errors name it `path`.
    pub(super) fn blank(file: &Path, path: &Path) -> Result<Connection> {
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let conn = Connection::open_with_flags(file, flags).in_file(path)?;
        conn.pragma_update(None, "page_size", PAGE).in_file(path)?;
        conn.pragma_update(None, "application_id", header::APPLICATION_ID).in_file(path)?;
        keep_log(&conn, path)?;
        configure(&conn, path)?;
        Ok(conn)
    }

    /// Opens a book.
    pub fn open(path: &Path, access: Access) -> Result<Self> {
        let book = Self::open_rows_unchecked(path, access)?;
        book.check_rows()?;
        if access == Access::Read {
            book.conn.pragma_update(None, "query_only", true).in_file(path)?;
        }
        Ok(book)
    }

    /// Opens a book to write in it; rows that are not of its ledger are derived again first, from chains
    /// that hold.
    pub fn open_to_derive(path: &Path) -> Result<Self> {
        let mut book = Self::open_rows_unchecked(path, Access::Write)?;
        if book.check_rows().is_err() {
            book.rebuild()?;
        }
        Ok(book)
    }

    fn open_rows_unchecked(path: &Path, access: Access) -> Result<Self> {
        let mut book = Self::open_unchecked(path, access)?;
        book.check_tail()?;
        book.let_go_of_log()?;
        book.bring_up_to_date()?;
        Ok(book)
    }

    /// Opens a book to look at it: as it is, even when its tail is lost or its projections are old.
    /// Only [`Self::verify`] and [`Self::head`] mean anything then.
    pub fn open_to_examine(path: &Path) -> Result<Self> {
        let book = Self::open_unchecked(path, Access::Read)?;
        book.conn.pragma_update(None, "query_only", true).in_file(path)?;
        Ok(book)
    }

    /// Opens a book that may have lost its tail, to go on with it. Migrates it.
    pub(super) fn open_without_tail(path: &Path) -> Result<Self> {
        let mut book = Self::open_unchecked(path, Access::Write)?;
        book.let_go_of_log()?;
        book.bring_up_to_date()?;
        Ok(book)
    }

    /// The log may be folded into the file when the book is closed: nothing in it is in doubt.
    fn let_go_of_log(&self) -> Result<()> {
        if self.access == Access::Write {
            self.conn
                .set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, false)
                .in_file(&self.path)?;
        }
        Ok(())
    }

    fn open_unchecked(path: &Path, access: Access) -> Result<Self> {
        let path = &*whole::resolved(path)?;
        header::check(path)?;
        log::check(path)?;
        if access == Access::Write {
            whole::refuse_many_names(path)?;
        }
        let (conn, unlocked) = match access {
            Access::Write => {
                let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
                (Connection::open_with_flags(path, flags).in_file(path)?, None)
            }
            Access::Read => open_read_only(path)?,
        };
        // When the tail proves lost, what is left of it may stand in the log, where `salvage` can
        // still find it; SQLite would fold in what it takes for whole, and delete the log.
        conn.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, log::has_log(path))
            .in_file(path)?;
        configure(&conn, path)?;
        if access == Access::Read {
            conn.pragma_update(None, "cache_size", -READER).in_file(path)?;
        }
        let version = migrate::version(&conn).in_file(path)?;
        if version > migrate::newest() {
            return Err(StoreError::Newer {
                path: path.to_path_buf(),
                version,
                known: migrate::newest(),
            });
        }
        let identity = read_identity(&conn, path)?;
        migrate::check_applied(&conn, path)?;
        // Only now is it known for a book, and may be written to.
        if access == Access::Write {
            keep_log(&conn, path)?;
        }
        let path = path.to_path_buf();
        let (headless, wrote, as_of) = (false, false, None);
        Ok(Self { conn, path, identity, access, headless, wrote, as_of, unlocked })
    }

    /// Migrates an older book, and rebuilds projections that an older or newer fold wrote. A
    /// reader does so through a connection of its own.
    fn bring_up_to_date(&mut self) -> Result<()> {
        if !self.is_stale()? {
            return Ok(());
        }
        if self.access == Access::Read {
            return Self::open(&self.path, Access::Write)?.close();
        }
        let path = self.path.clone();
        let now = clock_of_sqlite(&self.conn).in_file(&path)?;
        let tx = self.begin()?;
        migrate::apply(&tx, now).in_file(&path)?;
        migrate::lay_out_projections(&tx).in_file(&path)?;
        super::project::rebuild(&tx, &path)?;
        tx.commit().in_file(&path)
    }

    /// Refuses derived rows that are not of the ledger in the file: how many entries they hold and the
    /// hash of the last of them, one look at each.
    fn check_rows(&self) -> Result<()> {
        let (derived, last) = migrate::projected_to(&self.conn).in_file(&self.path)?;
        let found = last_position(&self.conn, &self.path)?;
        let held = at_position(&self.conn, &self.path, found)?;
        if derived == found && held.is_none_or(|e| last.as_deref() == Some(&e.hash.0[..])) {
            return Ok(());
        }
        Err(StoreError::NotOfThisLedger { path: self.path.clone(), derived, found })
    }

    /// Whether a book that is read without a lock is still as it was opened: what was read while
    /// somebody wrote may be a mixture.
    ///
    /// # Errors
    /// `WrittenMeanwhile`.
    pub fn check_undisturbed(&self) -> Result<()> {
        match &self.unlocked {
            Some(seen) if log::glance(&self.path)? != *seen => {
                Err(StoreError::WrittenMeanwhile { path: self.path.clone() })
            }
            _ => Ok(()),
        }
    }

    /// Whether its layout or its projections are of another version.
    pub(super) fn is_stale(&self) -> Result<bool> {
        let old = migrate::version(&self.conn).in_file(&self.path)? < migrate::newest();
        Ok(old
            || migrate::projection_version(&self.conn).in_file(&self.path)?
                != crate::projection::VERSION)
    }

    /// Compares the end of the book with the head noted beside it. Where that cannot be read nothing
    /// is written: what would be noted next would hide for ever that a tail was lost.
    fn check_tail(&mut self) -> Result<()> {
        let anchored = match head::noted(&self.path) {
            Noted::Head(head) if head.entry.chain.site == self.identity.chain.site => head,
            Noted::Head(_) | Noted::Unreadable if self.access == Access::Write => {
                return Err(head::unreadable(&self.path));
            }
            Noted::Head(_) | Noted::Unreadable => return Ok(()),
            Noted::Nothing => {
                self.headless = true;
                return Ok(());
            }
        };
        let stored: Option<Hash> = hash_of(&self.conn, &self.path, &anchored.entry)?;
        if stored == Some(anchored.hash) {
            return Ok(());
        }
        let found = self.head()?.map_or_else(|| "no entry".to_owned(), |h| h.entry.to_string());
        Err(StoreError::TailLost {
            path: self.path.clone(),
            anchored: anchored.entry.to_string(),
            found,
        })
    }

    /// Whether no head stands beside the book, so that nobody can tell whether its tail is there.
    pub const fn is_headless(&self) -> bool {
        self.headless
    }

    /// Whether anything was written to the book since it was opened here.
    pub const fn was_written(&self) -> bool {
        self.wrote
    }

    /// From now on only what is written next counts as written here.
    pub const fn forget_written(&mut self) {
        self.wrote = false;
    }

    /// Notes the head beside a book that was proven, where it is missing or cannot be read.
    ///
    /// # Errors
    /// As [`Self::prove_chains`]; `TailLost` where a head is noted that the book does not hold.
    pub fn note_head_anew(path: &Path) -> Result<HeadMark> {
        let path = &*whole::resolved(path)?;
        let mut book = Self::open_unchecked(path, Access::Write)?;
        if matches!(head::noted(path), Noted::Head(_)) {
            book.check_tail()?;
        }
        book.prove_chains()?;
        book.let_go_of_log()?;
        book.write_head()?;
        book.head()?.ok_or_else(|| StoreError::Damaged {
            path: path.to_path_buf(),
            what: "it has no entry of its own chain".to_owned(),
        })
    }

    /// Notes the head beside the book, after a commit. Under the lock of a writer, so that of two
    /// writers the later head stays. Where none stood, none is noted until somebody has looked.
    pub(super) fn note_head(&mut self) -> Result<()> {
        self.wrote = true;
        if self.headless {
            return Ok(());
        }
        match self.write_head() {
            // Whoever writes now notes a later head.
            Err(StoreError::Busy { .. }) => Ok(()),
            done => done,
        }
    }

    /// The same, whether one stood there or not.
    fn write_head(&mut self) -> Result<()> {
        let (path, chain) = (self.path.clone(), self.identity.chain.clone());
        let tx = self.begin()?;
        let Some(head) = head_of(&tx, &path, &chain)? else { return Ok(()) };
        head::write(&path, &head)?;
        tx.rollback().in_file(&path)
    }

    /// A second connection for questions to a large book, so that two can be asked at once; `None`
    /// where that is not worth it, and when the book was written to in between.
    pub fn beside(&self) -> Result<Option<Self>> {
        let pages: i64 =
            self.conn.pragma_query_value(None, "page_count", |r| r.get(0)).in_file(&self.path)?;
        if !is_file(&self.conn) || !self.is_reader() || pages < WORTH_TWO {
            return Ok(None);
        }
        if let Some(as_of) = &self.as_of {
            let (path, identity) = (self.path.clone(), self.identity.clone());
            let other = as_of.connect().ok();
            return Ok(
                other.map(|conn| Self::of_parts(conn, path, identity, Some(Arc::clone(as_of))))
            );
        }
        let length = self.length()?;
        let other = Self::open(&self.path, Access::Read)?;
        Ok((other.length()? == length).then_some(other))
    }

    /// Someone who folds what this book says, and writes nothing.
    pub(super) fn pass(&self) -> Result<super::project::Pass<'_>> {
        super::project::Pass::begin(&self.conn, &self.path)
    }

    /// The file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Whether the book was opened for questions only.
    pub(super) fn is_reader(&self) -> bool {
        self.access == Access::Read
    }

    /// Whose book it is.
    pub const fn identity(&self) -> &Identity {
        &self.identity
    }

    /// Last entry of the book's own chain; `None` before the first.
    pub fn head(&self) -> Result<Option<HeadMark>> {
        head_of(&self.conn, &self.path, &self.identity.chain)
    }

    /// Begins to write. Whose book it is and in which epoch is read again under the lock: another
    /// command may have begun an epoch since this one opened the book.
    ///
    /// # Errors
    /// `OtherEpoch` when the book writes another chain now.
    pub(super) fn begin(&mut self) -> Result<Transaction<'_>> {
        let path = self.path.clone();
        let tx =
            self.conn.transaction_with_behavior(TransactionBehavior::Immediate).in_file(&path)?;
        let now = read_identity(&tx, &path)?.chain;
        if now != self.identity.chain {
            let (opened, now) = (self.identity.chain.to_string(), now.to_string());
            return Err(StoreError::OtherEpoch { path, opened, now });
        }
        // Every transaction writes the first page: by its counter a log is told from another's.
        let layout = migrate::version(&tx).in_file(&path)?;
        tx.pragma_update(None, "user_version", layout).in_file(&path)?;
        Ok(tx)
    }

    /// Closes the file and says what `Drop` would hide.
    pub fn close(self) -> Result<()> {
        let path = self.path;
        self.conn.close().map_err(|(_, e)| StoreError::from_sqlite(&path, e))
    }
}

/// Has the file keep a write-ahead log; a copy made by `backup` has none yet.
fn keep_log(conn: &Connection, path: &Path) -> Result<()> {
    let mode: String =
        conn.pragma_update_and_check(None, "journal_mode", "wal", |r| r.get(0)).in_file(path)?;
    if mode == "wal" { Ok(()) } else { Err(StoreError::NoSharedLog { path: path.to_path_buf() }) }
}

fn read_identity(conn: &Connection, path: &Path) -> Result<Identity> {
    let has_ledger: bool = conn
        .query_row(
            "SELECT count(*) = 3 FROM sqlite_schema
             WHERE type = 'table' AND name IN ('book', 'entry', 'schema_migration')",
            [],
            |r| r.get(0),
        )
        .in_file(path)?;
    if !has_ledger {
        return Err(StoreError::NotABook {
            path: path.to_path_buf(),
            why: "it has no ledger".to_owned(),
        });
    }
    let (site, epoch, units): (String, u32, String) = conn
        .query_row("SELECT site, epoch, units FROM book WHERE only = 1", [], |r| {
            Ok((r.get(0)?, r.get(1)?, r.get(2)?))
        })
        .map_err(|e| match e {
            rusqlite::Error::QueryReturnedNoRows => StoreError::Damaged {
                path: path.to_path_buf(),
                what: "it does not say whose book it is".to_owned(),
            },
            e => StoreError::from_sqlite(path, e),
        })?;
    let damaged =
        |what: &str| StoreError::Damaged { path: path.to_path_buf(), what: what.to_owned() };
    let site = Site::parse(&site).map_err(|_| damaged("the name of its site is not one"))?;
    let units = UnitSystem::parse(&units).ok_or_else(|| damaged("its unit system is not known"))?;
    Ok(Identity { chain: Chain { site, epoch }, units })
}

/// Now, from SQLite's own clock: only the time stamp of a migration needs it here.
pub(super) fn clock_of_sqlite(conn: &Connection) -> rusqlite::Result<i64> {
    conn.query_row("SELECT CAST(unixepoch('subsec') * 1000 AS INTEGER)", [], |r| r.get(0))
}
