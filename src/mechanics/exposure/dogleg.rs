//! Dogleg of a joint: the sharpest bend of the hole anywhere along it, from shoulder to shoulder.
//!
//! As a function of the depth of the pin shoulder it is piecewise constant and changes only where a
//! shoulder passes a station: the pin comes to an arc where that begins, the box leaves one a joint's
//! length below its end. So a bend is the sharpest along a part between two depths that hang on the
//! bends beside it and on the part's length alone. Turns and hours per metre of bit depth are the same
//! for all joints: they are added up once ([`Rates`]) and cut at those depths exactly.

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

/// A stretch of hole of one curvature.
#[derive(Debug, Clone, Copy)]
struct Bend {
    md: f64,
    /// Depth where the next one starts; the last one has no end.
    end: f64,
    curvature: f64,
    /// Where the last sharper bend above it ends.
    sharper_above: f64,
    /// Where the first bend below it starts that is as sharp.
    as_sharp_below: f64,
}

impl Bend {
    /// Depths of the pin shoulder from and up to which this is the sharpest bend along a part of some
    /// length: it is in, what is sharper above it is out, and nothing as sharp has come in below.
    fn sharpest(&self, length: f64) -> (f64, f64) {
        let from = self.md.max(self.sharper_above + length);
        (from, self.as_sharp_below.min(self.end + length))
    }
}

/// The bends of a hole from the table down.
#[derive(Debug, Clone)]
pub(super) struct Bends(Vec<Bend>);

impl Bends {
    /// Of a path, with this curvature (rad/m) added everywhere.
    pub(super) fn new(path: &Path, tortuosity: f64) -> Self {
        let arcs = path.arcs().iter();
        let mut starts: Vec<(f64, f64)> =
            arcs.map(|arc| (arc.md, arc.curvature + tortuosity)).collect();
        starts.dedup_by(|next, bend| next.1.to_bits() == bend.1.to_bits());
        let ends = starts.iter().skip(1).map(|next| next.0).chain([f64::INFINITY]);
        let mut bends: Vec<Bend> = Vec::with_capacity(starts.len());
        // bends so far that no later one is as sharp as, the sharpest first
        let mut standing: Vec<usize> = Vec::new();
        for (&(md, curvature), end) in starts.iter().zip(ends) {
            while let Some(last) = standing.pop_if(|last| bends[*last].curvature <= curvature) {
                bends[last].as_sharp_below = md;
            }
            let sharper_above = standing.last().map_or(f64::NEG_INFINITY, |last| bends[*last].end);
            standing.push(bends.len());
            bends.push(Bend { md, end, curvature, sharper_above, as_sharp_below: f64::INFINITY });
        }
        Self(bends)
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
        let mut times = Vec::with_capacity(self.0.len() + rates.still.len());
        let first = rates.moving.partition_point(|rate| rate.from - distance <= top);
        let mut stretches = rates.moving[first.saturating_sub(1)..].windows(2);
        let mut stretch = stretches.next();
        let mut reached = stretch.map_or(top, |pair| top.max(pair[0].from - distance));
        let passed = self.0.partition_point(|bend| bend.end + length <= reached);
        for bend in &self.0[passed..] {
            let (from, until) = bend.sharpest(length);
            if from.max(reached) >= until {
                continue;
            }
            reached = reached.max(from);
            let mut time = DoglegTime { curvature: bend.curvature, turns: 0.0, hours: 0.0 };
            while let Some([rate, next]) = stretch {
                let high = next.from - distance;
                let to = until.min(high);
                time.turns += rate.turns * (to - reached);
                time.hours += rate.hours * (to - reached);
                reached = to;
                if until < high {
                    break;
                }
                stretch = stretches.next();
            }
            times.push(time);
            if stretch.is_none() {
                break;
            }
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
        let (moving, still): (Vec<&Turning>, Vec<&Turning>) =
            turning.iter().partition(|t| t.high > t.low);
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
        Self {
            moving: ends.into_iter().map(rate).collect(),
            still: still.into_iter().copied().collect(),
        }
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
            for i in 0..3_000 {
                let pin = 0.1 * f64::from(i) + 0.013;
                let holds = |bend: &&Bend| {
                    let (from, until) = bend.sharpest(length);
                    from <= pin && pin < until
                };
                let sharpest: Vec<&Bend> = bends.0.iter().filter(holds).collect();
                assert_eq!(sharpest.len(), 1, "{length} {pin}");
                let step = sharpest[0].curvature;
                let most = (0..bends.0.len())
                    .filter(|b| bends.0[*b].md < pin && bends.0[*b].end > pin - length)
                    .map(|b| bends.0[b].curvature)
                    .fold(0.0, f64::max);
                assert_eq!(step.to_bits(), most.to_bits(), "{length} {pin}");
                assert_eq!(bends.at(pin, length).to_bits(), most.to_bits(), "{length} {pin}");
            }
        }
    }
}
