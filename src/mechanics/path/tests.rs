use core::f64::consts::PI;

use proptest::prelude::*;

use super::*;

fn deg(md: f64, inc: f64, azi: f64) -> Station {
    Station::from_degrees(md, inc, azi)
}

fn close(a: f64, b: f64, tolerance: f64) {
    assert!((a - b).abs() <= tolerance, "{a} is not {b} within {tolerance}");
}

#[test]
fn a_quarter_circle_is_one() {
    let radius = 300.0;
    let path = Path::new(&[deg(0.0, 0.0, 0.0), deg(radius * PI / 2.0, 90.0, 90.0)]).unwrap();
    let end = path.point(radius * PI / 2.0);
    close(end.position.down, radius, 1e-9);
    close(end.position.east, radius, 1e-9);
    close(end.position.north, 0.0, 1e-9);
    let half = path.point(radius * PI / 4.0);
    close(half.inc, PI / 4.0, 1e-12);
    close(half.build, 1.0 / radius, 1e-12);
    close(half.turn.unwrap(), 0.0, 1e-12);
    close(half.position.down, radius * (PI / 4.0).sin(), 1e-9);
}

#[test]
fn a_horizontal_turn_keeps_its_depth() {
    let path =
        Path::new(&[deg(0.0, 90.0, 0.0), deg(100.0, 90.0, 30.0), deg(200.0, 90.0, 60.0)]).unwrap();
    let p = path.point(150.0);
    close(p.position.down, 0.0, 1e-9);
    close(p.turn.unwrap(), 30.0 * PI / 180.0 / 100.0, 1e-12);
    close(p.build, 0.0, 1e-12);
}

#[test]
fn slight_bends_keep_their_plane() {
    let path = Path::new(&[deg(0.0, 30.0, 40.0), deg(30.0, 30.0000001, 40.0)]).unwrap();
    let p = path.point(15.0);
    close(p.build, 1e-7 * PI / 180.0 / 30.0, 1e-16);
    close(p.turn.unwrap() * 1e10, 0.0, 1e-3);
}

#[test]
fn one_station_is_a_straight_hole() {
    let path = Path::new(&[deg(1000.0, 60.0, 90.0)]).unwrap();
    close(path.tvd(1000.0), 500.0, 1e-9);
    close(path.tvd(2000.0), 1000.0, 1e-9);
    close(path.point(1500.0).beyond_survey, 500.0, 1e-12);
    close(path.point(500.0).beyond_survey, 0.0, 0.0);
    close(path.tvd(-7.0), -7.0, 0.0);
}

#[test]
fn a_survey_that_starts_deep_hangs_below_a_vertical_piece() {
    let path = Path::new(&[deg(800.0, 0.0, 123.0), deg(830.0, 3.0, 90.0)]).unwrap();
    close(path.tvd(800.0), 800.0, 1e-9);
    close(path.curvature(400.0), 0.0, 0.0);
    close(degrees_per_30m(path.curvature(815.0)), 3.0, 1e-9);
    close(path.point(900.0).inc, 3.0 * PI / 180.0, 1e-12);
}

#[test]
fn azimuth_without_inclination_has_no_effect() {
    let path =
        Path::new(&[deg(0.0, 0.0, 240.0), deg(9.0, 0.0, 216.0), deg(19.0, 0.0, 1.0)]).unwrap();
    assert!(path.arcs().iter().all(|a| a.curvature == 0.0));
}

#[test]
fn azimuth_crosses_north_the_short_way() {
    let path = Path::new(&[deg(0.0, 45.0, 355.0), deg(30.0, 45.0, 5.0)]).unwrap();
    // a chord on the cone: sin(β/2) = sin 45° · sin 5°
    let dogleg = 2.0 * ((45.0 * PI / 180.0).sin() * (5.0 * PI / 180.0).sin()).asin();
    close(path.curvature(1.0), dogleg / 30.0, 1e-15);
}

#[test]
fn what_cannot_be_a_hole_is_refused_by_station() {
    let refused = |stations: &[Station]| Path::new(stations).unwrap_err();
    assert_eq!(refused(&[]), PathError::NoStations);
    assert_eq!(
        refused(&[deg(0.0, 0.0, 0.0), deg(f64::NAN, 0.0, 0.0)]),
        PathError::NotFinite { station: 1 }
    );
    assert_eq!(refused(&[deg(-1.0, 0.0, 0.0)]), PathError::AboveTable { station: 0, md: -1.0 });
    assert_eq!(
        refused(&[deg(0.0, 0.0, 0.0), deg(50.0, 1.0, 0.0), deg(40.0, 1.0, 0.0)]),
        PathError::Reversed { station: 2, md: 40.0, before: 50.0 }
    );
    assert_eq!(
        refused(&[deg(0.0, 0.0, 0.0), deg(50.0, 1.0, 0.0), deg(50.0, 2.0, 0.0)]),
        PathError::Repeated { station: 2, md: 50.0 }
    );
    assert!(matches!(
        refused(&[deg(0.0, 90.0, 0.0), deg(50.0, 90.0, 180.0)]),
        PathError::HalfTurn { station: 1, .. }
    ));
    let degrees_as_radians = Station { md: 10.0, inc: 30.0, azi: 0.0 };
    assert!(refused(&[degrees_as_radians]).to_string().contains("degrees"));
    let azimuth = Station { md: 10.0, inc: 0.3, azi: 280.0 };
    assert!(matches!(refused(&[azimuth]), PathError::Azimuth { station: 0, .. }));
}

#[test]
fn an_exact_repeat_is_dropped() {
    let path = Path::new(&[
        deg(0.0, 0.0, 0.0),
        deg(50.0, 1.0, 0.0),
        deg(50.0, 1.0, 0.0),
        deg(60.0, 1.0, 0.0),
    ])
    .unwrap();
    assert_eq!(path.arcs().len(), 3);
}

prop_compose! {
    fn a_survey()(steps in prop::collection::vec((1.0..60.0, -6.0..6.0_f64, -9.0..9.0_f64), 2..20)) -> Vec<Station> {
        let (mut md, mut inc, mut azi) = (0.0_f64, 0.0_f64, 100.0_f64);
        let mut stations = vec![deg(0.0, 0.0, 0.0)];
        for (length, di, da) in steps {
            md += length;
            inc = (inc + di).abs().min(170.0);
            azi += da;
            stations.push(deg(md, inc, azi));
        }
        stations
    }
}

proptest! {
    #[test]
    fn the_interpolated_arc_meets_its_stations(stations in a_survey()) {
        let path = Path::new(&stations).unwrap();
        for s in &stations {
            let p = path.point(s.md);
            prop_assert!((p.inc - s.inc).abs() < 1e-9);
        }
        // the same hole, told with an extra station on each arc, is the same hole
        let mut more = Vec::new();
        for pair in stations.windows(2) {
            more.push(pair[0]);
            let p = path.point(0.5 * (pair[0].md + pair[1].md));
            more.push(Station { md: p.md, inc: p.inc, azi: p.azi });
        }
        more.push(stations[stations.len() - 1]);
        let again = Path::new(&more).unwrap();
        let end = stations[stations.len() - 1].md;
        let (a, b) = (path.point(end).position, again.point(end).position);
        prop_assert!((a.north - b.north).abs() < 1e-7);
        prop_assert!((a.east - b.east).abs() < 1e-7);
        prop_assert!((a.down - b.down).abs() < 1e-7);
    }

    #[test]
    fn a_mirror_image_has_the_same_depths_to_the_bit(stations in a_survey(), at in 0.0..500.0) {
        let mirrored: Vec<_> = stations.iter().map(|s| Station { azi: -s.azi, ..*s }).collect();
        let (a, b) = (Path::new(&stations).unwrap(), Path::new(&mirrored).unwrap());
        prop_assert_eq!(a.tvd(at).to_bits(), b.tvd(at).to_bits());
        prop_assert_eq!(a.curvature(at).to_bits(), b.curvature(at).to_bits());
    }
}
