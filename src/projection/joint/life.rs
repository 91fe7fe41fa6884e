//! What a joint went through in all, and since it was last looked at.

use crate::model::{Body, End, Scope, Vocabulary};
use crate::schema::{Bounds, ConflictRow, JointRunRow, RunPartRow, Running, SinceRow};

use super::super::totals::{BOX_OFFSET, PIN_OFFSET, Places, Share, add, open_all, places, stated};
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
    pub totals: Running,
    pub since: Vec<SinceRow>,
    pub conflicts: Vec<ConflictRow>,
    pub conflicted_runs: Vec<i64>,
}

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

fn all(fold: &Fold<'_>, lived: &[Lived<'_>]) -> Running {
    let mut totals = opening(fold);
    for l in lived {
        if l.counts {
            add(&mut totals, &l.whole, l.exact);
        } else {
            open_all(&mut totals);
        }
    }
    if fold.records.gaps.iter().any(|g| g.since.is_some()) {
        open_all(&mut totals);
    }
    for end in [End::Pin, End::Box] {
        let state = fold.ends.of(end);
        let sum = &mut totals.makeups[end as usize];
        if state.generation > 1 {
            // A new generation began in the book: what was before does not matter.
            let lost = fold.records.gaps.iter().any(|g| g.until > state.begun && g.since.is_some());
            *sum = if lost { Bounds::at_least(0) } else { Bounds::exact(0) };
        }
        sum.add(Some(makeups(fold, end, i64::MIN)));
    }
    totals
}

/// Make-ups of the present generation of an end, from an instant on.
fn makeups(fold: &Fold<'_>, end: End, from: i64) -> i64 {
    let generation = fold.ends.of(end).generation;
    let own = fold.records.makeups.iter().filter(|m| m.end == end && m.generation == generation);
    own.filter(|m| m.date >= from).map(|m| m.times).sum()
}

/// What the joint brought with it.
fn opening(fold: &Fold<'_>) -> Running {
    use crate::units::Measure as M;
    let mut totals = Running::default();
    if fold.body.new {
        return totals;
    }
    open_all(&mut totals);
    for placed in fold.input.entries {
        let Body::Opening(b) = &placed.entry.body else { continue };
        let figures = &mut totals.figures;
        figures.hours = stated(b.hours.as_ref(), M::Hours);
        figures.revolutions = stated(b.revolutions.as_ref(), M::Turns);
        figures.footage = stated(b.footage.as_ref(), M::Depth);
        [figures.damage_pin, figures.damage_middle, figures.damage_box] =
            [stated(b.damage.as_ref(), M::Damage); 3];
        totals.makeups = [&b.pin_makeups, &b.box_makeups].map(|m| stated(m.as_ref(), M::Count));
    }
    totals
}

fn since(
    fold: &Fold<'_>,
    scope: Scope,
    lived: &[Lived<'_>],
    totals: &Running,
    now: &Places,
) -> SinceRow {
    let row = |at, entry, sums: &Running| SinceRow {
        scope,
        joint: fold.input.joint,
        at,
        entry,
        totals: sums.totals(),
    };
    let bit = 1i64 << scope.rank();
    let anchor = fold.records.inspections.iter().rev().find(|i| i.covers & bit != 0);
    let Some(anchor) = anchor else {
        // Never so looked at: everything counts, from before the book too.
        return row(fold.entered.0, None, totals);
    };
    let mut sums = Running::default();
    let gap_after = |at: i64| fold.records.gaps.iter().any(|g| g.until > at && g.since.is_some());
    if gap_after(anchor.date) {
        open_all(&mut sums);
    }
    for l in lived.iter().filter(|l| l.run.finish > anchor.date) {
        if !l.counts {
            open_all(&mut sums);
            continue;
        }
        if l.run.start >= anchor.date {
            add(&mut sums, &l.whole, l.exact);
            continue;
        }
        match part(fold.input.parts, l.run.run, anchor.date) {
            Some(p) => add(&mut sums, &l.whole.after(p, now, &l.then), l.exact),
            None => open_all(&mut sums),
        }
    }
    for end in [End::Pin, End::Box] {
        sums.makeups[end as usize].add(Some(makeups(fold, end, anchor.date)));
    }
    row(anchor.date, Some(anchor.entry), &sums)
}

fn part(parts: &[RunPartRow], run: i64, cut: i64) -> Option<&RunPartRow> {
    parts.iter().find(|p| p.run == run && p.cut == cut)
}
