//! What a connection calculation refuses, and why.

use crate::mechanics::tube::input::InputError;

/// A connection calculation that can't be done. Lengths in m, stresses in Pa, torques in N·m.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum ConnectionError {
    /// A value that is no number or no possible value.
    #[error(transparent)]
    Input(#[from] InputError),
    /// A bore as wide as the outside.
    #[error(
        "an inside diameter of {:.2} mm does not fit in an outside diameter of {:.2} mm",
        id * 1e3,
        od * 1e3
    )]
    InsideOverOutside {
        /// Inside diameter, m.
        id: f64,
        /// Outside diameter, m.
        od: f64,
    },
    /// No metal between the bore and the thread root of the pin.
    #[error(
        "{connection}: a bore of {:.2} mm leaves no pin, its thread root is {:.2} mm there",
        id * 1e3,
        root * 1e3
    )]
    BoreOverPinRoot {
        /// Connection.
        connection: &'static str,
        /// Inside diameter, m.
        id: f64,
        /// Diameter of the pin at its critical section, m.
        root: f64,
    },
    /// No shoulder outside the counterbore.
    #[error(
        "{connection}: an outside diameter of {:.2} mm leaves no box outside the counterbore of \
         {:.2} mm",
        od * 1e3,
        counterbore * 1e3
    )]
    CounterboreOverOutside {
        /// Connection.
        connection: &'static str,
        /// Outside diameter, m.
        od: f64,
        /// Counterbore diameter, m.
        counterbore: f64,
    },
    /// A counterbore that the pin does not enter.
    #[error(
        "{connection}: a counterbore of {:.2} mm does not take a pin of {:.2} mm at the shoulder",
        counterbore * 1e3,
        pin * 1e3
    )]
    CounterboreUnderPin {
        /// Connection.
        connection: &'static str,
        /// Counterbore diameter, m.
        counterbore: f64,
        /// Large diameter of the pin, m.
        pin: f64,
    },
    /// No contact between bevel and counterbore.
    #[error(
        "{connection}: a bevel of {:.2} mm leaves no shoulder outside the counterbore of {:.2} mm",
        bevel * 1e3,
        counterbore * 1e3
    )]
    CounterboreOverBevel {
        /// Connection.
        connection: &'static str,
        /// Bevel diameter, m.
        bevel: f64,
        /// Counterbore diameter, m.
        counterbore: f64,
    },
    /// A bore-back as wide as the box.
    #[error(
        "{connection}: a bore-back of {:.2} mm does not fit in an outside diameter of {:.2} mm",
        bore_back * 1e3,
        od * 1e3
    )]
    BoreBackOverOutside {
        /// Connection.
        connection: &'static str,
        /// Bore-back diameter, m.
        bore_back: f64,
        /// Outside diameter, m.
        od: f64,
    },
    /// A make-up torque that yields the connection before anyone pulls.
    #[error(
        "a make-up torque of {torque:.0} N·m is above the torsional yield of {yield_torque:.0} N·m"
    )]
    MakeupBeyondYield {
        /// Make-up torque, N·m.
        torque: f64,
        /// Torsional yield of the connection, N·m.
        yield_torque: f64,
    },
    /// No outside diameter reaches the torque asked for within what can be made.
    #[error("{connection}: no box up to {:.0} mm carries {required:.0} N·m", limit * 1e3)]
    NoDiameterIsEnough {
        /// Connection.
        connection: &'static str,
        /// Torque asked for, N·m.
        required: f64,
        /// Largest outside diameter tried, m.
        limit: f64,
    },
}
