//! Connections to the file, set up alike.

use std::path::Path;
use std::time::Duration;

use rusqlite::config::DbConfig;
use rusqlite::limits::Limit;
use rusqlite::{Connection, OpenFlags};

use super::error::{InFile, Result, StoreError};
use super::functions;
use super::log::{Glance, glance, has_log};
use super::whole::beside;

/// How long a writer waits for another.
const BUSY: Duration = Duration::from_secs(5);

/// Has a statement keep its plan whatever is bound to it. Without this SQLite compiles a statement
/// again each time that a parameter is bound which the planner looked at, and it looks at nearly all
/// (is this integer small? does it imply the condition of a partial index?): an eighth of the time
/// of taking in, of a rebuild and of a trace went there.
pub(super) fn keep_plans(conn: &Connection) -> rusqlite::Result<()> {
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_QPSG, true).map(|_| ())
}

pub(super) fn configure(conn: &Connection, path: &Path) -> Result<()> {
    let set = || -> rusqlite::Result<()> {
        conn.busy_timeout(BUSY)?;
        conn.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true)?;
        conn.set_db_config(DbConfig::SQLITE_DBCONFIG_TRUSTED_SCHEMA, false)?;
        keep_plans(conn)?;
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

/// Opens for reading. Who may not write the file leaves nothing beside it: a shared memory or a log
/// that a reader makes is the reader's, and would stop the owner. Without a log left over the file is
/// complete by itself and can be read as it is, without a lock; so it is on a medium that cannot be
/// written. How it looked then is returned: when it looks otherwise in the end, somebody wrote.
pub(super) fn open_read_only(path: &Path) -> Result<(Connection, Option<Glance>)> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let there = |suffix| beside(path, suffix).exists();
    // Opened to write, and nothing written: whether it may be, only trying tells.
    let may_write = std::fs::OpenOptions::new().write(true).open(path).is_ok();
    if !(may_write || there("-wal") && there("-shm")) {
        return alone(path, flags);
    }
    let conn = Connection::open_with_flags(path, flags).in_file(path)?;
    match conn.pragma_query_value(None, "user_version", |r| r.get::<_, i64>(0)) {
        Ok(_) => Ok((conn, None)),
        Err(e)
            if matches!(
                e.sqlite_error_code(),
                Some(rusqlite::ErrorCode::CannotOpen | rusqlite::ErrorCode::ReadOnly)
            ) =>
        {
            alone(path, flags)
        }
        Err(e) => Err(StoreError::from_sqlite(path, e)),
    }
}

/// Opens a file that is complete by itself, without a lock.
fn alone(path: &Path, flags: OpenFlags) -> Result<(Connection, Option<Glance>)> {
    let seen = glance(path)?;
    if has_log(path) {
        return Err(StoreError::ReadOnly { path: path.to_path_buf() });
    }
    let Some(name) = path.to_str() else {
        let what = "the name of the book is not valid Unicode";
        return Err(StoreError::io(path, std::io::Error::other(what)));
    };
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
    let flags = flags | OpenFlags::SQLITE_OPEN_URI;
    Ok((Connection::open_with_flags(uri, flags).in_file(path)?, Some(seen)))
}
