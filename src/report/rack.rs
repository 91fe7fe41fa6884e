//! Verdicts on many joints, one line each: what a shift at the rack came to.

use std::collections::{BTreeMap, BTreeSet};

use crate::condition::{Disposition, Measured, RepairInput, RepairIssue, check_repair};
use crate::model::{Instant, RepairBody, Vocabulary};
use crate::projection::joint::Appraisal;
use crate::schema::{InspectionRow, JointRow, Rows};
use crate::store::{Book, StoreError};
use crate::units::Measure;

use super::assess::{class_name, plain};
use super::{Block, Cell, Column, Report, Table};

/// One line for each joint: class, what decided, what follows, what is not known.
pub fn table(list: &[Appraisal]) -> Table {
    Table {
        name: "verdicts",
        columns: vec![
            Column::field(JointRow::serial()),
            Column::plain("may_run", "may run"),
            Column::field(InspectionRow::class()),
            Column::field(InspectionRow::class_before()).dispensable(2),
            Column::plain("decided_by", "decided by"),
            Column::field(InspectionRow::disposition()),
            Column::field(JointRow::restriction()).dispensable(1),
            Column::field(InspectionRow::not_measured()).dispensable(3),
        ],
        rows: list
            .iter()
            .map(|a| {
                let v = &a.verdict;
                let missing = v.not_measured();
                vec![
                    Cell::Text(a.serial.clone()),
                    Cell::Truth(a.may_run()),
                    Cell::text(a.class().map(class_name)),
                    Cell::text(a.class_before.map(class_name)),
                    Cell::text(v.criterion_word().as_deref()),
                    Cell::Text(v.disposition.says().to_owned()),
                    if a.restrictions.is_empty() {
                        Cell::Missing
                    } else {
                        let words: Vec<String> =
                            a.restrictions.iter().map(|r| plain(r.word())).collect();
                        Cell::Text(words.join(", "))
                    },
                    if missing.is_empty() { Cell::Missing } else { Cell::Text(missing.join(", ")) },
                ]
            })
            .collect(),
        empty: "no joint was inspected".to_owned(),
        below: None,
    }
}

/// The cautions of many verdicts, once, with whom to defer to.
pub fn caution(list: &[Appraisal]) -> Option<Block> {
    let mut all: Vec<_> = list.iter().flat_map(|a| &a.verdict.cautions).copied().collect();
    all.sort_unstable();
    all.dedup();
    let mut text: Vec<&str> = all.iter().map(|c| c.text()).collect();
    text.push(crate::condition::DEFERENCE);
    (!list.is_empty()).then(|| Block::Caution(text.join(" ")))
}

/// Most joints that are listed one by one after a load.
const LISTED: usize = 40;

/// What the inspections among these entries came to: how many joints of each disposition, and
/// those that may not run as they are, one by one.
pub fn after_load(
    book: &Book,
    first: i64,
    last: i64,
    report: &mut Report,
) -> Result<(), StoreError> {
    let taken = Rows::all().at_least(InspectionRow::entry(), first);
    let taken = taken.at_most(InspectionRow::entry(), last);
    let rows: Vec<InspectionRow> =
        book.rows(&taken.by(InspectionRow::entry()).by(InspectionRow::joint()))?;
    if rows.is_empty() {
        return Ok(());
    }
    let mut counts: BTreeMap<Disposition, usize> = BTreeMap::new();
    let mut stopped: Vec<Vec<Cell>> = Vec::new();
    for r in &rows {
        let word = r.disposition.as_deref().unwrap_or_default();
        let Ok(disposition) = Disposition::from_word(word) else { continue };
        *counts.entry(disposition).or_default() += 1;
        if disposition == Disposition::Run {
            continue;
        }
        let Some(joint) = book.row::<JointRow>(r.joint)? else { continue };
        stopped.push(vec![
            Cell::Text(joint.serial),
            Cell::Truth(disposition.may_run()),
            Cell::text(r.class.map(class_name)),
            Cell::text(r.class_before.map(class_name)),
            Cell::text(r.criterion.as_deref()),
            Cell::Text(disposition.says().to_owned()),
            Cell::text(r.not_measured.as_deref()),
        ]);
    }
    let total = rows.len();
    let parts: Vec<String> = counts.iter().map(|(d, n)| format!("{n} {}", d.says())).collect();
    let s = if total == 1 { "inspection" } else { "inspections" };
    report.push(Block::Text(format!("{total} {s}: {}", parts.join("; "))));
    let more = stopped.len().saturating_sub(LISTED);
    stopped.truncate(LISTED);
    if !stopped.is_empty() {
        report.push(Block::Table(Table {
            name: "verdicts",
            columns: vec![
                Column::field(JointRow::serial()),
                Column::plain("may_run", "may run"),
                Column::field(InspectionRow::class()),
                Column::field(InspectionRow::class_before()).dispensable(2),
                Column::plain("decided_by", "decided by"),
                Column::field(InspectionRow::disposition()),
                Column::field(InspectionRow::not_measured()).dispensable(3),
            ],
            rows: stopped,
            empty: String::new(),
            below: None,
        }));
    }
    if more > 0 {
        report.push(Block::Note(format!("{more} more of which something follows are not shown")));
    }
    report.push(Block::Caution(crate::condition::DEFERENCE.to_owned()));
    Ok(())
}

/// What is wrong with a repair, or open about it, by the limits in force and what the book knows of
/// the end before it. The gravest comes first.
pub fn repair_issues(
    book: &Book,
    body: &RepairBody,
    at: Instant,
) -> Result<Vec<RepairIssue>, StoreError> {
    let Some(joint) = book.position_of(&body.joint.joint)? else { return Ok(Vec::new()) };
    let mut appraiser = book.appraiser()?;
    let Some(ground) = appraiser.repair_ground(joint, at, body.end)? else {
        return Ok(Vec::new());
    };
    let repair = RepairInput {
        component: ground.component,
        nominal: ground.nominal,
        work: body.work,
        end: body.end,
        removed: body.removed.as_ref().and_then(|q| q.stored(Measure::Wall)),
        results: body.results.iter().filter_map(|r| Measured::read(r).ok()).collect(),
        shop: body.shop.clone(),
        licence: body.licence.clone(),
        clears: body.clears.clone(),
        inspected: BTreeSet::new(),
    };
    Ok(check_repair(&repair, &ground.history, appraiser.facts().standards_at(at)))
}
