//! Laws of bending, fatigue and loads along the string, over random strings and holes.

use std::f64::consts::PI;

use pipelore::mechanics::bending::{PermissibleStress, Span, Tube};
use pipelore::mechanics::fatigue::{
    CurveTable, Loading, MeanStress, StressAmplitude, initiation_probability,
};
use pipelore::mechanics::loads::{
    AtBit, Buckling, Friction, Motion, Operation, SoftString, profile,
};
use pipelore::mechanics::path::{Path, Station};
use pipelore::mechanics::string::{Bore, DrillString, Fluids, Kind, Material, Part};
use proptest::prelude::*;

const STEEL: f64 = 206.8e9;

fn tube(od: f64, wall: f64, tool_joint: f64, length: f64) -> Tube {
    let id = od - 2.0 * wall;
    let inertia = PI / 64.0 * (od.powi(4) - id.powi(4));
    Tube {
        od,
        area: PI / 4.0 * (od * od - id * id),
        young: STEEL,
        span: Span {
            half_length: 0.5 * length,
            stiffness: STEEL * inertia,
            standoff: Some(0.5 * (tool_joint - od)),
        },
    }
}

fn any_tube() -> impl Strategy<Value = Tube> {
    (0.06..0.17_f64, 0.04..0.11_f64, 1.02..1.4_f64, 8.5..14.5_f64)
        .prop_map(|(od, wall, joint, length)| tube(od, wall * od, joint * od, length))
}

fn branch() -> impl Strategy<Value = PermissibleStress> {
    prop_oneof![Just(PermissibleStress::GradeE), Just(PermissibleStress::S135)]
}

/// Share of the yield of a 75 ksi tube.
fn pull(tube: &Tube, share: f64) -> f64 {
    share * 460e6 * tube.area
}

proptest! {
    #[test]
    fn a_no_fatigue_bend_falls_with_the_pull(tube in any_tube(), b in branch(), low in 0.0..0.95_f64, more in 0.01..0.05_f64) {
        let at = |share| tube.no_fatigue_curvature(b, pull(&tube, share), 1.0);
        prop_assert!(at(low + more) < at(low) || at(low) == 0.0);
        prop_assert!((tube.no_fatigue_curvature(b, pull(&tube, low), 0.6) - 0.6 * at(low)).abs() <= 1e-12 * at(low));
    }

    #[test]
    fn contact_never_makes_a_bend_worse(tube in any_tube(), b in branch(), share in 0.001..0.95_f64) {
        let force = pull(&tube, share);
        let free = tube.no_fatigue_curvature(b, force, 1.0);
        if let Some((touching, bend)) = tube.no_fatigue_with_contact(b, force, 1.0) {
            prop_assert!(touching >= free * (1.0 - 1e-9), "{touching} {free}");
            // Where it is free of the wall the two are one.
            if bend.contact == pipelore::mechanics::bending::Contact::Free {
                prop_assert!((touching / free - 1.0).abs() < 1e-9, "{touching} {free}");
            }
            // And the stress there is the permissible one.
            let (stress, _) = tube.stress_with_contact(force, touching).unwrap();
            let permissible = b.bending(force / tube.area).unwrap();
            prop_assert!((stress / permissible - 1.0).abs() < 1e-6, "{stress} {permissible}");
        }
    }

    #[test]
    fn stress_grows_with_the_bend_through_every_contact(tube in any_tube(), share in -0.02..0.95_f64, c in 1e-5..0.045_f64, more in 1.001..1.2_f64) {
        let force = pull(&tube, share);
        let at = |c: f64| tube.stress_with_contact(force, c).map(|s| s.0);
        if let (Some(less), Some(greater)) = (at(c), at(c * more)) {
            prop_assert!(greater > less, "{greater} {less}");
            // A tube pressed straight on the hole bends as the hole does: the stress is no less.
            prop_assert!(less >= 0.5 * tube.young * tube.od * c * (1.0 - 1e-9));
        }
    }

    #[test]
    fn damage_of_a_turn_grows_with_all_that_loads_it(
        amplitude in 5e6..400e6_f64, mean in 0.0..500e6_f64, k in 1.0..3.0_f64, more in 1.001..1.5_f64,
        which in 0usize..5, curve in 0usize..1000,
    ) {
        let table = CurveTable::shipped().unwrap();
        let curve = &table.curves()[curve % table.curves().len()];
        let material = Material::steel(724e6, 793e6);
        let rule = [MeanStress::None, MeanStress::Goodman, MeanStress::Gerber, MeanStress::Soderberg, MeanStress::morrow_for(&material)][which];
        let one = Loading { amplitude: StressAmplitude::from_pascals(amplitude), mean, concentration: k, rule, material: &material };
        let d = one.turn(curve).damage;
        prop_assert!(d > 0.0);
        let harder = Loading { amplitude: StressAmplitude::from_pascals(amplitude * more), ..one };
        prop_assert!(harder.turn(curve).damage > d);
        let notched = Loading { concentration: k * more, ..one };
        prop_assert!(notched.turn(curve).damage > d);
        let stretched = Loading { mean: mean * more, ..one };
        prop_assert!(stretched.turn(curve).damage >= d);
        // Compression gives nothing back.
        let pushed = Loading { mean: -mean, ..one }.turn(curve).damage;
        let unloaded = Loading { mean: 0.0, ..one }.turn(curve).damage;
        prop_assert!((pushed / unloaded - 1.0).abs() < 1e-12);
        // Soderberg is the most cautious, then Goodman, then Morrow and Gerber; none is the least.
        let of = |rule| Loading { rule, ..one }.turn(curve).damage;
        let goodman = of(MeanStress::Goodman);
        prop_assert!(of(MeanStress::Soderberg) >= goodman);
        prop_assert!(goodman >= of(MeanStress::morrow_for(&material)) * (1.0 - 1e-12));
        prop_assert!(goodman >= of(MeanStress::Gerber) * (1.0 - 1e-12));
        prop_assert!(of(MeanStress::Gerber) >= of(MeanStress::None) * (1.0 - 1e-12));
    }

    #[test]
    fn the_chance_of_a_crack_is_a_chance_and_grows(curve in 0usize..1000, damage in 1e-4..50.0_f64, more in 1.001..3.0_f64, miner in any::<bool>()) {
        let table = CurveTable::shipped().unwrap();
        let curve = &table.curves()[curve % table.curves().len()];
        if let Some(p) = initiation_probability(damage, curve, miner) {
            prop_assert!((0.0..=1.0).contains(&p));
            prop_assert!(initiation_probability(damage * more, curve, miner).unwrap() >= p);
        }
        prop_assert_eq!(initiation_probability(0.0, curve, miner).unwrap_or(0.0), 0.0);
    }
}

fn part(kind: Kind, length: f64, od: f64, id: f64, weight: f64, joint: Option<f64>) -> Part {
    Part {
        kind,
        length,
        od,
        id,
        air_weight: weight,
        tool_joint_od: joint,
        material: Material::steel(724e6, 793e6),
        permissible: PermissibleStress::GradeE,
        concentration: [1.0; 3],
    }
}

/// Bit, collars, heavy-weight pipe, two sizes of drill pipe.
fn string(bit: f64) -> DrillString {
    let mut parts = vec![part(Kind::DrillCollar, 80.0, 0.165, 0.071, 136.0, None)];
    parts.push(part(Kind::HeavyWeight, 150.0, 0.127, 0.076, 73.0, Some(0.168)));
    parts.push(part(Kind::DrillPipe, 600.0, 0.114, 0.097, 26.8, Some(0.159)));
    parts.push(part(Kind::DrillPipe, bit, 0.127, 0.109, 31.0, Some(0.168)));
    DrillString::new(parts).unwrap()
}

/// A hole of four stations: down, a bend, and on; azimuth turns by `turn`.
fn hole(kick: f64, inc: f64, azi: f64, turn: f64, mirrored: bool) -> Path {
    let sign = if mirrored { -1.0 } else { 1.0 };
    let at = |md: f64, i: f64, a: f64| Station { md, inc: i, azi: (sign * a).rem_euclid(2.0 * PI) };
    Path::new(&[
        at(0.0, 0.0, azi),
        at(kick, 0.0, azi),
        at(kick + 400.0, inc, azi),
        at(kick + 900.0, inc * 0.8, azi + turn),
        at(kick + 2500.0, inc, azi + turn),
    ])
    .unwrap()
}

fn hole_numbers() -> impl Strategy<Value = (f64, f64, f64, f64)> {
    (100.0..900.0_f64, 0.02..1.5_f64, 0.0..6.0_f64, -1.2..1.2_f64)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn friction_parts_the_operations_and_none_joins_them(
        (kick, inc, azi, turn) in hole_numbers(), bit in 1300.0..3000.0_f64, mu in 0.01..0.5_f64, mud in 800.0..2000.0_f64,
    ) {
        let path = hole(kick, inc, azi, turn, false);
        let string = string(bit);
        let fluids = Fluids::same(mud);
        let loads = |mu: f64| {
            let friction = Friction { cased: mu, open: mu, cased_to: 0.4 * kick };
            let soft = SoftString { path: &path, string: &string, fluids, friction };
            let ats: Vec<f64> = (0..10).map(|i| bit * f64::from(i) / 10.0).collect();
            profile(&soft, &Bore::everywhere(0.216), bit, AtBit { wob: 60e3, torque: 0.0 }, &ats).unwrap()
        };
        let of = |l: &[pipelore::mechanics::loads::OperationLoads], op| l.iter().find(|o| o.operation == op).unwrap().clone();
        let rough = loads(mu);
        let (up, turning, down) = (of(&rough, Operation::PickUp), of(&rough, Operation::RotatingOffBottom), of(&rough, Operation::SlackOff));
        for ((u, r), d) in up.points.iter().zip(&turning.points).zip(&down.points) {
            prop_assert!(u.tension >= r.tension - 1e-3 && r.tension >= d.tension - 1e-3);
            prop_assert!(r.torque >= 0.0);
        }
        let more = loads(1.3 * mu);
        let pulled = of(&more, Operation::PickUp);
        prop_assert!(pulled.at_table().unwrap().tension >= up.at_table().unwrap().tension);
        prop_assert!(of(&more, Operation::RotatingOnBottom).at_table().unwrap().torque
            >= of(&rough, Operation::RotatingOnBottom).at_table().unwrap().torque);
        // The weight on the bit is missing at the top, friction or not, while turning.
        let on = of(&rough, Operation::RotatingOnBottom);
        prop_assert!((turning.at_table().unwrap().tension - on.at_table().unwrap().tension - 60e3).abs() < 0.1);
        let smooth = loads(0.0);
        let t = of(&smooth, Operation::RotatingOffBottom).at_table().unwrap().tension;
        for op in [Operation::PickUp, Operation::SlackOff] {
            prop_assert!((of(&smooth, op).at_table().unwrap().tension - t).abs() < 0.1);
        }
        prop_assert!(of(&smooth, Operation::RotatingOnBottom).at_table().unwrap().torque.abs() < 1e-6);
        // Only what is compressed can buckle.
        for o in &rough {
            prop_assert_eq!(o.least_tension >= 0.0, o.worst == Buckling::Tension);
        }
    }

    #[test]
    fn mirror_image_holes_carry_alike(
        (kick, inc, azi, turn) in hole_numbers(), bit in 1300.0..3000.0_f64, mu in 0.0..0.5_f64,
    ) {
        let string = string(bit);
        let friction = Friction { cased: mu, open: mu, cased_to: 0.0 };
        let top = |mirrored| {
            let path = hole(kick, inc, azi, turn, mirrored);
            let soft = SoftString { path: &path, string: &string, fluids: Fluids::same(1200.0), friction };
            [Motion::Rotating, Motion::PickUp, Motion::SlackOff].map(|m| {
                let l = soft.loads(m, bit, AtBit { wob: 50e3, torque: 0.0 }, &[]).unwrap();
                let p = *l.points.last().unwrap();
                (p.tension, p.torque)
            })
        };
        for (a, b) in top(false).into_iter().zip(top(true)) {
            prop_assert!((a.0 - b.0).abs() < 1.0 && (a.1 - b.1).abs() < 1.0, "{a:?} {b:?}");
        }
    }

    #[test]
    fn a_string_cut_into_more_parts_weighs_the_same(
        (kick, inc, azi, turn) in hole_numbers(), cut in 2usize..9, mu in 0.0..0.5_f64,
    ) {
        let bit = 2000.0;
        let path = hole(kick, inc, azi, turn, false);
        let whole = string(bit);
        let pieces: Vec<Part> = whole
            .parts()
            .iter()
            .flat_map(|p| (0..cut).map(|_| Part { length: p.length / cut as f64, ..*p }))
            .collect();
        let pieces = DrillString::new(pieces).unwrap();
        let friction = Friction { cased: mu, open: mu, cased_to: 0.0 };
        let top = |s: &DrillString| {
            let soft = SoftString { path: &path, string: s, fluids: Fluids::same(1200.0), friction };
            soft.loads(Motion::PickUp, bit, AtBit::default(), &[]).unwrap().points.last().unwrap().tension
        };
        prop_assert!((top(&whole) - top(&pieces)).abs() < 1.0);
    }

    #[test]
    fn pulled_and_lowered_have_closed_forms_in_a_straight_hole(inc in 0.0..1.5_f64, bit in 300.0..3000.0_f64, mu in 0.0..0.5_f64, mud in 0.0..2000.0_f64) {
        let path = Path::new(&[Station { md: 0.0, inc, azi: 1.0 }]).unwrap();
        let string = DrillString::new(vec![part(Kind::DrillPipe, bit, 0.127, 0.109, 31.0, None)]).unwrap();
        let fluids = Fluids::same(mud);
        let w = string.parts()[0].buoyed_weight(&fluids);
        let friction = Friction { cased: mu, open: mu, cased_to: 0.0 };
        let soft = SoftString { path: &path, string: &string, fluids, friction };
        for (motion, sign) in [(Motion::PickUp, 1.0), (Motion::SlackOff, -1.0), (Motion::Rotating, 0.0)] {
            let top = soft.loads(motion, bit, AtBit::default(), &[]).unwrap().points.last().unwrap().tension;
            let closed = w * bit * (inc.cos() + sign * mu * inc.sin());
            prop_assert!((top - closed).abs() < 1e-6 * (w * bit), "{top} {closed}");
        }
        let middle = soft.loads(Motion::Rotating, bit, AtBit::default(), &[0.5 * bit]).unwrap().points[0];
        prop_assert!((middle.side_force - w * inc.sin()).abs() < 1e-9 * w);
    }

    /// A quarter circle: T = A sin I + B cos I + C e^(∓μI) while the string lies on the high side
    /// (μ from the tension of the lower end up: pulled −μ, lowered +μ in the decaying exponent).
    #[test]
    fn pulled_and_lowered_have_closed_forms_in_a_circular_hole(radius in 200.0..800.0_f64, mu in 0.02..0.4_f64, pull in 4.0..20.0_f64, lowered in any::<bool>()) {
        let length = radius * PI / 2.0;
        let deg = Station::from_degrees;
        let path = Path::new(&[deg(0.0, 0.0, 0.0), deg(length, 90.0, 0.0)]).unwrap();
        let string = DrillString::new(vec![part(Kind::DrillPipe, length, 0.127, 0.109, 31.0, None)]).unwrap();
        let fluids = Fluids::same(1200.0);
        let w = string.parts()[0].buoyed_weight(&fluids);
        let wr = w * radius;
        // Enough pull from below that T > wR sin I all the way, also when friction eats of it.
        let start = pull * wr;
        let friction = Friction { cased: mu, open: mu, cased_to: 0.0 };
        let soft = SoftString { path: &path, string: &string, fluids, friction };
        let (motion, m) = if lowered { (Motion::SlackOff, -mu) } else { (Motion::PickUp, mu) };
        let top = soft.loads(motion, length, AtBit { wob: -start, torque: 0.0 }, &[]).unwrap().points.last().unwrap().tension;
        let a = -wr * (1.0 - m * m) / (1.0 + m * m);
        let b = -2.0 * m * wr / (1.0 + m * m);
        let expected = b + (start - a) * libm::exp(m * PI / 2.0);
        prop_assert!((top / expected - 1.0).abs() < 1e-7, "{top} {expected}");
    }
}
