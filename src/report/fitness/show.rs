//! How joints stand, as parts of reports.

use crate::condition::{Amount, DEFERENCE, Fitness, NotJudged, Part, Reason, Weight};
use crate::model::{ReadingKind, Vocabulary};
use crate::units::{Measure, UnitSystem};

use super::super::data::plain;
use super::super::{Block, Cell, Column, Fact, Table};
use super::{Ahead, CrackSearch, NextCall, Told};

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
    let mut out = vec![Block::Facts { name: "fitness", facts: facts(told, units) }];
    if !told.reasons.is_empty() {
        out.push(Block::Table(reasons(&told.reasons)));
    }
    out.push(Block::Table(searches(&told.searches, entry)));
    if !told.not_judged.is_empty() {
        out.push(Block::Table(not_judged(told, units)));
    }
    if let Some(ahead) = &told.ahead {
        out.push(Block::Table(next_call(ahead)));
        out.extend(
            (!ahead.undated.is_empty()).then(|| {
                Block::Note(format!("no day is foreseen for: {}", ahead.undated.join("; ")))
            }),
        );
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
fn facts(told: &Told, units: UnitSystem) -> Vec<Fact> {
    let text = |t: String| Cell::Text(t);
    let mut out = vec![
        Fact::plain("fit", "fit to run", text(words(told.answer()).to_owned())),
        Fact::plain("may_run", "may run", Cell::Truth(told.may_run())),
    ];
    if let Some(first) = told.first() {
        out.push(Fact::plain("first", "above all", text(first.says.clone())));
    }
    // What was read and stands off nominal is no part of the answer.
    let off = |n: &&NotJudged| match (n.read, n.nominal) {
        (Amount::Length(q), Some(made)) => (q - made).abs() > n.what.repeats_within(),
        (Amount::Length(_) | Amount::OfNominal(_), _) => true,
    };
    let off: Vec<NotJudged> = told.not_judged.iter().filter(off).cloned().collect();
    if let Some(list) = not_judged_in_short(&off, units) {
        out.push(Fact::plain("says_nothing_of", "says nothing of", text(list)));
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
            Column::plain("ground", "ground").spoken(),
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

/// The next call of a joint, in a line: what for, when, by which rule.
fn next_call(ahead: &Ahead) -> Table {
    let row = |next: &NextCall| {
        let [on, earliest, latest] = next.on.clone();
        vec![
            Cell::Text(next.call.word().to_owned()),
            on,
            earliest,
            latest,
            Cell::Text(next.rule.clone()),
            Cell::Text(next.reason.clone()),
            Cell::Text(next.by.to_owned()),
        ]
    };
    Table {
        name: "next_call",
        columns: vec![
            Column::plain("call", "next call"),
            Column::plain("due_on", "due on"),
            Column::plain("earliest", "4 in 5: from").dispensable(2),
            Column::plain("latest", "to").dispensable(2).upper(),
            Column::plain("rule", "rule"),
            Column::plain("reason", "reason"),
            Column::plain("moved_by", "foreseen by").dispensable(1),
        ],
        rows: ahead.calls.iter().map(row).collect(),
        empty: format!("no rule is known to call for it, and no call is foreseen {}", ahead.within),
        below: None,
    }
}

/// What was read, and the dimension as made with how far off it is.
fn against_nominal(n: &NotJudged, units: UnitSystem) -> (String, String) {
    let measure = n.what.spec().measure;
    let text = |q| measure.text(q, units);
    match (n.read, n.nominal) {
        (Amount::Length(q), None) if n.what == ReadingKind::Bow => {
            (text(q), "straight as made".to_owned())
        }
        // Its depth is held against the wall that it is in.
        (Amount::Length(q), Some(made)) if n.what == ReadingKind::FlawDepth => {
            (text(q), format!("wall {}", text(made)))
        }
        (Amount::Length(q), Some(made)) => {
            let side = if q < made { "under" } else { "over" };
            (text(q), format!("{}, {} {side}", text(made), text((q - made).saturating_abs())))
        }
        (Amount::Length(q), None) => (text(q), "not known".to_owned()),
        (Amount::OfNominal(q), made) => {
            (Measure::Ratio.text(q, units), made.map_or("not known".to_owned(), text))
        }
    }
}

/// What was read of a joint and nothing judges, in one line; nothing where all was judged.
pub fn not_judged_in_short(list: &[NotJudged], units: UnitSystem) -> Option<String> {
    let of = |n: &NotJudged| {
        let (read, nominal) = against_nominal(n, units);
        let part = if n.part == Part::Tube { String::new() } else { format!("{} ", n.part) };
        format!("{part}{} {read} (nominal {nominal})", plain(n.what.word()))
    };
    (!list.is_empty()).then(|| list.iter().map(of).collect::<Vec<_>>().join("; "))
}

fn not_judged(told: &Told, units: UnitSystem) -> Table {
    let rows = told.not_judged.iter().map(|n| {
        let (read, nominal) = against_nominal(n, units);
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

/// How a joint stands in a list: the answer, why, each search for cracks, what was read and not judged.
pub fn row_of(told: &Told, units: UnitSystem) -> [Cell; 4] {
    let mut grounds: Vec<&str> = told.reasons.iter().map(|r| r.ground.word()).collect();
    grounds.dedup();
    let because = grounds.join(", ");
    [
        Cell::Text(words(told.answer()).to_owned()),
        Cell::text(Some(because.as_str()).filter(|b| !b.is_empty())),
        Cell::Text(searches_in_short(&told.searches)),
        Cell::text(not_judged_in_short(&told.not_judged, units).as_deref()),
    ]
}

/// The columns of the last two of [`row_of`].
pub fn last_columns() -> [Column; 2] {
    [
        Column::plain("crack_searches", "crack searches"),
        Column::plain("not_judged", "read and not judged"),
    ]
}

/// The reasons of a joint in one line each, for a refusal.
pub fn lines(told: &Told) -> Vec<String> {
    let of = |r: &Reason| format!("{}: {}", r.ground.weight().says(), r.says);
    told.reasons.iter().filter(|r| r.ground.weight() != Weight::Restricts).map(of).collect()
}

/// Whether a field of the language tells whether a joint is fit.
pub fn is_told_by(field: &str) -> bool {
    ["fit", "unfit_because"].contains(&field)
}

/// What stands beside every answer that lets a joint run.
pub fn caution() -> Block {
    Block::Caution(format!(
        "fit is what the record allows, no more. {} {DEFERENCE}",
        crate::condition::Caution::Proof.text()
    ))
}
