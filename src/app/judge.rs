//! Judging after a load: what came of inspections and repairs once they are in the book.

use super::{Caller, Error};
use crate::condition::Severity;
use crate::intake::{Kind, Outcome};
use crate::model::{Body, EntryId};
use crate::report::{Block, Present, Report, rack};
use crate::store::{Appended, Book};

/// Verdicts on what was inspected, and what is open about what was repaired.
pub(super) fn after_load(
    book: &mut Book,
    outcome: &Outcome,
    appended: &Appended,
    (caller, present): (&Caller, &Present),
    report: &mut Report,
) -> Result<(), Error> {
    let place = |e: Option<&EntryId>| -> Result<Option<i64>, Error> {
        e.map_or(Ok(None), |e| Ok(book.position_of(e)?))
    };
    let (first, last) = (place(appended.entries.first())?, place(appended.entries.last())?);
    let (Some(first), Some(last)) = (first, last) else { return Ok(()) };
    let inspects = outcome.drafts.iter().any(|d| matches!(d.body, Body::Inspection(_)));
    if inspects {
        rack::after_load(book, first, last, present, report)?;
    }
    if outcome.kind == Some(Kind::Repairs) {
        repairs(book, outcome, caller, report)?;
    }
    Ok(())
}

/// Repairs that break a limit were done all the same: they are taken in, and said. What is merely
/// not written down is counted.
fn repairs(
    book: &Book,
    outcome: &Outcome,
    caller: &Caller,
    report: &mut Report,
) -> Result<(), Error> {
    let (mut lines, mut asked) = (Vec::new(), 0);
    for draft in &outcome.drafts {
        let Body::Repair(body) = &draft.body else { continue };
        // Before the repair, so that it is not held against itself.
        let at = draft.effective.start(caller.clock);
        for issue in rack::repair_issues(book, body, at)? {
            match issue.severity() {
                Severity::Ask => asked += 1,
                Severity::Warn | Severity::Refuse => {
                    lines.push(format!("{}: {issue}", body.joint.serial));
                }
            }
        }
    }
    if !lines.is_empty() {
        let more = lines.len().saturating_sub(20);
        lines.truncate(20);
        if more > 0 {
            lines.push(format!("… and {more} more"));
        }
        report.push(Block::Note(format!("about these repairs:\n{}", lines.join("\n"))));
    }
    if asked > 0 {
        report.push(Block::Note(format!(
            "{asked} things that a repair should say are not written: who did it, under what \
             licence, how much came off, what was measured afterwards"
        )));
    }
    Ok(())
}
