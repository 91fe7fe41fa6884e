//! A table for machines: every column holds values of one type. What a person reads in one cell
//! stands in columns of its own: the value, the unit where rows differ in it, what bound it is, and
//! the upper bound of an interval.

use std::borrow::Cow;

use crate::report::{Cell, Column, Table};
use crate::units::{Measure, UnitSystem};

/// A column of values of one type.
pub(super) struct Head<'t> {
    of: &'t Column,
    aspect: Aspect,
    unit: &'static str,
}

/// What a column says of a cell of the report.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Aspect {
    Value,
    /// Unit of the value, where each row has its own.
    Unit,
    /// `at least`, `between`, or nothing where the value is exact.
    Bound,
    /// The upper bound of an interval.
    Most,
}

impl Aspect {
    const fn word(self) -> &'static str {
        match self {
            Self::Value => "",
            Self::Unit => "unit",
            Self::Bound => "bound",
            Self::Most => "at most",
        }
    }
}

/// A value of a table for machines.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Value<'t> {
    Missing,
    Text(Cow<'t, str>),
    Whole(i64),
    /// Whole quanta of a measure.
    Quanta(i64, Measure),
    /// A float in the base unit of the measure.
    Real(f64, Option<Measure>),
    Truth(bool),
    Day(chrono::NaiveDate),
    Time(chrono::DateTime<chrono::FixedOffset>),
}

/// What sort of bound a value is that has bounds, by its upper one.
pub(super) const fn bound(hi: Option<i64>) -> &'static str {
    match hi {
        Some(_) => "between",
        None => "at least",
    }
}

impl Head<'_> {
    /// The heading under a title of the column: `hours [h]`, `hours bound`, `hours at most [h]`.
    pub(super) fn titled(&self, title: &str) -> String {
        let mut out = title.to_owned();
        if self.aspect != Aspect::Value {
            out.push(' ');
            out.push_str(self.aspect.word());
        }
        if matches!(self.aspect, Aspect::Value | Aspect::Most) && !self.unit.is_empty() {
            out.push_str(&format!(" [{}]", self.unit));
        }
        out
    }

    pub(super) fn name(&self) -> String {
        self.titled(&self.of.name)
    }

    pub(super) fn title(&self) -> String {
        self.titled(&self.of.title)
    }

    /// Measure of its numbers.
    pub(super) fn measure(&self) -> Option<Measure> {
        self.of.measure
    }
}

/// The columns of a table, and which column of the report each reads.
pub(super) fn heads(table: &Table, units: UnitSystem) -> Vec<(usize, Head<'_>)> {
    let mut out = Vec::new();
    for (at, of) in table.columns.iter().enumerate().filter(|(_, of)| !of.people) {
        let has = |is: &dyn Fn(&Cell) -> bool| {
            table.rows.iter().filter_map(|row| row.get(at)).any(|c| is(plain(c).0))
        };
        let unit = of.measure.map_or("", |m| m.unit_symbol(units));
        let mut add = |aspect| out.push((at, Head { of, aspect, unit }));
        add(Aspect::Value);
        if table.rows.iter().any(|row| matches!(row.get(at), Some(Cell::Of(..)))) {
            add(Aspect::Unit);
        }
        if of.bounded || has(&|c| matches!(c, Cell::Bound { .. })) {
            add(Aspect::Bound);
        }
        if has(&|c| matches!(c, Cell::Bound { hi: Some(_), .. })) {
            add(Aspect::Most);
        }
    }
    out
}

/// A cell without a measure of its own, and that measure.
fn plain(cell: &Cell) -> (&Cell, Option<Measure>) {
    match cell {
        Cell::Of(m, inner) => (plain(inner).0, Some(*m)),
        cell => (cell, None),
    }
}

/// What a column says of a cell.
pub(super) fn value<'t>(head: &Head<'t>, cell: &'t Cell, units: UnitSystem) -> Value<'t> {
    let (cell, own) = plain(cell);
    let measure = own.or(head.of.measure);
    let number = |n: i64| measure.map_or(Value::Whole(n), |m| Value::Quanta(n, m));
    match (head.aspect, cell) {
        (Aspect::Unit, _) => match own.map_or("", |m| m.unit_symbol(units)) {
            "" => Value::Missing,
            unit => Value::Text(unit.into()),
        },
        (Aspect::Bound, Cell::Bound { hi, .. }) => Value::Text(bound(*hi).into()),
        (Aspect::Most, Cell::Bound { hi: Some(hi), .. }) => number(*hi),
        (Aspect::Bound | Aspect::Most, _) | (_, Cell::Missing) => Value::Missing,
        (_, Cell::Text(t)) => Value::Text(t.into()),
        (_, Cell::Number(n) | Cell::Bound { lo: n, .. }) => number(*n),
        (_, Cell::Truth(b)) => Value::Truth(*b),
        (_, Cell::Day(d)) => Value::Day(*d),
        (_, Cell::Time(t)) => Value::Time(*t),
        (_, Cell::Real(x)) => Value::Real(*x, measure),
        (_, Cell::Json(v)) => Value::Text(v.to_string().into()),
        // `plain` leaves no measure around a cell.
        (_, Cell::Of(..)) => Value::Missing,
    }
}
