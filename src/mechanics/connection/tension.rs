//! Pull on a connection: the pin's own yield, shoulder separation and pin yield after make-up.
//!
//! Source: API RP 7G Appendix A, combined torsion and tension of a connection (form recalled:
//! memory), with the areas of the torque calculation. Make-up presses the shoulders together with
//! the preload `F0 = T / lever`; a pull is shared by pin and box until the shoulders part.
//!
//! Check: a rental sheet prints 1,133,400 lb for NC50 6 5/8 × 3 1/4 in at 30,700 ft-lb (published);
//! the formula gives 1,115,000 with the capped shoulder radius and 1,133,000 with the listed one,
//! 0.04 % off: so the value stands in the list of known differences.
//!
//! Limits: axial load without bending, no torque beyond make-up, no pressure (which parts the
//! shoulder earlier), threads that share as the two areas do.

use super::error::ConnectionError;
use super::geometry::Connection;
use super::torque::TorqueBasis;
use crate::mechanics::tube::input::{MAX_LOAD, MAX_STRESS, Quantity, not_negative, positive};

/// What a growing pull does first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum TensionLimit {
    /// The shoulder parts and the joint leaks.
    ShoulderSeparation,
    /// The pin yields under the closed shoulder.
    PinYield,
}

/// Tension capacity of a made-up connection. SI units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TensionAtMakeup {
    pub makeup: f64,
    /// Axial preload from make-up, N.
    pub preload: f64,
    /// Pull at which the shoulders part, N: `F0 (A_p + A_b)/A_b`.
    pub separation: f64,
    /// Pull at which the pin yields, N: `(Y A_p − F0)(A_p + A_b)/A_p` with closed shoulders, and
    /// `Y A_p` once they have parted.
    pub pin_yield: f64,
    /// The smaller of the two, N: the pull that the connection takes whole.
    pub capacity: f64,
    /// What that pull does.
    pub limit: TensionLimit,
}

impl Connection {
    /// Returns the tensile yield of the pin, N: yield (Pa) × area in the plane 5/8 in from the
    /// shoulder (groove section if that is smaller).
    ///
    /// Source: API RP 7G Tables 8 and 9 (published; twelve values reproduce to the pound). The
    /// box is stronger at any diameter that carries torque.
    pub fn tensile_yield(&self, yield_strength: f64) -> Result<f64, ConnectionError> {
        let y = positive(Quantity::YieldStrength, yield_strength, MAX_STRESS)?;
        Ok(y * self.pin_tension_area)
    }

    /// Returns the tension capacity after make-up to a torque (N·m).
    ///
    /// `basis` is that of the torsional **yield** (its stress is the yield strength; its friction
    /// turns torque into preload: a slicker compound than assumed preloads more).
    pub fn tension_at_makeup(
        &self,
        basis: TorqueBasis,
        makeup: f64,
    ) -> Result<TensionAtMakeup, ConnectionError> {
        let makeup = not_negative(Quantity::Torque, makeup, MAX_LOAD)?;
        let rating = self.torque(basis)?;
        if makeup > rating.torque {
            return Err(ConnectionError::MakeupBeyondYield {
                torque: makeup,
                yield_torque: rating.torque,
            });
        }
        let (ap, ab) = (self.pin_area, self.box_area);
        let preload = makeup / rating.lever;
        let pin_limit = basis.stress * ap;
        let separation = preload * (ap + ab) / ab;
        let pin_yield = ((pin_limit - preload) * (ap + ab) / ap).min(pin_limit);
        let (capacity, limit) = if separation <= pin_yield {
            (separation, TensionLimit::ShoulderSeparation)
        } else {
            (pin_yield, TensionLimit::PinYield)
        };
        Ok(TensionAtMakeup { makeup, preload, separation, pin_yield, capacity, limit })
    }

    /// Returns the make-up torque at which the pull that parts the shoulder and the pull that
    /// yields the pin are equal, N·m: the best torque for pull alone.
    ///
    /// Not above the torsional yield, which a thin box reaches first.
    pub fn balanced_makeup(&self, basis: TorqueBasis) -> Result<f64, ConnectionError> {
        let rating = self.torque(basis)?;
        let (ap, ab) = (self.pin_area, self.box_area);
        let preload = basis.stress * ap * ab / (ap + ab);
        Ok((preload * rating.lever).min(rating.torque))
    }
}

#[cfg(test)]
mod tests {
    use super::super::catalogue::ConnectionType;
    use super::super::geometry::Dimensions;
    use super::super::torque::TOOL_JOINT_YIELD;
    use super::*;
    use crate::mechanics::tube::us::{FT_LBF, INCH, LBF};

    fn nc50() -> Connection {
        Connection::new(ConnectionType::Nc50, Dimensions::new(6.625 * INCH, 3.25 * INCH)).unwrap()
    }

    #[test]
    fn capacity_at_table_make_up_is_the_hand_calculation() {
        let c = nc50();
        let t = c
            .tension_at_makeup(TorqueBasis::at_stress(TOOL_JOINT_YIELD), 30_730.0 * FT_LBF)
            .unwrap();
        assert!((t.preload / LBF - 749_853.0).abs() < 10.0, "{}", t.preload / LBF);
        assert!((t.separation / LBF / 1.359e6 - 1.0).abs() < 1e-3);
        assert!((t.pin_yield / LBF / 1.115e6 - 1.0).abs() < 1e-3);
        assert_eq!(t.limit, TensionLimit::PinYield);
    }

    #[test]
    fn the_envelope_rises_to_the_balanced_torque_and_falls_after_it() {
        let c = nc50();
        let basis = TorqueBasis::at_stress(TOOL_JOINT_YIELD);
        let best = c.balanced_makeup(basis).unwrap();
        let at_best = c.tension_at_makeup(basis, best).unwrap();
        assert!((at_best.separation / at_best.pin_yield - 1.0).abs() < 1e-9);
        // There the pin carries its own yield.
        assert!((at_best.capacity / (TOOL_JOINT_YIELD * c.pin_area) - 1.0).abs() < 1e-9);
        let full = c.torque(basis).unwrap().torque;
        let at = |share: f64| c.tension_at_makeup(basis, share * full).unwrap();
        for point in (0..=40_u32).map(|i| at(f64::from(i) / 40.0)) {
            assert!(point.capacity <= at_best.capacity * (1.0 + 1e-12));
            assert_eq!(point.limit == TensionLimit::ShoulderSeparation, point.makeup < best);
        }
        let ends = [at(0.0), at(1.0)];
        assert!(ends[0].capacity.abs() < 1e-9);
        // Unmade, the shoulder parts at once and the pin carries all.
        assert!((ends[0].pin_yield / (TOOL_JOINT_YIELD * c.pin_area) - 1.0).abs() < 1e-12);
        assert!(ends[1].pin_yield.abs() < 1.0, "all of the pin is used up by torque");
    }

    #[test]
    fn over_torque_is_refused() {
        let c = nc50();
        let basis = TorqueBasis::at_stress(TOOL_JOINT_YIELD);
        let too_much = c.tension_at_makeup(basis, 60_000.0 * FT_LBF);
        assert!(matches!(too_much, Err(ConnectionError::MakeupBeyondYield { .. })));
        assert!(c.tension_at_makeup(basis, -1.0).is_err());
        assert!(c.tensile_yield(f64::NAN).is_err());
    }
}
