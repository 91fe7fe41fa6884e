//! A log by depth: it has no clock. The hours of a step are its length over the rate of
//! penetration; a repeated depth, a step back and a step too long are gaps, not drilling.

use super::counts::{Counts, Why};
use super::piece::{Pieces, State, Step, rpm_in_nano};
use super::rules::CutRules;

/// One row, in whole quanta.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sample {
    pub row: u64,
    pub depth_mm: i64,
    /// The same before it is rounded, mm: a rounded step would make a wrong hour.
    pub fine_mm: f64,
    /// Metres a second; `None` when the row has no rate.
    pub rate: Option<f64>,
    /// Billionths of the column's unit.
    pub nano_speed: i64,
    pub wob: Option<i64>,
    pub torque: Option<i64>,
    pub hookload: Option<i64>,
}

/// Turns the rows of a log by depth into pieces.
pub(super) struct ByDepth {
    rules: CutRules,
    mrpm: f64,
    pub pieces: Pieces,
    pub counts: Counts,
    pub first_mm: Option<i64>,
    last_mm: i64,
    last_fine_mm: f64,
    pub shallowest_mm: i64,
    pub deepest_mm: i64,
    pub rows_used: u64,
    pub gaps: u64,
    pub gaps_mm: i64,
    pub back: u64,
    pub again_mm: i64,
    pub fastest_mrpm: f64,
    steps: (u64, u64),
}

impl ByDepth {
    pub(super) fn new(rules: &CutRules, unit: (i128, i128)) -> Self {
        Self {
            rules: rules.clone(),
            mrpm: rpm_in_nano(unit) * 1e3,
            pieces: Pieces::new(rules.clone(), unit),
            counts: Counts::default(),
            first_mm: None,
            last_mm: 0,
            last_fine_mm: 0.0,
            shallowest_mm: 0,
            deepest_mm: 0,
            rows_used: 0,
            gaps: 0,
            gaps_mm: 0,
            back: 0,
            again_mm: 0,
            fastest_mrpm: 0.0,
            steps: (0, 0),
        }
    }

    /// A step longer than this is a gap, mm.
    pub(super) const fn gap_mm(&self) -> i64 {
        self.rules.step_max_mm
    }

    /// True when the log runs from the bottom up.
    pub(super) const fn reversed(&self) -> bool {
        self.steps.1 > self.steps.0 && self.steps.1 >= 2
    }

    pub(super) fn push(&mut self, s: &Sample) {
        if self.first_mm.is_none() {
            self.first_mm = Some(s.depth_mm);
            self.last_mm = s.depth_mm;
            self.last_fine_mm = s.fine_mm;
            (self.shallowest_mm, self.deepest_mm) = (s.depth_mm, s.depth_mm);
            self.pieces.start_at(s.depth_mm);
            self.rows_used += 1;
            return;
        }
        let down = s.depth_mm - self.last_mm;
        if down == 0 {
            self.counts.add(Why::Repeated, s.row);
            return;
        }
        let mut step = Step {
            state: State::Idle,
            us: 0,
            down_mm: down,
            nano_speed: 0,
            wob: None,
            torque: None,
            hookload: None,
        };
        if down < 0 {
            self.back += 1;
            self.steps.1 += 1;
        } else if down > self.rules.step_max_mm {
            self.gaps += 1;
            self.gaps_mm += down;
            self.steps.0 += 1;
        } else {
            self.steps.0 += 1;
            let mmh = s.rate.map(|r| r * 3.6e6);
            match mmh {
                None => self.counts.add(Why::NoRate, s.row),
                Some(r) if r <= self.rules.rop_min_mmh as f64 => self.counts.add(Why::Slow, s.row),
                Some(r) if self.rules.rop_max_mmh.is_some_and(|m| r > m as f64) => {
                    self.counts.add(Why::RateSpike, s.row);
                }
                Some(r) => {
                    let us = (s.fine_mm - self.last_fine_mm) / r * 3.6e9;
                    #[expect(
                        clippy::cast_possible_truncation,
                        reason = "a step over a rate above the floor"
                    )]
                    let us = us.round_ties_even() as i64;
                    let mrpm = s.nano_speed as f64 * self.mrpm;
                    self.fastest_mrpm = self.fastest_mrpm.max(mrpm);
                    let turning = mrpm >= self.rules.rotating_mrpm as f64;
                    // Below the deepest point hole is made; above it the hole is reamed again.
                    let fresh = s.depth_mm > self.deepest_mm;
                    if !fresh {
                        self.again_mm += down;
                    }
                    step = Step {
                        state: match (turning, fresh) {
                            (true, true) => State::Drilling,
                            (true, false) => State::Reaming,
                            (false, true) => State::Sliding,
                            (false, false) => State::Idle,
                        },
                        us,
                        nano_speed: if turning { s.nano_speed } else { 0 },
                        wob: s.wob,
                        torque: s.torque,
                        hookload: s.hookload,
                        ..step
                    };
                }
            }
        }
        self.rows_used += 1;
        self.pieces.push(&step);
        self.last_mm = s.depth_mm;
        self.last_fine_mm = s.fine_mm;
        self.shallowest_mm = self.shallowest_mm.min(s.depth_mm);
        self.deepest_mm = self.deepest_mm.max(s.depth_mm);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cut(rows: &[(i64, Option<f64>, i64)]) -> ByDepth {
        let mut d = ByDepth::new(&CutRules::default(), (1, 60));
        for (i, (mm, mh, rpm)) in rows.iter().enumerate() {
            d.push(&Sample {
                row: i as u64 + 2,
                depth_mm: *mm,
                fine_mm: *mm as f64,
                rate: mh.map(|r| r / 3600.0),
                nano_speed: rpm * 1_000_000_000,
                wob: None,
                torque: None,
                hookload: None,
            });
        }
        d
    }

    #[test]
    fn hours_are_step_over_rate() {
        let d = cut(&[(1000, None, 0), (2000, Some(10.0), 100), (2500, Some(5.0), 100)]);
        let p = d.pieces.finish();
        assert_eq!(p.iter().map(|p| p.duration_ms).sum::<i64>(), 720_000);
        assert_eq!(p.iter().map(|p| p.milli_turns).sum::<i64>(), 1_200_000);
        assert!(p.iter().all(|p| p.state == State::Drilling));
    }

    #[test]
    fn gaps_repeats_and_steps_back_are_no_drilling() {
        let d = cut(&[
            (0, None, 0),
            (1000, Some(10.0), 100),
            (1000, Some(10.0), 100),  // repeated
            (9000, Some(10.0), 100),  // gap
            (8000, Some(10.0), 100),  // back
            (9000, Some(10.0), 100),  // again: reamed
            (10000, Some(9e9), 100),  // spike
            (11000, Some(0.01), 100), // too slow
            (12000, Some(10.0), 0),   // no rotation
        ]);
        assert_eq!((d.gaps, d.gaps_mm, d.back, d.again_mm), (1, 8000, 1, 1000));
        for why in [Why::Repeated, Why::RateSpike, Why::Slow] {
            assert_eq!(d.counts.of(why), 1, "{why:?}");
        }
        let p = d.pieces.finish();
        let states: Vec<State> = p.iter().map(|p| p.state).collect();
        assert_eq!(
            states,
            [State::Drilling, State::Idle, State::Reaming, State::Idle, State::Sliding]
        );
        assert_eq!(p.iter().map(|p| p.milli_turns).sum::<i64>(), 1_200_000);
        assert_eq!(p.iter().map(|p| p.down_mm).sum::<i64>(), 12_000);
    }
}
