//! Checked tree to SQL. Every condition becomes two: one that holds when it is certainly true, one
//! that holds when it is certainly false; what is neither is undecided. SQL's own NULL logic
//! decides nothing: a condition that is NULL does not hold, and negation is `IS NOT TRUE`.

mod counter;
pub(super) mod decided;
pub(super) mod dialect;
mod figure;
mod fold;
mod history;
mod kin;
pub(super) mod load;
mod number;
pub(super) mod panel;
pub(super) mod prune;
mod records;
mod select;
mod window;
mod words;

use std::cell::{Cell, RefCell};
use std::rc::Rc;

use crate::model::{Scope as InspectionScope, Vocabulary};
use crate::schema::{Value, taken_over_from};

use super::ast::Cmp;
use super::registry::{Record, Table};
use super::sql::{Alias, Cond, Part, Sql, sql};
use super::typed::{Node, Operand, Pred};

/// What is certainly so, and what is certainly not.
#[derive(Clone, Debug)]
pub(super) struct Truth {
    pub(super) yes: Cond,
    pub(super) no: Cond,
}

impl Truth {
    pub(super) fn of(truth: bool) -> Self {
        if truth {
            Self { yes: Cond::Always, no: Cond::Never }
        } else {
            Self { yes: Cond::Never, no: Cond::Always }
        }
    }

    fn new(yes: Sql, no: Sql) -> Self {
        Self { yes: Cond::When(yes), no: Cond::When(no) }
    }

    fn not(self) -> Self {
        Self { yes: self.no, no: self.yes }
    }

    fn and(self, other: Self) -> Self {
        Self { yes: self.yes.and(other.yes), no: self.no.or(other.no) }
    }

    /// Of most rows it is known that it does not hold: that is asked first, so that nothing else is.
    pub(super) fn open(&self) -> Cond {
        self.no.fails().and(self.yes.fails())
    }
}

/// A row of a record in scope.
#[derive(Clone, Debug)]
pub(super) struct Row {
    record: Record,
    alias: Alias,
    /// The run that a joint's share belongs to, joined only when a field of it is read.
    run: Alias,
    reads_run: Rc<Cell<bool>>,
    edges: window::Edges,
}

impl Row {
    /// A column of the row, or of the run that it belongs to.
    fn col(&self, table: Table, name: &'static str) -> Sql {
        if table == Table::Run {
            self.reads_run.set(true);
            return sql![self.run, ".", name];
        }
        let Some(by) = taken_over_from(table, name) else { return self.own(name) };
        let by = self.own(by);
        sql![
            "CASE WHEN ",
            &by,
            " IS NOT NULL AND EXISTS (SELECT 1 FROM conflict o WHERE o.joint = ",
            self.own("joint"),
            " AND ",
            &by,
            " IN (o.first_entry, o.second_entry)) THEN NULL ELSE ",
            self.own(name),
            " END",
        ]
    }

    fn own(&self, name: &'static str) -> Sql {
        sql![self.alias, ".", name]
    }

    /// Its tables with their aliases. Asked for last, when every field has been read.
    fn from(&self) -> Sql {
        let table = self.record.table().name();
        if self.reads_run.get() {
            sql![
                table,
                " ",
                self.alias,
                " JOIN run ",
                self.run,
                " ON ",
                self.run,
                ".run = ",
                self.alias,
                ".run",
            ]
        } else {
            sql![table, " ", self.alias]
        }
    }
}

/// Where a condition stands.
#[derive(Clone, Debug, Default)]
pub(super) struct Scope {
    /// The record in scope.
    row: Option<Row>,
    /// True beside a condition that leaves few joints: then one look-up for each of them is
    /// cheaper than one pass over a table.
    few: bool,
}

impl Scope {
    /// The same, where few joints are asked about anyway.
    pub(super) fn of_few(self) -> Self {
        Self { few: true, ..self }
    }
}

/// Writes SQL for one compilation.
#[derive(Debug)]
pub(super) struct Lower {
    now: i64,
    next: Cell<u16>,
    /// Rows of `since` joined to the joint, where all joints are gone through one by one: then one
    /// look-up for each is cheaper than a pass over the table for each condition.
    joined: Option<RefCell<Vec<(InspectionScope, Alias)>>>,
}

impl Lower {
    pub(super) const fn new(now: i64) -> Self {
        Self { now, next: Cell::new(0), joined: None }
    }

    /// For conditions that are asked together of one joint after another.
    pub(super) fn in_one_pass(now: i64) -> Self {
        Self { now, next: Cell::new(0), joined: Some(RefCell::new(Vec::new())) }
    }

    /// The joint's row of `since` for a scope, where it is joined to the joint.
    fn joined_since(&self, scope: InspectionScope) -> Option<Alias> {
        let mut joined = self.joined.as_ref()?.borrow_mut();
        if let Some((_, alias)) = joined.iter().find(|(s, _)| *s == scope) {
            return Some(*alias);
        }
        let alias = self.alias('s');
        joined.push((scope, alias));
        Some(alias)
    }

    /// The joint, with the rows of `since` that conditions ask for. Asked for last.
    pub(super) fn joint_from(&self) -> Sql {
        let mut parts = vec![Part::from("joint j")];
        for (scope, alias) in self.joined.iter().flat_map(|j| j.borrow().clone()) {
            parts.push(Part::from(sql![
                " LEFT JOIN since ",
                alias,
                " ON ",
                alias,
                ".scope = ",
                Value::Text(scope.word().to_owned()),
                " AND ",
                alias,
                ".joint = j.joint",
            ]));
        }
        Sql::of(parts)
    }

    fn alias(&self, letter: char) -> Alias {
        let n = self.next.get().wrapping_add(1);
        self.next.set(n);
        Alias(letter, n)
    }

    fn row(&self, record: Record) -> Row {
        Row {
            record,
            alias: self.alias('r'),
            run: self.alias('u'),
            reads_run: Rc::default(),
            edges: window::Edges::default(),
        }
    }

    /// A scope in which one record is, for lists of records.
    pub(super) fn record_scope(&self, record: Record) -> Scope {
        Scope { row: Some(self.row(record)), few: false }
    }

    /// The tables of the record in scope, joined to the joint.
    pub(super) fn record_from(scope: &Scope) -> Sql {
        match &scope.row {
            Some(row) => {
                sql![row.from(), " JOIN joint j ON j.joint = ", row.own("joint")]
            }
            None => sql!["joint j"],
        }
    }

    /// A column of the record in scope.
    pub(super) fn record_col(scope: &Scope, name: &'static str) -> Option<Sql> {
        scope.row.as_ref().map(|row| row.own(name))
    }

    /// When a condition is certainly true and when certainly false.
    pub(super) fn truth(&self, node: &Node, scope: &Scope) -> Truth {
        match &node.pred {
            Pred::Const(truth) => Truth::of(*truth),
            Pred::All(terms) => self.all(terms, scope),
            Pred::Any(terms) => {
                let scope = Scope { few: false, ..scope.clone() };
                let parts: Vec<Truth> = terms.iter().map(|t| self.truth(t, &scope)).collect();
                Truth {
                    yes: Cond::any(parts.iter().map(|t| t.yes.clone())),
                    no: Cond::all(parts.into_iter().map(|t| t.no)),
                }
            }
            Pred::Not(inner) => self.truth(inner, scope).not(),
            Pred::Compare { op, left, near: Some(near), .. } => {
                let equal = self.near(&left.num, near, scope);
                if *op == Cmp::Ne { equal.not() } else { equal }
            }
            Pred::Compare { op, left, right, near: None } => {
                self.compare(*op, &left.num, &right.num, scope)
            }
            Pred::Between { value, low, high } => {
                self.between(&value.num, &low.num, &high.num, scope)
            }
            Pred::OneOf { value, list } => self.one_of(value, list, scope),
            Pred::Like { value, pattern } => self.like(value, pattern, scope),
            Pred::Flag(place) => self.flag(place, scope),
            Pred::Holds { set, bits } => self.holds(set, *bits, scope),
            Pred::Unknown(value) => self.unknown(value, scope),
            Pred::History { quant, of } => self.history(*quant, of, scope),
            Pred::InARow { many, of } => self.in_a_row(*many, of),
            Pred::Rule(rule) => self.rule(rule, scope),
            Pred::Due(rules) => {
                let parts: Vec<Truth> = rules.iter().map(|r| self.rule(r, scope)).collect();
                Truth {
                    yes: Cond::any(parts.iter().map(|t| t.yes.clone())),
                    no: Cond::all(parts.into_iter().map(|t| t.no)),
                }
            }
            Pred::Called(called) => {
                let yes = Cond::any(called.rules.iter().map(|r| self.rule(r, scope).yes));
                let no = yes.fails();
                Truth { yes: if called.open { Cond::Never } else { yes }, no }
            }
            Pred::Kin(kin) => self.kin(kin),
        }
    }

    /// For whom nobody can tell. Of most joints their own row tells that it is decided: that is asked
    /// first. Parts that are always decided must hold, and may lead to few joints.
    pub(super) fn undecided(&self, node: &Node, scope: &Scope) -> Cond {
        let terms = match &node.pred {
            Pred::All(terms) => terms.as_slice(),
            _ => std::slice::from_ref(node),
        };
        let scope = Self::beside(terms, scope);
        let mut settled = Vec::new();
        let (mut sure, mut open) = (Vec::new(), Vec::new());
        for term in terms {
            let truth = self.truth(term, &scope);
            match decided::decided(term) {
                Cond::Always => settled.push(truth.yes),
                cond => {
                    sure.push(cond);
                    open.push(truth);
                }
            }
        }
        let rest = Truth {
            yes: Cond::all(open.iter().map(|t| t.yes.clone())),
            no: Cond::any(open.into_iter().map(|t| t.no)),
        };
        Cond::all(settled).and(Cond::all(sure).fails()).and(rest.open())
    }

    /// The scope of terms that must all hold.
    fn beside(terms: &[Node], scope: &Scope) -> Scope {
        let few = scope.few || terms.iter().any(|t| prune::picks_few(&t.pred));
        Scope { few, ..scope.clone() }
    }

    fn all(&self, terms: &[Node], scope: &Scope) -> Truth {
        let scope = Self::beside(terms, scope);
        let parts: Vec<Truth> = terms.iter().map(|t| self.truth(t, &scope)).collect();
        let mut yes: Vec<Cond> = parts.iter().map(|t| t.yes.clone()).collect();
        // A row is left at the first term that does not hold: short ones ask least of it.
        yes.sort_by_key(Cond::size);
        Truth { yes: Cond::all(yes), no: Cond::any(parts.into_iter().map(|t| t.no)) }
    }

    /// A rule speaks of a joint that it is for and whose filter holds. Rules speak of the joint,
    /// whatever record stands around them.
    fn rule(&self, rule: &super::typed::Rule, scope: &Scope) -> Truth {
        let scope = Scope { row: None, few: scope.few };
        let filter = self.truth(&rule.filter, &scope);
        match &rule.scope {
            None => filter,
            Some(for_which) => {
                let for_which = self.truth(for_which, &scope);
                for_which.and(filter)
            }
        }
    }

    fn unknown(&self, value: &Operand, scope: &Scope) -> Truth {
        match value {
            Operand::Number(number) => self.number_unknown(&number.num, scope),
            Operand::Reference(place) => self.place_unknown(place, scope),
            Operand::Condition(node) => {
                let truth = self.truth(node, scope);
                Truth { yes: truth.open(), no: truth.yes.or(truth.no) }
            }
        }
    }
}
