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
mod profile;
mod quadrature;
mod response;
mod settings;
mod special;
mod tally;
mod walk;

pub use self::outcome::{BAND_WIDTH, BANDS, Bands, Flags, PartExposure};
pub use self::prepared::PreparedRun;
pub use self::profile::{PlaceDamage, Profile, ProfiledRun};
pub use self::settings::{BOX_END, MIDDLE, PIN_END, Places, Settings};
use rayon::prelude::*;

use crate::mechanics::string::{CaseError, RunCase};

/// Exposure of one part by plain integration: slow, straightforward, what the kernel is checked
/// against.
pub fn plain(case: &RunCase, settings: &Settings, part: usize) -> Result<PartExposure, CaseError> {
    plain::Plain::new(case, settings)?.part(part)
}

/// Exposure of every part by plain integration, on all threads of the current pool.
pub fn plain_all(case: &RunCase, settings: &Settings) -> Result<Vec<PartExposure>, CaseError> {
    let run = plain::Plain::new(case, settings)?;
    (0..case.string.parts().len()).into_par_iter().map(|part| run.part(part)).collect()
}
