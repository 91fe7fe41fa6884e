//! Verdicts on many joints, one line each: what a shift at the rack came to.

use std::collections::{BTreeMap, BTreeSet};

use crate::condition::{
    Caution, DEFERENCE, Fitness, Measured, RepairInput, RepairIssue, check_repair,
};
use crate::model::{Instant, RepairBody, Vocabulary, plural};
use crate::projection::joint::Appraisal;
use crate::schema::{InspectionRow, JointRow, Rows};
use crate::store::{Book, StoreError};
use crate::units::{Measure, UnitSystem};

use super::assess::class_name;
use super::data::plain;
use super::fitness::{self, Told};
use super::{Block, Cell, Column, Present, Report, ReportError, Table};

/// One line for each joint: class, what decided, what follows, what is not known.
pub fn table(list: &[(Appraisal, Told)], units: UnitSystem) -> Table {
    let [searched, not_judged] = fitness::last_columns();
    Table {
        name: "verdicts",
        columns: vec![
            Column::field(JointRow::serial()),
            Column::plain("fit", "fit to run"),
            Column::field(InspectionRow::class()),
            Column::field(InspectionRow::class_before()).dispensable(2),
            Column::plain("decided_by", "decided by"),
            Column::field(InspectionRow::disposition()),
            Column::field(JointRow::restriction()).dispensable(1),
            Column::field(InspectionRow::not_measured()).dispensable(3),
            Column::field(JointRow::unfit_because()).titled("because"),
            searched,
            not_judged,
        ],
        rows: list
            .iter()
            .map(|(a, told)| {
                let v = &a.verdict;
                let missing = v.not_measured();
                let [fit, because, searches, not_judged] = fitness::row_of(told, units);
                vec![
                    Cell::Text(a.serial.clone()),
                    fit,
                    Cell::text(a.class().map(class_name)),
                    Cell::text(a.class_before.map(class_name)),
                    Cell::text(v.criterion_word().as_deref()),
                    Cell::Text(told.follows(v.disposition).to_owned()),
                    if a.restrictions.is_empty() {
                        Cell::Missing
                    } else {
                        let words: Vec<String> =
                            a.restrictions.iter().map(|r| plain(r.word())).collect();
                        Cell::Text(words.join(", "))
                    },
                    if missing.is_empty() { Cell::Missing } else { Cell::Text(missing.join(", ")) },
                    because,
                    searches,
                    not_judged,
                ]
            })
            .collect(),
        empty: "no joint was inspected".to_owned(),
        below: Some(9),
    }
}

/// The cautions of many verdicts, once, with whom to defer to.
pub fn caution(list: &[(Appraisal, Told)]) -> Option<Block> {
    let all = list.iter().flat_map(|(a, _)| &a.verdict.cautions).copied().collect();
    (!list.is_empty()).then(|| in_words(&all))
}

fn in_words(cautions: &BTreeSet<Caution>) -> Block {
    let mut text: Vec<&str> = cautions.iter().map(|c| c.text()).collect();
    text.push(DEFERENCE);
    Block::Caution(text.join(" "))
}

/// Most joints that are listed one by one after a load.
const LISTED: usize = 40;

/// How the joints stand now that the inspections or repairs among these entries name: how many are
/// fit and how many are not, and the others one by one.
pub fn after_load(
    book: &mut Book,
    first: i64,
    last: i64,
    present: &Present,
    report: &mut Report,
) -> Result<(), ReportError> {
    let taken = Rows::all().at_least(InspectionRow::entry(), first);
    let taken = taken.at_most(InspectionRow::entry(), last);
    let rows: Vec<InspectionRow> = book.rows(&taken)?;
    let mut joints: Vec<i64> = rows.iter().map(|r| r.joint).collect();
    joints.sort_unstable();
    joints.dedup();
    if joints.is_empty() {
        return Ok(());
    }
    let joints = book.joints_by_name(&joints)?;
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    let (mut cautions, mut listed, mut more) = (BTreeSet::new(), Vec::new(), 0);
    // Of those that are fit and so not listed.
    let mut unjudged = 0;
    let mut some_may_run = false;
    fitness::each_standing(book, &joints, present, |a, told| {
        *counts.entry(fitness::words(told.answer())).or_default() += 1;
        cautions.extend(a.verdict.cautions.iter().copied());
        some_may_run |= told.may_run();
        if told.answer() == Some(Fitness::Fit) {
            unjudged += usize::from(!told.not_judged.is_empty());
        } else if listed.len() < LISTED {
            listed.push((a, told));
        } else {
            more += 1;
        }
    })?;
    let total: usize = counts.values().sum();
    let parts: Vec<String> = counts.iter().map(|(says, n)| format!("{n} {says}")).collect();
    let joints = plural(total, "joint");
    let fit = format!("{joints} inspected; fit to run: {}", parts.join("; "));
    report.push(Block::Text(fit));
    if !listed.is_empty() {
        report.push(Block::Table(table(&listed, present.units)));
    }
    if more > 0 {
        report.push(Block::Note(format!(
            "{more} more that are not simply fit are not shown: find 'fit is unknown or fit in \
             (not_fit, restricted)' lists them"
        )));
    }
    if unjudged > 0 {
        let joints = plural(unjudged, "joint");
        report.push(Block::Note(format!(
            "of {joints} that are fit something was read that no limit judges: `assess \
             SERIAL` shows it against nominal"
        )));
    }
    if some_may_run {
        report.push(fitness::caution());
    }
    if total > 0 {
        report.push(in_words(&cautions));
    }
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
