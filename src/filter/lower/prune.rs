//! Short cuts that change no answer: what a joint's own row, or an index over runs, says about
//! every one of its runs.
//!
//! They rest on what the projections keep: a joint's lower bound is at least what any run that
//! counts for certain adds, and its upper bound, where it has one, at least what any run adds.

use crate::schema::{Value, presence};
use crate::units::Rational;

use super::super::ast::Cmp;
use super::super::registry::{self, Field, Over, Record, Stored, Table};
use super::super::sql::{Cond, Part, Sql, named, sql};
use super::super::typed::{Limit, Node, Num, Phrase, Pred, Read, Records, Reference, limit};
use super::Lower;

/// What follows for the joint from a condition that some run must meet.
pub(super) struct Hint {
    /// Holds for every joint with such a run.
    pub(super) needed: Cond,
    /// Holds only for joints whose runs all fail the condition for certain.
    pub(super) excluded: Cond,
    /// True when an index has found few joints already.
    pub(super) narrow: bool,
}

/// What the summary bits of a joint tell about records that meet a condition.
pub(super) struct Summary {
    pub(super) hint: Hint,
    /// True when a bit stands for the whole condition, and every record counts for certain.
    pub(super) exact: bool,
}

/// The summary bits of a joint that must be set where a record of it meets a condition.
pub(super) fn summary(record: Record, condition: Option<&Node>) -> Summary {
    let mut wanted = Vec::new();
    // A bit is set too where the word or flag is not known.
    let always_known = |node: &Node| match &node.pred {
        Pred::Flag(Reference::Read(read))
        | Pred::OneOf { value: Phrase::Of(Reference::Read(read)), .. } => read.field.always_filled,
        _ => false,
    };
    let exact = match condition {
        None => true,
        Some(node) => match &node.pred {
            Pred::All(terms) => {
                wanted.extend(terms.iter().filter_map(|t| bits_of(record, t)));
                false
            }
            _ => {
                wanted.extend(bits_of(record, node));
                !wanted.is_empty() && always_known(node)
            }
        },
    };
    if wanted.is_empty() {
        wanted.push(presence::of_record(record));
    }
    let test = |bits: &i64, sign: &'static str| {
        Cond::When(sql!["((j.presence & ", Part::from(*bits), ")", sign])
    };
    Summary {
        hint: Hint {
            needed: Cond::all(wanted.iter().map(|bits| test(bits, " <> 0)"))),
            excluded: Cond::any(wanted.iter().map(|bits| test(bits, " = 0)"))),
            narrow: false,
        },
        // Runs in conflict count for nothing certain.
        exact: exact && record != Record::Run,
    }
}

/// The bits of which one must be set where a record meets one part of its condition.
fn bits_of(record: Record, node: &Node) -> Option<i64> {
    let column = |read: &Read| match read.field.stored {
        Stored::Column(col) if read.field.record == Some(record) && read.past.is_none() => {
            Some((col.table, col.name))
        }
        _ => None,
    };
    match &node.pred {
        Pred::Flag(Reference::Read(read)) => {
            let (table, name) = column(read)?;
            presence::of_flag(table, name)
        }
        Pred::OneOf { value: Phrase::Of(Reference::Read(read)), list } => {
            let (table, name) = column(read)?;
            list.iter().try_fold(0, |bits, phrase| match phrase {
                Phrase::Known(text) => Some(bits | presence::of_word(table, name, text)?),
                _ => None,
            })
        }
        _ => None,
    }
}

/// Runs that bend at least so sharply are looked for in the index over all runs; for gentler ones
/// the first runs of each joint decide sooner. Most of the turning in most wells is done in bends
/// below 3 deg/30 m (common practice in planning wells), and on a book of random runs the two ways
/// took the same time there.
const SHARP: i64 = 100_000_000;

/// What the index over doglegs and hours of all runs tells about the joints.
pub(super) struct Sharp {
    /// Holds for every joint with such a run.
    pub(super) needed: Cond,
    /// True when the index holds all that the condition asks of a whole run.
    pub(super) exact: bool,
}

/// Looks for a sharp dogleg among the parts of a run's condition that must all hold.
pub(super) fn sharp(condition: Option<&Node>, few: bool) -> Option<Sharp> {
    if few {
        return None;
    }
    let node = condition?;
    let terms = match &node.pred {
        Pred::All(terms) => terms.as_slice(),
        _ => std::slice::from_ref(node),
    };
    let mut exact = true;
    let (mut bent, mut others) = (None, Vec::new());
    for term in terms {
        match above_limit(term) {
            Some(("max_dogleg", sign, n)) if bent.is_none() && n >= SHARP => {
                bent = Some(sql!["i.max_dogleg", sign, n]);
            }
            Some((name @ ("max_dogleg" | "hours"), sign, n)) => {
                others.push(sql![" AND i.", name, sign, n]);
            }
            _ => exact = false,
        }
    }
    let mut parts = vec![Part::from(bent?)];
    parts.extend(others.into_iter().map(Part::from));
    let needed =
        Cond::When(
            sql!["j.joint IN (SELECT i.joint FROM joint_run i WHERE ", Sql::of(parts), ")",],
        );
    Some(Sharp { needed, exact })
}

/// A figure of a run that must be above a number: its name, the sign, the number in quanta.
fn above_limit(node: &Node) -> Option<(&'static str, &'static str, i64)> {
    let Pred::Compare { op, left, right, .. } = &node.pred else { return None };
    let (op, num, bound) = match (&left.num, &right.num) {
        (num, Num::Const(bound)) => (*op, num, *bound),
        (Num::Const(bound), num) => (op.flipped(), num, *bound),
        _ => return None,
    };
    let Num::Read(read) = num else { return None };
    let Stored::Figure(name, _) = read.field.stored else { return None };
    if read.portion.is_some() {
        return None;
    }
    let (sign, n) = beyond(op, bound, read.field.measure()?.quanta_per_base())?;
    Some((name, sign, n))
}

/// A number of quanta that a value must be above, and the sign for it; `None` for other limits.
fn beyond(op: Cmp, bound: Rational, quanta: i64) -> Option<(&'static str, i64)> {
    match (op, limit(bound, quanta)) {
        (Cmp::Gt, Limit::At(n) | Limit::After(n)) | (Cmp::Ge, Limit::After(n)) => Some((" > ", n)),
        (Cmp::Ge, Limit::At(n)) => Some((" >= ", n)),
        _ => None,
    }
}

/// Whether an index over runs finds the joints that have such records.
pub(in super::super) fn is_found_by_index(of: &Records) -> bool {
    let condition = of.condition.as_deref().filter(|_| of.record == Record::Run);
    let mut hints = Vec::new();
    if let Some(node) = condition {
        collect(node, false, &mut hints);
    }
    hints.iter().any(|h| h.narrow) || sharp(condition, false).is_some()
}

/// True for a condition that an index answers with few joints.
pub(in super::super) fn picks_few(pred: &Pred) -> bool {
    match pred {
        Pred::OneOf { value: Phrase::Of(Reference::Read(read)), list } => {
            read.field.record.is_none()
                && read.past.is_none()
                && matches!(read.field.name, "serial" | "string")
                && list.iter().all(|p| matches!(p, Phrase::Known(_)))
        }
        _ => false,
    }
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
        Pred::Compare { op, left, right, .. } => {
            let (op, num, bound) = match (&left.num, &right.num) {
                (num, Num::Const(bound)) => (*op, num, *bound),
                (Num::Const(bound), num) => (op.flipped(), num, *bound),
                _ => return,
            };
            hints.extend(threshold(op, num, bound));
        }
        Pred::OneOf { value: Phrase::Of(Reference::Read(read)), list } if !few => {
            hints.extend(in_runs(read.field, list));
        }
        _ => {}
    }
}

/// A run above a number: the joint's counter must be above it too.
fn threshold(op: Cmp, num: &Num, bound: Rational) -> Option<Hint> {
    let Num::Read(read) = num else { return None };
    if read.field.record != Some(Record::Run) || read.portion.is_some() {
        return None;
    }
    // Damage is no case: cutting an end back takes damaged metal away, so the joint may have less
    // than a run once added.
    let Stored::Figure(name, _) = read.field.stored else { return None };
    let counter = registry::field(None, name)?;
    let Stored::Counter { lo, hi, over: Over::Runs(..) } = counter.stored else { return None };
    let quanta = counter.measure()?.quanta_per_base();
    let (sign, n) = beyond(op, bound, quanta)?;
    let not = if sign == " > " { " <= " } else { " < " };
    Some(Hint {
        needed: Cond::When(sql!["(j.", lo, sign, n, ")"]),
        excluded: Cond::When(sql!["(j.", hi, not, n, ")"]),
        narrow: false,
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
            Phrase::Known(t) => Some(Part::from(Value::Text(t.clone()))),
            _ => None,
        })
        .collect();
    let known = known.filter(|_| indexed)?;
    let among = sql![
        " (SELECT i.joint FROM run q JOIN joint_run i ON i.run = q.run WHERE q.",
        col.name,
        named(list),
        " IN (",
        Sql::list(known),
        "))",
    ];
    Some(Hint {
        needed: Cond::When(sql!["j.joint IN", &among]),
        excluded: Cond::When(sql!["j.joint NOT IN", among]),
        narrow: true,
    })
}
