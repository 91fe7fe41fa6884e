//! What the rules in force call for, now or soon.
//!
//! One line for each joint and call: the rule that is furthest past its limit speaks, others are
//! named beside it. Lines come worst first: severity of the rule, then how far past its limit.

mod ask;
mod calendar;
pub mod forecast;
mod line;
mod next;
mod recent;
mod values;

use std::collections::hash_map::Entry;
use std::collections::{BTreeMap, HashMap, HashSet};

use chrono::{Days, NaiveDate};

use crate::condition::Fitness;
use crate::model::{Call, Name, Vocabulary};
use crate::policy::{Outlook, Rule, RuleSet};
use crate::report::{Block, Cell, Column, Counted, Report, ReportError, Table};
use crate::schema::JointRow;
use crate::store::Book;

use super::Present;
use super::fitness;
use super::pass::ReaderPool;
use super::rule_pass::{Said, all_rules};

pub use line::{Ahead, Label, Line, Standing, Undecided};
pub use next::{next_call, standing};

#[derive(Clone, Debug, Default)]
pub struct Options {
    pub call: Option<Call>,
    pub within: Option<Ahead>,
    pub by: Option<By>,
    /// List what cannot be decided.
    pub undecided: bool,
    /// At most so many lines.
    pub limit: Option<usize>,
}

/// What lines are counted by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum By {
    /// The string of the joint.
    String,
    /// Where the joint is.
    Location,
    Rule,
}

impl By {
    /// The words for it.
    pub const WORDS: [&'static str; 3] = ["string", "location", "rule"];

    pub fn parse(word: &str) -> Option<Self> {
        match word {
            "string" => Some(Self::String),
            "location" => Some(Self::Location),
            "rule" => Some(Self::Rule),
            _ => None,
        }
    }

    /// What a line is counted under.
    fn of<'l>(self, label: &'l Label, rule: &'l str) -> Option<Name<'l>> {
        match self {
            Self::String => label.string.as_deref().map(Name),
            Self::Location => label.location.as_deref().map(Name),
            Self::Rule => Some(Name(rule)),
        }
    }

    const fn title(self) -> &'static str {
        match self {
            Self::String => "string",
            Self::Location => "location",
            Self::Rule => "rule",
        }
    }
}

/// What the rules call for now, joint by joint; a rule that cannot be decided calls for nothing.
pub(super) fn calls_now(
    book: &mut Book,
    rules: &RuleSet,
    present: &Present,
) -> Result<Vec<(i64, Call)>, ReportError> {
    let wanted: Vec<&Rule> = rules.rules.iter().collect();
    let mut desks = ReaderPool::open(book)?;
    let said = all_rules(&mut desks, rules, &wanted, None, false, present)?;
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
    if let (true, Some(by)) = (options.undecided, options.by) {
        report.push(Block::Table(undecided_counts(&found.undecided, by)));
    } else if options.undecided {
        report.push(Block::Table(undecided_table(&found.undecided, options.limit)));
    } else if let Some(by) = options.by {
        report.push(Block::Table(counts(&lines, by)));
    } else {
        report.push(Block::Table(table(book, &lines, options, present)?));
    }
    if options.by.is_none() && !options.undecided && !lines.is_empty() {
        report.push(Block::Table(groups(&lines)));
        let shown = options.limit.unwrap_or(lines.len()).min(lines.len());
        report.push(Block::Table(legend(&lines[..shown], rules, options.within.is_some())));
    }
    report.push(Block::Counted(sum(&lines, options)));
    if options.by.is_none() && !options.undecided && !lines.is_empty() {
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

fn sum(lines: &[Line], options: &Options) -> Counted {
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
    let mut text = format!("{} due now on {} joints", calls(now), joints(true));
    if let Some(ahead) = &options.within {
        let soon = lines.len() - now;
        text = format!("{text}; {} more within {}", soon, ahead.words());
    }
    if let Some(limit) = options.limit.filter(|l| *l < lines.len()) {
        text = format!("{text}; the first {limit} shown");
    }
    Counted {
        counts: vec![("calls_due", Some(now)), ("joints_due", Some(joints(true)))],
        wants: Vec::new(),
        says: text,
    }
}

fn calls(n: usize) -> String {
    if n == 1 { "1 call".to_owned() } else { format!("{n} calls") }
}

/// A day so many days from now.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "days from 0 to a hundred years"
)]
fn day(present: &Present, days: f64) -> Option<NaiveDate> {
    let today = present.now.at(present.clock).date_naive();
    // Beyond a hundred years is never.
    (days < 36_525.0)
        .then(|| today.checked_add_days(Days::new(days.max(0.0).round() as u64)))
        .flatten()
}

/// Why no day is foreseen.
const fn undated(outlook: &Outlook) -> &'static str {
    match outlook {
        Outlook::Days { .. } => "",
        Outlook::Idle => "not used of late",
        Outlook::UseUnknown => "recent use unknown",
        Outlook::RateUnknown => "wear unknown",
        Outlook::NoWear => "readings show no wear",
    }
}

/// What stands under `due on`, and the days around it.
fn when(standing: &Standing, present: &Present) -> [Cell; 3] {
    let none = |text: &str| [Cell::Text(text.to_owned()), Cell::Missing, Cell::Missing];
    match standing {
        Standing::Due => none("now"),
        Standing::Soon(Outlook::Days { earliest, likely, latest }) => {
            let cell =
                |d: Option<f64>| d.and_then(|d| day(present, d)).map_or(Cell::Missing, Cell::Day);
            [cell(Some(*likely)), cell(Some(*earliest)), cell(*latest)]
        }
        Standing::Soon(outlook) => none(undated(outlook)),
    }
}

fn table(
    book: &Book,
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
        Column::plain("margin", "margin").dispensable(2),
        Column::field(JointRow::string()).dispensable(3),
        Column::field(JointRow::location()).dispensable(1),
    ];
    let ahead = options.within.is_some();
    if ahead {
        columns.push(Column::plain("due_on", "due on"));
        columns.push(Column::plain("earliest", "4 in 5: from").dispensable(4));
        columns.push(Column::plain("latest", "to").dispensable(4));
    }
    columns.push(Column::plain("rule", "rule").dispensable(6));
    columns.push(Column::plain("also", "also called by").dispensable(7));
    columns.push(Column::plain("crack_searches", "crack searches").dispensable(8));
    columns.push(Column::decided());
    let searches = searches(book, lines, options, present)?;
    let rows = lines
        .iter()
        .take(options.limit.unwrap_or(usize::MAX))
        .map(|l| {
            let mut row = vec![
                Cell::Text(l.label.serial.clone()),
                Cell::Text(l.call.word().to_owned()),
                Cell::Text(l.reason.to_string()),
                Cell::Text(fitness::words(l.fit).to_owned()),
                l.value.clone(),
                l.limit.clone(),
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
    Ok(Table {
        name: "due",
        columns,
        rows,
        empty: "nothing is due by the rules in force".to_owned(),
        below: None,
    })
}

/// The searches for cracks of so many joints are told in a list.
const SEARCHED: usize = 1_000;

/// Where the searches for cracks of the joints of these lines stand, each in a line.
fn searches(
    book: &Book,
    lines: &[Line],
    options: &Options,
    present: &Present,
) -> Result<HashMap<i64, String>, ReportError> {
    let mut out = HashMap::new();
    let adoptions = book.adoptions()?;
    let catalogue = &adoptions.standards_at(present.now).findings;
    for line in lines.iter().take(options.limit.unwrap_or(usize::MAX)) {
        if out.len() >= SEARCHED {
            break;
        }
        if let Entry::Vacant(slot) = out.entry(line.joint) {
            let list = fitness::searches_on_record(book, line.joint, catalogue, present.now.0)?;
            slot.insert(fitness::searches_in_short(&list));
        }
    }
    Ok(out)
}

/// Counts of calls, one column for each call that is made.
fn tally<'l, K: Ord>(
    lines: &'l [Line],
    name: &'static str,
    heads: &[(&str, &str)],
    key: impl Fn(&'l Line) -> K,
    cells: impl Fn(&K) -> Vec<Cell>,
) -> Table {
    let mut counts: BTreeMap<K, BTreeMap<Call, i64>> = BTreeMap::new();
    for line in lines {
        *counts.entry(key(line)).or_default().entry(line.call).or_default() += 1;
    }
    let is_made = |call: &&Call| counts.values().any(|by_call| by_call.contains_key(*call));
    let made: Vec<Call> = Call::ALL.iter().filter(is_made).copied().collect();
    let mut columns: Vec<Column> =
        heads.iter().map(|(name, title)| Column::plain(name, title)).collect();
    columns.extend(made.iter().map(|c| Column::plain(c.word(), c.word())));
    let rows = counts
        .iter()
        .map(|(k, by_call)| {
            let mut row = cells(k);
            row.extend(
                made.iter().map(|c| by_call.get(c).map_or(Cell::Missing, |n| Cell::Number(*n))),
            );
            row
        })
        .collect();
    Table { name, columns, rows, empty: "nothing is due".to_owned(), below: None }
}

fn groups(lines: &[Line]) -> Table {
    tally(
        lines,
        "groups",
        &[("string", "string"), ("location", "where")],
        |l| (l.label.string.as_deref().map(Name), l.label.location.as_deref().map(Name)),
        |(s, w)| vec![Cell::text(s.map(|s| s.0)), Cell::text(w.map(|w| w.0))],
    )
}

fn counts(lines: &[Line], by: By) -> Table {
    if by == By::Rule {
        // Each rule that speaks counts, whether it speaks first or not.
        let each: Vec<Line> = lines
            .iter()
            .flat_map(|l| {
                std::iter::once(&l.rule).chain(&l.also).map(|rule| Line {
                    rule: rule.clone(),
                    also: Vec::new(),
                    ..l.clone()
                })
            })
            .collect();
        return tally(
            &each,
            "counts",
            &[("rule", "rule")],
            |l| &*l.rule,
            |k| vec![Cell::text(Some(*k))],
        );
    }
    tally(
        lines,
        "counts",
        &[(by.title(), by.title())],
        |l| by.of(&l.label, &l.rule),
        |k| vec![Cell::text(k.map(|k| k.0))],
    )
}

/// The rules that spoke, with what stands behind them.
fn legend(lines: &[Line], rules: &RuleSet, ahead: bool) -> Table {
    let names = lines.iter().flat_map(|l| std::iter::once(&l.rule).chain(&l.also));
    let names: HashSet<&str> = names.map(|name| &**name).collect();
    let spoke = |name: &str| names.contains(name);
    let mut columns = vec![
        Column::plain("rule", "rule"),
        Column::plain("call", "calls for"),
        Column::plain("source", "source"),
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

/// How many joints each rule is open for, or each string or place.
fn undecided_counts(open: &[Undecided], by: By) -> Table {
    let mut counts: BTreeMap<Option<Name<'_>>, (i64, &str)> = BTreeMap::new();
    for u in open {
        counts.entry(by.of(&u.label, &u.rule)).or_insert((0, &u.wants)).0 += 1;
    }
    let mut columns = vec![
        Column::plain(by.title(), by.title()),
        Column::plain("undecided", if by == By::Rule { "joints" } else { "undecided" }),
    ];
    if by == By::Rule {
        columns.push(Column::plain("wants", "for want of"));
    }
    let rows = counts
        .into_iter()
        .map(|(key, (n, wants))| {
            let mut row = vec![Cell::text(key.map(|key| key.0)), Cell::Number(n)];
            if by == By::Rule {
                row.push(Cell::Text(wants.to_owned()));
            }
            row
        })
        .collect();
    Table {
        name: "undecided",
        columns,
        rows,
        empty: "every rule can be decided for every joint".to_owned(),
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
