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
    pub logged: f64,
    /// Logged less computed, N.
    pub difference: f64,
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
        let wob = segment.bit_load();
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

/// Segments of one kind of motion together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Compared {
    pub motion: Motion,
    pub segments: usize,
    /// Mean computed hook load, N.
    pub computed: f64,
    /// Mean logged hook load, N.
    pub logged: f64,
    /// Mean difference, logged less computed, N.
    pub difference: f64,
    /// Mean difference over the mean load of the string alone (block taken off).
    pub share: f64,
}

/// What a difference between the log and the computation may come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Suspicion {
    /// The log agrees within [`AGREES`] of the string's load.
    None,
    /// The same difference at light and heavy string: block weight, or the sensor's zero.
    Offset,
    /// A difference that grows with the string: weights of parts, lengths, mud weight, or the
    /// sensor's scale.
    Scale,
    /// The turning string differs, by how much at which weight the log does not tell.
    Weight,
    /// The turning string agrees, the moving one does not: friction, or hole condition.
    Friction,
}

/// A comparison with its reading.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// By kind of motion: turning, pick-up, slack-off; kinds without a segment are left out.
    pub kinds: Vec<Compared>,
    /// Offset (N) and slope of logged over computed load of the turning string, block taken off;
    /// none where its weight varied too little to tell.
    pub fit: Option<(f64, f64)>,
    /// What it may come from.
    pub suspicion: Suspicion,
}

/// Agreement, as a share of the string's load: 5 % (common practice: hook-load sensors and sheave
/// friction are not better than a few percent).
pub const AGREES: f64 = 0.05;
/// Segments and spread of computed load (largest over smallest) that a fit needs.
const FIT_NEEDS: (usize, f64) = (6, 1.3);

/// Reads a comparison. `block` is what hangs on the hook besides the string, N. None without a
/// segment that has a logged hook load.
pub fn read(loads: &[HookLoad], block: f64) -> Option<Comparison> {
    let of = |motion: Motion| -> Option<Compared> {
        let picked: Vec<&HookLoad> = loads.iter().filter(|l| l.motion == motion).collect();
        let n = picked.len() as f64;
        let mean = |f: fn(&HookLoad) -> f64| picked.iter().map(|l| f(l)).sum::<f64>() / n;
        (!picked.is_empty()).then(|| {
            let computed = mean(|l| l.computed);
            let difference = mean(|l| l.difference);
            let string = (computed - block).abs().max(1.0);
            Compared {
                motion,
                segments: picked.len(),
                computed,
                logged: mean(|l| l.logged),
                difference,
                share: difference / string,
            }
        })
    };
    let kinds: Vec<Compared> =
        [Motion::Rotating, Motion::PickUp, Motion::SlackOff].into_iter().filter_map(of).collect();
    if kinds.is_empty() {
        return None;
    }
    let fit = fit(loads, block);
    let off = |c: &Compared| c.share.abs() > AGREES;
    let turning = kinds.iter().find(|c| c.motion == Motion::Rotating);
    let suspicion = match (turning, fit) {
        (Some(t), Some((offset, slope))) if off(t) => {
            // Which of the two explains more of the difference at the mean weight.
            let scaled = ((slope - 1.0) * (t.computed - block)).abs();
            if offset.abs() > scaled { Suspicion::Offset } else { Suspicion::Scale }
        }
        (Some(t), None) if off(t) => Suspicion::Weight,
        _ if kinds.iter().any(|c| off(c) && c.motion != Motion::Rotating) => Suspicion::Friction,
        _ => Suspicion::None,
    };
    Some(Comparison { kinds, fit, suspicion })
}

/// Straight line through logged over computed load of the turning string, block taken off.
fn fit(loads: &[HookLoad], block: f64) -> Option<(f64, f64)> {
    let points: Vec<(f64, f64)> = loads
        .iter()
        .filter(|l| l.motion == Motion::Rotating)
        .map(|l| (l.computed - block, l.logged - block))
        .collect();
    let least = points.iter().map(|p| p.0).fold(f64::INFINITY, f64::min);
    let most = points.iter().map(|p| p.0).fold(0.0, f64::max);
    if points.len() < FIT_NEEDS.0 || !(least > 0.0 && most > FIT_NEEDS.1 * least) {
        return None;
    }
    let n = points.len() as f64;
    let (mx, my) =
        (points.iter().map(|p| p.0).sum::<f64>() / n, points.iter().map(|p| p.1).sum::<f64>() / n);
    let xx: f64 = points.iter().map(|p| (p.0 - mx) * (p.0 - mx)).sum();
    let xy: f64 = points.iter().map(|p| (p.0 - mx) * (p.1 - my)).sum();
    let slope = xy / xx;
    Some((my - slope * mx, slope))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ten turning segments and one of each other kind, with what a log would make of them.
    fn logged(turning: impl Fn(f64) -> f64, moving: impl Fn(f64) -> f64) -> Vec<HookLoad> {
        let one = |segment, motion, computed: f64, logged: f64| HookLoad {
            segment,
            computed,
            logged,
            difference: logged - computed,
            motion,
        };
        let mut all: Vec<HookLoad> = (0..10u32)
            .map(|i| {
                let computed = 400e3 + 40e3 * f64::from(i);
                one(i.try_into().unwrap(), Motion::Rotating, computed, turning(computed))
            })
            .collect();
        all.push(one(10, Motion::PickUp, 900e3, moving(900e3)));
        all.push(one(11, Motion::SlackOff, 600e3, moving(600e3)));
        all
    }

    fn suspicion(loads: &[HookLoad]) -> Suspicion {
        read(loads, 150e3).unwrap().suspicion
    }

    #[test]
    fn each_cause_is_told_from_the_others() {
        let same = |x| x;
        assert_eq!(suspicion(&logged(same, same)), Suspicion::None);
        // A block that is 60 kN heavier than said.
        assert_eq!(suspicion(&logged(|x| x + 60e3, |x| x + 60e3)), Suspicion::Offset);
        // Pipe that is 12 % heavier than said, or mud that is lighter.
        let heavy = |x: f64| 150e3 + 1.12 * (x - 150e3);
        assert_eq!(suspicion(&logged(heavy, heavy)), Suspicion::Scale);
        assert_eq!(suspicion(&logged(same, |x| x + 100e3)), Suspicion::Friction);
        let few: Vec<HookLoad> = logged(heavy, heavy).into_iter().take(3).collect();
        assert_eq!(suspicion(&few), Suspicion::Weight);
    }

    #[test]
    fn the_line_gives_back_what_was_put_in() {
        let c = read(&logged(|x| 150e3 + 20e3 + 1.1 * (x - 150e3), |x| x), 150e3).unwrap();
        let (offset, slope) = c.fit.unwrap();
        assert!((offset - 20e3).abs() < 1e-6 && (slope - 1.1).abs() < 1e-9);
        assert_eq!(c.kinds.len(), 3);
        assert!(read(&[], 0.0).is_none());
    }
}
