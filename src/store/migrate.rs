//! Migrations: numbered SQL, compiled in, applied in order in one transaction, each noted with a
//! checksum. The ledger goes forward only; projections are dropped and laid out again.

use std::collections::BTreeMap;
use std::path::Path;

use rusqlite::{Connection, Transaction};

use super::error::{InFile, Result, StoreError};
use crate::ledger::digest;
use crate::projection::VERSION;
use crate::schema::{Table, layout as tables};

struct Migration {
    name: &'static str,
    sql: &'static str,
}

const MIGRATIONS: &[Migration] = &[
    Migration { name: "0001_ledger", sql: include_str!("../../migrations/0001_ledger.sql") },
    Migration { name: "0002_guard", sql: include_str!("../../migrations/0002_guard.sql") },
    Migration {
        name: "0003_struck_freely",
        sql: include_str!("../../migrations/0003_struck_freely.sql"),
    },
];

/// Which version of the derived tables stands in a file, how far the ledger is folded in and the hash
/// of the last entry that is, and by which clock its days are days.
const STATE: &str = "CREATE TABLE projection_state (
    only INTEGER PRIMARY KEY CHECK (only = 1),
    version INTEGER NOT NULL,
    position INTEGER NOT NULL,
    clock TEXT,
    head BLOB
) STRICT;
";

/// Number of the newest layout of the ledger.
pub(super) fn newest() -> i64 {
    i64::try_from(MIGRATIONS.len()).unwrap_or(i64::MAX)
}

/// Layout of the ledger in a file.
pub(super) fn version(conn: &Connection) -> rusqlite::Result<i64> {
    conn.pragma_query_value(None, "user_version", |r| r.get(0))
}

/// Compares what was applied to a file with what this program would apply.
pub(super) fn check_applied(conn: &Connection, path: &Path) -> Result<()> {
    let mut statement = conn
        .prepare("SELECT number, name, sha256 FROM schema_migration ORDER BY number")
        .in_file(path)?;
    let rows = statement
        .query_map([], |r| {
            Ok((r.get::<_, i64>(0)?, r.get::<_, String>(1)?, r.get::<_, String>(2)?))
        })
        .in_file(path)?;
    let mut seen = 0;
    for row in rows {
        let (number, name, sha256) = row.in_file(path)?;
        seen += 1;
        let known = usize::try_from(number - 1).ok().and_then(|i| MIGRATIONS.get(i));
        if number != seen || known.is_none_or(|m| digest(m.sql.as_bytes()) != sha256) {
            return Err(StoreError::ForeignLayout { path: path.to_path_buf(), number, name });
        }
    }
    if seen != version(conn).in_file(path)? {
        return Err(StoreError::ForeignLayout {
            path: path.to_path_buf(),
            number: seen + 1,
            name: "missing".to_owned(),
        });
    }
    Ok(())
}

/// Applies what a file lacks. The caller commits.
pub(super) fn apply(tx: &Transaction<'_>, now_ms: i64) -> rusqlite::Result<()> {
    tx.execute_batch(
        "CREATE TABLE IF NOT EXISTS schema_migration (
            number      INTEGER PRIMARY KEY,
            name        TEXT NOT NULL,
            sha256      TEXT NOT NULL,
            applied_ms  INTEGER NOT NULL
        ) STRICT",
    )?;
    let have = version(tx)?;
    for (migration, number) in MIGRATIONS.iter().zip(1i64..).filter(|(_, n)| *n > have) {
        tx.execute_batch(migration.sql)?;
        tx.execute(
            "INSERT INTO schema_migration (number, name, sha256, applied_ms) VALUES (?1, ?2, ?3, ?4)",
            (number, migration.name, digest(migration.sql.as_bytes()), now_ms),
        )?;
        tx.pragma_update(None, "user_version", number)?;
    }
    Ok(())
}

/// Version of the projections in a file; 0 when there are none.
pub(super) fn projection_version(conn: &Connection) -> rusqlite::Result<i64> {
    let there: bool = conn.query_row(
        "SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name = 'projection_state'",
        [],
        |r| r.get(0),
    )?;
    if !there {
        return Ok(0);
    }
    let mut statement = conn.prepare("SELECT version FROM projection_state")?;
    let mut rows = statement.query([])?;
    rows.next()?.map_or(Ok(0), |r| r.get(0))
}

/// Place and hash of the last entry that the derived rows hold.
pub(super) fn projected_to(conn: &Connection) -> rusqlite::Result<(i64, Option<Vec<u8>>)> {
    conn.query_row("SELECT position, head FROM projection_state", [], |r| {
        Ok((r.get(0)?, r.get(1)?))
    })
}

/// Everything that a file's schema holds: kind and name, and the words of the SQL that made it.
pub(super) type Layout = BTreeMap<(String, String), String>;

/// The layout of a file. What SQLite makes by itself, statistics among it, is left out.
pub(super) fn layout(conn: &Connection) -> rusqlite::Result<Layout> {
    let mut statement = conn.prepare(
        "SELECT type, name, sql FROM sqlite_schema
         WHERE sql IS NOT NULL AND name NOT IN ('sqlite_stat1', 'sqlite_stat4')",
    )?;
    let rows = statement.query_map([], |r| {
        let sql: String = r.get(2)?;
        let words: Vec<&str> = sql.split_whitespace().collect();
        Ok(((r.get(0)?, r.get(1)?), words.join(" ")))
    })?;
    rows.collect()
}

/// The layout that this program makes.
pub(super) fn expected_layout() -> rusqlite::Result<Layout> {
    let mut conn = Connection::open_in_memory()?;
    let tx = conn.transaction()?;
    apply(&tx, 0)?;
    lay_out_projections(&tx)?;
    tx.commit()?;
    layout(&conn)
}

/// Tables of the projections.
pub(super) fn projection_tables() -> impl Iterator<Item = &'static str> {
    std::iter::once("projection_state").chain(Table::ALL.iter().map(|t| t.name()))
}

/// Drops the projections of whatever version and lays them out empty. The caller commits.
pub(super) fn lay_out_projections(tx: &Connection) -> rusqlite::Result<()> {
    let ledger = ["book", "entry", "schema_migration", "struck_freely"];
    let mut tables = Vec::new();
    {
        let mut statement = tx.prepare(
            "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'",
        )?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            tables.push(row.get::<_, String>(0)?);
        }
    }
    for table in tables.iter().filter(|t| !ledger.contains(&t.as_str())) {
        // The name comes from the schema itself; quoted all the same.
        tx.execute_batch(&format!("DROP TABLE \"{}\"", table.replace('"', "\"\"")))?;
    }
    tx.execute_batch(STATE)?;
    for table in Table::ALL {
        tx.execute_batch(&tables::of_book(*table))?;
    }
    tx.execute(
        "INSERT INTO projection_state (only, version, position) VALUES (1, ?1, 0)",
        [VERSION],
    )?;
    Ok(())
}
