//! Reading of `tests/reference/*.csv` and a list of misses that is printed whole.

use std::collections::HashMap;
use std::fmt::Write as _;
use std::path::Path;

/// One row of check values, by column name.
pub struct Row(HashMap<String, String>);

impl Row {
    /// The text of a column.
    pub fn text(&self, column: &str) -> &str {
        self.0.get(column).unwrap_or_else(|| panic!("no column {column}"))
    }

    /// The number in a column, none where the cell is empty.
    pub fn number(&self, column: &str) -> Option<f64> {
        let text = self.text(column);
        if text.is_empty() {
            return None;
        }
        Some(text.parse().unwrap_or_else(|_| panic!("{column}: {text} is not a number")))
    }

    /// The number in a column that must have one.
    pub fn given(&self, column: &str) -> f64 {
        self.number(column).unwrap_or_else(|| panic!("{column} is empty"))
    }
}

/// All rows of a file below the repository root.
pub fn rows(path: &Path) -> Vec<Row> {
    let mut reader =
        csv::Reader::from_path(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let header = reader.headers().unwrap().clone();
    reader
        .records()
        .map(|record| {
            let record = record.unwrap();
            Row(header.iter().map(str::to_owned).zip(record.iter().map(str::to_owned)).collect())
        })
        .collect()
}

/// All rows of a table of check values; each must name its source and a known provenance.
pub fn table(name: &str) -> Vec<Row> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference").join(name);
    let rows = rows(&path);
    assert!(!rows.is_empty(), "{name} is empty");
    for row in &rows {
        assert!(!row.text("source").is_empty(), "{name}: a row without source");
        let known = ["published", "memory", "common practice", "computed"];
        assert!(known.contains(&row.text("provenance")), "{name}: {}", row.text("provenance"));
    }
    rows
}

/// What did not agree.
#[derive(Default)]
pub struct Misses {
    list: String,
    compared: usize,
    worst: f64,
}

impl Misses {
    /// Notes a difference above `tolerance`.
    pub fn absolute(&mut self, what: &str, got: f64, expected: f64, tolerance: f64) {
        self.compared += 1;
        let off = (got - expected).abs();
        self.worst = self.worst.max(off / tolerance);
        if off.is_nan() || off > tolerance {
            writeln!(self.list, "{what}: {got} against {expected} ± {tolerance}").unwrap();
        }
    }

    /// Notes a relative difference above `tolerance`.
    pub fn relative(&mut self, what: &str, got: f64, expected: f64, tolerance: f64) {
        self.absolute(what, got, expected, tolerance * expected.abs());
    }

    /// Notes something that should hold and doesn't.
    pub fn holds(&mut self, what: &str, holds: bool) {
        self.compared += 1;
        if !holds {
            writeln!(self.list, "{what}: does not hold").unwrap();
        }
    }

    /// Fails with every miss, or when nothing was compared.
    pub fn none(self, title: &str) {
        assert!(self.compared > 0, "{title}: nothing was compared");
        assert!(self.list.is_empty(), "{title}: of {} values missed\n{}", self.compared, self.list);
        eprintln!(
            "{title}: {} values, worst at {:.2e} of its tolerance",
            self.compared, self.worst
        );
    }
}
