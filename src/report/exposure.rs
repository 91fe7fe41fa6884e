//! What joints went through.

use std::collections::BTreeMap;

use crate::model::Histogram;
use crate::projection::rows::{JointRow, JointRunRow, RunRow};
use crate::store::Book;
use crate::units::Measure;

use super::lookup::{find_run, joint_row};
use super::{Bars, Block, Cell, Column, Fact, Report, ReportError, Table, instant};

/// The worst place of a run; `None` when damage is unknown.
pub(super) fn worst_damage(r: &JointRunRow) -> Option<i64> {
    Some(r.damage_pin?.max(r.damage_middle?).max(r.damage_box?))
}

/// Cautions that stand beside every damage figure.
pub(super) const RANKING: &str = "damage is a ranking index computed from survey, tally and log: it says which \
     joints were used up most, not how long one will last; the survey is smoother than the hole, \
     and no allowance for that is made unless the method states one";

fn columns() -> Vec<Column> {
    use Measure as M;
    vec![
        Column::of("hours", "hours", M::Hours),
        Column::of("revolutions", "turns", M::Turns).dispensable(2),
        Column::of("max_dogleg", "sharpest bend", M::Dogleg),
        Column::of("max_tension", "most pull", M::Force).dispensable(3),
        Column::of("max_bending", "bending", M::Stress).dispensable(4),
        Column::of("damage", "damage", M::Damage),
        Column::of("damage_pin", "pin end", M::Damage).dispensable(5),
        Column::of("damage_middle", "middle", M::Damage).dispensable(5),
        Column::of("damage_box", "box end", M::Damage).dispensable(5),
        Column::of("over_limit", "turns above no-fatigue bend", M::Turns).dispensable(6),
        Column::of("cased_hours", "cased", M::Hours).dispensable(7),
        Column::of("side_work", "side-force work", M::Work).dispensable(8),
        Column::of("footage", "drilled", M::Depth).dispensable(6),
    ]
}

fn cells(r: &JointRunRow) -> Vec<Cell> {
    [
        r.hours,
        r.revolutions,
        r.max_dogleg,
        r.max_tension,
        r.max_bending,
        worst_damage(r),
        r.damage_pin,
        r.damage_middle,
        r.damage_box,
        r.over_limit,
        r.cased_hours,
        r.side_work,
        r.footage,
    ]
    .into_iter()
    .map(Cell::number)
    .collect()
}

/// Every joint of a run, from the bit up.
pub fn of_run(book: &Book, name: &str, offset: i32) -> Result<Report, ReportError> {
    let run = find_run(book, name)?;
    let rows: Vec<JointRunRow> = book.rows("WHERE run = ?1 ORDER BY place", &[&run.run])?;
    let serials: BTreeMap<i64, String> = book
        .rows::<JointRow>(
            "WHERE joint IN (SELECT joint FROM joint_run WHERE run = ?1)",
            &[&run.run],
        )?
        .into_iter()
        .map(|j| (j.joint, j.serial))
        .collect();
    let mut report = Report::new("exposure");
    report.push(Block::Heading(format!("Run {} in {}", run.name, run.well)));
    report.push(facts_of(&run, offset));
    let mut table = Table {
        name: "joints",
        columns: vec![
            Column::plain("place", "place").dispensable(1),
            Column::plain("serial", "serial"),
            Column::of("from_bit", "from bit", Measure::Depth).dispensable(3),
        ],
        rows: Vec::new(),
        empty: "no joint of the book was in this run".to_owned(),
        below: None,
    };
    table.columns.extend(columns());
    for r in &rows {
        let mut row = vec![
            Cell::Number(r.place),
            serials.get(&r.joint).map_or(Cell::Missing, |s| Cell::Text(s.clone())),
            Cell::Number(r.from_bit),
        ];
        row.extend(cells(r));
        table.rows.push(row);
    }
    report.push(Block::Table(table));
    report.push(bars_along(&rows));
    for note in notes(&run, &rows) {
        report.push(Block::Note(note));
    }
    Ok(report)
}

fn facts_of(run: &RunRow, offset: i32) -> Block {
    Block::Facts {
        name: "run",
        facts: vec![
            Fact::plain("name", "run", Cell::Text(run.name.clone())),
            Fact::plain("well", "well", Cell::Text(run.well.clone())),
            Fact::plain("rig", "rig", Cell::text(run.rig.as_deref())),
            Fact::plain("from", "from", instant(run.start, offset)),
            Fact::plain("to", "to", instant(run.finish, offset)),
            Fact::plain("grade", "grade", Cell::Text(run.grade.to_string())),
            Fact::of("top_depth", "from depth", Cell::number(run.top_depth), Measure::Depth),
            Fact::of("bottom_depth", "to depth", Cell::number(run.bottom_depth), Measure::Depth),
            Fact::of("hours", "rotating hours", Cell::number(run.hours), Measure::Hours),
            Fact::of("revolutions", "turns", Cell::number(run.revolutions), Measure::Turns),
            Fact::of("footage", "drilled", Cell::number(run.footage), Measure::Depth),
            Fact::plain("joints", "joints of the book", Cell::Number(run.joints)),
        ],
    }
}

/// Damage along the string, in stretches of equal numbers of joints.
fn bars_along(rows: &[JointRunRow]) -> Block {
    let stretch = rows.len().div_ceil(24).max(1);
    let bars = rows
        .chunks(stretch)
        .map(|chunk| {
            let first = chunk.first().map_or(0, |r| r.place);
            let last = chunk.last().map_or(0, |r| r.place);
            let label = if first == last { first.to_string() } else { format!("{first}–{last}") };
            (label, chunk.iter().filter_map(worst_damage).max().unwrap_or(0))
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
    notes.extend(flags(rows));
    notes.push(RANKING.to_owned());
    notes
}

/// What limits the figures, in words, with how many joints it concerns.
fn flags(rows: &[JointRunRow]) -> Vec<String> {
    crate::projection::exposure::flag_names()
        .filter_map(|(bit, name)| {
            let n = rows.iter().filter(|r| r.flags & bit != 0).count();
            (n > 0).then(|| format!("{name}: {n} of {} figures", rows.len()))
        })
        .collect()
}

/// A joint's runs, oldest first, with its life by dogleg.
pub fn of_joint(book: &Book, joint: i64, offset: i32) -> Result<Report, ReportError> {
    let Some(row) = joint_row(book, joint)? else {
        return Err(ReportError::NoJoint { serial: joint.to_string(), like: Vec::new() });
    };
    let runs: Vec<JointRunRow> = book.rows("WHERE joint = ?1 ORDER BY finish, run", &[&joint])?;
    let names: BTreeMap<i64, RunRow> = book
        .rows::<RunRow>("WHERE run IN (SELECT run FROM joint_run WHERE joint = ?1)", &[&joint])?
        .into_iter()
        .map(|r| (r.run, r))
        .collect();
    let mut report = Report::new("exposure");
    report.push(Block::Heading(format!("Exposure of {}", row.serial)));
    let mut table = Table {
        name: "runs",
        columns: vec![
            Column::plain("run", "run"),
            Column::plain("well", "well"),
            Column::plain("finish", "to").dispensable(3),
            Column::plain("place", "place").dispensable(4),
        ],
        rows: Vec::new(),
        empty: "this joint has no run in the book".to_owned(),
        below: None,
    };
    table.columns.extend(columns());
    for r in &runs {
        let run = names.get(&r.run);
        let mut cells_of = vec![
            Cell::text(run.map(|r| r.name.as_str())),
            Cell::text(run.map(|r| r.well.as_str())),
            instant(r.finish, offset),
            Cell::Number(r.place),
        ];
        cells_of.extend(cells(r));
        table.rows.push(cells_of);
    }
    report.push(Block::Table(table));
    report.push(Block::Facts {
        name: "life",
        facts: vec![
            Fact::of(
                "hours",
                "rotating hours",
                Cell::bound(row.hours_lo, row.hours_hi),
                Measure::Hours,
            ),
            Fact::of(
                "revolutions",
                "turns",
                Cell::bound(row.revolutions_lo, row.revolutions_hi),
                Measure::Turns,
            ),
            Fact::of(
                "footage",
                "drilled",
                Cell::bound(row.footage_lo, row.footage_hi),
                Measure::Depth,
            ),
            Fact::of(
                "damage",
                "damage",
                Cell::bound(row.damage_lo, row.damage_hi),
                Measure::Damage,
            ),
            Fact::of(
                "damage_pin",
                "  at the pin end",
                Cell::Number(row.damage_pin),
                Measure::Damage,
            ),
            Fact::of(
                "damage_middle",
                "  in the middle",
                Cell::Number(row.damage_middle),
                Measure::Damage,
            ),
            Fact::of(
                "damage_box",
                "  at the box end",
                Cell::Number(row.damage_box),
                Measure::Damage,
            ),
            Fact::of(
                "over_limit",
                "turns above the no-fatigue bend",
                Cell::bound(row.over_limit_lo, row.over_limit_hi),
                Measure::Turns,
            ),
        ],
    });
    if let Ok(histogram) = Histogram::decode(&row.histogram) {
        report.push(by_dogleg(&histogram));
    }
    report.push(Block::Note(RANKING.to_owned()));
    Ok(report)
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
