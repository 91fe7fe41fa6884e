//! Values of rules against their limits, and the labels of joints, read for many joints at once.

use crate::condition::Fitness;
use crate::model::{Clock, Component, Vocabulary};
use std::collections::HashSet;
use std::sync::Arc;

use crate::filter::{self, Answer, ColumnKind, Select, column, compile};
use crate::policy::{Rule, RuleSet};
use crate::report::{Cell, ReportError};
use crate::schema::Value;
use crate::store::Book;
use crate::units::Measure;

use super::super::question::{self, Present, in_context};
use super::super::rule_pass::IN_SERVICE;
use super::line::{Label, Labels, Reading};
use super::recent::CountedIn;

/// So many joints are looked up one by one; for more of them all are read.
const FEW: usize = 10_000;

/// Where the value and its limit stand among the columns.
const VALUE: usize = 0;
const LIMIT: usize = 1;

/// Asks values of joints in service: of these only. Rows are handed on as they come.
fn of_joints(
    book: &mut Book,
    rules: &RuleSet,
    names: &[&str],
    joints: &[i64],
    present: &Present,
    mut see: impl FnMut(i64, &Asked<'_>),
) -> Result<(), ReportError> {
    if joints.is_empty() {
        return Ok(());
    }
    let (compiled, columns) = in_context(book, rules, present, |context| {
        let compiled = compile(IN_SERVICE, context).map_err(question::wrong)?;
        let columns: Result<Vec<filter::Column>, ReportError> =
            names.iter().map(|n| column(n, None, context).map_err(question::wrong)).collect();
        Ok::<_, ReportError>((compiled, columns?))
    })?;
    question::prepare(book, &compiled, &columns)?;
    let few = joints.len() <= FEW;
    let select =
        Select { columns: &columns, among: few.then_some(joints), ..Select::of(Answer::Matching) };
    let query = compiled.select(&select);
    let wanted: HashSet<i64> = if few { HashSet::new() } else { joints.iter().copied().collect() };
    book.ask_each(&query.sql, &query.params, Some(present.limit), |row| {
        let Some(Value::Int(joint)) = row.first() else { return };
        if few || wanted.contains(joint) {
            let asked =
                Asked { row, columns: &columns, places: &query.columns, clock: present.clock };
            see(*joint, &asked);
        }
    })?;
    Ok(())
}

/// What people know joints by.
pub(super) fn labels(
    book: &mut Book,
    joints: &[i64],
    present: &Present,
) -> Result<Labels, ReportError> {
    let mut out = Labels::new();
    let names = ["serial", "string", "location", "fit", "component", "on_hire"];
    // Fit as it is recorded: what the rules call for comes on top of it.
    of_joints(book, &RuleSet::none(), &names, joints, present, |joint, asked| {
        let label = Label {
            serial: asked.text(0).unwrap_or_default(),
            order: out.len(),
            string: asked.text(1),
            location: asked.text(2),
            recorded: asked.text(3).and_then(|word| Fitness::from_word(&word).ok()),
            component: asked.text(4).and_then(|word| Component::from_word(&word).ok()),
            on_hire: asked.flag(5),
        };
        out.insert(joint, Arc::new(label));
    })?;
    Ok(out)
}

/// Values of a rule against its limit; nothing for a rule without.
pub(super) fn readings(
    book: &mut Book,
    rules: &RuleSet,
    rule: &Rule,
    joints: &[i64],
    present: &Present,
) -> Result<Vec<(i64, Reading)>, ReportError> {
    if rule.limit.is_none() {
        return Ok(joints.iter().map(|j| (*j, Reading::default())).collect());
    }
    let mut out = Vec::with_capacity(joints.len());
    against(book, rules, rule, joints, present, |joint, value| {
        out.push((joint, value.reading()));
    })?;
    Ok(out)
}

/// Visits the values of a rule that has a limit.
pub(super) fn against(
    book: &mut Book,
    rules: &RuleSet,
    rule: &Rule,
    joints: &[i64],
    present: &Present,
    mut see: impl FnMut(i64, &Against<'_>),
) -> Result<(), ReportError> {
    let Some(limit) = &rule.limit else { return Ok(()) };
    let names = [limit.value.as_str(), limit.limit.as_str()];
    of_joints(book, rules, &names, joints, present, |joint, asked| {
        see(joint, &Against { asked, above: limit.above });
    })
}

/// A value against its limit, as it was read.
pub(super) struct Against<'a> {
    asked: &'a Asked<'a>,
    /// True when the rule speaks above the limit.
    above: bool,
}

impl Against<'_> {
    /// What is left to the limit, in base units.
    pub(super) fn left(&self) -> Option<f64> {
        let (value, limit) = (self.asked.base(VALUE)?, self.asked.base(LIMIT)?);
        Some(if self.above { limit - value } else { value - limit })
    }

    /// In what the value is counted.
    pub(super) fn counted_in(&self) -> CountedIn {
        match self.asked.measure(VALUE) {
            Some(Measure::Ratio) => CountedIn::OfWall,
            _ => CountedIn::Plain,
        }
    }

    /// As it is shown.
    pub(super) fn reading(&self) -> Reading {
        let asked = self.asked;
        let urgency = match (asked.base(VALUE), asked.base(LIMIT)) {
            (Some(v), Some(l)) if self.above && l > 0.0 => v / l,
            (Some(v), Some(l)) if !self.above && v > 0.0 => l / v,
            _ => 1.0,
        };
        let measured = |left| Cell::Real(left).measured(asked.measure(VALUE));
        let left = self.left();
        Reading {
            value: asked.cell(VALUE),
            limit: asked.cell(LIMIT),
            margin: left.map_or(Cell::Missing, measured),
            past: left.filter(|l| *l < 0.0).map_or(Cell::Missing, |l| measured(-l)),
            urgency,
        }
    }
}

/// A row of an answer.
struct Asked<'a> {
    row: &'a [Value],
    columns: &'a [filter::Column],
    places: &'a [(usize, Option<usize>)],
    clock: Clock,
}

impl Asked<'_> {
    fn text(&self, at: usize) -> Option<String> {
        match self.row.get(self.places[at].0) {
            Some(Value::Text(t)) => Some(t.clone()),
            _ => None,
        }
    }

    fn flag(&self, at: usize) -> Option<bool> {
        match self.row.get(self.places[at].0) {
            Some(Value::Int(n)) => Some(*n != 0),
            _ => None,
        }
    }

    fn cell(&self, at: usize) -> Cell {
        let cell = question::cell(self.columns[at].kind, self.row, self.places[at], self.clock);
        // A bare literal has the measure of the value that it limits.
        cell.measured(self.measure(at).or_else(|| self.measure(VALUE)))
    }

    fn measure(&self, at: usize) -> Option<Measure> {
        match self.columns.get(at)?.kind {
            ColumnKind::Measure(m) => Some(m),
            ColumnKind::Number(m) => m,
            _ => None,
        }
    }

    /// Lower bound of a column, in base units.
    fn base(&self, at: usize) -> Option<f64> {
        let column = self.columns.get(at)?;
        match (column.kind, self.row.get(self.places[at].0)?) {
            (ColumnKind::Measure(m), Value::Int(n)) => Some(m.base_f64(*n)),
            (ColumnKind::Number(_), Value::Real(x)) => Some(*x),
            (ColumnKind::Number(_), Value::Int(n)) => Some(*n as f64),
            _ => None,
        }
    }
}
