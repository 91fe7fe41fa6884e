//! The rules in force, and what an adoption did.

use crate::model::{Body, Instant, Vocabulary};
use crate::policy::{Rule, RuleSet};
use crate::projection::facts::Placed;

use super::question::Present;
use super::{Block, Cell, Column, Fact, Report, Table, adopted, instant};

fn table(set: &RuleSet) -> Table {
    let row = |r: &Rule| {
        vec![
            Cell::Text(r.name.clone()),
            Cell::Text(r.call.word().to_owned()),
            Cell::Text(match &r.scope {
                Some(scope) => format!("{} [of: {scope}]", r.filter),
                None => r.filter.clone(),
            }),
            Cell::Text(r.reason.clone()),
            Cell::Text(r.source.clone()),
            Cell::Text(r.provenance.word().replace('_', " ")),
            Cell::Number(i64::from(r.severity)),
        ]
    };
    Table {
        name: "rules",
        columns: vec![
            Column::plain("rule", "rule"),
            Column::plain("call", "calls for"),
            Column::plain("filter", "when"),
            Column::plain("reason", "because").dispensable(2),
            Column::plain("source", "source").dispensable(3),
            Column::plain("provenance", "stands on").dispensable(4),
            Column::plain("severity", "severity").dispensable(5),
        ],
        rows: set.rules.iter().map(row).collect(),
        empty: "the set holds no rule".to_owned(),
        below: None,
    }
}

/// Name of the set that an adoption puts in force.
fn name(adoption: &Placed) -> Cell {
    match &adoption.entry.body {
        Body::Adoption(b) => Cell::Text(b.name.clone()),
        _ => Cell::Missing,
    }
}

/// Which set is in force since when, and which comes next.
fn in_force(set: &RuleSet, adoptions: &[Placed], present: &Present) -> Block {
    let (now, next) = adopted::at(adoptions, present.now);
    let from = |p: &Placed| instant(p.at().0, present.offset_minutes);
    let entry = |p: &Placed| Cell::Text(p.entry.id.to_string());
    let mut facts = vec![Fact::plain("set", "in force", Cell::Text(set.name.clone()))];
    if let Some(now) = now {
        facts.push(Fact::plain("from", "from", from(now)));
        facts.push(Fact::plain("entry", "by entry", entry(now)));
    }
    if let Some(next) = next {
        facts.push(Fact::plain("next", "comes next", name(next)));
        facts.push(Fact::plain("next_from", "in force from", from(next)));
        facts.push(Fact::plain("next_entry", "by its entry", entry(next)));
    }
    Block::Facts { name: "set", facts }
}

/// Says which set comes into force next, if that is before an instant.
pub fn change_before(adoptions: &[Placed], present: &Present, before: Instant) -> Option<String> {
    let next = adopted::at(adoptions, present.now).1.filter(|p| p.at() < before)?;
    let Cell::Text(name) = name(next) else { return None };
    let day = |at: Instant| at.at(present.offset_minutes).date_naive();
    Some(format!(
        "the rules are those of {}; '{name}' comes into force on {} by {}",
        day(present.now),
        day(next.at()),
        next.entry.id
    ))
}

/// The rules in force.
pub fn report(set: &RuleSet, adoptions: &[Placed], present: &Present) -> Report {
    let mut report = Report::new("rules");
    report.push(Block::Heading(set.name.clone()));
    report.push(in_force(set, adoptions, present));
    report.push(Block::Table(table(set)));
    report.push(Block::Table(adopted::table(adoptions, present.offset_minutes)));
    report.push(Block::Note(
        "`pipelore rules --text > yard-rules.toml` writes them out to be changed; \
         `pipelore rules --check` and `--use` take them back"
            .to_owned(),
    ));
    report
}

/// A set that was checked and found right.
pub fn checked(set: &RuleSet) -> Report {
    let mut report = Report::new("rules");
    report.push(Block::Facts {
        name: "checked",
        facts: vec![
            Fact::plain("name", "set", Cell::Text(set.name.clone())),
            Fact::plain(
                "rules",
                "rules",
                Cell::Number(i64::try_from(set.rules.len()).unwrap_or(i64::MAX)),
            ),
            Fact::plain("right", "every filter reads", Cell::Truth(true)),
        ],
    });
    report
}
