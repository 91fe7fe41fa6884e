//! Lines of the list: a joint, a call, the rule that speaks, and how far past its limit it is.

use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::sync::Arc;

use rayon::prelude::*;

use crate::condition::Fitness;
use crate::model::{Call, Component};
use crate::policy::{Outlook, Rule};
use crate::report::Cell;

/// How far to look ahead.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Ahead {
    /// So many days of the calendar.
    Days(f64),
    /// So many rotating hours of the joint.
    Hours(f64),
}

impl Ahead {
    /// As a person says it.
    pub fn words(&self) -> String {
        match self {
            Self::Days(d) => format!("{d} days"),
            Self::Hours(h) => format!("{h} rotating hours"),
        }
    }
}

/// Whether a call is made now or later.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Standing {
    Due,
    /// Within the time looked ahead.
    Soon(Outlook),
}

/// What a person knows a joint by. Its lines share one.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Label {
    pub serial: String,
    /// Place of the joint among all, by the names of their entries.
    pub order: usize,
    pub string: Option<String>,
    pub location: Option<String>,
    /// What it is, for what can be done to it; `None` where that does not read.
    pub component: Option<Component>,
    /// Whether it is out on hire, where that is known.
    pub on_hire: Option<bool>,
    /// Fit to run by what is recorded of it.
    pub recorded: Option<Fitness>,
}

pub(super) type Labels = HashMap<i64, Arc<Label>>;

/// A value against its limit.
#[derive(Clone, Debug)]
pub(super) struct Reading {
    pub value: Cell,
    /// The limit.
    pub limit: Cell,
    /// What is left, negative where the limit is passed.
    pub margin: Cell,
    /// How far the limit is passed, where it is.
    pub past: Cell,
    /// Value over limit, or limit over value: above one is past.
    pub urgency: f64,
}

impl Default for Reading {
    /// That of a rule without a limit.
    fn default() -> Self {
        let none = || Cell::Missing;
        Self { value: none(), limit: none(), margin: none(), past: none(), urgency: 1.0 }
    }
}

/// A joint and a call.
#[derive(Clone, Debug)]
pub struct Line {
    pub joint: i64,
    /// What a person knows it by.
    pub label: Arc<Label>,
    /// What is called for.
    pub call: Call,
    /// The rule that speaks.
    pub rule: Arc<str>,
    pub reason: Arc<str>,
    /// Other rules that make the same call.
    pub also: Vec<Arc<str>>,
    /// The value that meets the limit.
    pub value: Cell,
    /// The limit.
    pub limit: Cell,
    /// What is left, negative where the limit is passed.
    pub margin: Cell,
    /// How far the limit is passed, where it is.
    pub past: Cell,
    pub standing: Standing,
    /// Fit to run by what is recorded of it and by the rules in force.
    pub fit: Option<Fitness>,
    pub(super) severity: u8,
    pub(super) urgency: f64,
}

/// A rule that speaks, with the words that its lines share.
pub(super) struct Spoken<'r> {
    rule: &'r Rule,
    name: Arc<str>,
    reason: Arc<str>,
}

impl<'r> Spoken<'r> {
    pub(super) fn of(rule: &'r Rule) -> Self {
        Self { rule, name: rule.name.as_str().into(), reason: rule.reason.as_str().into() }
    }
}

impl Line {
    pub(super) fn of(
        rule: &Spoken<'_>,
        joint: i64,
        labels: &Labels,
        reading: Reading,
        standing: Standing,
    ) -> Self {
        Self {
            joint,
            fit: None,
            label: labels.get(&joint).cloned().unwrap_or_default(),
            call: rule.rule.call,
            rule: Arc::clone(&rule.name),
            reason: Arc::clone(&rule.reason),
            also: Vec::new(),
            value: reading.value,
            limit: reading.limit,
            margin: reading.margin,
            past: reading.past,
            standing,
            severity: rule.rule.severity,
            urgency: reading.urgency,
        }
    }
}

/// A joint for which nobody can tell whether a rule speaks.
#[derive(Clone, Debug)]
pub struct Undecided {
    /// What a person knows the joint by.
    pub label: Arc<Label>,
    /// What the rule calls for.
    pub call: Call,
    pub rule: String,
    /// Why the rule would speak.
    pub reason: String,
    /// Parts of the rule that cannot be decided for some joints.
    pub wants: String,
}

/// One line for each joint and call: the worst speaks, the others are named. Worst first.
pub(super) fn one_a_call(mut lines: Vec<Line>) -> Vec<Line> {
    worst_first(&mut lines);
    let mut kept: HashMap<(i64, Call), usize> = HashMap::with_capacity(lines.len());
    let mut out: Vec<Line> = Vec::with_capacity(lines.len());
    for line in lines {
        match kept.entry((line.joint, line.call)) {
            Entry::Occupied(at) => {
                let first = &mut out[*at.get()];
                if !first.also.contains(&line.rule) && first.rule != line.rule {
                    first.also.push(line.rule);
                }
            }
            Entry::Vacant(slot) => {
                slot.insert(out.len());
                out.push(line);
            }
        }
    }
    out
}

/// Due before soon; then what must not run, the joints out on hire before those in the yard; then by
/// severity and how far past, or by date.
fn worst_first(lines: &mut [Line]) {
    let may_run = |l: &Line| match l.call {
        Call::Quarantine | Call::Retire => false,
        Call::Inspection | Call::Downgrade | Call::Repair => true,
    };
    let at_hand = |l: &Line| !may_run(l) && l.label.on_hire != Some(true);
    let likely = |l: &Line| match l.standing {
        Standing::Due => -1.0,
        Standing::Soon(Outlook::Days { likely, .. }) => likely,
        Standing::Soon(_) => f64::INFINITY,
    };
    lines.par_sort_by(|a, b| {
        likely(a)
            .total_cmp(&likely(b))
            .then(may_run(a).cmp(&may_run(b)))
            .then(at_hand(a).cmp(&at_hand(b)))
            .then(a.severity.cmp(&b.severity))
            .then(b.urgency.total_cmp(&a.urgency))
            .then_with(|| a.label.serial.cmp(&b.label.serial))
            .then(a.label.order.cmp(&b.label.order))
    });
}
