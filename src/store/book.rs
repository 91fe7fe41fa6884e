//! A book: one file, opened through the gate.

use std::fs::OpenOptions;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::config::DbConfig;
use rusqlite::limits::Limit;
use rusqlite::{Connection, OpenFlags, Transaction, TransactionBehavior};

use super::error::{InFile, Result, StoreError};
use super::head::{self, HeadMark};
use super::{functions, gate, migrate};
use crate::ledger::Hash;
use crate::model::{Body, Chain, Draft, EntryId, EpochBody, Moment, NameError, Recorded, Site};
use crate::units::UnitSystem;

/// What for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Access {
    /// Questions only; the file is opened read-only.
    Read,
    /// Entries will be written.
    Write,
}

/// Who writes, when, with what program: what every entry carries.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stamp {
    /// The instant and the clock offset of the place.
    pub now: Recorded,
    /// The person.
    pub author: String,
    /// Program and version.
    pub program: String,
}

/// Whose book this is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Identity {
    /// The chain that this book writes.
    pub chain: Chain,
    /// Unit system in which it is read.
    pub units: UnitSystem,
}

/// An open book.
#[derive(Debug)]
pub struct Book {
    pub(super) conn: Connection,
    pub(super) path: PathBuf,
    identity: Identity,
    access: Access,
}

/// How long a writer waits for another.
const BUSY: Duration = Duration::from_secs(5);

fn configure(conn: &Connection, path: &Path) -> Result<()> {
    let set = || -> rusqlite::Result<()> {
        conn.busy_timeout(BUSY)?;
        conn.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true)?;
        conn.set_db_config(DbConfig::SQLITE_DBCONFIG_TRUSTED_SCHEMA, false)?;
        conn.pragma_update(None, "foreign_keys", true)?;
        conn.pragma_update(None, "recursive_triggers", true)?;
        conn.pragma_update(None, "cell_size_check", true)?;
        conn.pragma_update(None, "synchronous", "FULL")?;
        conn.pragma_update(None, "fullfsync", true)?;
        conn.pragma_update(None, "checkpoint_fullfsync", true)?;
        conn.pragma_update(None, "cache_size", -65_536)?;
        conn.pragma_update(None, "temp_store", "MEMORY")?;
        // A file from a stranger may hold anything: nothing in it gets room to run wild.
        conn.set_limit(Limit::SQLITE_LIMIT_ATTACHED, 2)?;
        conn.set_prepared_statement_cache_capacity(256);
        functions::register(conn)
    };
    set().in_file(path)
}

impl Book {
    /// Starts a book at a path where nothing stands yet.
    pub fn create(path: &Path, site: &str, units: UnitSystem, stamp: &Stamp) -> Result<Self> {
        let name = Site::parse(site).map_err(|source: NameError| StoreError::Fold {
            entry: "the first entry".to_owned(),
            what: source.to_string(),
        })?;
        OpenOptions::new().write(true).create_new(true).open(path).map_err(|e| {
            if e.kind() == std::io::ErrorKind::AlreadyExists {
                StoreError::Exists { path: path.to_path_buf() }
            } else {
                StoreError::io(path, e)
            }
        })?;
        let made = Self::lay_out(path, Chain { site: name, epoch: 1 }, site, units, stamp);
        if made.is_err() {
            // It was empty and ours a moment ago; leave nothing half made behind.
            for suffix in ["", "-wal", "-shm", "-journal"] {
                let mut part = path.as_os_str().to_owned();
                part.push(suffix);
                let _ = std::fs::remove_file(PathBuf::from(part));
            }
        }
        made
    }

    fn lay_out(
        path: &Path,
        chain: Chain,
        site: &str,
        units: UnitSystem,
        stamp: &Stamp,
    ) -> Result<Self> {
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let mut conn = Connection::open_with_flags(path, flags).in_file(path)?;
        conn.pragma_update(None, "application_id", gate::APPLICATION_ID).in_file(path)?;
        keep_log(&conn, path)?;
        configure(&conn, path)?;
        let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate).in_file(path)?;
        migrate::apply(&tx, stamp.now.at.0).in_file(path)?;
        migrate::lay_out_projections(&tx).in_file(path)?;
        tx.execute(
            "INSERT INTO book (only, site, epoch, units, created_ms) VALUES (1, ?1, ?2, ?3, ?4)",
            (chain.site.as_str(), chain.epoch, units.as_str(), stamp.now.at.0),
        )
        .in_file(path)?;
        tx.commit().in_file(path)?;
        let mut book = Self {
            conn,
            path: path.to_path_buf(),
            identity: Identity { chain, units },
            access: Access::Write,
        };
        let first = Draft {
            effective: Moment::Clock(stamp.now.at.at(stamp.now.offset_minutes)),
            evidence: None,
            body: Body::Epoch(EpochBody {
                site: site.to_owned(),
                units: units.as_str().to_owned(),
                parent: None,
                reason: None,
            }),
        };
        book.append(&[first], stamp, &super::AppendOptions::default())?;
        // The header with our mark must be in the file itself, where the gate looks.
        book.conn.pragma_query(None, "wal_checkpoint", |_| Ok(())).in_file(path)?;
        Ok(book)
    }

    /// Opens a book.
    pub fn open(path: &Path, access: Access) -> Result<Self> {
        gate::check(path)?;
        let conn = match access {
            Access::Write => {
                let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
                Connection::open_with_flags(path, flags).in_file(path)?
            }
            Access::Read => open_read_only(path)?,
        };
        configure(&conn, path)?;
        let version = migrate::version(&conn).in_file(path)?;
        if version > migrate::newest() {
            return Err(StoreError::Newer {
                path: path.to_path_buf(),
                version,
                known: migrate::newest(),
            });
        }
        if access == Access::Write {
            keep_log(&conn, path)?;
        }
        let identity = read_identity(&conn, path)?;
        let mut book = Self { conn, path: path.to_path_buf(), identity, access };
        book.check_tail()?;
        book.bring_up_to_date(version)?;
        if access == Access::Read {
            book.conn.pragma_update(None, "query_only", true).in_file(path)?;
        }
        Ok(book)
    }

    /// Migrates an older book, and rebuilds projections that an older or newer fold wrote. A
    /// reader does so through a connection of its own.
    fn bring_up_to_date(&mut self, version: i64) -> Result<()> {
        let stale = version < migrate::newest()
            || migrate::projection_version(&self.conn).in_file(&self.path)?
                != crate::projection::VERSION;
        if version == migrate::newest() {
            migrate::check_applied(&self.conn, &self.path)?;
        }
        if !stale {
            return Ok(());
        }
        if self.access == Access::Read {
            Self::open(&self.path, Access::Write)?;
            return Ok(());
        }
        let path = self.path.clone();
        let now = clock_of_sqlite(&self.conn).in_file(&path)?;
        let tx = self.begin()?;
        migrate::apply(&tx, now).in_file(&path)?;
        migrate::lay_out_projections(&tx).in_file(&path)?;
        super::project::rebuild(&tx, &path)?;
        tx.commit().in_file(&path)
    }

    /// Compares the end of the book with the head noted beside it.
    fn check_tail(&self) -> Result<()> {
        let Some(anchored) = head::read(&self.path) else { return Ok(()) };
        if anchored.entry.chain.site != self.identity.chain.site {
            return Ok(());
        }
        let stored: Option<Hash> = self.hash_of(&anchored.entry)?;
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

    pub(super) fn hash_of(&self, entry: &EntryId) -> Result<Option<Hash>> {
        let mut statement = self
            .conn
            .prepare_cached("SELECT hash FROM entry WHERE site = ?1 AND epoch = ?2 AND number = ?3")
            .in_file(&self.path)?;
        let number = i64::try_from(entry.number).unwrap_or(i64::MAX);
        let mut rows = statement
            .query((entry.chain.site.as_str(), entry.chain.epoch, number))
            .in_file(&self.path)?;
        let Some(row) = rows.next().in_file(&self.path)? else { return Ok(None) };
        let bytes: Vec<u8> = row.get(0).in_file(&self.path)?;
        Ok(Hash::from_bytes(&bytes))
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

/// Opens for reading. On a medium that cannot be written there is no shared memory beside the
/// file; without a log left over, the file is then complete by itself and can be read as it is.
fn open_read_only(path: &Path) -> Result<Connection> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let conn = Connection::open_with_flags(path, flags).in_file(path)?;
    match conn.pragma_query_value(None, "user_version", |r| r.get::<_, i64>(0)) {
        Ok(_) => Ok(conn),
        Err(e) if e.sqlite_error_code() == Some(rusqlite::ErrorCode::CannotOpen) => {
            let mut log = path.as_os_str().to_owned();
            log.push("-wal");
            if std::fs::metadata(PathBuf::from(log)).is_ok_and(|m| m.len() > 0) {
                return Err(StoreError::ReadOnly { path: path.to_path_buf() });
            }
            let Some(name) = path.to_str() else { return Err(StoreError::from_sqlite(path, e)) };
            let mut uri = String::from("file:");
            for b in name.bytes() {
                if b.is_ascii_alphanumeric() || b"/._-".contains(&b) {
                    uri.push(char::from(b));
                } else {
                    uri.push('%');
                    uri.push_str(&crate::ledger::hex(&[b]));
                }
            }
            uri.push_str("?immutable=1");
            Connection::open_with_flags(uri, flags | OpenFlags::SQLITE_OPEN_URI).in_file(path)
        }
        Err(e) => Err(StoreError::from_sqlite(path, e)),
    }
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
