//! From a run's entry to what each joint went through in it: brings the tally, the joints'
//! dimensions of the day, the survey and the fatigue method together for `mechanics`, and turns
//! its figures into whole quanta.

mod assumed;
mod case;
mod input;
mod log;
mod method;
mod model;
mod otherwise;
mod placed;
mod quantise;
mod range;
mod reads;
mod tally;
mod torque;

pub use assumed::{assumptions, effect};
pub use case::{path_of, stations_of};
pub use input::{JointFacts, JointLine, RunInput};
pub use log::note_drilled;
pub use method::Method;
pub use model::{RunModel, StringAt};
pub use otherwise::{Input, Term};
pub use placed::Section;
pub use range::{Doubt, Doubtful, Span, Spread};
pub use tally::NamedPart;
pub use torque::TorqueCycles;

use crate::mechanics::exposure::Flags;

/// Bits of `flags` of a joint's run that limit its figures, each in words.
pub fn flag_names() -> impl Iterator<Item = (i64, &'static str)> {
    let own = [
        (super::joint::ESTIMATED, "estimated"),
        (super::joint::INCOMPLETE, "its log lacks some of what the rig did"),
        (super::joint::TWICE, "twice in the tally"),
        (super::joint::MISFIT, "does not fit"),
        (super::joint::NOTCH_UNMEASURED, "an open cut or pit without a depth is not counted"),
    ];
    own.into_iter().chain(
        Flags::NAMES
            .into_iter()
            .map(|(f, name)| (i64::from(f.bits()) << input::MECHANICS_FLAGS, name)),
    )
}
