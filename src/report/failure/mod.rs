//! What the record says about a joint that failed: where and when its life was used up, what was
//! looked for last, which limits were exceeded, and what nobody knows. It names no cause.

mod limits;
mod places;
mod rules;
mod search;

use std::rc::Rc;

use crate::model::{Body, Clock, FailureBody, Instant, Place, Vocabulary};
use crate::schema::{FailureRow, Figures, JointRunRow, RunRow, Totals};
use crate::store::Book;
use crate::units::{Measure as M, UnitSystem};

use super::exposure::RANKING;
use super::life::{Life, Reader, Seen, SeenRun};
use super::{Block, Cell, Column, Fact, PLACES, Report, ReportError, Table, instant};

pub(crate) use limits::Called;
pub(super) use rules::before_it;

/// A failure with what it rests on.
pub(super) struct Case<'a> {
    pub row: &'a FailureRow,
    pub body: Box<FailureBody>,
    pub seen: Rc<Seen>,
    /// Index of the place that damage is told for.
    pub at: usize,
    pub because: String,
}

fn plain(word: &str) -> String {
    word.replace('_', " ")
}

/// The entry that says something, and who wrote it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Source {
    pub entry: String,
    pub author: String,
}

impl Source {
    fn of_seen(seen: &Seen) -> Self {
        Self { entry: seen.name(), author: seen.entry.author.clone() }
    }

    fn of_run(run: &SeenRun) -> Self {
        Self { entry: run.name(), author: run.head.author.clone() }
    }

    /// That of an entry at a place of the book.
    fn at(reader: &Reader<'_>, entry: i64) -> Result<Self, ReportError> {
        Ok(Self::of_seen(&*reader.entry(entry)?))
    }

    /// The cells of a row that stand under [`Source::columns`].
    fn cells(source: Option<&Self>) -> [Cell; 3] {
        let text = |of: fn(&Self) -> &str| Cell::text(source.map(of).filter(|t| !t.is_empty()));
        let told = source.map_or(Cell::Missing, |s| {
            let author =
                if s.author.is_empty() { String::new() } else { format!(", by {}", s.author) };
            Cell::Text(format!("entry {}{author}", s.entry))
        });
        [text(|s| &s.entry), text(|s| &s.author), told]
    }

    /// The last columns of a table of the section. The last of them stands below each row.
    fn columns() -> [Column; 3] {
        [
            Column::plain("entry", "entry").for_machines(),
            Column::plain("author", "entered by").for_machines(),
            Column::plain("by", "entered"),
        ]
    }

    /// A table of the section: its columns and, below each row, the entry that says it.
    fn table(
        name: &'static str,
        mut columns: Vec<Column>,
        rows: Vec<Vec<Cell>>,
        empty: &str,
    ) -> Table {
        columns.extend(Self::columns());
        let below = Some(columns.len() - 1);
        Table { name, columns, rows, empty: empty.to_owned(), below }
    }
}

/// The failed joint's latest failure; `None` when it did not fail.
pub(super) fn case<'a>(
    reader: &Reader<'_>,
    life: &'a Life,
) -> Result<Option<Case<'a>>, ReportError> {
    let Some(row) = life.failure() else { return Ok(None) };
    let seen = reader.entry(row.entry)?;
    let Body::Failure(body) = &seen.entry.body else { return Ok(None) };
    let body = body.clone();
    let length = life.runs.last().map(|r| r.1.length).or(life.row.length);
    let (at, because) = place_of(life, row, length);
    Ok(Some(Case { row, body, seen, at, because }))
}

/// Which of the three places stands for the place that failed.
fn place_of(life: &Life, row: &FailureRow, length: Option<i64>) -> (usize, String) {
    if let (Some(from_pin), Some(length)) = (row.from_pin, length.filter(|l| *l > 0)) {
        let third = i128::from(from_pin) * 3 / i128::from(length);
        let at = if third < 1 {
            0
        } else if third < 2 {
            1
        } else {
            2
        };
        return (at, "nearest to the place that failed".to_owned());
    }
    if let Some(end) = row.end {
        let at = if end == crate::model::End::Pin { 0 } else { 2 };
        return (at, "the end that failed".to_owned());
    }
    if row.place == Some(Place::SlipArea) {
        return (2, "slips grip below the box (common practice)".to_owned());
    }
    let row = &life.row;
    let worst = [row.damage_pin, row.damage_middle, row.damage_box].map(|d| d.lo);
    let at = (0..3).max_by_key(|i| worst[*i]).unwrap_or(0);
    (at, "the worst one: the record does not say where it failed".to_owned())
}

/// Damage of a run at a place.
pub(super) fn damage_at(r: &JointRunRow, at: usize) -> Option<i64> {
    [r.figures.damage_pin, r.figures.damage_middle, r.figures.damage_box][at]
}

/// The parts of a trace that a failure adds.
pub(super) fn blocks(
    reader: &Reader<'_>,
    life: &Life,
    called: Option<&[Called]>,
    clock: Clock,
) -> Result<Vec<Block>, ReportError> {
    let Some(case) = case(reader, life)? else { return Ok(Vec::new()) };
    let mut out = vec![
        Block::Heading("What the record says about the failure".to_owned()),
        facts(life, &case, clock),
        Block::Table(by_run(life, &case, clock)),
    ];
    out.extend(places::blocks(reader, life, case.at)?);
    out.extend(search::blocks(reader, life, &case, clock)?);
    out.push(Block::Table(limits::limits(reader, life, &case, called, clock)?));
    out.push(Block::Table(limits::missing(reader, life, &case, clock)?));
    out.push(Block::Note(
        "this is what the record says; it names no cause. What made the joint fail is for a \
         laboratory and a qualified investigator to find, and a limit that was exceeded, a search \
         that was not made or a high figure of damage proves nothing by itself"
            .to_owned(),
    ));
    Ok(out)
}

fn facts(life: &Life, case: &Case<'_>, clock: Clock) -> Block {
    let (f, b) = (case.row, &case.body);
    let text = |t: &Option<String>| Cell::text(t.as_deref());
    let run = f.run.and_then(|run| life.runs.iter().find(|r| r.0.row.run == run));
    let end = f.end.map_or_else(String::new, |e| format!("{e} "));
    let place = f.place.map(|p| plain(p.word()));
    let mut facts = vec![
        Fact::plain("failure", "failure", Cell::Text(format!("{end}{}", plain(f.what.word())))),
        Fact::field(FailureRow::place(), &place),
        Fact::field(FailureRow::from_pin(), f.from_pin),
        Fact::field(FailureRow::date(), instant(f.date, clock)).named("at"),
        Fact::plain("run", "run", Cell::text(run.map(|r| r.0.row.name.as_str()))),
        Fact::field(FailureRow::well(), &f.well),
        Fact::field(FailureRow::depth(), f.depth),
        Fact::field(FailureRow::operation(), &f.operation),
        Fact::field(FailureRow::torque(), f.torque),
        Fact::field(FailureRow::pull(), f.pull),
        Fact::plain("how_found", "how it was found", text(&b.found)),
        Fact::plain("mechanism", "mechanism (laboratory)", text(&b.mechanism)),
        Fact::plain("report", "report", text(&b.report)),
        Fact::plain("remark", "remark", text(&b.remark)),
        Fact::plain("entry", "entry", Cell::Text(case.seen.name())),
        Fact::plain("author", "entered by", Cell::Text(case.seen.entry.author.clone())),
    ];
    if let Some(e) = &case.seen.entry.evidence {
        facts.push(Fact::plain("file", "file", Cell::Text(e.file.clone())));
        facts.push(Fact::plain("sha256", "its SHA-256", Cell::Text(e.sha256.clone())));
    }
    let told = format!("{}: {}", PLACES[case.at], case.because);
    facts.push(Fact::plain("damage_told_for", "damage is told for", Cell::Text(told)));
    facts.retain(|f| f.value != Cell::Missing || f.name == "mechanism");
    Block::Facts { name: "failure", facts }
}

/// Damage at the failed place by run, most first.
fn by_run(life: &Life, case: &Case<'_>, clock: Clock) -> Table {
    let all: i64 = life.runs.iter().filter_map(|r| damage_at(&r.1, case.at)).sum();
    let mut runs: Vec<_> = life.runs.iter().collect();
    runs.sort_by_key(|r| std::cmp::Reverse(damage_at(&r.1, case.at)));
    let rows = runs
        .into_iter()
        .map(|(run, r)| {
            let damage = damage_at(r, case.at);
            let mut row = vec![
                Cell::Text(run.row.name.clone()),
                Cell::Text(run.row.well.clone()),
                instant(r.finish, clock),
                Cell::number(damage),
                share(damage, all),
                Cell::number(r.figures.hours),
                Cell::number(r.figures.max_dogleg),
                Cell::number(r.figures.max_tension),
                Cell::number(r.figures.over_limit()[case.at]),
            ];
            row.extend(Source::cells(Some(&Source::of_run(run))));
            row
        })
        .collect();
    Source::table(
        "damage_by_run",
        vec![
            Column::plain("run", "run"),
            Column::field(RunRow::well()).dispensable(5),
            Column::field(RunRow::finish()).dispensable(4),
            Column::of("damage", &format!("damage, {}", PLACES[case.at]), M::Damage),
            Column::of("share", "share", M::Ratio),
            Column::field(Figures::hours()).dispensable(3),
            Column::field(Figures::max_dogleg()),
            Column::field(Figures::max_tension()).dispensable(2),
            Column::field(Totals::over_limit())
                .titled(&format!("turns above the no-fatigue bend, {}", PLACES[case.at]))
                .dispensable(1),
        ],
        rows,
        "this joint has no run in the book",
    )
}

/// Where in which hole a joint's damage was done, and doing what.
pub fn by_depth(book: &Book, joint: i64, units: UnitSystem) -> Result<Report, ReportError> {
    let reader = Reader::in_units(book, units);
    let life = reader.life(joint)?;
    let row = &life.row;
    let worst = [row.damage_pin, row.damage_middle, row.damage_box].map(|d| d.lo);
    // At the place that took most.
    let at = (0..3).max_by_key(|i| worst[*i]).unwrap_or(0);
    let mut report = Report::new("exposure");
    report.push(Block::Heading(format!("Damage of {} by depth of hole", life.row.serial)));
    for block in places::at_all(&reader, &life, at)? {
        report.push(block);
    }
    report.push(Block::Note(RANKING.to_owned()));
    Ok(report)
}

/// A part of a whole.
pub(super) fn share(part: Option<i64>, whole: i64) -> Cell {
    let Some(part) = part.filter(|_| whole > 0) else { return Cell::Missing };
    let quanta = i128::from(M::Ratio.quanta_per_base());
    let share = i128::from(part) * quanta / i128::from(whole);
    Cell::number(i64::try_from(share).ok())
}

/// A day in words.
fn day(at: i64, clock: Clock) -> String {
    Instant(at).day(clock).to_string()
}
