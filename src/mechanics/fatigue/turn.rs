//! What one turn in a bend costs: from bending amplitude and mean stress to cycles and damage.
//!
//! The chain of the exposure computation at one stress, for limits, sheets and questions of the
//! kind "what would this bend cost": concentration, mean-stress rule, range, curve. Miner's rule
//! makes damage of many turns their number times that of one.

use super::curves::Curve;
use super::mean_stress::MeanStress;
use super::stress::{StressAmplitude, StressRange};
use crate::mechanics::string::Material;

/// What a turn is made of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Loading<'a> {
    /// Bending amplitude without concentration.
    pub amplitude: StressAmplitude,
    /// Mean (axial) stress, Pa; compression counts as none.
    pub mean: f64,
    /// Stress concentration on the amplitude, 1 for none.
    pub concentration: f64,
    pub rule: MeanStress,
    pub material: &'a Material,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turn {
    /// Fully reversed amplitude that does the same damage.
    pub equivalent: StressAmplitude,
    /// Its range, with which the curve is read.
    pub range: StressRange,
    /// Turns to the initiation of a crack; infinite without stress.
    pub cycles: f64,
    /// Damage of the turn.
    pub damage: f64,
    /// The mean stress is so high that the rule has no answer; a hundredfold stress was counted.
    pub beyond_rule: bool,
}

impl Loading<'_> {
    /// One turn of this loading on a curve.
    pub fn turn(&self, curve: &Curve) -> Turn {
        let raised =
            StressAmplitude::from_pascals(self.amplitude.pascals().abs() * self.concentration);
        let equivalent = self.rule.equivalent(raised, self.mean, self.material);
        let range = equivalent.range();
        let (linear, square) = self.rule.factors(self.material);
        let mean = self.mean.max(0.0);
        let reserve = 1.0 - mean * (linear + square * mean);
        if range.megapascals() <= 0.0 {
            return Turn {
                equivalent,
                range,
                cycles: f64::INFINITY,
                damage: 0.0,
                beyond_rule: reserve <= 0.0,
            };
        }
        let cycles = curve.cycles(range);
        Turn { equivalent, range, cycles, damage: cycles.recip(), beyond_rule: reserve <= 0.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::super::curves::CurveTable;
    use super::*;
    use crate::mechanics::constants::PASCALS_PER_PSI;

    #[test]
    fn a_turn_at_the_classic_limit_has_a_finite_life() {
        let curve = CurveTable::shipped().unwrap().get("DNVGL-RP-C203 2016 air B1").unwrap();
        let material = Material::steel(517e6, 689e6);
        let loading = Loading {
            amplitude: StressAmplitude::from_pascals(18_000.0 * PASCALS_PER_PSI),
            mean: 0.0,
            concentration: 1.0,
            rule: MeanStress::Goodman,
            material: &material,
        };
        let turn = loading.turn(curve);
        // 3.4e5 cycles at a range of 248.2 MPa
        assert!((turn.cycles / 3.4e5 - 1.0).abs() < 0.02, "{}", turn.cycles);
        assert!((turn.damage * turn.cycles - 1.0).abs() < 1e-12);
        assert!(!turn.beyond_rule);
        let still =
            Loading { amplitude: StressAmplitude::from_pascals(0.0), ..loading }.turn(curve);
        assert_eq!((still.damage, still.cycles), (0.0, f64::INFINITY));
        let torn = Loading { mean: 700e6, ..loading }.turn(curve);
        assert!(torn.beyond_rule && torn.damage > turn.damage);
        let pushed = Loading { mean: -100e6, ..loading }.turn(curve);
        assert_eq!(pushed, turn);
    }

    #[test]
    fn a_notch_counts_with_the_power_of_the_slope() {
        let curve = CurveTable::shipped().unwrap().get("DNVGL-RP-C203 2016 corrosive B1").unwrap();
        let material = Material::steel(724e6, 793e6);
        let smooth = Loading {
            amplitude: StressAmplitude::from_pascals(100e6),
            mean: 50e6,
            concentration: 1.0,
            rule: MeanStress::Gerber,
            material: &material,
        };
        let cut = Loading { concentration: 2.0, ..smooth };
        let ratio = cut.turn(curve).damage / smooth.turn(curve).damage;
        assert!((ratio - 8.0).abs() < 1e-9, "slope 3: {ratio}");
    }
}
