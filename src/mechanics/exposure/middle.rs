//! What is asked of the middle of a joint only: extremes of tension, side force, wear work,
//! buckling and wall contact.
#![expect(
    clippy::inline_always,
    reason = "a function compiled for wider vectors only passes that on to what is inlined into it"
)]

use super::chunk::{Chunk, Node, Rule, SHORT, Summary, dot};
use super::hole::Short;
use super::lanes::{Column, WIDTH, highest};
use super::outcome::{Flags, PartExposure};
use super::special;
use super::walk::Walk;
use crate::mechanics::bending::Span;
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
}

/// Constants of a joint's middle.
#[derive(Debug, Clone, Copy)]
pub(super) struct Body {
    weight: f64,
    /// Metres of sliding per turn times length of joint: from N/m to J per turn.
    per_turn: f64,
    /// Span between tool joints, where the part has one and its standoff is known.
    span: Option<Span>,
    /// 4EI/r and the vertical hole's critical load, where the hole diameter is known.
    strut: Option<(f64, f64)>,
    /// Tension at which the classic permissible stress ends.
    highest: f64,
}

impl Body {
    pub(super) fn new(case: &RunCase, part: &Part) -> Self {
        let weight = part.buoyed_weight(&case.fluids);
        let spans = part.kind.spans_tool_joints() && part.tool_joint_od.is_some();
        Self {
            weight,
            per_turn: part.length * core::f64::consts::PI * part.contact_diameter(),
            span: spans.then(|| Span {
                half_length: 0.5 * part.length,
                stiffness: part.stiffness(),
                standoff: part.standoff(),
            }),
            strut: case.hole_diameter.map(|hole| {
                let strut = Strut {
                    stiffness: part.stiffness(),
                    weight,
                    clearance: 0.5 * (hole - part.contact_diameter()),
                    inc: 0.0,
                    build: 0.0,
                    turn: 0.0,
                };
                strut.limits()
            }),
            highest: part.permissible.highest_axial() * part.area(),
        }
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

    /// Mean side force of every piece, N/m, and the square of its largest.
    #[inline(always)]
    fn forces(&mut self, chunk: &Chunk, rule: &Rule, (weight, jump): (f64, f64)) {
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
        let corner = &mut self.corner[..n];
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
        }
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
            let bend = self.curvature[i];
            let end = self.peak[i].sqrt();
            if bend <= 0.0 || end + bend * rise(chunk, i, walk) + weight * self.turned[i] <= largest
            {
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
        wide.dispatch(Forces { middle: self, chunk, rule, weight, jump });
        let n = chunk.len.min(WIDTH);
        let mut high = found.max_tension.map_or(summary.high, |m| m.max(summary.high));
        let mut low = found.min_tension.map_or(summary.low, |m| m.min(summary.low));
        if summary.turning {
            for i in 0..n {
                let (a, b) = (chunk.t0[i], chunk.t1[i]);
                let far = rise(chunk, i, walk);
                if a.max(b) + far > high || a.min(b) - far < low {
                    let (smallest, largest) = walk.extremes(chunk, i);
                    high = high.max(largest);
                    low = low.min(smallest);
                }
            }
        }
        found.max_tension = Some(high);
        found.min_tension = Some(low);
        if highest(&self.corner[..n]) > 0.0 {
            for i in 0..n {
                if self.corner[i] > 0.0 {
                    self.force[i] = self.cornered(chunk, i, rule, weight, walk);
                }
            }
        }
        found.side_force_work += body.per_turn * dot(&chunk.turns[..n], &self.force[..n]);
        let largest = found.max_side_force.max(highest(&self.peak[..n]).sqrt());
        found.max_side_force = self.inside(chunk, largest, body.weight, walk);
        found.flags.add_if(high > body.highest, Flags::OVERPULLED);
        if low < 0.0 {
            found.flags.add(Flags::COMPRESSION);
            self.buckling(chunk, body, walk, found);
        }
        Self::contact(chunk, body, (low, high), walk, found);
    }

    /// Flags a piece that is more compressed than its hold on the low side allows.
    fn buckling(&self, chunk: &Chunk, body: &Body, walk: &Walk<'_>, found: &mut PartExposure) {
        let Some((scale, vertical)) = body.strut else {
            found.flags.add(Flags::BUCKLING_UNKNOWN);
            return;
        };
        // compression beyond the critical one, N
        let over = |tension: f64, hold: f64| -tension - vertical.max((scale * hold).sqrt());
        for i in 0..chunk.len.min(WIDTH) {
            if found.flags.contains(Flags::BUCKLED) {
                return;
            }
            let (t0, t1, bend) = (chunk.t0[i], chunk.t1[i], self.curvature[i]);
            let far = rise(chunk, i, walk);
            if far - t0.min(t1) <= vertical {
                continue;
            }
            let ends = [(t0, self.n0[i]), (t1, self.n1[i])]
                .map(|(t, normal)| inward(t, bend, body.weight, normal));
            let span = (ends[1] - ends[0]).abs() + bend * far + body.weight * self.turned[i];
            let least = (ends[0].abs().min(ends[1].abs()) - span).max(0.0);
            let aside = body.weight * self.binormal[i];
            if over(t0.min(t1) - far, (least * least + aside * aside).sqrt()) <= 0.0 {
                continue;
            }
            let (from, length, wob) = (chunk.from[i], chunk.length[i], chunk.wob[i]);
            let at = |x: f64| {
                let tension = walk.exact(from + x * length, wob).0;
                over(tension, self.force(i, x, tension, body.weight))
            };
            found.flags.add_if(special::peak(at, (at(0.0), at(1.0))) > 0.0, Flags::BUCKLED);
        }
    }

    /// Flags a piece sharp enough for the tube to touch the wall.
    fn contact(
        chunk: &Chunk,
        body: &Body,
        (low, high): (f64, f64),
        walk: &Walk<'_>,
        found: &mut PartExposure,
    ) {
        let Some(span) = body.span else { return };
        // the force that bends most at given curvature is an extreme one
        let least =
            |low: f64, high: f64| span.contact_curvature(high).min(span.contact_curvature(low));
        let n = chunk.len.min(WIDTH);
        if found.flags.contains(Flags::WALL_CONTACT)
            || highest(&chunk.bend[..n]) <= least(low, high)
        {
            return;
        }
        for i in 0..n {
            let (t0, t1, far) = (chunk.t0[i], chunk.t1[i], rise(chunk, i, walk));
            if chunk.bend[i] > least(t0.min(t1) - far, t0.max(t1) + far) {
                let (low, high) = walk.extremes(chunk, i);
                found.flags.add_if(chunk.bend[i] > least(low, high), Flags::WALL_CONTACT);
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

/// How far tension may leave its ends inside a piece, N.
fn rise(chunk: &Chunk, i: usize, walk: &Walk<'_>) -> f64 {
    let length = chunk.length[i];
    let bow = 12.0 * (chunk.mean[i] - 0.5 * (chunk.t0[i] + chunk.t1[i]));
    0.125 * walk.jump() * length * length + bow.abs()
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

/// The pass over a chunk's side forces, for the widest vectors at hand.
struct Forces<'a> {
    middle: &'a mut Middle,
    chunk: &'a Chunk,
    rule: &'a Rule,
    weight: f64,
    jump: f64,
}

impl pulp::NullaryFnOnce for Forces<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        self.middle.forces(self.chunk, self.rule, (self.weight, self.jump));
    }
}
