//! The walk of one place of a joint through the hole: piece by piece, with the tension at the ends
//! of each piece and its integral between them.

use super::chunk::{Chunk, Piece};
use super::hanging::Hangings;
use super::hole::{Cubic, Hole, Start};
use super::special::{self, Cuts};
use crate::mechanics::string::Segment;
use crate::model::Activity;

/// A segment in which the string turns.
#[derive(Debug, Clone, Copy)]
pub(super) struct Turning {
    /// Shallowest bit depth, m.
    pub low: f64,
    /// Deepest bit depth, m.
    pub high: f64,
    activity: Activity,
    /// Load on the bit, N.
    wob: f64,
    turns: f64,
    hours: f64,
    /// Turns and hours per metre where the bit moves.
    pub per_metre: (f64, f64),
}

impl Turning {
    pub(super) fn new(segment: &Segment) -> Self {
        let (low, high) = segment.reach();
        let (turns, hours) = (segment.turns(), segment.hours);
        let span = if high > low { high - low } else { 1.0 };
        let per_metre = (turns / span, hours / span);
        let (activity, wob) = (segment.activity, segment.bit_load());
        Self { low, high, activity, wob, turns, hours, per_metre }
    }

    /// Segments in which the string turns, with those joined that follow one another over the same
    /// depths under the same load, as reaming up and down a stand: all but the activity adds up.
    pub(super) fn passes(segments: &[Self]) -> Vec<Self> {
        let mut passes: Vec<Self> = Vec::with_capacity(segments.len());
        for next in segments {
            match passes.last_mut() {
                Some(pass) if pass.sweep() == next.sweep() => pass.add(next),
                _ => passes.push(*next),
            }
        }
        passes
    }

    /// What the tension along it hangs on, as bits.
    fn sweep(&self) -> [u64; 3] {
        [self.low, self.high, self.wob].map(f64::to_bits)
    }

    /// Adds the turns and hours of another pass over the same depths.
    fn add(&mut self, other: &Self) {
        self.turns += other.turns;
        self.hours += other.hours;
        self.per_metre.0 += other.per_metre.0;
        self.per_metre.1 += other.per_metre.1;
    }

    /// All its turns and hours.
    pub(super) const fn whole(&self) -> (f64, f64) {
        (self.turns, self.hours)
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
    /// What hangs below where a segment is deepest, and its integral, of the first segments.
    deepest: &'a [(f64, f64)],
    longest: f64,
}

/// Ripple of u = TL²/EI that a piece may hide: where a weight step below passes from arc to arc
/// inside a piece, tension leaves the parabola by up to J·h²/40, J the jump of its second
/// derivative. Its mean being right, damage misses f''/2f times the square, 2e-7 for this.
const RIPPLE: f64 = 2.5e-4;

/// More than tables of tension miss, N.
const MISSED: f64 = 100.0;

/// One piece of a walk.
#[derive(Debug, Clone, Copy)]
pub(super) struct Step {
    pub short: usize,
    /// Distances of its ends past the start of that arc, m.
    pub along: (f64, f64),
    /// What the rig was doing.
    pub activity: Activity,
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
    /// The walk of a place at a distance from the bit, on a part of this slenderness (L²/EI, 1/N):
    /// slender pipe feels a ripple of tension, so its pieces are shorter. `deepest` is what
    /// [`Hangings::deepest`] says of these segments and the place's level.
    pub(super) fn new(
        hole: &'a Hole,
        hangings: &'a Hangings,
        (turning, deepest): (&'a [Turning], &'a [(f64, f64)]),
        distance: f64,
        slenderness: f64,
    ) -> Self {
        let felt = slenderness * hangings.jump();
        let longest = if felt > 0.0 { (40.0 * RIPPLE / felt).sqrt() } else { f64::INFINITY };
        let level = hangings.level(distance);
        let (weight, table) = (hangings.weight(level), hangings.table(level));
        Self { hole, hangings, turning, distance, weight, table, deepest, longest }
    }

    #[inline]
    fn load(&self, md: f64, depth: (f64, f64)) -> Load {
        self.loaded(md, self.hangings.at(self.table, md + self.distance), depth)
    }

    /// The load at a depth where what hangs below is known.
    #[inline]
    fn loaded(&self, md: f64, (force, sum): (f64, f64), (tvd, integral): (f64, f64)) -> Load {
        Load { md, tension: force - self.weight * tvd, sum: sum - self.weight * integral }
    }

    /// The load where the place is deepest in one of its segments.
    #[inline]
    fn load_deepest(&self, segment: usize, md: f64, depth: (f64, f64)) -> Load {
        match self.deepest.get(segment) {
            Some(hanging) => self.loaded(md, *hanging, depth),
            None => self.load(md, depth),
        }
    }

    /// Tension, and its integral from some depth, at a depth with this weight on bit.
    pub(super) fn exact(&self, md: f64, wob: f64) -> (f64, f64) {
        let arc = self.hole.at(md);
        let load = self.load(md, self.hole.depth(arc, md - self.hole.starts[arc].md));
        (load.tension - wob, load.sum - wob * md)
    }

    /// Tension at a depth with this weight on bit by the path itself, without the tables.
    pub(super) fn by_path(&self, md: f64, wob: f64) -> f64 {
        let path = &self.hole.path;
        let hanging = self.hangings.by_path(path, md + self.distance, self.distance);
        hanging - self.weight * path.tvd(md) - wob
    }

    /// Largest jump of the second derivative of tension inside a piece, N/m².
    pub(super) fn jump(&self) -> f64 {
        self.hangings.jump()
    }

    /// Where on a chunk's piece tension is smallest and largest, and its values there.
    pub(super) fn extremes(&self, chunk: &Chunk, i: usize) -> [(f64, f64); 2] {
        let (from, length, wob) = (chunk.from[i], chunk.length[i], chunk.wob[i]);
        special::extremes(chunk, i, self.jump(), |x| self.exact(from + x * length, wob).0)
    }

    /// Calls `each` with every piece: cut at the table and wherever the place passes from one short
    /// arc to the next. Straight pieces are left out unless `ALL`.
    #[inline]
    pub(super) fn pieces<const ALL: bool>(&self, mut each: impl FnMut(&Step)) {
        let starts = &self.hole.starts;
        let mut arc = 0;
        // where the last piece ended, which is often where the next one starts
        let mut at = Load { md: f64::NAN, tension: 0.0, sum: 0.0 };
        for (segment, turning) in self.turning.iter().enumerate() {
            let deep = turning.high - self.distance;
            if deep <= 0.0 {
                continue;
            }
            let shallow = (turning.low - self.distance).max(0.0);
            arc = self.hole.find(shallow, arc);
            if deep <= shallow {
                // standing still: all turns at one depth
                if ALL || starts[arc].bend > 0.0 {
                    each(&self.still(segment, arc, deep));
                }
                continue;
            }
            let mut from = shallow;
            loop {
                let (start, next) = (&starts[arc], &starts[arc + 1]);
                let last = next.md >= deep;
                if ALL || start.bend > 0.0 {
                    let end = if last { deep } else { next.md };
                    let mut a = if at.md.to_bits() == from.to_bits() {
                        at
                    } else {
                        self.load(from, self.hole.depth(arc, from - start.md))
                    };
                    let mut left = self.parts(end - from);
                    while left > 0.0 {
                        at = if left > 1.0 {
                            let md = a.md + (end - a.md) / left;
                            self.load(md, self.hole.depth(arc, md - start.md))
                        } else if last {
                            let depth = self.hole.depth(arc, deep - start.md);
                            self.load_deepest(segment, deep, depth)
                        } else {
                            self.load(next.md, (next.tvd, next.integral))
                        };
                        each(&piece(turning, (arc, start), a, at));
                        a = at;
                        left -= 1.0;
                    }
                }
                if last {
                    break;
                }
                arc += 1;
                from = next.md;
            }
        }
    }

    /// The walk of the same place through these segments.
    pub(super) fn through<'b>(self, turning: &'b [Turning]) -> Walk<'b>
    where
        'a: 'b,
    {
        Walk { turning, deepest: &[], ..self }
    }

    /// Hours in which the place turned in compression, in straight hole too.
    pub(super) fn hours_in_compression(&self) -> f64 {
        let mut hours = 0.0;
        self.pieces::<true>(|step| hours += step.piece.hours * self.share_compressed(&step.piece));
        hours
    }

    /// Bound of the tension in a segment in which the place is in the hole, N: it falls no faster than
    /// the steps of weight below and the place's own weight let it.
    pub(super) fn least(&self, turning: &Turning) -> f64 {
        let middle = 0.5 * (turning.low + turning.high) - self.distance;
        let reach = 0.5 * (turning.high - turning.low);
        self.exact(middle, turning.wob).0 - self.hangings.steepest(self.distance) * reach - MISSED
    }

    /// Share of a piece on which it is compressed.
    fn share_compressed(&self, piece: &Piece) -> f64 {
        let (a, b) = piece.tension;
        let far = piece.beyond(self.jump());
        if a.min(b) - far >= 0.0 {
            return 0.0;
        }
        if a.max(b) + far < 0.0 {
            return 1.0;
        }
        let md = |x: f64| piece.from + x * piece.length;
        let pressed = |x: f64| -self.exact(md(x), piece.wob).0;
        let by_path = |x: f64| -self.by_path(md(x), piece.wob);
        special::share_above(&Cuts::equal(4), pressed, by_path)
    }

    /// Into how many parts a piece of some length is cut.
    #[inline]
    fn parts(&self, length: f64) -> f64 {
        if length > self.longest { (length / self.longest).ceil() } else { 1.0 }
    }

    /// The piece without length of a segment in which the bit stands still.
    fn still(&self, segment: usize, arc: usize, md: f64) -> Step {
        let (turning, start) = (&self.turning[segment], &self.hole.starts[arc]);
        let along = md - start.md;
        let load = self.load_deepest(segment, md, self.hole.depth(arc, along));
        let tension = load.tension - turning.wob;
        let piece = Piece {
            tension: (tension, tension),
            integral: 0.0,
            from: md,
            length: 0.0,
            wob: turning.wob,
            bend: start.bend,
            hole: start.diameter,
            turns: turning.turns,
            hours: turning.hours,
        };
        Step { short: arc, along: (along, along), activity: turning.activity, piece }
    }
}

/// The piece of a segment between two depths of a short arc.
#[inline]
fn piece(turning: &Turning, (arc, start): (usize, &Start), a: Load, b: Load) -> Step {
    let length = b.md - a.md;
    Step {
        short: arc,
        along: (a.md - start.md, b.md - start.md),
        activity: turning.activity,
        piece: Piece {
            tension: (a.tension - turning.wob, b.tension - turning.wob),
            integral: (b.sum - a.sum) - turning.wob * length,
            from: a.md,
            length,
            wob: turning.wob,
            bend: start.bend,
            hole: start.diameter,
            turns: turning.per_metre.0 * length,
            hours: turning.per_metre.1 * length,
        },
    }
}
