//! Rows handed out table by table, in stretches, from one state of the book.

use std::collections::HashMap;

use rusqlite::types::ValueRef;
use rusqlite::{Connection, Transaction};

use super::book::Book;
use super::error::{InFile, Result};
use crate::ledger::hex;
use crate::model::{Scope, Vocabulary};
use crate::schema::{Table, Value};

/// A value of a row, as long as the row is looked at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Seen<'a> {
    Null,
    Int(i64),
    Text(&'a str),
    Blob(&'a [u8]),
}

/// By what a table is divided into stretches: a column of whole numbers, the first of its key or the
/// joint. `None` for a table that has no such column.
pub fn divided_by(table: Table) -> Option<&'static str> {
    let spec = table.spec();
    if spec.names.contains(&"joint") {
        return Some("joint");
    }
    let first = spec.key.first()?;
    let whole = spec.columns.iter().any(|c| c.name == *first && c.sql == "INTEGER");
    (whole && !spec.key.contains(&"digest")).then_some(*first)
}

/// The columns in whose order rows are handed out: by what the table is divided, then its key.
pub fn order_of(table: Table) -> Vec<&'static str> {
    let first = divided_by(table);
    let rest = table.spec().key.iter().copied().filter(|k| Some(*k) != first);
    first.into_iter().chain(rest).collect()
}

/// Columns in which the ledger is handed out: hashes in hexadecimal digits, and who wrote an entry as
/// `of_site`, for the site whose book it is has a name of its own.
pub const LEDGER: [&str; 15] = [
    "position",
    "of_site",
    "epoch",
    "number",
    "kind",
    "effective",
    "recorded_ms",
    "recorded_offset",
    "author",
    "program",
    "evidence",
    "body",
    "encoding",
    "prev",
    "hash",
];

/// The last entry that a book holds of a chain.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChainEnd {
    pub site: String,
    pub epoch: i64,
    /// Number of its last entry.
    pub number: i64,
    /// Hash of that entry, in hexadecimal digits.
    pub hash: String,
}

/// One state of a book: whatever is written meanwhile, what is read through it belongs together.
#[derive(Debug)]
pub struct Held<'a> {
    book: &'a Book,
    _transaction: Option<Transaction<'a>>,
}

impl Book {
    /// Holds the state that the book has now.
    pub fn hold(&self) -> Result<Held<'_>> {
        if let Some(as_of) = &self.as_of {
            as_of.allow(None);
        }
        // A view of the past holds its state already.
        let begun = self.conn.is_autocommit();
        let transaction =
            begun.then(|| self.conn.unchecked_transaction()).transpose().in_file(&self.path)?;
        let held = Held { book: self, _transaction: transaction };
        // A transaction sees the state of its first question.
        held.entries()?;
        Ok(held)
    }
}

impl Held<'_> {
    fn conn(&self) -> &Connection {
        &self.book.conn
    }

    /// How many entries the book holds.
    pub fn entries(&self) -> Result<i64> {
        self.conn()
            .query_row("SELECT coalesce(max(position), 0) FROM entry", [], |r| r.get(0))
            .in_file(&self.book.path)
    }

    /// The numbers by which a table is divided, each once, in their order.
    pub fn numbers(&self, table: Table) -> Result<Vec<i64>> {
        let Some(by) = divided_by(table) else { return Ok(Vec::new()) };
        let sql = format!("SELECT DISTINCT \"{by}\" FROM \"{}\" ORDER BY 1", table.name());
        self.list(&sql)
    }

    fn list(&self, sql: &str) -> Result<Vec<i64>> {
        let path = &self.book.path;
        let mut statement = self.conn().prepare_cached(sql).in_file(path)?;
        let rows = statement.query_map([], |r| r.get(0)).in_file(path)?;
        rows.collect::<rusqlite::Result<Vec<i64>>>().in_file(path)
    }

    /// The ends of the chains that the book holds, by their names.
    pub fn chain_ends(&self) -> Result<Vec<ChainEnd>> {
        let path = &self.book.path;
        let sql = "SELECT e.site, e.epoch, e.number, e.hash FROM entry e
                   JOIN (SELECT site, epoch, max(number) AS number FROM entry GROUP BY site, epoch) l
                   USING (site, epoch, number) ORDER BY e.site, e.epoch";
        let mut statement = self.conn().prepare(sql).in_file(path)?;
        let rows = statement
            .query_map([], |r| {
                Ok(ChainEnd {
                    site: r.get(0)?,
                    epoch: r.get(1)?,
                    number: r.get(2)?,
                    hash: hex(r.get_ref(3)?.as_blob().unwrap_or_default()),
                })
            })
            .in_file(path)?;
        rows.collect::<rusqlite::Result<_>>().in_file(path)
    }

    /// Hash of the entry of a name, in hexadecimal digits; `None` where the book does not hold it.
    pub fn hash_of(&self, end: &ChainEnd) -> Result<Option<String>> {
        let sql = "SELECT hash FROM entry WHERE site = ?1 AND epoch = ?2 AND number = ?3";
        let path = &self.book.path;
        let mut statement = self.conn().prepare_cached(sql).in_file(path)?;
        let mut rows =
            statement.query(rusqlite::params![end.site, end.epoch, end.number]).in_file(path)?;
        let row = rows.next().in_file(path)?;
        row.map(|r| Ok(hex(r.get_ref(0)?.as_blob().unwrap_or_default()))).transpose().in_file(path)
    }

    /// Hands out columns of the rows of a stretch, first and last number included, value by value in
    /// [`order_of`] the table: the place of the column, and what stands there.
    pub fn rows(
        &self,
        table: Table,
        stretch: Option<(i64, i64)>,
        columns: &[&str],
        see: impl FnMut(usize, Seen<'_>),
    ) -> Result<()> {
        let list: Vec<String> = columns.iter().map(|c| format!("\"{c}\"")).collect();
        let mut sql = format!("SELECT {} FROM \"{}\"", list.join(", "), table.name());
        let mut params = Vec::new();
        if let Some((by, (from, to))) = divided_by(table).zip(stretch) {
            sql.push_str(&format!(" WHERE \"{by}\" BETWEEN ?1 AND ?2"));
            params.extend([Value::Int(from), Value::Int(to)]);
            // So that the key finds the joint where the scope stands before it.
            if table == Table::Since {
                let scopes: Vec<String> =
                    Scope::ALL.iter().map(|s| format!("'{}'", s.word())).collect();
                sql.push_str(&format!(" AND scope IN ({})", scopes.join(", ")));
            }
        }
        let order: Vec<String> = order_of(table).iter().map(|c| format!("\"{c}\"")).collect();
        sql.push_str(&format!(" ORDER BY {}", order.join(", ")));
        self.each(&sql, &params, see)
    }

    /// Hands out the entries of a stretch of places, in columns of [`LEDGER`].
    pub fn ledger(
        &self,
        (from, to): (i64, i64),
        columns: &[&str],
        see: impl FnMut(usize, Seen<'_>),
    ) -> Result<()> {
        let list: Vec<String> = columns
            .iter()
            .map(|c| match *c {
                "of_site" => "site".to_owned(),
                "prev" | "hash" => format!("lower(hex({c}))"),
                c => format!("\"{c}\""),
            })
            .collect();
        let sql = format!(
            "SELECT {} FROM entry WHERE position BETWEEN ?1 AND ?2 ORDER BY position",
            list.join(", ")
        );
        self.each(&sql, &[Value::Int(from), Value::Int(to)], see)
    }

    /// Hands out, for each joint and each chain that names it, in their order: the joint, the entry that
    /// brought it in, site and epoch of the chain, and the number of its last entry about the joint.
    pub fn last_entries(&self, mut see: impl FnMut(usize, Seen<'_>)) -> Result<()> {
        let path = &self.book.path;
        let mut chains: Vec<(String, i64)> = Vec::new();
        // By place: which chain, which number.
        let mut names: Vec<(usize, i64)> = vec![(usize::MAX, 0)];
        {
            let mut statement = self
                .conn()
                .prepare("SELECT site, epoch, number FROM entry ORDER BY position")
                .in_file(path)?;
            let mut rows = statement.query([]).in_file(path)?;
            while let Some(row) = rows.next().in_file(path)? {
                let site = row.get_ref(0).in_file(path)?.as_str().unwrap_or_default();
                let (epoch, number) =
                    (row.get(1).in_file(path)?, row.get::<_, i64>(2).in_file(path)?);
                let at = chains.iter().position(|c| c.0 == site && c.1 == epoch);
                let at = at.unwrap_or_else(|| {
                    chains.push((site.to_owned(), epoch));
                    chains.len() - 1
                });
                names.push((at, number));
            }
        }
        let mut last: HashMap<i64, Vec<(usize, i64)>> = HashMap::new();
        let mut note = |joint: i64, place: i64| {
            let name = usize::try_from(place).ok().and_then(|p| names.get(p));
            let Some((chain, number)) = name else { return };
            let known = last.entry(joint).or_default();
            match known.iter_mut().find(|k| k.0 == *chain) {
                Some(k) => k.1 = k.1.max(*number),
                None => known.push((*chain, *number)),
            }
        };
        for sql in ["SELECT joint, entry FROM touch", "SELECT joint, run FROM joint_run"] {
            let mut statement = self.conn().prepare(sql).in_file(path)?;
            let mut rows = statement.query([]).in_file(path)?;
            while let Some(row) = rows.next().in_file(path)? {
                note(row.get(0).in_file(path)?, row.get(1).in_file(path)?);
            }
        }
        let mut statement = self
            .conn()
            .prepare("SELECT joint, introduced_by FROM joint ORDER BY joint")
            .in_file(path)?;
        let mut rows = statement.query([]).in_file(path)?;
        while let Some(row) = rows.next().in_file(path)? {
            let joint: i64 = row.get(0).in_file(path)?;
            let introduced = row.get_ref(1).in_file(path)?.as_str().unwrap_or_default();
            let mut known: Vec<_> = last
                .remove(&joint)
                .unwrap_or_default()
                .into_iter()
                .map(|(chain, number)| (&chains[chain], number))
                .collect();
            known.sort();
            for ((site, epoch), number) in known {
                see(0, Seen::Int(joint));
                see(1, Seen::Text(introduced));
                see(2, Seen::Text(site));
                see(3, Seen::Int(*epoch));
                see(4, Seen::Int(number));
            }
        }
        Ok(())
    }

    fn each(
        &self,
        sql: &str,
        params: &[Value],
        mut see: impl FnMut(usize, Seen<'_>),
    ) -> Result<()> {
        let path = &self.book.path;
        let mut statement = self.conn().prepare_cached(sql).in_file(path)?;
        let columns = statement.column_count();
        let mut rows = statement.query(rusqlite::params_from_iter(params)).in_file(path)?;
        while let Some(row) = rows.next().in_file(path)? {
            for at in 0..columns {
                match row.get_ref(at).in_file(path)? {
                    ValueRef::Null => see(at, Seen::Null),
                    ValueRef::Integer(n) => see(at, Seen::Int(n)),
                    // No column of the book holds a float; SQLite keeps the tables strictly.
                    ValueRef::Real(_) => see(at, Seen::Null),
                    ValueRef::Text(t) => see(at, Seen::Text(&String::from_utf8_lossy(t))),
                    ValueRef::Blob(b) => see(at, Seen::Blob(b)),
                }
            }
        }
        Ok(())
    }
}
