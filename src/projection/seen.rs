//! What the records of a joint hold at all: one bit for each thing that questions ask for often. A
//! look at the joint's own row then spares a look at its records.
//!
//! A bit is set where a row of the table has the value, whether or not the record counts for
//! certain; a bit that is not set is a proof that no row has it.

use std::collections::BTreeMap;

use crate::model::{EventKind, Vocabulary, Work};

use super::joint::JointRecords;
use super::rows::{JointRunRow, RunRow};

/// Tables whose rows are looked for, in the order of their bits.
const TABLES: [&str; 10] = [
    "joint_run",
    "makeup",
    "inspection",
    "finding",
    "repair",
    "event",
    "failure",
    "move",
    "hire",
    "decision",
];

/// Columns that hold yes or no, in the order of their bits.
const FLAGS: [(&str, &str); 7] = [
    ("run", "sour"),
    ("run", "equipment_doubtful"),
    ("joint_run", "conflict"),
    ("joint_run", "broken"),
    ("makeup", "doubtful"),
    ("inspection", "doubtful"),
    ("finding", "open"),
];

/// Verdicts on a make-up's torque, in the order of their bits.
const VERDICTS: [&str; 4] = ["under", "over", "on_target", "unknown"];

/// Rulings of a decision, in the order of their bits.
const RULINGS: [&str; 6] = ["class", "quarantine", "release", "retire", "settle", "waive"];

const FIRST_FLAG: usize = TABLES.len();
const FIRST_VERDICT: usize = FIRST_FLAG + FLAGS.len();
const FIRST_RULING: usize = FIRST_VERDICT + VERDICTS.len();
const FIRST_EVENT: usize = FIRST_RULING + RULINGS.len();
const FIRST_WORK: usize = FIRST_EVENT + EventKind::ALL.len();
const BITS: usize = FIRST_WORK + Work::ALL.len();
const _: () = assert!(BITS <= 63, "the marks of a joint are one positive number");

/// The mark of a joint that has a row in a table.
pub fn rows_of(table: &str) -> Option<i64> {
    TABLES.iter().position(|t| *t == table).map(bit)
}

/// The mark of a joint that has a row with this flag set.
pub fn flag(table: &str, column: &str) -> Option<i64> {
    FLAGS.iter().position(|f| *f == (table, column)).map(|n| bit(FIRST_FLAG + n))
}

/// The mark of a joint that has a row with this word; `None` for words that nobody keeps marks of.
pub fn word(table: &str, column: &str, word: &str) -> Option<i64> {
    let at = |list: &[&str]| list.iter().position(|w| *w == word);
    match (table, column) {
        ("makeup", "verdict") => at(&VERDICTS).map(|n| bit(FIRST_VERDICT + n)),
        ("decision", "ruling") => at(&RULINGS).map(|n| bit(FIRST_RULING + n)),
        ("event", "what") => place(EventKind::ALL, word).map(|n| bit(FIRST_EVENT + n)),
        ("repair", "work") => place(Work::ALL, word).map(|n| bit(FIRST_WORK + n)),
        _ => None,
    }
}

fn place<V: Vocabulary>(all: &[V], word: &str) -> Option<usize> {
    all.iter().position(|v| v.word() == word)
}

const fn bit(n: usize) -> i64 {
    1 << n
}

/// The marks of a joint: of its records, its runs, and those of its runs that conflict or that broke
/// a restriction.
pub(super) fn marks(
    records: &JointRecords,
    runs: &[JointRunRow],
    run_rows: &BTreeMap<i64, RunRow>,
    (conflicting, broken): (&[i64], &[i64]),
) -> i64 {
    let mut seen = 0;
    let mut note = |set: bool, mark: Option<i64>| {
        if set {
            seen |= mark.unwrap_or(0);
        }
    };
    let lengths = [
        runs.len(),
        records.makeups.len(),
        records.inspections.len(),
        records.findings.len(),
        records.repairs.len(),
        records.events.len(),
        records.failures.len(),
        records.moves.len(),
        records.hires.len(),
        records.decisions.len(),
    ];
    for (n, length) in lengths.into_iter().enumerate() {
        note(length > 0, Some(bit(n)));
    }
    for run in runs {
        let itself = run_rows.get(&run.run);
        note(itself.is_some_and(|r| r.sour), flag("run", "sour"));
        note(itself.is_some_and(|r| r.equipment_doubtful), flag("run", "equipment_doubtful"));
    }
    note(!conflicting.is_empty(), flag("joint_run", "conflict"));
    note(!broken.is_empty(), flag("joint_run", "broken"));
    for makeup in &records.makeups {
        note(makeup.doubtful, flag("makeup", "doubtful"));
        note(true, word("makeup", "verdict", &makeup.verdict));
    }
    for inspection in &records.inspections {
        note(inspection.doubtful, flag("inspection", "doubtful"));
    }
    for finding in &records.findings {
        note(finding.open, flag("finding", "open"));
    }
    for decision in &records.decisions {
        note(true, word("decision", "ruling", &decision.ruling));
    }
    for event in &records.events {
        note(true, word("event", "what", event.what.word()));
    }
    for repair in &records.repairs {
        note(true, word("repair", "work", repair.work.word()));
    }
    seen
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn no_two_things_share_a_mark() {
        let mut all: Vec<Option<i64>> = TABLES.iter().map(|t| rows_of(t)).collect();
        all.extend(FLAGS.iter().map(|(t, c)| flag(t, c)));
        all.extend(VERDICTS.iter().map(|w| word("makeup", "verdict", w)));
        all.extend(RULINGS.iter().map(|w| word("decision", "ruling", w)));
        all.extend(EventKind::ALL.iter().map(|w| word("event", "what", w.word())));
        all.extend(Work::ALL.iter().map(|w| word("repair", "work", w.word())));
        let marks: BTreeSet<i64> = all.iter().copied().flatten().collect();
        assert_eq!(marks.len(), all.len());
        assert!(marks.iter().all(|m| *m > 0 && m.count_ones() == 1));
        assert_eq!(word("event", "what", "parade"), None);
        assert_eq!(flag("event", "what"), None);
    }
}
