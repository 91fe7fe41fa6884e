//! A plan as an answer.

use std::collections::BTreeMap;

use crate::condition::DEFERENCE;
use crate::model::plural;
use crate::schema::{Bounds, Figures, JointRow, JointRunRow, Totals};
use crate::store::Book;
use crate::units::Measure;

use super::super::exposure::{RANKING, limits};
use super::super::lookup::joint_row;
use super::super::{
    Block, Cell, Column, Fact, Present, Report, ReportError, Table, fitness, instant, named, range,
};
use super::pool::demands;
use super::{Exact, How, Worked};

/// Serials that are named in a note; the rest is counted.
const NAMED: usize = 8;

pub(super) fn report(
    book: &Book,
    worked: &Worked<'_>,
    exact: &Exact,
    present: &Present,
) -> Result<Report, ReportError> {
    let mut report = Report::new("plan");
    let run = &worked.planned.run;
    report.push(Block::Heading(match worked.how {
        How::Advise => format!("A string for {} in {}", run.name, run.well),
        How::AsItStands => format!("The string of {} in {} as it stands", run.name, run.well),
        How::LookBack => format!("Run {} in {}, looked back on", run.name, run.well),
    }));
    let rows = lines(book, worked, exact)?;
    report.push(Block::Facts { name: "plan", facts: facts(worked, &rows, present) });
    if let Some(lacking) = &worked.lacking {
        report.push(Block::Note(format!(
            "no order is advised: {lacking}; the figures below are those of the tally as it stands"
        )));
    }
    report.push(Block::Table(table(worked, &rows)));
    if worked.how != How::AsItStands {
        report.push(Block::Table(orders(worked)));
        if worked.board.racked.is_some() {
            report.push(Block::Table(moves(worked)));
        }
        report.push(Block::Table(left_out(worked)));
    }
    notes(&mut report, worked, exact);
    Ok(report)
}

/// A joint of the string as it is told.
struct Line<'a> {
    row: &'a JointRunRow,
    joint: Option<JointRow>,
    /// Today's joint there, and whether the place is one that is planned.
    stands: Option<String>,
    is_planned: bool,
    after: Bounds,
    calls: Vec<String>,
    /// Range of what is expected, of the worst place; and of the damage after.
    expected: Option<(f64, f64)>,
    most_after: Option<i64>,
}

fn lines<'a>(
    book: &Book,
    worked: &Worked<'_>,
    exact: &'a Exact,
) -> Result<Vec<Line<'a>>, ReportError> {
    let mut out = Vec::with_capacity(exact.rows.len());
    // Places of drill pipe stand from the bit up, and so do the joints of the string that stand in them.
    let mut next = worked.places.iter();
    for row in &exact.rows {
        let joint = joint_row(book, row.joint)?;
        let candidate = worked.candidate(row.joint);
        let is_pipe = candidate.is_some() && worked.order.is_some();
        let place = if is_pipe { next.next() } else { None };
        let today = place.and_then(|p| p.joint);
        let today = today.map(|j| joint_row(book, j)).transpose()?.flatten();
        let places = joint.as_ref().map(|j| [j.damage_pin, j.damage_middle, j.damage_box]);
        let after = places.map_or(Bounds { lo: 0, hi: None }, |before| {
            sum(before.iter().zip(row.figures.damage()).map(|(b, more)| (*b, more)))
        });
        let range = exact.ranges.get(&row.joint);
        let worst = |d: [f64; 3]| d.into_iter().fold(0.0, f64::max);
        #[expect(clippy::cast_possible_truncation, reason = "quanta of damage")]
        let most_after = range.zip(places).and_then(|(range, before)| {
            let each = before.iter().zip(range.most);
            each.map(|(b, more)| Some(b.hi? + more.round() as i64)).max()?
        });
        let calls = candidate.map_or_else(Vec::new, |c| {
            let calls = c.calls(&row.figures, worked.days);
            calls.iter().map(|h| format!("{} ({})", h.call, h.rule)).collect()
        });
        out.push(Line {
            row,
            stands: today.map(|j| j.serial),
            is_planned: candidate.is_some(),
            after,
            calls,
            expected: range.map(|r| (worst(r.least), worst(r.most))),
            most_after,
            joint,
        });
    }
    Ok(out)
}

/// The worst of sums at places, of which something may not be known.
fn sum(places: impl Iterator<Item = (Bounds, Option<i64>)>) -> Bounds {
    let mut worst = Bounds::exact(0);
    for (before, more) in places {
        let lo = before.lo.saturating_add(more.unwrap_or(0));
        let hi = before.hi.zip(more).map(|(a, b)| a.saturating_add(b));
        worst = Bounds { lo: worst.lo.max(lo), hi: worst.hi.zip(hi).map(|(a, b)| a.max(b)) };
    }
    worst
}

#[expect(clippy::cast_possible_truncation, reason = "quanta of damage")]
fn quanta(damage: Option<f64>) -> Cell {
    damage.map_or(Cell::Missing, |d| Cell::Number(d.round() as i64))
}

fn table(worked: &Worked<'_>, lines: &[Line<'_>]) -> Table {
    let bounded = |name: &str, title: &str| Column {
        bounded: true,
        ..Column::of(name, title, Measure::Damage)
    };
    let mut columns = vec![
        Column::field(JointRunRow::position()).named("place"),
        Column::field(JointRow::serial()),
        Column::plain("stands", "today").dispensable(3),
        Column::field(JointRunRow::from_bit()).dispensable(5),
        Column::of("top", "from", Measure::Depth).dispensable(4),
        Column::of("bottom", "to", Measure::Depth).dispensable(4).upper(),
        Column::field(Figures::hours()).dispensable(2),
        Column::field(Figures::revolutions()).dispensable(2),
        Column::field(Figures::max_dogleg()).dispensable(3),
        Column::field(Figures::max_tension()).dispensable(5),
        Column::field(Totals::over_limit()).dispensable(6),
        Column::of("damage", "expected\ndamage", Measure::Damage),
        Column::of("damage_least", "expected: from", Measure::Damage).dispensable(4),
        Column::of("damage_most", "to", Measure::Damage).dispensable(4).upper(),
        bounded("before", "damage\nbefore"),
        bounded("after", "damage\nafter"),
        Column::of("after_most", "after,\nat most", Measure::Damage).dispensable(4),
        Column::plain("fit", "fit to run").dispensable(1),
        Column::plain("calls", "calls that may come").dispensable(1),
        Column::plain("planned", "planned").for_machines(),
    ];
    columns.push(Column::plain("crack_searches", "crack searches").dispensable(7));
    let rows = lines.iter().map(|line| {
        let f = &line.row.figures;
        let candidate = worked.candidate(line.row.joint);
        let depth = |d: Option<i64>| Cell::number(d);
        vec![
            Cell::Number(line.row.position),
            Cell::text(line.joint.as_ref().map(|j| j.serial.as_str())),
            Cell::text(line.stands.as_deref()),
            Cell::Number(line.row.from_bit),
            depth(line.row.top_depth),
            depth(line.row.bottom_depth),
            Cell::number(f.hours),
            Cell::number(f.revolutions),
            Cell::number(f.max_dogleg),
            Cell::number(f.max_tension),
            Cell::number(f.worst_over_limit()),
            Cell::number(f.worst_damage()),
            quanta(line.expected.map(|e| e.0)),
            quanta(line.expected.map(|e| e.1)),
            line.joint.as_ref().map_or(Cell::Missing, |j| Cell::from(j.totals.damage)),
            Cell::from(line.after),
            Cell::number(line.most_after),
            Cell::Text(candidate.map_or("not asked", |c| c.fit).to_owned()),
            if line.calls.is_empty() { Cell::Missing } else { Cell::Text(line.calls.join("; ")) },
            Cell::Truth(line.is_planned),
            Cell::text(candidate.and_then(|c| c.searches.as_deref())),
        ]
    });
    Table {
        name: "places",
        columns,
        rows: rows.collect(),
        empty: "no joint of the book is in the string".to_owned(),
        below: None,
    }
}

/// The joint of the planned places that has the worst damage after the run.
fn worst<'a, 'b>(lines: &'a [Line<'b>]) -> Option<&'a Line<'b>> {
    lines.iter().filter(|l| l.is_planned).max_by_key(|l| l.after.lo)
}

fn facts(worked: &Worked<'_>, lines: &[Line<'_>], present: &Present) -> Vec<Fact> {
    let run = &worked.planned.run;
    let wishes = &worked.planned.wishes;
    let clock = present.clock;
    let end = worked.planned.effective.start(clock).0;
    let real = |x: Option<f64>| x.map_or(Cell::Missing, Cell::Real);
    let may = worked.pool.joints.iter().enumerate();
    let may = may.filter(|(j, c)| c.out.is_none() && !worked.elsewhere.contains_key(j)).count();
    let mut facts = vec![
        Fact::plain("run", "run", Cell::Text(run.name.clone())),
        Fact::plain("well", "well", Cell::Text(run.well.clone())),
        Fact::plain("from", "from", instant(run.start.start(clock).0, clock)),
        Fact::plain("to", "to", instant(end, clock)),
        Fact::plain("places", "places of drill pipe", Cell::count(worked.places.len())),
        Fact::plain("candidates", "joints looked at", Cell::count(worked.pool.joints.len())),
    ];
    if worked.how == How::Advise {
        facts.push(Fact::plain("may", "that may stand in them", Cell::count(may)));
        let asked = demands(run, wishes.torque);
        facts.push(Fact::of(
            "margin",
            "pull beyond the plan's",
            real(wishes.margin),
            Measure::Force,
        ));
        facts.push(Fact::of("torque", "hardest torque", real(asked.torque), Measure::Torque));
    }
    if let Some(stands) = wishes.stands {
        facts.push(Fact::plain("stands", "joints in a stand", Cell::count(stands)));
    }
    if let Some(moves) = wishes.moves {
        facts.push(Fact::plain("moves", "exchanges at most", Cell::count(moves)));
    }
    let tells = worked.order.is_some() || worked.how == How::AsItStands;
    if let Some(worst) = worst(lines).filter(|_| tells) {
        let serial = worst.joint.as_ref().map(|j| j.serial.as_str());
        let label = if worked.order.is_some() {
            "worst damage after, advised"
        } else {
            "worst damage after"
        };
        facts.push(Fact::of("worst_after", label, Cell::from(worst.after), Measure::Damage));
        facts.push(Fact::plain("worst_joint", "  of", Cell::text(serial)));
        facts.push(Fact::plain("worst_place", "  at place", Cell::Number(worst.row.position)));
    }
    let racked = worked.board.racked.as_ref();
    if worked.how != How::AsItStands {
        let racked = racked.and_then(|order| worked.worst(order));
        let label = if worked.how == How::LookBack { "as it ran" } else { "as the tally has it" };
        facts.push(Fact::of("worst_racked", label, Cell::number(racked), Measure::Damage));
        let bound = Cell::number(worked.bound);
        facts.push(Fact::of("bound", "no order is below", bound, Measure::Damage));
    }
    if let Some((order, racked)) = worked.order.as_ref().zip(racked) {
        let moved = order.iter().zip(racked).filter(|(a, b)| a != b).count();
        facts.push(Fact::plain("moved", "places with another joint", Cell::count(moved)));
    }
    facts
}

/// What other orders come to.
fn orders(worked: &Worked<'_>) -> Table {
    let chance = |part: f64| {
        let last = worked.chance.len().checked_sub(1)?;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a place in a list of a thousand"
        )]
        worked.chance.get((part * last as f64).round() as usize).copied()
    };
    let advised = worked.order.as_ref().and_then(|order| worked.worst(order));
    let racked = worked.board.racked.as_ref();
    let turned = racked.map(|order| worked.board.upside_down(order));
    let is_single = worked.planned.wishes.stands.unwrap_or(1) < 2;
    let mut rows = vec![
        ("advised", advised),
        ("as_racked", racked.and_then(|order| worked.worst(order))),
        ("upside_down", turned.and_then(|order| worked.worst(&order))),
        ("bound", worked.bound),
    ];
    if is_single || worked.how == How::LookBack {
        let of_chance = [
            ("chance_least", 0.0),
            ("chance_tenth", 0.1),
            ("chance_median", 0.5),
            ("chance_nine_tenths", 0.9),
            ("chance_most", 1.0),
        ];
        rows.extend(of_chance.map(|(name, part)| (name, chance(part))));
    }
    let says = |name: &str| match name {
        "advised" => "the order that is advised",
        "as_racked" => "the order of the tally, whether each joint may stand in it or not",
        "upside_down" => "the same turned upside down",
        "bound" => "no order of single joints that may stand where they do comes below this",
        "chance_least" => "the best of 1,000 orders of chance",
        "chance_tenth" => "a tenth of them are better",
        "chance_median" => "half of them are better",
        "chance_nine_tenths" => "nine tenths of them are better",
        _ => "the worst of them",
    };
    let row = |(name, worst): (&'static str, Option<i64>)| {
        let times = worst.zip(worked.bound.filter(|b| *b > 0));
        let times = times.map_or(Cell::Missing, |(w, b)| Cell::Real(w as f64 / b as f64));
        let says = Cell::Text(says(name).to_owned());
        vec![Cell::Text(name.to_owned()), Cell::number(worst), times, says]
    };
    Table {
        name: "orders",
        columns: vec![
            Column::plain("order", "order").spoken(),
            Column::of("worst_after", "worst damage\nafter", Measure::Damage),
            Column::of("times_bound", "× the bound", Measure::Factor),
            Column::plain("what", "what it is").dispensable(1),
        ],
        rows: rows.into_iter().map(row).collect(),
        empty: String::new(),
        below: None,
    }
}

/// The exchanges that help most, one after the other.
fn moves(worked: &Worked<'_>) -> Table {
    let racked = worked.board.racked.clone().unwrap_or_default();
    let of_stand = worked.planned.wishes.stands.unwrap_or(1);
    let stands = &worked.board.stands;
    let serial = |j: usize| worked.pool.joints[j].row.serial.clone();
    // A unit is a joint, or a stand of them.
    let unit = |u: usize| {
        if of_stand > 1 {
            let first = stands[u].first().map(|p| serial(racked[*p])).unwrap_or_default();
            let last = stands[u].last().map(|p| serial(racked[*p])).unwrap_or_default();
            format!("{first} to {last}")
        } else {
            serial(u)
        }
    };
    let mut now: Vec<usize> =
        if of_stand > 1 { (0..stands.len()).collect() } else { racked.clone() };
    // Joints of the book below the first place of drill pipe count as places too.
    let below = worked.below();
    let place = |slot: usize| {
        let first = if of_stand > 1 { stands[slot].first().copied().unwrap_or(0) } else { slot };
        Cell::count(first + below + 1)
    };
    let mut rows = Vec::new();
    for (n, e) in worked.exchanges.iter().enumerate() {
        let out = std::mem::replace(&mut now[e.place], e.unit);
        if let Some(from) = e.from {
            now[from] = out;
        }
        rows.push(vec![
            Cell::count(n + 1),
            Cell::Text(unit(out)),
            place(e.place),
            Cell::Text(unit(e.unit)),
            e.from.map_or(Cell::Missing, place),
            Cell::number(e.worst),
        ]);
    }
    Table {
        name: "moves",
        columns: vec![
            Column::plain("exchange", "exchange"),
            Column::plain("out", "takes out"),
            Column::plain("place", "at place"),
            Column::plain("in", "puts in"),
            Column::plain("from", "from place"),
            Column::of("worst_after", "worst damage\nafter", Measure::Damage),
        ],
        rows,
        empty: "no single exchange makes the worst damage less".to_owned(),
        below: None,
    }
}

impl Worked<'_> {
    /// Joints of the book below the first place of drill pipe.
    fn below(&self) -> usize {
        let first = self.places.first().map_or(0, |p| p.line);
        self.planned.run.tally.iter().take(first).filter(|l| l.joint.is_some()).count()
    }
}

fn left_out(worked: &Worked<'_>) -> Table {
    let stands: Vec<usize> = worked.order.clone().unwrap_or_default();
    let joints = worked.pool.joints.iter().enumerate();
    let rows = joints.filter(|(j, _)| !stands.contains(j)).map(|(j, c)| {
        let why = c.out.clone().or_else(|| worked.elsewhere.get(&j).cloned());
        let why = why.unwrap_or_else(|| "not needed".to_owned());
        vec![
            Cell::Text(c.row.serial.clone()),
            Cell::Text(c.fit.to_owned()),
            Cell::from(c.row.totals.damage),
            Cell::Text(why),
            Cell::text(c.searches.as_deref()),
        ]
    });
    Table {
        name: "left_out",
        columns: vec![
            Column::field(JointRow::serial()),
            Column::plain("fit", "fit to run"),
            Column { bounded: true, ..Column::of("before", "damage", Measure::Damage) },
            Column::plain("why", "why it is left out"),
            Column::plain("crack_searches", "crack searches").dispensable(1),
        ],
        rows: rows.collect(),
        empty: "no joint that was looked at is left out".to_owned(),
        below: None,
    }
}

fn notes(report: &mut Report, worked: &Worked<'_>, exact: &Exact) {
    let mut note = |says: String| report.blocks.push(Block::Note(says));
    let wishes = &worked.planned.wishes;
    let run = &worked.planned.run;
    let order = worked.order.as_deref().unwrap_or_default();
    let unsure: Vec<String> = order
        .iter()
        .map(|j| &worked.pool.joints[*j])
        .filter(|c| worked.how == How::Advise && c.fit == fitness::words(None))
        .map(|c| c.row.serial.clone())
        .collect();
    if !unsure.is_empty() {
        note(format!(
            "of {} in this order it cannot be said whether it is fit, and it is not to run before it \
             is: {}",
            plural(unsure.len(), "joint"),
            named(&unsure, NAMED)
        ));
    }
    if worked.how == How::Advise {
        if demands(run, wishes.torque).torque.is_none() {
            note(
                "no torque is planned: no joint was held against one; say it with --torque"
                    .to_owned(),
            );
        }
        if exact.rows.iter().all(|r| r.figures.max_tension.is_none()) {
            note("the pull is not known: no joint was held against one".to_owned());
        }
        if run.sour.is_none() {
            note(
                "whether hydrogen sulphide is met is not planned: it was not asked of the joints"
                    .to_owned(),
            );
        }
        if run.casing_depth.is_none() {
            note("how deep the casing is is not planned: turning in casing was not asked of the joints".to_owned());
        }
    }
    if worked.kept > 0 {
        note(format!(
            "{} of the string are left at their places: what they had gone through is not known in full",
            plural(worked.kept, "joint")
        ));
    }
    let racked = worked.board.racked.as_ref();
    if let Some(racked) = racked.filter(|order| worked.worst(order).is_none()) {
        let untold = |(p, j): &(usize, &usize)| worked.board.damage.at(*p, **j).is_none();
        let untold = racked.iter().enumerate().filter(untold).count();
        note(format!(
            "what the order of the tally comes to cannot be told: the damage of {} of it is not known",
            plural(untold, "joint")
        ));
    }
    if worked.how != How::AsItStands {
        note(
            "orders and exchanges are held against one another in the string as its tally has it; the \
             figures by place are those of the string itself that is advised"
                .to_owned(),
        );
    }
    if worked.expected.sections < worked.pool.joints.len() && worked.how != How::AsItStands {
        let (sections, joints) = (worked.expected.sections, worked.pool.joints.len());
        note(format!(
            "the order was chosen with {} for {}: where joints are worn nearly alike the thinnest stands \
             for them; the damages by place are those of the order itself, each joint with its own",
            plural(sections, "section"),
            plural(joints, "joint")
        ));
    }
    if !worked.pool.open.is_empty() {
        let list: BTreeMap<&str, usize> =
            worked.pool.open.iter().map(|(rule, n)| (rule.as_str(), *n)).collect();
        let list: Vec<String> = list.into_iter().map(|(r, n)| format!("{r} ({n})")).collect();
        note(format!(
            "calls that may come are not told where a rule cannot be decided (joints): {}",
            list.join(", ")
        ));
    }
    if worked.pool.untold > 0 {
        note(format!(
            "of {} it cannot be told whether the filter means them; they are left out",
            plural(worked.pool.untold, "joint")
        ));
    }
    let is_asked = worked.how == How::Advise;
    if is_asked {
        note(
            "calls that may come: rules in force that move with hours, turns, footage, damage or days; \
             those that move with wear, or have no value, are foreseen by `due --within`"
                .to_owned(),
        );
    }
    note(if wishes.turns_within.is_some() {
        "the range of what is expected has the turns as far off as was said".to_owned()
    } else {
        "hours and rotary speed are taken as planned: damage moves in proportion to turns; \
         turns_within says how far they may be off"
            .to_owned()
    });
    for what in &exact.unknown {
        note(format!("not in the range, for it is not known: {what}"));
    }
    limits(&exact.rows).into_iter().for_each(&mut note);
    note(range::SAID.to_owned());
    note(RANKING.to_owned());
    if worked.how == How::LookBack {
        report.push(Block::Caution(
            "whether a joint was fit was not asked: this looks back on a run that is over, and is no \
             leave to run any of them"
                .to_owned(),
        ));
    } else {
        report.push(fitness::caution());
    }
    report.push(Block::Caution(format!(
        "a plan is advice on the order of joints. Torque, drag, hydraulics and the strength of the \
         string are not designed here. {DEFERENCE}"
    )));
}
