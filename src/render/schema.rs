//! What the JSON of an answer looks like, as a JSON Schema (draft 2020-12): from the same report, by what
//! its columns declare and not by what its rows happen to hold.

use serde_json::{Map, Value, json};

use crate::report::{Block, Cell, Column, Fact, Report, Table};
use crate::units::{Measure, UnitSystem};

/// A part of an answer under its name: one value, or one of a list.
enum Part {
    One(Value),
    Each(Value),
}

/// Renders the schema of a report. Members and columns may be added to an answer, so none is forbidden.
pub fn render(report: &Report, units: UnitSystem) -> String {
    let mut members: Vec<(&str, Vec<Part>)> = Vec::new();
    let mut counts = Map::new();
    for block in &report.blocks {
        let (name, part) = match block {
            Block::Heading(_) | Block::Text(_) | Block::Note(_) | Block::Caution(_) => continue,
            Block::Counted(c) => {
                for (name, _) in &c.counts {
                    counts.insert((*name).to_owned(), json!({"type": ["integer", "null"]}));
                }
                continue;
            }
            Block::Facts { name, facts } => (*name, Part::One(of_facts(facts, units))),
            Block::Table(t) => (t.name, Part::Each(of_rows(t, units))),
            Block::Bars(b) => (b.name, Part::Each(of_bar(b.measure, units))),
            Block::Chart(c) => (c.name, Part::One(reference("chart"))),
            Block::Verbatim { name, .. } => (*name, Part::Each(json!({"type": "string"}))),
            Block::Explained(_) => ("why", Part::One(reference("explained"))),
        };
        match members.iter_mut().find(|(have, _)| *have == name) {
            Some((_, parts)) => parts.push(part),
            None => members.push((name, vec![part])),
        }
    }
    let mut properties = Map::new();
    properties.insert("report".to_owned(), json!({"const": report.kind}));
    let main = members.first().map(|(name, _)| (*name).to_owned());
    for (name, parts) in members {
        properties.insert(name.to_owned(), together(parts));
    }
    properties.append(&mut counts);
    let strings = json!({"type": "array", "items": {"type": "string"}});
    for name in ["notes", "cautions"] {
        properties.insert(name.to_owned(), strings.clone());
    }
    properties.insert("for_want_of".to_owned(), wanted());
    let required: Vec<String> = std::iter::once("report".to_owned()).chain(main).collect();
    let schema = json!({
        "$schema": DRAFT,
        "title": format!("an answer of pipelore: {}", report.kind),
        "type": "object",
        "properties": properties,
        "required": required,
        "$defs": definitions(),
    });
    pretty(&schema)
}

/// The schema of what stands on stderr in place of an answer.
pub fn of_error() -> String {
    let text = json!({"type": "string"});
    pretty(&json!({
        "$schema": DRAFT,
        "title": "why pipelore gives no answer",
        "type": "object",
        "properties": {"error": {
            "type": "object",
            "properties": {
                "kind": text, "message": text,
                "detail": {"type": ["string", "null", "array"]},
                "hints": {"type": "array", "items": text},
                "errors": {"type": "array", "items": {"type": "object"}},
            },
            "required": ["kind", "message"],
        }},
        "required": ["error"],
    }))
}

/// The edition of the language that these schemas are written in.
const DRAFT: &str = "https://json-schema.org/draft/2020-12/schema";

fn pretty(schema: &Value) -> String {
    let mut text = serde_json::to_string_pretty(schema).unwrap_or_default();
    text.push('\n');
    text
}

fn reference(name: &str) -> Value {
    json!({"$ref": format!("#/$defs/{name}")})
}

/// Several parts under one name are a list of all of them.
fn together(mut parts: Vec<Part>) -> Value {
    if parts.len() == 1 {
        return match parts.remove(0) {
            Part::One(schema) => schema,
            Part::Each(item) => json!({"type": "array", "items": item}),
        };
    }
    let any: Vec<Value> = parts
        .into_iter()
        .map(|part| match part {
            Part::One(s) | Part::Each(s) => s,
        })
        .collect();
    json!({"type": "array", "items": {"anyOf": any}})
}

fn of_facts(facts: &[Fact], units: UnitSystem) -> Value {
    let named = facts.iter().map(|f| {
        let is_json = matches!(f.value, Cell::Json(_));
        (f.name.clone(), value(f.measure, is_json, units))
    });
    object(named.collect())
}

fn of_rows(table: &Table, units: UnitSystem) -> Value {
    let columns = table.columns.iter().enumerate().filter(|(_, column)| !column.people);
    let named = columns.map(|(at, column): (usize, &Column)| {
        let is_json = table.rows.iter().any(|row| matches!(row.get(at), Some(Cell::Json(_))));
        (column.name.clone(), value(column.measure, is_json, units))
    });
    object(named.collect())
}

fn of_bar(measure: Measure, units: UnitSystem) -> Value {
    json!({
        "type": "object",
        "properties": {"label": {"type": "string"}, "value": value(Some(measure), false, units)},
        "required": ["label", "value"],
    })
}

/// An object that has all of these members.
fn object(members: Map<String, Value>) -> Value {
    let names: Vec<String> = members.keys().cloned().collect();
    let mut schema = Map::new();
    schema.insert("type".to_owned(), json!("object"));
    schema.insert("required".to_owned(), json!(names));
    schema.insert("properties".to_owned(), Value::Object(members));
    Value::Object(schema)
}

/// What a value may be: of what has a unit it is that unit, and nothing where nobody knows it.
fn value(measure: Option<Measure>, is_json: bool, units: UnitSystem) -> Value {
    if is_json {
        return json!({"description": "as the ledger has it"});
    }
    let Some(measure) = measure else { return reference("plain") };
    match measure.unit_symbol(units) {
        "" => reference("number"),
        unit => json!({"anyOf": [{"type": "null"}, {
            "type": "object",
            "properties": {
                "value": {"type": "number"},
                "unit": {"const": unit},
                "bound": {"enum": ["at least", "between"]},
                "at_most": {"type": "number"},
                "source": {"type": "string"},
            },
            "required": ["value", "unit"],
        }]}),
    }
}

fn wanted() -> Value {
    json!({"type": "array", "items": {
        "type": "object",
        "properties": {"value": {"type": "string"}, "count": {"type": "integer"}},
        "required": ["value", "count"],
    }})
}

/// Shapes that columns of any answer share.
fn definitions() -> Value {
    let number = json!({"type": ["number", "null"]});
    let bounded = json!({
        "type": "object",
        "properties": {
            "value": {"type": "number"},
            "unit": {"type": "string"},
            "bound": {"enum": ["at least", "between"]},
            "at_most": {"type": "number"},
            "source": {"type": "string"},
        },
        "required": ["value"],
    });
    let text = json!({"type": "string"});
    json!({
        "number": {"anyOf": [number, bounded]},
        "plain": {"anyOf": [
            {"type": ["string", "number", "boolean", "null"]},
            bounded,
            {"type": "object", "properties": {"value": {}, "source": text}, "required": ["value", "source"]},
        ]},
        "explained": {
            "type": "object",
            "properties": {
                "verdict": text, "text": text,
                "found": {"type": "array", "items": {"type": "object"}},
                "limits": {"type": "array", "items": {"type": "object"}},
                "parts": {"type": "array", "items": reference("explained")},
                "wants": {"type": "array", "items": text},
                "answers": {"type": "object"},
            },
            "required": ["verdict", "text"],
        },
        "chart": {
            "type": "object",
            "properties": {
                "title": text, "says": text,
                "unit_x": {"type": ["string", "null"]}, "unit_y": {"type": ["string", "null"]},
                "series": {"type": "array", "items": {
                    "type": "object",
                    "properties": {"name": text, "points": {"type": "array"}},
                    "required": ["name", "points"],
                }},
                "limits": {"type": "array"}, "marks": {"type": "array"},
            },
            "required": ["title", "says", "series"],
        },
    })
}
