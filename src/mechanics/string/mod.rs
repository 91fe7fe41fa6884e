//! The string and what was done with it: parts from the bit up, segments of the operating log, and
//! the run that brings them together with the hole.

mod bore;
mod part;
mod segment;

use thiserror::Error;

pub use self::bore::{Bore, BoreSection};
pub use self::part::{Fluids, Kind, Material, Metal, Part};
pub use self::segment::Segment;
use super::path::Path;

/// What makes a run impossible to compute. Parts count from the bit, both counts start at 0.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum CaseError {
    /// The tally is empty.
    #[error("the string has no parts")]
    NoParts,
    /// A part with an impossible value.
    #[error("part {part} from the bit: {what}")]
    Part {
        /// Index from the bit.
        part: usize,
        /// What would be right.
        what: &'static str,
    },
    /// A segment with an impossible value.
    #[error("segment {segment} of the log: {what}")]
    Segment {
        /// Index in the log.
        segment: usize,
        /// What would be right.
        what: &'static str,
    },
    /// A value of the run itself.
    #[error("{what}")]
    Run {
        /// What would be right.
        what: &'static str,
    },
    /// A part asked for that isn't there.
    #[error(
        "the string has {parts} parts; part {part} from the bit (counted from 0) was asked for"
    )]
    NoSuchPart {
        part: usize,
        /// How many there are.
        parts: usize,
    },
}

/// A drill string from the bit up.
#[derive(Debug, Clone, PartialEq)]
pub struct DrillString {
    parts: Vec<Part>,
    /// Distance from the bit to the pin shoulder of each part, and the whole length at the end.
    distances: Vec<f64>,
}

impl DrillString {
    /// A string of these parts, from the bit up.
    pub fn new(parts: Vec<Part>) -> Result<Self, CaseError> {
        if parts.is_empty() {
            return Err(CaseError::NoParts);
        }
        let mut distances = Vec::with_capacity(parts.len() + 1);
        let mut at = 0.0;
        for (index, part) in parts.iter().enumerate() {
            part.check(index)?;
            distances.push(at);
            at += part.length;
        }
        distances.push(at);
        Ok(Self { parts, distances })
    }

    /// The parts from the bit up.
    pub fn parts(&self) -> &[Part] {
        &self.parts
    }

    /// Distance from the bit to the pin shoulder of each part, m; one more entry closes the string.
    pub fn distances(&self) -> &[f64] {
        &self.distances
    }

    /// Length of the string, m.
    pub fn length(&self) -> f64 {
        self.distances.last().copied().unwrap_or(0.0)
    }

    /// Index of the part at a distance from the bit; the top part beyond its end.
    pub fn part_at(&self, distance: f64) -> usize {
        let found = self.distances.partition_point(|d| *d <= distance).saturating_sub(1);
        found.min(self.parts.len() - 1)
    }
}

/// What the surroundings do to the validity of the formulas.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Environment {
    /// Hydrogen sulphide was met: no shipped S–N curve holds.
    pub hydrogen_sulphide: bool,
    /// Highest temperature of the pipe, °C, where known.
    pub hottest_celsius: Option<f64>,
}

/// One run: the hole, the string and what was done.
#[derive(Debug, Clone, PartialEq)]
pub struct RunCase {
    pub path: Path,
    pub string: DrillString,
    /// The operating log, in order.
    pub segments: Vec<Segment>,
    /// Fluids inside and outside the string.
    pub fluids: Fluids,
    /// Measured depth down to which the hole is cased, riser included, m; 0 for none.
    pub cased_to: f64,
    /// Measured depth down to which the string stands in a riser, m; 0 for none.
    pub riser_to: f64,
    /// How wide the hole is: tells where the tube has a wall to touch, and how it may buckle.
    pub bore: Bore,
    pub environment: Environment,
}

impl RunCase {
    /// Names the first value that makes the run impossible to compute.
    pub fn check(&self) -> Result<(), CaseError> {
        for (index, segment) in self.segments.iter().enumerate() {
            segment.check(index)?;
        }
        let wrong = |what| Err(CaseError::Run { what });
        let densities = [self.fluids.inside, self.fluids.outside];
        if densities.iter().any(|d| !(*d >= 0.0 && d.is_finite())) {
            return wrong("fluid densities must be 0 kg/m³ or more");
        }
        if !(self.cased_to >= 0.0 && self.riser_to >= 0.0) {
            return wrong("casing and riser depths must be 0 m or more");
        }
        if !self.bore.is_possible() {
            return wrong("hole diameters must be above 0 m, and their sections from 0 m down");
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mechanics::bending::PermissibleStress;
    use crate::mechanics::constants::{GRAVITY, STEEL_DENSITY};
    use crate::model::Activity;

    fn collar() -> Part {
        Part {
            kind: Kind::DrillCollar,
            length: 9.3,
            od: 0.1651,
            id: 0.0714,
            air_weight: 136.0,
            tool_joint_od: None,
            material: Material::steel(758e6, 965e6),
            permissible: PermissibleStress::GradeE,
            concentration: [1.0; 3],
        }
    }

    #[test]
    fn one_fluid_gives_the_buoyancy_factor() {
        let w = collar().buoyed_weight(&Fluids::same(1200.0));
        let factor = 1.0 - 1200.0 / STEEL_DENSITY;
        assert!((w - 136.0 * GRAVITY * factor).abs() < 1e-9);
    }

    #[test]
    fn a_heavier_fluid_inside_adds_its_weight() {
        let part = collar();
        let same = part.buoyed_weight(&Fluids::same(1200.0));
        let heavy = part.buoyed_weight(&Fluids { inside: 1500.0, outside: 1200.0 });
        let bore = core::f64::consts::PI / 4.0 * 0.0714 * 0.0714;
        assert!((heavy - same - 300.0 * bore * GRAVITY).abs() < 1e-9);
    }

    #[test]
    fn distances_count_from_the_bit() {
        let string = DrillString::new(vec![collar(), collar()]).unwrap();
        assert_eq!(string.part_at(0.0), 0);
        assert_eq!(string.part_at(9.3), 1);
        assert_eq!(string.part_at(100.0), 1);
        assert!((string.length() - 18.6).abs() < 1e-12);
    }

    #[test]
    fn impossible_parts_are_named() {
        let refused = DrillString::new(vec![collar(), Part { id: 0.2, ..collar() }]).unwrap_err();
        assert!(matches!(refused, CaseError::Part { part: 1, .. }));
        assert_eq!(DrillString::new(Vec::new()).unwrap_err(), CaseError::NoParts);
    }

    fn at_90_rpm(activity: Activity, (bit_from, bit_to): (f64, f64), hours: f64) -> Segment {
        Segment {
            activity,
            bit_from,
            bit_to,
            hours,
            revolutions: 90.0 * 60.0 * hours,
            wob: 0.0,
            torque: None,
            hookload: None,
        }
    }

    #[test]
    fn a_cut_segment_adds_up() {
        let s = at_90_rpm(Activity::ReamingUp, (1000.0, 971.3), 0.7);
        let (a, b) = s.split_at_fraction(0.3);
        assert!((a.turns() + b.turns() - s.turns()).abs() < 1e-9);
        assert!((a.hours + b.hours - s.hours).abs() < 1e-15);
        assert!((a.bit_to - b.bit_from).abs() < 1e-15);
        assert!((b.bit_to - s.bit_to).abs() < 1e-15);
    }

    #[test]
    fn a_motor_does_not_turn_the_string() {
        let s = at_90_rpm(Activity::Sliding, (1000.0, 1010.0), 1.0);
        assert!(s.turns().abs() < 1e-300);
        assert!(Activity::Sliding.drills() && !Activity::Sliding.rotates());
    }
}
