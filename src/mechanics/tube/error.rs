//! What a tube calculation refuses, and why.

use super::input::InputError;
use super::sizes::SizeError;
use super::us::{INCH, KSI, length_text};

/// A tube calculation that can't be done. Lengths in m, stresses in Pa, loads in N.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum TubeError {
    /// A value that is no number or no possible value.
    #[error(transparent)]
    Input(#[from] InputError),
    /// A size that the standard does not list.
    #[error(transparent)]
    Size(#[from] SizeError),
    /// A wall that leaves no bore.
    #[error(
        "a wall of {} is more than half the outside diameter of {}: no bore is left",
        length_text(*wall),
        length_text(*od)
    )]
    WallOverHalfDiameter { wall: f64, od: f64 },
    /// A bore as wide as the body.
    #[error(
        "an inside diameter of {} does not fit in an outside diameter of {}",
        length_text(*id),
        length_text(*od)
    )]
    InsideOverOutside { id: f64, od: f64 },
    /// A yield strength for which the collapse polynomials no longer order their regimes.
    #[error(
        "collapse by API 5C3 is defined here for yields of {:.0} to {:.0} ksi, not for {:.1} ksi",
        min / KSI,
        max / KSI,
        yield_strength / KSI
    )]
    CollapseYieldOutside {
        /// Yield (or effective yield under tension), Pa.
        yield_strength: f64,
        min: f64,
        max: f64,
    },
    /// A wall so thick or so thin that the collapse formulas were never meant for it.
    #[error(
        "collapse by API 5C3 needs an outside diameter of at least twice and at most {max} times \
         the wall, not {ratio:.2} (wall {:.3} in)",
        wall / INCH
    )]
    CollapseSlendernessOutside { ratio: f64, max: f64, wall: f64 },
    /// A load above the body's own yield.
    #[error("the {what} of {load:.0} (SI) is above the yield of the body, {capacity:.0}")]
    BeyondYield {
        what: Applied,
        /// The load, N or N·m.
        load: f64,
        /// The body's capacity, N or N·m.
        capacity: f64,
    },
    /// A compressive load where the method is for tension only.
    #[error("{load:.0} N is compression; this method is for tension, use 0 for no tension")]
    Compression {
        /// The load, N (negative).
        load: f64,
    },
}

/// The load of a combined rating that was too high.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Applied {
    AxialLoad,
    Torque,
}

impl std::fmt::Display for Applied {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::AxialLoad => "axial load",
            Self::Torque => "torque",
        })
    }
}
