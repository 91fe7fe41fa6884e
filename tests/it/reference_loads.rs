//! Tension, side force and friction against tables and closed forms; buckling against its checks.

use core::f64::consts::PI;

use pipelore::mechanics::bending::PermissibleStress;
use pipelore::mechanics::constants::{GRAVITY, STEEL_YOUNG};
use pipelore::mechanics::loads::hookload;
use pipelore::mechanics::loads::rotating::RotatingTension;
use pipelore::mechanics::loads::{AtBit, Column, Friction, Motion, SoftString};
use pipelore::mechanics::path::{Path, Station};
use pipelore::mechanics::string::{
    Bore, DrillString, Environment, Fluids, Kind, Material, Part, RunCase, Segment,
};
use pipelore::model::Activity;

use crate::check_values::{Misses, table};
use crate::exposure_random::at_rpm;

const INCH: f64 = 0.0254;
const FOOT: f64 = 0.3048;
const POUND: f64 = 4.448_221_615_260_5;

fn part(kind: Kind, length: f64, od: f64, id: f64, air_weight: f64) -> Part {
    let material = Material::steel(723.9e6, 792.9e6);
    Part {
        kind,
        length,
        od,
        id,
        air_weight,
        tool_joint_od: None,
        material,
        permissible: PermissibleStress::GradeE,
        concentration: [1.0; 3],
    }
}

/// 3,000 m: vertical to 1,000 m, 3 deg/30 m to 45 deg, tangent; 200 m of collars below 5 in pipe.
fn build_and_tangent() -> (Path, DrillString, Fluids) {
    let deg = Station::from_degrees;
    let path = Path::new(&[
        deg(0.0, 0.0, 90.0),
        deg(1000.0, 0.0, 90.0),
        deg(1450.0, 45.0, 90.0),
        deg(3000.0, 45.0, 90.0),
    ])
    .unwrap();
    let string = DrillString::new(vec![
        part(Kind::DrillCollar, 200.0, 6.5 * INCH, 2.8125 * INCH, 136.91108280839896),
        part(Kind::DrillPipe, 2800.0, 5.0 * INCH, 4.276 * INCH, 29.019196899606296),
    ])
    .unwrap();
    (path, string, Fluids::same(1198.2642731689664))
}

#[test]
fn build_and_tangent_hole() {
    let (path, string, fluids) = build_and_tangent();
    let rotating = RotatingTension::new(&path, &string, &fluids);
    let hanging = rotating.at(3000.0, 0.0);
    let friction = Friction { cased: 0.25, open: 0.25, cased_to: 0.0 };
    let soft = SoftString { path: &path, string: &string, fluids, friction };
    let rows = table("tension_build_and_tangent.csv");
    let mut distances: Vec<f64> = rows.iter().map(|r| 3000.0 - r.given("md_m")).collect();
    distances.reverse();
    let moved = |motion| {
        let mut loads = soft.loads(motion, 3000.0, AtBit::default(), &distances).unwrap();
        assert!(loads.tension_error < 1e-2, "{}", loads.tension_error);
        loads.points.pop();
        loads.points.reverse();
        loads.points
    };
    let (up, down, turning) =
        (moved(Motion::PickUp), moved(Motion::SlackOff), moved(Motion::Rotating));

    let mut misses = Misses::default();
    for (index, row) in rows.iter().enumerate() {
        let md = row.given("md_m");
        let distance = 3000.0 - md;
        let tension = hanging.tension(distance);
        let kn = |name: &str| 1e3 * row.given(name);
        // the table is printed to 1e-6 kN
        let within = |expected: f64| 1e-6 * expected.abs() + 1e-3;
        let mut check = |what: &str, got: f64, expected: f64| {
            misses.absolute(&format!("{md} {what}"), got, expected, within(expected));
        };
        check("rotating", tension, kn("tension_kn"));
        check("rotating, integrated", turning[index].tension, kn("tension_kn"));
        check("pick-up", up[index].tension, kn("pickup_kn"));
        check("slack-off", down[index].tension, kn("slackoff_kn"));
        let section = string.parts()[string.part_at(distance)];
        let pressure = fluids.outside * GRAVITY * path.tvd(md);
        // pressure inside and out pulls with the bore and pushes with the outside: T = Te + pi Ai − po Ao
        check("true tension", tension - pressure * section.area(), kn("true_tension_kn"));
        check("pressure", pressure, 1e6 * row.given("pressure_mpa"));
        if let Some(expected) = row.number("side_force_n_m") {
            let got = turning[index].side_force;
            misses.absolute(&format!("{md} side force"), got, expected, 1e-6 * expected + 1e-6);
        }
    }
    misses.none("build and tangent hole");
}

/// One long weightless part in a quarter circle.
#[test]
fn a_weightless_bend_multiplies_tension_by_the_belt_law() {
    let deg = Station::from_degrees;
    let length = 600.0 * PI / 2.0;
    let path = Path::new(&[deg(0.0, 0.0, 0.0), deg(length, 90.0, 0.0)]).unwrap();
    let string = DrillString::new(vec![part(Kind::DrillPipe, length, 0.127, 0.108, 0.0)]).unwrap();
    let friction = Friction { cased: 0.0, open: 0.25, cased_to: 0.0 };
    let soft = SoftString { path: &path, string: &string, fluids: Fluids::same(0.0), friction };
    let pull = AtBit { wob: -1e5, torque: 0.0 };
    let ratio = |motion| soft.loads(motion, length, pull, &[]).unwrap().points[0].tension / 1e5;
    let mut misses = Misses::default();
    // 1.48097 with friction 0.25 over 90 degrees
    misses.relative("pulled", ratio(Motion::PickUp), libm::exp(0.25 * PI / 2.0), 1e-9);
    misses.relative("lowered", ratio(Motion::SlackOff), libm::exp(-0.25 * PI / 2.0), 1e-9);
    misses.none("belt law");
}

/// A planar build with weight and enough pull to hold the string against the high side: linear in
/// the inclination I, −dT/dI = wR cos I + μ(T − wR sin I), so T = A sin I + B cos I + C·exp(−μI).
#[test]
fn a_heavy_string_in_a_circular_build_has_a_closed_form() {
    let deg = Station::from_degrees;
    let radius = 400.0;
    let length = radius * PI / 2.0;
    let path = Path::new(&[deg(0.0, 0.0, 0.0), deg(length, 90.0, 0.0)]).unwrap();
    let string = DrillString::new(vec![part(Kind::DrillPipe, length, 0.127, 0.108, 30.0)]).unwrap();
    let mu: f64 = 0.3;
    let friction = Friction { cased: 0.0, open: mu, cased_to: 0.0 };
    let fluids = Fluids::same(1200.0);
    let soft = SoftString { path: &path, string: &string, fluids, friction };
    let w = string.parts()[0].buoyed_weight(&fluids);
    let start = 500e3;
    let loads =
        soft.loads(Motion::PickUp, length, AtBit { wob: -start, torque: 0.0 }, &[]).unwrap();
    // A and B by equating the factors of sin I and cos I
    let wr = w * radius;
    let a = -wr * (1.0 - mu * mu) / (1.0 + mu * mu);
    let b = -2.0 * mu * wr / (1.0 + mu * mu);
    assert!((-a - wr - mu * b).abs() < 1e-6 * wr);
    assert!((b - mu * a + mu * wr).abs() < 1e-6 * wr);
    let c = start - a;
    let expected = b + c * libm::exp(mu * PI / 2.0);
    let mut misses = Misses::default();
    misses.relative("pulled", loads.points[0].tension, expected, 1e-9);
    misses.none("circular build");
}

#[test]
fn a_straight_inclined_hole_is_linear() {
    let path = Path::new(&[Station::from_degrees(0.0, 60.0, 45.0)]).unwrap();
    let string = DrillString::new(vec![part(Kind::DrillPipe, 2000.0, 0.127, 0.108, 30.0)]).unwrap();
    let fluids = Fluids::same(1000.0);
    let friction = Friction { cased: 0.2, open: 0.3, cased_to: 800.0 };
    let soft = SoftString { path: &path, string: &string, fluids, friction };
    let w = string.parts()[0].buoyed_weight(&fluids);
    let top =
        |motion| *soft.loads(motion, 2000.0, AtBit::default(), &[]).unwrap().points.last().unwrap();
    let (cos, sin) = (0.5, (60.0 * PI / 180.0).sin());
    let drag = w * sin * (0.3 * 1200.0 + 0.2 * 800.0);
    let mut misses = Misses::default();
    misses.relative("pulled", top(Motion::PickUp).tension, w * cos * 2000.0 + drag, 1e-9);
    misses.relative("lowered", top(Motion::SlackOff).tension, w * cos * 2000.0 - drag, 1e-9);
    misses.relative("torque", top(Motion::Rotating).torque, drag * 0.0635, 1e-9);
    misses.none("straight inclined hole");
}

/// The lumped element of the 1984 paper: side force and tension step of an element from the tension
/// at its lower end. Angles in rad, upper and lower station.
fn lumped_element(
    tension: f64,
    element_weight: f64,
    (upper_inc, upper_azi): (f64, f64),
    (lower_inc, lower_azi): (f64, f64),
    friction: f64,
) -> (f64, f64) {
    let (sin, cos) = (0.5 * (upper_inc + lower_inc)).sin_cos();
    let across = tension * (upper_azi - lower_azi) * sin;
    let along = element_weight * sin + tension * (upper_inc - lower_inc);
    let normal = across.hypot(along);
    (normal, element_weight * cos + friction * normal)
}

/// The lumped element of the paper against hand values, and how far it is from the integral.
#[test]
fn lumped_elements() {
    let mut misses = Misses::default();
    let rad = PI / 180.0;
    for row in table("lumped_elements.csv") {
        let (upper, lower) = (row.given("upper_inc_deg") * rad, row.given("lower_inc_deg") * rad);
        let turned = row.given("azimuth_change_deg") * rad;
        let element =
            |friction| lumped_element(100_000.0, 1_915.0, (upper, 0.0), (lower, turned), friction);
        let (force, rotating) = element(0.0);
        let name = format!("{} to {}", row.text("upper_inc_deg"), row.text("lower_inc_deg"));
        misses.absolute(&format!("{name} force"), force, row.given("side_force_lb"), 0.05);
        misses.absolute(&format!("{name} rotating"), rotating, row.given("rotating_lb"), 0.05);
        misses.absolute(&format!("{name} pulled"), element(0.25).1, row.given("pulled_lb"), 0.05);
        misses.absolute(
            &format!("{name} lowered"),
            element(-0.25).1,
            row.given("lowered_lb"),
            0.05,
        );
        let torque = 0.25 * force * 3.3125 / 12.0;
        misses.absolute(&format!("{name} torque"), torque, row.given("torque_ft_lb"), 0.05);
    }
    misses.none("lumped elements");
}

/// Lumped 30 m elements against the integral on the same hole: what the coarse step costs.
#[test]
fn a_lumped_step_moves_with_its_length() {
    let (path, string, fluids) = build_and_tangent();
    let friction = Friction { cased: 0.25, open: 0.25, cased_to: 0.0 };
    let soft = SoftString { path: &path, string: &string, fluids, friction };
    let exact = soft.loads(Motion::PickUp, 3000.0, AtBit::default(), &[]).unwrap();
    let exact = exact.points[0].tension;
    let lumped = |step: f64| {
        let (mut md, mut tension) = (3000.0_f64, 0.0);
        while md > 0.0 {
            let (lower, upper) = (path.point(md), path.point((md - step).max(0.0)));
            let part = string.parts()[string.part_at(3000.0 - md)];
            let weight = part.buoyed_weight(&fluids) * (lower.md - upper.md);
            let angles = |p: pipelore::mechanics::path::Point| (p.inc, PI / 2.0);
            tension += lumped_element(tension, weight, angles(upper), angles(lower), 0.25).1;
            md = upper.md;
        }
        tension / exact - 1.0
    };
    let (coarse, fine) = (lumped(50.0), lumped(10.0));
    eprintln!("lumped step of 50 m: {coarse:.2e}, of 10 m: {fine:.2e} of the pick-up at the table");
    assert!(coarse.abs() > 1e-4 && fine.abs() < coarse.abs());
    assert!(lumped(0.5).abs() < 2e-4);
}

/// Hook load: computed from the same string by hand, the log 5 kN above it.
#[test]
fn hook_load_differences() {
    let (path, string, fluids) = build_and_tangent();
    let at = |activity, bits, wob, hookload| Segment {
        hookload,
        ..at_rpm(activity, bits, 1.0, 60.0, wob)
    };
    let bit = (3000.0, 3000.0);
    let case = RunCase {
        path,
        string,
        segments: vec![
            at(Activity::RotatingOffBottom, bit, 0.0, Some(729.923570892158e3 + 25e3)),
            at(Activity::RotatingOnBottom, bit, 50e3, Some(729.923570892158e3 - 30e3)),
            at(Activity::NotRotating, (3000.5, 2999.5), 0.0, Some(931.892845e3)),
            at(Activity::NotRotating, (2999.5, 3000.5), 0.0, Some(580.239509e3)),
            at(Activity::RotatingOffBottom, bit, 0.0, None),
            at(Activity::NotRotating, bit, 0.0, Some(7e5)),
        ],
        fluids,
        cased_to: 0.0,
        riser_to: 0.0,
        bore: Bore::default(),
        environment: Environment::default(),
    };
    let friction = Friction { cased: 0.25, open: 0.25, cased_to: 0.0 };
    let found = hookload::compare(&case, friction, 20e3).unwrap();
    let expected = [5e3, 0.0, -20e3, -20e3];
    let mut misses = Misses::default();
    misses.holds("silent and standing segments are left out", found.len() == 4);
    for (got, expected) in found.iter().zip(expected) {
        misses.absolute(&format!("segment {}", got.segment), got.difference, expected, 1.0);
        misses.absolute("adds up", got.logged - got.computed, got.difference, 1e-6);
    }
    misses.none("hook load");
}

#[test]
fn buckling() {
    let mut misses = Misses::default();
    let (od, id) = (5.0 * INCH, 4.276 * INCH);
    let stiffness = STEEL_YOUNG * PI / 64.0 * (od.powi(4) - id.powi(4));
    for row in table("buckling.csv") {
        let column = Column {
            stiffness,
            weight: 19.15 * POUND / FOOT,
            clearance: 0.5 * (8.5 - 6.625) * INCH,
            inc: row.given("inc_deg") * PI / 180.0,
            build: row.given("build_deg_100ft") * PI / 180.0 / (100.0 * FOOT),
            turn: 0.0,
        };
        let expected = row.given("critical_lb");
        let name = format!("{} deg", row.text("inc_deg"));
        misses.absolute(&name, column.sinusoidal() / POUND, expected, 1.0);
        misses
            .holds(&format!("{name} helix above sinusoid"), column.helical() > column.sinusoidal());
    }
    misses.none("buckling");
}
