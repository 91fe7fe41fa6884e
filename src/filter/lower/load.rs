//! The statements that read one joint's rows for the evaluator.

use crate::model::{Scope, Vocabulary};
use crate::schema::Value;

use super::super::facts::{Facts, Load, Slot};
use super::super::registry::Table;
use super::super::sql::{Part, Sql, sql};
use super::super::typed::Link;

/// Rows of a table that belong to a joint.
pub(in super::super) fn load(table: Table, joint: i64) -> Load {
    let own = Facts::columns(table).iter().map(|c| Part::from(sql!["t.", *c]));
    let statement = match table {
        Table::JointRun => {
            let run = Facts::columns(Table::Run).iter().map(|c| Part::from(sql!["u.", *c]));
            sql![
                "SELECT ",
                Sql::list(own.chain(run)),
                " FROM joint_run t LEFT JOIN run u ON u.run = t.run WHERE t.joint = ",
                joint,
                " ORDER BY t.finish, t.run",
            ]
        }
        Table::Since => {
            let scopes = Scope::ALL.iter().map(|s| Part::from(Value::Text(s.word().to_owned())));
            sql![
                "SELECT ",
                Sql::list(own),
                " FROM since t WHERE t.scope IN (",
                Sql::list(scopes),
                ") AND t.joint = ",
                joint,
            ]
        }
        _ => sql!["SELECT ", Sql::list(own), " FROM ", table.name(), " t WHERE t.joint = ", joint,],
    };
    let (sql, params) = statement.render();
    Load { slot: Slot::Rows(table), sql, params }
}

/// What other joints are known by.
pub(in super::super) fn load_link(joints: &[i64], link: Link) -> Load {
    let ids = super::kin::list(joints);
    let statement = match link {
        Link::Heat => sql!["SELECT heat FROM joint WHERE joint IN (", ids, ")"],
        Link::ToolJointHeat => sql![
            "SELECT pin_heat FROM joint WHERE joint IN (",
            &ids,
            ") UNION SELECT box_heat FROM joint WHERE joint IN (",
            ids,
            ")",
        ],
        Link::Run => sql!["SELECT run FROM joint_run WHERE joint IN (", ids, ")"],
        Link::Gauge => sql!["SELECT DISTINCT gauge FROM makeup WHERE joint IN (", ids, ")"],
        Link::Ticket => sql!["SELECT DISTINCT ticket FROM repair WHERE joint IN (", ids, ")"],
        Link::Order => sql!["SELECT mill_order FROM joint WHERE joint IN (", ids, ")"],
        Link::WeldLot => sql!["SELECT weld_lot FROM joint WHERE joint IN (", ids, ")"],
        Link::Neighbour => neighbours(&ids),
    };
    let (sql, params) = statement.render();
    Load { slot: Slot::Link(joints.to_vec(), link), sql, params }
}

/// Joints at the next places in the runs of others.
pub(super) fn neighbours(ids: &Sql) -> Sql {
    sql![
        "SELECT b.joint FROM joint_run a JOIN joint_run b ON b.run = a.run AND b.position BETWEEN \
         a.position - 1 AND a.position + 1 WHERE a.joint IN (",
        ids,
        ")",
    ]
}
