//! One piece of an operating log: what the string did between two bit depths.

use super::CaseError;
use crate::model::Activity;

/// Bit depths beyond this are a slip of units or a fault of the log, m.
const DEEPEST: f64 = 50_000.0;

/// A stretch of the log during which the bit moves at constant speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Segment {
    /// What the rig was doing.
    pub activity: Activity,
    /// Bit depth at the start, m.
    pub bit_from: f64,
    /// Bit depth at the end, m.
    pub bit_to: f64,
    pub hours: f64,
    /// Turns of the string as logged; they count only where the activity turns it.
    pub revolutions: f64,
    /// Weight on bit as logged, N; it presses only where the activity is on bottom.
    pub wob: f64,
    /// Surface torque, N·m, where logged.
    pub torque: Option<f64>,
    /// Hook load, N, where logged.
    pub hookload: Option<f64>,
}

impl Segment {
    /// Turns of the string: 0 while it doesn't rotate, whatever the log says.
    pub fn turns(&self) -> f64 {
        if self.activity.rotates() { self.revolutions } else { 0.0 }
    }

    /// Load on the bit, N: 0 while it is off bottom, whatever a load cell that was not tared says.
    pub fn bit_load(&self) -> f64 {
        if self.activity.drills() { self.wob } else { 0.0 }
    }

    /// Shallowest and deepest bit depth, m.
    pub fn reach(&self) -> (f64, f64) {
        if self.bit_from <= self.bit_to {
            (self.bit_from, self.bit_to)
        } else {
            (self.bit_to, self.bit_from)
        }
    }

    /// Cuts the segment in time: the first part lasts `fraction` (0 to 1) of it. The parts add up
    /// to the whole.
    pub fn split_at_fraction(&self, fraction: f64) -> (Self, Self) {
        let f = fraction.clamp(0.0, 1.0);
        let bit = self.bit_from + f * (self.bit_to - self.bit_from);
        let first =
            Self { bit_to: bit, hours: f * self.hours, revolutions: f * self.revolutions, ..*self };
        let second = Self {
            bit_from: bit,
            hours: self.hours - first.hours,
            revolutions: self.revolutions - first.revolutions,
            ..*self
        };
        (first, second)
    }

    /// Names the first value that a segment can't have; `segment` counts from the first.
    pub fn check(&self, segment: usize) -> Result<(), CaseError> {
        let wrong = |what| Err(CaseError::Segment { segment, what });
        if !(self.bit_from >= 0.0 && self.bit_from.is_finite()) {
            return wrong("bit depth at the start must be 0 m or more");
        }
        if !(self.bit_to >= 0.0 && self.bit_to.is_finite()) {
            return wrong("bit depth at the end must be 0 m or more");
        }
        if self.bit_from.max(self.bit_to) > DEEPEST {
            return wrong("bit depth must be 50,000 m or less");
        }
        if !(self.hours >= 0.0 && self.hours.is_finite()) {
            return wrong("hours must be 0 or more");
        }
        if !(self.revolutions >= 0.0 && self.revolutions.is_finite()) {
            return wrong("revolutions must be 0 or more");
        }
        if !self.wob.is_finite() {
            return wrong("weight on bit must be a number");
        }
        Ok(())
    }
}
