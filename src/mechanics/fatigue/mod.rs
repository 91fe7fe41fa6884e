//! Fatigue: S–N curves as data, mean stress, damage and its scatter, notches, crack growth.

pub mod curves;
pub mod growth;
pub mod mean_stress;
pub mod miner;
pub mod notch;
mod sources;
pub mod stress;
mod turn;

pub use self::curves::{Basis, Curve, CurveError, CurveTable, Knee, Medium};
pub use self::mean_stress::MeanStress;
pub use self::miner::initiation_probability;
pub use self::sources::FatigueFigure;
pub use self::stress::{StressAmplitude, StressRange};
pub use self::turn::{Loading, Turn};
