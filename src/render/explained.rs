//! An explained filter as lines of text, and as JSON.

use serde_json::{Map, Value, json};

use crate::filter::{Answers, Bounds, Explained, Found, Manner, RecordAnswer, Thing};
use crate::model::Instant;
use crate::report::why::Explanation;
use crate::units::UnitSystem;

/// Columns where nothing says how many there are.
const COLUMNS: usize = 80;

/// As lines that fit a screen.
pub(super) fn text(e: &Explanation, width: Option<usize>, units: UnitSystem) -> String {
    let entry = |position: i64| name(e, position);
    let manner = Manner { width: width.unwrap_or(COLUMNS), units, clock: e.clock, entry: &entry };
    e.tree.render(&manner)
}

/// As a tree of objects.
pub(super) fn json(e: &Explanation, units: UnitSystem) -> Value {
    tree(&e.tree, e, units)
}

fn name(e: &Explanation, position: i64) -> String {
    e.entries.get(&position).cloned().unwrap_or_else(|| position.to_string())
}

fn tree(node: &Explained, e: &Explanation, units: UnitSystem) -> Value {
    let mut out = Map::new();
    out.insert("verdict".to_owned(), json!(node.verdict.word()));
    out.insert("text".to_owned(), json!(node.text));
    let list = |found: &[Found]| found.iter().map(|f| thing(f, e, units)).collect::<Vec<_>>();
    let mut add = |key: &str, list: Vec<Value>| {
        if !list.is_empty() {
            out.insert(key.to_owned(), Value::Array(list));
        }
    };
    add("found", list(&node.found));
    add("limits", list(&node.limits));
    add("parts", node.parts.iter().map(|p| tree(p, e, units)).collect());
    add("wants", node.wants.iter().map(|w| json!(w)).collect());
    if let Some(given) = &node.answers {
        out.insert("answers".to_owned(), answers(given, e, units));
    }
    Value::Object(out)
}

fn answers(given: &Answers, e: &Explanation, units: UnitSystem) -> Value {
    json!({
        "record": given.record.word(),
        "asked": given.asked,
        "yes": given.yes,
        "no": given.no,
        "open": given.open,
        "shown": given.shown.iter().map(|a| answer(a, e, units)).collect::<Vec<_>>(),
    })
}

fn answer(a: &RecordAnswer, e: &Explanation, units: UnitSystem) -> Value {
    json!({
        "name": a.name,
        "at": Instant(a.at).at(e.clock).to_rfc3339(),
        "entry": a.entry.map(|p| name(e, p)),
        "verdict": a.verdict.word(),
        "doubtful": a.doubtful,
        "condition": a.condition.as_ref().map(|c| tree(c, e, units)),
    })
}

fn thing(f: &Found, e: &Explanation, units: UnitSystem) -> Value {
    let mut out = Map::new();
    out.insert("label".to_owned(), json!(f.label));
    let value = match &f.thing {
        Thing::Number { bounds, measure, date } => {
            let show = |x: Option<f64>| match (x, measure) {
                (Some(x), Some(m)) => json!(m.unit(units).show_base(x)),
                (x, _) => json!(x),
            };
            let (lo, hi) = if *date {
                instants(*bounds, e)
            } else {
                let (lo, hi) = bounds.base();
                (show(lo), show(hi))
            };
            let unit = measure.filter(|_| !date).map_or("", |m| m.unit_symbol(units));
            bounded(lo, hi, unit)
        }
        Thing::Text(text) => json!(text),
        Thing::Flag(yes) => json!(yes),
        Thing::Words(words) => json!(words),
        Thing::None | Thing::Unknown => Value::Null,
    };
    out.insert("value".to_owned(), value);
    out.insert("known".to_owned(), json!(f.thing != Thing::Unknown));
    let entries: Vec<String> = f.entries.iter().map(|p| name(e, *p)).collect();
    if !entries.is_empty() {
        out.insert("entries".to_owned(), json!(entries));
    }
    Value::Object(out)
}

/// A value as elsewhere: `{"value", "unit", "bound", "at_most"}`, plain where it has neither unit
/// nor bounds, `null` where nothing is known of it.
fn bounded(lo: Value, hi: Value, unit: &str) -> Value {
    let bound = match (&lo, &hi) {
        _ if lo == hi => None,
        (Value::Null, _) => Some("at most"),
        (_, Value::Null) => Some("at least"),
        _ => Some("between"),
    };
    if lo.is_null() && hi.is_null() || bound.is_none() && unit.is_empty() {
        return lo;
    }
    let mut out = Map::new();
    out.insert("value".to_owned(), lo);
    if !unit.is_empty() {
        out.insert("unit".to_owned(), json!(unit));
    }
    if let Some(bound) = bound {
        out.insert("bound".to_owned(), json!(bound));
        if !hi.is_null() {
            out.insert("at_most".to_owned(), hi);
        }
    }
    Value::Object(out)
}

fn instants(bounds: Bounds, e: &Explanation) -> (Value, Value) {
    let (lo, hi) = bounds.base();
    #[expect(clippy::cast_possible_truncation, reason = "instants are far below 2^53")]
    let at = |s: Option<f64>| {
        s.map_or(Value::Null, |s| {
            let ms = (s * 1_000.0).round() as i64;
            json!(Instant(ms).at(e.clock).to_rfc3339())
        })
    };
    (at(lo), at(hi))
}
