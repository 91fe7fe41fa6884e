//! Torque and axial load together.
//!
//! Source: API RP 7G Appendix A, torsional yield under tension (memory):
//! `Q_T = (0.096167 J / D) √(Y² − (P/A)²)`, which is the ellipse `(Q/Q_y)² + (P/P_y)² = 1` of the
//! two ratings of the same worn section. Limits: the distortion-energy rule at the outside fibre
//! without bending or pressure; bending in a dogleg and internal pressure come on top.

use super::error::{Applied, TubeError};
use super::input::{MAX_LOAD, Quantity, bounded};
use super::ratings::Ratings;

/// Returns the torque that yields the tube while it carries an axial load (N), N·m.
///
/// Compression counts like tension of the same size. At no load it is the torsional yield, at the
/// tensile yield it is zero.
pub fn torque_under_load(ratings: &Ratings, load: f64) -> Result<f64, TubeError> {
    let load = bounded(Quantity::Load, load, MAX_LOAD)?;
    Ok(ratings.torsion * rest(Applied::AxialLoad, load, ratings.tension)?)
}

/// Returns the axial load that yields the tube while it carries a torque (N·m), N.
pub fn load_under_torque(ratings: &Ratings, torque: f64) -> Result<f64, TubeError> {
    let torque = bounded(Quantity::Torque, torque, MAX_LOAD)?;
    Ok(ratings.tension * rest(Applied::Torque, torque, ratings.torsion)?)
}

/// Returns the share of yield that an axial load (N) and a torque (N·m) use together: 1 is yield.
pub fn utilisation(ratings: &Ratings, load: f64, torque: f64) -> Result<f64, TubeError> {
    let p = bounded(Quantity::Load, load, MAX_LOAD)? / ratings.tension;
    let q = bounded(Quantity::Torque, torque, MAX_LOAD)? / ratings.torsion;
    Ok((p * p + q * q).sqrt())
}

/// What the ellipse leaves for the other load, as a share of its rating.
fn rest(what: Applied, load: f64, capacity: f64) -> Result<f64, TubeError> {
    let share = load / capacity;
    if share.abs() > 1.0 {
        return Err(TubeError::BeyondYield { what, load: load.abs(), capacity });
    }
    Ok(((1.0 - share) * (1.0 + share)).sqrt())
}

#[cfg(test)]
mod tests {
    use super::super::grade::Grade;
    use super::super::us::{FT_LBF, INCH, LBF};
    use super::super::wear::{Body, TubeClass, Wear};
    use super::*;

    fn premium_s135() -> Ratings {
        Body::new(5.0 * INCH, 0.362 * INCH)
            .unwrap()
            .worn(Wear::Class(TubeClass::Premium))
            .unwrap()
            .ratings(Grade::S135.min_yield())
            .unwrap()
    }

    #[test]
    fn the_two_ways_round_the_ellipse_agree() {
        let r = premium_s135();
        let q = torque_under_load(&r, 3.0e5 * LBF).unwrap();
        assert!((q / FT_LBF - 49_098.1).abs() < 0.1);
        let p = load_under_torque(&r, q).unwrap();
        assert!((p / LBF - 3.0e5).abs() < 1e-3);
        assert!((utilisation(&r, p, q).unwrap() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn more_than_yield_is_refused_and_named() {
        let r = premium_s135();
        let pulled = torque_under_load(&r, 1.01 * r.tension).unwrap_err();
        assert!(pulled.to_string().contains("axial load"), "{pulled}");
        let twisted = load_under_torque(&r, -1.01 * r.torsion).unwrap_err();
        assert!(twisted.to_string().contains("torque"), "{twisted}");
        assert!(torque_under_load(&r, f64::NAN).is_err());
    }
}
