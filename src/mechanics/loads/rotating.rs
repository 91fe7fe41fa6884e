//! Effective tension of a rotating string, in closed form.
//!
//! Rotation takes the friction out of the axial direction (Johancsik, Friesen & Dawson 1984,
//! SPE 11380: the rotating string is the reference weight), so along any path
//! T(x) = −WOB + Σ buoyed weight per metre × true vertical height of what hangs below.
//! Small axial speeds change that by well under a percent (see [`super::soft_string`]).

use crate::mechanics::path::Path;
use crate::mechanics::string::{DrillString, Fluids};

/// A stretch of equal buoyed weight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WeightStep {
    /// Distance from the bit to its lower end, m.
    pub distance: f64,
    pub weight: f64,
}

/// Tension along a rotating string for any bit depth.
#[derive(Debug, Clone)]
pub struct RotatingTension<'a> {
    path: &'a Path,
    steps: Vec<WeightStep>,
    length: f64,
}

/// Stretches of equal weight, from the bit up; equal neighbours are one stretch.
pub fn weight_steps(string: &DrillString, fluids: &Fluids) -> Vec<WeightStep> {
    let mut steps: Vec<WeightStep> = Vec::new();
    for (part, &distance) in string.parts().iter().zip(string.distances()) {
        let weight = part.buoyed_weight(fluids);
        if steps.last().is_none_or(|s| s.weight.to_bits() != weight.to_bits()) {
            steps.push(WeightStep { distance, weight });
        }
    }
    steps
}

impl<'a> RotatingTension<'a> {
    /// Tension of this string in this hole with these fluids.
    pub fn new(path: &'a Path, string: &DrillString, fluids: &Fluids) -> Self {
        Self { path, steps: weight_steps(string, fluids), length: string.length() }
    }

    /// The string hanging with its bit at `bit_depth` (m) and `wob` (N) on the bit.
    pub fn at(&self, bit_depth: f64, wob: f64) -> Hanging<'_> {
        let mut tensions = Vec::with_capacity(self.steps.len());
        let mut tvds = Vec::with_capacity(self.steps.len());
        let mut tension = -wob;
        let mut below: Option<(f64, f64)> = None;
        for step in &self.steps {
            let tvd = self.path.tvd(bit_depth - step.distance);
            if let Some((weight, tvd_below)) = below {
                tension += weight * (tvd_below - tvd);
            }
            tensions.push(tension);
            tvds.push(tvd);
            below = Some((step.weight, tvd));
        }
        Hanging { string: self, bit_depth, tensions, tvds }
    }
}

/// A string at one bit depth: prefix sums over its stretches, so that a question costs a search.
#[derive(Debug, Clone)]
pub struct Hanging<'a> {
    string: &'a RotatingTension<'a>,
    bit_depth: f64,
    tensions: Vec<f64>,
    tvds: Vec<f64>,
}

impl Hanging<'_> {
    /// Effective tension at a distance from the bit, N.
    pub fn tension(&self, distance: f64) -> f64 {
        let steps = &self.string.steps;
        let index = steps.partition_point(|s| s.distance <= distance).saturating_sub(1);
        let tvd = self.string.path.tvd(self.bit_depth - distance);
        self.tensions[index] + steps[index].weight * (self.tvds[index] - tvd)
    }

    /// Effective tension at the rotary table, N (at the top of the string if it ends below).
    pub fn at_surface(&self) -> f64 {
        self.tension(self.bit_depth.min(self.string.length))
    }
}
