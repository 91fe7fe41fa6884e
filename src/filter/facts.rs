//! One joint's rows for the evaluator: which statements read them, and where they are kept.

use std::collections::{BTreeMap, HashMap};
use std::sync::LazyLock;

use crate::model::{Scope, Vocabulary};

use super::compile::Compiled;
use super::registry::{Col, Over, PLACES, Part as Cut, Record, Stored, Table, fields};
use super::sql::{Bind, Part, Sql, sql};
use super::typed::{Kin, Node, Pred};

/// A value read from a column.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// No value.
    Null,
    /// A whole number.
    Int(i64),
    /// Text.
    Text(String),
    /// Bytes.
    Blob(Vec<u8>),
}

/// A row.
pub type Line = Vec<Cell>;

/// What the rows of a statement are.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Slot {
    /// Rows of a table that belong to the joint.
    Rows(Table),
    /// What another joint is known by, for `kin of`: its joints, and the link.
    Link(Vec<i64>, Link),
}

/// What links two joints.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Link {
    /// The heat of the tube.
    Heat,
    /// The heat of a tool joint.
    ToolJointHeat,
    /// A run.
    Run,
    /// The gauge of a make-up.
    Gauge,
    /// The ticket of a repair.
    Ticket,
    /// The order at the mill.
    Order,
    /// The lot of its welds.
    WeldLot,
    /// A place beside it in a run.
    Neighbour,
}

impl Link {
    /// Every link.
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
    /// The statement.
    pub sql: String,
    /// Its parameters.
    pub params: Vec<Bind>,
}

/// Everything that the evaluator needs of one joint.
#[derive(Clone, Debug, Default)]
pub struct Facts {
    rows: BTreeMap<Slot, Vec<Line>>,
}

impl Facts {
    /// Statements that read a joint's facts for a filter.
    pub fn loads(compiled: &Compiled, joint: i64) -> Vec<Load> {
        let mut loads: Vec<Load> = COLUMNS
            .keys()
            .filter(|table| **table != Table::WindowPart || !compiled.cuts().is_empty())
            .map(|table| load(*table, joint))
            .collect();
        let mut kin = Vec::new();
        kin_of(compiled.tree(), &mut kin);
        for k in kin {
            for link in &k.links {
                loads.push(load_link(&k.joints, *link));
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
        COLUMNS.get(&table).map_or(&[], Vec::as_slice)
    }

    pub(super) fn lines(&self, table: Table) -> &[Line] {
        self.rows.get(&Slot::Rows(table)).map_or(&[], Vec::as_slice)
    }

    pub(super) fn linked(&self, joints: &[i64], link: Link) -> &[Line] {
        self.rows.get(&Slot::Link(joints.to_vec(), link)).map_or(&[], Vec::as_slice)
    }

    /// A column of the joint's own row.
    pub(super) fn joint(&self, column: &'static str) -> &Cell {
        self.lines(Table::Joint)
            .first()
            .map_or(&Cell::Null, |line| cell(Table::Joint, line, column))
    }
}

/// A column of a row. Columns of a run stand in the rows of the joint's runs.
pub(super) fn cell<'l>(table: Table, line: &'l Line, column: &'static str) -> &'l Cell {
    static PLACES_OF: LazyLock<HashMap<(Table, &'static str), usize>> = LazyLock::new(|| {
        let mut places = HashMap::new();
        for (table, columns) in &*COLUMNS {
            for (at, column) in columns.iter().enumerate() {
                places.insert((*table, *column), at);
            }
        }
        let own = COLUMNS.get(&Table::JointRun).map_or(0, Vec::len);
        for (at, column) in RUN_COLUMNS.iter().enumerate() {
            places.insert((Table::Run, *column), own + at);
        }
        places
    });
    PLACES_OF.get(&(table, column)).and_then(|at| line.get(*at)).unwrap_or(&Cell::Null)
}

pub(super) fn int(cell: &Cell) -> Option<i64> {
    match cell {
        Cell::Int(n) => Some(*n),
        _ => None,
    }
}

/// Columns of each table whose rows belong to a joint.
static COLUMNS: LazyLock<BTreeMap<Table, Vec<&'static str>>> = LazyLock::new(|| {
    let mut columns: BTreeMap<Table, Vec<&'static str>> = BTreeMap::new();
    let mut add = |table: Table, names: &[&'static str]| {
        let have = columns.entry(table).or_default();
        for name in names {
            if !have.contains(name) {
                have.push(name);
            }
        }
    };
    add(
        Table::Joint,
        &["joint", "entered", "entered_new", "runs_complete", "moved", "class_entry"],
    );
    add(
        Table::Joint,
        &["pin_generation", "box_generation", "histogram", "heat", "pin_heat", "box_heat"],
    );
    add(Table::Joint, &["mill_order", "weld_lot"]);
    add(Table::Since, &["scope", "at", "entry", "histogram"]);
    add(Table::JointRun, &["start", "flags", "conflict", "histogram"]);
    for table in [Table::RunPart, Table::WindowPart] {
        add(table, &["run", "cut", "histogram"]);
        add(table, &PLACES);
    }
    add(Table::JointRun, &PLACES);
    add(Table::Gap, &["until", "since", "entry"]);
    for record in Record::ALL {
        add(record.table(), record.key());
    }
    for field in fields() {
        let mut col = |c: Col| {
            if c.table != Table::Run {
                add(c.table, &[c.name]);
            }
        };
        match field.stored {
            Stored::Column(c)
            | Stored::Present(c)
            | Stored::Missing(c)
            | Stored::Rest(c)
            | Stored::Age(c) => col(c),
            Stored::Ratio(a, b) => {
                col(a);
                col(b);
            }
            Stored::Counter { lo, hi, over } => {
                add(Table::Joint, &[lo, hi]);
                add(Table::Since, &[lo, hi]);
                if let Over::Runs(column, cut) = over {
                    add(Table::JointRun, &[column]);
                    figures(&mut add, column, cut);
                }
            }
            Stored::Floor(column, proof) => add(Table::Joint, &[column, proof]),
            Stored::Figure(column, cut) => {
                add(Table::JointRun, &[column]);
                figures(&mut add, column, cut);
            }
            Stored::Worst => {}
            Stored::Top | Stored::Bottom => add(Table::JointRun, &["top_depth", "bottom_depth"]),
        }
    }
    columns
});

fn figures(add: &mut impl FnMut(Table, &[&'static str]), column: &'static str, cut: Cut) {
    for table in [Table::RunPart, Table::WindowPart] {
        add(table, &[column]);
        if let Cut::Largest(after) = cut {
            add(table, &[after]);
        }
    }
}

/// Columns of the run itself that fields read.
static RUN_COLUMNS: LazyLock<Vec<&'static str>> = LazyLock::new(|| {
    let mut columns = Vec::new();
    for field in fields() {
        if let Stored::Column(Col { table: Table::Run, name }) = field.stored
            && !columns.contains(&name)
        {
            columns.push(name);
        }
    }
    columns
});

fn load(table: Table, joint: i64) -> Load {
    let own = Facts::columns(table).iter().map(|c| Part::from(sql!["t.", *c]));
    let statement = match table {
        Table::JointRun => {
            let run = RUN_COLUMNS.iter().map(|c| Part::from(sql!["u.", *c]));
            sql![
                "SELECT ",
                Sql::list(own.chain(run)),
                " FROM joint_run t LEFT JOIN run u ON u.run = t.run WHERE t.joint = ",
                joint,
                " ORDER BY t.finish, t.run",
            ]
        }
        Table::Since => {
            let scopes = Scope::ALL.iter().map(|s| Part::from(Bind::Text(s.word().to_owned())));
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

fn load_link(joints: &[i64], link: Link) -> Load {
    let ids = Sql::list(joints.iter().map(|id| Part::from(*id)));
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
        Link::Gauge => sql!["SELECT DISTINCT instrument FROM makeup WHERE joint IN (", ids, ")"],
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
        "SELECT b.joint FROM joint_run a JOIN joint_run b ON b.run = a.run AND b.place BETWEEN \
         a.place - 1 AND a.place + 1 WHERE a.joint IN (",
        ids,
        ")",
    ]
}

fn kin_of<'n>(node: &'n Node, out: &mut Vec<&'n Kin>) {
    super::compile::visit_nodes(node, &mut |node: &'n Node| {
        if let Pred::Kin(kin) = &node.pred
            && !out.contains(&kin)
        {
            out.push(kin);
        }
    });
}
