//! The hole between the stations, where a log tells which of it was drilled sliding.
//!
//! A motor turns the hole while it slides and hardly while the string rotates, so of two stations 30 m
//! apart the survey sees the mean of a sharp and of a nearly straight piece. Here the turning between
//! two stations is put into what was slid between them. The method is ours (no published one was
//! found): the hole keeps its direction at every station and, between two, the plane of the arc and the
//! angle by which it turns; the angle is shared evenly over the slid lengths and none of it over the
//! rest, except for what would make the slid lengths sharper than [`SHARPEST`], which is shared over
//! the rest. Where a log tells less than [`TOLD`] of a stretch between two stations, or that all or
//! nothing of it was slid, the arc stays. Positions move a little, directions at stations do not.

use std::ops::Range;

use super::{Arc, Path, PathError, Station, Vector, from_degrees_per_30m};

/// Sharpest bend that a slid length is given, deg/30 m (common practice: bent motors build up to about
/// this).
const SHARPEST: f64 = 16.0;
/// Share of a stretch between two stations that has to be told.
const TOLD: f64 = 0.95;
/// Lengths below this are none, m.
const NOTHING: f64 = 1e-3;

/// Depths that were drilled sliding, and those drilled while the string rotated, m.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Drilled {
    pub slid: Vec<Range<f64>>,
    pub rotated: Vec<Range<f64>>,
}

impl Drilled {
    /// Pieces of an interval that were slid, in order and apart; none where the logs do not tell enough
    /// of it, contradict each other, or tell that nothing or everything was slid.
    fn slid_of(&self, whole: &Range<f64>) -> Option<Vec<Range<f64>>> {
        let slid = within(&self.slid, whole);
        let rotated = within(&self.rotated, whole);
        let both: Vec<Range<f64>> = slid.iter().flat_map(|s| within(&rotated, s)).collect();
        let told = within(&[&slid[..], &rotated[..]].concat(), whole);
        let all = whole.end - whole.start;
        let some = length(&slid) > NOTHING && length(&slid) < all - NOTHING;
        (some && length(&both) <= NOTHING && length(&told) >= TOLD * all).then_some(slid)
    }
}

fn length(ranges: &[Range<f64>]) -> f64 {
    ranges.iter().map(|r| r.end - r.start).sum()
}

/// What of some ranges lies in a whole: in order, apart, none shorter than nothing.
fn within(ranges: &[Range<f64>], whole: &Range<f64>) -> Vec<Range<f64>> {
    let clip = |r: &Range<f64>| r.start.max(whole.start)..r.end.min(whole.end);
    let mut clipped: Vec<Range<f64>> =
        ranges.iter().map(clip).filter(|r| r.end - r.start > NOTHING).collect();
    clipped.sort_by(|a, b| a.start.total_cmp(&b.start));
    let mut out: Vec<Range<f64>> = Vec::new();
    for range in clipped {
        match out.last_mut() {
            Some(last) if range.start <= last.end + NOTHING => last.end = last.end.max(range.end),
            _ => out.push(range),
        }
    }
    out
}

impl Path {
    /// The hole with its turning where it was slid; none where no log tells of any.
    ///
    /// # Errors
    /// As [`Path::new`]; not reached for what a path says of itself.
    pub fn turned_where_slid(&self, drilled: &Drilled) -> Result<Option<Self>, PathError> {
        let mut stations = Vec::with_capacity(self.arcs.len());
        let mut any = false;
        for arc in self.arcs.iter().filter(|arc| arc.md < self.surveyed_to) {
            stations.push(station(arc.md, arc.tangent_at(0.0)));
            let whole = arc.md..arc.md + arc.length;
            if arc.curvature <= 0.0 {
                continue;
            }
            if let Some(slid) = drilled.slid_of(&whole) {
                any = true;
                stations.extend(inside(arc, &slid));
            }
        }
        if let Some(last) = self.arcs.last() {
            stations.push(station(last.md, last.tangent_at(0.0)));
        }
        if any { Self::new(&stations).map(Some) } else { Ok(None) }
    }
}

/// Stations inside an arc: where it begins and ends to slide.
fn inside(arc: &Arc, slid: &[Range<f64>]) -> Vec<Station> {
    let turned = arc.curvature * arc.length;
    let slid_length = length(slid);
    let sharp = (turned / slid_length).min(from_degrees_per_30m(SHARPEST)).max(arc.curvature);
    let gentle = (turned - sharp * slid_length) / (arc.length - slid_length);
    let end = arc.md + arc.length;
    let (mut out, mut at, mut angle) = (Vec::new(), arc.md, 0.0);
    let mut go = |to: f64, curvature: f64| {
        angle += curvature * (to - at);
        at = to;
        if to > arc.md + NOTHING && to < end - NOTHING {
            // along the arc the direction turns evenly, whatever the depth
            out.push(station(to, arc.tangent_at(arc.length * angle / turned)));
        }
    };
    for range in slid {
        go(range.start, gentle);
        go(range.end, sharp);
    }
    out
}

fn station(md: f64, tangent: Vector) -> Station {
    let across = libm::hypot(tangent.north, tangent.east);
    let azi = libm::atan2(tangent.east, tangent.north);
    let full = 2.0 * core::f64::consts::PI;
    Station {
        md,
        inc: libm::atan2(across, tangent.down),
        azi: if azi < 0.0 { azi + full } else { azi },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mechanics::path::degrees_per_30m;

    fn path() -> Path {
        let deg = Station::from_degrees;
        let stations = [(0.0, 0.0), (300.0, 0.0), (330.0, 5.0), (360.0, 10.0), (390.0, 12.0)];
        Path::new(&stations.map(|(md, inc)| deg(md, inc, 40.0))).unwrap()
    }

    fn ranges(of: &[(f64, f64)]) -> Vec<Range<f64>> {
        of.iter().map(|(a, b)| *a..*b).collect()
    }

    /// A motor that slides 15 of 30 m builds at twice what the survey says, and not at all between.
    #[test]
    fn turning_goes_where_it_was_slid() {
        let drilled = Drilled {
            slid: ranges(&[(300.0, 315.0), (350.0, 352.0), (365.0, 371.0), (384.0, 390.0)]),
            rotated: ranges(&[(0.0, 300.0), (315.0, 350.0), (352.0, 365.0), (371.0, 384.0)]),
        };
        let whole = path();
        let slid = whole.turned_where_slid(&drilled).unwrap().unwrap();
        let dogleg = |path: &Path, md: f64| degrees_per_30m(path.curvature(md));
        assert!((dogleg(&whole, 310.0) - 5.0).abs() < 1e-9);
        assert!((dogleg(&slid, 310.0) - 10.0).abs() < 1e-6 && dogleg(&slid, 320.0) < 1e-6);
        // Two metres cannot hold five degrees: the rest is shared over what was rotated.
        assert!((dogleg(&slid, 351.0) - SHARPEST).abs() < 1e-6);
        let rest = (5.0 - SHARPEST * 2.0 / 30.0) / 28.0 * 30.0;
        assert!((dogleg(&slid, 340.0) - rest).abs() < 1e-6, "{}", dogleg(&slid, 340.0));
        assert!((dogleg(&slid, 368.0) - 5.0).abs() < 1e-6 && dogleg(&slid, 378.0) < 1e-6);
        // At every station the hole has the direction of the survey, and it turns as far in all.
        for md in [300.0, 330.0, 360.0, 390.0] {
            assert!((slid.point(md).inc - whole.point(md).inc).abs() < 1e-9, "{md}");
            assert!((slid.point(md).azi - whole.point(md).azi).abs() < 1e-9, "{md}");
        }
        let turned =
            |path: &Path| -> f64 { path.arcs().iter().map(|arc| arc.curvature * arc.length).sum() };
        assert!((turned(&slid) - turned(&whole)).abs() < 1e-9);
        assert!((slid.tvd(390.0) - whole.tvd(390.0)).abs() < 0.5);
    }

    #[test]
    fn what_no_log_tells_stays_as_surveyed() {
        let some = Drilled {
            slid: ranges(&[(300.0, 310.0), (330.0, 360.0)]),
            rotated: ranges(&[(310.0, 320.0), (305.0, 308.0)]),
        };
        assert_eq!(path().turned_where_slid(&some).unwrap(), None);
        assert_eq!(path().turned_where_slid(&Drilled::default()).unwrap(), None);
    }
}
