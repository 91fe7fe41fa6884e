//! What a joint went through in all, and since it was last looked at.
//!
//! Sums over runs are taken in two ways that give the same. From a state on (`joint_state`): what had
//! been summed up by then, and the runs that ended after it; the fold ends so, and a view of the past
//! begins so. From the beginning: where runs of the joint are in conflict with each other, for which
//! of them count is known only when all are seen. Between two states a joint keeps its places, so
//! that the damage of a state stands at the places of every run after it.

use std::collections::BTreeMap;

use crate::condition::{Restriction, RunFacts};
use crate::model::{Body, End, HistogramError, Scope, Vocabulary, Work};
use crate::schema::{
    Bounds, ConflictRow, DimensionRow, GapRow, JointRunRow, JointStateRow, MakeupRow, OpeningRow,
    RunPartRow, Running, SinceRow, presence,
};

use super::super::totals::{Share, Shift, Stand, add, add_placed, open_all, perhaps_add, stated};
use super::flags::{AT_LEAST, MISFIT, TWICE, under_way};
use super::fold::{Fold, dims_at};
use super::told::told_between;

/// Whether a run broke any of the restrictions that a joint carried when it began, which a state holds
/// as words; `None` where the book does not say.
pub fn breaks(
    restrictions: &str,
    cased_hours: Option<i64>,
    protectors: Option<bool>,
) -> Option<bool> {
    let run = RunFacts { cased_hours, protectors };
    let all = restrictions.split(", ").filter_map(|word| Restriction::from_word(word).ok());
    Restriction::broken(&all.collect::<Vec<_>>(), run)
}

/// What a joint went through up to an instant.
#[derive(Clone, Debug)]
pub struct Life {
    /// The sums.
    pub totals: Running,
    /// Runs.
    pub runs: i64,
    /// End of the last of them.
    pub last_run: Option<i64>,
    /// Summary bits that they set (`schema::presence`).
    pub presence: i64,
}

/// What is known of a joint after some instant, to go on from there: what stood before it may be
/// among it and is left out of the sums.
#[derive(Clone, Copy, Debug)]
pub struct Later<'a> {
    /// Runs, by end.
    pub runs: &'a [JointRunRow],
    /// Summary bits that those runs set, by run.
    pub run_presence: &'a BTreeMap<i64, i64>,
    /// Parts of them before the instants of entries.
    pub parts: &'a [RunPartRow],
    /// Make-ups.
    pub makeups: &'a [MakeupRow],
    /// All stretches of which nothing is known.
    pub gaps: &'a [GapRow],
    /// All dimensions of the joint up to then: a run may have begun before the instant.
    pub dims: &'a [DimensionRow],
}

impl Life {
    /// What had been summed up when a state began.
    pub fn of_state(state: &JointStateRow) -> Result<Self, HistogramError> {
        Ok(Self {
            totals: Running::decode(&state.totals)?,
            runs: state.runs,
            last_run: state.last_run,
            presence: state.run_presence,
        })
    }

    /// The same, and what came later while the state held.
    #[must_use]
    pub fn go_on(mut self, state: &JointStateRow, later: &Later<'_>) -> Self {
        let now = stand_of(state);
        for run in later.runs.iter().filter(|r| r.finish > state.at) {
            let run_share = RunShare::new(run, later.dims, now);
            let known = later.run_presence.get(&run.run).copied().unwrap_or_default();
            self.add(&run_share, known | presence::of_run(None, run.restriction_broken));
        }
        let generations = (state.pin_generation, state.box_generation);
        let after = later.makeups.iter().filter(|m| m.date > state.at);
        add_makeups(&mut self.totals, after, generations, &[]);
        self
    }

    /// Adds a run and the summary bits that it sets.
    fn add(&mut self, run_share: &RunShare<'_>, presence: i64) {
        add(&mut self.totals, &run_share.share, run_share.exact());
        self.runs += 1;
        self.last_run = self.last_run.max(Some(run_share.run.finish));
        self.presence |= presence;
    }
}

/// Adds make-ups of the ends in their generations, of the pin and of the box; those that runs in
/// conflict count may not count.
fn add_makeups<'a>(
    sums: &mut Running,
    makeups: impl Iterator<Item = &'a MakeupRow>,
    (pin, box_): (i64, i64),
    conflicted: &[i64],
) {
    for m in makeups {
        let generation = match m.end {
            End::Pin => pin,
            End::Box => box_,
        };
        if m.generation == generation {
            let sum = &mut sums.makeups[m.end as usize];
            if m.pattern_run.is_some_and(|run| conflicted.contains(&run)) {
                sum.perhaps_add(Some(m.times));
            } else {
                sum.add(Some(m.times));
            }
        }
    }
}

/// What a joint in a state went through since its last inspection, where none of its runs is in
/// conflict with another; `None` where it was never so inspected. `whole` is what it went through in
/// all.
pub fn since_inspection(
    at: Option<i64>,
    state: &JointStateRow,
    later: &Later<'_>,
    whole: &Running,
) -> Running {
    let now = stand_of(state);
    let run_shares: Vec<RunShare<'_>> =
        later.runs.iter().map(|run| RunShare::new(run, later.dims, now)).collect();
    let ground = Ground {
        run_shares: &run_shares,
        conflicted: &[],
        parts: later.parts,
        makeups: later.makeups,
        gaps: later.gaps,
        generations: (state.pin_generation, state.box_generation),
    };
    ground.since_last(at, whole)
}

const fn stand_of(state: &JointStateRow) -> Stand {
    Stand { length: state.length, removed: state.pin_removed }
}

/// A run of the joint, and what it adds.
struct RunShare<'a> {
    run: &'a JointRunRow,
    /// With its damage at the places of now.
    share: Share,
    /// How the joint was measured in the run.
    then: Stand,
    /// How its places of then lie to those of now.
    shift: Shift,
}

impl<'a> RunShare<'a> {
    fn new(run: &'a JointRunRow, dims: &[DimensionRow], now: Stand) -> Self {
        let then = Stand::of(dims_at(dims, run.start));
        let shift = Shift::between(then, run.length, now);
        Self { run, share: Share::of_run(run, shift), then, shift }
    }

    /// Puts its damage where the places are now.
    fn stand_at(&mut self, now: Stand) {
        self.shift = Shift::between(self.then, self.run.length, now);
        self.share.put(&self.run.figures, self.shift);
    }

    const fn exact(&self) -> bool {
        self.run.flags & AT_LEAST == 0
    }
}

/// A walk along the runs of a joint, beside the fold of its entries.
pub(super) struct Walk<'a> {
    /// All its runs, by end.
    run_shares: Vec<RunShare<'a>>,
    /// What it brought with it.
    opening: Running,
    /// What it brought and what the runs that ended so far added.
    ended: Life,
    /// How many these are.
    done: usize,
    /// How the joint is measured.
    now: Stand,
}

/// What the walk found.
pub(super) struct Lifetime {
    pub life: Life,
    pub since: Vec<SinceRow>,
    pub conflicts: Vec<ConflictRow>,
    pub conflicted_runs: Vec<i64>,
    /// Runs that broke a restriction, or of which nobody knows.
    pub broken_runs: BTreeMap<i64, Option<bool>>,
    /// What the joint brought with it, where somebody stated it.
    pub opening: Option<OpeningRow>,
}

impl<'a> Walk<'a> {
    pub(super) fn begin(fold: &Fold<'a>) -> Self {
        let dims = fold.input.dims;
        let now = Stand::of(dims.first());
        let opening = opening(fold);
        Self {
            run_shares: fold.input.runs.iter().map(|run| RunShare::new(run, dims, now)).collect(),
            ended: Life { totals: opening.clone(), runs: 0, last_run: None, presence: 0 },
            opening,
            done: 0,
            now,
        }
    }

    /// Goes on to an instant; what the joint had gone through by then, as if none of its runs were
    /// in conflict with another.
    pub(super) fn up_to(&mut self, fold: &Fold<'_>, at: i64) -> Life {
        self.stand_at(Stand::of(dims_at(fold.input.dims, at)));
        let ended = self.run_shares.iter().skip(self.done).take_while(|l| l.run.finish <= at);
        for run_share in ended {
            let row = fold.input.run_rows.get(&run_share.run.run);
            self.ended.add(run_share, presence::of_run(row, fold.breaks(run_share.run)));
            self.done += 1;
        }
        let mut life = self.ended.clone();
        brought(fold, &mut life.totals, &[]);
        life
    }

    /// Puts what adds up at the places of all runs where the places are now.
    fn stand_at(&mut self, now: Stand) {
        if self.now == now {
            return;
        }
        self.now = now;
        self.run_shares.iter_mut().for_each(|l| l.stand_at(now));
        let (ended, opening) = (&mut self.ended.totals.figures, &self.opening.figures);
        for (sum, brought) in ended.placed_mut().into_iter().zip(opening.placed()) {
            *sum = brought;
        }
        self.run_shares.iter().take(self.done).for_each(|l| add_placed(ended, &l.share, l.exact()));
    }

    /// The whole life.
    pub(super) fn end(mut self, fold: &Fold<'_>) -> Lifetime {
        let input = fold.input;
        let (conflicts, conflicted_runs) = clashing_runs(fold);
        let mut life = self.up_to(fold, i64::MAX);
        if !conflicted_runs.is_empty() {
            life.presence |= presence::of_conflict();
            life.totals = self.opening.clone();
            for run_share in &self.run_shares {
                let perhaps = conflicted_runs.contains(&run_share.run.run);
                let put = if perhaps { perhaps_add } else { add };
                put(&mut life.totals, &run_share.share, run_share.exact());
            }
            brought(fold, &mut life.totals, &conflicted_runs);
        }
        let ground = Ground {
            run_shares: &self.run_shares,
            conflicted: &conflicted_runs,
            parts: input.parts,
            makeups: &fold.records.makeups,
            gaps: &fold.records.gaps,
            generations: (fold.ends.pin.generation, fold.ends.box_.generation),
        };
        // Most inspections cover several scopes.
        let mut known: BTreeMap<Option<i64>, Running> = BTreeMap::new();
        let of_scope = |scope: &Scope| {
            let bit = 1i64 << scope.rank();
            let anchor = fold.records.inspections.iter().rev().find(|i| i.covers & bit != 0);
            let at = anchor.map(|i| i.date);
            let entry = anchor.map(|i| i.entry);
            let totals = known.entry(entry).or_insert_with(|| ground.since_last(at, &life.totals));
            let at = at.unwrap_or(fold.entered.0);
            SinceRow { scope: *scope, joint: input.joint, at, entry, totals: totals.totals() }
        };
        let since = Scope::ALL.iter().map(of_scope).collect();
        let broken = input.runs.iter().map(|r| (r.run, fold.breaks(r)));
        let broken_runs = broken.filter(|(_, broken)| *broken != Some(false)).collect();
        let stated = input.entries.iter().any(|p| matches!(p.entry.body, Body::Opening(_)));
        let opening = (stated && !fold.body.new)
            .then(|| OpeningRow { joint: input.joint, totals: self.opening.totals() });
        Lifetime { life, since, conflicts, conflicted_runs, broken_runs, opening }
    }
}

/// Adds what entries say of the whole life so far: stretches of which nothing is known, and make-ups
/// of the ends as they are.
fn brought(fold: &Fold<'_>, sums: &mut Running, conflicted: &[i64]) {
    if fold.records.repairs.iter().any(|r| r.removed.is_some() || cuts(r.work)) {
        // The place that it stood at may be gone.
        sums.brought = 0;
    }
    let gaps = &fold.records.gaps;
    if gaps.iter().any(|g| g.since.is_some()) {
        open_all(sums);
    }
    for gap in gaps {
        add_hours(sums, gap, i64::MIN);
    }
    for end in [End::Pin, End::Box] {
        let state = fold.ends.of(end);
        if state.generation > 1 {
            // A new generation began in the book: what was before does not matter.
            let open = gaps.iter().any(|g| g.until > state.begun && g.since.is_some());
            sums.makeups[end as usize] = if open { Bounds::at_least(0) } else { Bounds::exact(0) };
        }
    }
    let generations = (fold.ends.pin.generation, fold.ends.box_.generation);
    add_makeups(sums, fold.records.makeups.iter(), generations, conflicted);
}

/// Adds the hours that a joint turned after an instant in a stretch of which no more is known: it may
/// have been more.
fn add_hours(sums: &mut Running, gap: &GapRow, at: i64) {
    if let Some(hours) = gap.hours {
        let begun = gap.since.filter(|_| gap.begun);
        let least = told_between((begun, gap.until), hours, at, i64::MAX);
        sums.figures.hours.add(Some(least));
        sums.figures.hours.open();
    }
}

/// Work that cuts off the end it is done to.
const fn cuts(work: Work) -> bool {
    matches!(work, Work::Recut | Work::CutBack | Work::NewToolJoint)
}

/// What is read to sum up since an inspection.
struct Ground<'a> {
    run_shares: &'a [RunShare<'a>],
    conflicted: &'a [i64],
    parts: &'a [RunPartRow],
    makeups: &'a [MakeupRow],
    gaps: &'a [GapRow],
    generations: (i64, i64),
}

impl Ground<'_> {
    /// What came after the last inspection of some kind, seen at an instant or never. One that nobody
    /// saw may have been made at any time that nothing is known of: then at least what came after
    /// that time did come after it.
    fn since_last(&self, seen: Option<i64>, whole: &Running) -> Running {
        let most = seen.map_or_else(|| whole.clone(), |at| self.since(at));
        let ends = self.gaps.iter().map(|g| g.until);
        match ends.filter(|until| seen.is_none_or(|at| *until > at)).max() {
            None => most,
            Some(known_from) => Running::part_of(&self.since(known_from), &most, whole),
        }
    }

    fn since(&self, at: i64) -> Running {
        let mut sums = Running::default();
        if self.gaps.iter().any(|g| g.until > at && g.since.is_some()) {
            open_all(&mut sums);
        }
        // What ended by then adds nothing, and leaves nothing open.
        self.gaps.iter().filter(|g| g.until > at).for_each(|gap| add_hours(&mut sums, gap, at));
        for l in self.run_shares.iter().filter(|l| l.run.finish > at) {
            let put = if self.conflicted.contains(&l.run.run) { perhaps_add } else { add };
            if l.run.start >= at {
                put(&mut sums, &l.share, l.exact());
                continue;
            }
            match self.parts.iter().find(|p| p.run == l.run.run && p.cut == at) {
                Some(part) => put(&mut sums, &l.share.after(part, l.shift), l.exact()),
                None => {
                    let (least, most) = l.share.somewhere_after(l.run, at);
                    if self.conflicted.contains(&l.run.run) {
                        sums.figures.perhaps_take(&most);
                    } else {
                        sums.figures.take_within(&least, &most);
                    }
                    if !l.exact() {
                        sums.figures.open();
                    }
                }
            }
        }
        let made = self.makeups.iter().filter(|m| m.date >= at);
        add_makeups(&mut sums, made, self.generations, self.conflicted);
        sums
    }
}

/// Runs of one joint that exclude each other or another fact: the conflicts among them, and all such
/// runs.
fn clashing_runs(fold: &Fold<'_>) -> (Vec<ConflictRow>, Vec<i64>) {
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
                n: 0,
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
            let under_way = |r: &JointRunRow| under_way(r, fold.input.run_rows.get(&r.run));
            let ((a_from, a_to), (b_from, b_to)) = (under_way(a), under_way(b));
            if a_from < b_to && b_from < a_to {
                conflicts.push(ConflictRow {
                    joint: fold.input.joint,
                    n: 0,
                    first_entry: a.run,
                    second_entry: b.run,
                    what: "in two runs at once".to_owned(),
                });
                conflicted.extend([a.run, b.run]);
            }
        }
    }
    let with_others = fold.records.conflicts.iter().flat_map(|c| [c.first_entry, c.second_entry]);
    conflicted.extend(with_others.filter(|entry| runs.iter().any(|r| r.run == *entry)));
    conflicted.sort_unstable();
    conflicted.dedup();
    (conflicts, conflicted)
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
        // What is stated is the damage of the worst place, and nobody says which that is.
        let damage = stated(b.damage.as_ref(), M::Damage);
        [figures.damage_pin, figures.damage_middle, figures.damage_box] =
            [Bounds { lo: 0, ..damage }; 3];
        totals.brought = damage.lo;
        totals.makeups = [&b.pin_makeups, &b.box_makeups].map(|m| stated(m.as_ref(), M::Count));
    }
    totals
}
