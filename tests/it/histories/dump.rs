//! The projections of a book in canonical text: positions replaced by names of entries, rows sorted.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use pipelore::store::Book;
use rusqlite::types::ValueRef;
use rusqlite::{Connection, OpenFlags};

/// Columns that hold a place in the book.
const PLACES: [&str; 14] = [
    "joint",
    "entry",
    "run",
    "survey",
    "class_entry",
    "cleared_by",
    "mate",
    "back_entry",
    "by_entry",
    "first_entry",
    "second_entry",
    "last_entry",
    "opening_entry",
    "tally_entry",
];

/// What says where the work stands, and a digest over places, are of this book alone.
const OWN: [(&str, &str); 2] = [("projection_state", "*"), ("joint", "records_digest")];

/// All projections of a book.
pub fn dump(book: &Book) -> String {
    let conn = Connection::open_with_flags(
        book.path(),
        OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX,
    )
    .unwrap();
    let names: BTreeMap<i64, String> = conn
        .prepare("SELECT position, site || '/' || epoch || '-' || number FROM entry")
        .unwrap()
        .query_map([], |r| Ok((r.get(0)?, r.get(1)?)))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    let tables: Vec<String> = conn
        .prepare("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name")
        .unwrap()
        .query_map([], |r| r.get(0))
        .unwrap()
        .map(Result::unwrap)
        .filter(|t: &String| !["entry", "book", "schema_migration"].contains(&t.as_str()))
        .collect();
    let mut out = String::new();
    for table in tables.iter().filter(|t| !OWN.contains(&(t.as_str(), "*"))) {
        let mut statement = conn.prepare(&format!("SELECT * FROM \"{table}\"")).unwrap();
        let columns: Vec<String> = statement.column_names().map(str::to_owned).collect();
        let mut rows = statement.query([]).unwrap();
        let mut lines = Vec::new();
        while let Some(row) = rows.next().unwrap() {
            let mut line = table.clone();
            for (i, column) in columns.iter().enumerate() {
                if OWN.contains(&(table.as_str(), column.as_str())) {
                    continue;
                }
                let value = row.get_ref(i).unwrap();
                let place = PLACES.contains(&column.as_str());
                match value {
                    ValueRef::Null => {}
                    ValueRef::Integer(n) if place => {
                        let name = names.get(&n).unwrap_or_else(|| {
                            panic!("{table}.{column} = {n} is no place of an entry")
                        });
                        write!(line, " {column}={name}").unwrap();
                    }
                    ValueRef::Integer(n) => write!(line, " {column}={n}").unwrap(),
                    ValueRef::Text(t) => {
                        write!(line, " {column}={:?}", String::from_utf8_lossy(t)).unwrap();
                    }
                    ValueRef::Blob(b) => {
                        write!(line, " {column}={}", pipelore::ledger::hex(b)).unwrap();
                    }
                    ValueRef::Real(x) => panic!("{table}.{column} holds a float: {x}"),
                }
            }
            lines.push(line);
        }
        lines.sort();
        for line in lines {
            out.push_str(&line);
            out.push('\n');
        }
    }
    out
}

/// Names of the tables and columns that differ between two dumps, with the lines.
pub fn difference(a: &str, b: &str) -> Option<String> {
    if a == b {
        return None;
    }
    let lines = |t: &str| t.lines().map(str::to_owned).collect::<std::collections::BTreeSet<_>>();
    let (x, y) = (lines(a), lines(b));
    let mut out = String::new();
    for line in x.difference(&y).take(4) {
        writeln!(out, "- {line}").unwrap();
    }
    for line in y.difference(&x).take(4) {
        writeln!(out, "+ {line}").unwrap();
    }
    Some(out)
}
