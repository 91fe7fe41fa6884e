//! Runs that an integration may stumble over, each by itself: kernel against plain integration.

use pipelore::mechanics::bending::PermissibleStress;
use pipelore::mechanics::exposure::{PreparedRun, Settings};
use pipelore::mechanics::fatigue::{CurveTable, MeanStress};
use pipelore::mechanics::path::{Path, Station};
use pipelore::mechanics::string::{
    Bore, DrillString, Environment, Fluids, Kind, Material, Part, RunCase, Segment,
};

use pipelore::model::Activity;

use crate::check_values::Misses;
use crate::exposure_compare::compare_run;
use crate::exposure_random::{all, at_rpm};

fn settings() -> Settings {
    let curves = CurveTable::shipped().unwrap();
    Settings::with_curve(curves.get("DNVGL-RP-C203 2016 air B1").unwrap())
}

fn part(kind: Kind, od: f64, id: f64, air_weight: f64) -> Part {
    Part {
        kind,
        length: 9.45,
        od,
        id,
        air_weight,
        tool_joint_od: Some(od + 0.041),
        material: Material::steel(724.0e6, 793.0e6),
        permissible: PermissibleStress::S135,
        concentration: [1.1, 1.0, 1.3],
    }
}

fn collar() -> Part {
    part(Kind::DrillCollar, 0.1651, 0.0714, 136.0)
}

fn pipe() -> Part {
    part(Kind::DrillPipe, 0.127, 0.1086, 31.0)
}

/// Collars below pipe.
fn string(collars: usize, pipes: usize) -> Vec<Part> {
    let mut parts = vec![collar(); collars];
    parts.extend(vec![pipe(); pipes]);
    parts
}

/// Vertical, building, holding, dropping and turning.
fn hole() -> Vec<Station> {
    let deg = Station::from_degrees;
    vec![
        deg(0.0, 0.0, 0.0),
        deg(200.0, 0.0, 0.0),
        deg(228.0, 4.0, 10.0),
        deg(260.0, 12.0, 14.0),
        deg(300.0, 21.0, 20.0),
        deg(400.0, 21.0, 20.0),
        deg(430.0, 18.0, 40.0),
        deg(470.0, 30.0, 60.0),
        deg(520.0, 31.0, 61.0),
    ]
}

fn run(stations: &[Station], parts: Vec<Part>, segments: Vec<Segment>) -> RunCase {
    RunCase {
        path: Path::new(stations).unwrap(),
        string: DrillString::new(parts).unwrap(),
        segments,
        fluids: Fluids { inside: 1180.0, outside: 1230.0 },
        cased_to: 210.0,
        riser_to: 30.0,
        bore: Bore::everywhere(0.2159),
        environment: Environment::default(),
    }
}

fn drill(from: f64, to: f64, wob: f64) -> Segment {
    at_rpm(Activity::RotatingOnBottom, (from, to), 7.3, 120.0, wob)
}

fn agree(label: &str, case: &RunCase, settings: &Settings) {
    let mut misses = Misses::default();
    compare_run(label, case, settings, &mut misses);
    misses.none(label);
}

#[test]
fn one_long_segment_over_every_arc() {
    agree("long", &run(&hole(), string(6, 44), vec![drill(60.0, 515.0, 60e3)]), &settings());
}

#[test]
fn backwards_is_the_same_way() {
    let there = run(&hole(), string(6, 44), vec![drill(260.0, 515.0, 0.0)]);
    let mut back = there.clone();
    (back.segments[0].bit_from, back.segments[0].bit_to) = (515.0, 260.0);
    back.segments[0].activity = Activity::ReamingUp;
    agree("reaming up", &back, &settings());
    let (there, back) = (all(&there, &settings()), all(&back, &settings()));
    for (a, b) in there.iter().zip(back) {
        assert_eq!(a.damage, b.damage);
        assert_eq!(a.side_force_work.to_bits(), b.side_force_work.to_bits());
        assert!(a.footage > 0.0 && b.footage <= 0.0);
    }
}

#[test]
fn turning_at_one_depth() {
    let still = |bit| at_rpm(Activity::RotatingOffBottom, (bit, bit), 0.7, 90.0, 0.0);
    // on a station, inside arcs, at the table, just below it, at the bottom
    let depths = [260.0, 300.0, 311.7, 433.3, 520.0, 0.0, 0.2, 9.45, 519.999_999];
    let segments = depths.into_iter().map(still).collect();
    agree("still", &run(&hole(), string(6, 44), segments), &settings());
}

/// Up and down a stand, turning where it was, and drilling what was reamed: with and without weight on
/// bit, the collars pressed and pulled.
#[test]
fn the_same_depths_again() {
    let ream = |activity, bits, hours, rpm| at_rpm(activity, bits, hours, rpm, 90e3);
    let (up, down) = ((431.0, 416.5), (416.5, 431.0));
    let still = |hours| at_rpm(Activity::RotatingOffBottom, (431.0, 431.0), hours, 70.0, 90e3);
    let segments = vec![
        drill(416.5, 431.0, 90e3),
        drill(416.5, 431.0, 40e3),
        ream(Activity::ReamingUp, up, 0.4, 60.0),
        ream(Activity::ReamingDown, down, 0.3, 110.0),
        ream(Activity::ReamingUp, up, 0.2, 80.0),
        still(0.5),
        still(0.25),
        ream(Activity::Sliding, down, 1.0, 0.0),
        ream(Activity::ReamingUp, up, 0.1, 80.0),
    ];
    agree("again", &run(&hole(), string(12, 40), segments), &settings());
}

/// The top joint is pressed while its pin end alone is in the hole, and pulled ever after.
#[test]
fn pressed_while_it_enters() {
    let segments = vec![drill(464.0, 467.0, 220e3), drill(467.0, 515.0, 0.0)];
    let case = run(&hole(), string(6, 44), segments);
    agree("enters", &case, &settings());
    let found = all(&case, &settings());
    let top = found.last().unwrap();
    assert!(top.hours_in_compression[0] > 0.0 && top.min_tension.unwrap() > 10e3);
}

#[test]
fn segments_shorter_than_a_hair() {
    let mut segments = vec![drill(299.999_999_5, 300.000_000_5, 20e3)];
    segments.push(drill(400.0, 400.000_001, 20e3));
    segments.push(drill(431.0, 431.001, 20e3));
    segments.push(drill(431.001, 431.05, 20e3));
    agree("short", &run(&hole(), string(6, 44), segments), &settings());
}

#[test]
fn ends_on_stations() {
    let segments =
        vec![drill(228.0, 260.0, 10e3), drill(260.0, 300.0, 10e3), drill(400.0, 470.0, 0.0)];
    agree("stations", &run(&hole(), string(6, 44), segments), &settings());
}

#[test]
fn no_time_and_no_turns() {
    let mut nothing = drill(280.0, 300.0, 30e3);
    (nothing.hours, nothing.revolutions) = (0.0, 0.0);
    let mut sudden = drill(300.0, 310.0, 30e3);
    sudden.hours = 0.0;
    let mut still = drill(320.0, 330.0, 30e3);
    still.revolutions = 0.0;
    let sliding = Segment { activity: Activity::Sliding, ..drill(330.0, 350.0, 30e3) };
    let case = run(&hole(), string(6, 44), vec![nothing, sudden, still, sliding]);
    agree("nothing", &case, &settings());
    let all = all(&case, &settings());
    assert!((all[0].revolutions - case.segments[1].revolutions).abs() < 1e-9);
    assert!(all[0].rotating_hours <= 0.0);
}

#[test]
fn the_bit_at_and_near_the_table() {
    let segments = vec![drill(0.0, 3.0, 0.0), drill(3.0, 30.0, 5e3), drill(0.0, 0.0, 0.0)];
    agree("shallow", &run(&hole(), string(6, 44), segments), &settings());
}

#[test]
fn straight_holes() {
    let deg = Station::from_degrees;
    for stations in [
        vec![deg(0.0, 0.0, 0.0)],
        vec![deg(0.0, 40.0, 70.0), deg(400.0, 40.0, 70.0)],
        vec![deg(100.0, 88.0, 70.0), deg(300.0, 88.0, 70.0), deg(400.0, 88.0, 70.0)],
    ] {
        let case = run(&stations, string(6, 44), vec![drill(100.0, 480.0, 90e3)]);
        agree("straight", &case, &settings());
        let all = all(&case, &settings());
        assert!(all.iter().all(|e| e.damage == [0.0; 3] && e.max_bending_stress == [0.0; 3]));
        let rough = Settings { tortuosity: 2e-4, ..settings() };
        agree("straight but rough", &case, &rough);
        assert!(PreparedRun::new(&case, &rough).unwrap().part(12).unwrap().damage[0] > 0.0);
    }
}

#[test]
fn beyond_the_survey() {
    let segments = vec![drill(505.0, 530.0, 40e3), drill(530.0, 801.0, 40e3)];
    agree("beyond", &run(&hole(), string(6, 70), segments), &settings());
}

#[test]
fn tension_passes_zero() {
    // more weight on bit than the collars have
    for wob in [30e3, 55e3, 80e3, 140e3] {
        let case =
            run(&hole(), string(6, 44), vec![drill(240.0, 500.0, wob), drill(260.0, 262.0, wob)]);
        agree("neutral point", &case, &settings());
    }
    // up a hole that rises again
    let deg = Station::from_degrees;
    let rising = [
        deg(0.0, 0.0, 0.0),
        deg(150.0, 60.0, 0.0),
        deg(260.0, 100.0, 10.0),
        deg(420.0, 125.0, 60.0),
    ];
    agree("rising", &run(&rising, string(3, 44), vec![drill(150.0, 430.0, 20e3)]), &settings());
}

#[test]
fn stress_passes_the_knee() {
    let deg = Station::from_degrees;
    for name in [
        "DNVGL-RP-C203 2016 air B1",
        "DNV-RP-C203 2024-10 air C",
        "DNVGL-RP-C203 2016 protected F1",
    ] {
        let curve = CurveTable::shipped().unwrap().get(name).unwrap();
        let knee = 0.5e6 * curve.knee_range().unwrap().megapascals();
        let settings = Settings { mean_stress: MeanStress::None, ..Settings::with_curve(curve) };
        let mut passed = false;
        for dogleg in [3.0, 4.0, 5.0, 6.0, 7.0] {
            let stations =
                [deg(0.0, 0.0, 0.0), deg(100.0, 0.0, 0.0), deg(400.0, 10.0 * dogleg, 0.0)];
            let case = run(&stations, string(4, 44), vec![drill(120.0, 399.0, 0.0)]);
            // joints on either side of the knee, so some pass it on their way
            let all = all(&case, &settings);
            let pipes = &all[4..];
            passed |= pipes.iter().any(|e| e.max_bending_stress[2] * 1.3 > knee)
                && pipes
                    .iter()
                    .any(|e| e.max_bending_stress[2] * 1.3 < knee && e.revolutions > 0.0);
            agree(&format!("knee of {name}, {dogleg}"), &case, &settings);
        }
        assert!(passed, "{name}: no joint passes its knee");
    }
}

#[test]
fn heavy_steps_of_weight() {
    let mut parts = Vec::new();
    for i in 0..48 {
        parts.push(if i % 2 == 0 { collar() } else { pipe() });
    }
    agree("steps", &run(&hole(), parts, vec![drill(300.0, 510.0, 70e3)]), &settings());
}

#[test]
fn many_weights() {
    for count in [60_u32, 210] {
        let mut parts = string(6, 0);
        for i in 0..count {
            parts.push(Part { air_weight: 29.0 + 0.01 * f64::from((i * 37) % 211), ..pipe() });
        }
        let deep: Vec<Station> =
            hole().into_iter().map(|s| Station { md: s.md * 4.0, ..s }).collect();
        let case = run(&deep, parts, vec![drill(900.0, 960.0, 70e3), drill(1600.0, 1750.0, 70e3)]);
        agree("weights", &case, &settings());
    }
}

#[test]
fn sharp_bends() {
    let deg = Station::from_degrees;
    let stations = [
        deg(0.0, 0.0, 0.0),
        deg(100.0, 0.0, 0.0),
        deg(130.0, 30.0, 0.0),
        deg(160.0, 35.0, 60.0),
        deg(163.0, 35.5, 62.0),
        deg(260.0, 10.0, 200.0),
        deg(400.0, 90.0, 230.0),
    ];
    let case = run(&stations, string(3, 41), vec![drill(100.0, 395.0, 30e3)]);
    agree("sharp", &case, &settings());
}

#[test]
fn one_part_alone() {
    for only in [collar(), pipe()] {
        agree("alone", &run(&hole(), vec![only], vec![drill(190.0, 500.0, 0.0)]), &settings());
    }
}

#[test]
fn other_rules_and_orders() {
    let case = run(&hole(), string(6, 44), vec![drill(240.0, 500.0, 50e3)]);
    for mean_stress in [
        MeanStress::None,
        MeanStress::Gerber,
        MeanStress::Soderberg,
        MeanStress::Morrow { fracture_strength: 1.2e9 },
    ] {
        agree("rule", &case, &Settings { mean_stress, ..settings() });
    }
    for points in [1, 3, 7] {
        agree("order", &case, &Settings { points, ..settings() });
    }
    agree("corrosive", &case, &Settings { limit_factor: 0.6, ..settings() });
    let unknown = RunCase { bore: Bore::default(), cased_to: 0.0, riser_to: 0.0, ..case };
    agree("unknown", &unknown, &settings());
}

#[test]
fn depths_in_the_wrong_unit_are_refused() {
    let case = run(&hole(), string(6, 44), vec![drill(240e3, 500e3, 50e3)]);
    let refused = PreparedRun::new(&case, &settings()).unwrap_err().to_string();
    assert!(refused.contains("segment 0") && refused.contains("50,000 m"), "{refused}");
}
