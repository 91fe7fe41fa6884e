//! The projections of a book in canonical text: positions replaced by names of entries, rows sorted.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use pipelore::schema::Value;
use pipelore::store::Book;

use crate::filter_book::presence_by_rows;

/// Columns that hold a place in the book.
const PLACES: [&str; 18] = [
    "joint",
    "entry",
    "run",
    "survey",
    "class_entry",
    "cleared_by",
    "mate_joint",
    "back_entry",
    "by_entry",
    "first_entry",
    "second_entry",
    "last_entry",
    "opening_entry",
    "tally_entry",
    "pattern_run",
    "location_by",
    "string_by",
    "status_by",
];

/// A site that only reads: nobody else hears of what founds its book.
const READER: &str = "entry=reader/";

/// What says where the work stands, and a digest over places, are of this book alone; a sort key says
/// the name of the entry, which stands beside it, in figures that no renaming of entries reaches.
const OWN: [(&str, &str); 4] = [
    ("projection_state", "*"),
    ("joint", "records_digest"),
    ("joint", "by_name"),
    ("run", "by_name"),
];

/// All projections of a book.
pub fn dump(book: &Book) -> String {
    dump_of(&mut Book::open_to_examine(book.path()).unwrap())
}

/// The same of a book that stands in no file.
pub fn dump_of(book: &mut Book) -> String {
    let mut ask = |sql: &str| book.ask(sql, &[], None).unwrap();
    let text = |d: &Value| match d {
        Value::Text(t) => t.clone(),
        other => panic!("{other:?}"),
    };
    let names: BTreeMap<i64, String> =
        ask("SELECT position, site || '/' || epoch || '-' || number FROM entry")
            .iter()
            .map(|row| match &row[0] {
                Value::Int(n) => (*n, text(&row[1])),
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
                    Value::Null => {}
                    Value::Int(n) if place => {
                        let name = names.get(n).unwrap_or_else(|| {
                            panic!("{table}.{column} = {n} is no place of an entry")
                        });
                        write!(line, " {column}={name}").unwrap();
                    }
                    Value::Int(n) => write!(line, " {column}={n}").unwrap(),
                    Value::Text(t) => write!(line, " {column}={t:?}").unwrap(),
                    Value::Blob(b) => {
                        write!(line, " {column}={}", pipelore::ledger::hex(b)).unwrap();
                    }
                    Value::Real(x) => panic!("{table}.{column} holds a float: {x}"),
                }
            }
            if !line.contains(READER) {
                lines.push(line);
            }
        }
        lines.sort();
        for line in lines {
            out.push_str(&line);
            out.push('\n');
        }
    }
    let wrong = ask(&format!(
        "SELECT count(*) FROM joint WHERE presence <> ({})
         OR unknown_until IS NOT (SELECT max(until) FROM gap g WHERE g.joint = joint.joint)
         OR last_run IS NOT (SELECT max(finish) FROM joint_run r WHERE r.joint = joint.joint)",
        presence_by_rows()
    ));
    assert_eq!(wrong, [[Value::Int(0)]], "summary bits that the rows do not bear out");
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
