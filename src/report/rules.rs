//! The rules in force, and what an adoption did.

use crate::model::Vocabulary;
use crate::policy::{Rule, RuleSet};

use super::{Block, Cell, Column, Fact, Report, Table};

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

/// The rules in force.
pub fn report(set: &RuleSet) -> Report {
    let mut report = Report::new("rules");
    report.push(Block::Heading(set.name.clone()));
    report.push(Block::Table(table(set)));
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
