//! S–N curves, mean stress, probability, crack growth and turns in a dogleg against check values.

use pipelore::mechanics::bending::PermissibleStress;
use pipelore::mechanics::constants::PASCALS_PER_PSI;
use pipelore::mechanics::fatigue::curves::Knee;
use pipelore::mechanics::fatigue::growth::LAWS;
use pipelore::mechanics::fatigue::notch::{fatigue_notch_factor, notch_factor};
use pipelore::mechanics::fatigue::{
    Basis, Curve, CurveError, CurveTable, MeanStress, StressAmplitude, StressRange,
    initiation_probability,
};
use pipelore::mechanics::path::{Path, Station};
use pipelore::mechanics::string::{
    Bore, DrillString, Environment, Fluids, Kind, Material, Part, RunCase,
};
use pipelore::model::Activity;

use crate::check_values::{Misses, table};
use crate::exposure_random::{AIR, at_rpm, exposure, settings};

fn from_psi(value: f64) -> StressAmplitude {
    StressAmplitude::from_pascals(value * PASCALS_PER_PSI)
}

fn psi(stress: StressAmplitude) -> f64 {
    stress.pascals() / PASCALS_PER_PSI
}

/// A curve on another basis: the whole of it moves along N by two standard deviations.
fn on(curve: &Curve, basis: Basis) -> Curve {
    if basis == curve.basis {
        return curve.clone();
    }
    let shift = 2.0 * curve.scatter.unwrap() * if basis == Basis::Mean { 1.0 } else { -1.0 };
    let knee = curve.knee.map(|k| Knee {
        cycles: k.cycles * 10_f64.powf(shift),
        log_a: k.log_a + shift,
        listed_log_a: None,
        ..k
    });
    Curve { log_a: curve.log_a + shift, knee, basis, ..curve.clone() }
}

/// Adopted methods name their curves, and damage rests on these figures. A curve that was read wrong
/// comes back under a name of its own.
#[test]
fn a_curve_that_shipped_is_never_changed() {
    let text = include_str!("../../src/mechanics/fatigue/curves.csv");
    let shipped: String = text.lines().take(96).flat_map(|line| [line, "\n"]).collect();
    assert_eq!(
        pipelore::ledger::digest(shipped.as_bytes()),
        "6515b1b885dc5f107f1f5a8c9b6a0dccfae0e1695888bc9fa4c9d109092211ad"
    );
}

#[test]
fn shipped_curves_meet_at_their_knees_and_name_their_source() {
    let mut names = Vec::new();
    let mut unlisted = Vec::new();
    for curve in CurveTable::shipped().unwrap().curves() {
        let name = curve.name();
        assert!(!curve.source.is_empty(), "{name}: no source");
        assert!(["published", "memory"].contains(&curve.provenance.as_str()), "{name}");
        assert_eq!(curve.scatter.is_some(), !curve.scatter_provenance.is_empty(), "{name}");
        if let Some(knee) = curve.knee {
            let gap = knee.log_a - curve.continuous_log_a().unwrap();
            assert!(gap.abs() < 0.0025, "{name}: {gap}");
            if knee.listed_log_a.is_some() {
                assert!(!curve.note.is_empty(), "{name}: differs from its listing without a note");
                unlisted.push(name.clone());
            }
            // both branches on either side of the knee
            let s = curve.knee_range().unwrap().megapascals();
            let around = |f: f64| curve.cycles(StressRange::from_megapascals(s * f));
            assert!(around(1.001) < knee.cycles && around(0.99) > knee.cycles, "{name}");
        }
        names.push(name);
    }
    assert_eq!(unlisted, ["DNV-RP-C203 2024-10 air B1", "DNV-RP-C203 2024-10 air B2"]);
    let count = names.len();
    names.sort();
    names.dedup();
    assert_eq!(names.len(), count, "two curves share a name");
    for paper in ["Hansford", "Lubinski", "Morgan", "Grondin"] {
        assert!(!names.iter().any(|n| n.contains(paper)), "{paper}'s figure was not read");
    }
}

#[test]
fn listed_fatigue_limits() {
    let mut misses = Misses::default();
    let shipped = CurveTable::shipped().unwrap();
    for row in table("sn_fatigue_limit.csv") {
        let name = row.text("curve");
        let curve = on(shipped.get(name).unwrap(), Basis::Design);
        let (cycles, listed) = (row.given("cycles"), row.given("stress_range_mpa"));
        let (m, log_a) = match curve.knee {
            Some(knee) if knee.cycles < cycles * 1.000_001 => (knee.m, knee.log_a),
            _ => (curve.m, curve.log_a),
        };
        let got = 10_f64.powf((log_a - cycles.log10()) / m);
        // three decimals of log a are worth 0.05 % of stress at slope 5, the listing its last digit
        let digits = row.text("stress_range_mpa").split('.').nth(1).map_or(0, str::len);
        let tolerance = 0.5 * 10_f64.powi(-i32::try_from(digits).unwrap()) + 5e-4 * listed;
        if row.text("known_difference").is_empty() {
            misses.absolute(name, got, listed, tolerance);
        } else {
            misses.holds(
                &format!("{name}: known difference ({got})"),
                (got - listed).abs() > tolerance,
            );
        }
        if let Some(a) = row.number("design_a") {
            misses.relative(&format!("{name} design"), 10_f64.powf(curve.log_a), a, 1e-3);
        }
    }
    misses.none("fatigue limits");
}

/// 18,000 psi amplitude, the classic endurance limit, on modern curves: finite lives (5.4 of the
/// reference notes; two digits given).
#[test]
fn the_classic_endurance_limit_is_a_finite_life() {
    let shipped = CurveTable::shipped().unwrap();
    let life = |name: &str, psi| {
        let range = from_psi(psi).range();
        shipped.get(name).unwrap().cycles(range)
    };
    let mut misses = Misses::default();
    misses.absolute("B1", life("DNVGL-RP-C203 2016 air B1", 18_000.0), 3.4e5, 0.05e5);
    misses.absolute(
        "B",
        life("BS 7608 family class-society rules air B", 18_000.0),
        6.2e5,
        0.051e5,
    );
    misses.absolute("B1 free", life("DNVGL-RP-C203 2016 corrosive B1", 18_000.0), 1.8e5, 0.05e5);
    misses.absolute("B1 20", life("DNVGL-RP-C203 2016 air B1", 20_000.0), 2.3e5, 0.05e5);
    let range = from_psi(18_000.0).range();
    misses.absolute("range", range.megapascals(), 248.2, 0.05);
    misses.absolute("back", 0.5 * range.pascals() / PASCALS_PER_PSI, 18_000.0, 1e-9);
    misses.none("classic endurance limit");
}

#[test]
fn a_table_that_cannot_be_is_refused_by_row() {
    let header = "standard,edition,environment,class,m1,log10_a1,knee_cycles,m2,log10_a2,log10_a2_listed,mean_stress,basis,standard_deviation,standard_deviation_provenance,source,provenance,note\n";
    let read = |row: &str| CurveTable::read(format!("{header}{row}\n").as_bytes()).unwrap_err();
    let jump =
        read("X,1,air,B1,4,15.117,5e6,5,17.146,17.146,contained,design,0.2,memory,s,published,");
    assert!(matches!(jump, CurveError::Knee { row: 1, .. }), "{jump}");
    assert!(jump.to_string().contains("17.222"), "{jump}");
    let air = read("X,1,water,B1,4,15.117,,,,,contained,design,0.2,memory,s,published,");
    assert!(matches!(air, CurveError::Cell { row: 1, column: "environment", .. }));
    let slope = read("X,1,air,B1,-4,15.117,,,,,contained,design,0.2,memory,s,published,");
    assert!(matches!(slope, CurveError::Cell { row: 1, column: "m1", .. }));
    assert!(CurveTable::shipped().unwrap().get("nonsense").is_err());
}

#[test]
fn mean_stress_rules() {
    let material = Material::steel(135_000.0 * PASCALS_PER_PSI, 145_000.0 * PASCALS_PER_PSI);
    let mut misses = Misses::default();
    for row in table("mean_stress.csv") {
        let rule = match row.text("rule") {
            "Goodman" => MeanStress::Goodman,
            "Soderberg" => MeanStress::Soderberg,
            "Gerber" => MeanStress::Gerber,
            "Morrow" => MeanStress::Morrow { fracture_strength: 195_000.0 * PASCALS_PER_PSI },
            other => panic!("{other}"),
        };
        let amplitude = from_psi(15_000.0);
        let got = rule.equivalent(amplitude, 28_438.0 * PASCALS_PER_PSI, &material);
        misses.absolute(row.text("rule"), psi(got), row.given("equivalent_psi"), 0.51);
        let pressed = rule.equivalent(amplitude, -28_438.0 * PASCALS_PER_PSI, &material);
        misses.absolute("no benefit of compression", psi(pressed), 15_000.0, 1e-9);
    }
    // the S-135 branch of the permissible stress is Goodman on 145,000 psi
    let axial = 30_000.0 * PASCALS_PER_PSI;
    let permitted = PermissibleStress::S135.bending(axial).unwrap();
    let reversed =
        MeanStress::Goodman.equivalent(StressAmplitude::from_pascals(permitted), axial, &material);
    misses.absolute("S-135 branch", psi(reversed), 20_000.0, 1e-6);
    misses.none("mean stress");
}

#[test]
fn probability_of_initiation() {
    let shipped = CurveTable::shipped().unwrap();
    let curve = shipped.get("DNVGL-RP-C203 2016 air B1").unwrap();
    let mut misses = Misses::default();
    for row in table("initiation_probability.csv") {
        let damage = row.given("damage");
        for (column, tolerance, with) in [
            ("curve_scatter_only", "tolerance_1", false),
            ("with_miner_scatter", "tolerance_2", true),
        ] {
            let got = initiation_probability(damage, curve, with).unwrap();
            misses.absolute(
                &format!("{damage} {column}"),
                got,
                row.given(column),
                row.given(tolerance),
            );
        }
    }
    misses.none("probability of initiation");
    // on the mean curve the same cycles give less damage and the same probability
    let mean = on(curve, Basis::Mean);
    let range = StressRange::from_megapascals(180.0);
    let (design, other) = (1e5 / curve.cycles(range), 1e5 / mean.cycles(range));
    let p = initiation_probability(design, curve, true).unwrap();
    assert!((p - initiation_probability(other, &mean, true).unwrap()).abs() < 1e-12);
    let corrosive = shipped.get("BS 7608 family class-society rules corrosive B").unwrap();
    assert!(initiation_probability(0.5, corrosive, true).is_none());
}

#[test]
fn crack_growth() {
    let mut misses = Misses::default();
    for row in table("crack_growth.csv") {
        let law = LAWS.iter().find(|l| l.name == row.text("law")).unwrap();
        let from = row.given("start_mm") * 1e-3;
        let range = StressRange::from_megapascals(207.0);
        let got = law.cycles(from, 9.19e-3, range, 0.73);
        let name = format!("{} {}", law.name, row.text("start_mm"));
        misses.relative(&name, got, row.given("cycles"), 0.0051);
    }
    misses.none("crack growth");
    for law in &LAWS {
        // closed form against a sum of small steps
        let range = StressRange::from_megapascals(207.0);
        let (mut a, step, mut cycles) = (1e-3, 1e-6, 0.0);
        while a < 4e-3 {
            cycles += step / law.rate(a + 0.5 * step, range, 0.73);
            a += step;
        }
        let closed = law.cycles(1e-3, 4e-3, range, 0.73);
        assert!((cycles / closed - 1.0).abs() < 2e-3, "{}: {cycles} {closed}", law.name);
    }
    let below = LAWS[0].cycles(1e-4, 9e-3, StressRange::from_megapascals(50.0), 0.73);
    assert!(below.is_infinite(), "below the threshold nothing grows");
}

/// The structure of the classic fraction method (Hansford & Lubinski 1966, API RP 7G section 11;
/// recalled): each place of a joint makes 60·rpm·length/ROP turns while it passes a dogleg, so what it
/// does to the joint is linear in rpm and in 1/ROP. Some of the joint lies in it for its own length
/// longer.
#[test]
fn a_dogleg_is_passed_in_the_turns_of_the_classic_method() {
    const FOOT: f64 = 0.3048;
    let joint = Part {
        kind: Kind::DrillPipe,
        length: 9.45,
        od: 0.127,
        id: 0.1086,
        air_weight: 31.0,
        tool_joint_od: Some(0.168),
        material: Material::steel(724.0e6, 793.0e6),
        permissible: PermissibleStress::GradeE,
        concentration: [1.0; 3],
    };
    let deg = Station::from_degrees;
    // the tenth joint, whose pin shoulder hangs 85.05 m above the bit
    let passed = |length: f64, rpm: f64, rate: f64| {
        let path = [deg(0.0, 0.0, 0.0), deg(300.0, 0.0, 0.0), deg(300.0 + length, 6.0, 0.0)];
        let bits = (380.0, 400.0 + length);
        let hours = (bits.1 - bits.0) / rate;
        let run = RunCase {
            path: Path::new(&path).unwrap(),
            string: DrillString::new(vec![joint; 40]).unwrap(),
            segments: vec![at_rpm(Activity::RotatingOnBottom, bits, hours, rpm, 0.0)],
            fluids: Fluids::same(1200.0),
            cased_to: 0.0,
            riser_to: 0.0,
            bore: Bore::default(),
            environment: Environment::default(),
        };
        let found = exposure(&run, &settings(AIR), 9);
        (found.bands.turns[1..].iter().sum::<f64>(), found.damage)
    };
    let mut misses = Misses::default();
    for (feet, rpm, rate, turns) in
        [(30.0, 100.0, 10.0, 18_000.0), (31.5, 120.0, 50.0, 4_536.0), (93.0, 150.0, 100.0, 8_370.0)]
    {
        let (made, damage) = passed(feet * FOOT, rpm, rate * FOOT);
        let turns = turns * (1.0 + joint.length / (feet * FOOT));
        misses.relative(&format!("{feet} ft, {rpm} rpm, {rate} ft/h"), made, turns, 1e-9);
        let (_, other) = passed(feet * FOOT, 1.5 * rpm, 2.0 * rate * FOOT);
        for (place, (a, b)) in other.into_iter().zip(damage).enumerate() {
            misses.relative(&format!("damage {place}"), a, 1.5 / 2.0 * b, 1e-9);
        }
    }
    misses.none("turns in a dogleg");
}

#[test]
fn notches() {
    let mut misses = Misses::default();
    misses.absolute("hole in a plate", notch_factor(1e-3, 1e-3), 3.0, 1e-12);
    misses.holds(
        "fatigue feels less",
        fatigue_notch_factor(1e-3, 0.2e-3, 793e6) < notch_factor(1e-3, 0.2e-3),
    );
    misses.none("notches");
}
