//! Short cuts that change no answer: what a joint's own row, or an index over runs, says about
//! every one of its runs.
//!
//! They rest on what the projections keep: a joint's lower bound is at least what any run that
//! counts for certain adds, and its upper bound, where it has one, at least what any run adds.

use crate::units::Rational;

use super::super::ast::Cmp;
use super::super::registry::{self, Field, Over, Record, Stored, Table};
use super::super::sql::{Bind, Cond, Part, Sql, sql};
use super::super::typed::{Limit, Node, Num, Phrase, Place, Pred, limit};
use super::Lower;

/// What follows for the joint from a condition that some run must meet.
pub(super) struct Hint {
    /// Holds for every joint with such a run.
    pub(super) needed: Cond,
    /// Holds only for joints whose runs all fail the condition for certain.
    pub(super) excluded: Cond,
}

impl Lower {
    /// Hints from the parts of a run's condition that must all hold.
    pub(super) fn run_hints(&self, condition: Option<&Node>, few: bool) -> Vec<Hint> {
        let mut hints = Vec::new();
        if let Some(node) = condition {
            collect(node, few, &mut hints);
        }
        hints
    }
}

fn collect(node: &Node, few: bool, hints: &mut Vec<Hint>) {
    match &node.pred {
        Pred::All(terms) => terms.iter().for_each(|t| collect(t, few, hints)),
        Pred::Compare { op, left, right } => {
            let (op, num, bound) = match (&left.num, &right.num) {
                (num, Num::Const(bound)) => (*op, num, *bound),
                (Num::Const(bound), num) => (op.flipped(), num, *bound),
                _ => return,
            };
            hints.extend(threshold(op, num, bound));
        }
        Pred::OneOf { value: Phrase::Of(Place::Read(read)), list } if !few => {
            hints.extend(in_runs(read.field, list));
        }
        _ => {}
    }
}

/// A run above a number: the joint's counter must be above it too.
fn threshold(op: Cmp, num: &Num, bound: Rational) -> Option<Hint> {
    let Num::Read(read) = num else { return None };
    if read.field.record != Some(Record::Run) || read.above.is_some() {
        return None;
    }
    // Damage is no case: cutting an end back takes damaged metal away, so the joint may have less
    // than a run once added.
    let Stored::Figure(name, _) = read.field.stored else { return None };
    let counter = registry::field(None, name)?;
    let Stored::Counter { lo, hi, over: Over::Runs(..) } = counter.stored else { return None };
    let quanta = counter.measure()?.quanta_per_base();
    let (col, sign, not, n): (_, &'static str, &'static str, i64) = match (op, limit(bound, quanta))
    {
        (Cmp::Gt, Limit::At(n) | Limit::After(n)) | (Cmp::Ge, Limit::After(n)) => {
            ((lo, hi), " > ", " <= ", n)
        }
        (Cmp::Ge, Limit::At(n)) => ((lo, hi), " >= ", " < ", n),
        _ => return None,
    };
    Some(Hint {
        needed: Cond::When(sql!["(j.", col.0, sign, n, ")"]),
        excluded: Cond::When(sql!["(j.", col.1, not, n, ")"]),
    })
}

/// A run of a well or of a name: an index finds the joints that were in one.
fn in_runs(field: &Field, list: &[Phrase]) -> Option<Hint> {
    let Stored::Column(col) = field.stored else { return None };
    // Only columns that always hold something: else a run without one may be of that name.
    let indexed = field.record == Some(Record::Run)
        && col.table == Table::Run
        && matches!(col.name, "well" | "name");
    let known: Option<Vec<Part>> = list
        .iter()
        .map(|p| match p {
            Phrase::Known(t) => Some(Part::from(Bind::Text(t.clone()))),
            _ => None,
        })
        .collect();
    let known = known.filter(|_| indexed)?;
    let among = sql![
        " (SELECT i.joint FROM run q JOIN joint_run i ON i.run = q.run WHERE q.",
        col.name,
        " IN (",
        Sql::list(known),
        "))",
    ];
    Some(Hint {
        needed: Cond::When(sql!["j.joint IN", &among]),
        excluded: Cond::When(sql!["j.joint NOT IN", among]),
    })
}
