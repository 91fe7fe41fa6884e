//! Loads along the string: rotating tension in closed form, side force, friction, buckling, hook
//! load. Tension is effective tension (pressure-area terms left out) unless said otherwise.

pub mod buckling;
pub mod hookload;
mod profile;
pub mod rotating;
pub(in crate::mechanics) mod side_force;
pub mod soft_string;
mod sources;

pub use self::buckling::Column;
pub use self::profile::{Buckling, Operation, OperationLoads, profile};
pub use self::rotating::RotatingTension;
pub use self::soft_string::{AtBit, Friction, Motion, SoftString};
pub use self::sources::LoadFigure;
