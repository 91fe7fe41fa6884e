//! Why a filter, or a rule by its name, holds for one joint or does not: the filter explained.

use crate::model::Clock;
use std::collections::BTreeMap;

use crate::filter::{Explained, Facts, Verdict, compile};
use crate::policy::RuleSet;
use crate::store::Book;

use super::fitness;
use super::lookup::joint_row;
use super::question::{Present, in_context, prepare, wrong};
use super::{Block, Cell, Fact, Report, ReportError};

/// A filter explained, and what is needed to show it.
#[derive(Clone, Debug, PartialEq)]
pub struct Explanation {
    pub tree: Explained,
    /// Names of the entries that it speaks of, by their places in the book.
    pub entries: BTreeMap<i64, String>,
    /// Clock offset to show days at.
    pub clock: Clock,
}

/// Explains a filter for one joint.
pub fn report(
    book: &mut Book,
    joint: i64,
    text: &str,
    rules: &RuleSet,
    present: &Present,
) -> Result<Report, ReportError> {
    let compiled =
        in_context(book, rules, present, |context| compile(text, context)).map_err(wrong)?;
    prepare(book, &compiled, &[])?;
    let mut facts = Facts::default();
    for load in compiled.loads(joint) {
        let limit = Some(present.limit);
        let rows = book.ask(&load.sql, &load.params, limit)?;
        facts.put(load.slot, rows);
    }
    let tree = compiled.explain(&facts);
    let mut entries = BTreeMap::new();
    for position in tree.entries() {
        entries.insert(position, book.entry_at(position)?.raw.label());
    }
    let row = joint_row(book, joint)?;
    let serial = row.map_or_else(String::new, |r| r.serial);
    let mut report = Report::new("why");
    report.push(Block::Facts {
        name: "question",
        facts: vec![
            Fact::plain("serial", "joint", Cell::Text(serial)),
            Fact::plain("answer", "answer", Cell::Text(answer(tree.verdict).to_owned())),
        ],
    });
    let clock = present.clock;
    report.push(Block::Explained(Box::new(Explanation { tree, entries, clock })));
    if compiled.mentions().iter().any(|m| fitness::is_told_by(&m.words)) {
        report.push(fitness::caution());
    }
    Ok(report)
}

const fn answer(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::True => "yes",
        Verdict::False => "no",
        Verdict::Unknown => "cannot be decided",
    }
}
