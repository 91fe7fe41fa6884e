//! Loads along a string at one bit depth, operation by operation, with buckling flags.

use super::buckling::Column;
use super::soft_string::{AtBit, Load, Motion, SoftString};
use crate::mechanics::path::Path;
use crate::mechanics::string::{Bore, CaseError, Part};

/// What the string does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Operation {
    /// Turning off bottom: the reference weight.
    RotatingOffBottom,
    /// Drilling, the string turning.
    RotatingOnBottom,
    /// Drilling with a motor: moving down without turning, weight on bit.
    Sliding,
    /// Tripping out: moving up without turning, nothing on the bit.
    PickUp,
    /// Tripping in: moving down without turning, nothing on the bit.
    SlackOff,
}

impl Operation {
    /// All of them, in the order of a profile's columns.
    pub const ALL: [Self; 5] = [
        Self::RotatingOffBottom,
        Self::RotatingOnBottom,
        Self::Sliding,
        Self::PickUp,
        Self::SlackOff,
    ];

    pub const fn name(self) -> &'static str {
        match self {
            Self::RotatingOffBottom => "rotating off bottom",
            Self::RotatingOnBottom => "rotating on bottom",
            Self::Sliding => "sliding",
            Self::PickUp => "pick-up",
            Self::SlackOff => "slack-off",
        }
    }

    /// How the string moves, and whether the bit carries weight.
    const fn motion(self) -> (Motion, bool) {
        match self {
            Self::RotatingOffBottom => (Motion::Rotating, false),
            Self::RotatingOnBottom => (Motion::Rotating, true),
            Self::Sliding => (Motion::SlackOff, true),
            Self::PickUp => (Motion::PickUp, false),
            Self::SlackOff => (Motion::SlackOff, false),
        }
    }
}

/// How a compressed string stands in the hole.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Buckling {
    Tension,
    /// Compressed, below the critical load.
    Stable,
    /// Compressed, and the hole's diameter is not known.
    Unknown,
    /// Past the sinusoidal load.
    Sinusoidal,
    /// Past the helical load.
    Helical,
}

impl Buckling {
    pub const fn name(self) -> &'static str {
        match self {
            Self::Tension => "tension",
            Self::Stable => "compressed",
            Self::Unknown => "compressed, hole size unknown",
            Self::Sinusoidal => "sinusoidal",
            Self::Helical => "helical",
        }
    }

    /// How a part stands under an effective tension (N), in a hole of this diameter (m) at this
    /// depth (m).
    ///
    /// The clearance is that of the tool joint. Inside casing the open hole's diameter stands for
    /// the casing's, which is the cautious side only where the casing is the wider.
    pub fn of(part: &Part, weight: f64, tension: f64, hole: Option<f64>, at: (&Path, f64)) -> Self {
        if tension >= 0.0 {
            return Self::Tension;
        }
        let Some(hole) = hole else { return Self::Unknown };
        let (path, md) = at;
        let p = path.point(md);
        let column = Column {
            stiffness: part.stiffness(),
            weight,
            clearance: 0.5 * (hole - part.contact_diameter()),
            inc: p.inc,
            build: p.build,
            turn: p.turn.unwrap_or(0.0),
        };
        if -tension <= column.sinusoidal() {
            Self::Stable
        } else if -tension <= column.helical() {
            Self::Sinusoidal
        } else {
            Self::Helical
        }
    }
}

/// What the string carries in one operation.
#[derive(Debug, Clone, PartialEq)]
pub struct OperationLoads {
    pub operation: Operation,
    /// Loads at the distances asked for, and at the table last.
    pub points: Vec<Load>,
    /// How the string stands there.
    pub buckling: Vec<Buckling>,
    /// Least tension in the middle of any part, or at the points, N.
    pub least_tension: f64,
    /// The worst of it anywhere on the string, looked at in the middle of every part and at
    /// the points.
    pub worst: Buckling,
}

impl OperationLoads {
    /// Loads at the rotary table, or at the top of a string that ends below it.
    pub fn at_table(&self) -> Option<&Load> {
        self.points.last()
    }
}

/// Loads of every operation at one bit depth.
///
/// `distances` from the bit (m) ascend; those above the table are left out of the points.
pub fn profile(
    soft: &SoftString<'_>,
    bore: &Bore,
    bit_depth: f64,
    at_bit: AtBit,
    distances: &[f64],
) -> Result<Vec<OperationLoads>, CaseError> {
    let parts = soft.string.parts();
    let tops = soft.string.distances();
    let top = bit_depth.min(soft.string.length());
    let middles: Vec<f64> =
        tops.windows(2).map(|pair| 0.5 * (pair[0] + pair[1])).filter(|d| *d <= top).collect();
    let kept: Vec<f64> = distances.iter().copied().filter(|d| *d <= top).collect();
    let stands = |load: &Load| {
        let part = &parts[soft.string.part_at(load.distance)];
        let md = bit_depth - load.distance;
        let weight = part.buoyed_weight(&soft.fluids);
        Buckling::of(part, weight, load.tension, bore.at(md), (soft.path, md))
    };
    Operation::ALL
        .into_iter()
        .map(|operation| {
            let (motion, on_bottom) = operation.motion();
            let at_bit = if on_bottom { at_bit } else { AtBit::default() };
            let loads = soft.loads(motion, bit_depth, at_bit, &kept)?;
            let between = soft.loads(motion, bit_depth, at_bit, &middles)?;
            let everywhere = || between.points.iter().chain(&loads.points);
            let worst = everywhere().map(stands).max().unwrap_or(Buckling::Tension);
            let buckling = loads.points.iter().map(stands).collect();
            let least_tension = everywhere().map(|p| p.tension).fold(f64::INFINITY, f64::min);
            Ok(OperationLoads { operation, points: loads.points, buckling, least_tension, worst })
        })
        .collect()
}
