//! Projections against a rebuild in a file that nobody else sees, table by table.

use std::path::Path;

use rusqlite::{Connection, OpenFlags, Row, Rows};

use super::super::book::Book;
use super::super::error::{InFile, Result};
use super::super::identity::Identity;
use super::super::{entries, functions, migrate, project, struck_freely};
use super::{Check, as_finding};
use crate::projection::VERSION;

impl Book {
    pub(super) fn check_projections(&self) -> Result<Check> {
        let mut check = Check::new("projections");
        if self.is_stale()? {
            let theirs = migrate::projection_version(&self.conn).in_file(&self.path)?;
            check.note(format!(
                "what is derived calls itself version {theirs}, this program derives {VERSION}: it was \
                 not compared, and is derived again when the book is next opened"
            ));
            return Ok(check);
        }
        let compared = self.compare_with_rebuild(&mut check);
        as_finding(compared, &mut check)?;
        Ok(check)
    }

    fn compare_with_rebuild(&self, check: &mut Check) -> Result<()> {
        let mut copy = apart(&self.path)?;
        let tx = copy.transaction().in_file(&self.path)?;
        migrate::apply(&tx, 0).in_file(&self.path)?;
        let Identity { chain, units } = self.identity();
        tx.execute(
            "INSERT INTO book (only, site, epoch, units, created_ms) VALUES (1, ?1, ?2, ?3, 0)",
            (chain.site.as_str(), chain.epoch, units.as_str()),
        )
        .in_file(&self.path)?;
        // Since when the book knows the rule is no entry.
        let old = struck_freely::up_to(&self.conn, &self.path)?;
        if old > 0 {
            tx.execute_batch("DROP TRIGGER struck_freely_is_never_written_later")
                .and_then(|()| tx.execute("INSERT INTO struck_freely VALUES (1, ?1)", [old]))
                .in_file(&self.path)?;
        }
        self.each_entry(|stored| entries::insert(&tx, &self.path, &stored))?;
        project::rebuild(&tx, &self.path)?;
        tx.commit().in_file(&self.path)?;
        for table in migrate::projection_tables() {
            if let Some(difference) = compare(&self.conn, &copy, &self.path, table, check)? {
                check.fault(format!("table {table} differs from a rebuild: {difference}"));
            }
        }
        Ok(())
    }
}

/// A database in a file without a name: what does not fit the cache goes to disk, whatever the
/// size of the book.
fn apart(path: &Path) -> Result<Connection> {
    let copy = Connection::open_with_flags(
        "",
        OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX,
    )
    .in_file(path)?;
    copy.set_prepared_statement_cache_capacity(256);
    copy.pragma_update(None, "cache_size", -65_536).in_file(path)?;
    // It is thrown away whatever happens.
    copy.pragma_update(None, "synchronous", "OFF").in_file(path)?;
    copy.pragma_update(None, "journal_mode", "OFF").in_file(path)?;
    functions::register(&copy).in_file(path)?;
    Ok(copy)
}

/// Both tables row by row in the order of their keys; the first difference in words.
fn compare(
    ours: &Connection,
    anew: &Connection,
    path: &Path,
    table: &str,
    check: &mut Check,
) -> Result<Option<String>> {
    // Table names come from this program's own layout. A scan of a table runs in key order.
    let query = format!("SELECT * FROM \"{table}\"");
    let (mut a, mut b) = (ours.prepare(&query).in_file(path)?, anew.prepare(&query).in_file(path)?);
    let columns: Vec<String> = a.column_names().map(str::to_owned).collect();
    if columns.len() != b.column_count() {
        return Ok(Some("it has other columns".to_owned()));
    }
    let (mut a, mut b) = (a.query([]).in_file(path)?, b.query([]).in_file(path)?);
    loop {
        let (x, y) = (next(&mut a, path)?, next(&mut b, path)?);
        match (x, y) {
            (None, None) => return Ok(None),
            (Some(x), None) => return Ok(Some(format!("row {} too many", key(x, &columns)))),
            (None, Some(y)) => return Ok(Some(format!("row {} is missing", key(y, &columns)))),
            (Some(x), Some(y)) => {
                check.looked_at += 1;
                for (i, column) in columns.iter().enumerate() {
                    let (p, q) = (x.get_ref(i).in_file(path)?, y.get_ref(i).in_file(path)?);
                    if p != q {
                        let at = key(x, &columns);
                        return Ok(Some(format!("column {column} of row {at}")));
                    }
                }
            }
        }
    }
}

fn next<'a>(rows: &'a mut Rows<'_>, path: &Path) -> Result<Option<&'a Row<'a>>> {
    rows.next().in_file(path)
}

/// The first columns of a row, which name it.
fn key(row: &Row<'_>, columns: &[String]) -> String {
    let values = columns.iter().take(2).enumerate().map(|(i, c)| {
        let value = match row.get_ref(i) {
            Ok(rusqlite::types::ValueRef::Integer(n)) => n.to_string(),
            Ok(rusqlite::types::ValueRef::Text(t)) => String::from_utf8_lossy(t).into_owned(),
            _ => "?".to_owned(),
        };
        format!("{c} {value}")
    });
    values.collect::<Vec<_>>().join(", ")
}
