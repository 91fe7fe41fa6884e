//! One joint's rows for the evaluator: which statements read them, and where they are kept.

use std::collections::{BTreeMap, HashMap};
use std::sync::LazyLock;

use crate::schema::Value;

use super::lower::load::{load, load_link};
use super::registry::Table;
use super::typed::{Kin, Link, Node, Pred};

pub type Line = Vec<Value>;

/// What the rows of a statement are.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Slot {
    /// Rows of a table that belong to the joint.
    Rows(Table),
    /// What another joint is known by, for `kin of`: its joints, and the link.
    Link(Vec<i64>, Link),
}

impl Link {
    pub const ALL: [Self; 8] = [
        Self::Heat,
        Self::ToolJointHeat,
        Self::Run,
        Self::Gauge,
        Self::Ticket,
        Self::Order,
        Self::WeldLot,
        Self::Neighbour,
    ];

    /// The word for it in a filter.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Heat => "heat",
            Self::ToolJointHeat => "tool_joint_heat",
            Self::Run => "run",
            Self::Gauge => "gauge",
            Self::Ticket => "ticket",
            Self::Order => "mill_order",
            Self::WeldLot => "weld_lot",
            Self::Neighbour => "neighbour",
        }
    }

    /// What is shared, in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Heat => "same heat",
            Self::ToolJointHeat => "same tool joint heat",
            Self::Run => "same run",
            Self::Gauge => "same make-up gauge",
            Self::Ticket => "same repair ticket",
            Self::Order => "same mill order",
            Self::WeldLot => "same weld lot",
            Self::Neighbour => "beside it in a run",
        }
    }
}

/// A statement that reads rows for a slot.
#[derive(Clone, Debug, PartialEq)]
pub struct Load {
    /// Where the rows go.
    pub slot: Slot,
    pub sql: String,
    pub params: Vec<Value>,
}

/// Everything that the evaluator needs of one joint.
#[derive(Clone, Debug, Default)]
pub struct Facts {
    rows: BTreeMap<Slot, Vec<Line>>,
}

impl Facts {
    /// Statements that read a joint's facts for a filter: its checked tree, and whether it asks for
    /// parts of windows.
    pub(super) fn loads(tree: &Node, windows: bool, joint: i64) -> Vec<Load> {
        let mut loads: Vec<Load> = TABLES
            .into_iter()
            .filter(|table| *table != Table::WindowPart || windows)
            .map(|table| load(table, joint))
            .collect();
        let mut kin = Vec::new();
        kin_of(tree, &mut kin);
        for k in kin {
            for link in &k.links {
                loads.push(load_link(&k.joints, *link));
                if !k.is_certain() {
                    loads.push(load_link(&k.perhaps, *link));
                }
            }
        }
        loads
    }

    /// Keeps the rows that a statement gave.
    pub fn put(&mut self, slot: Slot, rows: Vec<Line>) {
        self.rows.insert(slot, rows);
    }

    /// Columns of the rows of a table, in their order.
    pub fn columns(table: Table) -> &'static [&'static str] {
        &table.spec().names
    }

    pub(super) fn lines(&self, table: Table) -> &[Line] {
        self.rows.get(&Slot::Rows(table)).map_or(&[], Vec::as_slice)
    }

    pub(super) fn linked(&self, joints: &[i64], link: Link) -> &[Line] {
        self.rows.get(&Slot::Link(joints.to_vec(), link)).map_or(&[], Vec::as_slice)
    }

    /// A column of the joint's own row.
    pub(super) fn joint(&self, column: &'static str) -> &Value {
        self.lines(Table::Joint)
            .first()
            .map_or(&Value::Null, |line| cell(Table::Joint, line, column))
    }
}

/// A column of a row. Columns of a run stand in the rows of the joint's runs.
pub(super) fn cell<'l>(table: Table, line: &'l Line, column: &'static str) -> &'l Value {
    static PLACES_OF: LazyLock<HashMap<(Table, &'static str), usize>> = LazyLock::new(|| {
        let own = Facts::columns(Table::JointRun).len();
        let mut places = HashMap::new();
        for (table, first) in TABLES.map(|t| (t, 0)).into_iter().chain([(Table::Run, own)]) {
            let columns = Facts::columns(table).iter().enumerate();
            places.extend(columns.map(|(at, column)| ((table, *column), first + at)));
        }
        places
    });
    let at = PLACES_OF.get(&(table, column));
    debug_assert!(at.is_some(), "{} has no column {column}", table.name());
    at.and_then(|at| line.get(*at)).unwrap_or(&Value::Null)
}

pub(super) fn int(cell: &Value) -> Option<i64> {
    match cell {
        Value::Int(n) => Some(*n),
        _ => None,
    }
}

/// Tables whose rows belong to a joint.
const TABLES: [Table; 19] = [
    Table::Joint,
    Table::Since,
    Table::Opening,
    Table::JointState,
    Table::Custody,
    Table::JointRun,
    Table::RunPart,
    Table::WindowPart,
    Table::Gap,
    Table::Conflict,
    Table::Makeup,
    Table::Inspection,
    Table::Finding,
    Table::Repair,
    Table::Event,
    Table::Failure,
    Table::Move,
    Table::Hire,
    Table::Decision,
];

fn kin_of<'n>(node: &'n Node, out: &mut Vec<&'n Kin>) {
    super::walk::visit_nodes(node, &mut |node: &'n Node| {
        if let Pred::Kin(kin) = &node.pred
            && !out.contains(&kin)
        {
            out.push(kin);
        }
    });
}
