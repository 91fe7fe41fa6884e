//! How joints stand, as parts of reports.

use crate::condition::{Amount, DEFERENCE, Fitness, Reason, Weight};
use crate::model::Vocabulary;
use crate::units::{Measure, UnitSystem};

use super::super::data::plain;
use super::super::{Block, Cell, Column, Fact, Table};
use super::{CrackSearch, Told};

/// The answer in words.
pub const fn words(answer: Option<Fitness>) -> &'static str {
    match answer {
        Some(Fitness::Fit) => "fit",
        Some(Fitness::Restricted) => "fit with a restriction",
        Some(Fitness::NotFit) => "not fit",
        None => "cannot be said",
    }
}

/// Everything of one joint.
pub fn blocks(told: &Told, entry: &dyn Fn(i64) -> String, units: UnitSystem) -> Vec<Block> {
    let mut out = vec![Block::Facts { name: "fitness", facts: facts(told) }];
    if !told.reasons.is_empty() {
        out.push(Block::Table(reasons(&told.reasons)));
    }
    out.push(Block::Table(searches(&told.searches, entry)));
    if !told.not_judged.is_empty() {
        out.push(Block::Table(not_judged(told, units)));
    }
    if !told.rules_asked {
        out.push(Block::Note(
            "the rules in force were not asked: this joint, or this inspection, is in no book"
                .to_owned(),
        ));
    }
    out
}

/// The answer of one joint as facts.
fn facts(told: &Told) -> Vec<Fact> {
    let text = |t: String| Cell::Text(t);
    let mut out = vec![
        Fact::plain("fit", "fit to run", text(words(told.answer()).to_owned())),
        Fact::plain("may_run", "may run", Cell::Truth(told.may_run())),
    ];
    if let Some(first) = told.first() {
        out.push(Fact::plain("first", "above all", text(first.says.clone())));
    }
    if !told.open.is_empty() {
        let rules = told.open.join(", ");
        out.push(Fact::plain("rules_open", "rules that cannot be decided", text(rules)));
    }
    out
}

fn reasons(list: &[Reason]) -> Table {
    let row = |r: &Reason| {
        vec![
            Cell::Text(r.ground.weight().says().to_owned()),
            Cell::Text(r.ground.word().to_owned()),
            Cell::Text(r.part.to_string()),
            Cell::Text(r.says.clone()),
        ]
    };
    Table {
        name: "reasons",
        columns: vec![
            Column::plain("weight", "it is"),
            Column::plain("ground", "ground"),
            Column::plain("part", "part"),
            Column::plain("says", "because"),
        ],
        rows: list.iter().map(row).collect(),
        empty: String::new(),
        below: None,
    }
}

fn searches(list: &[CrackSearch], entry: &dyn Fn(i64) -> String) -> Table {
    let row = |s: &CrackSearch| {
        let made = s.made.as_ref();
        let methods =
            made.map(|m| m.methods.iter().map(|m| plain(m.word())).collect::<Vec<_>>().join(", "));
        let bound = |b: Option<crate::schema::Bounds>| b.map_or(Cell::Missing, Cell::from);
        let searched = match (made, s.found) {
            (None, false) => "never",
            (_, true) => "cracks found",
            (Some(_), false) => "none found",
        };
        let entry = made.and_then(|m| m.entry).map(entry).filter(|e| !e.is_empty());
        vec![
            Cell::Text(plain(s.scope.word())),
            Cell::Text(searched.to_owned()),
            Cell::number(made.map(|m| m.age)),
            Cell::text(methods.as_deref().filter(|m| !m.is_empty())),
            bound(s.turns),
            bound(s.damage),
            if s.events.is_empty() { Cell::Missing } else { Cell::Text(s.events.join(", ")) },
            Cell::text(entry.as_deref()),
        ]
    };
    Table {
        name: "crack_searches",
        columns: vec![
            Column::plain("scope", "looked for"),
            Column::plain("searched", "searched"),
            Column::of("age", "age", Measure::Days),
            Column::plain("methods", "by").dispensable(2),
            Column { bounded: true, ..Column::of("turns", "turns since", Measure::Turns) },
            Column { bounded: true, ..Column::of("damage", "damage since", Measure::Damage) },
            Column::plain("events", "events since"),
            Column::plain("entry", "entry").dispensable(3),
        ],
        rows: list.iter().map(row).collect(),
        empty: "this kind of part is not searched for cracks here".to_owned(),
        below: None,
    }
}

fn not_judged(told: &Told, units: UnitSystem) -> Table {
    let rows = told.not_judged.iter().map(|n| {
        let measure = n.what.spec().measure;
        let read = match n.read {
            Amount::Length(q) => measure.text(q, units),
            Amount::OfNominal(q) => Measure::Ratio.text(q, units),
        };
        let nominal = n.nominal.map_or_else(
            || "not known".to_owned(),
            |made| match n.read {
                Amount::Length(q) => {
                    let over = q - made;
                    let side = if over < 0 { "under" } else { "over" };
                    let size = measure.text(over.saturating_abs(), units);
                    format!("{}, {size} {side}", measure.text(made, units))
                }
                Amount::OfNominal(_) => measure.text(made, units),
            },
        );
        vec![
            Cell::Text(n.part.to_string()),
            Cell::Text(plain(n.what.word())),
            Cell::Text(read),
            Cell::Text(nominal),
            Cell::Text("not judged: the set in force has no limit for it here".to_owned()),
        ]
    });
    Table {
        name: "not_judged",
        columns: vec![
            Column::plain("part", "part"),
            Column::plain("what", "read and not judged"),
            Column::plain("read", "as read"),
            Column::plain("nominal", "nominal"),
            Column::plain("says", "why").dispensable(1),
        ],
        rows: rows.collect(),
        empty: String::new(),
        below: None,
    }
}

/// The searches of a joint in one line: `slip 83 d; pin never`.
pub fn searches_in_short(list: &[CrackSearch]) -> String {
    let of = |s: &CrackSearch| {
        let scope = plain(s.scope.word());
        let scope = scope.trim_end_matches(" cracks");
        match (&s.made, s.found) {
            (_, true) => format!("{scope} FOUND"),
            (None, false) => format!("{scope} never"),
            (Some(made), false) => {
                let days = made.age / Measure::Days.quanta_per_base() / 86_400;
                let events = if s.events.is_empty() {
                    String::new()
                } else {
                    format!(" ({} since)", s.events.join(", "))
                };
                format!("{scope} {days} d{events}")
            }
        }
    };
    list.iter().map(of).collect::<Vec<_>>().join("; ")
}

/// How a joint stands in a list: the answer, why, and each search for cracks.
pub fn row_of(told: &Told) -> [Cell; 3] {
    let mut grounds: Vec<&str> = told.reasons.iter().map(|r| r.ground.word()).collect();
    grounds.dedup();
    let because = grounds.join(", ");
    [
        Cell::Text(words(told.answer()).to_owned()),
        Cell::text(Some(because.as_str()).filter(|b| !b.is_empty())),
        Cell::Text(searches_in_short(&told.searches)),
    ]
}

/// The reasons of a joint in one line each, for a refusal.
pub fn lines(told: &Told) -> Vec<String> {
    let of = |r: &Reason| format!("{}: {}", r.ground.weight().says(), r.says);
    told.reasons.iter().filter(|r| r.ground.weight() != Weight::Restricts).map(of).collect()
}

/// What stands beside every answer that lets a joint run.
pub fn caution() -> Block {
    Block::Caution(format!(
        "fit is what the record allows, no more. {} {DEFERENCE}",
        crate::condition::Caution::Proof.text()
    ))
}
