//! What was looked for before the failure, and what the last inspection could and could not see.

use std::fmt::Write as _;

use crate::condition::{Capabilities, is_crack_scope};
use crate::model::{Clock, Component, End, FailureKind, Instant, Method, Place, Scope, Vocabulary};
use crate::schema::InspectionRow;
use crate::units::Measure as M;

use super::super::life::{Life, Reader};
use super::super::trace::CRACKS;
use super::super::{Block, Cell, Column, ReportError, Table, instant};
use super::{Case, Source, damage_at, day, plain};

/// Scopes in which a forerunner of this failure would be looked for.
fn scopes_of(case: &Case<'_>) -> Vec<Scope> {
    let f = case.row;
    match (f.place, f.end) {
        (Some(Place::SlipArea), _) => vec![Scope::SlipCracks],
        (Some(Place::Upset), _) => vec![Scope::UpsetCracks, Scope::SlipCracks],
        (Some(Place::Body), _) => vec![Scope::BodyCracks],
        (_, Some(End::Pin)) => vec![Scope::PinCracks],
        (_, Some(End::Box)) => vec![Scope::BoxCracks],
        _ => match f.what {
            FailureKind::PinBreak => vec![Scope::PinCracks],
            FailureKind::BoxSplit => vec![Scope::BoxCracks],
            _ => CRACKS.to_vec(),
        },
    }
}

fn covers(r: &InspectionRow, scope: Scope) -> bool {
    r.covers & (1 << scope.rank()) != 0
}

fn methods(r: &InspectionRow) -> Vec<Method> {
    Method::ALL.iter().copied().filter(|m| r.method & (1 << m.rank()) != 0).collect()
}

pub(super) fn blocks(
    reader: &Reader<'_>,
    life: &Life,
    case: &Case<'_>,
    clock: Clock,
) -> Result<Vec<Block>, ReportError> {
    let before: Vec<&InspectionRow> =
        life.inspections.iter().filter(|i| i.date < case.row.date).collect();
    let Some(last) = before.last() else {
        return Ok(vec![Block::Text(
            "no inspection before the failure is in the book: nothing was looked for".to_owned(),
        )]);
    };
    let scopes = scopes_of(case);
    let standards = reader.adoptions()?.standards_at(Instant(last.date));
    let can = &standards.capabilities;
    let source = Source::at(reader, last.entry)?;
    let told = sentence(life, case, (last, &source), &before, &scopes, clock);
    Ok(vec![
        Block::Text(told),
        Block::Table(could_see(can, life.row.component, (last, &source), &scopes, clock)),
        Block::Table(searches(reader, life, case, &before, &scopes, clock)?),
    ])
}

/// Hours and damage at the failed place in runs that ended after an instant, up to the failure.
fn since(life: &Life, case: &Case<'_>, at: i64) -> (i64, i64, bool) {
    let mut known = true;
    let (mut hours, mut damage) = (0, 0);
    for (_, r) in life.runs.iter().filter(|r| r.1.finish > at && r.1.start < case.row.date) {
        let d = damage_at(r, case.at);
        known &= r.figures.hours.is_some() && d.is_some();
        hours += r.figures.hours.unwrap_or(0);
        damage += d.unwrap_or(0);
    }
    (hours, damage, known)
}

fn sentence(
    life: &Life,
    case: &Case<'_>,
    (last, source): (&InspectionRow, &Source),
    before: &[&InspectionRow],
    scopes: &[Scope],
    clock: Clock,
) -> String {
    let names =
        |list: &[Scope]| list.iter().map(|s| plain(s.word())).collect::<Vec<_>>().join(", ");
    let used: Vec<String> = methods(last).iter().map(|m| plain(m.word())).collect();
    let with = if used.is_empty() { "no method stated".to_owned() } else { used.join(" + ") };
    let mut text = format!(
        "the last inspection before the failure, on {} ({with}; entry {} by {}), ",
        day(last.date, clock),
        source.entry,
        source.author
    );
    if scopes.iter().any(|s| covers(last, *s)) {
        let _ = write!(text, "looked for {}", names(scopes));
    } else {
        let _ = write!(text, "had no method that looks for {}", names(scopes));
        let found = before.iter().rev().find(|i| scopes.iter().any(|s| covers(i, *s)));
        match found {
            Some(i) => {
                let (hours, damage, known) = since(life, case, i.date);
                let at_least = if known { "" } else { "at least " };
                // Hours and damage read the same in every system.
                let units = crate::units::UnitSystem::Us;
                let _ = write!(
                    text,
                    ". They were looked for last on {}; from then to the failure it ran {at_least}{} \
                     and took {at_least}{} damage there",
                    day(i.date, clock),
                    M::Hours.text(hours, units),
                    M::Damage.text(damage, units),
                );
            }
            None => text.push_str(", and no inspection in the book ever did"),
        }
    }
    text
}

/// What each method of the last inspection finds, and what it misses.
fn could_see(
    can: &Capabilities,
    component: Component,
    (last, source): (&InspectionRow, &Source),
    scopes: &[Scope],
    clock: Clock,
) -> Table {
    let rows = methods(last)
        .into_iter()
        .map(|m| {
            let c = can.of(m);
            let sees = scopes.iter().any(|s| can.can_see(m, *s, component));
            let mut row = vec![
                Cell::Text(plain(m.word())),
                Cell::Truth(sees),
                Cell::text(c.map(|c| c.finds.as_str())),
                Cell::text(c.map(|c| c.misses.as_str())),
                Cell::Text(c.map_or_else(String::new, |c| {
                    format!("{}; {}", c.source, plain(c.provenance.word()))
                })),
            ];
            row.extend(Source::cells(Some(source)));
            row
        })
        .collect();
    Source::table(
        "last_inspection",
        vec![
            Column::plain("method", &format!("method of {}", day(last.date, clock))),
            Column::plain("sees", "looks for cracks there"),
            Column::plain("finds", "finds"),
            Column::plain("misses", "misses"),
            Column::plain("source", "source").dispensable(1),
        ],
        rows,
        "the last inspection states no method",
    )
}

/// When each kind of crack, and the wall, was looked for last.
fn searches(
    reader: &Reader<'_>,
    life: &Life,
    case: &Case<'_>,
    before: &[&InspectionRow],
    scopes: &[Scope],
    clock: Clock,
) -> Result<Table, ReportError> {
    let rows = Scope::ALL
        .iter()
        .filter(|s| is_crack_scope(**s) || matches!(s, Scope::Wall | Scope::Pin | Scope::Box))
        .filter(|s| **s != Scope::HeatChecks)
        .map(|scope| {
            let found = before.iter().rev().find(|i| covers(i, *scope));
            let since = found.map(|i| since(life, case, i.date));
            let number = |n: Option<i64>| match (n, since) {
                (Some(n), Some((_, _, true))) => Cell::Number(n),
                (Some(n), _) => Cell::Bound { lo: n, hi: None },
                _ => Cell::Missing,
            };
            let here = if scopes.contains(scope) { " (here)" } else { "" };
            let source = found.map(|i| Source::at(reader, i.entry)).transpose()?;
            let mut row = vec![
                Cell::Text(format!("{}{here}", plain(scope.word()))),
                found.map_or(Cell::Text("never".to_owned()), |i| instant(i.date, clock)),
                number(since.map(|s| s.0)),
                number(since.map(|s| s.1)),
                Cell::text(found.and_then(|i| i.report.as_deref())),
                Cell::text(found.and_then(|i| i.inspector.as_deref())),
            ];
            row.extend(Source::cells(source.as_ref()));
            Ok(row)
        })
        .collect::<Result<_, ReportError>>()?;
    Ok(Source::table(
        "searches",
        vec![
            Column::plain("scope", "looked for"),
            Column::plain("at", "last"),
            Column::of("hours", "hours from then to the failure", M::Hours),
            Column::of("damage", "damage from then", M::Damage),
            Column::plain("report", "report").dispensable(1),
            Column::plain("inspector", "by").dispensable(2),
        ],
        rows,
        "",
    ))
}
