//! The hole: minimum curvature through survey stations.
//!
//! Source: Taylor & Mason 1972; Sawaryn & Thorogood, SPE 84246. Between two stations the hole is a
//! circular arc, so curvature is constant from station to station and jumps at each of them; every
//! integral along the hole in this crate splits there.
//!
//! Conventions, stated because surveys don't:
//! - Measured depth 0 is the rotary table and the origin of true vertical depth, north and east.
//! - A survey that starts deeper is tied to the table by a straight piece in the direction of its
//!   first station, so a first station without inclination hangs below a vertical piece.
//! - Below the last station the hole goes straight on; every answer says how far it is beyond.
//! - Above the table (negative measured depth) stands vertical pipe.
//! - At a station, curvature is that of the arc below it.

mod arc;
mod slid;
mod station;

pub use self::arc::{Arc, Vector};
pub use self::slid::Drilled;
pub use self::station::{PathError, Station, dogleg};

/// Inclination (its sine) below which azimuth and turn rate have no meaning.
const VERTICAL: f64 = 1e-9;

/// Curvature in degrees per 30 m from rad/m.
pub fn degrees_per_30m(curvature: f64) -> f64 {
    curvature * 30.0 * (180.0 / core::f64::consts::PI)
}

/// Curvature in rad/m from degrees per 30 m.
pub fn from_degrees_per_30m(dogleg: f64) -> f64 {
    dogleg * (core::f64::consts::PI / 180.0) / 30.0
}

/// A point of the hole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    pub md: f64,
    /// Position relative to the table: north, east, true vertical depth, m.
    pub position: Vector,
    pub tangent: Vector,
    pub inc: f64,
    /// Azimuth, rad, 0 to 2π; 0 where the hole is vertical.
    pub azi: f64,
    pub curvature: f64,
    /// Rate of change of inclination with depth, rad/m.
    pub build: f64,
    /// Rate of change of azimuth with depth, rad/m; none where the hole is vertical.
    pub turn: Option<f64>,
    /// How far beyond the last station this is, m; 0 where the survey covers it.
    pub beyond_survey: f64,
}

/// A hole as a chain of arcs from the table down.
#[derive(Debug, Clone, PartialEq)]
pub struct Path {
    /// At least one; the last one is the straight continuation, of unlimited length in use.
    arcs: Vec<Arc>,
    /// Depth of the last station, m.
    surveyed_to: f64,
}

impl Path {
    /// The hole through these stations, given from the top down.
    ///
    /// Refuses (naming the station) depths that run backwards, one depth with two directions,
    /// values that are not numbers, angles out of range and changes of direction of half a turn.
    /// A station that repeats the one before it exactly is dropped.
    pub fn new(stations: &[Station]) -> Result<Self, PathError> {
        let stations = station::checked(stations)?;
        let (Some(first), Some(last)) = (stations.first(), stations.last()) else {
            return Err(PathError::NoStations);
        };
        let mut arcs = Vec::with_capacity(stations.len() + 1);
        let mut at = Vector::default();
        if first.md > 0.0 {
            let tie = Arc::straight(0.0, first.md, at, Vector::direction(first.inc, first.azi));
            at = tie.position_at(tie.length);
            arcs.push(tie);
        }
        for pair in stations.windows(2) {
            if let [a, b] = pair {
                let arc = Arc::between(a, b, at);
                at = arc.position_at(arc.length);
                arcs.push(arc);
            }
        }
        arcs.push(Arc::straight(last.md, 1.0, at, Vector::direction(last.inc, last.azi)));
        Ok(Self { arcs, surveyed_to: last.md })
    }

    /// Depth of the last station, m.
    pub fn surveyed_to(&self) -> f64 {
        self.surveyed_to
    }

    /// Every number that it is made of, in one order: paths of equal numbers are one path.
    pub fn numbers(&self) -> impl Iterator<Item = f64> + '_ {
        let Self { arcs, surveyed_to } = self;
        std::iter::once(*surveyed_to).chain(arcs.iter().flat_map(Arc::numbers))
    }

    /// The arcs from the table down; the last is the straight continuation below the survey (its
    /// length has no meaning).
    pub fn arcs(&self) -> &[Arc] {
        &self.arcs
    }

    /// Index of the arc that holds a depth; the first for depths above the table.
    pub fn arc_index(&self, md: f64) -> usize {
        self.arcs.partition_point(|a| a.md <= md).saturating_sub(1)
    }

    /// True vertical depth, m. Above the table it equals measured depth.
    pub fn tvd(&self, md: f64) -> f64 {
        if md < 0.0 {
            return md;
        }
        let arc = &self.arcs[self.arc_index(md)];
        arc.tvd_at(md - arc.md)
    }

    pub fn curvature(&self, md: f64) -> f64 {
        if md < 0.0 { 0.0 } else { self.arcs[self.arc_index(md)].curvature }
    }

    /// Everything about one depth.
    pub fn point(&self, md: f64) -> Point {
        if md < 0.0 {
            let down = Vector { north: 0.0, east: 0.0, down: 1.0 };
            return Point {
                md,
                position: down.times(md),
                tangent: down,
                inc: 0.0,
                azi: 0.0,
                curvature: 0.0,
                build: 0.0,
                turn: None,
                beyond_survey: 0.0,
            };
        }
        let arc = &self.arcs[self.arc_index(md)];
        let s = md - arc.md;
        let tangent = arc.tangent_at(s);
        let normal = arc.normal_at(s);
        let across = libm::hypot(tangent.north, tangent.east);
        let inc = libm::atan2(across, tangent.down);
        let vertical = across < VERTICAL;
        let (azi, build, turn) = if vertical {
            (0.0, arc.curvature, None)
        } else {
            let azi = libm::atan2(tangent.east, tangent.north);
            let full = 2.0 * core::f64::consts::PI;
            let twist = tangent.north * normal.east - tangent.east * normal.north;
            (
                if azi < 0.0 { azi + full } else { azi },
                -arc.curvature * normal.down / across,
                Some(arc.curvature * twist / (across * across)),
            )
        };
        Point {
            md,
            position: arc.position_at(s),
            tangent,
            inc,
            azi,
            curvature: arc.curvature,
            build,
            turn,
            beyond_survey: (md - self.surveyed_to).max(0.0),
        }
    }
}

#[cfg(test)]
mod tests;
