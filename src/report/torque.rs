//! How often joints were twisted in their runs, for the pages that show exposures.

use std::collections::BTreeMap;

use crate::projection::exposure::TorqueCycles;
use crate::schema::{Bounds, JointRunRow};
use crate::store::Book;
use crate::units::Measure;

use super::{Cell, Column, Fact, ReportError};

/// What is said beside torque cycles.
pub(super) const SAID: &str = "a torque cycle is a start of turning: the log tells at least so many, for stretches close together \
     are one; how torque swings while the pipe turns is not in it; the torque is that at the surface, \
     the largest mean of a stretch, and no fatigue is worked out from it";

/// Torque cycles of the joints of a run.
pub(super) fn of_run(
    book: &Book,
    run: i64,
    rows: &[JointRunRow],
) -> Result<BTreeMap<i64, TorqueCycles>, ReportError> {
    let model = book.appraiser()?.run_model(run)?;
    let of = |r: &JointRunRow| Some((r.joint, model.torque_cycles(r.joint, r.finish)?));
    Ok(rows.iter().filter_map(of).collect())
}

/// Torque cycles of a joint in each of its runs that counts.
pub(super) fn of_joint<'a>(
    book: &Book,
    rows: impl Iterator<Item = &'a JointRunRow>,
) -> Result<BTreeMap<i64, TorqueCycles>, ReportError> {
    let mut appraiser = book.appraiser()?;
    let mut found = BTreeMap::new();
    for r in rows.filter(|r| !r.conflicting) {
        let cycles = appraiser.run_model(r.run)?.torque_cycles(r.joint, r.finish);
        found.extend(cycles.map(|cycles| (r.run, cycles)));
    }
    Ok(found)
}

/// Columns of torque cycles and of the torque.
pub(super) fn columns(rank: u8) -> [Column; 2] {
    [
        Column::of("torque_cycles", "torque cycles", Measure::Count).dispensable(rank),
        Column::of("largest_torque", "largest torque", Measure::Torque).dispensable(rank),
    ]
}

/// Cells of [`columns`].
pub(super) fn cells(cycles: Option<&TorqueCycles>) -> [Cell; 2] {
    let Some(cycles) = cycles else { return [Cell::Missing, Cell::Missing] };
    let largest = cycles.largest.and_then(|t| Measure::Torque.store_f64(t));
    [Cell::from(Bounds::at_least(cycles.at_least)), Cell::number(largest)]
}

/// Those of all runs of a joint: runs without a log count for nothing, so the sum is a least in any case.
pub(super) fn facts<'a>(runs: impl Iterator<Item = &'a TorqueCycles>) -> Vec<Fact> {
    let together = runs.copied().reduce(|a, b| TorqueCycles {
        at_least: a.at_least + b.at_least,
        largest: a.largest.into_iter().chain(b.largest).reduce(f64::max),
    });
    let [count, largest] = cells(together.as_ref());
    vec![
        Fact::of("torque_cycles", "torque cycles", count, Measure::Count),
        Fact::of("largest_torque", "largest torque", largest, Measure::Torque),
    ]
}
