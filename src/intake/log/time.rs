//! A log by time: row after row into steps of one state.
//!
//! A row speaks for the time since the row before. Rotation is told by the rotary speed alone;
//! on bottom by the bit near the depth of a hole that grows; sliding by growth without rotation.

use super::counts::{Counts, Why};
use super::piece::{Pieces, State, Step, rpm_in_nano};
use super::rules::CutRules;

/// Two columns of depth that differ by less are two readings of one depth, mm.
const APART_MM: i64 = 2_000;

/// One row, in whole quanta.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sample {
    pub row: u64,
    pub ms: i64,
    pub bit_mm: i64,
    pub hole_mm: Option<i64>,
    /// Billionths of the column's unit.
    pub nano_speed: i64,
    pub wob: Option<i64>,
    pub torque: Option<i64>,
    pub hookload: Option<i64>,
}

/// No pipe moves faster than this in a hole: 5 m/s, more than twice what a block travels.
const FASTEST_MM_MS: i64 = 5;
/// A depth tracker is set right by as much as a stand at once: 40 m.
const SET_RIGHT_MM: i64 = 40_000;
/// After so many rows at another depth the depth is believed.
const BELIEVED: u32 = 10;

/// Turns the rows of a log by time into pieces.
pub(super) struct ByTime {
    rules: CutRules,
    gap_ms: i64,
    /// Thousandths of a revolution a minute in a billionth of the column's unit.
    mrpm: f64,
    pub pieces: Pieces,
    pub counts: Counts,
    previous: Option<(i64, i64)>,
    pub first: Option<(i64, i64)>,
    deepest_mm: i64,
    advanced_ms: i64,
    spikes: (u32, i64),
    breaks: Vec<i64>,
    pub gaps: Gaps,
    pub rows_used: u64,
    pub above_table: u64,
    /// Rows whose bit stands below the hole that they tell, and by how much at most, mm.
    pub below_hole: (u64, i64),
    pub whole_hole: bool,
    hole_known: bool,
    pub fastest_mrpm: f64,
    /// Turns below the threshold, billionths of the unit times milliseconds.
    slow: i128,
    /// Rows in order and out of order among the first.
    order: (u32, u32),
}

/// Gaps of a log.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Gaps {
    pub count: u64,
    pub ms: i64,
    /// How much deeper the hole was after gaps.
    pub deepened_mm: i64,
    pub first_row: u64,
}

impl ByTime {
    pub(super) fn new(
        rules: &CutRules,
        gap_ms: i64,
        unit: (i128, i128),
        mut breaks: Vec<i64>,
    ) -> Self {
        breaks.sort_unstable_by(|a, b| b.cmp(a));
        Self {
            gap_ms,
            mrpm: rpm_in_nano(unit) * 1e3,
            pieces: Pieces::new(rules.clone(), unit),
            rules: rules.clone(),
            counts: Counts::default(),
            previous: None,
            first: None,
            deepest_mm: i64::MIN,
            advanced_ms: i64::MIN / 2,
            spikes: (0, 0),
            breaks,
            gaps: Gaps::default(),
            rows_used: 0,
            above_table: 0,
            below_hole: (0, 0),
            whole_hole: true,
            hole_known: false,
            fastest_mrpm: 0.0,
            slow: 0,
            order: (0, 0),
        }
    }

    /// A step longer than this is a gap, ms.
    pub(super) const fn gap_ms(&self) -> i64 {
        self.gap_ms
    }

    /// Turns slower than the threshold, which count for nothing.
    pub(super) fn slow_turns(&self) -> f64 {
        self.slow as f64 * self.mrpm / 60_000.0 / 1000.0
    }

    /// True when the log runs from its end to its beginning.
    pub(super) fn reversed(&self) -> bool {
        self.order.1 > self.order.0 && self.order.1 >= 2
    }

    pub(super) fn push(&mut self, s: &Sample) {
        let bit_mm = s.bit_mm.max(0);
        let Some((last_ms, last_mm)) = self.previous else {
            self.previous = Some((s.ms, bit_mm));
            self.first = Some((s.ms, bit_mm));
            self.pieces.start_at(bit_mm);
            self.rows_used += 1;
            self.see_hole(s, bit_mm, true);
            return;
        };
        let dt = s.ms - last_ms;
        if dt <= 0 {
            self.counts.add(if dt == 0 { Why::Repeated } else { Why::Backward }, s.row);
            self.order.1 += u32::from(dt < 0 && self.order.0 + self.order.1 < 200);
            return;
        }
        self.order.0 += u32::from(self.order.0 + self.order.1 < 200);
        let gap = dt > self.gap_ms;
        if !gap && (bit_mm - last_mm).abs() > dt.saturating_mul(FASTEST_MM_MS) + SET_RIGHT_MM {
            let settled = self.spikes.0 > 0 && (bit_mm - self.spikes.1).abs() <= SET_RIGHT_MM;
            self.spikes = (if settled { self.spikes.0 + 1 } else { 1 }, bit_mm);
            if self.spikes.0 < BELIEVED {
                self.counts.add(Why::Spike, s.row);
                return;
            }
        }
        self.spikes = (0, 0);
        while self.breaks.last().is_some_and(|b| *b <= last_ms) {
            self.breaks.pop();
            self.pieces.break_here();
        }
        self.rows_used += 1;
        let (deepest, was_known) = (self.deepest_mm, self.hole_known);
        self.see_hole(s, bit_mm, gap);
        let mut step = Step {
            state: State::Idle,
            us: dt.saturating_mul(1000),
            down_mm: bit_mm - last_mm,
            nano_speed: 0,
            wob: None,
            torque: None,
            hookload: s.hookload,
        };
        if gap {
            if self.gaps.count == 0 {
                self.gaps.first_row = s.row;
            }
            self.gaps.count += 1;
            self.gaps.ms += dt;
            if was_known && s.hole_mm.is_some_and(|h| h > 0) {
                self.gaps.deepened_mm += (self.deepest_mm - deepest).max(0);
            }
            step.hookload = None;
        } else {
            let mrpm = s.nano_speed as f64 * self.mrpm;
            self.fastest_mrpm = self.fastest_mrpm.max(mrpm);
            let turning = mrpm >= self.rules.rotating_mrpm as f64;
            let in_hole = bit_mm > self.rules.from_depth_mm;
            if !turning && in_hole {
                self.slow += i128::from(s.nano_speed) * i128::from(dt);
            }
            if turning && !in_hole {
                self.above_table += 1;
            }
            let near = bit_mm >= self.deepest_mm.saturating_sub(self.rules.on_bottom_mm);
            let advancing = s.ms - self.advanced_ms <= self.rules.advance_ms;
            step.state = match (turning && in_hole, near && advancing && in_hole) {
                (true, true) => State::Drilling,
                (true, false) => State::Reaming,
                (false, true) => State::Sliding,
                (false, false) => State::Idle,
            };
            if turning && in_hole {
                step.nano_speed = s.nano_speed;
                step.torque = s.torque;
            }
            if step.state != State::Idle {
                step.wob = s.wob;
            }
        }
        self.pieces.push(&step);
        self.previous = Some((s.ms, bit_mm));
    }

    /// Follows the depth of the hole. A row without it leaves it as it was; the bit is never
    /// deeper than the hole.
    fn see_hole(&mut self, s: &Sample, bit_mm: i64, no_advance: bool) {
        // Zero is what a log writes for no value; a hole is as deep as the bit is.
        let logged = s.hole_mm.filter(|h| *h > 0);
        if logged.is_none() {
            self.whole_hole = false;
        }
        self.hole_known |= logged.is_some();
        let below = logged.map_or(0, |hole| bit_mm.saturating_sub(hole));
        if below > APART_MM {
            self.below_hole = (self.below_hole.0 + 1, self.below_hole.1.max(below));
        }
        let now = logged.unwrap_or(self.deepest_mm).max(bit_mm);
        if logged.is_some() && now < self.deepest_mm.saturating_sub(1_000) {
            // A side track: the hole begins anew from above.
            self.deepest_mm = now;
            return;
        }
        if now > self.deepest_mm {
            let grown = now.saturating_sub(self.deepest_mm);
            if !no_advance && grown <= SET_RIGHT_MM {
                self.advanced_ms = s.ms;
            }
            self.deepest_mm = now;
        }
    }
}

/// The longest step that is no gap: as stated, or three usual steps and at least a minute.
pub(super) fn gap_of(rules: &CutRules, head: &[i64]) -> i64 {
    if let Some(gap) = rules.gap_ms {
        return gap;
    }
    let mut steps: Vec<i64> = head.windows(2).map(|w| w[1] - w[0]).filter(|d| *d > 0).collect();
    steps.sort_unstable();
    let usual = steps.get(steps.len() / 2).copied().unwrap_or(0);
    usual.saturating_mul(3).max(60_000)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample(row: u64, s: i64, bit: f64, hole: f64, rpm: i64) -> Sample {
        #[expect(clippy::cast_possible_truncation, reason = "small test depths")]
        let mm = |m: f64| (m * 1000.0).round() as i64;
        Sample {
            row,
            ms: s * 1000,
            bit_mm: mm(bit),
            hole_mm: Some(mm(hole)),
            nano_speed: rpm * 1_000_000_000,
            wob: Some(100),
            torque: None,
            hookload: None,
        }
    }

    fn cut(rows: &[(i64, f64, f64, i64)]) -> ByTime {
        let mut t = ByTime::new(&CutRules::default(), 60_000, (1, 60), Vec::new());
        for (i, (s, bit, hole, rpm)) in rows.iter().enumerate() {
            t.push(&sample(i as u64 + 2, *s, *bit, *hole, *rpm));
        }
        t
    }

    fn states(t: ByTime) -> Vec<(State, i64, i64)> {
        t.pieces.finish().iter().map(|p| (p.state, p.duration_ms / 1000, p.milli_turns)).collect()
    }

    #[test]
    fn states_come_from_speed_and_depth() {
        let t = cut(&[
            (0, 100.0, 100.0, 0),
            (10, 100.1, 100.1, 60), // rotating, hole grows
            (20, 100.2, 100.2, 60),
            (30, 100.3, 100.3, 0), // hole grows, no rotation
            (40, 95.0, 100.3, 60), // off bottom
            (50, 95.0, 100.3, 0),
        ]);
        assert_eq!(
            states(t),
            [
                (State::Drilling, 20, 20_000),
                (State::Sliding, 10, 0),
                (State::Reaming, 10, 10_000),
                (State::Idle, 10, 0),
            ]
        );
    }

    #[test]
    fn gaps_do_not_rotate() {
        let t = cut(&[
            (0, 100.0, 100.0, 60),
            (10, 100.1, 100.1, 60),
            (500, 103.0, 103.0, 60),
            (510, 103.1, 103.1, 60),
        ]);
        assert_eq!(t.gaps, Gaps { count: 1, ms: 490_000, deepened_mm: 2900, first_row: 4 });
        let s = states(t);
        assert_eq!(s[1], (State::Idle, 490, 0));
        assert_eq!(s.iter().map(|s| s.2).sum::<i64>(), 20_000);
    }

    #[test]
    fn time_that_stands_or_runs_back_is_left_out() {
        let t = cut(&[
            (0, 9.0, 9.0, 60),
            (10, 9.1, 9.1, 60),
            (10, 9.1, 9.1, 60),
            (5, 9.1, 9.1, 60),
            (20, 9.2, 9.2, 60),
        ]);
        assert_eq!((t.counts.of(Why::Repeated), t.counts.of(Why::Backward)), (1, 1));
        assert!(!t.reversed());
        assert_eq!(states(t).iter().map(|s| s.2).sum::<i64>(), 20_000);
        assert!(cut(&[(30, 9.0, 9.0, 0), (20, 9.0, 9.0, 0), (10, 9.0, 9.0, 0)]).reversed());
    }

    #[test]
    fn pipe_above_the_table_is_not_rotating_in_the_hole() {
        let t = cut(&[(0, -30.0, 100.0, 60), (10, -30.0, 100.0, 60), (20, 5.0, 100.0, 60)]);
        assert_eq!(t.above_table, 1);
        assert_eq!(states(t), [(State::Idle, 10, 0), (State::Reaming, 10, 10_000)]);
    }

    #[test]
    fn a_spike_of_depth_is_no_journey() {
        let t = cut(&[(0, 100.0, 100.0, 0), (1, 9000.0, 100.0, 0), (2, 100.0, 100.0, 0)]);
        assert_eq!(t.counts.of(Why::Spike), 1);
        // but a depth that stays is believed
        let mut rows = vec![(0, 100.0, 100.0, 0)];
        rows.extend((1..20).map(|i| (i, 400.0, 400.0, 0)));
        let t = cut(&rows);
        assert_eq!(t.counts.of(Why::Spike), 9);
        assert_eq!(t.pieces.finish().iter().map(|p| p.down_mm).sum::<i64>(), 300_000);
    }

    #[test]
    fn usual_steps_set_the_gap() {
        let rules = CutRules::default();
        assert_eq!(gap_of(&rules, &[0, 5_000, 10_000]), 60_000);
        assert_eq!(gap_of(&rules, &[0, 300_000, 600_000]), 900_000);
        assert_eq!(gap_of(&CutRules { gap_ms: Some(7), ..rules }, &[]), 7);
    }
}
