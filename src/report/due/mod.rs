//! What the rules in force call for, now or soon.
//!
//! One line for each joint and call: the rule that is furthest past its limit speaks, others are
//! named beside it. Lines come worst first: what must not run, then severity of the rule, then how far
//! past its limit.

mod ask;
mod calendar;
mod fold;
pub mod forecast;
mod group;
mod headroom;
mod jobs;
mod line;
mod next;
mod recent;
mod values;
mod when;

use std::collections::{HashMap, HashSet};

use rayon::prelude::*;

use crate::condition::Fitness;
use crate::model::{Call, Vocabulary, plural};
use crate::policy::{Rule, RuleSet};
use crate::report::{Block, Cell, Column, Counted, Report, ReportError, Table};
use crate::schema::JointRow;
use crate::store::Book;

use super::Present;
use super::fitness;
use super::pass::ReaderPool;
use super::rule_pass::{Said, all_rules};

pub use group::By;
use when::when;

pub use headroom::{Headroom, headroom};
pub use line::{Ahead, Label, Line, Standing, Undecided};
pub use next::{next_call, standing};

#[derive(Clone, Debug, Default)]
pub struct Options {
    pub call: Option<Call>,
    pub within: Option<Ahead>,
    /// Count by these.
    pub by: Vec<By>,
    /// Only joints for which this filter holds.
    pub among: Option<String>,
    /// The work list in place of calls.
    pub jobs: bool,
    /// List what cannot be decided.
    pub undecided: bool,
    /// Lines that are alike as one, for people.
    pub folded: bool,
    /// At most so many lines.
    pub limit: Option<usize>,
}

/// What is said where the rules call for nothing.
const NOTHING_DUE: &str = "nothing is due by the rules in force";

/// What the rules call for now, joint by joint; a rule that cannot be decided calls for nothing.
pub(super) fn calls_now(
    book: &mut Book,
    rules: &RuleSet,
    present: &Present,
) -> Result<Vec<(i64, Call)>, ReportError> {
    let wanted: Vec<&Rule> = rules.rules.iter().collect();
    let mut readers = ReaderPool::open(book)?;
    let said = all_rules(&mut readers, rules, &wanted, None, false, present)?;
    let of = |(rule, said): (&&Rule, Said)| (rule.call, said.due);
    let calls = wanted.iter().zip(said).map(of);
    Ok(calls.flat_map(|(call, due)| due.into_iter().map(move |joint| (joint, call))).collect())
}

pub fn report(
    book: &mut Book,
    rules: &RuleSet,
    options: &Options,
    present: &Present,
) -> Result<Report, ReportError> {
    let mut found = ask::everything(book, rules, options, present)?;
    let lines = std::mem::take(&mut found.lines);
    let mut report = Report::new("due");
    let joint_by_joint = options.by.is_empty() && !options.undecided && !options.jobs;
    let shown = options.limit.unwrap_or(usize::MAX);
    let mut folded = (joint_by_joint && options.folded).then(|| fold::alike(&lines));
    let kinds = folded.as_ref().map_or(lines.len(), Vec::len);
    if let Some(folded) = &mut folded {
        folded.truncate(shown);
    }
    if options.undecided && !options.by.is_empty() {
        report.push(Block::Table(group::undecided_counts(&found.undecided, &options.by)));
    } else if options.undecided {
        report.push(Block::Table(undecided_table(&found.undecided, options.limit)));
    } else if options.jobs {
        let adoptions = book.adoptions()?;
        let standards = adoptions.standards_at(present.now);
        let how = jobs::How { limit: options.limit, all_calls: options.call.is_none() };
        report.push(Block::Table(jobs::table(&lines, rules, standards, how, present)));
    } else if let Some(folded) = &folded {
        report.push(Block::Table(fold::table(folded, options.within.is_some(), present)));
    } else if options.by.is_empty() {
        report.push(Block::Table(table(book, &lines, options, present)?));
    } else {
        report.push(Block::Table(group::counts(&lines, &options.by, rules)));
    }
    if joint_by_joint && !lines.is_empty() {
        report.push(Block::Table(group::by_place(&lines)));
        let spoke: Vec<&Line> = match &folded {
            Some(folded) => folded.iter().flat_map(|alike| alike.lines.iter().copied()).collect(),
            None => lines.iter().take(shown).collect(),
        };
        report.push(Block::Table(legend(&spoke, rules, options.within.is_some())));
    }
    report.push(Block::Counted(sum(&lines, kinds, options)));
    if kinds < lines.len() {
        report.push(Block::Note(
            "calls that are alike stand in one line, with the worst value among them; --wide has a \
             line for each"
                .to_owned(),
        ));
    }
    if found.untold > 0 {
        report.push(Block::Note(format!(
            "of {} it cannot be told whether the filter means them; they are left out",
            plural(found.untold, "joint")
        )));
    }
    if options.jobs && !lines.is_empty() {
        report.push(Block::Note(
            "clears: joints for which nothing else is called for. A job answers its calls where it finds \
             nothing, what it reads is within limits, and it is entered with its methods; what it finds \
             may call for more"
                .to_owned(),
        ));
    }
    if joint_by_joint && !lines.is_empty() {
        report.push(Block::Note(
            "fit to run: by what is recorded of the joint and by the rules in force; its reasons and \
             each search for cracks: `assess SERIAL`"
                .to_owned(),
        ));
    }
    if !options.undecided {
        report.blocks.extend(open_notes(&found).into_iter().map(Block::Counted));
        report.blocks.extend(found.unforeseen.into_iter().map(Block::Note));
    }
    if lines.iter().any(|line| matches!(line.fit, Some(Fitness::Fit | Fitness::Restricted))) {
        report.push(fitness::caution());
    }
    report.push(Block::Caution(
        "a rule recommends; the governing standard, the manufacturer, local codes and a qualified \
         person decide"
            .to_owned(),
    ));
    Ok(report)
}

/// Rules that are told of one by one; where there are more, they are counted.
const TOLD: usize = 3;

/// What could not be decided, in few words: answers of rules, a rule and a joint each.
fn open_notes(found: &ask::Found) -> Vec<Counted> {
    let counted = |n: usize, says: String| Counted {
        counts: vec![("undecided", Some(n))],
        wants: Vec::new(),
        says,
    };
    if found.open.len() <= TOLD {
        return match found.open.as_slice() {
            [] => vec![counted(0, String::new())],
            open => open.iter().map(|(n, says)| counted(*n, says.clone())).collect(),
        };
    }
    let (all, most) = found.open.iter().fold((0, 0), |(all, most), (n, _)| (all + n, most.max(*n)));
    vec![counted(
        all,
        format!(
            "{} rules cannot be decided for want of readings, each on up to {} joints: `due --undecided \
             --by rule` counts them, `due --undecided` lists them",
            found.open.len(),
            most
        ),
    )]
}

/// How many calls there are, told in so many lines.
fn sum(lines: &[Line], told: usize, options: &Options) -> Counted {
    let now = lines.iter().filter(|l| l.standing == Standing::Due).count();
    let joints = |due: bool| {
        let mut seen: Vec<i64> = lines
            .iter()
            .filter(|l| (l.standing == Standing::Due) == due)
            .map(|l| l.joint)
            .collect();
        seen.sort_unstable();
        seen.dedup();
        seen.len()
    };
    let mut text = format!("{} due now on {}", plural(now, "call"), plural(joints(true), "joint"));
    if let Some(ahead) = &options.within {
        let soon = lines.len() - now;
        text = format!("{text}; {} more within {}", soon, ahead.words());
    }
    let cut = options.limit.filter(|l| *l < told && options.by.is_empty() && !options.jobs);
    if let Some(limit) = cut {
        text = if told < lines.len() {
            format!("{text}; the first {limit} of {told} lines shown")
        } else {
            format!("{text}; the first {limit} shown")
        };
    }
    Counted {
        counts: vec![("calls_due", Some(now)), ("joints_due", Some(joints(true)))],
        wants: Vec::new(),
        says: text,
    }
}

fn table(
    book: &mut Book,
    lines: &[Line],
    options: &Options,
    present: &Present,
) -> Result<Table, ReportError> {
    let mut columns = vec![
        Column::field(JointRow::serial()),
        Column::plain("call", "call"),
        Column::plain("reason", "reason"),
        Column::plain("fit", "fit to run"),
        Column::plain("value", "value"),
        Column::plain("limit", "limit"),
        Column::plain("past", "past limit by").dispensable(2).for_people(),
        Column::plain("margin", "left").for_machines(),
        Column::field(JointRow::string()).dispensable(3),
        Column::field(JointRow::location()).dispensable(1),
    ];
    let ahead = options.within.is_some();
    if ahead {
        columns.push(Column::plain("due_on", "due on"));
        columns.push(Column::plain("earliest", "likely from").dispensable(4));
        columns.push(Column::plain("latest", "to").dispensable(4).upper());
    }
    columns.push(Column::plain("rule", "rule").dispensable(6));
    columns.push(Column::plain("also", "also called by").dispensable(7));
    columns.push(Column::plain("crack_searches", "crack searches").dispensable(8));
    columns.push(Column::decided());
    let shown = &lines[..options.limit.unwrap_or(usize::MAX).min(lines.len())];
    let searches = searches(book, shown, present)?;
    let rows = shown
        .par_iter()
        .map(|l| {
            let mut row = vec![
                Cell::Text(l.label.serial.clone()),
                Cell::Text(l.call.word().to_owned()),
                Cell::Text(l.reason.to_string()),
                Cell::Text(fitness::words(l.fit).to_owned()),
                l.value.clone(),
                l.limit.clone(),
                l.past.clone(),
                l.margin.clone(),
                Cell::text(l.label.string.as_deref()),
                Cell::text(l.label.location.as_deref()),
            ];
            if ahead {
                row.extend(when(&l.standing, present));
            }
            row.push(Cell::Text(l.rule.to_string()));
            row.push(if l.also.is_empty() { Cell::Missing } else { Cell::Text(l.also.join(", ")) });
            row.push(Cell::text(searches.get(&l.joint).map(String::as_str)));
            row.push(Cell::Truth(true));
            row
        })
        .collect();
    Ok(Table { name: "due", columns, rows, empty: NOTHING_DUE.to_owned(), below: None })
}

/// The searches for cracks of so many joints are told in a list.
const SEARCHED: usize = 1_000;

/// So many of them are looked up in one go.
const TOGETHER: usize = 50;

/// Where the searches for cracks of the first joints of these lines stand, each in a line.
fn searches(
    book: &mut Book,
    lines: &[Line],
    present: &Present,
) -> Result<HashMap<i64, String>, ReportError> {
    let adoptions = book.adoptions()?;
    let catalogue = &adoptions.standards_at(present.now).findings;
    let mut seen = HashSet::new();
    let first = lines.iter().map(|l| l.joint).filter(|joint| seen.insert(*joint));
    let joints: Vec<i64> = first.take(SEARCHED).collect();
    let together: Vec<&[i64]> = joints.chunks(TOGETHER).collect();
    let told = ReaderPool::open(book)?.each(together.len(), &|book, n| {
        let told = together[n].iter().map(|joint| {
            let list = fitness::searches_on_record(book, *joint, catalogue, present.now.0)?;
            Ok((*joint, fitness::searches_in_short(&list)))
        });
        told.collect::<Result<Vec<_>, ReportError>>()
    })?;
    Ok(told.into_iter().flatten().collect())
}

/// The rules that spoke, with what stands behind them.
fn legend(lines: &[&Line], rules: &RuleSet, ahead: bool) -> Table {
    let names = lines.iter().flat_map(|l| std::iter::once(&l.rule).chain(&l.also));
    let names: HashSet<&str> = names.map(|name| &**name).collect();
    let spoke = |name: &str| names.contains(name);
    let mut columns = vec![
        Column::plain("rule", "rule"),
        Column::plain("call", "calls for"),
        Column::plain("source", "source").sinking(),
    ];
    if ahead {
        columns.insert(2, Column::plain("moved_by", "foreseen by"));
    }
    Table {
        name: "rules",
        columns,
        rows: rules
            .rules
            .iter()
            .filter(|r| spoke(&r.name))
            .map(|r| {
                let mut row = vec![
                    Cell::Text(r.name.clone()),
                    Cell::Text(r.call.word().to_owned()),
                    Cell::Text(r.source.clone()),
                ];
                if ahead {
                    let by = r.moved_by().unwrap_or("no date: use alone does not move it");
                    row.insert(2, Cell::Text(by.to_owned()));
                }
                row
            })
            .collect(),
        empty: String::new(),
        below: None,
    }
}

fn undecided_table(open: &[Undecided], limit: Option<usize>) -> Table {
    Table {
        name: "undecided",
        columns: vec![
            Column::field(JointRow::serial()),
            Column::plain("call", "call"),
            Column::plain("rule", "rule"),
            Column::field(JointRow::string()).dispensable(1),
            Column::field(JointRow::location()).dispensable(1),
            Column::plain("reason", "reason"),
            Column::decided(),
        ],
        rows: open
            .iter()
            .take(limit.unwrap_or(usize::MAX))
            .map(|u| {
                vec![
                    Cell::Text(u.label.serial.clone()),
                    Cell::Text(u.call.word().to_owned()),
                    Cell::Text(u.rule.clone()),
                    Cell::text(u.label.string.as_deref()),
                    Cell::text(u.label.location.as_deref()),
                    Cell::Text(u.reason.clone()),
                    Cell::Truth(false),
                ]
            })
            .collect(),
        empty: "every rule can be decided for every joint".to_owned(),
        below: None,
    }
}
