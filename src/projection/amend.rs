//! Entries of which fields were amended: as they count, and which fields can be.

use serde_json::Value;

use crate::model::{AmendBody, Body, Entry, EntryKind, FieldChange, Moment};

use super::alone::wrong_by_itself;

/// Stands for the effective time of the entry among the fields of its body.
pub const EFFECTIVE: &str = "effective";

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
    let mut body = fields(&entry.body)?;
    for FieldChange { field, is, .. } in &by.changes {
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
