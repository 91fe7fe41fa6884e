//! Dogleg of a joint: the sharpest bend of the hole anywhere along it, from shoulder to shoulder.
//!
//! As a function of the depth of the pin shoulder it is piecewise constant and changes only where a
//! shoulder passes a station: the pin comes to an arc where that begins, the box leaves one a joint's
//! length below its end. A sliding maximum over the arcs gives its steps in one pass down the depths
//! that the log sweeps; turns and hours per metre of bit depth are the same for all joints, so they
//! are added up once ([`Rates`]) and cut at the steps exactly.

use std::collections::VecDeque;

use super::walk::Turning;
use crate::mechanics::path::Path;

/// What a joint turned in one dogleg.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DoglegTime {
    /// Curvature, rad/m.
    pub curvature: f64,
    pub turns: f64,
    pub hours: f64,
}

/// A stretch of hole of one curvature, up to where the next one starts.
#[derive(Debug, Clone, Copy)]
struct Bend {
    md: f64,
    curvature: f64,
}

/// The bends of a hole from the table down; the last one has no end.
#[derive(Debug, Clone)]
pub(super) struct Bends(Vec<Bend>);

impl Bends {
    /// Of a path, with this curvature (rad/m) added everywhere.
    pub(super) fn new(path: &Path, tortuosity: f64) -> Self {
        let arcs = path.arcs().iter();
        let mut bends: Vec<Bend> =
            arcs.map(|arc| Bend { md: arc.md, curvature: arc.curvature + tortuosity }).collect();
        bends.dedup_by(|next, bend| next.curvature.to_bits() == bend.curvature.to_bits());
        Self(bends)
    }

    /// Depth where a bend ends.
    fn end(&self, index: usize) -> f64 {
        self.0.get(index + 1).map_or(f64::INFINITY, |next| next.md)
    }

    /// The sharpest bend along a part whose pin shoulder stands at a depth.
    fn at(&self, pin: f64, length: f64) -> f64 {
        let first = self.0.partition_point(|bend| bend.md <= pin - length).saturating_sub(1);
        let overlapping = self.0[first..].iter().take_while(|bend| bend.md < pin);
        overlapping.map(|bend| bend.curvature).fold(0.0, f64::max)
    }

    /// Turns and hours of a part of some length whose pin shoulder is at a distance from the bit, by
    /// dogleg, while its middle is below the table.
    pub(super) fn times(&self, rates: &Rates, (distance, length): (f64, f64)) -> Vec<DoglegTime> {
        let top = 0.5 * length;
        let mut times = Vec::new();
        let below = rates.moving.partition_point(|rate| rate.from - distance <= top);
        let stretches = &rates.moving[below.saturating_sub(1)..];
        if let Some(first) = stretches.first() {
            let mut from = (first.from - distance).max(top);
            let mut part = Sliding::new(self, length, from);
            let mut time = DoglegTime { curvature: part.curvature, turns: 0.0, hours: 0.0 };
            for pair in stretches.windows(2) {
                let (rate, high) = (&pair[0], pair[1].from - distance);
                loop {
                    let until = part.until();
                    let to = until.min(high);
                    time.turns += rate.turns * (to - from);
                    time.hours += rate.hours * (to - from);
                    from = to;
                    if until > high {
                        break;
                    }
                    part.step();
                    if part.curvature.to_bits() != time.curvature.to_bits() {
                        times.push(time);
                        time = DoglegTime { curvature: part.curvature, turns: 0.0, hours: 0.0 };
                    }
                }
            }
            times.push(time);
        }
        for still in &rates.still {
            let pin = still.high - distance;
            if pin > top {
                let (turns, hours) = still.whole();
                times.push(DoglegTime { curvature: self.at(pin, length), turns, hours });
            }
        }
        times.retain(|time| time.turns > 0.0);
        times
    }
}

/// The sharpest bend along a part that moves down a hole.
struct Sliding<'a> {
    bends: &'a Bends,
    /// Length of the part, m.
    length: f64,
    /// Bends that the part lies in but for those that a later one exceeds, the sharpest first.
    along: VecDeque<(usize, f64)>,
    /// The next bend that the pin shoulder comes to, and its depth there.
    enters: (usize, f64),
    /// The next bend that the box shoulder leaves, and the depth of the pin shoulder there.
    leaves: (usize, f64),
    curvature: f64,
}

impl<'a> Sliding<'a> {
    /// Of a part whose pin shoulder is at a depth, not above the table.
    fn new(bends: &'a Bends, length: f64, pin: f64) -> Self {
        let first = bends.0.partition_point(|bend| bend.md <= pin - length).saturating_sub(1);
        let enters = (first, bends.0[first].md);
        let leaves = (first, bends.end(first) + length);
        let along = VecDeque::new();
        let mut part = Self { bends, length, along, enters, leaves, curvature: 0.0 };
        while part.enters.1 <= pin {
            part.step();
        }
        part
    }

    /// Depth of the pin shoulder up to which the sharpest bend stays what it is.
    fn until(&self) -> f64 {
        self.enters.1.min(self.leaves.1)
    }

    /// Moves on to there.
    fn step(&mut self) {
        let (enter, leave) = (self.enters.1, self.leaves.1);
        if leave <= enter {
            if self.along.front().is_some_and(|bend| bend.0 == self.leaves.0) {
                self.along.pop_front();
            }
            let next = self.leaves.0 + 1;
            self.leaves = (next, self.bends.end(next) + self.length);
        }
        if enter <= leave {
            let bend = (self.enters.0, self.bends.0[self.enters.0].curvature);
            while self.along.back().is_some_and(|last| last.1 <= bend.1) {
                self.along.pop_back();
            }
            self.along.push_back(bend);
            self.enters = (bend.0 + 1, self.bends.end(bend.0));
        }
        self.curvature = self.along.front().map_or(0.0, |sharpest| sharpest.1);
    }
}

/// How fast turns and hours pass by bit depth, all segments of a log together.
#[derive(Debug, Clone)]
pub(super) struct Rates {
    /// Stretches of bit depth, each up to the next; nothing turns in the last, which has no end.
    moving: Vec<Rate>,
    /// Segments in which the bit stood still.
    still: Vec<Turning>,
}

/// Turns and hours per metre of bit depth.
#[derive(Debug, Clone, Copy)]
struct Rate {
    from: f64,
    turns: f64,
    hours: f64,
}

impl Rates {
    pub(super) fn new(turning: &[Turning]) -> Self {
        let (moving, still): (Vec<&Turning>, Vec<&Turning>) = turning.iter().partition(|t| t.high > t.low);
        let mut ends: Vec<f64> = moving.iter().flat_map(|t| [t.low, t.high]).collect();
        ends.sort_by(f64::total_cmp);
        ends.dedup();
        let mut waiting = moving;
        waiting.sort_by(|a, b| b.low.total_cmp(&a.low));
        let mut under_way: Vec<&Turning> = Vec::new();
        let rate = |from: f64| {
            under_way.retain(|t| t.high > from);
            while let Some(next) = waiting.pop_if(|t| t.low <= from) {
                under_way.push(next);
            }
            let sum = |of: fn(&Turning) -> f64| under_way.iter().map(|t| of(t)).sum();
            Rate { from, turns: sum(|t| t.per_metre.0), hours: sum(|t| t.per_metre.1) }
        };
        Self { moving: ends.into_iter().map(rate).collect(), still: still.into_iter().copied().collect() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mechanics::path::Station;

    fn bends() -> Bends {
        let deg = Station::from_degrees;
        let stations = [
            deg(0.0, 0.0, 0.0),
            deg(100.0, 0.0, 0.0),
            deg(130.0, 3.0, 0.0),
            deg(140.0, 6.0, 0.0),
            deg(143.0, 6.3, 0.0),
            deg(200.0, 9.0, 0.0),
            deg(230.0, 9.0, 0.0),
        ];
        Bends::new(&Path::new(&stations).unwrap(), 0.0)
    }

    /// The sliding maximum is the largest of all bends that the part lies in.
    #[test]
    fn steps_are_the_sharpest_bend_along_the_part() {
        let bends = bends();
        for length in [0.3, 2.0, 9.5, 11.0, 45.0] {
            let mut part = Sliding::new(&bends, length, 0.013);
            for i in 0..3_000 {
                let pin = 0.1 * f64::from(i) + 0.013;
                while part.until() <= pin {
                    part.step();
                }
                let step = part.curvature;
                let most = (0..bends.0.len())
                    .filter(|b| bends.0[*b].md < pin && bends.end(*b) > pin - length)
                    .map(|b| bends.0[b].curvature)
                    .fold(0.0, f64::max);
                assert_eq!(step.to_bits(), most.to_bits(), "{length} {pin}");
                assert_eq!(bends.at(pin, length).to_bits(), most.to_bits(), "{length} {pin}");
            }
        }
    }
}
