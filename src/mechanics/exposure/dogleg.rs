//! Dogleg of a joint: the sharpest bend of the hole anywhere along it, from shoulder to shoulder.
//!
//! As a function of the depth of the pin shoulder it is piecewise constant and changes only where a
//! shoulder passes a station: the pin comes to an arc where that begins, the box leaves one a joint's
//! length below its end. A sliding maximum over the arcs gives its steps in one pass, and segments of
//! the log are cut at them exactly.

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

    /// Steps of the sharpest bend along a part of some length: from this depth of its pin shoulder on,
    /// this curvature. Above the table there is none.
    fn steps(&self, length: f64) -> Vec<Bend> {
        let mut steps: Vec<Bend> = Vec::with_capacity(2 * self.0.len());
        // bends along the part that no later one exceeds, the sharpest first
        let mut along: VecDeque<usize> = VecDeque::new();
        let (mut enters, mut leaves) = (0, 0);
        loop {
            let enter = self.0.get(enters).map_or(f64::INFINITY, |bend| bend.md);
            let leave = self.end(leaves) + length;
            let md = enter.min(leave);
            if md.is_infinite() {
                return steps;
            }
            if leave <= md {
                if along.front() == Some(&leaves) {
                    along.pop_front();
                }
                leaves += 1;
            }
            if enter <= md {
                let curvature = self.0[enters].curvature;
                while along.back().is_some_and(|last| self.0[*last].curvature <= curvature) {
                    along.pop_back();
                }
                along.push_back(enters);
                enters += 1;
            }
            let curvature = along.front().map_or(0.0, |sharpest| self.0[*sharpest].curvature);
            match steps.last_mut() {
                Some(last) if last.curvature.to_bits() == curvature.to_bits() => {}
                Some(last) if last.md >= md => last.curvature = curvature,
                _ => steps.push(Bend { md, curvature }),
            }
        }
    }

    /// The sharpest bend along a part whose pin shoulder stands at a depth.
    fn at(&self, pin: f64, length: f64) -> f64 {
        let first = self.0.partition_point(|bend| bend.md <= pin - length).saturating_sub(1);
        let overlapping = self.0[first..].iter().take_while(|bend| bend.md < pin);
        overlapping.map(|bend| bend.curvature).fold(0.0, f64::max)
    }

    /// Turns and hours of a part of some length whose pin shoulder is at a distance from the bit, by
    /// dogleg, while its middle is below the table.
    pub(super) fn times(
        &self,
        turning: &[Turning],
        (distance, length): (f64, f64),
    ) -> Vec<DoglegTime> {
        let steps = self.steps(length);
        let mut times: Vec<DoglegTime> = steps
            .iter()
            .map(|step| DoglegTime { curvature: step.curvature, turns: 0.0, hours: 0.0 })
            .collect();
        for segment in turning {
            let (low, high) = (segment.low - distance, segment.high - distance);
            let shallow = low.max(0.5 * length);
            if high <= 0.5 * length {
                continue;
            }
            if high <= low {
                let (turns, hours) = segment.whole();
                let curvature = self.at(high, length);
                times.push(DoglegTime { curvature, turns, hours });
                continue;
            }
            let (turns, hours) = segment.per_metre;
            let first = steps.partition_point(|step| step.md <= shallow).saturating_sub(1);
            let mut from = shallow;
            for (index, time) in times[..steps.len()].iter_mut().enumerate().skip(first) {
                let end = steps.get(index + 1).map_or(f64::INFINITY, |next| next.md);
                let to = end.min(high);
                time.turns += turns * (to - from);
                time.hours += hours * (to - from);
                if end >= high {
                    break;
                }
                from = to;
            }
        }
        times.retain(|time| time.turns > 0.0);
        times
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
            let steps = bends.steps(length);
            for i in 0..3_000 {
                let pin = 0.1 * f64::from(i) + 0.013;
                let at = steps.partition_point(|step| step.md <= pin);
                let step = at.checked_sub(1).map_or(0.0, |index| steps[index].curvature);
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
