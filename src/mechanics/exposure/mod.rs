//! What every joint of a string goes through in a run.

mod chunk;
mod hanging;
mod hole;
mod lanes;
mod middle;
mod outcome;
mod place;
mod plain;
mod prepared;
mod quadrature;
mod response;
mod settings;
mod special;
mod tally;
mod walk;

pub use self::outcome::{BAND_WIDTH, BANDS, Bands, Flags, PartExposure};
pub use self::prepared::PreparedRun;
pub use self::settings::{BOX_END, MIDDLE, PIN_END, Places, Settings};
use crate::mechanics::string::{CaseError, RunCase};

/// Exposure of one part by plain integration.
pub fn plain(case: &RunCase, settings: &Settings, part: usize) -> Result<PartExposure, CaseError> {
    plain::Plain::new(case, settings)?.part(part)
}
