//! Kin in SQL: joints that the book links to another. What the book does not show is no link.

use crate::schema::Value;

use super::super::sql::{Cond, NAME, Sql, sql};
use super::super::typed::Kin;
use super::super::typed::Link;
use super::load::neighbours;
use super::{Lower, Truth};

impl Lower {
    pub(super) fn kin(&self, kin: &Kin) -> Truth {
        let (certain, perhaps) = (list(&kin.joints), list(&kin.perhaps));
        let linked = |ids: &Sql| Cond::any(kin.links.iter().map(|link| shares(*link, ids)));
        let among = |ids: &Sql| Cond::When(sql!["j.joint IN (", ids, ")"]);
        let others = Cond::When(sql!["j.joint NOT IN (", &perhaps, ")"]);
        let yes = others.and(linked(&certain));
        if kin.is_certain() {
            return Truth { no: yes.fails(), yes };
        }
        Truth { yes, no: among(&certain).or(linked(&perhaps).fails()) }
    }
}

/// A row source of joints: one parameter, however many they are.
pub(super) fn list(joints: &[i64]) -> Sql {
    if let [one] = joints {
        return sql![*one];
    }
    let numbers: Vec<String> = joints.iter().map(i64::to_string).collect();
    sql!["SELECT value FROM json_each(", Value::Text(format!("[{}]", numbers.join(","))), ")"]
}

/// Whether a joint shares something with one of those. Columns of this language's own tables;
/// nothing of them is typed.
fn shares(link: Link, ids: &Sql) -> Cond {
    let own = |column: &'static str| {
        Cond::When(sql![
            "j.",
            column,
            NAME,
            " IN (SELECT ",
            column,
            " FROM joint WHERE joint IN (",
            ids,
            ") AND ",
            column,
            " IS NOT NULL)",
        ])
    };
    let record = |table: &'static str, column: &'static str, alike: &'static str| {
        Cond::When(sql![
            "j.joint IN (SELECT joint FROM ",
            table,
            " WHERE ",
            column,
            alike,
            " IN (SELECT ",
            column,
            " FROM ",
            table,
            " WHERE joint IN (",
            ids,
            ") AND ",
            column,
            " IS NOT NULL))",
        ])
    };
    let tool_heats = sql![
        "(SELECT pin_heat FROM joint WHERE joint IN (",
        ids,
        ") AND pin_heat IS NOT NULL UNION SELECT box_heat FROM joint WHERE joint IN (",
        ids,
        ") AND box_heat IS NOT NULL)",
    ];
    match link {
        Link::Heat => own("heat"),
        Link::ToolJointHeat => Cond::any([
            Cond::When(sql!["j.pin_heat", NAME, " IN ", &tool_heats]),
            Cond::When(sql!["j.box_heat", NAME, " IN ", &tool_heats]),
        ]),
        Link::Run => record("joint_run", "run", ""),
        Link::Gauge => record("makeup", "gauge", NAME),
        Link::Ticket => record("repair", "ticket", NAME),
        Link::Order => own("mill_order"),
        Link::WeldLot => own("weld_lot"),
        Link::Neighbour => Cond::When(sql!["j.joint IN (", neighbours(ids), ")"]),
    }
}
