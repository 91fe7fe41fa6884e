//! The walk of one place of a joint through the hole: piece by piece, with the tension at the ends
//! of each piece and its integral between them.

use super::chunk::Piece;
use super::hanging::Hangings;
use super::hole::{Cubic, Hole};
use crate::mechanics::string::Segment;

/// A segment in which the string turns.
#[derive(Debug, Clone, Copy)]
pub(super) struct Turning {
    /// Shallowest bit depth, m.
    pub low: f64,
    /// Deepest bit depth, m.
    pub high: f64,
    wob: f64,
    turns: f64,
    hours: f64,
    /// Turns and hours per metre where the bit moves.
    per_metre: (f64, f64),
}

impl Turning {
    pub(super) fn new(segment: &Segment) -> Self {
        let (low, high) = segment.reach();
        let (turns, hours) = (segment.turns(), segment.hours);
        let span = if high > low { high - low } else { 1.0 };
        let per_metre = (turns / span, hours / span);
        Self { low, high, wob: segment.wob, turns, hours, per_metre }
    }
}

/// One place of one joint on its walk.
#[derive(Debug, Clone, Copy)]
pub(super) struct Walk<'a> {
    hole: &'a Hole,
    hangings: &'a Hangings,
    turning: &'a [Turning],
    distance: f64,
    weight: f64,
    table: &'a [Cubic],
}

/// One piece of a walk.
#[derive(Debug, Clone, Copy)]
pub(super) struct Step {
    /// Which short arc.
    pub short: usize,
    /// Distances of its ends past the start of that arc, m.
    pub along: (f64, f64),
    /// Hours.
    pub hours: f64,
    /// Loads and turns.
    pub piece: Piece,
}

/// Tension without weight on bit at a measured depth, and its integral from some depth.
#[derive(Debug, Clone, Copy)]
struct Load {
    md: f64,
    tension: f64,
    sum: f64,
}

impl<'a> Walk<'a> {
    /// The walk of a place at a distance from the bit.
    pub(super) fn new(
        hole: &'a Hole,
        hangings: &'a Hangings,
        turning: &'a [Turning],
        distance: f64,
    ) -> Self {
        let level = hangings.level(distance);
        let (weight, table) = (hangings.weight(level), hangings.table(level));
        Self { hole, hangings, turning, distance, weight, table }
    }

    #[inline]
    fn load(&self, md: f64, (tvd, integral): (f64, f64)) -> Load {
        let (force, sum) = self.hangings.at(self.table, md + self.distance);
        Load { md, tension: force - self.weight * tvd, sum: sum - self.weight * integral }
    }

    /// Tension, and its integral from some depth, at a depth with this weight on bit.
    pub(super) fn exact(&self, md: f64, wob: f64) -> (f64, f64) {
        let arc = self.hole.at(md);
        let load = self.load(md, self.hole.depth(arc, md - self.hole.starts[arc].md));
        (load.tension - wob, load.sum - wob * md)
    }

    /// Calls `each` with every piece: cut at the table and wherever the place passes from one short
    /// arc to the next. Straight pieces are left out unless `ALL`.
    #[inline]
    pub(super) fn pieces<const ALL: bool>(&self, mut each: impl FnMut(&Step)) {
        let starts = &self.hole.starts;
        let mut arc = 0;
        // where the last piece ended, which is often where the next one starts
        let mut at = Load { md: f64::NAN, tension: 0.0, sum: 0.0 };
        for turning in self.turning {
            let deep = turning.high - self.distance;
            if deep <= 0.0 {
                continue;
            }
            let shallow = (turning.low - self.distance).max(0.0);
            arc = self.hole.find(shallow, arc);
            if deep <= shallow {
                // standing still: all turns at one depth
                if ALL || starts[arc].bend > 0.0 {
                    each(&self.still(turning, arc, deep));
                }
                continue;
            }
            let mut from = shallow;
            loop {
                let (start, next) = (&starts[arc], &starts[arc + 1]);
                let last = next.md >= deep;
                if ALL || start.bend > 0.0 {
                    let along = from - start.md;
                    let a = if at.md.to_bits() == from.to_bits() {
                        at
                    } else {
                        self.load(from, self.hole.depth(arc, along))
                    };
                    at = if last {
                        self.load(deep, self.hole.depth(arc, deep - start.md))
                    } else {
                        self.load(next.md, (next.tvd, next.integral))
                    };
                    let length = at.md - from;
                    let piece = Piece {
                        tension: (a.tension - turning.wob, at.tension - turning.wob),
                        integral: (at.sum - a.sum) - turning.wob * length,
                        from,
                        length,
                        wob: turning.wob,
                        bend: start.bend,
                        turns: turning.per_metre.0 * length,
                    };
                    let hours = turning.per_metre.1 * length;
                    each(&Step { short: arc, along: (along, at.md - start.md), hours, piece });
                }
                if last {
                    break;
                }
                arc += 1;
                from = next.md;
            }
        }
    }

    /// The piece without length of a segment in which the bit stands still.
    fn still(&self, turning: &Turning, arc: usize, md: f64) -> Step {
        let start = &self.hole.starts[arc];
        let along = md - start.md;
        let tension = self.load(md, self.hole.depth(arc, along)).tension - turning.wob;
        let piece = Piece {
            tension: (tension, tension),
            integral: 0.0,
            from: md,
            length: 0.0,
            wob: turning.wob,
            bend: start.bend,
            turns: turning.turns,
        };
        Step { short: arc, along: (along, along), hours: turning.hours, piece }
    }
}
