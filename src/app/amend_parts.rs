//! Readings and findings of an entry corrected: read as those of a file would be, and held against the
//! joint as it was made.

use super::error::words as wrong_words;
use super::words::{self, Fields};
use super::{Error, Session};
use crate::intake::{Kind, READING, read_scopes};
use crate::model::{
    Body, End, Entry, EntryKind, FieldChange, FindingLine, InspectionBody, Reading, ReadingKind,
    Vocabulary,
};
use crate::projection::amend::{Part, readings};

/// What a field that was given corrects.
enum Meant {
    Part(Part),
    /// A list of findings without the end that they are on.
    Findings,
    /// A field of the body itself.
    Field,
}

/// What the name of a field means in an inspection.
fn meant(name: &str) -> Meant {
    let Some(key) = Kind::Inspections.field_key(name) else { return Meant::Field };
    if let Some(reading) = key.strip_prefix(READING) {
        let (end, what) = match reading.split_once(':') {
            Some((end, what)) => (End::from_word(end).ok(), what),
            None => (None, reading),
        };
        return ReadingKind::from_word(what)
            .map_or(Meant::Field, |what| Meant::Part(Part::Readings(what, end)));
    }
    match key {
        "tube_finding" => Meant::Part(Part::Findings(None)),
        "pin_finding" => Meant::Part(Part::Findings(Some(End::Pin))),
        "box_finding" => Meant::Part(Part::Findings(Some(End::Box))),
        key if key.ends_with("finding") => Meant::Findings,
        _ => Meant::Field,
    }
}

/// Takes from the fields those that are readings and findings of an inspection, or results of a repair.
pub(super) fn taken(
    kind: EntryKind,
    given: &[(String, String)],
) -> Result<(Fields, Fields), Error> {
    let (mut parts, mut fields) = (Vec::new(), Vec::new());
    for field in given {
        let of_list = match (kind, meant(&field.0)) {
            (EntryKind::Inspection, Meant::Findings) => {
                return Err(wrong_words(format!(
                    "say where '{}' was found: tube_finding=, pin_finding= or box_finding= says all \
                     that was found there",
                    field.1
                )));
            }
            (EntryKind::Inspection, Meant::Part(_))
            | (EntryKind::Repair, Meant::Part(Part::Readings(..))) => true,
            _ => false,
        };
        if of_list { parts.push(field.clone()) } else { fields.push(field.clone()) }
    }
    Ok((parts, fields))
}

impl Session {
    /// The changes by which an entry says these readings and findings.
    pub(super) fn parts_changed(
        &self,
        now: &Entry,
        given: &[(String, String)],
    ) -> Result<Vec<FieldChange>, Error> {
        if given.is_empty() {
            return Ok(Vec::new());
        }
        let said = self.read_parts(now, given)?;
        let mut changes: Vec<FieldChange> = Vec::new();
        for (name, value) in given {
            let Meant::Part(part) = meant(name) else { continue };
            let part = natural(part, &said, now);
            let is = match part {
                _ if value.trim().is_empty() => None,
                Part::Readings(what, end) => {
                    let read = said.readings.iter().find(|r| (r.what, r.end) == (what, end));
                    Some(serde_json::to_value([one(now, read, name)?]))
                }
                Part::Findings(end) => {
                    let found: Vec<&FindingLine> =
                        said.findings.iter().filter(|f| f.end == end).collect();
                    (!found.is_empty()).then(|| serde_json::to_value(found))
                }
            };
            let is = is.transpose().map_err(wrong_words)?;
            let was = part.said(&now.body);
            if was != is {
                changes.push(FieldChange { field: part.field(), was, is });
            }
        }
        changes.extend(scopes_changed(now, &changes)?);
        Ok(changes)
    }

    /// Readings and findings as an inspection of the joint would have them.
    fn read_parts(&self, now: &Entry, given: &[(String, String)]) -> Result<InspectionBody, Error> {
        let joints = now.body.joints();
        let Some(joint) = joints.first() else {
            return Err(wrong_words("the entry names no joint"));
        };
        let mut fields: Fields =
            given.iter().filter(|(_, value)| !value.trim().is_empty()).cloned().collect();
        fields.push(("serial".to_owned(), format!("{}@{}", joint.serial, joint.joint)));
        fields.push(("date".to_owned(), now.effective.to_string()));
        // That somebody looked is said by the entry that is amended.
        fields.push(("methods".to_owned(), "visual tube".to_owned()));
        let outcome =
            words::read(Kind::Inspections, &fields, &self.lookup()?, &self.caller, false)?;
        words::refused(&outcome, "nothing was written")?;
        let mut bodies = outcome.drafts.into_iter().filter_map(|draft| {
            if let Body::Inspection(body) = draft.body { Some(*body) } else { None }
        });
        bodies.next().ok_or_else(|| wrong_words("nothing is said that could be amended"))
    }
}

/// A part as it was read: a bore without an end is that of the pin. One that is taken away is where the
/// entry has it.
fn natural(part: Part, said: &InspectionBody, now: &Entry) -> Part {
    match part {
        Part::Readings(what, None) => {
            let held = readings(&now.body).unwrap_or_default();
            let read = said.readings.iter().chain(held).find(|r| r.what == what);
            Part::Readings(what, read.and_then(|r| r.end))
        }
        part => part,
    }
}

/// A reading as it should have been written; the place and the instrument of the one that it was.
fn one(now: &Entry, read: Option<&Reading>, name: &str) -> Result<Reading, Error> {
    let Some(read) = read else {
        return Err(wrong_words(format!("{name} says no reading that can be amended")));
    };
    let held = readings(&now.body).unwrap_or_default();
    let mut held = held.iter().filter(|r| (r.what, r.end) == (read.what, read.end));
    let out = match (held.next(), held.next()) {
        (None, _) => read.clone(),
        (Some(held), None) => Reading { value: read.value.clone(), ..held.clone() },
        (Some(_), Some(_)) => {
            return Err(Error::Advice {
                what: format!(
                    "{} has several readings of {}, at places of their own: which is meant nobody \
                     can tell",
                    now.id,
                    name.replace('_', " ")
                ),
                help: vec![format!(
                    "write the inspection anew: pipelore strike {} --reason '…' --instead FILE",
                    now.id
                )],
            });
        }
    };
    Ok(out)
}

/// What an inspection covers by its readings alone follows them; one of which nothing would be left is
/// struck.
fn scopes_changed(now: &Entry, changes: &[FieldChange]) -> Result<Option<FieldChange>, Error> {
    let Body::Inspection(body) = &now.body else { return Ok(None) };
    let amend = crate::model::AmendBody {
        entry: now.id.clone(),
        changes: changes.to_vec(),
        reason: String::new(),
        decision: None,
    };
    let next = crate::projection::amend::with_changes(now, &amend).map_err(wrong_words)?;
    let Body::Inspection(next) = &next.body else { return Ok(None) };
    if next.readings.is_empty() && next.findings.is_empty() && next.methods.is_empty() {
        return Err(Error::Advice {
            what: format!("nothing that was looked at would be left of {}", now.id),
            help: vec![format!("strike it: pipelore strike {} --reason '…'", now.id)],
        });
    }
    let (old, new) = (read_scopes(&body.readings), read_scopes(&next.readings));
    if !body.methods.is_empty() || body.covers != old || old == new {
        return Ok(None);
    }
    let value = |scopes: &[crate::model::Scope]| {
        (!scopes.is_empty()).then(|| serde_json::to_value(scopes)).transpose().map_err(wrong_words)
    };
    Ok(Some(FieldChange { field: "covers".to_owned(), was: value(&old)?, is: value(&new)? }))
}
