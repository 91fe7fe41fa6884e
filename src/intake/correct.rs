//! Values of single fields of a kind of file, each read as its cell would be: what a field should
//! have said.

use serde_json::{Value, json};

use super::diagnostic::Diagnostics;
use super::kinds::Kind;
use super::number::Decimal;
use super::options::Options;
use super::table::{Constant, Holds, Layout, Reading, Row, Table, Where};
use crate::model::{fold, nearest_word};

/// A field with what it is to say.
#[derive(Clone, Debug, PartialEq)]
pub struct Corrected {
    /// Its name in files of the kind.
    pub key: String,
    /// What it may be in the body of an entry, the first that the body can take; none where nothing
    /// is known.
    pub values: Vec<Value>,
}

/// Reads fields with their values; an empty value says that nothing is known.
pub fn corrected(
    place: &str,
    kind: Kind,
    fields: &[(String, String)],
    options: &Options,
) -> Result<Vec<Corrected>, Diagnostics> {
    let known = kind.fields();
    let mut d = Diagnostics::default();
    let at = Where::new(place, None);
    let mut layout = Layout::default();
    let mut keys = Vec::new();
    for (name, value) in fields {
        let Some(field) = known.named(&fold(name)) else {
            let near = nearest_word(name, known.iter().map(|f| f.key.as_str()));
            let names = || known.iter().map(|f| f.key.as_str()).collect::<Vec<_>>().join(", ");
            let help = near.map_or_else(
                || format!("fields of a {kind}: {}", names()),
                |near| format!("did you mean {near}?"),
            );
            let message = format!("{name} is no field of a {kind}");
            d.push(super::Diagnostic::error(place, message).value(value).help(help));
            continue;
        };
        let key = known[field].key.clone();
        keys.push((key.clone(), known[field].holds, value.trim().is_empty()));
        if !value.trim().is_empty() {
            layout.constants.push(Constant { key, value: value.clone(), row: None });
        }
    }
    let reading = Reading {
        decimal: Some(Decimal::Point),
        nulls: options.nulls.clone(),
        times: options.times,
    };
    let table = Table::new(Vec::new(), layout, known, at, reading, &mut d);
    let read = table.and_then(|mut table| {
        table.head(&mut d, |row| {
            let mut out = Vec::new();
            for (key, holds, empty) in keys {
                let values = if empty { Vec::new() } else { values(row, &key, holds) };
                out.push(Corrected { key, values });
            }
            Some(out)
        })
    });
    match read {
        Some(out) if d.errors() == 0 => Ok(out),
        _ => Err(d),
    }
}

/// What the text of a field may be in a body.
fn values(row: &mut Row<'_>, key: &str, holds: Holds) -> Vec<Value> {
    match holds {
        Holds::Of(_) | Holds::Either(..) | Holds::Any => {
            let read = if holds == Holds::Any { row.any(key) } else { row.qty(key) };
            let text = read.map(|q| q.to_string());
            text.iter().flat_map(|t| [json!(t), json!({ "known": t })]).collect()
        }
        Holds::When => row.moment(key).map(|m| json!(m)).into_iter().collect(),
        Holds::Count => row.count(key).map(|n| json!(n)).into_iter().collect(),
        Holds::Flag => row.flag(key).map(|b| json!(b)).into_iter().collect(),
        Holds::Text | Holds::Serial => {
            let Some(text) = row.text(key) else { return Vec::new() };
            let list = |sign: [char; 2]| -> Vec<String> {
                text.split(sign).map(|w| w.trim().to_owned()).filter(|w| !w.is_empty()).collect()
            };
            // A text, a word of a vocabulary, a list of texts or of words.
            let words: Vec<String> = list([';', ',']).iter().map(|w| fold(w)).collect();
            vec![json!(text), json!(fold(&text)), json!(list([';', ','])), json!(words)]
        }
    }
}
