//! What the rules in force say of one joint.

use crate::filter::{self, Answer, ColumnKind, Select, column, compile};
use crate::model::Vocabulary;
use crate::schema::{JointRow, Value};
use crate::store::Book;
use crate::units::Measure;

use super::super::question::{self, Present, in_context, rules_in_force};
use super::super::{Cell, ReportError};
use super::Called;

fn measure(column: Option<&filter::Column>) -> Option<Measure> {
    match column?.kind {
        ColumnKind::Measure(m) => Some(m),
        ColumnKind::Number(m) => m,
        _ => None,
    }
}

/// Asks every rule in force of one joint. Rules that are not for it say nothing.
pub(in crate::report) fn of_joint(
    book: &mut Book,
    joint: &JointRow,
    present: &Present,
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
            });
        }
    }
    Ok(out)
}
