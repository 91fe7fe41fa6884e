//! Soft string with friction: pick-up, slack-off, and torque.
//!
//! Model: Johancsik, Friesen & Dawson 1984 (SPE 11380): the string has no stiffness, lies against
//! the hole, and sliding friction is a coefficient times the side force. Their lumped step takes
//! the tension of the lower end for the whole element; here the two equations
//!
//!   dT/ds = w cos I ± μₐ F,   dM/ds = μₜ F r   (s upwards, F the side force per metre)
//!
//! are integrated by an embedded Runge–Kutta pair (Dormand & Prince 1980, orders 5 and 4) with
//! steps that end at every arc, part and change of friction, to a tolerance that the result
//! reports. A string that turns while it moves slowly is taken as turning: at 60 ft/h and 120 rpm
//! half a percent of the friction of a 6 5/8 in tool joint is axial (ratio of the speeds).

use super::side_force::{inward, side_force_squared};
use crate::mechanics::path::Path;
use crate::mechanics::string::{CaseError, DrillString, Fluids};

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Friction {
    /// Inside casing and riser.
    pub cased: f64,
    pub open: f64,
    /// Measured depth of the casing shoe, m.
    pub cased_to: f64,
}

/// How the string moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Motion {
    /// Turning without moving: all friction goes into torque.
    Rotating,
    /// Moving up without turning: friction adds to the pull.
    PickUp,
    /// Moving down without turning: friction holds the string up.
    SlackOff,
}

/// Tension and torque at a point of the string.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Load {
    /// Distance from the bit, m.
    pub distance: f64,
    pub tension: f64,
    pub torque: f64,
    pub side_force: f64,
}

/// Loads along the string, from the bit up.
#[derive(Debug, Clone, PartialEq)]
pub struct Loads {
    /// At the distances asked for, in their order, and at the table (or the string's top) last.
    pub points: Vec<Load>,
    /// Sum of the steps' error estimates of tension, N: a bound in practice, not in proof.
    pub tension_error: f64,
}

/// What the string carries at the bit.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct AtBit {
    /// Weight on bit, N.
    pub wob: f64,
    /// Torque on bit, N·m.
    pub torque: f64,
}

/// Error allowed per metre of string, as a share of the buoyed weight of that metre.
const TOLERANCE: f64 = 1e-9;
/// Shortest step, m: where the side force passes zero its slope jumps and steps shrink to this.
const SHORTEST: f64 = 1e-4;

/// Everything that the right-hand side needs along one stretch.
struct Stretch<'a> {
    path: &'a Path,
    bit_depth: f64,
    arc: usize,
    weight: f64,
    axial: f64,
    twist: f64,
}

impl Stretch<'_> {
    fn side(&self, distance: f64, tension: f64) -> (f64, f64) {
        let md = self.bit_depth - distance;
        if md < 0.0 {
            return (1.0, 0.0);
        }
        let arc = &self.path.arcs()[self.arc];
        let s = md - arc.md;
        let t = arc.tangent_at(s);
        let across =
            if arc.curvature == 0.0 { libm::hypot(t.north, t.east) } else { arc.binormal_down() };
        let inward = inward(tension, arc.curvature, self.weight, arc.normal_at(s).down);
        (t.down, side_force_squared(inward, self.weight * across).sqrt())
    }

    fn slope(&self, distance: f64, tension: f64) -> (f64, f64) {
        let (cosine, force) = self.side(distance, tension);
        (self.weight * cosine + self.axial * force, self.twist * force)
    }

    /// One Dormand–Prince step: tension and torque at the end, and the error of tension.
    fn step(&self, x: f64, h: f64, tension: f64, torque: f64) -> (f64, f64, f64) {
        let k1 = self.slope(x, tension);
        let k2 = self.slope(x + h / 5.0, tension + h * (k1.0 / 5.0));
        let k3 = self.slope(x + 0.3 * h, tension + h * (3.0 / 40.0 * k1.0 + 9.0 / 40.0 * k2.0));
        let k4 = self.slope(
            x + 0.8 * h,
            tension + h * (44.0 / 45.0 * k1.0 - 56.0 / 15.0 * k2.0 + 32.0 / 9.0 * k3.0),
        );
        let k5 = self.slope(
            x + 8.0 / 9.0 * h,
            tension
                + h * (19372.0 / 6561.0 * k1.0 - 25360.0 / 2187.0 * k2.0 + 64448.0 / 6561.0 * k3.0
                    - 212.0 / 729.0 * k4.0),
        );
        let k6 = self.slope(
            x + h,
            tension
                + h * (9017.0 / 3168.0 * k1.0 - 355.0 / 33.0 * k2.0
                    + 46732.0 / 5247.0 * k3.0
                    + 49.0 / 176.0 * k4.0
                    - 5103.0 / 18656.0 * k5.0),
        );
        let sum = |i: fn((f64, f64)) -> f64| {
            35.0 / 384.0 * i(k1) + 500.0 / 1113.0 * i(k3) + 125.0 / 192.0 * i(k4)
                - 2187.0 / 6784.0 * i(k5)
                + 11.0 / 84.0 * i(k6)
        };
        let after = tension + h * sum(|k| k.0);
        let k7 = self.slope(x + h, after);
        let error = h
            * (71.0 / 57600.0 * k1.0 - 71.0 / 16695.0 * k3.0 + 71.0 / 1920.0 * k4.0
                - 17253.0 / 339_200.0 * k5.0
                + 22.0 / 525.0 * k6.0
                - 1.0 / 40.0 * k7.0);
        (after, torque + h * sum(|k| k.1), error.abs())
    }
}

/// A string in a hole with friction.
#[derive(Debug, Clone, Copy)]
pub struct SoftString<'a> {
    pub path: &'a Path,
    pub string: &'a DrillString,
    /// Fluids inside and outside.
    pub fluids: Fluids,
    pub friction: Friction,
}

impl SoftString<'_> {
    /// Loads at these distances from the bit (m, ascending) and, last, at the table.
    pub fn loads(
        &self,
        motion: Motion,
        bit_depth: f64,
        at_bit: AtBit,
        distances: &[f64],
    ) -> Result<Loads, CaseError> {
        let top = bit_depth.min(self.string.length());
        if !(bit_depth >= 0.0 && at_bit.wob.is_finite() && at_bit.torque.is_finite()) {
            return Err(CaseError::Run { what: "bit depth must be 0 m or more, loads finite" });
        }
        if !distances.is_sorted() {
            return Err(CaseError::Run { what: "distances from the bit must ascend" });
        }
        let mut stops = self.stops(bit_depth, top);
        stops.extend(distances.iter().copied().filter(|d| (0.0..=top).contains(d)));
        stops.sort_by(f64::total_cmp);
        stops.dedup();

        let (mut tension, mut torque, mut error) = (-at_bit.wob, at_bit.torque, 0.0);
        let mut wanted = distances.iter().copied().peekable();
        let mut points = Vec::with_capacity(distances.len() + 1);
        let mut x = 0.0;
        for &stop in &stops {
            if stop > x {
                let stretch = self.stretch(bit_depth, 0.5 * (x + stop), motion);
                (tension, torque) = march(&stretch, (x, stop), (tension, torque), &mut error);
                x = stop;
            }
            // a stop is given with the part above it and, as everywhere, the arc below it
            let stretch = self.stretch(bit_depth, x, motion);
            let load =
                Load { distance: x, tension, torque, side_force: stretch.side(x, tension).1 };
            while wanted.next_if(|w| *w <= x).is_some() {
                points.push(load);
            }
            if stop >= top {
                points.push(load);
                break;
            }
        }
        Ok(Loads { points, tension_error: error })
    }

    /// Distances from the bit where the right-hand side changes form.
    fn stops(&self, bit_depth: f64, top: f64) -> Vec<f64> {
        let mut stops = vec![0.0, top];
        let inside = |d: &f64| *d > 0.0 && *d < top;
        stops.extend(self.path.arcs().iter().map(|a| bit_depth - a.md).filter(inside));
        stops.extend(self.string.distances().iter().copied().filter(inside));
        stops.extend(Some(bit_depth - self.friction.cased_to).filter(inside));
        stops
    }

    fn stretch(&self, bit_depth: f64, distance: f64, motion: Motion) -> Stretch<'_> {
        let part = &self.string.parts()[self.string.part_at(distance)];
        let md = bit_depth - distance;
        let mu = if md < self.friction.cased_to { self.friction.cased } else { self.friction.open };
        let radius = 0.5 * part.contact_diameter();
        let (axial, turning) = match motion {
            Motion::Rotating => (0.0, 1.0),
            Motion::PickUp => (1.0, 0.0),
            Motion::SlackOff => (-1.0, 0.0),
        };
        Stretch {
            path: self.path,
            bit_depth,
            arc: self.path.arc_index(md),
            weight: part.buoyed_weight(&self.fluids),
            axial: mu * axial,
            twist: mu * turning * radius,
        }
    }
}

/// Integrates across one stretch with steps of controlled error.
fn march(
    stretch: &Stretch<'_>,
    (from, to): (f64, f64),
    (mut tension, mut torque): (f64, f64),
    error: &mut f64,
) -> (f64, f64) {
    let allowed = TOLERANCE * stretch.weight.abs().max(1.0);
    let mut x = from;
    let mut h = to - from;
    while x < to {
        h = h.min(to - x);
        let last = x + h >= to;
        let (after, twisted, missed) = stretch.step(x, h, tension, torque);
        if missed > allowed * h && h > SHORTEST {
            h = (h * shrink(allowed * h / missed)).max(SHORTEST);
            continue;
        }
        tension = after;
        torque = twisted;
        *error += missed;
        x = if last { to } else { x + h };
        h *= if missed > 0.0 { (shrink(allowed * h / missed) * 1.1).min(4.0) } else { 4.0 };
    }
    (tension, torque)
}

/// Step factor for an error that is `1/ratio` times the allowed one.
fn shrink(ratio: f64) -> f64 {
    (0.9 * libm::pow(ratio, 0.2)).clamp(0.1, 4.0)
}
