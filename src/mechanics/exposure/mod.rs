//! What every joint of a string goes through in a run: turns × curvature × tension, integrated along
//! the hole that it sweeps.
//!
//! In a segment the bit moves at constant speed, so a place on a joint, at a fixed distance from the
//! bit, sweeps an interval of measured depth and its turns are spread evenly over it; a segment
//! without movement puts all its turns at one depth. Curvature is constant on each arc and jumps at
//! stations, so the interval is cut there; it is also cut where the place enters the hole, where
//! tension passes zero, where the tube comes to touch the wall or to lie on it, and where the stress
//! passes the knee of the S–N curve. Between cuts the integrand is smooth and a Gauss–Legendre rule is
//! exact to far below what the inputs are worth. Nothing moves with a step length.
//!
//! Conventions:
//! - Three places: pin end, middle, box end ([`Places`]). A place counts while it is below the rotary
//!   table; damage, bending stress and turns above the classic limit stand at each. Hours, turns,
//!   tension and side force are those of the middle.
//! - Dogleg of a part is the sharpest bend anywhere along it, shoulder to shoulder ([`DoglegTime`]);
//!   bands and maximum count while its middle is below the table, so they add up to its hours.
//! - Turns come from rotation only: sliding and tripping turn nothing.
//! - Tension is effective tension of the rotating string ([`crate::mechanics::loads::rotating`]);
//!   weight on bit presses on bottom only.
//! - The tube of drill pipe and heavy-weight hangs between tool joints and bends as
//!   [`crate::mechanics::bending::Span::bend`] says, in tension and compression, free of the wall or
//!   touching it: the ends as it does there, the middle as it does there in tension and wherever it
//!   bends most in compression. Where hole or tool joint are not known no contact is looked for, and
//!   that is flagged where it would have been met; a span that buckles has no figure, and is flagged.
//!   Collars and tools follow the hole.
//! - Bending stress is E·OD/2 × curvature of the tube, mean stress T/A, not below 0; stress
//!   concentration counts on the alternating stress alone; range is twice the amplitude that the
//!   mean-stress rule gives.
//! - Left out: sag of the tube between tool joints, friction and drag, curvature of a buckled string.
//! - Tortuosity, if stated, adds to the curvature that bends, not to tension.
//!
//! Damage is an index that ranks joints; it is no forecast of life. A qualified person decides, and
//! the governing standard comes first.
//!
//! How it is made fast: [`PreparedRun`] tabulates the hole as short arcs and the tension of what
//! hangs below as a function of bit depth, once for all joints, and joins segments that sweep the same
//! depths under the same load; `walk` moves a place through both and emits pieces; `chunk` and `lanes`
//! evaluate 128 pieces at a time in straight loops, on both sides of zero where a chunk needs it; what
//! may touch a wall, or is odd in another way, is marked there and integrated by itself in `location`;
//! `location` and `middle` add up; hours in compression are looked for only in segments in which
//! tension cannot be bounded above zero; `dogleg` knows of each bend at what depths it is the sharpest
//! along a part, and meets the log's turns per metre with that in one pass down the hole. The work
//! grows with pieces times places: O(parts × (segments × arcs swept + arcs)).
//! `tests/it/exposure_plain.rs` does the same without any of that, and the two agree;
//! `tests/it/exposure_full.rs` holds both against other hands.

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
mod spectrum;
mod tally;
mod walk;

pub use self::dogleg::DoglegTime;
pub use self::outcome::{BAND_WIDTH, BANDS, Bands, Flags, PartExposure};
pub use self::prepared::PreparedRun;
pub use self::profile::{PlaceDamage, Profile, ProfiledRun};
pub use self::settings::{BOX_END, MIDDLE, PIN_END, Places, Settings};
pub use self::spectrum::Spectrum;
