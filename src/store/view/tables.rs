//! Tables of a view: which are seen otherwise than they stand in the file, and what they rest on.

use crate::schema::{Basis, Column, Group, JointRow};

/// A table of which a view drops the rows of entries that it does not see, and the column that
/// names the entry.
pub(super) const BY_ENTRY: [(&str, &str); 5] = [
    ("touch", "entry"),
    ("book_fact", "entry"),
    ("survey", "entry"),
    ("file_taken", "first_entry"),
    ("content", "entry"),
];

/// Tables that folds of joints write, without what runs tell.
pub(super) const WITHOUT_RUNS: [&str; 10] = [
    "serial",
    "gap",
    "dimension",
    "inspection",
    "finding",
    "repair",
    "event",
    "move",
    "hire",
    "decision",
];

/// Tables that folds of joints write, of what runs tell too.
pub(super) const WITH_RUNS: [&str; 6] =
    ["makeup", "failure", "conflict", "since", "run_part", "joint_run"];

/// What can change a column of `joint`; `None` for the name of none.
pub(super) fn basis_of(column: &str) -> Option<Basis> {
    let holds = |c: &&Column| c.stored().any(|(name, _)| name == column);
    JointRow::columns().iter().find(holds).map(|c| c.basis)
}

/// Columns of `joint` that a fold knows without the runs.
pub(super) fn joint_without_runs() -> impl Iterator<Item = &'static str> {
    let columns = JointRow::columns().iter().filter(|c| c.basis != Basis::Runs);
    columns.flat_map(Column::stored).map(|(name, _)| name)
}

/// Whether a view may see a table otherwise than it stands in the file.
pub(super) fn is_seen_otherwise(table: &str) -> bool {
    ["entry", "projection_state", "struck", "joint", "run"].contains(&table)
        || BY_ENTRY.iter().any(|(t, _)| *t == table)
        || WITHOUT_RUNS.contains(&table)
        || WITH_RUNS.contains(&table)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::migrate;

    #[test]
    fn every_table_of_the_projections_is_watched() {
        for table in migrate::projection_tables() {
            assert!(is_seen_otherwise(table), "{table}");
        }
    }
}
