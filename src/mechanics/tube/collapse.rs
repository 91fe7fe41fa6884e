//! Collapse of a round tube under external pressure: the four regimes of API 5C3, and what axial
//! tension takes from it.
//!
//! Source: API Bulletin 5C3 (1985–1994 editions), section 2; the regimes, their limits and the
//! polynomials were read on a public page that cites the 1985 edition (published), which prints the
//! coefficients to one digit less than used here (last digits: memory). Unrounded coefficients are
//! used throughout: the rounded ones miss the published S-135 values by 4 to 5 psi.
//!
//! Limits: round pipe without bending, external minus internal pressure, steel at room temperature;
//! a minimum (not mean) collapse pressure by the fit of the 1960s tests. Ovality from wear, dents
//! or crushing is not in it. The triaxial formula of the 2015 addendum to TR 5C3 and the
//! Klever–Tamano model are not implemented.

use super::error::TubeError;
use super::input::{MAX_LOAD, MAX_STRESS, Quantity, bounded, positive};
use super::us::PSI;
use super::wear::{Tube, WallOnDiameter};

/// Lowest yield (or effective yield) for which the polynomials order their regimes, Pa: 24,000 psi
/// (computed: below it the plastic limit no longer rises as yield falls).
pub const MIN_COLLAPSE_YIELD: f64 = 24_000.0 * PSI;
/// Highest yield accepted, Pa: 200,000 psi, beyond every grade of drill pipe.
pub const MAX_COLLAPSE_YIELD: f64 = 200_000.0 * PSI;
/// Largest D/t accepted; drill pipe stays below 30 and the elastic form is textbook beyond.
const MAX_SLENDERNESS: f64 = 200.0;
/// Coefficient of the elastic formula, psi.
const ELASTIC: f64 = 46.95e6;

/// Which of the four formulas governs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum CollapseRegime {
    /// Thick wall: the bore yields.
    Yield,
    /// Plastic, an empirical fit.
    Plastic,
    /// Transition between plastic and elastic.
    Transition,
    /// Thin wall: elastic instability.
    Elastic,
}

impl CollapseRegime {
    /// The word that the standard uses.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Yield => "yield strength",
            Self::Plastic => "plastic",
            Self::Transition => "transition",
            Self::Elastic => "elastic",
        }
    }
}

impl std::fmt::Display for CollapseRegime {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.name())
    }
}

/// Coefficients and regime limits for one yield strength. The coefficients belong to psi.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CollapseCoefficients {
    pub a: f64,
    pub b: f64,
    pub c: f64,
    pub f: f64,
    pub g: f64,
    /// Largest D/t of the yield-strength regime.
    pub yield_limit: f64,
    /// Largest D/t of the plastic regime.
    pub plastic_limit: f64,
    /// Largest D/t of the transition regime.
    pub transition_limit: f64,
}

/// A collapse pressure with everything that led to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Collapse {
    pub pressure: f64,
    pub regime: CollapseRegime,
    /// D/t of the worn tube.
    pub slenderness: f64,
    /// Yield strength used (the effective yield under tension), Pa.
    pub yield_strength: f64,
    /// Coefficients for that yield.
    pub coefficients: CollapseCoefficients,
}

/// Returns the collapse coefficients for a yield strength, Pa.
pub fn coefficients(yield_strength: f64) -> Result<CollapseCoefficients, TubeError> {
    let y = positive(Quantity::YieldStrength, yield_strength, MAX_STRESS)?;
    if !(MIN_COLLAPSE_YIELD..=MAX_COLLAPSE_YIELD).contains(&y) {
        return Err(TubeError::CollapseYieldOutside {
            yield_strength,
            min: MIN_COLLAPSE_YIELD,
            max: MAX_COLLAPSE_YIELD,
        });
    }
    let y = y / PSI;
    let (y2, y3) = (y * y, y * y * y);
    let a = 2.8762 + 0.10679e-5 * y + 0.21301e-10 * y2 - 0.53132e-16 * y3;
    let b = 0.026233 + 0.50609e-6 * y;
    let c = -465.93 + 0.030867 * y - 0.10483e-7 * y2 + 0.36989e-13 * y3;
    let ratio = b / a;
    let x = 3.0 * ratio / (2.0 + ratio);
    let f = ELASTIC * x * x * x / (y * (x - ratio) * (1.0 - x) * (1.0 - x));
    let g = f * ratio;
    let bc = b + c / y;
    let a2 = a - 2.0;
    Ok(CollapseCoefficients {
        a,
        b,
        c,
        f,
        g,
        yield_limit: ((a2 * a2 + 8.0 * bc).sqrt() + a2) / (2.0 * bc),
        plastic_limit: y * (a - f) / (c + y * (b - g)),
        transition_limit: (2.0 + ratio) / (3.0 * ratio),
    })
}

/// Returns the collapse pressure of a wall on a diameter (m) for a yield strength, Pa.
pub fn collapse(tube: WallOnDiameter, yield_strength: f64) -> Result<Collapse, TubeError> {
    let k = coefficients(yield_strength)?;
    let x = tube.od / tube.wall;
    if !(2.0..=MAX_SLENDERNESS).contains(&x) {
        return Err(TubeError::CollapseSlendernessOutside {
            ratio: x,
            max: MAX_SLENDERNESS,
            wall: tube.wall,
        });
    }
    let y = yield_strength / PSI;
    let (regime, psi) = if x <= k.yield_limit {
        (CollapseRegime::Yield, 2.0 * y * (x - 1.0) / (x * x))
    } else if x <= k.plastic_limit {
        (CollapseRegime::Plastic, y * (k.a / x - k.b) - k.c)
    } else if x <= k.transition_limit {
        (CollapseRegime::Transition, y * (k.f / x - k.g))
    } else {
        (CollapseRegime::Elastic, ELASTIC / (x * (x - 1.0) * (x - 1.0)))
    };
    Ok(Collapse { pressure: psi * PSI, regime, slenderness: x, yield_strength, coefficients: k })
}

/// How tension lowers collapse.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CollapseUnderTension {
    /// API 5C3 section 2.1.5: the effective yield `Y [√(1 − 0.75 s²) − 0.5 s]`, `s = σ/Y`, goes
    /// through the collapse formulas again (memory).
    EffectiveYield,
    /// API RP 7G section 12: the tension-free pressure times `[√(4 − 3 z²) − z]/2`,
    /// `z = σ / average yield` (memory). The average yield is that of the grade, Pa.
    AverageYieldScaling {
        /// Average yield strength of the grade, Pa.
        average_yield: f64,
    },
}

/// A collapse pressure under tension.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CollapseWithTension {
    /// Collapse pressure under that tension, Pa.
    pub pressure: f64,
    pub method: CollapseUnderTension,
    /// Axial stress in the worn section, Pa.
    pub axial_stress: f64,
    /// Axial stress over the yield that the method uses.
    pub stress_ratio: f64,
    /// Effective yield over yield, or the scaling factor of the pressure.
    pub reduction: f64,
    /// The calculation that the pressure comes from: with the effective yield, or without tension.
    pub base: Collapse,
}

/// Returns the collapse pressure of a tube that carries an axial tension, N.
///
/// Tension only: compression is refused, since neither method gives credit for it. Tension that
/// leaves an effective yield under 24 ksi is outside the polynomials and refused: such a tube has no
/// collapse rating to rely on.
pub fn collapse_under_tension(
    tube: &Tube,
    yield_strength: f64,
    tension: f64,
    method: CollapseUnderTension,
) -> Result<CollapseWithTension, TubeError> {
    let tension = bounded(Quantity::Load, tension, MAX_LOAD)?;
    if tension < 0.0 {
        return Err(TubeError::Compression { load: tension });
    }
    let axial_stress = tension / tube.section.area;
    match method {
        CollapseUnderTension::EffectiveYield => {
            let y = positive(Quantity::YieldStrength, yield_strength, MAX_STRESS)?;
            let s = within_yield(axial_stress / y, tension, y * tube.section.area)?;
            let reduction = (1.0 - 0.75 * s * s).sqrt() - 0.5 * s;
            let base = collapse(tube.collapse, y * reduction)?;
            Ok(CollapseWithTension {
                pressure: base.pressure,
                method,
                axial_stress,
                stress_ratio: s,
                reduction,
                base,
            })
        }
        CollapseUnderTension::AverageYieldScaling { average_yield } => {
            let average = positive(Quantity::AverageYield, average_yield, MAX_STRESS)?;
            let z = within_yield(axial_stress / average, tension, average * tube.section.area)?;
            let reduction = ((4.0 - 3.0 * z * z).sqrt() - z) / 2.0;
            let base = collapse(tube.collapse, yield_strength)?;
            Ok(CollapseWithTension {
                pressure: base.pressure * reduction,
                method,
                axial_stress,
                stress_ratio: z,
                reduction,
                base,
            })
        }
    }
}

fn within_yield(ratio: f64, load: f64, capacity: f64) -> Result<f64, TubeError> {
    if ratio > 1.0 {
        return Err(TubeError::BeyondYield {
            what: super::error::Applied::AxialLoad,
            load,
            capacity,
        });
    }
    Ok(ratio)
}

#[cfg(test)]
mod tests {
    use super::super::grade::Grade;
    use super::super::us::{INCH, KSI, LBF};
    use super::super::wear::{Body, TubeClass, Wear};
    use super::*;

    fn psi(od: f64, wall: f64, grade: Grade) -> Collapse {
        collapse(WallOnDiameter { od: od * INCH, wall: wall * INCH }, grade.min_yield()).unwrap()
    }

    #[test]
    fn each_regime_is_met_by_a_standard_size() {
        let thick = psi(3.5, 0.368, Grade::E75);
        assert_eq!(thick.regime, CollapseRegime::Yield);
        let plastic = psi(5.0, 0.362, Grade::S135);
        assert_eq!(plastic.regime, CollapseRegime::Plastic);
        assert!((plastic.pressure / PSI - 15671.7).abs() < 0.1);
        // 5 1/2 in 19.20 Class 2 covers the thin end.
        let body = Body::new(5.5 * INCH, 0.304 * INCH).unwrap();
        let worn = body.worn(Wear::Class(TubeClass::Class2)).unwrap();
        let e75 = collapse(worn.collapse, Grade::E75.min_yield()).unwrap();
        assert_eq!(e75.regime, CollapseRegime::Transition);
        let s135 = collapse(worn.collapse, Grade::S135.min_yield()).unwrap();
        assert_eq!(s135.regime, CollapseRegime::Elastic);
    }

    #[test]
    fn the_regime_limits_stay_in_order_over_the_whole_range_of_yields() {
        let mut last: Option<CollapseCoefficients> = None;
        for ksi in 24..=200 {
            let k = coefficients(f64::from(ksi) * KSI).unwrap();
            assert!(k.yield_limit > 2.0 && k.yield_limit < k.plastic_limit, "{ksi} ksi: {k:?}");
            assert!(k.plastic_limit < k.transition_limit, "{ksi} ksi: {k:?}");
            if let Some(weaker) = last {
                assert!(k.yield_limit < weaker.yield_limit, "{ksi} ksi");
                assert!(k.plastic_limit < weaker.plastic_limit, "{ksi} ksi");
                assert!(k.transition_limit < weaker.transition_limit, "{ksi} ksi");
            }
            last = Some(k);
        }
    }

    #[test]
    fn tension_lowers_collapse_by_both_methods_and_none_changes_nothing() {
        let tube = Body::new(5.0 * INCH, 0.362 * INCH)
            .unwrap()
            .worn(Wear::Class(TubeClass::Premium))
            .unwrap();
        let steel = Grade::E75.steel();
        let free = collapse(tube.collapse, steel.min_yield).unwrap().pressure;
        let methods = [
            CollapseUnderTension::EffectiveYield,
            CollapseUnderTension::AverageYieldScaling { average_yield: steel.average_yield },
        ];
        for method in methods {
            let none = collapse_under_tension(&tube, steel.min_yield, 0.0, method).unwrap();
            assert!((none.pressure - free).abs() < 1e-6 * free);
            let some = collapse_under_tension(&tube, steel.min_yield, 1e5 * LBF, method).unwrap();
            assert!(some.pressure < free);
        }
        let torn = collapse_under_tension(&tube, steel.min_yield, 4e5 * LBF, methods[0]);
        assert!(matches!(torn, Err(TubeError::BeyondYield { .. })));
        let nearly = collapse_under_tension(&tube, steel.min_yield, 3.0e5 * LBF, methods[0]);
        assert!(matches!(nearly, Err(TubeError::CollapseYieldOutside { .. })), "{nearly:?}");
        assert!(matches!(
            collapse_under_tension(&tube, steel.min_yield, -1.0, methods[0]),
            Err(TubeError::Compression { .. })
        ));
    }

    #[test]
    fn slenderness_outside_is_refused() {
        let solid = WallOnDiameter { od: 1.0, wall: 0.6 };
        assert!(collapse(solid, 75.0 * KSI).is_err());
        let foil = WallOnDiameter { od: 1.0, wall: 0.001 };
        assert!(collapse(foil, 75.0 * KSI).is_err());
        assert!(coefficients(10.0 * KSI).is_err());
        assert!(coefficients(f64::NAN).is_err());
    }
}
