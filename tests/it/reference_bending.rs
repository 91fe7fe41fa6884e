//! Permissible doglegs, wall contact and mean tables of bending against their check values.

use core::f64::consts::PI;

use pipelore::mechanics::bending::{
    CORROSIVE_FACTOR, Contact, PermissibleStress, Span, Tube, magnification,
};
use pipelore::mechanics::constants::{PASCALS_PER_PSI, STEEL_YOUNG};
use pipelore::mechanics::path::from_degrees_per_30m;

use crate::check_values::{Misses, table};

/// Curvature in degrees per 100 ft from rad/m.
fn degrees_per_100ft(curvature: f64) -> f64 {
    curvature.to_degrees() * 30.48
}

/// Curvature in rad/m from degrees per 100 ft.
fn from_degrees_per_100ft(dogleg: f64) -> f64 {
    dogleg.to_radians() / 30.48
}

const INCH: f64 = 0.0254;
const POUND: f64 = 4.448_221_615_260_5;

fn tube(od_in: f64, wall_in: f64, tool_joint_in: f64) -> Tube {
    let (od, id) = (od_in * INCH, (od_in - 2.0 * wall_in) * INCH);
    Tube {
        od,
        area: PI / 4.0 * (od * od - id * id),
        young: STEEL_YOUNG,
        span: Span {
            half_length: 180.0 * INCH,
            stiffness: STEEL_YOUNG * PI / 64.0 * (od.powi(4) - id.powi(4)),
            standoff: Some(0.5 * (tool_joint_in * INCH - od)),
        },
    }
}

#[test]
fn no_fatigue_doglegs() {
    let mut misses = Misses::default();
    for row in table("no_fatigue_dogleg.csv") {
        let tube = tube(row.given("od_in"), row.given("wall_in"), 7.0);
        let tension = row.given("tension_lb") * POUND;
        let branch = match row.text("grade") {
            "E75" => PermissibleStress::GradeE,
            "S135" => PermissibleStress::S135,
            other => panic!("{other}"),
        };
        let name =
            format!("{} {} {} lb", row.text("od_in"), row.text("grade"), row.text("tension_lb"));
        let axial = tension / tube.area;
        misses.absolute(
            &format!("{name} axial"),
            axial / PASCALS_PER_PSI,
            row.given("axial_stress_psi"),
            0.051,
        );
        let bending = branch.bending(axial).unwrap() / PASCALS_PER_PSI;
        misses.absolute(
            &format!("{name} bending"),
            bending,
            row.given("permissible_bending_psi"),
            0.051,
        );
        let dogleg = |factor| degrees_per_100ft(tube.no_fatigue_curvature(branch, tension, factor));
        let digits = row.text("max_dogleg_deg_100ft").split('.').nth(1).map_or(0, str::len);
        let half = 0.51 * 10_f64.powi(-i32::try_from(digits).unwrap());
        misses.absolute(&name, dogleg(1.0), row.given("max_dogleg_deg_100ft"), half);
        if let Some(expected) = row.number("corrosive_deg_100ft") {
            misses.absolute(
                &format!("{name} corrosive"),
                dogleg(CORROSIVE_FACTOR),
                expected,
                0.00051,
            );
        }
    }
    misses.none("no-fatigue doglegs");
}

#[test]
fn wall_contact() {
    let mut misses = Misses::default();
    let span = tube(5.0, 0.362, 6.375).span;
    for row in table("wall_contact.csv") {
        let force = row.given("force_lb") * POUND;
        let dogleg = row.given("dogleg_deg_100ft");
        let name = format!("{} lb {dogleg}", row.text("force_lb"));
        let touch = degrees_per_100ft(span.contact_curvature(force));
        misses.absolute(
            &format!("{name} contact"),
            touch,
            row.given("contact_dogleg_deg_100ft"),
            0.0051,
        );
        let bend = span.bend(force, from_degrees_per_100ft(dogleg)).unwrap();
        misses.absolute(&name, bend.largest(), row.given("magnification"), 0.000051);
        let (kind, free) = match bend.contact {
            Contact::Free => ("free", None),
            Contact::Point { force } => {
                assert!(force > 0.0);
                ("point", None)
            }
            Contact::Wrap { free_span } => ("wrap", Some(free_span / INCH)),
        };
        misses.holds(&format!("{name} is {kind}"), kind == row.text("contact"));
        if let Some(expected) = row.number("free_span_in") {
            misses.absolute(
                &format!("{name} free span"),
                free.unwrap_or(f64::NAN),
                expected,
                0.051,
            );
        }
    }
    misses.none("wall contact");
}

/// The closed forms against finite elements, in tension and compression, 162 times; and against the
/// same forms as worked by other hands.
#[test]
fn amplification_is_that_of_finite_elements() {
    let mut misses = Misses::default();
    for row in table("amplification.csv") {
        let sized = [row.given("od_in"), row.given("wall_in"), row.given("tool_joint_od_in")];
        let half_length = row.given("half_span_in") * INCH;
        let span = Span { half_length, ..tube(sized[0], sized[1], sized[2]).span };
        let force = row.given("tension_lbf") * POUND;
        let bend = span.bend(force, from_degrees_per_30m(row.given("dogleg_deg_30m"))).unwrap();
        let name =
            format!("{sized:?} {} lbf {}", row.text("tension_lbf"), row.text("dogleg_deg_30m"));
        let kind = match bend.contact {
            Contact::Free => "no contact",
            Contact::Point { .. } => "point",
            Contact::Wrap { .. } => "wrap",
        };
        misses.holds(&format!("{name} is {kind}"), kind == row.text("wall_contact"));
        let middle = if force < 0.0 { "largest_along_tube" } else { "mid_span" };
        // compressions, shares of Euler's load, are printed to a thousandth of a pound
        let printed = if force < 0.0 { 5e-7 } else { 1e-10 };
        misses.absolute(&format!("{name} ends"), bend.ends, row.given("ends"), printed);
        misses.relative(&format!("{name} middle"), bend.middle, row.given(middle), printed);
        let most = 2e-5 * row.given("fe_largest");
        misses.absolute(&format!("{name} fe ends"), bend.ends, row.given("fe_ends"), most);
        misses.absolute(&format!("{name} fe"), bend.largest(), row.given("fe_largest"), most);
    }
    misses.none("amplification");
}

/// Stress for a given dogleg and the customary side-force limit, worked in the reference notes.
#[test]
fn worked_values() {
    let mut misses = Misses::default();
    let five = tube(5.0, 0.362, 6.375);
    let tension = 150_000.0 * POUND;
    let stress = five.bending_stress(tension, from_degrees_per_100ft(3.0)) / PASCALS_PER_PSI;
    misses.absolute("11,053 psi at 3 deg/100 ft", stress, 11_053.0, 1.0);
    let limit = five.side_force_curvature(100_000.0 * POUND, 2_000.0 * POUND);
    misses.absolute("3.82 deg/100 ft for 2,000 lb", degrees_per_100ft(limit), 3.82, 0.005);
    let u: f64 = 3.3523 * 3.3523;
    misses.absolute(
        "KL/tanh KL",
        magnification::at_tool_joint(u).unwrap(),
        3.3523 / 3.3523_f64.tanh(),
        1e-12,
    );
    misses.absolute(
        "KL/sinh KL",
        magnification::at_mid_span(u).unwrap(),
        3.3523 / 3.3523_f64.sinh(),
        1e-12,
    );
    misses.none("worked values");
}

#[test]
fn forms_meet_without_force_and_stop_where_the_span_buckles() {
    for place in [0.0, 0.4, 1.0] {
        let at = |u| magnification::at_position(u, place).unwrap();
        assert!((at(0.0) - 1.0).abs() < 1e-15);
        for edge in [1e-6, -1e-6] {
            assert!((at(edge * 0.999_999) - at(edge * 1.000_001)).abs() < 1e-11);
        }
    }
    assert!(magnification::at_mid_span(-PI * PI).is_none());
    assert!(magnification::at_tool_joint(1e6).unwrap().is_finite());
    let span = tube(5.0, 0.362, 6.375).span;
    let free = Span { standoff: None, ..span };
    assert!(free.bend(-140_000.0 * POUND, 0.001).is_none());
    let flush = Span { standoff: Some(0.0), ..span };
    let bend = flush.bend(100_000.0 * POUND, 0.003).unwrap();
    assert!((bend.largest() - 1.0).abs() < 1e-12, "{bend:?}");
}
