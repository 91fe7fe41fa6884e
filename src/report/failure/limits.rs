//! Which limits the record shows exceeded, and when; and what is missing or doubtful in it.

use crate::mechanics::tube::{Body, Grade, Wear, tension};
use crate::model::{Clock, EventKind, Instant, TorqueVerdict, Vocabulary};
use crate::projection::dims;
use crate::schema::DimensionRow;
use crate::units::Measure as M;

use super::super::life::{Life, Reader};
use super::super::trace::{CRACKS, is_off, unknown_of_run};
use super::super::{Cell, Column, ReportError, Table, instant};
use super::{Case, plain};

/// What a rule in force says of the joint.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Called {
    pub rule: String,
    /// What it calls for.
    pub call: String,
    pub reason: String,
    /// Value that meets the limit.
    pub value: Cell,
    /// The limit.
    pub limit: Cell,
    /// Whether it calls; `None` when that cannot be told.
    pub calls: Option<bool>,
    /// When it is asked of the book.
    pub at: Instant,
    /// As the book stood when, and what was looked at last then, by whom.
    pub as_of: String,
}

fn row(what: &str, at: Cell, value: Cell, limit: Cell, says: &str, source: &str) -> Vec<Cell> {
    vec![
        Cell::Text(what.to_owned()),
        at,
        value,
        limit,
        Cell::Text(says.to_owned()),
        Cell::Text(source.to_owned()),
    ]
}

const EXCEEDED: &str = "EXCEEDED";
const KEPT: &str = "kept";
const OPEN: &str = "not known";

/// Tension at which the worn tube yields, stored quanta of force.
fn capacity(life: &Life, at: i64) -> Option<i64> {
    let r = &life.row;
    let metres = |nm: i64| nm as f64 * 1e-9;
    let body = Body::new(metres(r.od?), metres(r.nominal_wall?)).ok()?;
    let grade: Grade = r.grade.as_ref()?.parse().ok()?;
    let wall = life
        .inspections
        .iter()
        .rev()
        .find(|i| i.date <= at && i.wall_thickness.is_some())
        .and_then(|i| i.wall_thickness)
        .or(r.nominal_wall)?;
    let tube = body.worn(Wear::Uniform { wall: metres(wall), od: None }).ok()?;
    M::Force.store_f64(tension(&tube.section, grade.min_yield()).ok()?)
}

/// The limits, each with what the record says of it.
pub(super) fn limits(
    life: &Life,
    case: &Case<'_>,
    called: Option<&[Called]>,
    clock: Clock,
) -> Table {
    let mut rows = Vec::new();
    let force = |n: i64| Cell::Number(n).measured(Some(M::Force));
    let turns = |n: i64| Cell::Number(n).measured(Some(M::Turns));
    tension_rows(life, clock, &mut rows);
    for (run, r) in &life.runs {
        match r.figures.worst_over_limit() {
            Some(n) if n > 0 => rows.push(row(
                &format!("bend, {}", run.row.name),
                instant(r.finish, clock),
                turns(n),
                turns(0),
                EXCEEDED,
                "turns above the bend that causes no fatigue at the tension of the day; API RP 7G (Lubinski)",
            )),
            None => rows.push(row(
                &format!("bend, {}", run.row.name),
                instant(r.finish, clock),
                Cell::Missing,
                Cell::Missing,
                OPEN,
                "bend or tension of this run is not known",
            )),
            Some(_) => {}
        }
        if r.restriction_broken == Some(true) {
            rows.push(row(
                &format!("restriction, {}", run.row.name),
                instant(r.finish, clock),
                Cell::Missing,
                Cell::Missing,
                EXCEEDED,
                "a restriction that an inspection put on the joint was not kept in this run",
            ));
        }
    }
    let torque = |n: i64| Cell::Number(n).measured(Some(M::Torque));
    for m in life.makeups.iter().filter(|m| is_off(m)) {
        rows.push(row(
            &format!("make-up of the {}", m.end),
            instant(m.date, clock),
            m.torque.map_or(Cell::Missing, torque),
            m.target_torque.map_or(Cell::Missing, torque),
            if m.verdict == Some(TorqueVerdict::Under) {
                "OFF TARGET: under"
            } else {
                "OFF TARGET: over"
            },
            "target as recorded, or computed for the day's dimensions",
        ));
    }
    let on = life.makeups.iter().filter(|m| m.verdict == Some(TorqueVerdict::OnTarget)).count();
    if on > 0 {
        let text = Cell::Text(format!("{on} on target"));
        rows.push(row("make-ups", Cell::Missing, text, Cell::Missing, KEPT, "as recorded"));
    }
    let target = life.makeups.iter().rev().find_map(|m| m.target_torque);
    if let (Some(t), Some(target)) = (case.row.torque, target) {
        let says = if t > target { EXCEEDED } else { KEPT };
        let at = instant(case.row.date, clock);
        rows.push(row(
            "torque at the failure",
            at,
            torque(t),
            torque(target),
            says,
            "against the make-up torque of its connections",
        ));
    }
    if let Some(pull) = case.row.pull
        && let Some(limit) = capacity(life, case.row.date)
    {
        let says = if pull > limit { EXCEEDED } else { KEPT };
        let at = instant(case.row.date, clock);
        rows.push(row("pull at the failure", at, force(pull), force(limit), says, YIELD));
    }
    for c in called.unwrap_or_default() {
        let says = match c.calls {
            Some(true) => "CALLED",
            Some(false) => "did not call",
            None => OPEN,
        };
        rows.push(row(
            &format!("rule {}", c.rule),
            instant(c.at.0, clock),
            c.value.clone(),
            c.limit.clone(),
            says,
            &format!("{}: {} ({})", c.call, c.reason, c.as_of),
        ));
    }
    Table {
        name: "limits",
        columns: vec![
            Column::plain("what", "limit"),
            Column::plain("at", "when"),
            Column::plain("value", "value"),
            Column::plain("limit", "limit is"),
            Column::plain("says", "record says"),
            Column::plain("source", "what it is").dispensable(1),
        ],
        rows,
        empty: "the record holds nothing that could be held against a limit".to_owned(),
        below: None,
    }
}

const YIELD: &str =
    "load at which the tube of the day yields, straight and without torque; API RP 7G";

/// The hardest pull in runs, and pulls of events, against what the worn tube carries.
fn tension_rows(life: &Life, clock: Clock, rows: &mut Vec<Vec<Cell>>) {
    let force = |n: i64| Cell::Number(n).measured(Some(M::Force));
    let hardest = life
        .runs
        .iter()
        .filter_map(|(run, r)| Some((r.figures.max_tension?, run, r)))
        .max_by_key(|x| x.0);
    if let Some((pull, run, r)) = hardest {
        let limit = capacity(life, r.finish);
        let says = match limit {
            Some(limit) if pull > limit => EXCEEDED,
            Some(_) => KEPT,
            None => OPEN,
        };
        let at = instant(r.finish, clock);
        let what = format!("tension, most in {}", run.row.name);
        rows.push(row(&what, at, force(pull), limit.map_or(Cell::Missing, force), says, YIELD));
    }
    for e in &life.events {
        let Some(pull) = e.pull else { continue };
        let limit = capacity(life, e.date);
        let says = match limit {
            Some(limit) if pull > limit => EXCEEDED,
            Some(_) => KEPT,
            None => OPEN,
        };
        let what = format!("{}, pull at the hook", plain(e.what.word()));
        let at = instant(e.date, clock);
        rows.push(row(&what, at, force(pull), limit.map_or(Cell::Missing, force), says, YIELD));
    }
    for e in life.events.iter().filter(|e| e.what == EventKind::SourGas) {
        let at = instant(e.date, clock);
        rows.push(row(
            "hydrogen sulphide",
            at,
            Cell::Missing,
            Cell::Missing,
            "met",
            "outside what fatigue curves and ratings hold for",
        ));
    }
}

/// What is missing or doubtful, each with its place in the record.
pub(super) fn missing(
    reader: &Reader<'_>,
    life: &Life,
    case: &Case<'_>,
    clock: Clock,
) -> Result<Table, ReportError> {
    let mut rows = Vec::new();
    let mut say = |what: String, at: Cell, entry: String| {
        rows.push(vec![Cell::Text(what), at, Cell::Text(entry)]);
    };
    for (run, r) in &life.runs {
        let open = unknown_of_run(&run.row, r);
        if !open.is_empty() {
            let what = format!("{}: {}", run.row.name, open.join("; "));
            say(what, instant(r.finish, clock), run.name());
        }
    }
    if let Some((run, r)) =
        life.runs.iter().find(|(_, r)| r.start <= case.row.date && r.finish > case.row.date)
    {
        let what = format!(
            "{}: its figures are those of the whole run, which went on after the failure was found",
            run.row.name
        );
        say(what, instant(r.finish, clock), run.name());
    }
    for i in &life.inspections {
        let blind: Vec<String> = CRACKS
            .iter()
            .filter(|s| i.covers & (1 << s.rank()) == 0)
            .map(|s| plain(s.word()))
            .collect();
        let mut parts = Vec::new();
        if i.instrument_doubtful {
            parts.push("its instrument failed the next check".to_owned());
        }
        if !blind.is_empty() {
            parts.push(format!("not looked for: {}", blind.join(", ")));
        }
        parts.extend(i.not_measured.as_ref().map(|n| format!("not measured: {}", plain(n))));
        if !parts.is_empty() {
            let what = format!("inspection: {}", parts.join("; "));
            say(what, instant(i.date, clock), reader.entry(i.entry)?.name());
        }
    }
    let (mut without, mut last) = (0, None);
    for m in &life.makeups {
        if m.torque.is_none() {
            without += m.times;
            last = Some(m);
        }
        if m.instrument_doubtful {
            let gauge = m.gauge.clone().unwrap_or_default();
            let what = format!("make-up of the {}: gauge {gauge} failed its next check", m.end);
            say(what, instant(m.date, clock), reader.entry(m.entry)?.name());
        }
    }
    if let Some(m) = last {
        let what = format!("{without} make-ups of its ends without a torque");
        say(what, instant(m.date, clock), reader.entry(m.entry)?.name());
    }
    for g in &life.gaps {
        let what = "a stretch of its life about which nothing is known".to_owned();
        say(what, instant(g.until, clock), reader.entry(g.entry)?.name());
    }
    for c in &life.conflicts {
        say(format!("conflict: {}", c.what), Cell::Missing, reader.entry(c.first_entry)?.name());
    }
    for seen in life.entries.iter().filter(|s| s.struck.is_some()) {
        let by = seen.struck.as_ref().map_or("", |s| s.0.as_str());
        say(format!("struck out by {by}"), Cell::Missing, seen.name());
    }
    let lacking: Vec<&str> = [
        (case.body.mechanism.is_none(), "mechanism (no laboratory has named one)"),
        (case.row.depth.is_none(), "depth"),
        (case.row.operation.is_none(), "operation"),
        (case.row.torque.is_none(), "torque"),
        (case.row.pull.is_none(), "pull"),
        (case.row.from_pin.is_none(), "place along the joint"),
        (case.body.report.is_none(), "report"),
    ]
    .into_iter()
    .filter_map(|(lacks, what)| lacks.then_some(what))
    .collect();
    if !lacking.is_empty() {
        let what = format!("of the failure itself: {}", lacking.join(", "));
        say(what, instant(case.row.date, clock), case.seen.name());
    }
    let entered: Vec<DimensionRow> = reader.book.rows_of(life.row.joint)?;
    if dims::at(&entered, Instant(case.row.date)).is_none_or(|d| d.wall.is_none()) {
        say(
            "its wall was never measured".to_owned(),
            Cell::Missing,
            life.row.introduced_by.clone(),
        );
    }
    Ok(Table {
        name: "missing",
        columns: vec![
            Column::plain("what", "missing or doubtful"),
            Column::plain("at", "when"),
            Column::plain("entry", "entry"),
        ],
        rows,
        empty: "nothing is known to be missing".to_owned(),
        below: None,
    })
}
