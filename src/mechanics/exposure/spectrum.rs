//! Turns of one place of a joint by the range of its bending stress: what a crack there grows by.

use std::collections::BTreeMap;

use super::chunk::Chunk;
use super::prepared::PreparedRun;
use crate::mechanics::fatigue::StressRange;
use crate::mechanics::string::{CaseError, Part};

/// Width of a bin, of the logarithm of the range: what falls into one is at most a per cent apart.
const WIDTH: f64 = 0.01;

/// Turns by range of bending stress, stress concentration included, mean stress not.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Spectrum {
    /// Turns, and turns times range (MPa), of each bin.
    bins: BTreeMap<i64, (f64, f64)>,
}

impl Spectrum {
    fn put(&mut self, range: f64, turns: f64) {
        if range > 0.0 && turns > 0.0 {
            #[expect(clippy::cast_possible_truncation, reason = "a logarithm of some megapascals")]
            let bin = (libm::log(range) / WIDTH).floor() as i64;
            let (sum, weighted) = self.bins.entry(bin).or_default();
            *sum += turns;
            *weighted += turns * range;
        }
    }

    /// Adds what came at another time.
    pub fn add(&mut self, other: &Self) {
        for (bin, (turns, weighted)) in &other.bins {
            let sum = self.bins.entry(*bin).or_default();
            sum.0 += turns;
            sum.1 += weighted;
        }
    }

    /// Ranges with their turns, the lowest first.
    pub fn turns(&self) -> Vec<(StressRange, f64)> {
        let of = |(turns, weighted): &(f64, f64)| {
            (StressRange::from_megapascals(weighted / turns), *turns)
        };
        self.bins.values().map(of).collect()
    }
}

/// Places on a piece at which its range is taken, and the shares of its turns: Gauss–Legendre of three
/// points.
const NODES: [(f64, f64); 3] = [
    (0.112_701_665_379_258_31, 5.0 / 18.0),
    (0.5, 8.0 / 18.0),
    (0.887_298_334_620_741_7, 5.0 / 18.0),
];

impl PreparedRun {
    /// Turns of a place of a part (0 pin end, 1 middle, 2 box end) that is like this one, by its
    /// stress range. Turns in straight hole have none and are left out.
    pub fn spectrum(&self, index: usize, part: &Part, which: usize) -> Result<Spectrum, CaseError> {
        let (_, places) = self.located(index)?;
        let response = self.responses(part)[which];
        let (place, walk) = self.place(part, &response, places[which]);
        let mut found = Spectrum::default();
        let mut chunk = Chunk::new();
        walk.pieces::<false>(|step| {
            chunk.len = 0;
            chunk.push(&step.piece);
            // of a piece without length all nodes are one
            for (x, share) in NODES {
                found.put(place.nominal_at(&chunk, x), share * step.piece.turns);
            }
        });
        Ok(found)
    }
}
