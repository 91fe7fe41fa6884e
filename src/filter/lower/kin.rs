//! Kin in SQL: joints that the book links to another. What the book does not show is no link.

use super::super::sql::{Cond, Part, Sql, sql};
use super::super::typed::Kin;
use super::{Lower, Truth};

impl Lower {
    pub(super) fn kin(&self, kin: &Kin) -> Truth {
        let ids = Sql::list(kin.joints.iter().map(|id| Part::from(*id)));
        let tool_heats = sql![
            "(SELECT pin_heat FROM joint WHERE joint IN (",
            &ids,
            ") AND pin_heat IS NOT NULL UNION SELECT box_heat FROM joint WHERE joint IN (",
            &ids,
            ") AND box_heat IS NOT NULL)",
        ];
        let links = [
            sql![
                "j.heat IN (SELECT heat FROM joint WHERE joint IN (",
                &ids,
                ") AND heat IS NOT NULL)"
            ],
            sql!["j.pin_heat IN ", &tool_heats],
            sql!["j.box_heat IN ", &tool_heats],
            sql![
                "j.joint IN (SELECT joint FROM joint_run WHERE run IN (SELECT run FROM joint_run WHERE \
                 joint IN (",
                &ids,
                ")))",
            ],
            sql![
                "j.joint IN (SELECT joint FROM makeup WHERE instrument IN (SELECT instrument FROM makeup \
                 WHERE joint IN (",
                &ids,
                ") AND instrument IS NOT NULL))",
            ],
            sql![
                "j.joint IN (SELECT joint FROM repair WHERE ticket IN (SELECT ticket FROM repair WHERE \
                 joint IN (",
                &ids,
                ") AND ticket IS NOT NULL))",
            ],
        ];
        let linked = Cond::any(links.map(Cond::When));
        let other = Cond::When(sql!["j.joint NOT IN (", &ids, ")"]);
        let yes = other.and(linked);
        Truth { no: yes.fails(), yes }
    }
}
