//! Published tube figures, row by row.

use std::f64::consts::TAU;

use pipelore::mechanics::constants::STEEL_YOUNG;
use pipelore::mechanics::tube::collapse::{
    CollapseUnderTension, coefficients, collapse_under_tension,
};
use pipelore::mechanics::tube::sizes::{SizeTolerance, by_wall, by_weight};
use pipelore::mechanics::tube::us::{FOOT, FT_LBF, INCH, KSI, LB, LB_PER_FT, LBF, PSI};
use pipelore::mechanics::tube::{
    Body, Grade, Section, Tube, TubeClass, Wear, combined, elastic, handling,
};

use crate::reference_support::{Row, check};

fn wear(class: &str) -> Wear {
    match class {
        "New" => Wear::Class(TubeClass::New),
        "Premium" => Wear::Class(TubeClass::Premium),
        "Class2" => Wear::Class(TubeClass::Class2),
        "RBW95" => Wear::Fraction(0.95),
        "RBW90" => Wear::Fraction(0.90),
        other => panic!("class {other}"),
    }
}

fn grade(row: &Row) -> Grade {
    row.text("grade").parse().unwrap()
}

/// The tube of a row, by the size's weight, with the wall of the row checked against the data.
fn tube(row: &Row) -> Tube {
    let od = row.number("od_in") * INCH;
    let size =
        by_weight(od, row.number("weight_lb_ft") * LB_PER_FT, SizeTolerance::default()).unwrap();
    Body::from(size).worn(wear(row.text("class"))).unwrap()
}

#[test]
fn pipe_body_ratings() {
    check("pipe_body_ratings.csv", |row| {
        let tube = tube(row);
        let wall = row.number("wall_in");
        assert!((tube.nominal.wall() / INCH - wall).abs() < 1e-9, "the size table's wall");
        let r = tube.ratings(grade(row).min_yield()).unwrap();
        match row.text("quantity") {
            "tensile_yield" => r.tension / LBF,
            "torsional_yield" => r.torsion / FT_LBF,
            "internal_yield" => r.internal_yield / PSI,
            "collapse" => r.collapse.pressure / PSI,
            "A" => tube.section.area / (INCH * INCH),
            "Z" => tube.section.modulus / (INCH * INCH * INCH),
            "Zp" => tube.section.polar_modulus / (INCH * INCH * INCH),
            "D" => tube.section.od / INCH,
            "t" => tube.section.wall / INCH,
            other => panic!("quantity {other}"),
        }
    });
}

#[test]
fn collapse_coefficients() {
    check("collapse_coefficients.csv", |row| {
        let k = coefficients(row.number("yield_ksi") * KSI).unwrap();
        match row.text("quantity") {
            "A" => k.a,
            "B" => k.b,
            "C" => k.c,
            "F" => k.f,
            "G" => k.g,
            "yield_limit" => k.yield_limit,
            "plastic_limit" => k.plastic_limit,
            "transition_limit" => k.transition_limit,
            other => panic!("quantity {other}"),
        }
    });
}

#[test]
fn collapse_with_tension() {
    check("collapse_under_tension.csv", |row| {
        let steel = grade(row).steel();
        let method = match row.text("method") {
            "effective_yield" => CollapseUnderTension::EffectiveYield,
            "average_yield" => {
                CollapseUnderTension::AverageYieldScaling { average_yield: steel.average_yield }
            }
            other => panic!("method {other}"),
        };
        let load = row.number("load_lb") * LBF;
        let c = collapse_under_tension(&tube(row), steel.min_yield, load, method).unwrap();
        match row.text("quantity") {
            "collapse" => c.pressure / PSI,
            "effective_yield" => c.base.yield_strength / PSI,
            "reduction" => c.reduction,
            "axial_stress" => c.axial_stress / PSI,
            other => panic!("quantity {other}"),
        }
    });
}

#[test]
fn torque_under_tension() {
    check("combined_tension_torque.csv", |row| {
        let allowed = row.number("yield_factor") * grade(row).min_yield();
        let ratings = tube(row).ratings(allowed).unwrap();
        combined::torque_under_load(&ratings, row.number("load_lb") * LBF).unwrap() / FT_LBF
    });
}

#[test]
fn twist_stretch_and_free_point() {
    // The guide whose twist factors these are states its own shear modulus.
    const GUIDE_SHEAR: f64 = 11.71e6 * PSI;
    let section = |row: &Row| {
        Section::from_diameters(row.number("od_in") * INCH, row.number("id_in") * INCH).unwrap()
    };
    let worn = |row: &Row| {
        let (od, wall) = (row.number("od_in") * INCH, row.number("wall_in") * INCH);
        let size = by_wall(od, wall, SizeTolerance::default()).unwrap();
        Body::from(size).worn(wear(row.text("class"))).unwrap().section
    };
    // RP 7G turns the weight of the plain body into its area: 3.4 lb/ft per square inch of steel.
    let weighing = |row: &Row| {
        let area = row.number("weight_lb_ft") / 3.4 * INCH * INCH;
        Section::from_diameters((2.0 * area / TAU * 4.0).sqrt(), 0.0).unwrap()
    };
    check("misc_tube.csv", |row| match row.text("check") {
        "twist_factor" => {
            let twist = elastic::twist_per_length(&worn(row), GUIDE_SHEAR, FT_LBF).unwrap();
            1.0 / (twist * 1000.0 * FOOT / TAU)
        }
        "plain_end_weight" => {
            let density = 0.2833 * LB / (INCH * INCH * INCH);
            worn(row).area * density / LB_PER_FT
        }
        "stretch_by_weight" => {
            let (length, load) = (row.number("length_ft") * FOOT, row.number("load_lb") * LBF);
            elastic::stretch(&weighing(row), STEEL_YOUNG, length, load).unwrap() / INCH
        }
        "free_length_by_weight" => {
            let (stretch, pull) = (row.number("stretch_in") * INCH, row.number("load_lb") * LBF);
            elastic::free_length(&weighing(row), STEEL_YOUNG, stretch, pull).unwrap() / FOOT
        }
        // The constant of the formula `free feet = constant × inches × 1000 / pounds`.
        "free_point_constant" => {
            elastic::free_length(&section(row), STEEL_YOUNG, INCH, 1000.0 * LBF).unwrap() / FOOT
        }
        "free_length" => {
            elastic::free_length(
                &section(row),
                STEEL_YOUNG,
                row.number("stretch_in") * INCH,
                row.number("load_lb") * LBF,
            )
            .unwrap()
                / FOOT
        }
        "lateral_load_factor" => {
            handling::lateral_load_factor(handling::api_slip_taper(), row.number("friction"))
                .unwrap()
        }
        other => panic!("check {other}"),
    });
}
