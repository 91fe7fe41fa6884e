//! Published connection figures, row by row.

use pipelore::mechanics::connection::threads::ThreadForm;
use pipelore::mechanics::connection::{
    BendingSections, CATALOGUE, Connection, ConnectionType, Dimensions, Friction,
    HEAVY_WEIGHT_YIELD, Member, MinOdRule, RsRule, TOOL_JOINT_YIELD, TorqueBasis, minimum_od,
    scaled_by_compound, torsional_ratio,
};
use pipelore::mechanics::tube::sizes::{SizeTolerance, by_weight};
use pipelore::mechanics::tube::us::{FT_LBF, INCH, LB_PER_FT, LBF};
use pipelore::mechanics::tube::{Body, Grade, TubeClass, Wear};

use crate::reference_support::{Row, check, rows};

fn connection_type(row: &Row) -> ConnectionType {
    row.text("connection").parse().unwrap()
}

fn connection(row: &Row) -> Connection {
    let dims = Dimensions::new(row.number("od_in") * INCH, row.number("id_in") * INCH);
    Connection::new(connection_type(row), dims).unwrap()
}

fn rule(row: &Row) -> RsRule {
    match row.text("rs_rule") {
        "listed_od" => RsRule::ListedOd,
        "capped" => RsRule::Capped,
        other => panic!("rule {other}"),
    }
}

/// Torsion of the tube of a row, N·m.
fn tube_torsion(row: &Row, od: &str, weight: &str) -> f64 {
    let size =
        by_weight(row.number(od) * INCH, row.number(weight) * LB_PER_FT, SizeTolerance::default())
            .unwrap();
    let class = match row.text("class") {
        "New" => TubeClass::New,
        "Premium" => TubeClass::Premium,
        "Class2" => TubeClass::Class2,
        other => panic!("class {other}"),
    };
    let grade: Grade = row.text("grade").parse().unwrap();
    Body::from(size).worn(Wear::Class(class)).unwrap().ratings(grade.min_yield()).unwrap().torsion
}

#[test]
fn tool_joint_torque() {
    check("tool_joint_torque.csv", |row| {
        let basis = match row.text("quantity") {
            "torsional_yield" => TorqueBasis::at_stress(TOOL_JOINT_YIELD),
            "makeup" => TorqueBasis::tool_joint_makeup(),
            "collar_makeup" => TorqueBasis::collar_makeup(connection_type(row)),
            "heavy_weight_yield" => TorqueBasis::at_stress(HEAVY_WEIGHT_YIELD),
            other => panic!("quantity {other}"),
        };
        connection(row).torque(basis.with_rule(rule(row))).unwrap().torque / FT_LBF
    });
}

#[test]
fn weaker_member_of_tool_joints() {
    let mut seen = 0;
    let mut misses = Vec::new();
    for row in rows("tool_joint_torque.csv") {
        let expected = match row.text("member") {
            "" => continue,
            "pin" => Member::Pin,
            "box" => Member::Box,
            other => panic!("member {other}"),
        };
        seen += 1;
        let basis = TorqueBasis::at_stress(TOOL_JOINT_YIELD).with_rule(rule(&row));
        let got = connection(&row).torque(basis).unwrap().member;
        if got != expected {
            misses.push(format!(
                "{} {} x {}: {got}",
                row.text("connection"),
                row.text("od_in"),
                row.text("id_in")
            ));
        }
    }
    assert!(seen > 20, "only {seen} rows name a member");
    assert!(misses.is_empty(), "{}", misses.join("\n"));
}

#[test]
fn tool_joint_tensile() {
    check("tool_joint_tensile.csv", |row| {
        let connection = connection_type(row);
        // The pin's tension does not depend on the outside; a generous box keeps it possible.
        let od = connection.spec().counterbore() + 2.0 * INCH;
        let dims = Dimensions::new(od, row.number("id_in") * INCH);
        let pair = Connection::new(connection, dims).unwrap();
        pair.tensile_yield(TOOL_JOINT_YIELD).unwrap() / LBF
    });
}

#[test]
fn tool_joint_minimum_diameter() {
    check("tool_joint_min_od.csv", |row| {
        let torsion = tube_torsion(row, "od_in", "weight_lb_ft");
        let id = row.number("id_in") * INCH;
        let m = minimum_od(connection_type(row), id, torsion, MinOdRule::default()).unwrap();
        assert_eq!(m.member, Member::Box, "the box governs at the minimum of the table");
        match row.text("quantity") {
            "min_od" => m.od / INCH,
            "exact_min_od" => m.exact_od / INCH,
            "makeup" => m.makeup / FT_LBF,
            "shoulder" => m.shoulder / INCH,
            "eccentric_shoulder" => m.eccentric_shoulder / INCH,
            other => panic!("quantity {other}"),
        }
    });
}

#[test]
fn bending_strength_ratio() {
    check("bending_strength_ratio.csv", |row| {
        connection(row).bending_strength_ratio(BendingSections::ThreadRoots).ratio
    });
}

#[test]
fn thread_dimensions() {
    let form = |item: &str| -> Option<&'static ThreadForm> {
        let mut forms = CATALOGUE.iter().map(|spec| spec.form);
        forms.find(|f| format!("{} {}", f.name, f.taper_inches_per_foot()) == item)
    };
    check("thread_dimensions.csv", |row| {
        let metres = if let Some(form) = form(row.text("item")) {
            let truncated = form.height() - form.root_truncation() - form.crest_truncation();
            match row.text("quantity") {
                "height" => form.height(),
                "root_truncation" => form.root_truncation(),
                "crest_truncation" => form.crest_truncation(),
                "truncated_height" => truncated,
                "compensated_height" => truncated * (form.taper() / 2.0).atan().cos(),
                other => panic!("quantity {other}"),
            }
        } else {
            let spec = row.text("item").parse::<ConnectionType>().unwrap().spec();
            match row.text("quantity") {
                "pitch_diameter" => spec.pitch_diameter(),
                "large_diameter" => spec.large_diameter(),
                "pin_length" => spec.pin_length(),
                "counterbore" => spec.counterbore(),
                "relief_groove" => spec.relief_groove().unwrap(),
                other => panic!("quantity {other}"),
            }
        };
        match row.text("unit") {
            "in" => metres / INCH,
            "mm" => metres * 1000.0,
            other => panic!("unit {other}"),
        }
    });
}

#[test]
fn ratios_compounds_and_pull() {
    let at = |row: &Row| {
        let makeup = row.number("torque_ft_lb") * FT_LBF;
        let basis = TorqueBasis::at_stress(TOOL_JOINT_YIELD).with_rule(rule(row));
        connection(row).tension_at_makeup(basis, makeup).unwrap()
    };
    check("misc_connection.csv", |row| match row.text("check") {
        "scaled_by_compound" => {
            let table = row.number("torque_ft_lb") * FT_LBF;
            scaled_by_compound(table, row.number("factor")).unwrap() / FT_LBF
        }
        "yield_with_compound" => {
            let basis = TorqueBasis::at_stress(TOOL_JOINT_YIELD)
                .with_rule(rule(row))
                .with_friction(Friction::with_compound(row.number("factor")));
            connection(row).torque(basis).unwrap().torque / FT_LBF
        }
        "torsional_ratio" => {
            let basis = TorqueBasis::at_stress(TOOL_JOINT_YIELD).with_rule(rule(row));
            let rating = connection(row).torque(basis).unwrap();
            torsional_ratio(&rating, tube_torsion(row, "tube_od_in", "tube_weight_lb_ft")).unwrap()
        }
        "pin_over_box_area" => {
            let c = connection(row);
            c.pin_area / c.box_area
        }
        "tension_at_makeup" => at(row).capacity / LBF,
        "separation" => at(row).separation / LBF,
        "preload" => at(row).preload / LBF,
        other => panic!("check {other}"),
    });
}
