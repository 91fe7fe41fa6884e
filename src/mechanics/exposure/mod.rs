//! What every joint of a string goes through in a run: turns × curvature × tension, integrated along
//! the hole that it sweeps.
//!
//! In a segment the bit moves at constant speed, so a place on a joint, at a fixed distance from the
//! bit, sweeps an interval of measured depth and its turns are spread evenly over it; a segment
//! without movement puts all its turns at one depth. Curvature is constant on each arc and jumps at
//! stations, so the interval is cut there; it is also cut where the place enters the hole, where
//! tension passes zero and where the stress passes the knee of the S–N curve. Between cuts the
//! integrand is smooth and a Gauss–Legendre rule is exact to far below what the inputs are worth.
//! Nothing moves with a step length.
//!
//! Conventions:
//! - Three places: pin end, middle, box end ([`Places`]). A place counts while it is below the rotary
//!   table; hours, turns and the rest of [`PartExposure`] are those of the middle.
//! - Turns come from rotation only: sliding and tripping turn nothing.
//! - Tension is effective tension of the rotating string ([`crate::mechanics::loads::rotating`]).
//! - The tube of drill pipe and heavy-weight hangs between tool joints: at its ends bending is hole
//!   curvature × KL/tanh KL, at mid-span × KL/sinh KL (Lubinski 1961). Compression magnifies
//!   nothing and is flagged; contact with the wall, which lowers bending, is left out and flagged;
//!   collars and tools follow the hole.
//! - Bending stress is E·OD/2 × curvature, mean stress T/A, not below 0; range is twice the
//!   amplitude that the mean-stress rule gives.
//! - Tortuosity, if stated, adds to the curvature that bends, not to tension.
//!
//! Damage is an index that ranks joints; it is no forecast of life. A qualified person decides, and
//! the governing standard comes first.
//!
//! How it is made fast: [`PreparedRun`] tabulates the hole as short arcs and the tension of what
//! hangs below as a function of bit depth, once for all joints; `walk` moves a place through both
//! and emits pieces; `chunk` and `lanes` evaluate 128 pieces at a time in straight loops; `place` and
//! `middle` add up. `tests/it/exposure_plain.rs` does the same without any of that, and the two agree.

mod chunk;
mod dogleg;
mod hanging;
mod hole;
mod lanes;
mod location;
mod middle;
mod outcome;
mod prepared;
mod profile;
mod quadrature;
mod response;
mod settings;
mod special;
mod tally;
mod walk;

pub use self::dogleg::DoglegTime;
pub use self::outcome::{BAND_WIDTH, BANDS, Bands, Flags, PartExposure};
pub use self::prepared::PreparedRun;
pub use self::profile::{PlaceDamage, Profile, ProfiledRun};
pub use self::settings::{BOX_END, MIDDLE, PIN_END, Places, Settings};
