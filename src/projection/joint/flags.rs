//! What the figures of a run lack, as bits of its row, and what follows from that.

use crate::model::DAY_MS;
use crate::schema::{JointRunRow, RunRow};

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
/// The log lacks some of what the rig did: the figures are no more than what it tells.
pub const INCOMPLETE: i64 = 64;
/// Either way the figures are lower bounds.
pub const AT_LEAST: i64 = ESTIMATED | INCOMPLETE;
/// An open cut or pit of it has no depth: what it did to the stress is not in the damage.
pub const NOTCH_UNMEASURED: i64 = 128;

/// Latest instant at which the run may have begun, as far as its day tells.
const fn latest_start(run: &JointRunRow) -> i64 {
    if run.flags & START_IS_DAY == 0 { run.start } else { run.start + DAY_MS }
}

/// Earliest instant at which the run may have ended.
const fn earliest_finish(run: &JointRunRow) -> i64 {
    if run.flags & FINISH_IS_DAY == 0 { run.finish } else { run.finish - DAY_MS }
}

/// When a run was certainly under way. Where only the day of its beginning or end is known, the rows of
/// its log tell the time; without a log, the latest instant at which it may have begun and the earliest
/// at which it may have ended.
pub(super) fn under_way(run: &JointRunRow, row: Option<&RunRow>) -> (i64, i64) {
    let from = row.and_then(|r| r.rows_from).filter(|_| run.flags & START_IS_DAY != 0);
    let to = row.and_then(|r| r.rows_to).filter(|_| run.flags & FINISH_IS_DAY != 0);
    (from.unwrap_or(latest_start(run)), to.unwrap_or(earliest_finish(run)))
}
