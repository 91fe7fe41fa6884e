//! S–N curves, mean stress, probability, crack growth and the classic scaling against check values.

use pipelore::mechanics::bending::PermissibleStress;
use pipelore::mechanics::constants::PASCALS_PER_PSI;
use pipelore::mechanics::fatigue::classic::{scaled_fraction, turns_through};
use pipelore::mechanics::fatigue::growth::LAWS;
use pipelore::mechanics::fatigue::notch::{fatigue_notch_factor, notch_factor};
use pipelore::mechanics::fatigue::{
    Basis, CurveError, CurveTable, MeanStress, StressAmplitude, StressRange, initiation_probability,
};
use pipelore::mechanics::string::Material;

use crate::check_values::{Misses, table};

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
        let curve = shipped.get(name).unwrap().on(Basis::Design).unwrap();
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
        let range = StressAmplitude::from_psi(psi).range();
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
    let range = StressAmplitude::from_psi(18_000.0).range();
    misses.absolute("range", range.megapascals(), 248.2, 0.05);
    misses.absolute("back", range.amplitude().psi(), 18_000.0, 1e-9);
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
        let amplitude = StressAmplitude::from_psi(15_000.0);
        let got = rule.equivalent(amplitude, 28_438.0 * PASCALS_PER_PSI, &material);
        misses.absolute(row.text("rule"), got.psi(), row.given("equivalent_psi"), 0.51);
        let pressed = rule.equivalent(amplitude, -28_438.0 * PASCALS_PER_PSI, &material);
        misses.absolute("no benefit of compression", pressed.psi(), 15_000.0, 1e-9);
    }
    // the S-135 branch of the permissible stress is Goodman on 145,000 psi
    let axial = 30_000.0 * PASCALS_PER_PSI;
    let permitted = PermissibleStress::S135.bending(axial).unwrap();
    let reversed =
        MeanStress::Goodman.equivalent(StressAmplitude::from_pascals(permitted), axial, &material);
    misses.absolute("S-135 branch", reversed.psi(), 20_000.0, 1e-6);
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
    let mean = curve.on(Basis::Mean).unwrap();
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
            let dk = 0.73 * 207e6 * (std::f64::consts::PI * (a + 0.5 * step)).sqrt();
            cycles += step / law.rate(dk);
            a += step;
        }
        let closed = law.cycles(1e-3, 4e-3, range, 0.73);
        assert!((cycles / closed - 1.0).abs() < 2e-3, "{}: {cycles} {closed}", law.name);
    }
    let below = LAWS[0].cycles(1e-4, 9e-3, StressRange::from_megapascals(50.0), 0.73);
    assert!(below.is_infinite(), "below the threshold nothing grows");
}

#[test]
fn classic_scaling_and_notches() {
    let mut misses = Misses::default();
    let feet = 0.3048;
    misses.absolute(
        "30 ft, 100 rpm, 10 ft/h",
        turns_through(100.0, 30.0 * feet, 10.0 * feet),
        18_000.0,
        1e-6,
    );
    misses.absolute(
        "31.5 ft, 120 rpm, 50 ft/h",
        turns_through(120.0, 31.5 * feet, 50.0 * feet),
        4_536.0,
        1e-6,
    );
    misses.absolute(
        "93 ft, 150 rpm, 100 ft/h",
        turns_through(150.0, 93.0 * feet, 100.0 * feet),
        8_370.0,
        1e-6,
    );
    let scaled = scaled_fraction(0.1, (150.0, 20.0), (100.0, 10.0));
    misses.absolute("scaled", scaled, 0.1 * 1.5 * 0.5, 1e-12);
    misses.absolute("hole in a plate", notch_factor(1e-3, 1e-3), 3.0, 1e-12);
    misses.holds(
        "fatigue feels less",
        fatigue_notch_factor(1e-3, 0.2e-3, 793e6) < notch_factor(1e-3, 0.2e-3),
    );
    misses.none("classic scaling and notches");
}
