//! A recorded make-up torque judged against its target.

use super::error::ConnectionError;
use crate::mechanics::tube::input::{MAX_LOAD, Quantity, not_negative, positive};

/// How far a torque may lie from its target and still be on it, as fractions of the target.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MakeupTolerance {
    /// Allowed below the target.
    pub under: f64,
    /// Allowed above the target.
    pub over: f64,
}

impl MakeupTolerance {
    /// 5 % below, 10 % above the target.
    ///
    /// Common practice, no source for tool joints: make-up scatters by about 5 % and collar tables
    /// allow 10 % over their minimum (memory). An owner's own figures go before it.
    pub const COMMON_PRACTICE: Self = Self { under: 0.05, over: 0.10 };
}

impl Default for MakeupTolerance {
    fn default() -> Self {
        Self::COMMON_PRACTICE
    }
}

/// What a recorded make-up torque was.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum MakeupVerdict {
    /// Below the target: the shoulder can open under bending, leak and fret.
    Under,
    OnTarget,
    /// Above the target: pin stretch, box swell, less left for pull.
    Over,
}

/// Judges a recorded make-up torque (N·m) against its target for the dimensions in force (N·m).
///
/// The limits themselves count as on target. A torque of zero is under.
pub fn judge_makeup(
    torque: f64,
    target: f64,
    tolerance: MakeupTolerance,
) -> Result<MakeupVerdict, ConnectionError> {
    let torque = not_negative(Quantity::Torque, torque, MAX_LOAD)?;
    let target = positive(Quantity::Torque, target, MAX_LOAD)?;
    let under = not_negative(Quantity::Tolerance, tolerance.under, 1.0)?;
    let over = not_negative(Quantity::Tolerance, tolerance.over, 10.0)?;
    Ok(if torque < target * (1.0 - under) {
        MakeupVerdict::Under
    } else if torque > target * (1.0 + over) {
        MakeupVerdict::Over
    } else {
        MakeupVerdict::OnTarget
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_torque_is_under_on_or_over() {
        let t = MakeupTolerance { under: 0.05, over: 0.10 };
        for (torque, verdict) in [
            (0.0, MakeupVerdict::Under),
            (94.9, MakeupVerdict::Under),
            (95.0, MakeupVerdict::OnTarget),
            (100.0, MakeupVerdict::OnTarget),
            (109.9, MakeupVerdict::OnTarget),
            (110.2, MakeupVerdict::Over),
        ] {
            assert_eq!(judge_makeup(torque, 100.0, t).unwrap(), verdict, "{torque}");
        }
        let exact = MakeupTolerance { under: 0.0, over: 0.0 };
        assert_eq!(judge_makeup(100.0, 100.0, exact).unwrap(), MakeupVerdict::OnTarget);
    }

    #[test]
    fn nonsense_is_refused() {
        let t = MakeupTolerance::default();
        assert!(judge_makeup(f64::NAN, 1.0, t).is_err());
        assert!(judge_makeup(1.0, 0.0, t).is_err());
        assert!(judge_makeup(-1.0, 1.0, t).is_err());
        assert!(judge_makeup(1.0, 1.0, MakeupTolerance { under: -0.1, over: 0.1 }).is_err());
    }
}
