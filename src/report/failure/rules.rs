//! What the rules in force say of one joint.

use crate::filter::{self, Answer, ColumnKind, Select, column, compile};
use crate::model::{Instant, Vocabulary};
use crate::schema::{FailureRow, InspectionRow, JointRow, RunRow, Value};
use crate::store::{Book, LookBack};
use crate::units::Measure;

use super::super::question::{self, Present, in_context, rules_in_force};
use super::super::{Cell, ReportError};
use super::{Called, Source};

fn measure(column: Option<&filter::Column>) -> Option<Measure> {
    match column?.kind {
        ColumnKind::Measure(m) => Some(m),
        ColumnKind::Number(m) => m,
        _ => None,
    }
}

/// What the rules called for as the book stood before the failing run began: what was known then is
/// what somebody could have acted on.
pub(in crate::report) fn before_it(
    book: &Book,
    joint: &JointRow,
    present: &Present,
) -> Result<Vec<Called>, ReportError> {
    let failures: Vec<FailureRow> = book.rows_of(joint.joint)?;
    let Some(failure) = failures.last() else { return Ok(Vec::new()) };
    let run: Option<RunRow> = failure.run.map(|run| book.row(run)).transpose()?.flatten();
    let before = Instant(run.as_ref().map_or(failure.date, |run| run.start));
    let mut seen = book.look_back(&LookBack { known_to: None, before: Some(before) })?.book;
    let Some(then) = seen.row::<JointRow>(joint.joint)? else { return Ok(Vec::new()) };
    let as_of = run.map_or_else(|| "it failed".to_owned(), |run| format!("{} began", run.name));
    let looked: Vec<InspectionRow> = seen.rows_of(joint.joint)?;
    let last = looked.last().map(|last| seen.entry_at(last.entry)).transpose()?;
    let source = last.map(|at| Source { entry: at.raw.label(), author: at.raw.author });
    let rests_on = source.as_ref().map_or_else(
        || "no inspection was in the book".to_owned(),
        |s| format!("last inspected by {}, entry {}", s.author, s.entry),
    );
    let then_now = Present { now: Instant(before.0.saturating_sub(1)), ..*present };
    let as_of = format!("as the book stood before {as_of}; {rests_on}");
    of_joint(&mut seen, &then, &then_now, (before, &as_of, source))
}

/// Asks every rule in force of one joint. Rules that are not for it say nothing.
fn of_joint(
    book: &mut Book,
    joint: &JointRow,
    present: &Present,
    (at, as_of, source): (Instant, &str, Option<Source>),
) -> Result<Vec<Called>, ReportError> {
    let set = rules_in_force(book, present.now)?;
    let mut out = Vec::new();
    for rule in &set.rules {
        let text = format!("serial = \"{}\" and {}", joint.serial.replace('"', "\"\""), rule.name);
        let (compiled, columns) = in_context(book, &set, present, |context| {
            let compiled = compile(&text, context).map_err(question::wrong)?;
            let names = rule.limit.iter().flat_map(|l| [l.value.as_str(), l.limit.as_str()]);
            let columns = names
                .map(|n| column(n, None, context).map_err(question::wrong))
                .collect::<Result<Vec<_>, _>>()?;
            Ok::<_, ReportError>((compiled, columns))
        })?;
        question::prepare(book, &compiled, &columns)?;
        let query = compiled.select(&Select { columns: &columns, ..Select::of(Answer::Both) });
        for row in &question::ask(book, &query, present)? {
            if row.first() != Some(&Value::Int(joint.joint)) {
                continue;
            }
            let cell = |at: usize| match (columns.get(at), query.columns.get(at)) {
                (Some(c), Some(place)) => question::cell(c.kind, row, *place, present.clock)
                    .measured(measure(columns.get(at)).or_else(|| measure(columns.first()))),
                _ => Cell::Missing,
            };
            let due = query.truth.is_some_and(|at| row.get(at) == Some(&Value::Int(1)));
            out.push(Called {
                rule: rule.name.clone(),
                call: rule.call.word().to_owned(),
                reason: rule.reason.clone(),
                value: cell(0),
                limit: cell(1),
                calls: due.then_some(true),
                at,
                as_of: as_of.to_owned(),
                source: source.clone(),
            });
        }
    }
    Ok(out)
}
