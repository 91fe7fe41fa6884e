//! What is asked of the middle of a joint only: extremes of tension, side force, wear work,
//! buckling and wall contact.
#![expect(
    clippy::inline_always,
    reason = "a function compiled for wider vectors only passes that on to what is inlined into it"
)]

use super::chunk::{Chunk, Rule, Summary, dot, parabola};
use super::hole::Short;
use super::lanes::{Column, WIDTH, highest};
use super::outcome::{Flags, PartExposure};
use super::special;
use super::walk::Walk;
use crate::mechanics::bending::Span;
use crate::mechanics::loads::Column as Strut;
use crate::mechanics::string::{Part, RunCase};

/// Cells on either side of a corner of the side force.
const CELLS: usize = 6;

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
    /// Half the square of the angle that the piece turns by.
    turned: Column,
    force: Column,
    peak: Column,
    /// Above 0 where the force has a corner on the piece or near it.
    corner: Column,
}

/// Constants of a joint's middle.
#[derive(Debug, Clone, Copy)]
pub(super) struct Body {
    /// Buoyed weight, N/m.
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
        self.turned[i] = 0.5 * angle * angle;
    }

    /// Mean side force of every piece, N/m, and the square of its largest.
    #[inline(always)]
    fn forces(&mut self, chunk: &Chunk, rule: &Rule, weight: f64) {
        let n = chunk.len.min(WIDTH);
        let (t0, t1) = (&chunk.t0[..n], &chunk.t1[..n]);
        let mean = &chunk.mean[..n];
        let (n0, n1) = (&self.n0[..n], &self.n1[..n]);
        let (curvature, binormal) = (&self.curvature[..n], &self.binormal[..n]);
        let turned = &self.turned[..n];
        let (force, peak) = (&mut self.force[..n], &mut self.peak[..n]);
        force.fill(0.0);
        for node in &rule.nodes {
            let (x, y) = (node.x, 1.0 - node.x);
            for i in 0..n {
                let t = node.tension(t0[i], t1[i], mean[i]);
                // the normal turns with the arc: a line, and what n'' = −κ²n adds to it
                let line = y * n0[i] + x * n1[i];
                let normal = line + line * (x * y * turned[i]);
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
            let rise = (b - a).abs();
            let near = rise - a.abs().min(b.abs());
            corner[i] = near.min(2.0 * rise - weight * binormal[i].abs());
        }
    }

    /// Mean side force of a piece along or near which tension comes to carry the weight, so that the
    /// force has a corner there, or nearly: cells that shrink fourfold towards it.
    fn cornered(&self, chunk: &Chunk, i: usize, rule: &Rule, weight: f64) -> f64 {
        let (t0, t1, mean) = (chunk.t0[i], chunk.t1[i], chunk.mean[i]);
        let (bend, aside) = (self.curvature[i], self.binormal[i]);
        let shallow = inward(t0, bend, weight, self.n0[i]);
        let deep = inward(t1, bend, weight, self.n1[i]);
        let corner = (shallow / (shallow - deep)).clamp(0.0, 1.0);
        let mut sum = 0.0;
        for side in [-corner, 1.0 - corner] {
            let mut far = 1.0;
            for cell in 0..CELLS {
                let near = if cell + 1 == CELLS { 0.0 } else { 0.25 * far };
                for node in &rule.nodes {
                    let x = corner + side * (near + (far - near) * node.x);
                    let y = 1.0 - x;
                    let line = y * self.n0[i] + x * self.n1[i];
                    let normal = line + line * (x * y * self.turned[i]);
                    let [a, b, c] = parabola(x);
                    let tension = a * t0 + b * t1 + c * mean;
                    let square = squared(tension, bend, weight, normal, aside);
                    sum += side.abs() * (far - near) * node.weight * square.sqrt();
                }
                far = near;
            }
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
            let force = |x: f64| {
                let (t, _) = walk.exact(from + x * length, wob);
                let y = 1.0 - x;
                let line = y * self.n0[i] + x * self.n1[i];
                let normal = line + line * (x * y * self.turned[i]);
                squared(t, bend, weight, normal, self.binormal[i]).sqrt()
            };
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
        wide.dispatch(Forces { middle: self, chunk, rule, weight: body.weight });
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
                    self.force[i] = self.cornered(chunk, i, rule, body.weight);
                }
            }
        }
        found.side_force_work += body.per_turn * dot(&chunk.turns[..n], &self.force[..n]);
        let largest = found.max_side_force.max(highest(&self.peak[..n]).sqrt());
        found.max_side_force = self.inside(chunk, largest, body.weight, walk);
        found.flags.add_if(high > body.highest, Flags::OVERPULLED);
        if low < 0.0 {
            found.flags.add(Flags::COMPRESSION);
            self.buckling(chunk, body, found);
        }
        Self::contact(chunk, body, (low, high), found);
    }

    /// Flags a piece that is more compressed than its hold on the low side allows.
    fn buckling(&self, chunk: &Chunk, body: &Body, found: &mut PartExposure) {
        let Some((scale, vertical)) = body.strut else {
            found.flags.add(Flags::BUCKLING_UNKNOWN);
            return;
        };
        if found.flags.contains(Flags::BUCKLED) {
            return;
        }
        for i in 0..chunk.len.min(WIDTH) {
            for (t, normal) in [(chunk.t0[i], self.n0[i]), (chunk.t1[i], self.n1[i])] {
                if -t > vertical {
                    let (bend, aside) = (self.curvature[i], self.binormal[i]);
                    let hold = squared(t, bend, body.weight, normal, aside).sqrt();
                    found.flags.add_if(t * t > scale * hold, Flags::BUCKLED);
                }
            }
        }
    }

    /// Flags a piece sharp enough for the tube to touch the wall.
    fn contact(chunk: &Chunk, body: &Body, (low, high): (f64, f64), found: &mut PartExposure) {
        let Some(span) = body.span else { return };
        if found.flags.contains(Flags::WALL_CONTACT) {
            return;
        }
        let n = chunk.len.min(WIDTH);
        // the sharpest bend under the largest force first
        let first = span.contact_curvature(high).min(span.contact_curvature(low));
        if highest(&chunk.bend[..n]) <= first {
            return;
        }
        for i in 0..n {
            for t in [chunk.t0[i], chunk.t1[i]] {
                let touches = chunk.bend[i] > span.contact_curvature(t);
                found.flags.add_if(touches, Flags::WALL_CONTACT);
            }
        }
    }
}

/// How far tension may leave its ends inside a piece, N.
fn rise(chunk: &Chunk, i: usize, walk: &Walk<'_>) -> f64 {
    let length = chunk.length[i];
    let bow = 12.0 * (chunk.mean[i] - 0.5 * (chunk.t0[i] + chunk.t1[i]));
    0.125 * walk.jump() * length * length + bow.abs()
}

/// Side force per metre towards the centre of the bend, Tκ + w n·k.
#[inline(always)]
fn inward(tension: f64, curvature: f64, weight: f64, normal: f64) -> f64 {
    tension * curvature + weight * normal
}

/// Square of the side force per metre: (Tκ + w n·k)² + (w b·k)², as in `loads::side_force`.
#[inline(always)]
fn squared(tension: f64, curvature: f64, weight: f64, normal: f64, binormal: f64) -> f64 {
    let inward = inward(tension, curvature, weight, normal);
    let aside = weight * binormal;
    inward * inward + aside * aside
}

/// The pass over a chunk's side forces, for the widest vectors at hand.
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
