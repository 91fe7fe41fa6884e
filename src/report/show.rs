//! One entry whole, in words: who wrote it, what it says field by field, what became of it.

use serde_json::Value;

use crate::model::{Clock, EntryId};
use crate::schema::StruckRow;
use crate::store::Book;

use super::entries::about;
use super::trace::changes;
use super::{Block, Cell, Column, Fact, Report, ReportError, Table};

/// Most parts of a list that are shown.
const SHOWN: usize = 12;

/// The entry of a name.
pub fn report(book: &Book, id: &EntryId) -> Result<Report, ReportError> {
    let stored = book.entry(id)?;
    let raw = &stored.raw;
    let entry = raw.read().map_err(crate::store::StoreError::from)?;
    let clock = Clock::of_offset(entry.recorded.offset_minutes);
    let struck: Option<StruckRow> = book.row(stored.position)?;
    let became = match &struck {
        Some(row) if row.by_entry == stored.position => Some(row.why.clone()),
        Some(row) => Some(format!("{} by {}", row.why, book.entry_at(row.by_entry)?.raw.label())),
        None => None,
    };
    let amended: Vec<String> = book
        .amendments_of(id)?
        .iter()
        .map(|later| match &later.body {
            crate::model::Body::Amend(body) => {
                format!("{}: {} ({}, {})", later.id, changes(body), body.reason, later.author)
            }
            other => format!("{}: {}", later.id, other.kind().word()),
        })
        .collect();
    let text =
        |name: &str, label: &str, value: Option<&str>| Fact::plain(name, label, Cell::text(value));
    let mut report = Report::new("entry");
    report.push(Block::Heading(format!("{} {}", raw.label(), raw.kind.replace('_', " "))));
    let mut facts = vec![
        text("about", "about", about(&entry.body).as_deref()),
        text("when", "happened", Some(&raw.effective)),
        text("author", "written by", Some(&raw.author)),
        Fact::plain("recorded", "written", Cell::Time(entry.recorded.at.at(clock))),
        text("program", "with", Some(&raw.program)),
    ];
    if let Some(evidence) = &entry.evidence {
        facts.push(text("file", "from file", Some(&evidence.file)));
        facts.extend(evidence.place.as_deref().map(|place| text("place", "at", Some(place))));
    }
    facts.extend(became.as_deref().map(|why| text("struck", "counts no more", Some(why))));
    let amendments = amended.join("; ");
    facts.extend((!amended.is_empty()).then(|| text("amended", "amended", Some(&amendments))));
    report.push(Block::Facts { name: "entry", facts });
    let body: Value = serde_json::from_str(&raw.body)
        .map_err(|e| ReportError::Words(format!("{} cannot be read: {e}", raw.label())))?;
    let mut rows = Vec::new();
    flat("", &body, &mut rows);
    report.push(Block::Table(Table {
        name: "says",
        columns: vec![Column::plain("field", "field"), Column::plain("value", "as written")],
        rows: rows.into_iter().map(|(field, value)| vec![Cell::Text(field), value]).collect(),
        empty: "it says nothing more".to_owned(),
        below: None,
    }));
    if struck.is_none() {
        report.push(Block::Note(format!(
            "to strike it out: `strike {} --reason TEXT`; `--json` has every part",
            raw.label()
        )));
    }
    Ok(report)
}

/// A body as fields and values; of a long list its first parts, and how many more there are.
fn flat(path: &str, value: &Value, rows: &mut Vec<(String, Cell)>) {
    let below = |name: &str| {
        if path.is_empty() {
            name.replace('_', " ")
        } else {
            format!("{path} {}", name.replace('_', " "))
        }
    };
    match value {
        Value::Null => {}
        Value::Object(members) => members.iter().for_each(|(name, v)| flat(&below(name), v, rows)),
        Value::Array(list) if list.iter().all(|v| !v.is_object() && !v.is_array()) => {
            let words: Vec<String> = list.iter().take(SHOWN).map(plain).collect();
            rows.push((path.to_owned(), Cell::Text(and_more(&words.join(", "), list.len()))));
        }
        Value::Array(list) if list.iter().all(Value::is_array) => {
            let line = |v: &Value| {
                let parts = v.as_array().into_iter().flatten();
                parts.map(plain).collect::<Vec<_>>().join(" ")
            };
            let words: Vec<String> = list.iter().take(SHOWN).map(line).collect();
            rows.push((path.to_owned(), Cell::Text(and_more(&words.join("; "), list.len()))));
        }
        Value::Array(list) => {
            for (n, part) in list.iter().take(SHOWN).enumerate() {
                flat(&format!("{path} {}", n + 1), part, rows);
            }
            if list.len() > SHOWN {
                let more = list.len() - SHOWN;
                rows.push((path.to_owned(), Cell::Text(format!("{more} more"))));
            }
        }
        Value::Bool(_) | Value::Number(_) | Value::String(_) => {
            rows.push((path.to_owned(), Cell::Text(plain(value))));
        }
    }
}

fn and_more(shown: &str, all: usize) -> String {
    match all.saturating_sub(SHOWN) {
        0 => shown.to_owned(),
        more => format!("{shown} and {more} more"),
    }
}

/// A value as it was written.
fn plain(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Bool(true) => "yes".to_owned(),
        Value::Bool(false) => "no".to_owned(),
        Value::Null => "·".to_owned(),
        Value::Number(_) | Value::Array(_) | Value::Object(_) => value.to_string(),
    }
}
