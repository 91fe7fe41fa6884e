//! One fact in two sheets of a workbook: a copy of a sheet that was kept, which would count twice.

use std::collections::BTreeMap;

use super::diagnostic::{Diagnostic, Diagnostics};
use crate::model::{Body, Draft, plural};

/// What of a fact may stand in the sheets of a workbook once.
fn keys(draft: &Draft) -> Vec<String> {
    let at = draft.effective;
    if let Body::Inspection(b) = &draft.body {
        let report = b.report.as_deref().unwrap_or_default();
        let of = |what: String| format!("inspection {} {at} {report} {what}", b.joint.joint);
        let readings = b
            .readings
            .iter()
            .map(|r| of(format!("{:?} {:?} {:?} {:?}", r.what, r.end, r.at, r.position)));
        let findings = b.findings.iter().map(|f| of(format!("{f:?}")));
        let keys: Vec<String> = readings.chain(findings).collect();
        // Of a joint that was looked at, and nothing measured or found.
        return if keys.is_empty() { vec![format!("{at} {b:?}")] } else { keys };
    }
    if let Body::Gap(b) = &draft.body
        && b.hours.is_some()
    {
        let run = b.run.as_deref().unwrap_or_default();
        return b.joints.iter().map(|j| format!("hours {} {at} {run}", j.joint)).collect();
    }
    vec![format!("{at} {:?}", draft.body)]
}

/// Refuses sheets that tell what a sheet before them tells. Each has its name and where its facts begin.
pub(super) fn refuse(
    file: &str,
    drafts: &[Draft],
    sheets: &[(String, usize)],
    diagnostics: &mut Diagnostics,
) {
    if sheets.len() < 2 {
        return;
    }
    let mut told: BTreeMap<String, usize> = BTreeMap::new();
    for (place, (sheet, from)) in sheets.iter().enumerate() {
        let to = sheets.get(place + 1).map_or(drafts.len(), |next| next.1);
        let mut again: BTreeMap<usize, usize> = BTreeMap::new();
        for draft in &drafts[*from..to] {
            let keys = keys(draft);
            if let Some(first) =
                keys.iter().find_map(|k| told.get(k)).filter(|first| **first < place)
            {
                *again.entry(*first).or_default() += 1;
            }
            for key in keys {
                told.entry(key).or_insert(place);
            }
        }
        for (first, facts) in again {
            let first = &sheets[first].0;
            let message = format!("{} that sheet '{first}' tells too", plural(facts, "fact"));
            diagnostics.push(
                Diagnostic::error(file, message).in_sheet(Some(sheet)).help(
                    "they would count twice: hide the sheet that is a copy (hidden sheets are not read), or \
                     keep it in a workbook of its own; two inspections of one day have a report number each",
                ),
            );
        }
    }
}
