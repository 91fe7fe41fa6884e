//! A run made ready, and the walk of each place of a joint through the hole.

use super::chunk::{Chunk, Piece, Rule, Summary, dot};
use super::hanging::Hangings;
use super::hole::{Cubic, Hole};
use super::lanes::{Constants, Cycles};
use super::middle::{Body, Middle};
use super::outcome::{Flags, PartExposure};
use super::response::{Life, Response};
use super::settings::{BOX_END, MIDDLE, PIN_END, Settings};
use super::special;
use super::tally::tally;
use crate::mechanics::bending::PermissibleStress;
use crate::mechanics::fatigue::mean_stress::LEAST_RESERVE;
use crate::mechanics::loads::rotating::weight_steps;
use crate::mechanics::string::{CaseError, Metal, Part, RunCase};

/// A segment in which the string turns.
#[derive(Debug, Clone, Copy)]
struct Turning {
    low: f64,
    high: f64,
    wob: f64,
    turns: f64,
    hours: f64,
}

/// A run made ready to ask about its joints: what all of them share is computed once.
#[derive(Debug, Clone)]
pub struct PreparedRun<'a> {
    case: &'a RunCase,
    settings: &'a Settings,
    hole: Hole,
    hangings: Hangings,
    turning: Vec<Turning>,
    lives: [Life; 3],
    rule: Rule,
    wide: pulp::Arch,
}

/// One place of one joint on its walk.
#[derive(Debug, Clone, Copy)]
struct Walk<'a> {
    distance: f64,
    weight: f64,
    level: &'a [Cubic],
}

impl<'a> PreparedRun<'a> {
    /// Checks a run and tabulates its hole and what hangs in it.
    pub fn new(case: &'a RunCase, settings: &'a Settings) -> Result<Self, CaseError> {
        Self::up_to(case, settings, case.string.parts().len())
    }

    /// Ready for the lowest `parts` parts only: a string of many weights needs less work then. The
    /// results for them are the same to the bit.
    pub fn up_to(
        case: &'a RunCase,
        settings: &'a Settings,
        parts: usize,
    ) -> Result<Self, CaseError> {
        case.check()?;
        let turning: Vec<Turning> = case
            .segments
            .iter()
            .filter(|s| s.turns() > 0.0)
            .map(|s| {
                let (low, high) = s.reach();
                Turning { low, high, wob: s.wob, turns: s.turns(), hours: s.hours }
            })
            .collect();
        let deepest = turning.iter().map(|t| t.high).fold(0.0, f64::max);
        let shallowest = turning.iter().map(|t| t.low).fold(deepest, f64::min);
        let hole = Hole::new(&case.path, deepest, settings.tortuosity);
        let steps = weight_steps(&case.string, &case.fluids);
        let distances = case.string.distances();
        let top = distances.get(parts).copied().unwrap_or(f64::INFINITY);
        let levels = steps.partition_point(|s| s.distance < top);
        let hangings = Hangings::new(&hole, &steps, levels, (shallowest, deepest));
        Ok(Self {
            case,
            settings,
            hole,
            hangings,
            turning,
            lives: [PIN_END, MIDDLE, BOX_END].map(|i| Life::new(&settings.curves[i])),
            rule: Rule::new(settings.points),
            wide: pulp::Arch::new(),
        })
    }

    /// Exposure of one part, counted from the bit.
    pub fn part(&self, index: usize) -> Result<PartExposure, CaseError> {
        let parts = self.case.string.parts();
        let part =
            parts.get(index).ok_or(CaseError::NoSuchPart { part: index, parts: parts.len() })?;
        let bottom = self.case.string.distances()[index];
        let places = self.settings.places.above_pin(part.length).map(|above| bottom + above);
        let mut found = tally(self.case, places[MIDDLE]);
        let responses = Response::of(part, self.settings, &self.lives);
        let mut work = Work { chunk: Chunk::new(), middle: Middle::new() };
        let ends = [PIN_END, BOX_END];
        for place in ends {
            let tools = Tools::new(&responses[place], part, self.settings);
            let walk = self.walk_at(places[place]);
            let chunk = &mut work.chunk;
            let (mut damage, mut bending, mut above) = (0.0, 0.0, 0.0);
            let mut flush = |chunk: &mut Chunk| {
                let (sum, summary) = self.damage::<true>(chunk, &tools, &mut bending);
                damage += sum;
                if place == BOX_END {
                    above += tools.turns_above_limit(chunk, &summary);
                }
                chunk.len = 0;
            };
            self.walk::<false>(&walk, |step| {
                let bend = self.hole.starts[step.short].bend;
                chunk.push(&step.piece, bend);
                if chunk.is_full() {
                    flush(chunk);
                }
            });
            flush(chunk);
            found.damage[place] = damage;
            found.max_bending_stress = found.max_bending_stress.max(bending * tools.to_stress);
            found.revolutions_above_limit += above;
        }
        self.middle(part, places[MIDDLE], &responses[MIDDLE], &mut work, &mut found);
        self.environment(part, &mut found);
        Ok(found)
    }

    /// Exposure of every part, from the bit up.
    pub fn all(&self) -> Result<Vec<PartExposure>, CaseError> {
        (0..self.case.string.parts().len()).map(|i| self.part(i)).collect()
    }

    /// The middle of a joint.
    fn middle(
        &self,
        part: &Part,
        distance: f64,
        response: &Response,
        work: &mut Work,
        found: &mut PartExposure,
    ) {
        let tools = Tools::new(response, part, self.settings);
        let body = Body::new(self.case, part);
        let walk = self.walk_at(distance);
        let (chunk, middle) = (&mut work.chunk, &mut work.middle);
        let (mut damage, mut bending) = (0.0, 0.0);
        let mut sums = core::mem::take(&mut found.bands);
        let mut sharpest = 0.0_f64;
        let mut flush = |chunk: &mut Chunk, middle: &mut Middle| {
            if chunk.len > 0 {
                let (sum, summary) = self.damage::<false>(chunk, &tools, &mut bending);
                damage += sum;
                self.wide.dispatch(Forces {
                    middle,
                    chunk,
                    rule: &self.rule,
                    weight: body.weight,
                });
                middle.gather(chunk, &summary, &body, found);
                chunk.len = 0;
            }
        };
        self.walk::<true>(&walk, |step| {
            let short = &self.hole.shorts[step.short];
            let bend = self.hole.starts[step.short].bend;
            middle.put(chunk.len, short, step.along);
            chunk.push(&step.piece, bend);
            sums.turns[short.band] += step.piece.turns;
            sums.hours[short.band] += step.hours;
            sharpest = sharpest.max(bend);
            if chunk.is_full() {
                flush(chunk, middle);
            }
        });
        flush(chunk, middle);
        found.damage[MIDDLE] = damage;
        found.max_bending_stress = found.max_bending_stress.max(bending * tools.to_stress);
        found.bands = sums;
        found.max_curvature = sharpest;
        let unknown = part.kind.spans_tool_joints() && part.tool_joint_od.is_none();
        found.flags.add_if(unknown && sharpest > 0.0, Flags::CONTACT_UNKNOWN);
    }

    /// Damage of a chunk; `bending` grows to the largest range without mean-stress correction.
    fn damage<const END: bool>(
        &self,
        chunk: &mut Chunk,
        tools: &Tools,
        bending: &mut f64,
    ) -> (f64, Summary) {
        let n = chunk.len;
        let rule = &self.rule;
        let summary = self.wide.dispatch(Evaluate::<END> {
            chunk,
            rule,
            constants: &tools.constants,
            cycles: &tools.cycles,
            slack: tools.slack,
        });
        let mut special = 0.0;
        if summary.odd {
            for i in 0..n {
                if chunk.odd[i] > 0.0 {
                    let rate =
                        special::rate::<END>(chunk, i, rule, &tools.constants, &tools.cycles);
                    special += chunk.turns[i] * rate;
                    chunk.rate[i] = 0.0;
                }
            }
        }
        // the largest at a node is a floor, then those that may rise above it between the nodes
        let mut best = bending.max(summary.top);
        if summary.bound > best {
            for i in 0..n {
                if chunk.bound[i] > best {
                    let range = |t: f64| tools.constants.range::<END>(t, chunk.bend[i]).1;
                    best = best.max(special::largest(chunk, i, range));
                }
            }
        }
        *bending = best;
        (special + dot(&chunk.turns[..n], &chunk.rate[..n]), summary)
    }

    fn environment(&self, part: &Part, found: &mut PartExposure) {
        let around = &self.case.environment;
        let hot = around.hottest_celsius.is_some_and(|t| t > self.settings.hottest_celsius);
        found.flags.add_if(hot, Flags::HOT);
        found.flags.add_if(around.hydrogen_sulphide, Flags::HYDROGEN_SULPHIDE);
        found.flags.add_if(part.material.metal != Metal::Steel, Flags::NOT_STEEL);
        found.flags.add_if(found.beyond_survey > 0.0, Flags::BEYOND_SURVEY);
    }

    fn walk_at(&self, distance: f64) -> Walk<'_> {
        let level = self.hangings.level(distance);
        Walk { distance, weight: self.hangings.weight(level), level: self.hangings.table(level) }
    }

    /// Calls `each` with every piece of the walk: cut at the table and wherever the place passes
    /// from one short arc to the next. Straight pieces are left out unless `ALL`.
    #[inline]
    fn walk<const ALL: bool>(&self, walk: &Walk<'_>, mut each: impl FnMut(Step)) {
        let starts = &self.hole.starts;
        let x = walk.distance;
        // tension without weight on bit, and its integral, at a depth
        let load = |md: f64, (tvd, integral): (f64, f64)| {
            let (force, sum) = self.hangings.at(walk.level, md + x);
            Load { md, tension: force - walk.weight * tvd, sum: sum - walk.weight * integral }
        };
        let mut arc = 0;
        // where the last piece ended, which is often where the next one starts
        let mut at = Load { md: f64::NAN, tension: 0.0, sum: 0.0 };
        for turning in &self.turning {
            let deep = turning.high - x;
            if deep <= 0.0 {
                continue;
            }
            let shallow = (turning.low - x).max(0.0);
            arc = self.hole.find(shallow, arc);
            if deep <= shallow {
                // standing still: all turns at one depth
                if ALL || starts[arc].bend > 0.0 {
                    let along = deep - starts[arc].md;
                    let tension = load(deep, self.hole.depth(arc, along)).tension - turning.wob;
                    let piece = Piece {
                        tension: (tension, tension),
                        turns: turning.turns,
                        ..Piece::default()
                    };
                    each(Step { short: arc, along: (along, along), hours: turning.hours, piece });
                }
                continue;
            }
            let span = turning.high - turning.low;
            let (turns, hours) = (turning.turns / span, turning.hours / span);
            let mut from = shallow;
            loop {
                let (start, next) = (&starts[arc], &starts[arc + 1]);
                let last = next.md >= deep;
                if ALL || start.bend > 0.0 {
                    let along = from - start.md;
                    let a = if at.md.to_bits() == from.to_bits() {
                        at
                    } else {
                        load(from, self.hole.depth(arc, along))
                    };
                    at = if last {
                        load(deep, self.hole.depth(arc, deep - start.md))
                    } else {
                        load(next.md, (next.tvd, next.integral))
                    };
                    let length = at.md - from;
                    let piece = Piece {
                        tension: (a.tension - turning.wob, at.tension - turning.wob),
                        integral: (at.sum - a.sum) - turning.wob * length,
                        length,
                        turns: turns * length,
                    };
                    let along = (along, at.md - start.md);
                    each(Step { short: arc, along, hours: hours * length, piece });
                }
                if last {
                    break;
                }
                arc += 1;
                from = next.md;
            }
        }
    }
}

/// Tension without weight on bit at a depth of a walk, and its integral from some depth.
#[derive(Debug, Clone, Copy)]
struct Load {
    md: f64,
    tension: f64,
    sum: f64,
}

/// One piece of a walk.
#[derive(Debug, Clone, Copy)]
struct Step {
    /// Which short arc.
    short: usize,
    /// Distances of its ends past the start of that arc, m.
    along: (f64, f64),
    /// Hours.
    hours: f64,
    /// Loads and turns.
    piece: Piece,
}

/// Columns of one part's computation.
struct Work {
    chunk: Chunk,
    middle: Middle,
}

/// Constants of one place.
struct Tools {
    constants: Constants,
    cycles: Cycles,
    /// Bound of the change of ln(stress range) per newton.
    slack: f64,
    /// From range without mean-stress correction (MPa) to bending stress amplitude (Pa).
    to_stress: f64,
    permissible: PermissibleStress,
    limit_factor: f64,
    spans: bool,
}

impl Tools {
    fn new(response: &Response, part: &Part, settings: &Settings) -> Self {
        let mean_slack = (response.mean.0 + 2.0 * response.mean.1.sqrt()) * response.per_area;
        Self {
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
        }
    }

    /// Turns of a chunk in doglegs above the one without fatigue.
    fn turns_above_limit(&self, chunk: &Chunk, summary: &Summary) -> f64 {
        let n = chunk.len;
        if !self.spans || n == 0 {
            return 0.0;
        }
        let allowed = |t: f64| {
            let axial = t * self.constants.per_area;
            self.limit_factor * self.permissible.bending(axial).unwrap_or(0.0).max(0.0)
        };
        // permissible stress falls as tension rises: the chunk's extremes decide most chunks
        let high = summary.high.max(0.0);
        if summary.top * self.to_stress * 1.05 < allowed(high * 1.01) {
            return 0.0;
        }
        let mut turns = 0.0;
        for i in 0..n {
            let over = |x: f64| {
                let t = chunk.tension(i, x);
                let bending = self.constants.range::<true>(t, chunk.bend[i]).1 * self.to_stress;
                bending - allowed(t)
            };
            turns += chunk.turns[i] * special::share_above(over);
        }
        turns
    }
}

/// The pass over a chunk, for the widest vectors at hand.
struct Evaluate<'a, const END: bool> {
    chunk: &'a mut Chunk,
    rule: &'a Rule,
    constants: &'a Constants,
    cycles: &'a Cycles,
    slack: f64,
}

impl<const END: bool> pulp::NullaryFnOnce for Evaluate<'_, END> {
    type Output = Summary;

    #[inline(always)]
    fn call(self) -> Summary {
        self.chunk.evaluate::<END>(self.rule, self.constants, self.cycles);
        self.chunk.summary(self.rule, self.cycles.knee(), self.slack)
    }
}

/// The pass over a chunk's side forces.
struct Forces<'a> {
    middle: &'a mut Middle,
    chunk: &'a Chunk,
    rule: &'a Rule,
    weight: f64,
}

impl pulp::NullaryFnOnce for Forces<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        self.middle.forces(self.chunk, self.rule, self.weight);
    }
}
