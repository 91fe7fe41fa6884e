//! Crack growth, as an aid to the next inspection interval.
//!
//! Paris: da/dN = C·ΔK^m, ΔK = Y·Δσ·√(πa); with two stages the slower of the two, no growth below
//! the threshold. With Y constant the life has a closed form on each stage. Constants are data with
//! their provenance; none is specific to drill pipe (such constants were not found).

use super::stress::StressRange;

/// One stage of growth, in N and mm: da/dN in mm, ΔK in N·mm^(−3/2).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stage {
    pub c: f64,
    pub m: f64,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Growth {
    pub name: &'static str,
    /// First stage, and a second one where the law has it.
    pub stages: (Stage, Option<Stage>),
    /// ΔK below which a crack doesn't grow, N·mm^(−3/2).
    pub threshold: f64,
    /// Where the constants come from.
    pub source: &'static str,
    /// `published` or `memory`.
    pub provenance: &'static str,
}

pub const LAWS: [Growth; 7] = [
    Growth {
        name: "two-stage, air, mean",
        stages: (Stage { c: 4.80e-18, m: 5.10 }, Some(Stage { c: 5.86e-13, m: 2.88 })),
        threshold: 140.0,
        source: "JCSS Probabilistic Model Code after BS 7910, R ≥ 0.5",
        provenance: "published",
    },
    Growth {
        name: "upper stage alone, air, mean",
        stages: (Stage { c: 5.86e-13, m: 2.88 }, None),
        threshold: 0.0,
        source: "JCSS Probabilistic Model Code after BS 7910, R ≥ 0.5, second stage",
        provenance: "published",
    },
    Growth {
        name: "two-stage, marine, mean",
        stages: (Stage { c: 5.37e-14, m: 3.42 }, Some(Stage { c: 5.67e-7, m: 1.11 })),
        threshold: 0.0,
        source: "JCSS Probabilistic Model Code after BS 7910",
        provenance: "published",
    },
    Growth {
        name: "simplified, air",
        stages: (Stage { c: 5.21e-13, m: 3.0 }, None),
        threshold: 0.0,
        source: "BS 7910 simplified law",
        provenance: "memory",
    },
    Growth {
        name: "simplified, marine",
        stages: (Stage { c: 2.3e-12, m: 3.0 }, None),
        threshold: 0.0,
        source: "BS 7910 simplified law",
        provenance: "memory",
    },
    Growth {
        name: "martensitic steel",
        // 1.35e-10 m per (MPa·√m)^2.25
        stages: (Stage { c: 1.35e-7 / 2_371.373_705_661_655, m: 2.25 }, None),
        threshold: 0.0,
        source: "Barsom",
        provenance: "memory",
    },
    Growth {
        name: "ferrite-pearlite steel",
        // 6.9e-12 m per (MPa·√m)³
        stages: (Stage { c: 6.9e-9 / 31_622.776_601_683_79, m: 3.0 }, None),
        threshold: 0.0,
        source: "Barsom",
        provenance: "memory",
    },
];

/// What became of a crack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grown {
    /// Its depth after all turns, m; that of the wall where it went through.
    pub depth: f64,
    /// Turns of the same mix after which it goes, or went, through, from its first depth on; infinite
    /// where it does not grow.
    pub through: f64,
}

/// Steps of depth in which growth under mixed ranges is added up, as a share of the depth.
const STEP: f64 = 2e-3;

impl Stage {
    /// Cycles from crack depth `a` to `b` (mm) with ΔK = k·√a.
    fn cycles(&self, k: f64, a: f64, b: f64) -> f64 {
        let rate = self.c * libm::pow(k, self.m);
        let p = 1.0 - 0.5 * self.m;
        if p.abs() < 1e-9 {
            return libm::log(b / a) / rate;
        }
        (libm::pow(b, p) - libm::pow(a, p)) / (p * rate)
    }

    fn rate(&self, delta_k: f64) -> f64 {
        self.c * libm::pow(delta_k, self.m)
    }
}

impl Growth {
    /// Growth per cycle, m, of a crack of some depth (m), as [`Growth::cycles`] has it; 0 below the
    /// threshold.
    pub fn rate(&self, depth: f64, range: StressRange, geometry: f64) -> f64 {
        let dk = geometry * range.megapascals() * (core::f64::consts::PI * depth * 1e3).sqrt();
        if dk < self.threshold {
            return 0.0;
        }
        let first = self.stages.0.rate(dk);
        1e-3 * self.stages.1.map_or(first, |s| first.min(s.rate(dk)))
    }

    /// What becomes of a crack of some depth (m) under turns of mixed ranges, taken as evenly mixed,
    /// whichever came first: large turns do not hold up the small ones after them, which is on the
    /// safe side. The wall (m) ends it. Depth goes up in steps of two thousandths, with the growth at
    /// the middle of each.
    pub fn mixed(
        &self,
        depth: f64,
        wall: f64,
        turns: &[(StressRange, f64)],
        geometry: f64,
    ) -> Grown {
        let all: f64 = turns.iter().map(|t| t.1).sum();
        let mut grown = Grown { depth, through: f64::INFINITY };
        if !(all > 0.0 && depth > 0.0 && wall > depth) {
            return grown;
        }
        let rate = |at: f64| {
            turns.iter().map(|(range, n)| n / all * self.rate(at, *range, geometry)).sum::<f64>()
        };
        let (mut at, mut gone) = (depth, 0.0);
        while at < wall {
            let next = (at * (1.0 + STEP)).min(wall);
            let per_turn = rate((at * next).sqrt());
            if per_turn <= 0.0 {
                return Grown { depth: at, through: f64::INFINITY };
            }
            let needs = (next - at) / per_turn;
            if gone <= all && gone + needs > all {
                grown.depth = at + (all - gone) * per_turn;
            }
            (at, gone) = (next, gone + needs);
        }
        if gone <= all {
            grown.depth = wall;
        }
        grown.through = gone;
        grown
    }

    /// Cycles for a crack to grow from one depth to another (m) at a stress range, with a constant
    /// geometry factor Y (about 0.73 for a shallow semicircle at a surface). Infinite when it starts
    /// below the threshold.
    pub fn cycles(&self, from: f64, to: f64, range: StressRange, geometry: f64) -> f64 {
        if !(from > 0.0 && to > from) {
            return 0.0;
        }
        let (a, b) = (from * 1e3, to * 1e3);
        let k = geometry * range.megapascals() * core::f64::consts::PI.sqrt();
        if k * a.sqrt() < self.threshold {
            return f64::INFINITY;
        }
        let (first, Some(second)) = self.stages else {
            return self.stages.0.cycles(k, a, b);
        };
        // the stages cross where C₁K^m₁ = C₂K^m₂
        let crossing = libm::pow(second.c / first.c, 1.0 / (first.m - second.m)) / k;
        let turn = (crossing * crossing).clamp(a, b);
        first.cycles(k, a, turn) + second.cycles(k, turn, b)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Turns of one range, told in two lots, grow a crack as the closed form has it.
    #[test]
    fn a_mix_of_one_range_is_the_closed_form() {
        let range = StressRange::from_megapascals(120.0);
        for law in &LAWS {
            let turns = law.cycles(1e-3, 9e-3, range, 0.73);
            let half = [(range, 0.25 * turns), (range, 0.25 * turns)];
            let grown = law.mixed(1e-3, 9e-3, &half, 0.73);
            if turns.is_infinite() {
                assert_eq!(grown, Grown { depth: 1e-3, through: f64::INFINITY }, "{}", law.name);
                continue;
            }
            assert!((grown.through / turns - 1.0).abs() < 1e-4, "{} {grown:?} {turns}", law.name);
            let reached = law.cycles(1e-3, grown.depth, range, 0.73);
            assert!((reached / turns - 0.5).abs() < 1e-4, "{} {grown:?}", law.name);
        }
    }

    #[test]
    fn what_is_below_the_threshold_grows_nothing() {
        let low = StressRange::from_megapascals(5.0);
        let grown = LAWS[0].mixed(1e-3, 9e-3, &[(low, 1e9)], 0.73);
        assert_eq!(grown, Grown { depth: 1e-3, through: f64::INFINITY });
    }
}
