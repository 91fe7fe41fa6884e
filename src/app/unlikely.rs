//! Readings that an earlier one contradicts are asked for again: steel that grew without a repair, a
//! wall that was lost without use. For a reason they are kept, and the lower one stands.

use super::error::Error;
use super::hire::reason;
use crate::condition::Unlikely;
use crate::intake::{Diagnostic, Diagnostics};
use crate::model::{Body, Clock, Draft, InspectionBody, JointRef, Moment, NoteBody};
use crate::projection::joint::{Appraisal, Ask};
use crate::projection::readings::kind_of;
use crate::store::Book;
use crate::units::UnitSystem;

/// A reading to be made again: of which joint, in which draft.
pub(super) struct Found {
    joint: JointRef,
    draft: usize,
    what: Unlikely,
}

/// Visits the joints that drafts inspect, each judged as the book will have it, with its draft.
pub(super) fn each_inspected(
    book: &Book,
    drafts: &[Draft],
    clock: Clock,
    see: impl FnMut(usize, &InspectionBody, Appraisal),
) -> Result<(), Error> {
    each(book, drafts, clock, |_| true, see)
}

/// The same, of joints that something was measured on: what was not read contradicts nothing.
pub(super) fn each_measured(
    book: &Book,
    drafts: &[Draft],
    clock: Clock,
    see: impl FnMut(usize, &InspectionBody, Appraisal),
) -> Result<(), Error> {
    each(book, drafts, clock, |body| !body.readings.is_empty(), see)
}

fn each(
    book: &Book,
    drafts: &[Draft],
    clock: Clock,
    which: impl Fn(&InspectionBody) -> bool,
    mut see: impl FnMut(usize, &InspectionBody, Appraisal),
) -> Result<(), Error> {
    let mut appraiser = book.appraiser()?;
    for (n, draft) in drafts.iter().enumerate() {
        let Body::Inspection(body) = &draft.body else { continue };
        if !which(body) {
            continue;
        }
        let Some(joint) = book.position_of(&body.joint.joint)? else { continue };
        let at = draft.effective.start(clock);
        let ask = Ask { inspection: Some((draft.effective, body)), fresh: false };
        if let Some(appraisal) = appraiser.appraise(joint, at, ask)? {
            see(n, body, appraisal);
        }
    }
    Ok(())
}

/// The readings of a draft that earlier ones contradict.
pub(super) fn found(draft: usize, body: &InspectionBody, appraisal: &Appraisal) -> Vec<Found> {
    let of = |what: &Unlikely| Found { joint: body.joint.clone(), draft, what: *what };
    appraisal.unlikely.iter().map(of).collect()
}

/// Where an earlier reading contradicts one of the drafts they are refused; for a reason they are
/// kept, and a note says which.
pub(super) fn check(
    found: &[Found],
    drafts: &mut Vec<Draft>,
    insist: Option<&str>,
    now: Moment,
    (file, units): (&str, UnitSystem),
) -> Result<Vec<String>, Error> {
    if found.is_empty() {
        return Ok(Vec::new());
    }
    let Some(reason) = reason(insist) else {
        let mut diagnostics = Diagnostics::default();
        for f in found {
            diagnostics.push(diagnostic(f, drafts.get(f.draft), file, units));
        }
        return Err(Error::File { name: file.to_owned(), diagnostics });
    };
    let lines: Vec<String> =
        found.iter().map(|f| format!("{}: {}", f.joint.serial, f.what.text(units))).collect();
    let mut joints: Vec<JointRef> = Vec::new();
    for f in found {
        if !joints.contains(&f.joint) {
            joints.push(f.joint.clone());
        }
    }
    drafts.push(Draft {
        effective: now,
        evidence: None,
        body: Body::Note(NoteBody {
            joints,
            about: None,
            text: format!("kept though an earlier reading contradicts it: {reason}"),
        }),
    });
    Ok(lines)
}

fn diagnostic(f: &Found, draft: Option<&Draft>, file: &str, units: UnitSystem) -> Diagnostic {
    let says = format!("{}: {}", f.joint.serial, f.what.text(units));
    let mut out = Diagnostic::error(file, says).help(
        "read it again; if it is so, keep it with the reason: --insist \"REASON\"; if the earlier \
         one was wrong, amend that entry",
    );
    let body =
        draft.and_then(|d| if let Body::Inspection(body) = &d.body { Some(body) } else { None });
    let same = |r: &&crate::model::Reading| kind_of(r) == (f.what.what, f.what.end);
    if let Some(reading) = body.and_then(|b| b.readings.iter().find(same)) {
        out = out.value(reading.value.to_string());
    }
    let place = draft.and_then(|d| d.evidence.as_ref()?.place.clone());
    let row = place.as_deref().and_then(|p| {
        p.rsplit(|c: char| !c.is_ascii_digit()).find(|n| !n.is_empty())?.parse().ok()
    });
    match row {
        Some(row) => out.at_row(row),
        None => out,
    }
}
