//! A book: one file, opened after a look at its header.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags, Transaction, TransactionBehavior};

use super::as_of::AsOf;
use super::connect::{configure, in_new_file, open_read_only};
use super::entries::{hash_of, head_of, write_all};
use super::error::{InFile, Result, StoreError};
use super::head::{self, HeadMark};
use super::identity::{Identity, Stamp};
use super::{adopt, epoch, header, migrate};
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
    /// The date from which it is seen, where that is not now.
    pub(super) as_of: Option<Arc<AsOf>>,
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
        in_new_file(path, || {
            let chain = Chain { site: name, epoch: 1 };
            let identity = Identity { chain, units: founding.units };
            Self::lay_out(path, identity, site, founding, stamp)
        })
    }

    fn lay_out(
        path: &Path,
        identity: Identity,
        site: &str,
        founding: &Founding<'_>,
        stamp: &Stamp,
    ) -> Result<Self> {
        let mut conn = Self::blank(path)?;
        let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate).in_file(path)?;
        migrate::apply(&tx, stamp.now.at.0).in_file(path)?;
        migrate::lay_out_projections(&tx).in_file(path)?;
        let first = epoch::Beginning::First;
        epoch::begin(&tx, path, &identity, (site, founding.clock), &first, stamp)?;
        let founded = adopt::founding(founding.edition, stamp.present());
        write_all(&tx, path, &identity.chain, &[founded], stamp)?;
        super::project::apply(&tx, path, 0)?;
        let head = head_of(&tx, path, &identity.chain)?;
        tx.commit().in_file(path)?;
        // The header with our mark must be in the file itself, where the check of the header looks.
        conn.pragma_query(None, "wal_checkpoint", |_| Ok(())).in_file(path)?;
        if let Some(head) = head {
            head::write(path, &head)?;
        }
        Ok(Self { conn, path: path.to_path_buf(), identity, access: Access::Write, as_of: None })
    }

    /// A view of the past, of what it is made of.
    pub(super) const fn of_parts(
        conn: Connection,
        path: PathBuf,
        identity: Identity,
        as_of: Option<Arc<AsOf>>,
    ) -> Self {
        Self { conn, path, identity, access: Access::Read, as_of }
    }

    /// Lays out an empty book in a file that stands empty, inside the transaction of the caller.
    pub(super) fn blank(path: &Path) -> Result<Connection> {
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let conn = Connection::open_with_flags(path, flags).in_file(path)?;
        conn.pragma_update(None, "page_size", PAGE).in_file(path)?;
        conn.pragma_update(None, "application_id", header::APPLICATION_ID).in_file(path)?;
        keep_log(&conn, path)?;
        configure(&conn, path)?;
        Ok(conn)
    }

    /// Opens a book.
    pub fn open(path: &Path, access: Access) -> Result<Self> {
        let mut book = Self::open_unchecked(path, access)?;
        book.check_tail()?;
        book.let_go_of_log()?;
        book.bring_up_to_date()?;
        if access == Access::Read {
            book.conn.pragma_update(None, "query_only", true).in_file(path)?;
        }
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
        header::check(path)?;
        let conn = match access {
            Access::Write => {
                let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
                Connection::open_with_flags(path, flags).in_file(path)?
            }
            Access::Read => open_read_only(path)?,
        };
        // When the tail proves lost, what is left of it may stand in the log, where `salvage` can
        // still find it; SQLite would fold in what it takes for whole, and delete the log.
        conn.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, header::has_log(path))
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
        Ok(Self { conn, path: path.to_path_buf(), identity, access, as_of: None })
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

    /// Whether its layout or its projections are of another version.
    pub(super) fn is_stale(&self) -> Result<bool> {
        let old = migrate::version(&self.conn).in_file(&self.path)? < migrate::newest();
        Ok(old
            || migrate::projection_version(&self.conn).in_file(&self.path)?
                != crate::projection::VERSION)
    }

    /// Compares the end of the book with the head noted beside it.
    fn check_tail(&self) -> Result<()> {
        let Some(anchored) = head::read(&self.path) else { return Ok(()) };
        if anchored.entry.chain.site != self.identity.chain.site {
            return Ok(());
        }
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

    /// Notes the head beside the book, after a commit. Under the lock of a writer, so that of two
    /// writers the later head stays.
    pub(super) fn note_head(&mut self) -> Result<()> {
        let (path, chain) = (self.path.clone(), self.identity.chain.clone());
        let tx = match self.begin() {
            Ok(tx) => tx,
            // Whoever writes now notes a later head.
            Err(StoreError::Busy { .. }) => return Ok(()),
            Err(e) => return Err(e),
        };
        let Some(head) = head_of(&tx, &path, &chain)? else { return Ok(()) };
        head::write(&path, &head)?;
        tx.rollback().in_file(&path)
    }

    /// A second connection for questions to a large book, so that two can be asked at once; `None`
    /// where that is not worth it, and when the book was written to in between.
    pub fn beside(&self) -> Result<Option<Self>> {
        let is_file = self.conn.path().is_some_and(|p| !p.is_empty());
        let pages: i64 =
            self.conn.pragma_query_value(None, "page_count", |r| r.get(0)).in_file(&self.path)?;
        if !is_file || !self.is_reader() || pages < WORTH_TWO {
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

    pub(super) fn begin(&mut self) -> Result<Transaction<'_>> {
        let path = self.path.clone();
        self.conn.transaction_with_behavior(TransactionBehavior::Immediate).in_file(&path)
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
fn clock_of_sqlite(conn: &Connection) -> rusqlite::Result<i64> {
    conn.query_row("SELECT CAST(unixepoch('subsec') * 1000 AS INTEGER)", [], |r| r.get(0))
}
