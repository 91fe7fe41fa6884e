//! A copy put back in the place of a book that is lost or damaged.

use std::path::{Path, PathBuf};

use rusqlite::{Connection, ErrorCode, OpenFlags};

use super::book::Book;
use super::epoch::Resumed;
use super::error::{InFile, Result, StoreError};
use super::head::{self, Noted};
use super::identity::Stamp;
use super::whole::{self, beside};

/// What SQLite keeps beside a book; it belongs to the file that it stands beside.
const OF_SQLITE: [&str; 3] = ["-wal", "-shm", "-journal"];

/// What putting a copy back did.
#[derive(Debug)]
pub struct Restored {
    /// How the book goes on.
    pub resumed: Resumed,
    /// Where the file that stood there is now; `None` where none did.
    pub aside: Option<PathBuf>,
}

impl Book {
    /// Puts a copy in the place of a book and goes on with it under a new epoch. What stood there is
    /// set aside with the log beside it, under one name and unread: it may be all that is left of
    /// what was written after the copy.
    ///
    /// # Errors
    /// A copy that is no sound book; a book that another program has open. Nothing is changed then.
    pub fn restore(copy: &Path, to: &Path, reason: &str, stamp: &Stamp) -> Result<Restored> {
        let to = &*whole::resolved(to)?;
        let source = Self::open_to_examine(copy)?;
        source.prove_chains()?;
        if same_file(source.path(), to) {
            return Err(StoreError::SameFile { path: to.to_path_buf() });
        }
        let draft = whole::draft_of(to).map_err(|e| StoreError::io(to, e))?.into_temp_path();
        source.copy_into(&draft, to)?;
        let head = source.head()?;
        source.close()?;
        let aside = if to.exists() { Some(set_aside(to)?) } else { None };
        whole::put_new(draft, to)?;
        // The head of what was lost stays noted: it says how far the lost book went.
        let foreign = !matches!(head::noted(to), Noted::Head(_));
        if let (true, Some(head)) = (foreign, &head) {
            head::write(to, head)?;
        }
        let resumed = Self::resume(to, reason, None, stamp)?;
        Ok(Restored { resumed, aside })
    }
}

fn same_file(one: &Path, other: &Path) -> bool {
    one.canonicalize().ok().zip(other.canonicalize().ok()).is_some_and(|(a, b)| a == b)
}

/// Moves a book and what SQLite keeps beside it to a name that is free.
fn set_aside(book: &Path) -> Result<PathBuf> {
    refuse_in_use(book)?;
    let io = |e| StoreError::io(book, e);
    let free = |name: &PathBuf| {
        OF_SQLITE.iter().chain(&[""]).all(|s| beside(name, s).symlink_metadata().is_err())
    };
    let aside = (1..=9_999)
        .map(|n| beside(book, &format!(".set-aside-{n}")))
        .find(free)
        .unwrap_or_else(|| beside(book, ".set-aside"));
    // The file last: until it has moved, this can be done again.
    for suffix in OF_SQLITE.iter().chain(&[""]) {
        let part = beside(book, suffix);
        if part.symlink_metadata().is_ok() {
            std::fs::rename(&part, beside(&aside, suffix)).map_err(io)?;
        }
    }
    Ok(aside)
}

/// Refuses a book that another program has open. One that cannot be opened at all is nobody's.
fn refuse_in_use(book: &Path) -> Result<()> {
    let try_alone = || -> rusqlite::Result<()> {
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let conn = Connection::open_with_flags(book, flags)?;
        // The log stays as it is: it is set aside with the file.
        conn.set_db_config(rusqlite::config::DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)?;
        conn.pragma_update(None, "locking_mode", "EXCLUSIVE")?;
        conn.execute_batch("BEGIN EXCLUSIVE; ROLLBACK")
    };
    match try_alone() {
        Err(e)
            if matches!(
                e.sqlite_error_code(),
                Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked)
            ) =>
        {
            Err(e).in_file(book)
        }
        _ => Ok(()),
    }
}
