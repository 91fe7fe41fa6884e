//! Joints that are sent out on hire: only those that are fit, unless a person decides otherwise.

use std::collections::BTreeSet;

use super::error::{Error, Unfit};
use crate::condition::{Caution, Fitness};
use crate::model::{Body, DAY_MS, DecisionBody, Draft, JointRef, Moment, Ruling, Status};
use crate::report::{Block, Present, fitness};
use crate::store::Book;

/// Days after which a hire that a file tells of is past: what was sent out then nobody can keep back.
const PAST_DAYS: i64 = 30;

/// Whether a hire began so long ago that a file tells of it as of something that is past.
pub(super) fn is_past(draft: &Draft, present: &Present) -> bool {
    let days = (present.now.0 - draft.effective.end(present.clock).0) / DAY_MS;
    days > PAST_DAYS
}

/// What a decision to send out a joint all the same overrides.
const OVERRIDDEN: &str = "fitness";

/// Holds hires among the drafts, those that are wanted, against what the joints are. Those that are not fit, or of which
/// that cannot be said, are refused; for a reason they go all the same, and the drafts get the
/// decision that says so.
pub(super) fn check(
    book: &mut Book,
    drafts: &mut Vec<Draft>,
    wanted: impl Fn(&Draft) -> bool,
    insist: Option<&str>,
    (author, now): (&str, Moment),
    present: &Present,
) -> Result<Vec<Block>, Error> {
    let mut named: Vec<(JointRef, i64)> = Vec::new();
    let mut seen = BTreeSet::new();
    for joint in drafts.iter().filter(|d| wanted(d)).flat_map(|d| sent_out(&d.body)) {
        if let Some(position) = book.position_of(&joint.joint)?
            && seen.insert(position)
        {
            named.push((joint.clone(), position));
        }
    }
    let joints: Vec<i64> = named.iter().map(|(_, position)| *position).collect();
    let (mut unfit, mut refused, mut blocks) = (Vec::new(), Vec::new(), Vec::new());
    for (a, told) in fitness::standing(book, &joints, present)? {
        match told.answer() {
            Some(Fitness::Fit) => {}
            Some(Fitness::Restricted) => {
                let why: Vec<String> = told.reasons.into_iter().map(|r| r.says).collect();
                blocks.push(Block::Note(format!(
                    "{} goes out with a restriction: {}",
                    a.serial,
                    why.join("; ")
                )));
            }
            answer @ (Some(Fitness::NotFit) | None) => {
                unfit.extend(named.iter().find(|(_, p)| *p == a.position).map(|n| n.0.clone()));
                refused.push(Unfit {
                    serial: a.serial,
                    answer: fitness::words(answer),
                    why: fitness::lines(&told),
                    searches: fitness::searches_in_short(&told.searches),
                });
            }
        }
    }
    if refused.is_empty() {
        blocks.extend((!joints.is_empty()).then(fitness::caution));
        return Ok(blocks);
    }
    let Some(reason) = reason(insist) else { return Err(Error::Unfit(refused)) };
    drafts.push(Draft {
        effective: now,
        evidence: None,
        body: Body::Decision(DecisionBody {
            joints: unfit,
            ruling: Ruling::Waive { what: OVERRIDDEN.to_owned() },
            reason: reason.to_owned(),
            authority: None,
            until: None,
        }),
    });
    let lines: Vec<String> = refused.iter().map(Unfit::text).collect();
    blocks.push(Block::Note(format!(
        "sent out by the decision of {} all the same: {reason}\n{}",
        author,
        lines.join("\n")
    )));
    blocks.push(Block::Caution(Caution::Override.text().to_owned()));
    Ok(blocks)
}

/// Why it is done all the same: blanks are no reason.
pub(super) fn reason(insist: Option<&str>) -> Option<&str> {
    insist.map(str::trim).filter(|reason| !reason.is_empty())
}

/// Joints that an entry sends out on hire.
fn sent_out(body: &Body) -> &[JointRef] {
    if let Body::HireOut(hire) = body {
        &hire.joints
    } else if let Body::Move(b) = body
        && b.status == Some(Status::OnHire)
    {
        &b.joints
    } else {
        &[]
    }
}
