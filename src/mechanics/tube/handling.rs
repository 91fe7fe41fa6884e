//! What the rig may pull and hang: hook-load margin and slip crushing.

use super::error::TubeError;
use super::input::{
    InputError, MAX_LENGTH, MAX_LOAD, MAX_NUMBER, Quantity, bounded, not_negative, positive,
};
use super::ratings::Ratings;
use super::wear::Tube;

/// The usual share of the tensile rating that may be pulled.
///
/// API RP 7G section 7 uses 0.9 of the tensile rating of the class (memory); a public torque and
/// pull chart uses 0.85 (published).
pub const PULL_FACTOR: f64 = 0.9;

/// Room above the hook load.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HookLoadMargin {
    /// Factor on the tensile rating.
    pub factor: f64,
    /// Pull allowed on the weakest tube, `factor × rating`, N.
    pub allowable: f64,
    /// Margin of overpull, `allowable − load`, N; negative when the load is already above it.
    pub margin: f64,
    /// Load over allowable pull.
    pub utilisation: f64,
}

/// Returns the margin of overpull of a tube that carries a load, N.
///
/// Source: API RP 7G section 7 (memory): `Pa = 0.9 Pt`, `MOP = Pa − load`. The load is the static
/// hook load that the tube carries, without blocks; shock, drag, bending and torque are not in it.
pub fn hook_load_margin(
    ratings: &Ratings,
    load: f64,
    factor: f64,
) -> Result<HookLoadMargin, TubeError> {
    let load = bounded(Quantity::Load, load, MAX_LOAD)?;
    let factor = positive(Quantity::Factor, factor, 1.0)?;
    let allowable = factor * ratings.tension;
    Ok(HookLoadMargin {
        factor,
        allowable,
        margin: allowable - load,
        utilisation: load / allowable,
    })
}

/// Returns the transverse load factor of slips, `K = 1 / tan(α + atan μ)`.
///
/// `taper` is the angle of the slip back to the axis, rad (taper of 4 in/ft on diameter:
/// 9.4623°); `friction` between slip and bowl. Source: derivation on a public calculation sheet for
/// the Reinhold–Spiri formula (published); the customary 0.08 friction gives 4.0.
pub fn lateral_load_factor(taper: f64, friction: f64) -> Result<f64, InputError> {
    let taper = positive(Quantity::TaperAngle, taper, std::f64::consts::FRAC_PI_4)?;
    let friction = not_negative(Quantity::Friction, friction, 1.0)?;
    // α + atan μ stays below 90° since neither is above 45°.
    Ok(1.0 / libm::tan(taper + libm::atan(friction)))
}

/// The customary slip taper: 4 in per foot on diameter, rad.
pub fn api_slip_taper() -> f64 {
    libm::atan(2.0 / 12.0)
}

/// A slip-crushing limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SlipCrushing {
    /// Axial load that yields the bore inside the slips, N.
    pub load: f64,
    /// That load over the tensile rating.
    pub ratio: f64,
    /// `D K / (2 L)`.
    pub crush_term: f64,
}

/// Returns the axial load that crushes a tube hung in slips, N (Reinhold & Spiri 1959):
/// `P = Pt / √(1 + DK/(2L) + (DK/(2L))²)`, L the slip length (m) and K the lateral load factor.
///
/// D is the nominal outside diameter, which is conservative for a worn tube. Source: formula with
/// its derivation on a public calculation sheet (published); no table value was found to check it
/// against, so the numbers are unverified. Limits: even grip all round along the whole slip length;
/// a later paper (IADC/SPE 74488, abstract: published) finds the formula about **20 % on the unsafe
/// side** of tests. Worn slips or bowl grip on less: see the slip test. Use a safety factor.
pub fn slip_crushing(
    tube: &Tube,
    ratings: &Ratings,
    slip_length: f64,
    lateral_load_factor: f64,
) -> Result<SlipCrushing, TubeError> {
    let length = positive(Quantity::SlipLength, slip_length, MAX_LENGTH)?;
    let k = positive(Quantity::LateralLoadFactor, lateral_load_factor, MAX_NUMBER)?;
    let crush_term = tube.nominal.od().max(tube.section.od) * k / (2.0 * length);
    let ratio = 1.0 / (1.0 + crush_term + crush_term * crush_term).sqrt();
    Ok(SlipCrushing { load: ratings.tension * ratio, ratio, crush_term })
}

#[cfg(test)]
mod tests {
    use super::super::grade::Grade;
    use super::super::us::{INCH, LBF};
    use super::super::wear::{Body, TubeClass, Wear};
    use super::*;

    #[test]
    fn margin_is_what_is_left_of_nine_tenths() {
        let tube = Body::new(5.0 * INCH, 0.362 * INCH)
            .unwrap()
            .worn(Wear::Class(TubeClass::Premium))
            .unwrap();
        let r = tube.ratings(Grade::E75.min_yield()).unwrap();
        let m = hook_load_margin(&r, 2.0e5 * LBF, PULL_FACTOR).unwrap();
        assert!((m.allowable / LBF - 0.9 * 311_535.5).abs() < 0.1);
        assert!((m.margin - (m.allowable - 2.0e5 * LBF)).abs() < 1e-9);
        let over = hook_load_margin(&r, 4.0e5 * LBF, PULL_FACTOR).unwrap();
        assert!(over.margin < 0.0 && over.utilisation > 1.0);
        assert!(hook_load_margin(&r, 1.0, 1.1).is_err());
    }

    #[test]
    fn the_customary_lateral_load_factor_is_four() {
        let k = lateral_load_factor(api_slip_taper(), 0.08).unwrap();
        assert!((k - 4.0).abs() < 0.005, "{k}");
        assert!(lateral_load_factor(api_slip_taper(), 0.0).unwrap() > k);
        assert!(lateral_load_factor(0.0, 0.08).is_err());
    }

    #[test]
    fn slips_crush_before_the_body_tears_and_longer_slips_are_kinder() {
        let tube =
            Body::new(5.0 * INCH, 0.362 * INCH).unwrap().worn(Wear::Class(TubeClass::New)).unwrap();
        let r = tube.ratings(Grade::S135.min_yield()).unwrap();
        let short = slip_crushing(&tube, &r, 12.0 * INCH, 4.0).unwrap();
        let long = slip_crushing(&tube, &r, 16.5 * INCH, 4.0).unwrap();
        assert!(short.load < long.load && long.load < r.tension);
        // By hand: DK/2L = 20/24, √(1 + 0.83333 + 0.69444) = 1.58990.
        assert!((short.crush_term - 20.0 / 24.0).abs() < 1e-12);
        assert!((short.ratio - 1.0 / 1.589_899).abs() < 1e-6);
        assert!(slip_crushing(&tube, &r, 0.0, 4.0).is_err());
    }
}
