//! How exposures are computed: places, curves, rules. Recorded with every result by the caller.

use crate::mechanics::fatigue::{Curve, MeanStress};
use crate::mechanics::string::CaseError;

/// Places on a joint where damage is counted, by their index.
pub const PIN_END: usize = 0;
/// Middle of the joint.
pub const MIDDLE: usize = 1;
/// Box end of the body, where the slips bite.
pub const BOX_END: usize = 2;

/// Where the ends of the body are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Places {
    /// Distance of the pin-end place above the pin shoulder, m.
    pub pin_end: f64,
    /// Distance of the box-end place below the box shoulder, m.
    pub box_end: f64,
}

impl Default for Places {
    fn default() -> Self {
        Self { pin_end: 0.6, box_end: 0.9 }
    }
}

impl Places {
    /// Distances of the three places above the pin shoulder of a joint of this length; on a short
    /// part the ends meet in the middle.
    pub fn above_pin(&self, length: f64) -> [f64; 3] {
        let half = 0.5 * length;
        [self.pin_end.min(half), half, length - self.box_end.min(half)]
    }
}

/// Settings of a computation.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    /// Places on the joint.
    pub places: Places,
    /// S–N curve of each place, in the order pin end, middle, box end.
    pub curves: [Curve; 3],
    pub mean_stress: MeanStress,
    /// Factor on the classic permissible stress (1, or 0.6 in corrosive mud).
    pub limit_factor: f64,
    /// Curvature added to that of every arc, rad/m, for what the survey smooths away; it bends the
    /// pipe but leaves tension alone. Default none.
    pub tortuosity: f64,
    /// Compression changes how the tube bends between its tool joints; else a compressed tube bends as
    /// the hole does, to see what that makes.
    pub compression: bool,
    /// Gauss–Legendre points on each smooth piece, 2 to 16.
    pub points: usize,
    /// Temperature above which the curves aren't valid, °C (100, recalled from DNV-RP-C203).
    pub hottest_celsius: f64,
}

impl Settings {
    /// Names the first setting that can't be.
    pub fn check(&self) -> Result<(), CaseError> {
        let wrong = |what| Err(CaseError::Run { what });
        if !(self.places.pin_end >= 0.0 && self.places.box_end >= 0.0) {
            return wrong("places on the joint must lie 0 m or more from its shoulders");
        }
        if !(self.limit_factor > 0.0 && self.limit_factor <= 1.0) {
            return wrong("the factor on permissible stress must lie above 0 and not above 1");
        }
        if !(self.tortuosity >= 0.0 && self.tortuosity.is_finite()) {
            return wrong("tortuosity must be 0 rad/m or more");
        }
        Ok(())
    }

    /// Default settings on one curve for all places.
    pub fn with_curve(curve: &Curve) -> Self {
        Self {
            places: Places::default(),
            curves: [curve.clone(), curve.clone(), curve.clone()],
            mean_stress: MeanStress::default(),
            limit_factor: 1.0,
            tortuosity: 0.0,
            compression: true,
            points: 2,
            hottest_celsius: 100.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mechanics::fatigue::CurveTable;

    #[test]
    fn impossible_settings_are_refused() {
        let curves = CurveTable::shipped().unwrap();
        let settings = Settings::with_curve(curves.get("DNVGL-RP-C203 2016 air B1").unwrap());
        assert!(settings.check().is_ok());
        assert!(Settings { limit_factor: 1.5, ..settings.clone() }.check().is_err());
        assert!(Settings { tortuosity: f64::NAN, ..settings }.check().is_err());
    }

    #[test]
    fn ends_of_a_short_part_meet_in_the_middle() {
        let places = Places::default();
        for (length, expected) in [(1.0, [0.5, 0.5, 0.5]), (10.0, [0.6, 5.0, 9.1])] {
            let got = places.above_pin(length);
            assert!(got.iter().zip(expected).all(|(a, b)| (a - b).abs() < 1e-12), "{got:?}");
        }
    }
}
