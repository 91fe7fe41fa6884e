//! The smallest tool-joint diameter of a class, by turning the torque formula round.
//!
//! Source: the rule behind API RP 7G Table 10 as understood (memory; the 0.80 ratio was read on a
//! drilling manual page, published): smallest outside diameter, rounded **up** to 1/32 in, at which
//! the **box** carries at least 0.80 of the torsional yield of the tube in that class, S = 120 ksi;
//! make-up at that diameter at 72 ksi. It returns every recalled entry for NC50 on 5 in 19.50 and
//! one published one (4 1/2 H-90 on 16.60 X-95, Class 2: 13,013 ft-lb, errata May 2000).
//!
//! Limits: torsion only. Hardband, bevel, tong space and what the owner accepts for low-torque
//! service are other limits; the value is computed, the table in force decides.

use super::catalogue::ConnectionType;
use super::error::ConnectionError;
use super::geometry::{Connection, Dimensions};
use super::torque::{Member, TOOL_JOINT_MAKEUP, TOOL_JOINT_YIELD, TorqueBasis, TorqueRating};
use crate::mechanics::tube::input::{MAX_LOAD, MAX_NUMBER, Quantity, positive};
use crate::mechanics::tube::us::INCH;

/// Largest outside diameter that is tried, m: 16 in, wider than any tool joint.
const LARGEST: f64 = 16.0 * INCH;
/// What eccentric wear may take from the shoulder on one side, m: 3/64 in.
///
/// A fit to recalled entries of Table 10, column "minimum box shoulder with eccentric wear"
/// (computed), no published formula.
pub const ECCENTRIC_ALLOWANCE: f64 = 3.0 / 64.0 * INCH;

/// The rule that a minimum diameter follows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MinOdRule {
    /// Torsional ratio of box to tube that has to be reached.
    pub ratio: f64,
    /// Rounding step of the diameter, m.
    pub step: f64,
    /// Basis of the torsional yield.
    pub basis: TorqueBasis,
    /// Stress of the make-up torque, Pa.
    pub makeup_stress: f64,
}

impl Default for MinOdRule {
    /// 0.80, 1/32 in, 120 ksi, 72 ksi.
    fn default() -> Self {
        Self {
            ratio: 0.80,
            step: INCH / 32.0,
            basis: TorqueBasis::at_stress(TOOL_JOINT_YIELD),
            makeup_stress: TOOL_JOINT_MAKEUP,
        }
    }
}

/// A minimum outside diameter with what it stands on. SI units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MinOd {
    pub rule: MinOdRule,
    /// Torsional yield of the tube in its class, N·m.
    pub tube_torsion: f64,
    /// Torque that the box has to carry, N·m.
    pub required: f64,
    /// Minimum outside diameter, rounded up to the step, m.
    pub od: f64,
    /// The diameter at which the box carries exactly what is required, m.
    pub exact_od: f64,
    /// Torsional yield at the minimum diameter.
    pub at_od: TorqueRating,
    /// Make-up torque at the minimum diameter, N·m.
    pub makeup: f64,
    /// Width of the shoulder there, `(OD − Q_c)/2`, m: limit for concentric wear.
    pub shoulder: f64,
    /// The same less 3/64 in, m: limit on the thin side of eccentric wear.
    pub eccentric_shoulder: f64,
    /// The pin carries what is required too. If not, its bore is too large for the tube and no
    /// outside diameter helps.
    pub pin_is_enough: bool,
    /// Weaker member at the minimum diameter.
    pub member: Member,
}

/// Returns the smallest tool-joint diameter for a tube's torsional yield (N·m) in its class.
///
/// `id` is the bore of the tool joint, m.
pub fn minimum_od(
    connection: ConnectionType,
    id: f64,
    tube_torsion: f64,
    rule: MinOdRule,
) -> Result<MinOd, ConnectionError> {
    let spec = connection.spec();
    let tube_torsion = positive(Quantity::Torque, tube_torsion, MAX_LOAD)?;
    let required = tube_torsion * positive(Quantity::TorsionalRatio, rule.ratio, MAX_NUMBER)?;
    let step = positive(Quantity::Step, rule.step, INCH)?;
    let rate = |od: f64| Connection::new(connection, Dimensions::new(od, id))?.torque(rule.basis);
    let too_weak = |od: f64| rate(od).map(|r| r.box_torque < required);

    let unreachable =
        || ConnectionError::NoDiameterIsEnough { connection: spec.name, required, limit: LARGEST };
    if too_weak(LARGEST)? {
        return Err(unreachable());
    }
    // Box torque rises with diameter, so bisection finds the exact diameter; the bit-exact middle
    // makes it stop by itself. The smallest box has a shoulder of one step, or a bore that leaves
    // no metal is refused above with its own error.
    let smallest = spec.counterbore() + step;
    let (mut low, mut high) = (smallest, LARGEST);
    if too_weak(low)? {
        loop {
            let middle = low + (high - low) / 2.0;
            if middle <= low || middle >= high {
                break;
            }
            if too_weak(middle)? {
                low = middle;
            } else {
                high = middle;
            }
        }
    } else {
        high = smallest;
    }
    let exact_od = high;
    // Start one step low: the quotient may have been rounded up past a whole number.
    let mut steps = (exact_od / step).floor() - 1.0;
    while steps * step < smallest || too_weak(steps * step)? {
        steps += 1.0;
    }
    let od = steps * step;

    let there = Connection::new(connection, Dimensions::new(od, id))?;
    let at_od = there.torque(rule.basis)?;
    let makeup = there.torque(TorqueBasis { stress: rule.makeup_stress, ..rule.basis })?.torque;
    Ok(MinOd {
        rule,
        tube_torsion,
        required,
        od,
        exact_od,
        at_od,
        makeup,
        shoulder: there.shoulder_width(),
        eccentric_shoulder: there.shoulder_width() - ECCENTRIC_ALLOWANCE,
        pin_is_enough: at_od.pin_torque >= required,
        member: at_od.member,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mechanics::tube::us::FT_LBF;
    use crate::mechanics::tube::{Body, Grade, TubeClass, Wear};

    fn five_inch(grade: Grade, class: TubeClass) -> f64 {
        let body = Body::new(5.0 * INCH, 0.362 * INCH).unwrap();
        body.worn(Wear::Class(class)).unwrap().ratings(grade.min_yield()).unwrap().torsion
    }

    #[test]
    fn nc50_on_five_inch_is_the_recalled_table() {
        let rows = [
            (Grade::E75, 3.75, TubeClass::Premium, 5.875, 15_776.0),
            (Grade::X95, 3.5, TubeClass::Premium, 6.03125, 20_127.0),
            (Grade::S135, 2.75, TubeClass::Premium, 6.3125, 28_381.0),
            (Grade::S135, 2.75, TubeClass::Class2, 6.1875, 24_645.0),
        ];
        for (grade, id, class, od, makeup) in rows {
            let m = minimum_od(
                ConnectionType::Nc50,
                id * INCH,
                five_inch(grade, class),
                MinOdRule::default(),
            )
            .unwrap();
            assert!((m.od / INCH - od).abs() < 1e-9, "{grade} {class}: {}", m.od / INCH);
            assert!((m.makeup / FT_LBF - makeup).abs() < 1.0, "{}", m.makeup / FT_LBF);
            assert!(m.pin_is_enough && m.member == Member::Box);
            assert!(m.exact_od <= m.od && m.od - m.exact_od < INCH / 32.0);
            assert!((m.shoulder - m.eccentric_shoulder - ECCENTRIC_ALLOWANCE).abs() < 1e-15);
        }
    }

    #[test]
    fn a_bore_too_large_is_told_from_a_box_too_thin() {
        let strong = five_inch(Grade::S135, TubeClass::Premium);
        let m = minimum_od(ConnectionType::Nc50, 4.0 * INCH, strong, MinOdRule::default()).unwrap();
        assert!(!m.pin_is_enough);
        let weak = minimum_od(ConnectionType::Nc50, 3.0 * INCH, 1.0, MinOdRule::default()).unwrap();
        assert!(weak.od > ConnectionType::Nc50.spec().counterbore());
        let never = minimum_od(ConnectionType::Nc23, INCH, 1.0e9, MinOdRule::default());
        assert!(matches!(never, Err(ConnectionError::NoDiameterIsEnough { .. })));
        let no_pin = minimum_od(ConnectionType::Nc50, 5.0 * INCH, strong, MinOdRule::default());
        assert!(matches!(no_pin, Err(ConnectionError::BoreOverPinRoot { .. })));
        assert!(minimum_od(ConnectionType::Nc50, 0.08, -1.0, MinOdRule::default()).is_err());
    }
}
