//! Names with signs that nobody sees, in entries that other sites wrote or that are older than the
//! refusal of such names: what holds one looks like another name and is none.

use serde_json::Value;

use crate::ledger::RawEntry;
use crate::model::{unseen_kind, unseen_sign};

/// What is written for people alone, or kept whole from a file, names nothing.
const PROSE: [&str; 4] = ["remark", "note", "reason", "text"];

/// The first name of an entry that holds such a sign, in words; `None` for most entries.
pub(super) fn unseen_in(raw: &RawEntry) -> Option<String> {
    // Only what stands in the text, or is written with an escape, can stand in a name.
    if unseen_sign(&raw.body).is_none() && !raw.body.contains("\\u") {
        return None;
    }
    let body: Value = serde_json::from_str(&raw.body).ok()?;
    let (key, sign) = within("", &body)?;
    Some(format!(
        "{}: the {} holds {} (U+{:04X}): it looks like another name and is none",
        raw.label(),
        key.replace('_', " "),
        unseen_kind(sign),
        u32::from(sign)
    ))
}

fn within<'b>(key: &'b str, value: &'b Value) -> Option<(&'b str, char)> {
    match value {
        Value::String(text) => unseen_sign(text).map(|(_, sign)| (key, sign)),
        Value::Array(all) => all.iter().find_map(|one| within(key, one)),
        Value::Object(fields) => fields
            .iter()
            .filter(|(key, _)| !PROSE.contains(&key.as_str()))
            .find_map(|(key, one)| within(key, one)),
        Value::Null | Value::Bool(_) | Value::Number(_) => None,
    }
}
