//! Tables of a view: which are seen otherwise than they stand in the file, and what they rest on.

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

/// Columns of `joint` that hold what it entered with.
pub(super) const FIXED: [&str; 24] = [
    "joint",
    "name",
    "component",
    "grade",
    "od",
    "wall_nominal",
    "weight",
    "connection",
    "box_connection",
    "tj_od_nominal",
    "tj_id_nominal",
    "heat",
    "pin_heat",
    "box_heat",
    "weld_lot",
    "maker",
    "mill_order",
    "certificate",
    "made",
    "owner",
    "range",
    "coating",
    "entered",
    "entered_new",
];

/// Columns of `joint` that moves, hires, decisions and failures change.
pub(super) const CUSTODY: [&str; 6] = ["location", "string", "status", "hire", "on_hire", "moved"];

/// Columns of `joint` that a fold knows without the runs, beside those two.
const CONDITION: [&str; 41] = [
    "serial",
    "length",
    "hardband_alloy",
    "class",
    "tube_class",
    "pin_class",
    "box_class",
    "class_entry",
    "criterion",
    "declared_class",
    "class_disputed",
    "disposition",
    "restriction",
    "out",
    "out_reason",
    "not_measured",
    "wall",
    "wall_thickness",
    "wall_read",
    "body_od",
    "slip_od",
    "pin_od",
    "pin_id",
    "pin_shoulder",
    "pin_stretch",
    "pin_tong",
    "box_od",
    "box_shoulder",
    "box_counterbore",
    "box_tong",
    "hardband",
    "hardband_height",
    "paint",
    "inspected",
    "open_findings",
    "pin_generation",
    "box_generation",
    "runs_complete",
    "unknown_until",
    "failed",
    "failure",
];

/// Columns of `joint` that a fold knows without the runs.
pub(super) fn joint_without_runs() -> impl Iterator<Item = &'static str> {
    FIXED.into_iter().chain(CUSTODY).chain(CONDITION)
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
    use crate::projection::row::Row;
    use crate::projection::rows::JointRow;
    use crate::store::migrate;

    #[test]
    fn every_table_of_the_projections_is_watched() {
        for table in migrate::projection_tables() {
            assert!(is_seen_otherwise(table), "{table}");
        }
    }

    #[test]
    fn the_columns_are_those_of_the_table() {
        for column in joint_without_runs() {
            assert!(JointRow::COLUMNS.contains(&column), "{column}");
        }
    }
}
