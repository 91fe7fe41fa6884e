//! The rules in force, and what an adoption did.

use crate::model::{Entry, Instant, SetKind, Vocabulary};
use crate::policy::{Rule, RuleSet};
use crate::projection::adoptions::Adoptions;

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
            Cell::Text(match &r.scope {
                Some(scope) => format!("{} [of: {scope}]; source: {}", r.filter, r.source),
                None => format!("{}; source: {}", r.filter, r.source),
            }),
        ]
    };
    Table {
        name: "rules",
        columns: vec![
            Column::plain("rule", "rule"),
            Column::plain("call", "calls for"),
            Column::plain("filter", "when").for_machines(),
            Column::plain("reason", "because"),
            Column::plain("source", "source").for_machines(),
            Column::plain("provenance", "stands on").dispensable(4),
            Column::plain("severity", "severity").dispensable(5),
            Column::plain("in_words", "in words").for_people(),
        ],
        rows: set.rules.iter().map(row).collect(),
        empty: "the set holds no rule".to_owned(),
        below: Some(7),
    }
}

/// Which set is in force since when, and which comes next.
fn in_force(set: &RuleSet, adoptions: &Adoptions, present: &Present) -> Block {
    let from = |entry: &Entry| instant(entry.starts(present.clock).0, present.clock);
    let id = |entry: &Entry| Cell::Text(entry.id.to_string());
    let mut facts = vec![Fact::plain("set", "in force", Cell::Text(set.name.clone()))];
    let now = adoptions.set_at(SetKind::Rules, present.now);
    if let Some(entry) = now.and_then(|now| now.entry.as_ref()) {
        facts.push(Fact::plain("from", "from", from(entry)));
        facts.push(Fact::plain("entry", "by entry", id(entry)));
    }
    let next = adoptions.next_after(SetKind::Rules, present.now);
    if let Some((next, entry)) = next.and_then(|next| Some((next, next.entry.as_ref()?))) {
        facts.push(Fact::plain("next", "comes next", Cell::Text(next.name.clone())));
        facts.push(Fact::plain("next_from", "in force from", from(entry)));
        facts.push(Fact::plain("next_entry", "by its entry", id(entry)));
    }
    Block::Facts { name: "set", facts }
}

/// Says which set comes into force next, if that is before an instant.
pub fn change_before(adoptions: &Adoptions, present: &Present, before: Instant) -> Option<String> {
    let next = adoptions.next_after(SetKind::Rules, present.now)?;
    let (from, entry) = (next.from.filter(|from| *from < before)?, next.entry.as_ref()?);
    let day = |at: Instant| at.at(present.clock).date_naive();
    Some(format!(
        "the rules are those of {}; '{}' comes into force on {} by {}",
        day(present.now),
        next.name,
        day(from),
        entry.id
    ))
}

/// The rules in force.
pub fn report(set: &RuleSet, adoptions: &Adoptions, present: &Present) -> Report {
    let mut report = Report::new("rules");
    report.push(Block::Heading(set.name.clone()));
    report.push(in_force(set, adoptions, present));
    report.push(Block::Table(table(set)));
    let adopted = adoptions.sets(SetKind::Rules);
    report.push(Block::Table(adopted::table(adopted, present.clock)));
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
            Fact::plain("rules", "rules", Cell::count(set.rules.len())),
            Fact::plain("right", "every filter reads", Cell::Truth(true)),
        ],
    });
    report
}
