//! Where in the hole, and doing what, the damage of a joint was done.

use super::chunk::Chunk;
use super::lanes::WIDTH;
use super::prepared::PreparedRun;
use super::settings::Settings;
use crate::mechanics::string::{CaseError, RunCase};
use crate::model::{Activity, Vocabulary};

/// Damage at the three places, in the order pin end, middle, box end.
pub type PlaceDamage = [f64; 3];

/// Damage of one joint or of several, by depth of hole and by activity.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    /// Width of a bin of measured depth, m; the first starts at the table.
    pub width: f64,
    /// Damage in each bin.
    pub by_depth: Vec<PlaceDamage>,
    /// Damage by activity, indexed as [`Activity::ALL`].
    pub by_activity: [PlaceDamage; Activity::ALL.len()],
}

impl Profile {
    /// Adds another profile of the same run and width.
    pub fn add(&mut self, other: &Self) {
        if other.by_depth.len() > self.by_depth.len() {
            self.by_depth.resize(other.by_depth.len(), [0.0; 3]);
        }
        let pairs = self.by_depth.iter_mut().zip(&other.by_depth);
        let kinds = self.by_activity.iter_mut().zip(&other.by_activity);
        for (sum, more) in pairs.chain(kinds) {
            for (a, b) in sum.iter_mut().zip(more) {
                *a += b;
            }
        }
    }
}

/// A run made ready for profiles by bins of measured depth.
#[derive(Debug, Clone)]
pub struct ProfiledRun {
    run: PreparedRun,
    width: f64,
    bins: usize,
}

/// More bins than this are refused: a width in the wrong unit, most likely.
const MOST_BINS: f64 = 100_000.0;

impl ProfiledRun {
    /// Makes a run ready, with bins of this width (m).
    pub fn new(case: &RunCase, settings: &Settings, width: f64) -> Result<Self, CaseError> {
        let deepest = case.segments.iter().map(|s| s.reach().1).fold(0.0, f64::max);
        if !(width > 0.0 && deepest / width < MOST_BINS) {
            return Err(CaseError::Run { what: "bins of depth must be wider, and above 0 m" });
        }
        let mut edges = vec![width];
        while let Some(last) = edges.last()
            && *last <= deepest
        {
            edges.push(width * (edges.len() + 1) as f64);
        }
        let parts = case.string.parts().len();
        let run = PreparedRun::cut_at(case, settings, parts, &edges)?;
        Ok(Self { run, width, bins: edges.len() })
    }

    /// Profile of one part. Its sums are the part's damages but for the last digits, because its
    /// pieces are cut at the bins too.
    pub fn part(&self, index: usize) -> Result<Profile, CaseError> {
        let (part, places) = self.run.located(index)?;
        let responses = self.run.responses(part);
        let mut found = Profile {
            width: self.width,
            by_depth: vec![[0.0; 3]; self.bins],
            by_activity: [[0.0; 3]; Activity::ALL.len()],
        };
        for which in 0..3 {
            let (mut place, walk) = self.run.place(part, &responses[which], places[which]);
            let mut chunk = Chunk::new();
            let mut tags = [(0, 0); WIDTH];
            let mut flush = |chunk: &mut Chunk, tags: &[(usize, usize); WIDTH]| {
                place.add(chunk);
                for (i, (bin, activity)) in tags[..chunk.len].iter().enumerate() {
                    let damage = chunk.turns[i] * chunk.rate[i];
                    found.by_depth[*bin][which] += damage;
                    found.by_activity[*activity][which] += damage;
                }
                chunk.len = 0;
            };
            let mut bin = 0;
            // by activity: each segment by itself
            walk.through(&self.run.turning).pieces::<false>(|step| {
                let middle = step.piece.from + 0.5 * step.piece.length;
                while bin + 1 < self.bins && self.width * (bin + 1) as f64 <= middle {
                    bin += 1;
                }
                while bin > 0 && self.width * bin as f64 > middle {
                    bin -= 1;
                }
                tags[chunk.len] = (bin, step.activity as usize);
                chunk.push(&step.piece);
                if chunk.is_full() {
                    flush(&mut chunk, &tags);
                }
            });
            flush(&mut chunk, &tags);
        }
        Ok(found)
    }
}
