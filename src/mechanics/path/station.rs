//! Survey stations and what is wrong with them.

use core::f64::consts::PI;

use thiserror::Error;

/// One survey station: measured depth (m), inclination and azimuth (rad).
///
/// Inclination is counted from the vertical, azimuth clockwise from north. At an inclination of
/// zero the azimuth has no meaning and no effect.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Station {
    pub md: f64,
    /// Inclination from the vertical, rad, 0 to π.
    pub inc: f64,
    /// Azimuth, rad, within one turn either way.
    pub azi: f64,
}

impl Station {
    /// A station from depth in m and angles in degrees.
    pub fn from_degrees(md: f64, inc: f64, azi: f64) -> Self {
        Self { md, inc: inc * (PI / 180.0), azi: azi * (PI / 180.0) }
    }
}

/// A survey that can't be a hole. `station` counts from 0 in the order given.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum PathError {
    /// The survey is empty.
    #[error("the survey has no stations; one station is enough for a straight hole")]
    NoStations,
    /// A depth or an angle is not a number.
    #[error("station {station}: depth and angles must be finite numbers")]
    NotFinite {
        /// Index of the station.
        station: usize,
    },
    /// A station above the reference of measured depth.
    #[error(
        "station {station}: measured depth {md} m is negative; depths count from the rotary table down"
    )]
    AboveTable {
        /// Index of the station.
        station: usize,
        md: f64,
    },
    /// An inclination outside 0 to half a turn.
    #[error("station {station}: inclination {inc} rad is outside 0 to π; were degrees meant?")]
    Inclination {
        /// Index of the station.
        station: usize,
        inc: f64,
    },
    /// An azimuth outside one turn either way.
    #[error("station {station}: azimuth {azi} rad is outside −2π to 2π; were degrees meant?")]
    Azimuth {
        /// Index of the station.
        station: usize,
        azi: f64,
    },
    #[error(
        "station {station}: measured depth {md} m lies above the station before it, at {before} m"
    )]
    Reversed {
        /// Index of the station.
        station: usize,
        md: f64,
        /// Depth of the station before it, m.
        before: f64,
    },
    /// Two directions at one depth.
    #[error("station {station}: measured depth {md} m is repeated with another direction")]
    Repeated {
        /// Index of the station.
        station: usize,
        md: f64,
    },
    /// A change of direction of half a turn, through which no arc is defined.
    #[error(
        "station {station}: the hole turns by {dogleg} rad since the station before it; \
         half a turn between two stations has no arc of minimum curvature"
    )]
    HalfTurn {
        /// Index of the station.
        station: usize,
        /// The change of direction, rad.
        dogleg: f64,
    },
}

/// Directions within this angle (rad) are the same direction: far below any survey's resolution.
pub(super) const SAME_DIRECTION: f64 = 1e-10;

/// A change of direction above this (rad) is refused: close to half a turn the plane of the arc,
/// and with it the whole path, hangs on rounding.
const LARGEST_DOGLEG: f64 = PI - 1e-3;

/// Angle between two directions (rad) in the form that keeps its digits at small angles:
/// sin²(β/2) = sin²(ΔI/2) + sin I₁ sin I₂ sin²(ΔA/2).
pub fn dogleg(a: &Station, b: &Station) -> f64 {
    let half_inc = libm::sin(0.5 * (b.inc - a.inc));
    let half_azi = libm::sin(0.5 * (b.azi - a.azi));
    let square = half_inc * half_inc + libm::sin(a.inc) * libm::sin(b.inc) * half_azi * half_azi;
    let sine = square.clamp(0.0, 1.0).sqrt();
    2.0 * libm::asin(sine)
}

/// Checks a survey and drops stations that repeat the one before them.
pub(super) fn checked(stations: &[Station]) -> Result<Vec<Station>, PathError> {
    let mut kept: Vec<Station> = Vec::with_capacity(stations.len());
    for (index, s) in stations.iter().enumerate() {
        if !(s.md.is_finite() && s.inc.is_finite() && s.azi.is_finite()) {
            return Err(PathError::NotFinite { station: index });
        }
        if s.md < 0.0 {
            return Err(PathError::AboveTable { station: index, md: s.md });
        }
        if !(0.0..=PI).contains(&s.inc) {
            return Err(PathError::Inclination { station: index, inc: s.inc });
        }
        if s.azi.abs() > 2.0 * PI {
            return Err(PathError::Azimuth { station: index, azi: s.azi });
        }
        if let Some(before) = kept.last() {
            let turned = dogleg(before, s);
            if s.md < before.md {
                return Err(PathError::Reversed { station: index, md: s.md, before: before.md });
            }
            if s.md <= before.md {
                if turned > SAME_DIRECTION {
                    return Err(PathError::Repeated { station: index, md: s.md });
                }
                continue;
            }
            if turned > LARGEST_DOGLEG {
                return Err(PathError::HalfTurn { station: index, dogleg: turned });
            }
        }
        kept.push(*s);
    }
    if kept.is_empty() { Err(PathError::NoStations) } else { Ok(kept) }
}
