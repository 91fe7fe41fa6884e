//! Entries of which fields were amended: as they count, and which fields can be.

use serde_json::Value;

use crate::model::{
    AmendBody, Body, End, Entry, EntryKind, FieldChange, FindingLine, Moment, Reading, ReadingKind,
    Vocabulary,
};

use super::alone::wrong_by_itself;

/// Stands for the effective time of the entry among the fields of its body.
pub const EFFECTIVE: &str = "effective";

/// A part of a list of a body that is amended by itself: two sites that correct two readings of one
/// inspection do not undo each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// The readings of one kind, on one end where it has ends.
    Readings(ReadingKind, Option<End>),
    /// The findings on an end, or else on the tube and the joint as a whole.
    Findings(Option<End>),
}

const READINGS: &str = "readings";
const FINDINGS: &str = "findings";
/// The findings that are on no end.
const OF_TUBE: &str = "tube";

impl Part {
    /// As it stands in an amendment: `readings:wall`, `readings:pin:tj_od`, `findings:box`.
    pub fn field(self) -> String {
        match self {
            Self::Readings(what, None) => format!("{READINGS}:{}", what.word()),
            Self::Readings(what, Some(end)) => format!("{READINGS}:{}:{}", end.word(), what.word()),
            Self::Findings(end) => format!("{FINDINGS}:{}", end.map_or(OF_TUBE, |end| end.word())),
        }
    }

    /// The part that a field of an amendment names.
    fn named(field: &str) -> Option<Self> {
        let (list, of) = field.split_once(':')?;
        match list {
            READINGS => {
                let (end, what) = match of.split_once(':') {
                    Some((end, what)) => (Some(End::from_word(end).ok()?), what),
                    None => (None, of),
                };
                Some(Self::Readings(ReadingKind::from_word(what).ok()?, end))
            }
            FINDINGS if of == OF_TUBE => Some(Self::Findings(None)),
            FINDINGS => Some(Self::Findings(Some(End::from_word(of).ok()?))),
            _ => None,
        }
    }

    fn holds(self, reading: &Reading) -> bool {
        self == Self::Readings(reading.what, reading.end)
    }

    fn has(self, finding: &FindingLine) -> bool {
        self == Self::Findings(finding.end)
    }

    /// What a body says of it now; nothing where it says nothing, or has no such list.
    pub fn said(self, body: &Body) -> Option<Value> {
        let said = match self {
            Self::Readings(..) => serde_json::to_value(
                readings(body)?.iter().filter(|r| self.holds(r)).collect::<Vec<_>>(),
            ),
            Self::Findings(_) => {
                let Body::Inspection(b) = body else { return None };
                serde_json::to_value(b.findings.iter().filter(|f| self.has(f)).collect::<Vec<_>>())
            }
        };
        said.ok().filter(|list| list.as_array().is_some_and(|list| !list.is_empty()))
    }

    /// Puts other readings or findings in the place of those that a body has of it.
    fn put(self, body: &mut Body, is: Option<&Value>) -> Result<(), String> {
        let none = format!("an entry of kind {} has none", body.kind().word());
        match self {
            Self::Readings(..) => {
                let list = readings_mut(body).ok_or(none)?;
                replace(list, is, |r| self.holds(r))
            }
            Self::Findings(_) => {
                let Body::Inspection(b) = body else { return Err(none) };
                replace(&mut b.findings, is, |f| self.has(f))
            }
        }
    }
}

/// The readings of a body that has a list of them.
pub fn readings(body: &Body) -> Option<&[Reading]> {
    if let Body::Inspection(b) = body {
        Some(&b.readings)
    } else if let Body::Repair(b) = body {
        Some(&b.results)
    } else {
        None
    }
}

fn readings_mut(body: &mut Body) -> Option<&mut Vec<Reading>> {
    if let Body::Inspection(b) = body {
        Some(&mut b.readings)
    } else if let Body::Repair(b) = body {
        Some(&mut b.results)
    } else {
        None
    }
}

/// Puts others in the place of those of a list that are meant, where the first of them stood.
fn replace<T: serde::de::DeserializeOwned>(
    list: &mut Vec<T>,
    is: Option<&Value>,
    meant: impl Fn(&T) -> bool,
) -> Result<(), String> {
    let others: Vec<T> = match is {
        Some(value) => serde_json::from_value(value.clone()).map_err(|e| e.to_string())?,
        None => Vec::new(),
    };
    if !others.iter().all(&meant) {
        return Err("it says something of another reading or finding".to_owned());
    }
    let at = list.iter().position(&meant).unwrap_or(list.len());
    list.retain(|held| !meant(held));
    list.splice(at..at, others);
    Ok(())
}

/// Whether fields of entries of a kind can be amended. What says by itself who counts, by what the
/// book judges and what came from where is struck and written anew.
pub const fn is_amendable(kind: EntryKind) -> bool {
    use EntryKind as K;
    match kind {
        K::Joint
        | K::Opening
        | K::Move
        | K::Gap
        | K::HireOut
        | K::HireIn
        | K::Survey
        | K::Run
        | K::Makeup
        | K::Inspection
        | K::Repair
        | K::Event
        | K::Failure
        | K::Instrument
        | K::Check => true,
        K::Identity
        | K::Decision
        | K::Adoption
        | K::Arrival
        | K::Epoch
        | K::Clock
        | K::Key
        | K::Layout
        | K::Note
        | K::Strike
        | K::Amend => false,
    }
}

/// An entry as it counts under its amendments, which stand in canonical order: of two of one field
/// the later one holds. One that the entry cannot take changes nothing.
pub fn amended<'a>(entry: &Entry, by: impl IntoIterator<Item = &'a Entry>) -> Entry {
    let mut out = entry.clone();
    for amendment in by {
        if let Body::Amend(b) = &amendment.body
            && let Ok(next) = with_changes(&out, b)
        {
            out = next;
        }
    }
    out
}

/// An entry with the changes of one amendment; else why it cannot take them.
pub fn with_changes(entry: &Entry, by: &AmendBody) -> Result<Entry, String> {
    let kind = entry.body.kind();
    if !is_amendable(kind) {
        return Err(format!("an entry of kind {} is not amended", kind.word()));
    }
    let mut out = entry.clone();
    for FieldChange { field, is, .. } in &by.changes {
        if let Some(part) = Part::named(field) {
            part.put(&mut out.body, is.as_ref())?;
        }
    }
    let mut body = fields(&out.body)?;
    for FieldChange { field, is, .. } in &by.changes {
        if Part::named(field).is_some() {
            continue;
        }
        if field == EFFECTIVE {
            let moment = is.clone().ok_or("the date of a fact cannot be taken away")?;
            out.effective = serde_json::from_value::<Moment>(moment).map_err(|e| e.to_string())?;
            continue;
        }
        match is {
            Some(value) => body.insert(field.clone(), value.clone()),
            None => body.remove(field),
        };
    }
    let text = Value::Object(body).to_string();
    out.body = Body::from_json(kind.word(), &text).map_err(|e| {
        let why = std::error::Error::source(&e).map_or_else(|| e.to_string(), ToString::to_string);
        // Where it stands in a text that nobody wrote tells nothing.
        why.split(" at line ").next().unwrap_or_default().to_owned()
    })?;
    if out.body.joints() != entry.body.joints() || out.body.entries() != entry.body.entries() {
        return Err("an amendment changes no joint and no entry that is named".to_owned());
    }
    wrong_by_itself(&out)?;
    Ok(out)
}

/// The fields of a body by name, those without a value as null.
pub fn fields(body: &Body) -> Result<serde_json::Map<String, Value>, String> {
    match body.to_json() {
        Ok(Value::Object(members)) => Ok(members),
        Ok(_) => Err("its body has no fields".to_owned()),
        Err(e) => Err(e.to_string()),
    }
}

/// What makes an amendment wrong by itself.
pub(super) fn wrong(body: &AmendBody) -> Result<(), String> {
    if body.changes.is_empty() {
        return Err("it changes no field".to_owned());
    }
    let mut names: Vec<&str> = body.changes.iter().map(|c| c.field.as_str()).collect();
    names.sort_unstable();
    match names.windows(2).find(|pair| pair[0] == pair[1]) {
        Some(pair) => Err(format!("it changes {} twice", pair[0])),
        None => Ok(()),
    }
}
