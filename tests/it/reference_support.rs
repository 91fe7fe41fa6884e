//! Reads a table of reference values and holds the crate against each row.
//!
//! A row carries `value`, `rounding` (one unit of the last printed digit), `source`, `provenance`.
//! A computed figure has to lie within that unit: tables truncate as often as they round. What
//! differs for a known reason stands in `known_differences.csv`, and has to go on differing.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::PathBuf;

/// One row of a reference file.
pub(crate) struct Row {
    line: usize,
    cells: BTreeMap<String, String>,
}

impl Row {
    pub(crate) fn text(&self, column: &str) -> &str {
        self.cells
            .get(column)
            .unwrap_or_else(|| panic!("line {}: no column {column}", self.line))
            .as_str()
    }

    pub(crate) fn number(&self, column: &str) -> f64 {
        let text = self.text(column);
        text.parse().unwrap_or_else(|_| panic!("line {}: {column} is {text:?}", self.line))
    }

    /// The cells that say what the value is, and the value itself.
    fn key(&self) -> String {
        self.cells
            .iter()
            .filter(|(k, _)| {
                !["rounding", "source", "provenance", "note", "unit", "member", "value"]
                    .contains(&k.as_str())
            })
            .map(|(_, v)| v.as_str())
            .filter(|v| !v.is_empty())
            .chain(std::iter::once(self.text("value")))
            .collect::<Vec<_>>()
            .join(" | ")
    }
}

fn path(file: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/reference").join(file)
}

pub(crate) fn rows(file: &str) -> Vec<Row> {
    let text = fs::read_to_string(path(file)).unwrap();
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let header: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
    let rows: Vec<Row> = reader
        .records()
        .map(|r| {
            let record = r.unwrap();
            Row {
                line: usize::try_from(record.position().unwrap().line()).unwrap(),
                cells: header.iter().cloned().zip(record.iter().map(str::to_owned)).collect(),
            }
        })
        .collect();
    assert!(!rows.is_empty(), "{file} holds nothing");
    rows
}

/// Known differences of one file: key of the row, reason.
fn known(file: &str) -> BTreeMap<String, String> {
    const REASONS: [&str; 6] =
        ["edition", "erratum", "misprint", "loose copy", "rounding of dimensions", "unexplained"];
    let mut known = BTreeMap::new();
    for row in rows("known_differences.csv") {
        assert!(
            REASONS.contains(&row.text("reason")) && !row.text("explanation").is_empty(),
            "known_differences.csv line {}: a reason out of {REASONS:?} and an explanation",
            row.line
        );
        if row.text("file") == file {
            let twice = known.insert(row.text("row").to_owned(), row.text("reason").to_owned());
            assert!(twice.is_none(), "known_differences.csv line {}: said twice", row.line);
        }
    }
    known
}

/// Holds every row of a file against the crate; `compute` returns the figure in the row's unit.
pub(crate) fn check(file: &str, compute: impl Fn(&Row) -> f64) {
    let known = known(file);
    let mut met = BTreeSet::new();
    let mut misses = Vec::new();
    let mut total = 0;
    for row in rows(file) {
        total += 1;
        assert!(
            ["published", "memory", "common practice", "computed"]
                .contains(&row.text("provenance")),
            "{file} line {}: provenance {:?}",
            row.line,
            row.text("provenance")
        );
        assert!(!row.text("source").is_empty(), "{file} line {}: no source", row.line);
        let (value, rounding) = (row.number("value"), row.number("rounding"));
        let computed = compute(&row);
        let difference = computed - value;
        // The slack is for the decimal fractions of the row, not for the figure.
        let within = difference.abs() <= rounding * (1.0 + 1e-9) + value.abs() * 1e-12;
        let key = row.key();
        let expected = known.get(&key);
        if expected.is_some() {
            met.insert(key.clone());
        }
        match (within, expected) {
            (true, None) | (false, Some(_)) => {}
            (false, None) => misses.push(format!(
                "line {}: {key}: computed {computed:.6}, differs by {difference:.6} (allowed \
                 {rounding}; {}, {})",
                row.line,
                row.text("provenance"),
                row.text("source")
            )),
            (true, Some(reason)) => misses.push(format!(
                "line {}: {key}: listed as a known difference ({reason}) but it agrees",
                row.line
            )),
        }
    }
    for key in known.keys().filter(|k| !met.contains(*k)) {
        misses.push(format!("known_differences.csv names a row that is not there: {key}"));
    }
    for miss in &misses {
        println!("{file} {miss}");
    }
    assert!(
        misses.is_empty(),
        "{file}: {} of {total} rows miss:\n{}",
        misses.len(),
        misses.join("\n")
    );
}

#[test]
fn every_known_difference_belongs_to_a_reference_file() {
    for row in rows("known_differences.csv") {
        assert!(path(row.text("file")).exists(), "{} is no reference file", row.text("file"));
    }
}
