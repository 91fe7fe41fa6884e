//! What lost wall does to damage, said with its conditions.
//!
//! At the ends of a joint the stress range goes as D·g(u)/(1 − T/(A·Su)), with g = k/tanh k, k² = u =
//! TL²/EI. When the bore grows (inside wear, corrosion) D stays, I and A fall, and stress rises,
//! whatever the tension, while there is any. When wear takes the outside, D falls too, and with β the bore over the
//! outside diameter
//!
//!   d ln range / d ln D = 1 − s·4/(1 − β⁴) − x/(1 − x)·2/(1 − β²),  s = ½(1 − 2k/sinh 2k), x = T/(A·Su)
//!
//! so damage grows with outside wear only above a tension (23 kN for new 5 in 19.50 lb/ft, mean
//! stress left out) and falls below it: a thinner tube bent to the curve of the hole is strained
//! less. At mid-span tension straightens a limber tube more, so there bending falls with lost wall
//! and only the mean stress grows.

use pipelore::mechanics::bending::{Span, Tube};
use pipelore::mechanics::exposure::{MIDDLE, Settings};
use pipelore::mechanics::fatigue::MeanStress;
use pipelore::mechanics::string::{Bore, Part, RunCase};
use proptest::prelude::*;
use proptest::sample::Index;

use crate::exposure_random::{AIR, Recipe, always_pulled, cases, exposure, recipe, settings};

/// The derivative above for a part that spans tool joints: below 0 where range grows with wear.
fn with_outside_wear(part: &Part, tension: f64) -> f64 {
    let t = tension.max(0.0);
    let k = 0.5 * part.length * (t / part.stiffness()).sqrt();
    let s = if k > 1e-4 { 0.5 * (1.0 - 2.0 * k / (2.0 * k).sinh()) } else { k * k / 3.0 };
    let ratio = (part.id / part.od).powi(2);
    let x = t / (part.area() * part.material.ultimate_strength);
    1.0 - s * 4.0 / (1.0 - ratio * ratio) - x / (1.0 - x) * 2.0 / (1.0 - ratio)
}

fn ends(recipe: &Recipe, settings: &Settings, part: usize) -> f64 {
    let d = exposure(&recipe.run(), settings, part).damage;
    d[0] + d[2]
}

proptest! {
    #![proptest_config(cases(64))]

    #[test]
    fn damage_of_the_ends_grows_as_the_bore_does(
        recipe in recipe(),
        at in any::<Index>(),
        lost in 0.01..0.4_f64,
    ) {
        let part = at.index(recipe.parts.len());
        let mut worn = recipe.clone();
        worn.parts[part].id += lost * (worn.parts[part].od - worn.parts[part].id);
        let settings = settings(AIR);
        // compression bends the ends less the more limber they are
        prop_assume!(always_pulled(&recipe, &settings, part));
        let (new, old) = (ends(&recipe, &settings, part), ends(&worn, &settings, part));
        prop_assert!(old >= new * (1.0 - 1e-9), "{new} {old}");
    }

    #[test]
    fn damage_of_the_ends_follows_outside_wear_by_its_condition(
        recipe in recipe(),
        at in any::<Index>(),
        lost in 0.01..0.3_f64,
    ) {
        let part = at.index(recipe.parts.len());
        let settings = settings(AIR);
        prop_assume!(always_pulled(&recipe, &settings, part));
        let new = recipe.parts[part];
        let mut worn = recipe.clone();
        worn.parts[part].od -= lost * (new.od - new.id);
        let run = exposure(&recipe.run(), &settings, part);
        let (Some(high), Some(low)) = (run.max_tension, run.min_tension) else { return Ok(()) };
        // the ends are half a joint away from the middle, whose tension is reported
        let aside = 0.5 * new.length * new.air_weight * 9.81;
        let (before, after) = (ends(&recipe, &settings, part), ends(&worn, &settings, part));
        if new.kind.spans_tool_joints() && with_outside_wear(&new, low - aside) < 0.0 {
            prop_assert!(after >= before * (1.0 - 1e-9), "{before} {after}");
        } else if !new.kind.spans_tool_joints() {
            // no tool joints to hold the ends: bending goes as D, mean stress as 1/A
        } else if with_outside_wear(&worn.parts[part], high + aside) > 0.0 {
            prop_assert!(after <= before * (1.0 + 1e-9), "{before} {after}");
        }
    }

    #[test]
    fn bending_at_mid_span_falls_with_lost_wall(
        recipe in recipe(),
        at in any::<Index>(),
        lost in 0.01..0.4_f64,
        outside in any::<bool>(),
    ) {
        let part = at.index(recipe.parts.len());
        let settings = Settings { mean_stress: MeanStress::None, ..settings(AIR) };
        let mut worn = recipe.clone();
        let p = &mut worn.parts[part];
        let gone = lost * (p.od - p.id);
        if outside { p.od -= gone } else { p.id += gone }
        prop_assume!(always_pulled(&recipe, &settings, part));
        // on a wall it is the wall that bends the middle
        let middle = |recipe: &Recipe| {
            let free = RunCase { bore: Bore::default(), ..recipe.run() };
            exposure(&free, &settings, part).damage[MIDDLE]
        };
        prop_assert!(middle(&worn) <= middle(&recipe) * (1.0 + 1e-9));
    }
}

/// Both sides of the condition are met: 5 in 19.50 lb/ft, half a joint of 15 ft, no mean stress.
#[test]
fn the_tension_above_which_outside_wear_adds_stress() {
    const INCH: f64 = 0.0254;
    let stress = |od: f64, tension: f64| {
        let id = 4.276 * INCH;
        let tube = Tube {
            od,
            area: core::f64::consts::PI / 4.0 * (od * od - id * id),
            young: 206_842_700_000.0,
            span: Span {
                half_length: 180.0 * INCH,
                stiffness: 206_842_700_000.0 * core::f64::consts::PI / 64.0
                    * (od.powi(4) - id.powi(4)),
                standoff: None,
            },
        };
        tube.bending_stress(tension, 0.002)
    };
    let change = |tension: f64| stress(4.95 * INCH, tension) - stress(5.0 * INCH, tension);
    assert!(change(20e3) < 0.0 && change(26e3) > 0.0, "{} {}", change(20e3), change(26e3));
}
