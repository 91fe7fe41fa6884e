//! The drill-pipe tube: nominal sizes and grades as data, section, ratings, combined loads.
//!
//! The way through: [`sizes`] (or [`Body::new`]) → [`Body::worn`] with a state of [`Wear`] →
//! [`Tube`] → [`Tube::ratings`] for a [`Grade`]'s yield → [`Ratings`]; then [`combined`],
//! [`collapse`], [`handling`], [`elastic`] for what several loads do together. Pure functions in SI
//! (m, Pa, N, N·m, kg/m); published coefficients keep the digits of their page. What can't be is
//! refused with a typed error; an accepted input never gives a NaN.
//!
//! Ratings are limits of a perfect ring of minimum yield. They are not permission to run: the
//! governing standard and edition, the maker's data, the employer's procedures and qualified people
//! decide.
//!
//! ```
//! use pipelore::mechanics::tube::{Body, Grade, TubeClass, Wear, sizes, us};
//! let size = sizes::by_weight(0.127, 29.02, sizes::SizeTolerance::default())?;
//! let premium = Body::from(size).worn(Wear::Class(TubeClass::Premium))?;
//! let ratings = premium.ratings(Grade::S135.min_yield())?;
//! assert_eq!((ratings.tension / us::LBF).round(), 560_764.0);
//! # Ok::<(), pipelore::mechanics::tube::TubeError>(())
//! ```

pub mod collapse;
pub mod combined;
pub mod elastic;
mod error;
mod evidence;
mod grade;
pub mod handling;
pub mod input;
mod ratings;
mod section;
pub mod sizes;
mod sources;
pub mod us;
mod wear;

pub use error::{Applied, TubeError};
pub use evidence::{Evidence, Source};
pub use grade::{Grade, Steel, UnknownGrade};
pub use ratings::{Ratings, internal_yield, tension, torsion};
pub use section::Section;
pub use sizes::NominalSize;
pub use sources::TubeFigure;
pub use wear::{Body, Tube, TubeClass, WallOnDiameter, Wear};
