//! Columns in which there is always a value: what a filter asks of them alone, every row decides.

use super::{Col, Table};

/// Whether the layout of the projections allows no empty value there.
pub(super) fn filled(col: Col) -> bool {
    columns(col.table).contains(&col.name)
}

/// Those of a table that fields read.
const fn columns(table: Table) -> &'static [&'static str] {
    match table {
        Table::Joint => &[
            "name",
            "serial",
            "component",
            "entered",
            "entered_new",
            "status",
            "on_hire",
            "class_disputed",
            "out",
            "open_findings",
            "pin_generation",
            "box_generation",
            "runs_complete",
            "conflicted",
        ],
        Table::Run => &[
            "name",
            "well",
            "grade",
            "sour",
            "protectors",
            "equipment_doubtful",
            "joints",
            "unidentified",
        ],
        Table::JointRun => {
            &["start", "finish", "place", "from_bit", "length", "conflict", "broken"]
        }
        Table::Inspection => &["at", "entry", "covers", "methods", "doubtful", "findings"],
        Table::Finding => &["at", "entry", "what", "open"],
        Table::Repair => &["at", "entry", "work"],
        Table::Makeup => &["at", "entry", "end", "generation", "times", "verdict", "doubtful"],
        Table::Event | Table::Failure => &["at", "entry", "what"],
        Table::Move => &["at", "entry"],
        Table::Hire => &["at", "entry", "name", "party"],
        Table::Decision => &["at", "entry", "ruling", "reason"],
        Table::Since | Table::RunPart | Table::WindowPart | Table::Gap => &[],
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Stored, fields};
    use super::*;

    #[test]
    fn it_is_what_the_layout_says() {
        let sql = include_str!("../../../migrations/projection.sql");
        let mut wrong = Vec::new();
        for field in fields() {
            let Stored::Column(col) = field.stored else { continue };
            let start = sql.find(&format!("CREATE TABLE {} (", col.table.name())).unwrap();
            let body = &sql[start..start + sql[start..].find("STRICT").unwrap()];
            let line = body.lines().find(|l| l.split_whitespace().next() == Some(col.name));
            let required = line.unwrap().split("--").next().unwrap().contains("NOT NULL");
            if required != filled(col) {
                wrong.push(format!("{}.{}: required {required}", col.table.name(), col.name));
            }
        }
        assert!(wrong.is_empty(), "{wrong:#?}");
    }
}
