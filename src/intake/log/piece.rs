//! Pieces of a log: what the rig did for a while, as exact sums, and how they are joined.
//!
//! A piece is a vector: so long, so far down, so many turns. Sums over pieces are the log's sums,
//! whatever is joined with whatever, because joining adds vectors and gathering swaps them. What
//! joining costs is position: the bit moves along a straight line through a piece, and the bound
//! on how far that is from the log is carried with each piece.

use super::rules::CutRules;

/// Revolutions a minute in a billionth of a unit of rotary speed; the unit in revolutions a second.
pub(super) fn rpm_in_nano(unit: (i128, i128)) -> f64 {
    unit.0 as f64 / unit.1 as f64 * 60.0 / 1e9
}

/// What the rig did, as far as one row of a log tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum State {
    /// Rotating on bottom, making hole.
    Drilling,
    /// Making hole without rotation of the pipe.
    Sliding,
    Reaming,
    Idle,
}

impl State {
    /// True when it matters where the bit is.
    const fn counts(self) -> bool {
        !matches!(self, Self::Idle)
    }

    const fn rotates(self) -> bool {
        matches!(self, Self::Drilling | Self::Reaming)
    }
}

/// A time-weighted sum of a channel: value times microseconds, and the microseconds with a value.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Mean {
    sum: i128,
    weight: i128,
}

impl Mean {
    pub(super) fn add(&mut self, value: Option<i64>, us: i64) {
        if let Some(value) = value {
            self.sum += i128::from(value) * i128::from(us);
            self.weight += i128::from(us);
        }
    }

    fn join(&mut self, other: Self) {
        self.sum += other.sum;
        self.weight += other.weight;
    }

    /// The mean, rounded half away from zero; `None` without any value.
    pub(super) fn value(self) -> Option<i64> {
        if self.weight == 0 {
            return None;
        }
        let half = if self.sum < 0 { -self.weight / 2 } else { self.weight / 2 };
        i64::try_from((self.sum + half) / self.weight).ok()
    }
}

/// Means of the channels that a segment keeps.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Means {
    pub wob: Mean,
    pub torque: Mean,
    pub hookload: Mean,
}

/// A piece of a log.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Piece {
    pub state: State,
    /// Pieces of different epochs are never joined: the tally changed in between.
    pub epoch: u32,
    pub duration_ms: i64,
    /// How far the bit went down, mm.
    pub down_mm: i64,
    pub milli_turns: i64,
    pub means: Means,
    /// The bit is this close to where the log has it, at every turn, mm.
    pub error_mm: i64,
    /// Its instants are this close to the log's, ms.
    pub shift_ms: i64,
}

/// One step of a log: from the row before to this one.
#[derive(Clone, Copy, Debug)]
pub(super) struct Step {
    pub state: State,
    pub us: i64,
    pub down_mm: i64,
    /// Rotary speed in billionths of the column's unit; 0 when not rotating.
    pub nano_speed: i64,
    pub wob: Option<i64>,
    pub torque: Option<i64>,
    pub hookload: Option<i64>,
}

/// Slopes that keep a straight line from the start of a piece within an error of every point.
#[derive(Clone, Copy, Debug)]
struct Sleeve {
    low: f64,
    high: f64,
}

impl Sleeve {
    const OPEN: Self = Self { low: f64::NEG_INFINITY, high: f64::INFINITY };

    /// Takes a point in if the line to it stays within the error of all points before.
    fn admits(&mut self, along: f64, down: f64, error: f64) -> bool {
        if along <= 0.0 {
            return down.abs() <= error;
        }
        let slope = down / along;
        if slope < self.low || slope > self.high {
            return false;
        }
        self.low = self.low.max((down - error) / along);
        self.high = self.high.min((down + error) / along);
        true
    }
}

/// The piece that is being made.
#[derive(Clone, Copy, Debug)]
struct Open {
    state: State,
    us: i128,
    down_mm: i64,
    /// Speed in billionths times microseconds.
    turns: i128,
    means: Means,
    by_time: Sleeve,
    by_turns: Sleeve,
    steps: u64,
}

/// Turns steps into pieces, and keeps their number bounded.
#[derive(Debug)]
pub(super) struct Pieces {
    rules: CutRules,
    /// Revolutions a second in one unit of the speed column, as a fraction.
    unit: (i128, i128),
    /// Depth of the bit before the first piece, mm.
    start_mm: i64,
    list: Vec<Piece>,
    open: Option<Open>,
    epoch: u32,
    /// Everything so far, exactly.
    us: i128,
    turns: i128,
    /// What has been given to pieces in whole milliseconds and milli-turns.
    given_ms: i64,
    given_milli: i64,
    rotating_us: i128,
}

/// More pieces than this are joined before the log is at its end.
const HELD: usize = 4096;

impl Pieces {
    pub(super) fn new(rules: CutRules, unit: (i128, i128)) -> Self {
        Self {
            rules,
            unit,
            start_mm: 0,
            list: Vec::new(),
            open: None,
            epoch: 0,
            us: 0,
            turns: 0,
            given_ms: 0,
            given_milli: 0,
            rotating_us: 0,
        }
    }

    /// Where the bit is before the first step.
    pub(super) const fn start_at(&mut self, mm: i64) {
        self.start_mm = mm;
    }

    pub(super) fn push(&mut self, step: &Step) {
        let turns = i128::from(step.nano_speed) * i128::from(step.us);
        let error = self.error(step.state);
        let fits = match &mut self.open {
            Some(open) if open.state == step.state => {
                let down = (open.down_mm + step.down_mm) as f64;
                let time = (open.us + i128::from(step.us)) as f64;
                let along = (open.turns + turns) as f64;
                open.by_time.admits(time, down, error)
                    && (!step.state.rotates() || open.by_turns.admits(along, down, error))
            }
            _ => false,
        };
        if !fits {
            self.close();
        }
        let mut open = self.open.take().unwrap_or_else(|| {
            let mut fresh = Open {
                state: step.state,
                us: 0,
                down_mm: 0,
                turns: 0,
                means: Means::default(),
                by_time: Sleeve::OPEN,
                by_turns: Sleeve::OPEN,
                steps: 0,
            };
            // The first point of a piece always fits; it narrows the sleeve.
            fresh.by_time.admits(step.us as f64, step.down_mm as f64, error);
            fresh.by_turns.admits(turns as f64, step.down_mm as f64, error);
            fresh
        });
        open.us += i128::from(step.us);
        open.down_mm += step.down_mm;
        open.turns += turns;
        open.steps += 1;
        open.means.wob.add(step.wob, step.us);
        open.means.torque.add(step.torque, step.us);
        open.means.hookload.add(step.hookload, step.us);
        self.us += i128::from(step.us);
        self.turns += turns;
        if step.state.rotates() {
            self.rotating_us += i128::from(step.us);
        }
        self.open = Some(open);
    }

    /// The tally changes here: nothing is joined across.
    pub(super) fn break_here(&mut self) {
        self.close();
        self.epoch += 1;
    }

    fn error(&self, state: State) -> f64 {
        let mm = if state.counts() { self.rules.depth_error_mm } else { self.rules.idle_error_mm };
        mm as f64
    }

    /// Whole milliseconds of everything so far.
    fn total_ms(&self) -> i64 {
        i64::try_from((self.us + 500).div_euclid(1000)).unwrap_or(i64::MAX)
    }

    /// Whole thousandths of a turn of everything so far.
    pub(super) fn total_milli(&self) -> i64 {
        // billionths × microseconds × turns/s: 1e-15 turns, 1e-12 milli-turns
        let (num, den) = self.unit;
        let den = den.saturating_mul(1_000_000_000_000);
        let milli = self.turns.checked_mul(num).map(|n| (n + den / 2).div_euclid(den));
        milli.and_then(|m| i64::try_from(m).ok()).unwrap_or(i64::MAX)
    }

    /// Microseconds with rotation so far.
    pub(super) const fn rotating_us(&self) -> i128 {
        self.rotating_us
    }

    fn close(&mut self) {
        let Some(open) = self.open.take() else { return };
        // What rounding leaves over goes to the next piece, so that sums are exact.
        let (ms, milli) = (self.total_ms(), self.total_milli());
        let error = if open.steps > 1 { self.error(open.state) } else { 0.0 };
        #[expect(clippy::cast_possible_truncation, reason = "an error of the settings, in range")]
        let error_mm = error as i64;
        self.list.push(Piece {
            state: open.state,
            epoch: self.epoch,
            duration_ms: ms - self.given_ms,
            down_mm: open.down_mm,
            milli_turns: milli - self.given_milli,
            means: open.means,
            error_mm,
            shift_ms: 0,
        });
        self.given_ms = ms;
        self.given_milli = milli;
        if self.list.len() >= HELD.max(4 * self.rules.max_segments) {
            let keep = HELD.max(4 * self.rules.max_segments) / 2;
            self.coarsen(keep, i64::MAX);
        }
    }

    fn coarsen(&mut self, most: usize, dearest: i64) {
        coarsen(&mut self.list, most, dearest, self.start_mm, &self.rules);
    }

    /// The pieces of the whole log, no more than the settings allow.
    pub(super) fn finish(mut self) -> Vec<Piece> {
        self.close();
        self.coarsen(self.rules.wanted_segments, 2 * self.rules.depth_error_mm);
        self.coarsen(self.rules.max_segments, i64::MAX);
        self.list
    }
}

/// How far the vertex between two pieces is from the line through both, by turns and by time.
fn bow(a: &Piece, b: &Piece) -> i64 {
    let down = (a.down_mm + b.down_mm) as f64;
    let off = |part: i64, other: i64| {
        let whole = part + other;
        if whole == 0 {
            a.down_mm.abs() as f64
        } else {
            (a.down_mm as f64 - down * part as f64 / whole as f64).abs()
        }
    };
    let by_time = off(a.duration_ms, b.duration_ms);
    let by_turns = if a.state.rotates() { off(a.milli_turns, b.milli_turns) } else { 0.0 };
    #[expect(clippy::cast_possible_truncation, reason = "a length in a hole, rounded up")]
    let mm = by_time.max(by_turns).ceil() as i64;
    mm
}

/// What joining a piece with the next of its state costs, and how far away that one is.
#[derive(Clone, Copy, Debug)]
struct Join {
    far: usize,
    cost: i64,
}

/// Finds the next piece of the same state. With four states it is at most four pieces away.
fn join_at(list: &[Piece], at: usize, from_mm: i64, rules: &CutRules) -> Option<Join> {
    let a = list[at];
    let far = (1..=4).find(|d| list.get(at + d).is_some_and(|p| p.state == a.state))?;
    let c = list[at + far];
    let between = &list[at + 1..at + far];
    if between.iter().chain([&c]).any(|p| p.epoch != a.epoch) {
        return None;
    }
    // No joining may put the bit above the rotary table.
    let mut bit = from_mm + a.down_mm + c.down_mm;
    let mut highest = bit;
    for b in between {
        bit += b.down_mm;
        highest = highest.min(bit);
    }
    if highest < 0 && from_mm >= 0 {
        return None;
    }
    let joined = joined(&a, &c, between);
    let mut worst = weighed(&joined, rules);
    for b in between {
        worst = worst.max(weighed(&moved(b, &c), rules));
    }
    Some(Join { far, cost: worst })
}

/// Piece `a` with `c`, which comes forward past what lies between.
fn joined(a: &Piece, c: &Piece, between: &[Piece]) -> Piece {
    let away: i64 = between.iter().map(|b| b.down_mm).sum::<i64>().abs();
    let earlier: i64 = between.iter().map(|b| b.duration_ms).sum();
    let mut means = a.means;
    means.wob.join(c.means.wob);
    means.torque.join(c.means.torque);
    means.hookload.join(c.means.hookload);
    Piece {
        state: a.state,
        epoch: a.epoch,
        duration_ms: a.duration_ms + c.duration_ms,
        down_mm: a.down_mm + c.down_mm,
        milli_turns: a.milli_turns + c.milli_turns,
        means,
        error_mm: a.error_mm.max(c.error_mm + away) + bow(a, c),
        shift_ms: a.shift_ms.max(c.shift_ms + earlier),
    }
}

/// Piece `b` after `c` has gone before it.
fn moved(b: &Piece, c: &Piece) -> Piece {
    Piece { error_mm: b.error_mm + c.down_mm.abs(), shift_ms: b.shift_ms + c.duration_ms, ..*b }
}

/// Errors of place and of time as one cost: ten minutes weigh as much as the error allowed.
/// Where idle pipe hangs matters a hundred times less.
fn weighed(p: &Piece, rules: &CutRules) -> i64 {
    let place = if p.state.counts() { p.error_mm } else { p.error_mm / 100 };
    place.saturating_add(p.shift_ms.saturating_mul(rules.depth_error_mm.max(1)) / 600_000)
}

/// Joins the cheapest neighbours until no more than `most` pieces are left, or none can be joined
/// for `dearest` or less.
fn coarsen(list: &mut Vec<Piece>, most: usize, dearest: i64, start_mm: i64, rules: &CutRules) {
    let most = most.max(1);
    while list.len() > most {
        let mut bit = start_mm;
        let mut joins: Vec<Option<Join>> = Vec::with_capacity(list.len());
        for (i, piece) in list.iter().enumerate() {
            joins.push(join_at(list, i, bit, rules).filter(|j| j.cost <= dearest));
            bit += piece.down_mm;
        }
        let mut costs: Vec<i64> = joins.iter().flatten().map(|j| j.cost).collect();
        if costs.is_empty() {
            return;
        }
        costs.sort_unstable();
        // Half of the excess at a time: costs change as pieces grow.
        let excess = list.len() - most;
        let limit = costs[(excess.div_ceil(2) - 1).min(costs.len() - 1)];
        let mut out: Vec<Piece> = Vec::with_capacity(list.len());
        let (mut at, mut removed) = (0, 0);
        while at < list.len() {
            match joins[at] {
                Some(j) if j.cost <= limit && removed < excess => {
                    let (a, c) = (list[at], list[at + j.far]);
                    let between = &list[at + 1..at + j.far];
                    out.push(joined(&a, &c, between));
                    out.extend(between.iter().map(|b| moved(b, &c)));
                    at += j.far + 1;
                    removed += 1;
                }
                _ => {
                    out.push(list[at]);
                    at += 1;
                }
            }
        }
        if removed == 0 {
            return;
        }
        *list = out;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn step(state: State, s: i64, down_mm: i64, rpm: i64) -> Step {
        Step {
            state,
            us: s * 1_000_000,
            down_mm,
            nano_speed: rpm * 1_000_000_000,
            wob: Some(rpm * 10),
            torque: None,
            hookload: None,
        }
    }

    fn pieces(rules: &CutRules, steps: &[Step]) -> Vec<Piece> {
        let mut p = Pieces::new(rules.clone(), (1, 60));
        p.start_at(10_000_000);
        for step in steps {
            p.push(step);
        }
        p.finish()
    }

    #[test]
    fn steady_drilling_is_one_piece_and_a_change_of_pace_a_cut() {
        let rules = CutRules::default();
        let mut steps = vec![step(State::Drilling, 10, 50, 120); 600];
        assert_eq!(pieces(&rules, &steps).len(), 1);
        steps.extend(vec![step(State::Drilling, 10, 10, 120); 600]);
        let made = pieces(&rules, &steps);
        assert_eq!(made.len(), 2);
        // the cut is within the error of the place where the pace changed
        assert!((made[0].down_mm - 30_000).abs() <= 1000, "{made:?}");
        assert_eq!(made.iter().map(|p| p.milli_turns).sum::<i64>(), 24_000_000);
        assert_eq!(made[0].means.wob.value(), Some(1200));
        // a change of speed alone moves the turns along the depth, and is cut too
        let mut steps = vec![step(State::Drilling, 10, 50, 60); 600];
        steps.extend(vec![step(State::Drilling, 10, 50, 180); 600]);
        assert_eq!(pieces(&rules, &steps).len(), 2);
    }

    #[test]
    fn pauses_are_gathered_when_there_are_too_many() {
        let rules = CutRules { max_segments: 2, ..CutRules::default() };
        let steps: Vec<Step> = (0..50)
            .flat_map(|_| [step(State::Drilling, 100, 100, 90), step(State::Idle, 10, 0, 0)])
            .collect();
        let made = pieces(&rules, &steps);
        assert_eq!(made.len(), 2);
        assert_eq!(
            (made[0].state, made[0].down_mm, made[0].duration_ms),
            (State::Drilling, 5000, 5_000_000)
        );
        assert_eq!(
            (made[1].state, made[1].down_mm, made[1].duration_ms),
            (State::Idle, 0, 500_000)
        );
        assert_eq!(made[0].error_mm, 0);
        assert!(made[0].shift_ms >= 490_000);
    }

    #[test]
    fn nothing_is_joined_across_a_change_of_the_tally() {
        let rules = CutRules { max_segments: 1, ..CutRules::default() };
        let mut p = Pieces::new(rules, (1, 60));
        p.push(&step(State::Drilling, 10, 50, 120));
        p.break_here();
        p.push(&step(State::Drilling, 10, 50, 120));
        assert_eq!(p.finish().len(), 2);
    }

    fn any_step() -> impl Strategy<Value = Step> {
        (0u8..4, 1i64..40_000, -3000i64..3000, 1i64..300_000).prop_map(|(state, ms, down, mrpm)| {
            let state =
                [State::Drilling, State::Sliding, State::Reaming, State::Idle][usize::from(state)];
            Step {
                state,
                us: ms * 1000 + ms % 7,
                down_mm: down,
                nano_speed: if state.rotates() { mrpm * 1_000_000 + 1 } else { 0 },
                wob: (down % 3 != 0).then_some(down),
                torque: None,
                hookload: None,
            }
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]
        #[test]
        fn sums_survive_whatever_is_joined(steps in proptest::collection::vec(any_step(), 1..400), most in 1usize..40) {
            let rules = CutRules { max_segments: most, ..CutRules::default() };
            let made = pieces(&rules, &steps);
            prop_assert!(made.len() <= most.max(4));
            let us: i128 = steps.iter().map(|s| i128::from(s.us)).sum();
            let turns: i128 = steps.iter().map(|s| i128::from(s.us) * i128::from(s.nano_speed)).sum();
            let den = 60 * 1_000_000_000_000i128;
            prop_assert_eq!(made.iter().map(|p| p.duration_ms).sum::<i64>(), i64::try_from((us + 500) / 1000).unwrap());
            prop_assert_eq!(made.iter().map(|p| p.milli_turns).sum::<i64>(), i64::try_from((turns + den / 2) / den).unwrap());
            for state in [State::Drilling, State::Sliding, State::Reaming, State::Idle] {
                let down: i64 = steps.iter().filter(|s| s.state == state).map(|s| s.down_mm).sum();
                prop_assert_eq!(made.iter().filter(|p| p.state == state).map(|p| p.down_mm).sum::<i64>(), down);
            }
        }

        /// The bound that a piece states holds: at every row's end the bit is that close to the line.
        #[test]
        fn the_stated_error_is_a_bound(moves in proptest::collection::vec((1i64..60, -400i64..400, 10i64..200), 2..200)) {
            let steps: Vec<Step> = moves.iter().map(|(s, d, r)| step(State::Reaming, *s, *d, *r)).collect();
            let rules = CutRules { max_segments: 3, ..CutRules::default() };
            let made = pieces(&rules, &steps);
            let (mut turns, mut depth) = (0.0, 0.0);
            for s in &steps {
                turns += s.nano_speed as f64 * s.us as f64;
                depth += s.down_mm as f64;
                // the line at the same number of turns
                let (mut t0, mut z0, mut z, mut bound) = (0.0, 0.0, f64::NAN, 0.0);
                for (i, p) in made.iter().enumerate() {
                    let t1 = t0 + p.milli_turns as f64 * 60.0 * 1e12;
                    if turns <= t1 + 1e12 || i + 1 == made.len() {
                        z = z0 + p.down_mm as f64 * ((turns - t0) / (t1 - t0).max(1.0)).min(1.0);
                        bound = p.error_mm as f64;
                        break;
                    }
                    (t0, z0) = (t1, z0 + p.down_mm as f64);
                }
                // rounding of turns to thousandths moves the point by less than a millimetre or two
                prop_assert!((z - depth).abs() <= bound + 3.0, "{z} {depth} {bound}");
            }
        }
    }
}
