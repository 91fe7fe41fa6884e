//! Tables of this room: comma-separated text with a header, comments after `#`, and errors that
//! name the line and the column.

use crate::model::{Vocabulary, WordError};
use crate::units::UnitError;

/// What is wrong with a table that someone wrote, and where.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("line {line}{}: {problem}", in_column(column.as_deref()))]
pub struct TableError {
    /// Line of the text, from 1.
    pub line: u64,
    /// Column, where the trouble is in one.
    pub column: Option<String>,
    pub problem: TableProblem,
}

fn in_column(column: Option<&str>) -> String {
    column.map_or_else(String::new, |c| format!(", column {c}"))
}

/// What can be wrong with a table.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TableProblem {
    /// The text is no table.
    #[error("not readable as comma-separated text: {0}")]
    Unreadable(String),
    /// A row with more or fewer cells than the header.
    #[error("{found} cells, but the header has {wanted}")]
    Width {
        /// Columns of the header.
        wanted: u64,
        /// Cells of the row.
        found: u64,
    },
    /// A column is not there.
    #[error("the header has no column '{0}'")]
    NoColumn(String),
    /// A column that nothing reads.
    #[error("unknown column '{found}'{}", did_you_mean(nearest.as_deref()))]
    StrangeColumn {
        found: String,
        /// A known column that looks like it.
        nearest: Option<String>,
    },
    /// A line of the head that every set needs.
    #[error("the head has no line '# {0}: ...'")]
    NoHead(&'static str),
    /// Nothing stands where something must.
    #[error("empty; {0}")]
    Empty(&'static str),
    /// A word of no vocabulary.
    #[error(transparent)]
    Word(#[from] WordError),
    /// A unit that does not fit.
    #[error(transparent)]
    Unit(#[from] UnitError),
    /// Something else than what is allowed here.
    #[error("'{found}' {wanted}")]
    Not {
        found: String,
        /// What would be right.
        wanted: String,
    },
    /// The same thing twice.
    #[error("says the same as line {0}")]
    Twice(u64),
    /// A worse class is held to more than a better one.
    #[error("the limit for {worse} is stricter than that for {better} in line {line}")]
    Order {
        better: String,
        worse: String,
        /// Line of the better class's limit.
        line: u64,
    },
}

pub(super) fn did_you_mean(nearest: Option<&str>) -> String {
    nearest.map_or_else(String::new, |n| format!("; did you mean {n}?"))
}

/// Rows of a table, and everything that was wrong with their reading so far.
pub(super) struct Table {
    columns: Vec<String>,
    rows: Vec<(u64, csv::StringRecord)>,
    pub(super) errors: Vec<TableError>,
}

pub(super) struct Row<'a> {
    table: &'a [String],
    record: &'a csv::StringRecord,
    pub(super) line: u64,
}

impl Table {
    /// Reads a table whose header has these columns, in any order.
    pub(super) fn read(text: &str, wanted: &[&'static str], optional: &[&'static str]) -> Self {
        // The reader would count a row from the comments above it; leave them out beforehand and
        // keep the numbers of the lines that stay.
        let (mut kept, mut numbers) = (String::with_capacity(text.len()), Vec::new());
        for (number, line) in (1u64..).zip(text.lines()) {
            if !line.trim_start().starts_with('#') && !line.trim().is_empty() {
                kept.push_str(line);
                kept.push('\n');
                numbers.push(number);
            }
        }
        let original = |position: Option<&csv::Position>| {
            position
                .and_then(|p| usize::try_from(p.line()).ok()?.checked_sub(1))
                .and_then(|at| numbers.get(at).copied())
                .unwrap_or(1)
        };
        let mut reader = csv::ReaderBuilder::new()
            .trim(csv::Trim::All)
            .flexible(false)
            .from_reader(kept.as_bytes());
        let mut errors = Vec::new();
        let mut trouble = |e: &csv::Error| {
            let problem = match e.kind() {
                csv::ErrorKind::UnequalLengths { expected_len, len, .. } => {
                    TableProblem::Width { wanted: *expected_len, found: *len }
                }
                _ => TableProblem::Unreadable(e.to_string()),
            };
            errors.push(TableError { line: original(e.position()), column: None, problem });
        };
        let columns: Vec<String> = match reader.headers() {
            Ok(h) => h.iter().map(str::to_ascii_lowercase).collect(),
            Err(e) => {
                trouble(&e);
                Vec::new()
            }
        };
        let mut rows = Vec::new();
        for record in reader.records() {
            match record {
                Ok(r) => rows.push((original(r.position()), r)),
                Err(e) => trouble(&e),
            }
        }
        let at_head = |problem| TableError { line: 1, column: None, problem };
        for c in wanted {
            if !columns.iter().any(|have| have == c) {
                errors.push(at_head(TableProblem::NoColumn((*c).to_owned())));
            }
        }
        for c in &columns {
            if !wanted.iter().chain(optional).any(|w| w == c) {
                let known = wanted.iter().chain(optional).copied();
                errors.push(at_head(TableProblem::StrangeColumn {
                    found: c.clone(),
                    nearest: crate::model::nearest_word(c, known),
                }));
            }
        }
        Self { columns, rows, errors }
    }

    /// Rows, each handed to `read`; its errors are kept.
    pub(super) fn each<T>(
        &mut self,
        mut read: impl FnMut(&Row<'_>, &mut Vec<TableError>) -> Option<T>,
    ) -> Vec<T> {
        let mut out = Vec::new();
        for (line, record) in &self.rows {
            let row = Row { table: &self.columns, record, line: *line };
            out.extend(read(&row, &mut self.errors));
        }
        out
    }
}

impl Row<'_> {
    /// Text of a cell; empty where the column is not there.
    pub(super) fn text(&self, column: &str) -> &str {
        self.table
            .iter()
            .position(|c| c == column)
            .and_then(|at| self.record.get(at))
            .unwrap_or_default()
    }

    pub(super) fn error(&self, column: &str, problem: impl Into<TableProblem>) -> TableError {
        TableError { line: self.line, column: Some(column.to_owned()), problem: problem.into() }
    }

    /// Text of a cell that must not be empty.
    pub(super) fn need(
        &self,
        column: &str,
        why: &'static str,
        errors: &mut Vec<TableError>,
    ) -> Option<String> {
        let text = self.text(column);
        if text.is_empty() {
            errors.push(self.error(column, TableProblem::Empty(why)));
            return None;
        }
        Some(text.to_owned())
    }

    /// A word of a vocabulary.
    pub(super) fn word<V: Vocabulary>(
        &self,
        column: &str,
        errors: &mut Vec<TableError>,
    ) -> Option<V> {
        match V::from_word(self.text(column)) {
            Ok(v) => Some(v),
            Err(e) => {
                errors.push(self.error(column, e));
                None
            }
        }
    }

    /// Words of a vocabulary, apart by semicolons; none for an empty cell.
    pub(super) fn words<V: Vocabulary>(
        &self,
        column: &str,
        errors: &mut Vec<TableError>,
    ) -> Vec<V> {
        self.list(column)
            .filter_map(|word| match V::from_word(word) {
                Ok(v) => Some(v),
                Err(e) => {
                    errors.push(self.error(column, e));
                    None
                }
            })
            .collect()
    }

    /// Items apart by semicolons.
    pub(super) fn list(&self, column: &str) -> impl Iterator<Item = &str> {
        self.text(column).split(';').map(str::trim).filter(|w| !w.is_empty())
    }
}

/// Value of a line `# key: value` in the head of a text.
pub(super) fn head(text: &str, key: &str) -> Option<String> {
    text.lines()
        .take_while(|l| l.trim_start().starts_with('#') || l.trim().is_empty())
        .filter_map(|l| l.trim_start().trim_start_matches('#').split_once(':'))
        .find(|(k, _)| k.trim().eq_ignore_ascii_case(key))
        .map(|(_, v)| v.trim().to_owned())
        .filter(|v| !v.is_empty())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_rows_and_head() {
        let text = "# set: mine\n# edition: 1\na,b\n1, x\n# between\n2,\n";
        let mut t = Table::read(text, &["a", "b"], &[]);
        assert_eq!(head(text, "set").as_deref(), Some("mine"));
        assert_eq!(head(text, "nothing"), None);
        let rows =
            t.each(|row, errors| row.need("b", "write something", errors).map(|b| (row.line, b)));
        assert_eq!(rows, [(4, "x".to_owned())]);
        assert_eq!(t.errors.len(), 1);
        assert_eq!(t.errors[0].to_string(), "line 6, column b: empty; write something");
    }

    #[test]
    fn says_which_column_is_wrong() {
        let t = Table::read("a,sorce\n1,2\n", &["a", "source"], &[]);
        let said: Vec<String> = t.errors.iter().map(ToString::to_string).collect();
        assert_eq!(
            said,
            [
                "line 1: the header has no column 'source'",
                "line 1: unknown column 'sorce'; did you mean source?"
            ]
        );
    }

    #[test]
    fn a_short_row_is_named() {
        let t = Table::read("a,b\n1\n", &["a", "b"], &[]);
        assert_eq!(t.errors.len(), 1);
        assert_eq!(t.errors[0].to_string(), "line 2: 1 cells, but the header has 2");
    }
}
