//! Bending strength ratio of stiff connections (drill collars, heavy-weight drill pipe).
//!
//! `BSR = Z_box / Z_pin = [(D⁴ − b⁴)/D] / [(R⁴ − d⁴)/R]`: box section at the end of the pin (b, root
//! of the box thread there), pin section 3/4 in from the shoulder (R, root of the pin thread).
//!
//! Source: API RP 7G section A.10 (equations recalled: memory; the two sections are named on a
//! public course page, published); twenty of the twenty-two ratios of the collar table of API
//! Spec 7, as printed by three makers (published), come out within its last digit.
//!
//! Limits: a guide for choosing and retiring connections, fitted to experience with collars under 2.5
//! as the classic target. Two connections of the same ratio may differ much in fatigue life (IADC/SPE
//! 112105, abstract: published).

use super::geometry::{Connection, pin_root};
use crate::mechanics::connection::catalogue::GAUGE_POINT;
use crate::mechanics::tube::us::INCH;

/// Distance of the pin's section from the shoulder, m: 3/4 in.
const PIN_SECTION: f64 = 0.75 * INCH;

/// Which sections a ratio compares.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum BendingSections {
    /// Thread roots, as the tables and the customary ranges are built.
    #[default]
    ThreadRoots,
    /// The relief groove and the bore-back where the dimensions have them, else thread roots. Not
    /// comparable with the customary ranges.
    ReliefFeatures,
}

/// A bending strength ratio with its sections. SI units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BendingStrengthRatio {
    pub sections: BendingSections,
    /// Outside diameter of the box, m.
    pub od: f64,
    /// Bore of the pin, m.
    pub id: f64,
    /// Root diameter of the box at the end of the pin, b, m (or bore-back diameter).
    pub box_root: f64,
    /// Root diameter of the pin, R, m (or groove diameter).
    pub pin_root: f64,
    /// Section modulus of the box, m³.
    pub box_modulus: f64,
    /// Section modulus of the pin, m³.
    pub pin_modulus: f64,
    /// Box ÷ pin. Falls as the outside wears, rises as the bore opens.
    pub ratio: f64,
}

impl Connection {
    /// Returns the bending strength ratio.
    pub fn bending_strength_ratio(&self, sections: BendingSections) -> BendingStrengthRatio {
        let spec = self.spec();
        let (od, id) = (self.dimensions.od, self.dimensions.id);
        let thread = spec.pitch_diameter() - spec.form.taper() * (spec.pin_length() - GAUGE_POINT)
            + 2.0 * spec.form.dedendum();
        let root = pin_root(spec, PIN_SECTION);
        let (box_root, pin_root) = match sections {
            BendingSections::ThreadRoots => (thread, root),
            BendingSections::ReliefFeatures => {
                (self.dimensions.bore_back.unwrap_or(thread), self.pin_diameter)
            }
        };
        let (box_modulus, pin_modulus) = (modulus(od, box_root), modulus(pin_root, id));
        BendingStrengthRatio {
            sections,
            od,
            id,
            box_root,
            pin_root,
            box_modulus,
            pin_modulus,
            ratio: box_modulus / pin_modulus,
        }
    }
}

fn modulus(outer: f64, inner: f64) -> f64 {
    let (o2, i2) = (outer * outer, inner * inner);
    std::f64::consts::PI / 32.0 * (o2 * o2 - i2 * i2) / outer
}

#[cfg(test)]
mod tests {
    use super::super::catalogue::ConnectionType;
    use super::super::geometry::Dimensions;
    use super::*;

    fn ratio(connection: ConnectionType, od: f64, id: f64) -> BendingStrengthRatio {
        Connection::new(connection, Dimensions::new(od * INCH, id * INCH))
            .unwrap()
            .bending_strength_ratio(BendingSections::ThreadRoots)
    }

    #[test]
    fn nc50_seven_inch_is_the_table_and_its_sections_the_hand_calculation() {
        let r = ratio(ConnectionType::Nc50, 7.0, 2.25);
        assert!((r.ratio - 2.54).abs() < 0.01);
        assert!((r.box_root / INCH - (5.0417 - 3.875 / 6.0 + 0.140005)).abs() < 1e-9);
        assert!((r.pin_root / INCH - (5.0417 - 0.140005 - 0.125 / 6.0)).abs() < 1e-9);
    }

    #[test]
    fn wear_outside_lowers_and_wear_inside_raises_the_ratio() {
        let new = ratio(ConnectionType::Nc46, 6.5, 2.25).ratio;
        assert!(ratio(ConnectionType::Nc46, 6.25, 2.25).ratio < new);
        assert!(ratio(ConnectionType::Nc46, 6.5, 2.8125).ratio > new);
    }

    #[test]
    fn relief_features_are_compared_only_when_asked() {
        let spec = ConnectionType::Nc50.spec();
        let mut d = Dimensions::new(7.0 * INCH, 2.25 * INCH);
        d.relief_groove = spec.relief_groove();
        d.bore_back = spec.bore_back();
        let c = Connection::new(ConnectionType::Nc50, d).unwrap();
        let plain = c.bending_strength_ratio(BendingSections::default());
        assert!((plain.ratio - ratio(ConnectionType::Nc50, 7.0, 2.25).ratio).abs() < 1e-12);
        let relieved = c.bending_strength_ratio(BendingSections::ReliefFeatures);
        assert!(relieved.pin_modulus < plain.pin_modulus);
        assert!(relieved.box_modulus < plain.box_modulus);
    }
}
