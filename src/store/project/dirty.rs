//! What must be derived again.

use std::collections::{BTreeMap, BTreeSet};

/// Marks of what must be derived again.
#[derive(Debug, Default)]
pub(super) struct Dirty {
    /// Joints to fold again.
    pub joints: BTreeSet<i64>,
    /// Kinds of entries, as bits of [`part`], that have a part in this, by joint.
    pub parts: BTreeMap<i64, u8>,
    /// Runs to look at: all their joints, or only some.
    pub runs: BTreeMap<i64, Which>,
    /// A joint of each run, where it is known: runs of the same joints write to the same pages.
    pub near: BTreeMap<i64, i64>,
    /// Which entries count may have changed.
    pub strikes: bool,
    /// A fact that everything rests on changed.
    pub everything: bool,
}

/// Which joints of a run to look at.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Which {
    /// Every joint of the tally.
    All,
    /// These.
    Only(BTreeSet<i64>),
}

/// Kinds of entries that have a part in what is said of a joint.
pub(in crate::store) mod part {
    /// Its serials.
    pub(in crate::store) const NAME: u8 = 1;
    /// Where it is and who has it.
    pub(in crate::store) const CUSTODY: u8 = 2;
    /// Inspections.
    pub(in crate::store) const INSPECTION: u8 = 4;
    /// Repairs.
    pub(in crate::store) const REPAIR: u8 = 8;
    /// Decisions.
    pub(in crate::store) const DECISION: u8 = 16;

    /// What is known of its life before and beside the runs.
    pub(in crate::store) const LIFE: u8 = 32;

    /// The part of a kind of entry.
    pub(in crate::store) fn of(kind: &str) -> u8 {
        match kind {
            "joint" | "identity" => NAME,
            "move" | "hire_out" | "hire_in" | "failure" => CUSTODY,
            "inspection" => INSPECTION,
            "repair" => REPAIR,
            "gap" | "opening" => LIFE,
            "decision" => CUSTODY | DECISION,
            _ => 0,
        }
    }
}

impl Dirty {
    /// Marks a whole run.
    pub(super) fn run(&mut self, run: i64) {
        self.runs.insert(run, Which::All);
    }

    /// Marks one joint of a run.
    pub(super) fn joint_in_run(&mut self, joint: i64, run: i64) {
        match self.runs.entry(run).or_insert_with(|| Which::Only(BTreeSet::new())) {
            Which::All => {}
            Which::Only(joints) => {
                joints.insert(joint);
            }
        }
    }
}
