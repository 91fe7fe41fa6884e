//! Rotary shouldered connections: thread data, torque, pull, minimum diameter, bending strength.
//!
//! The way through: [`ConnectionType`] (from any spelling of its name) and [`Dimensions`] →
//! [`Connection::new`] → [`Connection::torque`] on a [`TorqueBasis`] (yield, make-up, collar),
//! [`Connection::tension_at_makeup`], [`minimum_od`], [`Connection::bending_strength_ratio`]. Every
//! result carries its intermediates. Pure functions in SI (m, Pa, N, N·m); what does not fit is a
//! typed error; an accepted input never gives a NaN.
//!
//! Torques are computed limits and targets for clean, sound connections. Make-up work hurts people:
//! the table and procedure in force, a checked torque instrument and qualified people decide.
//!
//! ```
//! use pipelore::mechanics::connection::{Connection, ConnectionType, Dimensions, TorqueBasis};
//! use pipelore::mechanics::tube::us::{FT_LBF, INCH};
//! let nc50: ConnectionType = "4-1/2 IF".parse()?;
//! let joint = Connection::new(nc50, Dimensions::new(6.625 * INCH, 3.25 * INCH))?;
//! let makeup = joint.torque(TorqueBasis::tool_joint_makeup())?;
//! assert_eq!((makeup.torque / FT_LBF).round(), 30_730.0);
//! assert_eq!(makeup.member.to_string(), "pin");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod bending;
mod catalogue;
mod error;
mod geometry;
mod makeup;
mod min_od;
mod names;
mod sources;
mod tension;
pub mod threads;
mod torque;

pub use bending::{BendingSections, BendingStrengthRatio};
pub use catalogue::{CATALOGUE, ConnectionSpec, ConnectionType, Style};
pub use error::ConnectionError;
pub use geometry::{Connection, Dimensions, root_of_pin};
pub use makeup::{MakeupTolerance, MakeupVerdict, judge_makeup};
pub use min_od::{ECCENTRIC_ALLOWANCE, MinOd, MinOdRule, minimum_od};
pub use names::UnknownConnection;
pub use sources::ConnectionFigure;
pub use tension::{TensionAtMakeup, TensionLimit};
pub use torque::{
    COLLAR_MAKEUP, COLLAR_MAKEUP_H90, Friction, HEAVY_WEIGHT_YIELD, Member, RsLimit, RsRule,
    TOOL_JOINT_MAKEUP, TOOL_JOINT_YIELD, TorqueBasis, TorqueRating, collar_yield,
    scaled_by_compound, torsional_ratio,
};
