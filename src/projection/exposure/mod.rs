//! From a run's entry to what each joint went through in it: brings the tally, the joints'
//! dimensions of the day, the survey and the fatigue method together for `mechanics`, and turns
//! its figures into whole quanta.

mod method;
mod model;
mod quantise;

pub use method::Method;
pub use model::{JointFacts, JointLine, RunInput, RunModel};
