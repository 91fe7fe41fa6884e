//! Bending of the tube in a curved hole: magnification by axial force, contact with the wall,
//! doglegs without fatigue.

pub mod contact;
pub mod limit;
pub mod magnification;
mod sources;

pub use self::contact::{Bend, Contact, Span};
pub use self::limit::{CORROSIVE_FACTOR, PermissibleStress, SHARPEST, Tube};
pub use self::sources::BendingFigure;
