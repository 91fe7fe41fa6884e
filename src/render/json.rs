//! A report as JSON, for machines: `{"report": kind, …}` with one member for each named part.

use serde_json::{Map, Value, json};

use crate::model::Instant;
use crate::report::chart::{Chart, Look, Scale};
use crate::report::{Block, Cell, Report, Table};
use crate::units::{Measure, UnitSystem};

/// Renders a report as one JSON document.
pub fn render(report: &Report, units: UnitSystem) -> String {
    let mut members = Map::new();
    members.insert("report".to_owned(), json!(report.kind));
    let mut notes: Vec<Value> = Vec::new();
    let mut cautions: Vec<Value> = Vec::new();
    for block in &report.blocks {
        match block {
            Block::Heading(_) => {}
            Block::Text(t) | Block::Note(t) => notes.push(json!(t)),
            Block::Counted(c) => {
                for (name, n) in &c.counts {
                    let before = members.get(*name).and_then(Value::as_u64);
                    let all = n.map(|n| n as u64 + before.unwrap_or(0));
                    members.insert((*name).to_owned(), json!(all));
                }
                if !c.wants.is_empty() {
                    let wants = c.wants.iter().map(|(what, n)| json!({"value": what, "count": n}));
                    members.insert("for_want_of".to_owned(), wants.collect());
                }
                notes.extend((!c.says.is_empty()).then(|| json!(c.says)));
            }
            Block::Caution(t) => cautions.push(json!(t)),
            Block::Facts { name, facts } => {
                let mut object = Map::new();
                for f in facts {
                    let v = value(&f.value, f.measure, units);
                    object.insert(f.name.clone(), with_source(v, f.source.as_deref()));
                }
                add(&mut members, name, Value::Object(object));
            }
            Block::Table(t) => add(&mut members, t.name, rows(t, units)),
            Block::Bars(b) => {
                let list = b
                    .bars
                    .iter()
                    .map(|(label, n)| {
                        json!({"label": label, "value": value(&Cell::Number(*n), Some(b.measure), units)})
                    })
                    .collect();
                add(&mut members, b.name, Value::Array(list));
            }
            Block::Chart(c) => add(&mut members, c.name, chart(c, units)),
            Block::Verbatim { name, lines } => add(&mut members, name, json!(lines)),
            Block::Explained(e) => add(&mut members, "why", super::explained::json(e, units)),
        }
    }
    if !notes.is_empty() {
        members.insert("notes".to_owned(), Value::Array(notes));
    }
    if !cautions.is_empty() {
        members.insert("cautions".to_owned(), Value::Array(cautions));
    }
    let mut text = serde_json::to_string_pretty(&Value::Object(members)).unwrap_or_default();
    text.push('\n');
    text
}

/// The first table of a report, a row a line, each an object; `None` where it has none.
pub fn lines(report: &Report, units: UnitSystem) -> Option<String> {
    let Value::Array(list) = rows(report.tables().next()?, units) else { return None };
    let each: Vec<String> = list.iter().map(Value::to_string).chain([String::new()]).collect();
    Some(each.join("\n"))
}

/// A chart as its series.
fn chart(chart: &Chart, units: UnitSystem) -> Value {
    let one = |scale: Scale, n: i64| match scale {
        Scale::Time(clock) => json!(Instant(n).at(clock).to_rfc3339()),
        Scale::Of(m) => tidy(m.value(n, units)),
    };
    let unit = |scale: Scale| match scale {
        Scale::Time(_) => None,
        Scale::Of(m) => Some(m.unit_symbol(units)).filter(|u| !u.is_empty()),
    };
    let (x, y) = (chart.x.scale, chart.y.scale);
    let series: Vec<Value> = chart
        .series
        .iter()
        .map(|s| {
            let bars = s.look == Look::Bars && s.points.iter().any(|p| p.base != 0);
            let points: Vec<Value> = s
                .points
                .iter()
                .map(|p| {
                    if bars {
                        json!([one(x, p.x), one(y, p.base), one(y, p.y)])
                    } else {
                        json!([one(x, p.x), one(y, p.y)])
                    }
                })
                .collect();
            json!({"name": s.name, "points": points})
        })
        .collect();
    let limits: Vec<Value> =
        chart.levels.iter().map(|l| json!({"limit": l.label, "value": one(y, l.at)})).collect();
    let marks: Vec<Value> =
        chart.marks.iter().map(|m| json!({"what": m.what, "at": one(x, m.at)})).collect();
    json!({
        "title": chart.title, "says": chart.says, "unit_x": unit(x), "unit_y": unit(y),
        "series": series, "limits": limits, "marks": marks,
    })
}

/// Two parts of one name become a list of parts.
fn add(members: &mut Map<String, Value>, name: &str, value: Value) {
    match members.get_mut(name) {
        None => {
            members.insert(name.to_owned(), value);
        }
        Some(Value::Array(list)) => match value {
            Value::Array(more) => list.extend(more),
            other => list.push(other),
        },
        Some(first) => {
            let one = first.take();
            *first = Value::Array(vec![one, value]);
        }
    }
}

fn rows(table: &Table, units: UnitSystem) -> Value {
    table
        .rows
        .iter()
        .map(|row| {
            let object: Map<String, Value> = row
                .iter()
                .zip(&table.columns)
                .filter(|(_, column)| !column.people)
                .map(|(cell, column)| {
                    let v = value(cell, column.measure, units);
                    (column.name.clone(), with_source(v, column.source.as_deref()))
                })
                .collect();
            Value::Object(object)
        })
        .collect()
}

/// A value with its source beside it; a missing one stays `null`.
fn with_source(value: Value, source: Option<&str>) -> Value {
    let Some(source) = source else { return value };
    match value {
        Value::Null => Value::Null,
        Value::Object(mut o) => {
            o.insert("source".to_owned(), json!(source));
            Value::Object(o)
        }
        plain => json!({"value": plain, "source": source}),
    }
}

/// Rounds to twelve significant digits: more are noise of the conversion.
fn tidy(x: f64) -> Value {
    if x == 0.0 || !x.is_finite() {
        return json!(if x.is_finite() { 0.0 } else { f64::NAN });
    }
    format!("{x:.11e}").parse::<f64>().map_or(Value::Null, |v| json!(v))
}

/// A cell as JSON: `{"value", "unit"}` for what has a unit, `null` for what is missing.
pub fn value(cell: &Cell, measure: Option<Measure>, units: UnitSystem) -> Value {
    let number = |n: i64| measure.map_or_else(|| json!(n), |m| tidy(m.value(n, units)));
    let unit = measure.map(|m| m.unit_symbol(units)).filter(|u| !u.is_empty());
    match cell {
        Cell::Missing => Value::Null,
        Cell::Text(t) => json!(t),
        Cell::Truth(b) => json!(b),
        Cell::Json(v) => v.clone(),
        Cell::Of(m, inner) => value(inner, Some(*m), units),
        Cell::Day(d) => json!(d.to_string()),
        Cell::Time(t) => json!(t.to_rfc3339()),
        Cell::Number(n) => match unit {
            Some(unit) => json!({"value": number(*n), "unit": unit}),
            None => number(*n),
        },
        Cell::Bound { lo, hi } => {
            let mut object = Map::new();
            object.insert("value".to_owned(), number(*lo));
            if let Some(unit) = unit {
                object.insert("unit".to_owned(), json!(unit));
            }
            object.insert("bound".to_owned(), json!(super::table::bound(*hi)));
            if let Some(hi) = hi {
                object.insert("at_most".to_owned(), number(*hi));
            }
            Value::Object(object)
        }
        Cell::Real(x) => {
            let shown = measure.map_or(*x, |m| m.unit(units).show_base(*x));
            match unit {
                Some(unit) => json!({"value": tidy(shown), "unit": unit}),
                None => tidy(shown),
            }
        }
    }
}
