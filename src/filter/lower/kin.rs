//! Kin in SQL: joints that the book links to another. What the book does not show is no link.

use super::super::sql::{Cond, Part, Sql, sql};
use super::super::typed::Kin;
use super::super::typed::Link;
use super::load::neighbours;
use super::{Lower, Truth};

impl Lower {
    pub(super) fn kin(&self, kin: &Kin) -> Truth {
        let ids = Sql::list(kin.joints.iter().map(|id| Part::from(*id)));
        // Columns of this language's own tables; nothing of them is typed.
        let own = |column: &'static str| {
            Cond::When(sql![
                "j.",
                column,
                " IN (SELECT ",
                column,
                " FROM joint WHERE joint IN (",
                &ids,
                ") AND ",
                column,
                " IS NOT NULL)",
            ])
        };
        let record = |table: &'static str, column: &'static str| {
            Cond::When(sql![
                "j.joint IN (SELECT joint FROM ",
                table,
                " WHERE ",
                column,
                " IN (SELECT ",
                column,
                " FROM ",
                table,
                " WHERE joint IN (",
                &ids,
                ") AND ",
                column,
                " IS NOT NULL))",
            ])
        };
        let tool_heats = sql![
            "(SELECT pin_heat FROM joint WHERE joint IN (",
            &ids,
            ") AND pin_heat IS NOT NULL UNION SELECT box_heat FROM joint WHERE joint IN (",
            &ids,
            ") AND box_heat IS NOT NULL)",
        ];
        let linked = Cond::any(kin.links.iter().map(|link| match link {
            Link::Heat => own("heat"),
            Link::ToolJointHeat => Cond::any([
                Cond::When(sql!["j.pin_heat IN ", &tool_heats]),
                Cond::When(sql!["j.box_heat IN ", &tool_heats]),
            ]),
            Link::Run => record("joint_run", "run"),
            Link::Gauge => record("makeup", "gauge"),
            Link::Ticket => record("repair", "ticket"),
            Link::Order => own("mill_order"),
            Link::WeldLot => own("weld_lot"),
            Link::Neighbour => Cond::When(sql!["j.joint IN (", neighbours(&ids), ")"]),
        }));
        let other = Cond::When(sql!["j.joint NOT IN (", &ids, ")"]);
        let yes = other.and(linked);
        Truth { no: yes.fails(), yes }
    }
}
