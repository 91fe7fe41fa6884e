//! What must be derived again.

use std::collections::{BTreeMap, BTreeSet};

/// Marks of what must be derived again.
#[derive(Debug, Default)]
pub(super) struct Dirty {
    /// Joints to fold again.
    pub joints: BTreeSet<i64>,
    /// Runs to look at: all their joints, or only some.
    pub runs: BTreeMap<i64, Which>,
    /// A joint of each run, where it is known: runs of the same joints write to the same pages.
    pub near: BTreeMap<i64, i64>,
    /// Which entries count may have changed.
    pub strikes: bool,
    /// The clock by which days are days may have changed.
    pub clock: bool,
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
