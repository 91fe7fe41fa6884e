//! What is asked of the middle of a joint only: extremes of tension, side force, wear work and
//! buckling.
#![expect(
    clippy::inline_always,
    reason = "a function compiled for wider vectors only passes that on to what is inlined into it"
)]

use super::chunk::{Chunk, Dot, Node, Rule, SHORT, Summary};
use super::hole::Short;
use super::lanes::{Column, WIDTH, highest};
use super::outcome::{Flags, PartExposure};
use super::special::{self, Cuts};
use super::walk::Walk;
use crate::mechanics::loads::Column as Strut;
use crate::mechanics::loads::side_force::{inward, side_force_squared};
use crate::mechanics::string::{Part, RunCase};

/// Share of a piece's side force to which its mean is found where it has a corner.
const CLOSE: f64 = 1e-8;
/// Ripple of the inward force times its span, in squares of the force, above which tension is looked
/// at closely: the mean of the force misses at most a hundredth of that.
const FELT: f64 = 2e-4;
/// How often such a piece is halved at most.
const HALVINGS: u32 = 16;

/// Columns beside those of the chunk.
#[derive(Debug, Clone)]
pub(super) struct Middle {
    /// Curvature of the path, rad/m.
    curvature: Column,
    /// Downward component of the normal at the shallow end.
    n0: Column,
    /// Downward component of the normal at the deep end.
    n1: Column,
    /// Downward component of the binormal.
    binormal: Column,
    /// Sixth of the square of the angle that the piece turns by.
    turned: Column,
    force: Column,
    peak: Column,
    /// Above 0 where the force has a corner on the piece or near it.
    corner: Column,
    /// What the force can't exceed anywhere on the piece.
    bound: Column,
    /// Smallest and largest tension so far.
    tension: Option<[Extreme; 2]>,
}

/// A tension and where it was met.
#[derive(Debug, Clone, Copy)]
struct Extreme {
    tension: f64,
    /// Measured depth, m.
    md: f64,
    /// Weight on bit, N.
    wob: f64,
}

impl Extreme {
    fn raise(&mut self, other: Self) {
        if other.tension > self.tension {
            *self = other;
        }
    }

    fn lower(&mut self, other: Self) {
        if other.tension < self.tension {
            *self = other;
        }
    }
}

/// Constants of a joint's middle.
#[derive(Debug, Clone, Copy)]
pub(super) struct Body {
    weight: f64,
    /// Metres of sliding per turn times length of joint: from N/m to J per turn.
    per_turn: f64,
    /// Bending stiffness EI, N·m².
    stiffness: f64,
    /// Diameter that touches the hole, m.
    contact: f64,
    /// Tension at which the classic permissible stress ends.
    highest: f64,
}

impl Body {
    pub(super) fn new(case: &RunCase, part: &Part) -> Self {
        let weight = part.buoyed_weight(&case.fluids);
        Self {
            weight,
            per_turn: part.length * core::f64::consts::PI * part.contact_diameter(),
            stiffness: part.stiffness(),
            contact: part.contact_diameter(),
            highest: part.permissible.highest_axial() * part.area(),
        }
    }

    /// 4EI/r and a vertical hole's critical load, in a hole of this diameter (m).
    fn strut(&self, hole: f64) -> (f64, f64) {
        let strut = Strut {
            stiffness: self.stiffness,
            weight: self.weight,
            clearance: 0.5 * (hole - self.contact),
            inc: 0.0,
            build: 0.0,
            turn: 0.0,
        };
        strut.limits()
    }
}

impl Middle {
    pub(super) fn new() -> Self {
        let zero = [0.0; WIDTH];
        Self {
            curvature: zero,
            n0: zero,
            n1: zero,
            binormal: zero,
            turned: zero,
            force: zero,
            peak: zero,
            corner: zero,
            bound: zero,
            tension: None,
        }
    }

    /// Adds the geometry of piece `i`, from `s0` to `s1` past the start of a short arc.
    #[inline]
    pub(super) fn put(&mut self, i: usize, short: &Short, (s0, s1): (f64, f64)) {
        let angle = short.curvature * (s1 - s0);
        self.curvature[i] = short.curvature;
        self.n0[i] = short.normal_at(s0);
        self.n1[i] = short.normal_at(s1);
        self.binormal[i] = short.binormal;
        self.turned[i] = angle * angle * (1.0 / 6.0);
    }

    /// Mean side force of every piece, N/m, and what is largest among them.
    #[inline(always)]
    fn forces(&mut self, chunk: &Chunk, rule: &Rule, (weight, jump): (f64, f64)) -> Largest {
        let n = chunk.len.min(WIDTH);
        let (t0, t1) = (&chunk.t0[..n], &chunk.t1[..n]);
        let mean = &chunk.mean[..n];
        let (n0, n1) = (&self.n0[..n], &self.n1[..n]);
        let (curvature, binormal) = (&self.curvature[..n], &self.binormal[..n]);
        let (turned, length) = (&self.turned[..n], &chunk.length[..n]);
        let (force, peak) = (&mut self.force[..n], &mut self.peak[..n]);
        force.fill(0.0);
        for node in &rule.nodes {
            let (x, y) = (node.x, 1.0 - node.x);
            for i in 0..n {
                let t = node.tension(t0[i], t1[i], mean[i]);
                let normal = between((n0[i], n1[i]), turned[i], (x, y));
                let square = squared(t, curvature[i], weight, normal, binormal[i]);
                force[i] += node.weight * square.sqrt();
            }
        }
        // along a piece the force is convex, or nearly, so largest at an end, or nearly
        let (corner, bound) = (&mut self.corner[..n], &mut self.bound[..n]);
        for i in 0..n {
            let shallow = squared(t0[i], curvature[i], weight, n0[i], binormal[i]);
            let deep = squared(t1[i], curvature[i], weight, n1[i], binormal[i]);
            peak[i] = shallow.max(deep);
            let a = inward(t0[i], curvature[i], weight, n0[i]);
            let b = inward(t1[i], curvature[i], weight, n1[i]);
            // how far the inward part may go on the piece: from end to end, and by the bows of
            // tension and direction
            let bow = 6.0 * (mean[i] - 0.5 * (t0[i] + t1[i]));
            let ripple = 0.25 * jump * length[i] * length[i] * curvature[i];
            let span = (b - a).abs() + curvature[i] * bow.abs() + ripple + weight * turned[i];
            let near = span - a.abs().min(b.abs());
            let corner_near = near.min(2.0 * span - weight * binormal[i].abs());
            // a ripple of tension that has no mean is felt as far as the force bends
            let felt = ripple * span - FELT * shallow.min(deep);
            corner[i] = corner_near.max(felt);
            let beyond = 0.125 * jump * length[i] * length[i] + 2.0 * bow.abs();
            let inside = curvature[i] * beyond + weight * turned[i];
            bound[i] = if curvature[i] > 0.0 { peak[i].sqrt() + inside } else { 0.0 };
        }
        Largest { corner: highest(corner), end: highest(peak).sqrt(), bound: highest(bound) }
    }

    /// Downward component of the normal at `x` of a piece.
    fn normal(&self, i: usize, x: f64) -> f64 {
        between((self.n0[i], self.n1[i]), self.turned[i], (x, 1.0 - x))
    }

    /// Side force at `x` of a piece under a tension, N/m.
    fn force(&self, i: usize, x: f64, tension: f64, weight: f64) -> f64 {
        let normal = self.normal(i, x);
        squared(tension, self.curvature[i], weight, normal, self.binormal[i]).sqrt()
    }

    /// Mean side force of a piece along or near which tension comes to carry the weight, so that the
    /// force has a corner there, or nearly: by exact tension on halves, again and again where that
    /// changes it.
    fn cornered(&self, chunk: &Chunk, i: usize, rule: &Rule, weight: f64, walk: &Walk<'_>) -> f64 {
        let (from, length, wob) = (chunk.from[i], chunk.length[i], chunk.wob[i]);
        let load = |x: f64| {
            let (tension, sum) = walk.exact(from + x * length, wob);
            Load { x, tension, sum }
        };
        // integral over the share of the piece between two places
        let integral = |a: &Load, b: &Load| {
            let share = b.x - a.x;
            let mean = if share * length > SHORT {
                (b.sum - a.sum) / (share * length)
            } else {
                0.5 * (a.tension + b.tension)
            };
            let at = |node: &Node| {
                let tension = node.tension(a.tension, b.tension, mean);
                node.weight * self.force(i, a.x + share * node.x, tension, weight)
            };
            share * rule.nodes.iter().map(at).sum::<f64>()
        };
        let inward =
            |x: f64, tension: f64| inward(tension, self.curvature[i], weight, self.normal(i, x));
        let a = load(0.0);
        let b = Load { x: 1.0, tension: chunk.t1[i], sum: a.sum + chunk.mean[i] * length };
        if (inward(0.0, a.tension) > 0.0) == (inward(1.0, b.tension) > 0.0) {
            let whole = self.force[i];
            return halved(&load, &integral, (a, b), whole, (CLOSE * whole, HALVINGS));
        }
        let (roots, count) = special::crossings(|x| inward(x, load(x).tension));
        let (mut sum, mut from) = (0.0, a);
        for to in roots[..count].iter().map(|x| load(*x)).chain([b]) {
            let whole = integral(&from, &to);
            sum += halved(&load, &integral, (from, to), whole, (CLOSE * whole, HALVINGS));
            from = to;
        }
        sum
    }

    /// Largest side force of a chunk, looked for inside those pieces that may go above what is
    /// already known.
    fn inside(&self, chunk: &Chunk, known: f64, weight: f64, walk: &Walk<'_>) -> f64 {
        let mut largest = known;
        for i in 0..chunk.len.min(WIDTH) {
            if self.bound[i] <= largest {
                continue;
            }
            let (from, length, wob) = (chunk.from[i], chunk.length[i], chunk.wob[i]);
            let force = |x: f64| self.force(i, x, walk.exact(from + x * length, wob).0, weight);
            largest = largest.max(special::peak(force, (force(0.0), force(1.0))));
        }
        largest
    }

    /// Adds a chunk, already evaluated, to what the middle went through.
    pub(super) fn add(
        &mut self,
        chunk: &Chunk,
        summary: &Summary,
        body: &Body,
        (rule, wide): (&Rule, pulp::Arch),
        walk: &Walk<'_>,
        found: &mut PartExposure,
    ) {
        let (weight, jump) = (body.weight, walk.jump());
        let largest = wide.dispatch(Forces { middle: self, chunk, rule, weight, jump });
        let n = chunk.len.min(WIDTH);
        self.add_tension(chunk, summary, walk);
        let [low, high] = self.tension.map_or([0.0; 2], |extremes| extremes.map(|e| e.tension));
        if largest.corner > 0.0 {
            for i in 0..n {
                if self.corner[i] > 0.0 {
                    self.force[i] = self.cornered(chunk, i, rule, weight, walk);
                }
            }
        }
        let work = wide.dispatch(Dot(&chunk.turns[..n], &self.force[..n]));
        found.side_force_work += body.per_turn * work;
        found.max_side_force = found.max_side_force.max(largest.end);
        if largest.bound > found.max_side_force {
            found.max_side_force = self.inside(chunk, found.max_side_force, weight, walk);
        }
        found.flags.add_if(high > body.highest, Flags::OVERPULLED);
        if low < 0.0 {
            found.flags.add(Flags::COMPRESSION);
            self.buckling(chunk, body, walk, found);
        }
    }

    /// Finds where tension is smallest and largest.
    fn add_tension(&mut self, chunk: &Chunk, summary: &Summary, walk: &Walk<'_>) {
        let known = self.tension.map(|extremes| extremes.map(|e| e.tension));
        let further = known.is_none_or(|[low, high]| summary.low < low || summary.high > high);
        if !further && !summary.turning {
            return;
        }
        for i in 0..chunk.len.min(WIDTH) {
            let at = |x: f64, tension: f64| Extreme {
                tension,
                md: chunk.from[i] + x * chunk.length[i],
                wob: chunk.wob[i],
            };
            let ends = [at(0.0, chunk.t0[i]), at(1.0, chunk.t1[i])];
            let [least, most] = self.tension.get_or_insert([ends[0]; 2]);
            for end in ends {
                least.lower(end);
                most.raise(end);
            }
            let far = chunk.beyond(i, walk.jump());
            let (a, b) = (chunk.t0[i], chunk.t1[i]);
            if summary.turning && (a.max(b) + far > most.tension || a.min(b) - far < least.tension)
            {
                let [(x, low), (y, high)] = walk.extremes(chunk, i);
                least.lower(at(x, low));
                most.raise(at(y, high));
            }
        }
    }

    /// Smallest and largest tension, found by the tables, by the path itself.
    pub(super) fn tension(&self, walk: &Walk<'_>) -> Option<[f64; 2]> {
        self.tension.map(|extremes| extremes.map(|e| walk.by_path(e.md, e.wob)))
    }

    /// Flags a piece that is more compressed than its hold on the low side allows, and adds its hours.
    fn buckling(&self, chunk: &Chunk, body: &Body, walk: &Walk<'_>, found: &mut PartExposure) {
        let mut strut = (0.0_f64, (f64::INFINITY, f64::INFINITY));
        for i in 0..chunk.len.min(WIDTH) {
            let (t0, t1, bend) = (chunk.t0[i], chunk.t1[i], self.curvature[i]);
            let far = chunk.beyond(i, walk.jump());
            if chunk.hole[i] <= 0.0 {
                found.flags.add_if(t0.min(t1) < 0.0, Flags::BUCKLING_UNKNOWN);
                continue;
            }
            if chunk.hole[i].to_bits() != strut.0.to_bits() {
                strut = (chunk.hole[i], body.strut(chunk.hole[i]));
            }
            let (scale, vertical) = strut.1;
            // compression beyond the critical one, N
            let over = |tension: f64, hold: f64| -tension - vertical.max((scale * hold).sqrt());
            if far - t0.min(t1) <= vertical {
                continue;
            }
            let ends = [(t0, self.n0[i]), (t1, self.n1[i])]
                .map(|(t, normal)| inward(t, bend, body.weight, normal));
            let span = (ends[1] - ends[0]).abs() + bend * far + body.weight * self.turned[i];
            let least = (ends[0].abs().min(ends[1].abs()) - span).max(0.0);
            let most = ends[0].abs().max(ends[1].abs()) + span;
            let aside = body.weight * self.binormal[i];
            let hold = |inward: f64| (inward * inward + aside * aside).sqrt();
            if over(t0.min(t1) - far, hold(least)) <= 0.0 {
                continue;
            }
            if over(t0.max(t1) + far, hold(most)) > 0.0 {
                found.flags.add(Flags::BUCKLED);
                found.hours_buckled += chunk.hours[i];
                continue;
            }
            let (from, length, wob) = (chunk.from[i], chunk.length[i], chunk.wob[i]);
            let at = |x: f64| {
                let tension = walk.exact(from + x * length, wob).0;
                over(tension, self.force(i, x, tension, body.weight))
            };
            let exact = |x: f64| {
                let tension = walk.by_path(from + x * length, wob);
                over(tension, self.force(i, x, tension, body.weight))
            };
            let share = special::share_above(&Cuts::equal(8), at, exact);
            found.hours_buckled += share * chunk.hours[i];
            if !found.flags.contains(Flags::BUCKLED) {
                found.flags.add_if(special::peak(at, (at(0.0), at(1.0))) > 0.0, Flags::BUCKLED);
            }
        }
    }
}

/// Tension and its integral at a place of a piece.
#[derive(Debug, Clone, Copy)]
struct Load {
    x: f64,
    tension: f64,
    sum: f64,
}

/// An integral between two places by its halves, and by theirs, until that changes it no more.
fn halved(
    load: &impl Fn(f64) -> Load,
    integral: &impl Fn(&Load, &Load) -> f64,
    (a, b): (Load, Load),
    whole: f64,
    (close, times): (f64, u32),
) -> f64 {
    let middle = load(0.5 * (a.x + b.x));
    let (left, right) = (integral(&a, &middle), integral(&middle, &b));
    if times == 0 || (left + right - whole).abs() <= close {
        return left + right;
    }
    let further = (close, times - 1);
    halved(load, integral, (a, middle), left, further)
        + halved(load, integral, (middle, b), right, further)
}

/// A component of the normal between its values at the ends: a line, and what n'' = −κ²n adds to it.
#[inline(always)]
fn between((n0, n1): (f64, f64), turned: f64, (x, y): (f64, f64)) -> f64 {
    let line = y * n0 + x * n1;
    line + (n0 + n1 + line) * (x * y * turned)
}

/// Square of the side force per metre, (Tκ + w n·k)² + (w b·k)².
#[inline(always)]
fn squared(tension: f64, curvature: f64, weight: f64, normal: f64, binormal: f64) -> f64 {
    side_force_squared(inward(tension, curvature, weight, normal), weight * binormal)
}

/// What is largest among a chunk's pieces.
#[derive(Debug, Clone, Copy)]
struct Largest {
    /// Above 0 where the force has a corner on some piece or near it.
    corner: f64,
    /// Side force at an end of a piece, N/m.
    end: f64,
    /// What it can't exceed anywhere.
    bound: f64,
}

/// The pass over a chunk's side forces, for the widest vectors at hand.
struct Forces<'a> {
    middle: &'a mut Middle,
    chunk: &'a Chunk,
    rule: &'a Rule,
    weight: f64,
    jump: f64,
}

impl pulp::NullaryFnOnce for Forces<'_> {
    type Output = Largest;

    #[inline(always)]
    fn call(self) -> Largest {
        self.middle.forces(self.chunk, self.rule, (self.weight, self.jump))
    }
}
