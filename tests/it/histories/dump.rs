//! The projections of a book in canonical text: positions replaced by names of entries, rows sorted.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use pipelore::store::{Book, Datum};

use crate::filter_book::seen_by_rows;

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
    dump_of(&mut Book::open_to_examine(book.path()).unwrap())
}

/// The same of a book that stands in no file.
pub fn dump_of(book: &mut Book) -> String {
    let mut ask = |sql: &str| book.ask(sql, &[], None).unwrap();
    let text = |d: &Datum| match d {
        Datum::Text(t) => t.clone(),
        other => panic!("{other:?}"),
    };
    let names: BTreeMap<i64, String> =
        ask("SELECT position, site || '/' || epoch || '-' || number FROM entry")
            .iter()
            .map(|row| match &row[0] {
                Datum::Int(n) => (*n, text(&row[1])),
                other => panic!("{other:?}"),
            })
            .collect();
    let tables: Vec<String> =
        ask("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name")
            .iter()
            .map(|row| text(&row[0]))
            .filter(|t| !["entry", "book", "schema_migration"].contains(&t.as_str()))
            .collect();
    let mut out = String::new();
    for table in tables.iter().filter(|t| !OWN.contains(&(t.as_str(), "*"))) {
        let columns: Vec<String> =
            ask(&format!("SELECT name FROM pragma_table_info('{table}') ORDER BY cid"))
                .iter()
                .map(|row| text(&row[0]))
                .collect();
        let mut lines = Vec::new();
        for row in ask(&format!("SELECT * FROM \"{table}\"")) {
            let mut line = table.clone();
            for (column, value) in columns.iter().zip(&row) {
                if OWN.contains(&(table.as_str(), column.as_str())) {
                    continue;
                }
                let place = PLACES.contains(&column.as_str());
                match value {
                    Datum::Null => {}
                    Datum::Int(n) if place => {
                        let name = names.get(n).unwrap_or_else(|| {
                            panic!("{table}.{column} = {n} is no place of an entry")
                        });
                        write!(line, " {column}={name}").unwrap();
                    }
                    Datum::Int(n) => write!(line, " {column}={n}").unwrap(),
                    Datum::Text(t) => write!(line, " {column}={t:?}").unwrap(),
                    Datum::Blob(b) => {
                        write!(line, " {column}={}", pipelore::ledger::hex(b)).unwrap();
                    }
                    Datum::Real(x) => panic!("{table}.{column} holds a float: {x}"),
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
    let wrong = ask(&format!(
        "SELECT count(*) FROM joint WHERE seen <> ({})
         OR unknown_until IS NOT (SELECT max(until) FROM gap g WHERE g.joint = joint.joint)
         OR last_run IS NOT (SELECT max(finish) FROM joint_run r WHERE r.joint = joint.joint)",
        seen_by_rows()
    ));
    assert_eq!(wrong, [[Datum::Int(0)]], "marks that the rows do not bear out");
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
