//! What a connection calculation refuses, and why.

use crate::mechanics::tube::input::InputError;
use crate::mechanics::tube::us::{length_text, torque_text};

/// A connection calculation that can't be done. Lengths in m, stresses in Pa, torques in N·m.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum ConnectionError {
    /// A value that is no number or no possible value.
    #[error(transparent)]
    Input(#[from] InputError),
    /// A bore as wide as the outside.
    #[error(
        "an inside diameter of {} does not fit in an outside diameter of {}",
        length_text(*id),
        length_text(*od)
    )]
    InsideOverOutside { id: f64, od: f64 },
    /// No metal between the bore and the thread root of the pin.
    #[error(
        "{connection}: a bore of {} leaves no pin, its thread root is {} there",
        length_text(*id),
        length_text(*root)
    )]
    BoreOverPinRoot {
        connection: &'static str,
        id: f64,
        /// Diameter of the pin at its critical section, m.
        root: f64,
    },
    /// No shoulder outside the counterbore.
    #[error(
        "{connection}: an outside diameter of {} leaves no box outside the counterbore of \
         {}",
        length_text(*od),
        length_text(*counterbore)
    )]
    CounterboreOverOutside { connection: &'static str, od: f64, counterbore: f64 },
    /// A counterbore that the pin does not enter.
    #[error(
        "{connection}: a counterbore of {} does not take a pin of {} at the shoulder",
        length_text(*counterbore),
        length_text(*pin)
    )]
    CounterboreUnderPin {
        connection: &'static str,
        counterbore: f64,
        /// Large diameter of the pin, m.
        pin: f64,
    },
    /// No contact between bevel and counterbore.
    #[error(
        "{connection}: a bevel of {} leaves no shoulder outside the counterbore of {}",
        length_text(*bevel),
        length_text(*counterbore)
    )]
    CounterboreOverBevel { connection: &'static str, bevel: f64, counterbore: f64 },
    /// A bore-back as wide as the box.
    #[error(
        "{connection}: a bore-back of {} does not fit in an outside diameter of {}",
        length_text(*bore_back),
        length_text(*od)
    )]
    BoreBackOverOutside { connection: &'static str, bore_back: f64, od: f64 },
    /// A make-up torque that yields the connection before anyone pulls.
    #[error(
        "a make-up torque of {} is above the torsional yield of {}",
        torque_text(*torque),
        torque_text(*yield_torque)
    )]
    MakeupBeyondYield {
        torque: f64,
        /// Torsional yield of the connection, N·m.
        yield_torque: f64,
    },
    /// No outside diameter reaches the torque asked for within what can be made.
    #[error("{connection}: no box up to {} carries {}", length_text(*limit), torque_text(*required))]
    NoDiameterIsEnough {
        connection: &'static str,
        /// Torque asked for, N·m.
        required: f64,
        /// Largest outside diameter tried, m.
        limit: f64,
    },
}
