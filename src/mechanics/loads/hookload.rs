//! Computed against logged hook load: the difference tells whether string or mud data is wrong.

use super::rotating::RotatingTension;
use super::soft_string::{AtBit, Friction, Motion, SoftString};
use crate::mechanics::string::{CaseError, RunCase};

/// One segment's hook load.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HookLoad {
    /// Index of the segment.
    pub segment: usize,
    /// Computed, N: effective tension at the table (middle of the segment) plus the block.
    pub computed: f64,
    /// Logged, N.
    pub logged: f64,
    /// Logged less computed, N.
    pub difference: f64,
    /// Motion assumed.
    pub motion: Motion,
}

/// Compares every segment with a logged hook load. `block` is what hangs on the hook besides the
/// string, N. A turning string needs no friction; others are taken as moving the way their bit
/// moves, and segments that neither turn nor move are left out.
pub fn compare(case: &RunCase, friction: Friction, block: f64) -> Result<Vec<HookLoad>, CaseError> {
    case.check()?;
    let rotating = RotatingTension::new(&case.path, &case.string, &case.fluids);
    let soft = SoftString { path: &case.path, string: &case.string, fluids: case.fluids, friction };
    let mut found = Vec::new();
    for (index, segment) in case.segments.iter().enumerate() {
        let Some(logged) = segment.hookload else { continue };
        let bit = 0.5 * (segment.bit_from + segment.bit_to);
        let motion = if segment.turns() > 0.0 {
            Motion::Rotating
        } else if segment.bit_to > segment.bit_from {
            Motion::SlackOff
        } else if segment.bit_to < segment.bit_from {
            Motion::PickUp
        } else {
            continue;
        };
        let wob = if segment.activity.drills() { segment.wob } else { 0.0 };
        let tension = if motion == Motion::Rotating {
            rotating.at(bit, wob).at_surface()
        } else {
            let loads = soft.loads(motion, bit, AtBit { wob, torque: 0.0 }, &[])?;
            loads.points.last().map_or(-wob, |p| p.tension)
        };
        let computed = tension + block;
        let difference = logged - computed;
        found.push(HookLoad { segment: index, computed, logged, difference, motion });
    }
    Ok(found)
}
