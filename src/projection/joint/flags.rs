//! What the figures of a run lack, as bits of its row, and what follows from that.

use crate::schema::JointRunRow;

/// The run's start is known to the day only.
pub const START_IS_DAY: i64 = 1;
/// The run's end is known to the day only.
pub const FINISH_IS_DAY: i64 = 2;
/// The figures are estimates.
pub const ESTIMATED: i64 = 4;
/// The joint stands twice in the tally: two joints of it proved to be one.
pub const TWICE: i64 = 8;
/// The run cannot be what it says with what is known of its joints and its hole.
pub const MISFIT: i64 = 16;
/// Only sums are told of the run: nobody knows when in it they were.
pub const UNTIMED: i64 = 32;
/// An open cut or pit of it has no depth: what it did to the stress is not in the damage.
pub const NOTCH_UNMEASURED: i64 = 128;

const DAY_MS: i64 = 86_400_000;

/// Latest instant at which the run may have begun.
pub(super) const fn latest_start(run: &JointRunRow) -> i64 {
    if run.flags & START_IS_DAY == 0 { run.start } else { run.start + DAY_MS }
}

/// Earliest instant at which the run may have ended.
pub(super) const fn earliest_finish(run: &JointRunRow) -> i64 {
    if run.flags & FINISH_IS_DAY == 0 { run.finish } else { run.finish - DAY_MS }
}
