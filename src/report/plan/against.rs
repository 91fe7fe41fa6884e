//! A plan against what happened, place by place.

use std::collections::BTreeMap;

use rayon::prelude::*;

use crate::intake::Planned;
use crate::schema::{Figures, JointRow, JointRunRow};
use crate::store::Book;
use crate::units::Measure;

use super::super::exposure::RANKING;
use super::super::lookup::{find_run, joint_row};
use super::super::{Block, Cell, Column, Fact, Report, ReportError, Table};
use super::{happened, model_of};

/// What the tally of a plan was expected to go through against what a run did to its string.
pub fn report(book: &Book, planned: &Planned, run: &str) -> Result<Report, ReportError> {
    let row = find_run(book, run)?;
    let model = model_of(book, planned.run.clone(), planned)?;
    let rows: Result<Vec<JointRunRow>, String> =
        model.lines().par_iter().map(|line| model.exposure(line)).collect();
    let by_place = |rows: Vec<JointRunRow>| -> BTreeMap<i64, JointRunRow> {
        rows.into_iter().map(|r| (r.position, r)).collect()
    };
    let expected = by_place(rows.map_err(ReportError::Words)?);
    let happened = by_place(happened(book, row.run)?);
    let serial = |row: Option<&JointRunRow>| -> Result<Cell, ReportError> {
        let joint = row.map(|r| joint_row(book, r.joint)).transpose()?.flatten();
        Ok(Cell::text(joint.as_ref().map(|j: &JointRow| j.serial.as_str())))
    };
    let mut places: Vec<i64> = expected.keys().chain(happened.keys()).copied().collect();
    places.sort_unstable();
    places.dedup();
    let mut table = Table {
        name: "places",
        columns: vec![
            Column::field(JointRunRow::position()).named("place"),
            Column::plain("planned", "planned"),
            Column::plain("ran", "ran"),
            Column::field(Figures::hours()).named("hours_planned").titled("hours\nplanned"),
            Column::field(Figures::hours()).titled("hours"),
            Column::field(Figures::revolutions())
                .named("revolutions_planned")
                .titled("turns\nplanned")
                .dispensable(2),
            Column::field(Figures::revolutions()).titled("turns").dispensable(2),
            Column::of("damage_planned", "damage\nplanned", Measure::Damage),
            Column::of("damage", "damage", Measure::Damage),
            Column::of("ratio", "damage ×\nplanned", Measure::Factor),
        ],
        rows: Vec::new(),
        empty: "neither has a joint of the book".to_owned(),
        below: None,
    };
    let mut ratios = Vec::new();
    let mut alike = 0;
    for place in places {
        let (was, is) = (expected.get(&place), happened.get(&place));
        let damage = |r: Option<&JointRunRow>| r.and_then(|r| r.figures.worst_damage());
        let ratio = match (damage(was), damage(is)) {
            (Some(was), Some(is)) if was > 0 => Some(is as f64 / was as f64),
            _ => None,
        };
        ratios.extend(ratio);
        alike += usize::from(was.map(|r| r.joint) == is.map(|r| r.joint));
        let figure = |r: Option<&JointRunRow>, of: fn(&Figures) -> Option<i64>| {
            Cell::number(r.and_then(|r| of(&r.figures)))
        };
        table.rows.push(vec![
            Cell::Number(place),
            serial(was)?,
            serial(is)?,
            figure(was, |f| f.hours),
            figure(is, |f| f.hours),
            figure(was, |f| f.revolutions),
            figure(is, |f| f.revolutions),
            Cell::number(damage(was)),
            Cell::number(damage(is)),
            ratio.map_or(Cell::Missing, Cell::Real),
        ]);
    }
    ratios.sort_by(f64::total_cmp);
    let at = |part: f64| {
        let last = ratios.len().checked_sub(1)?;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a place in a short list"
        )]
        ratios.get((part * last as f64).round() as usize).copied()
    };
    let fact = |name, label, part| {
        Fact::of(name, label, at(part).map_or(Cell::Missing, Cell::Real), Measure::Factor)
    };
    let mut report = Report::new("plan");
    report.push(Block::Heading(format!("Plan of {} against run {}", planned.run.name, row.name)));
    report.push(Block::Facts {
        name: "against",
        facts: vec![
            Fact::plain("places", "places", Cell::count(table.rows.len())),
            Fact::plain("as_planned", "with the joint that was planned", Cell::count(alike)),
            fact("least", "damage × planned, least", 0.0),
            fact("median", "median", 0.5),
            fact("most", "most", 1.0),
        ],
    });
    report.push(Block::Table(table));
    report.push(Block::Note(
        "places are joints of the book from the bit up; a string that is longer or shorter than it was \
         planned has other joints at its places"
            .to_owned(),
    ));
    report.push(Block::Note(RANKING.to_owned()));
    Ok(report)
}
