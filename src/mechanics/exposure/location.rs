//! Damage, largest bending stress and turns above the classic limit, at one place of one joint.
#![expect(
    clippy::inline_always,
    reason = "a function compiled for wider vectors only passes that on to what is inlined into it"
)]

use super::chunk::{Chunk, Rule, Rules, SHORT, Summary, WAVY, dot, waviness};
use super::lanes::{Constants, Cycles};
use super::response::Response;
use super::settings::Settings;
use super::special;
use super::walk::Walk;
use crate::mechanics::bending::PermissibleStress;
use crate::mechanics::fatigue::mean_stress::LEAST_RESERVE;
use crate::mechanics::string::Part;

/// Constants of one place and what has been added up so far.
pub(super) struct LocationDamage<'a> {
    rules: &'a Rules,
    walk: Walk<'a>,
    wide: pulp::Arch,
    constants: Constants,
    cycles: Cycles,
    /// Bound of the change of ln(stress range) per newton.
    slack: f64,
    /// From range without mean-stress correction (MPa) to bending stress amplitude (Pa).
    to_stress: f64,
    permissible: PermissibleStress,
    limit_factor: f64,
    spans: bool,
    pub damage: f64,
    /// Largest range without mean-stress correction, MPa.
    top: f64,
    /// Turns in doglegs above the one without fatigue.
    pub above_limit: f64,
}

impl<'a> LocationDamage<'a> {
    pub(super) fn new(
        part: &Part,
        settings: &Settings,
        response: &Response,
        (rules, walk, wide): (&'a Rules, Walk<'a>, pulp::Arch),
    ) -> Self {
        let mean_slack = (response.mean.0 + 2.0 * response.mean.1.sqrt()) * response.per_area;
        Self {
            rules,
            walk,
            wide,
            constants: Constants {
                slenderness: response.slenderness,
                per_area: response.per_area,
                linear: response.mean.0,
                square: response.mean.1,
                least: LEAST_RESERVE,
                scale: response.bending * response.to_range,
            },
            cycles: Cycles::new(response.life),
            slack: response.slenderness / 3.0 + 2.0 * mean_slack,
            to_stress: 1.0 / response.to_range,
            permissible: part.permissible,
            limit_factor: settings.limit_factor,
            spans: part.kind.spans_tool_joints(),
            damage: 0.0,
            top: 0.0,
            above_limit: 0.0,
        }
    }

    /// Largest bending stress amplitude so far, Pa.
    pub(super) fn bending_stress(&self) -> f64 {
        self.top * self.to_stress
    }

    /// Adds a chunk; its damage per turn is left in its column.
    pub(super) fn add<const END: bool>(&mut self, chunk: &mut Chunk) -> Summary {
        let n = chunk.len;
        let rule = self.rules.of(chunk.steepest() * self.constants.slenderness);
        let summary = self.wide.dispatch(Evaluate::<END> {
            chunk,
            rule,
            constants: &self.constants,
            cycles: &self.cycles,
            slack: self.slack,
            jump: self.walk.jump(),
        });
        if summary.odd {
            for i in 0..n {
                if chunk.odd[i] > 0.0 {
                    chunk.rate[i] = self.careful::<END>(chunk, i, rule);
                }
            }
        }
        self.damage += dot(&chunk.turns[..n], &chunk.rate[..n]);
        self.add_bending::<END>(chunk, &summary);
        summary
    }

    /// Raises the largest bending stress: the nodes tell which pieces may hold it, its value is taken
    /// at the ends of a piece, or inside where tension may turn there.
    fn add_bending<const END: bool>(&mut self, chunk: &Chunk, summary: &Summary) {
        if summary.bound <= self.top {
            return;
        }
        let range = |t: f64, i: usize| self.constants.range::<END>(t, chunk.bend[i]).1;
        let sure = self.top.max(summary.sure);
        let mut top = self.top;
        for i in 0..chunk.len {
            if chunk.bound[i] >= sure {
                top = top.max(range(chunk.t0[i], i)).max(range(chunk.t1[i], i));
            }
        }
        for i in 0..chunk.len {
            if chunk.bound[i] > top {
                let (low, high) = self.walk.extremes(chunk, i);
                top = top.max(range(low, i)).max(range(high, i));
            }
        }
        self.top = top;
    }

    /// Damage per turn of a piece that needs care: cut, with its exact tension, where tension
    /// passes zero and where the range passes the knee, and in four if it is wavy.
    fn careful<const END: bool>(&self, chunk: &Chunk, i: usize, rule: &Rule) -> f64 {
        let (from, length) = (chunk.from[i], chunk.length[i]);
        let (wob, bend) = (chunk.wob[i], chunk.bend[i]);
        if length <= 0.0 {
            return chunk.rate[i];
        }
        let range = |t: f64| self.constants.range::<END>(t, bend).0;
        let load = |x: f64| self.walk.exact(from + x * length, wob);
        let flat = self.walk.jump() * length * length;
        let wavy = waviness(self.slack, flat, chunk.t1[i] - chunk.t0[i]) > WAVY;
        let parts = if wavy { 4 } else { 1 };
        let share = 1.0 / f64::from(parts);
        let mut sum = [0.0];
        let mut left = (0.0, load(0.0));
        for part in 0..parts {
            let at = |x: f64| share * (f64::from(part) + x);
            let cuts = special::cuts(
                |x| load(at(x)).0,
                |x| range(load(at(x)).0) - self.cycles.knee(),
                self.cycles.knee() > 0.0,
            );
            for x in cuts.places() {
                let right = (at(*x), load(at(*x)));
                let share = right.0 - left.0;
                let mean = if share * length > SHORT {
                    (right.1.1 - left.1.1) / (share * length)
                } else {
                    0.5 * (left.1.0 + right.1.0)
                };
                for node in &rule.nodes {
                    let s = [range(node.tension(left.1.0, right.1.0, mean))];
                    self.cycles.rate(&s, &mut sum, |sum, d| sum + share * node.weight * d);
                }
                left = right;
            }
        }
        sum[0]
    }

    /// Adds a chunk's turns in doglegs above the one without fatigue.
    pub(super) fn add_above_limit(&mut self, chunk: &Chunk, summary: &Summary) {
        let n = chunk.len;
        if !self.spans || n == 0 {
            return;
        }
        let allowed = |t: f64| {
            let axial = t * self.constants.per_area;
            self.limit_factor * self.permissible.bending(axial).unwrap_or(0.0).max(0.0)
        };
        // permissible stress falls as tension rises: the chunk's extremes decide most chunks
        if summary.bound * self.to_stress < allowed(summary.high.max(0.0) * 1.01) {
            return;
        }
        for i in 0..n {
            let (a, b) = (chunk.t0[i], chunk.t1[i]);
            let length = chunk.length[i];
            // how far tension may go inside the piece beyond its ends, and from one place to another
            let beyond = (12.0 * (chunk.mean[i] - 0.5 * (a + b))).abs()
                + 0.125 * self.walk.jump() * length * length;
            let least = chunk.top[i] * (1.0 - self.slack * ((b - a).abs() + 2.0 * beyond));
            if chunk.bound[i] * self.to_stress <= allowed(a.max(b) + beyond) {
                continue;
            }
            if least * self.to_stress > allowed(a.min(b) - beyond) {
                self.above_limit += chunk.turns[i];
                continue;
            }
            let (from, wob, bend) = (chunk.from[i], chunk.wob[i], chunk.bend[i]);
            let over = |x: f64| {
                let (t, _) = self.walk.exact(from + x * length, wob);
                self.constants.range::<true>(t, bend).1 * self.to_stress - allowed(t)
            };
            self.above_limit += chunk.turns[i] * special::share_above(over);
        }
    }
}

/// The pass over a chunk, for the widest vectors at hand.
struct Evaluate<'a, const END: bool> {
    chunk: &'a mut Chunk,
    rule: &'a Rule,
    constants: &'a Constants,
    cycles: &'a Cycles,
    slack: f64,
    jump: f64,
}

impl<const END: bool> pulp::NullaryFnOnce for Evaluate<'_, END> {
    type Output = Summary;

    #[inline(always)]
    fn call(self) -> Summary {
        self.chunk.evaluate::<END>(self.rule, self.constants, self.cycles);
        self.chunk.summary(self.rule, self.cycles.knee(), self.slack, self.jump)
    }
}
