//! What joints went through.

use std::collections::BTreeMap;

use crate::model::{Clock, Histogram, Vocabulary};
use crate::projection::exposure::{TorqueCycles, assumptions, effect, flag_names};
use crate::schema::{Bounds, Figures, JointRow, JointRunRow, Rows, RunRow, Totals};
use crate::store::Book;
use crate::units::Measure;

use super::lookup::{find_run, from_the_bit, joint_row, runs_of};
use super::{Bars, Block, Cell, Column, Fact, Report, ReportError, Table, instant};
use super::{range, torque};

/// Cautions that stand beside every damage figure.
pub(super) const RANKING: &str = "damage is a ranking index computed from survey, tally and log: it says which \
     joints were used up most, not how long one will last; the survey is smoother than the hole, \
     and no allowance for that is in the figure unless the method states one";

/// A figure of a joint's run: its column, and how narrow a screen leaves it out.
type Shown = (Column, u8, fn(&JointRunRow) -> Option<i64>);

fn shown() -> [Shown; 28] {
    [
        (Column::field(Figures::hours()), 0, |r| r.figures.hours),
        (Column::field(Figures::revolutions()), 2, |r| r.figures.revolutions),
        (Column::field(Figures::max_dogleg()), 0, |r| r.figures.max_dogleg),
        (Column::field(Figures::max_tension()), 3, |r| r.figures.max_tension),
        (Column::of("max_bending", "bending", Measure::Stress), 4, |r| r.figures.worst_bending()),
        (Column::field(Totals::damage()), 0, |r| r.figures.worst_damage()),
        (Column::field(Figures::damage_pin()), 5, |r| r.figures.damage_pin),
        (Column::field(Figures::damage_middle()), 5, |r| r.figures.damage_middle),
        (Column::field(Figures::damage_box()), 5, |r| r.figures.damage_box),
        (Column::field(Totals::over_limit()), 6, |r| r.figures.worst_over_limit()),
        (Column::field(Totals::compression_hours()), 7, |r| r.figures.worst_compression()),
        (Column::field(Totals::contact_hours()), 7, |r| r.figures.worst_contact()),
        (Column::field(Totals::buckled_hours()), 7, |r| r.figures.buckled_hours),
        (Column::field(Figures::cased_hours()), 8, |r| r.figures.cased_hours),
        (Column::field(Figures::side_work()), 8, |r| r.figures.side_work),
        (Column::field(Figures::footage()), 6, |r| r.figures.footage),
        (Column::field(Figures::bending_pin()), 9, |r| r.figures.bending_pin),
        (Column::field(Figures::bending_middle()), 9, |r| r.figures.bending_middle),
        (Column::field(Figures::bending_box()), 9, |r| r.figures.bending_box),
        (Column::field(Figures::over_limit_pin()), 10, |r| r.figures.over_limit_pin),
        (Column::field(Figures::over_limit_middle()), 10, |r| r.figures.over_limit_middle),
        (Column::field(Figures::over_limit_box()), 10, |r| r.figures.over_limit_box),
        (Column::field(Figures::compression_pin()), 11, |r| r.figures.compression_pin),
        (Column::field(Figures::compression_middle()), 11, |r| r.figures.compression_middle),
        (Column::field(Figures::compression_box()), 11, |r| r.figures.compression_box),
        (Column::field(Figures::contact_pin()), 12, |r| r.figures.contact_pin),
        (Column::field(Figures::contact_middle()), 12, |r| r.figures.contact_middle),
        (Column::field(Figures::contact_box()), 12, |r| r.figures.contact_box),
    ]
}

fn columns() -> impl Iterator<Item = Column> {
    shown().into_iter().map(|(column, n, _)| if n == 0 { column } else { column.dispensable(n) })
}

fn cells(r: &JointRunRow) -> impl Iterator<Item = Cell> {
    shown().into_iter().map(|(_, _, value)| Cell::number(value(r)))
}

/// Every joint of a run, from the bit up.
pub fn of_run(book: &Book, name: &str, clock: Clock) -> Result<Report, ReportError> {
    let run = find_run(book, name)?;
    let rows = from_the_bit(book, run.run)?;
    let serials: BTreeMap<i64, String> = book
        .rows(&Rows::all().one_of(JointRow::joint(), rows.iter().map(|r| r.joint)))?
        .into_iter()
        .map(|j| (j.joint, j.serial))
        .collect();
    let mut report = Report::new("exposure");
    report.push(Block::Heading(format!("Run {} in {}", run.name, run.well)));
    report.push(facts_of(&run, clock));
    let mut table = Table {
        name: "joints",
        columns: vec![
            Column::field(JointRunRow::position()).named("place").dispensable(1),
            Column::field(JointRow::serial()),
            Column::field(JointRunRow::from_bit()).dispensable(3),
        ],
        rows: Vec::new(),
        empty: "no joint of the book was in this run".to_owned(),
        below: None,
    };
    let ranged = range::of_run(book, run.run, &rows)?;
    let stands = range::places(&ranged);
    let twisted = torque::of_run(book, run.run, &rows)?;
    table.columns.extend(columns());
    table.columns.extend(torque::columns(7));
    table.columns.extend(range::columns(4));
    table.columns.push(Column::plain("may_stand", "place by\ndamage").dispensable(4));
    for r in &rows {
        let mut row = vec![
            Cell::Number(r.position),
            serials.get(&r.joint).map_or(Cell::Missing, |s| Cell::Text(s.clone())),
            Cell::Number(r.from_bit),
        ];
        row.extend(cells(r));
        row.extend(torque::cells(twisted.get(&r.joint)));
        row.extend(range::cells(ranged.get(&r.joint)));
        row.push(range::place_cell(stands.get(&r.joint)));
        table.rows.push(row);
    }
    report.push(Block::Table(table));
    report.push(bars_along(&rows));
    report.push(range::doubts(&ranged.values().collect::<Vec<_>>()));
    for note in notes(&run, &rows) {
        report.push(Block::Note(note));
    }
    Ok(report)
}

fn facts_of(run: &RunRow, clock: Clock) -> Block {
    Block::Facts {
        name: "run",
        facts: vec![
            Fact::field(RunRow::name(), &run.name).labelled("run"),
            Fact::field(RunRow::well(), &run.well),
            Fact::field(RunRow::rig(), &run.rig),
            Fact::field(RunRow::start(), instant(run.start, clock)).named("from"),
            Fact::field(RunRow::finish(), instant(run.finish, clock)).named("to"),
            Fact::field(RunRow::grade(), &run.grade.to_string()),
            Fact::field(RunRow::depth_in(), run.depth_in).named("top_depth"),
            Fact::field(RunRow::depth_out(), run.depth_out).named("bottom_depth"),
            Fact::field(RunRow::run_hours(), run.run_hours).named("hours"),
            Fact::field(RunRow::run_revolutions(), run.run_revolutions).named("revolutions"),
            Fact::field(RunRow::run_footage(), run.run_footage).named("footage"),
            Fact::field(RunRow::joints(), Cell::Number(run.joints)),
        ],
    }
}

/// Damage along the string, in stretches of equal numbers of joints; one of which nobody knows any has
/// no bar.
fn bars_along(rows: &[JointRunRow]) -> Block {
    let stretch = rows.len().div_ceil(24).max(1);
    let bars = rows
        .chunks(stretch)
        .filter_map(|chunk| {
            let worst = chunk.iter().filter_map(|r| r.figures.worst_damage()).max()?;
            let first = chunk.first().map_or(0, |r| r.position);
            let last = chunk.last().map_or(0, |r| r.position);
            let label = if first == last { first.to_string() } else { format!("{first}–{last}") };
            Some((label, worst))
        })
        .collect();
    Block::Bars(Bars {
        name: "damage_along",
        title: "damage along the string, by place from the bit (the worst joint of each stretch)"
            .to_owned(),
        measure: Measure::Damage,
        bars,
    })
}

fn notes(run: &RunRow, rows: &[JointRunRow]) -> Vec<String> {
    let mut notes = Vec::new();
    if run.survey.is_none() {
        notes.push(format!(
            "there is no survey of {}: bends, tension and damage are unknown",
            run.well
        ));
    }
    if run.mud_weight.is_none() {
        notes.push("the mud weight is not recorded: tension and damage are unknown".to_owned());
    }
    if run.environment.is_none() {
        notes.push(
            "what the mud does to fatigue is not recorded: the curve for air was used".to_owned(),
        );
    }
    if run.unidentified > 0 {
        notes.push(format!(
            "{} joints of the string were not identified; what they went through belongs to joints \
             that nobody can name",
            run.unidentified
        ));
    }
    notes.extend(limits(rows));
    notes.push(torque::SAID.to_owned());
    notes.push(range::SAID.to_owned());
    notes.push(RANKING.to_owned());
    notes
}

/// What limits the figures of runs: what has none, what was left out, what was assumed.
pub(super) fn limits(rows: &[JointRunRow]) -> Vec<String> {
    let mut notes = Vec::new();
    if rows.iter().any(|r| r.figures.damage_middle.is_some() && r.figures.damage_pin.is_none()) {
        notes.push(
            "the connections of drill collars and of other parts of the bottom-hole assembly have no \
             figure: theirs is the body's, in the middle, and they break at their connections"
                .to_owned(),
        );
    }
    notes.extend(flags(rows));
    notes.extend(assumed(rows));
    notes
}

/// What was assumed, for how many figures, what it does to them and how to state it.
fn assumed(rows: &[JointRunRow]) -> Vec<String> {
    let figured = |r: &&JointRunRow| r.figures.damage_middle.is_some();
    let all = rows.iter().filter(figured).fold(0, |all, r| all | r.assumed);
    assumptions(all)
        .map(|assumption| {
            let rest_on_it = |r: &&JointRunRow| assumptions(r.assumed).any(|a| a == assumption);
            let n = rows.iter().filter(figured).filter(rest_on_it).count();
            let (does, state) = effect(assumption);
            let word = assumption.word().replace('_', " ");
            format!("assumed for {n} of {} figures, {word}: {does}; state {state}", rows.len())
        })
        .collect()
}

/// What limits the figures, in words, with how many joints it concerns.
fn flags(rows: &[JointRunRow]) -> Vec<String> {
    flag_names()
        .filter_map(|(bit, name)| {
            let n = rows.iter().filter(|r| r.flags & bit != 0).count();
            (n > 0).then(|| format!("{name}: {n} of {} figures", rows.len()))
        })
        .collect()
}

/// A joint's runs, oldest first, with its life by dogleg.
pub fn of_joint(book: &Book, joint: i64, clock: Clock) -> Result<Report, ReportError> {
    let Some(row) = joint_row(book, joint)? else {
        return Err(ReportError::NoJoint { serial: joint.to_string(), like: Vec::new() });
    };
    let runs: Vec<JointRunRow> = book.rows_of(joint)?;
    let names = runs_of(book, &runs)?;
    let mut report = Report::new("exposure");
    report.push(Block::Heading(format!("Exposure of {}", row.serial)));
    let mut table = Table {
        name: "runs",
        columns: vec![
            Column::plain("run", "run"),
            Column::field(RunRow::well()),
            Column::field(RunRow::finish()).dispensable(3),
            Column::field(JointRunRow::position()).named("place").dispensable(4),
        ],
        rows: Vec::new(),
        empty: "this joint has no run in the book".to_owned(),
        below: None,
    };
    let lives = range::of_lives(book, &[joint])?;
    let life_range = lives.get(&joint);
    let twisted = torque::of_joint(book, runs.iter())?;
    table.columns.extend(columns());
    table.columns.extend(torque::columns(7));
    table.columns.extend(range::columns(4));
    for r in &runs {
        let run = names.get(&r.run);
        let mut cells_of = vec![
            Cell::text(run.map(|r| r.name.as_str())),
            Cell::text(run.map(|r| r.well.as_str())),
            instant(r.finish, clock),
            Cell::Number(r.position),
        ];
        cells_of.extend(cells(r));
        cells_of.extend(torque::cells(twisted.get(&r.run)));
        cells_of.extend(range::cells(life_range.and_then(|l| l.runs.get(&r.run))));
        table.rows.push(cells_of);
    }
    report.push(Block::Table(table));
    report.push(life(&row, &twisted));
    report.blocks.extend(life_range.into_iter().flat_map(range::of_life));
    if let Ok(histogram) = Histogram::decode(&row.totals.histogram) {
        report.push(by_dogleg(&histogram));
    }
    report.blocks.extend(limits(&runs).into_iter().map(Block::Note));
    report.push(Block::Note(torque::SAID.to_owned()));
    report.push(Block::Note(RANKING.to_owned()));
    Ok(report)
}

/// What its runs add up to, and at each place of it.
pub(super) fn life(row: &JointRow, twisted: &BTreeMap<i64, TorqueCycles>) -> Block {
    const AT: [&str; 3] = ["  at the pin end", "  in the middle", "  at the box end"];
    let placed = |worst: Fact, places: [Fact; 3]| {
        // Where the worst place has none the others have none either.
        let told = worst.value != Cell::from(Bounds::exact(0));
        let each = places.into_iter().zip(AT).map(|(fact, at)| fact.labelled(at));
        std::iter::once(worst).chain(each.filter(|_| told)).collect::<Vec<_>>()
    };
    let mut facts = vec![
        Fact::field(Totals::hours(), row.totals.hours),
        Fact::field(Totals::revolutions(), row.totals.revolutions),
        Fact::field(Totals::footage(), row.totals.footage),
    ];
    facts.extend(placed(
        Fact::field(Totals::damage(), row.totals.damage),
        [
            Fact::field(JointRow::damage_pin(), row.damage_pin),
            Fact::field(JointRow::damage_middle(), row.damage_middle),
            Fact::field(JointRow::damage_box(), row.damage_box),
        ],
    ));
    facts.extend(placed(
        Fact::field(Totals::over_limit(), row.totals.over_limit),
        [
            Fact::field(JointRow::over_limit_pin(), row.over_limit_pin),
            Fact::field(JointRow::over_limit_middle(), row.over_limit_middle),
            Fact::field(JointRow::over_limit_box(), row.over_limit_box),
        ],
    ));
    facts.extend(placed(
        Fact::field(Totals::compression_hours(), row.totals.compression_hours),
        [
            Fact::field(JointRow::compression_pin(), row.compression_pin),
            Fact::field(JointRow::compression_middle(), row.compression_middle),
            Fact::field(JointRow::compression_box(), row.compression_box),
        ],
    ));
    facts.extend(placed(
        Fact::field(Totals::contact_hours(), row.totals.contact_hours),
        [
            Fact::field(JointRow::contact_pin(), row.contact_pin),
            Fact::field(JointRow::contact_middle(), row.contact_middle),
            Fact::field(JointRow::contact_box(), row.contact_box),
        ],
    ));
    facts.push(Fact::field(Totals::buckled_hours(), row.totals.buckled_hours));
    facts.extend(torque::facts(twisted.values()));
    Block::Facts { name: "life", facts }
}

/// Turns by dogleg, up to the sharpest band that holds any.
fn by_dogleg(histogram: &Histogram) -> Block {
    let last = (0..crate::model::BANDS).rev().find(|b| histogram.band(*b).0 > 0).unwrap_or(0);
    // Two bands a bar keep the chart short.
    let bars = (0..=last / 2)
        .map(|i| {
            let turns = histogram.band(2 * i).0 + histogram.band(2 * i + 1).0;
            (format!("{i}–{} deg/30m", i + 1), turns)
        })
        .collect();
    Block::Bars(Bars {
        name: "turns_by_dogleg",
        title: "turns by dogleg".to_owned(),
        measure: Measure::Turns,
        bars,
    })
}
