//! What a joint went through in all, and since it was last looked at.

use crate::model::{Body, Scope, Vocabulary};

use super::super::rows::{ConflictRow, JointRunRow, RunPartRow, SinceRow};
use super::super::totals::{Places, Share, Sum, Totals, places};
use super::{Fold, dims_at};

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

const DAY_MS: i64 = 86_400_000;

/// Latest instant at which the run may have begun.
pub(super) const fn latest_start(run: &JointRunRow) -> i64 {
    if run.flags & START_IS_DAY == 0 { run.start } else { run.start + DAY_MS }
}

/// Earliest instant at which the run may have ended.
pub(super) const fn earliest_finish(run: &JointRunRow) -> i64 {
    if run.flags & FINISH_IS_DAY == 0 { run.finish } else { run.finish - DAY_MS }
}

/// Result of living.
pub(super) struct Life {
    pub totals: Totals,
    pub since: Vec<SinceRow>,
    pub conflicts: Vec<ConflictRow>,
    pub conflicted_runs: Vec<i64>,
}

/// Default distances of the outer places from the shoulders, nm: where the slip area and the upset
/// run-outs are.
pub const PIN_OFFSET: i64 = 600_000_000;
/// See [`PIN_OFFSET`].
pub const BOX_OFFSET: i64 = 900_000_000;

struct Lived<'a> {
    run: &'a JointRunRow,
    whole: Share,
    then: Places,
    counts: bool,
    exact: bool,
}

pub(super) fn live(fold: &Fold<'_>) -> Life {
    let (conflicts, conflicted_runs) = overlaps(fold);
    let dims = fold.input.dims.last();
    let now = places(
        dims.and_then(|d| d.length).unwrap_or(0),
        dims.map_or(0, |d| d.pin_removed),
        PIN_OFFSET,
        BOX_OFFSET,
    );
    let lived: Vec<Lived<'_>> = fold
        .input
        .runs
        .iter()
        .map(|run| {
            let removed = dims_at(fold.input.dims, run.start).map_or(0, |d| d.pin_removed);
            let then = places(run.length, removed, PIN_OFFSET, BOX_OFFSET);
            Lived {
                run,
                whole: Share::of_run(run, &now, &then),
                then,
                counts: !conflicted_runs.contains(&run.run),
                exact: run.flags & ESTIMATED == 0,
            }
        })
        .collect();
    let totals = all(fold, &lived);
    let since = Scope::ALL.iter().map(|s| since(fold, *s, &lived, &totals, &now)).collect();
    Life { totals, since, conflicts, conflicted_runs }
}

/// Runs of one joint that were under way at one time.
fn overlaps(fold: &Fold<'_>) -> (Vec<ConflictRow>, Vec<i64>) {
    let mut runs: Vec<&JointRunRow> = fold.input.runs.iter().collect();
    // By what they say and by name, never by arrival.
    let name = |r: &JointRunRow| fold.input.run_names.get(&r.run);
    runs.sort_by(|a, b| {
        (a.start, a.finish, name(a), a.run).cmp(&(b.start, b.finish, name(b), b.run))
    });
    let mut conflicts = Vec::new();
    let mut conflicted = Vec::new();
    for (i, a) in runs.iter().enumerate() {
        let alone = [
            (TWICE, "twice in the tally of one run"),
            (MISFIT, "in a run that does not fit what is known of its string and hole"),
        ];
        for (_, what) in alone.into_iter().filter(|(flag, _)| a.flags & flag != 0) {
            conflicts.push(ConflictRow {
                joint: fold.input.joint,
                first_entry: a.run,
                second_entry: a.run,
                what: what.to_owned(),
            });
            conflicted.push(a.run);
        }
        for b in runs.iter().skip(i + 1) {
            if b.start >= a.finish {
                break;
            }
            let together =
                latest_start(a) < earliest_finish(b) && latest_start(b) < earliest_finish(a);
            if together {
                conflicts.push(ConflictRow {
                    joint: fold.input.joint,
                    first_entry: a.run,
                    second_entry: b.run,
                    what: "in two runs at once".to_owned(),
                });
                conflicted.extend([a.run, b.run]);
            }
        }
    }
    conflicted.sort_unstable();
    conflicted.dedup();
    (conflicts, conflicted)
}

fn all(fold: &Fold<'_>, lived: &[Lived<'_>]) -> Totals {
    let mut totals = opening(fold);
    for l in lived {
        if l.counts {
            totals.add(&l.whole, l.exact);
        } else {
            totals.open_all();
        }
    }
    if fold.records.gaps.iter().any(|g| g.since.is_some()) {
        totals.open_all();
    }
    for (end, sum) in [
        (crate::model::End::Pin, &mut totals.pin_makeups),
        (crate::model::End::Box, &mut totals.box_makeups),
    ] {
        let generation = fold.ends.of(end).generation;
        if generation > 1 {
            // A new generation began in the book: what was before does not matter.
            let begun = fold.ends.of(end).begun;
            *sum = Sum {
                lo: 0,
                open: fold.records.gaps.iter().any(|g| g.until > begun && g.since.is_some()),
            };
        }
        sum.lo += fold
            .records
            .makeups
            .iter()
            .filter(|m| m.end == end && m.generation == generation)
            .map(|m| m.times)
            .sum::<i64>();
    }
    totals
}

/// What the joint brought with it.
fn opening(fold: &Fold<'_>) -> Totals {
    use crate::units::Measure as M;
    let mut totals = Totals::default();
    if fold.body.new {
        return totals;
    }
    totals.open_all();
    for placed in fold.input.entries {
        let Body::Opening(b) = &placed.entry.body else { continue };
        totals.hours = Sum::stated(b.hours.as_ref(), M::Hours);
        totals.revolutions = Sum::stated(b.revolutions.as_ref(), M::Turns);
        totals.footage = Sum::stated(b.footage.as_ref(), M::Depth);
        totals.damage = [Sum::stated(b.damage.as_ref(), M::Damage); 3];
        totals.pin_makeups = Sum::stated(b.pin_makeups.as_ref(), M::Count);
        totals.box_makeups = Sum::stated(b.box_makeups.as_ref(), M::Count);
    }
    totals
}

fn since(
    fold: &Fold<'_>,
    scope: Scope,
    lived: &[Lived<'_>],
    totals: &Totals,
    now: &Places,
) -> SinceRow {
    let bit = 1i64 << scope.rank();
    let anchor = fold.records.inspections.iter().rev().find(|i| i.covers & bit != 0);
    let Some(anchor) = anchor else {
        // Never so looked at: everything counts, from before the book too.
        return row(fold, scope, fold.entered.0, None, totals);
    };
    let mut sums = Totals::default();
    let gap_after = |at: i64| fold.records.gaps.iter().any(|g| g.until > at && g.since.is_some());
    if gap_after(anchor.at) {
        sums.open_all();
    }
    for l in lived.iter().filter(|l| l.run.finish > anchor.at) {
        if !l.counts {
            sums.open_all();
            continue;
        }
        if l.run.start >= anchor.at {
            sums.add(&l.whole, l.exact);
            continue;
        }
        match part(fold.input.parts, l.run.run, anchor.at) {
            Some(p) => {
                let before = Share::of_part(p, now, &l.then);
                let share = l.whole.after(&before, p.after_dogleg, p.after_tension);
                sums.add(&share, l.exact);
            }
            None => sums.open_all(),
        }
    }
    for (end, sum) in [
        (crate::model::End::Pin, &mut sums.pin_makeups),
        (crate::model::End::Box, &mut sums.box_makeups),
    ] {
        let generation = fold.ends.of(end).generation;
        sum.lo += fold
            .records
            .makeups
            .iter()
            .filter(|m| m.end == end && m.generation == generation && m.at >= anchor.at)
            .map(|m| m.times)
            .sum::<i64>();
    }
    row(fold, scope, anchor.at, Some(anchor.entry), &sums)
}

fn part(parts: &[RunPartRow], run: i64, cut: i64) -> Option<&RunPartRow> {
    parts.iter().find(|p| p.run == run && p.cut == cut)
}

fn row(fold: &Fold<'_>, scope: Scope, at: i64, entry: Option<i64>, t: &Totals) -> SinceRow {
    let damage = t.worst_damage();
    SinceRow {
        scope,
        joint: fold.input.joint,
        at,
        entry,
        hours_lo: t.hours.lo,
        hours_hi: t.hours.hi(),
        revolutions_lo: t.revolutions.lo,
        revolutions_hi: t.revolutions.hi(),
        footage_lo: t.footage.lo,
        footage_hi: t.footage.hi(),
        damage_lo: damage.lo,
        damage_hi: damage.hi(),
        pin_makeups_lo: t.pin_makeups.lo,
        pin_makeups_hi: t.pin_makeups.hi(),
        box_makeups_lo: t.box_makeups.lo,
        box_makeups_hi: t.box_makeups.hi(),
        max_dogleg_lo: t.max_dogleg.lo,
        max_dogleg_hi: t.max_dogleg.hi(),
        max_tension_lo: t.max_tension.lo,
        max_tension_hi: t.max_tension.hi(),
        cased_hours_lo: t.cased_hours.lo,
        cased_hours_hi: t.cased_hours.hi(),
        open_turns_lo: t.open_turns.lo,
        open_turns_hi: t.open_turns.hi(),
        side_work_lo: t.side_work.lo,
        side_work_hi: t.side_work.hi(),
        over_limit_lo: t.over_limit.lo,
        over_limit_hi: t.over_limit.hi(),
        histogram: t.histogram.encode(),
    }
}
