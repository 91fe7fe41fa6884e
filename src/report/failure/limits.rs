//! Which limits the record shows exceeded, and when; and what is missing or doubtful in it.

use crate::mechanics::tube::{Body, Grade, Wear, tension};
use crate::model::{Clock, EventKind, Instant, TorqueVerdict, Vocabulary};
use crate::projection::dims;
use crate::schema::DimensionRow;
use crate::units::Measure as M;

use super::super::life::{Life, Reader};
use super::super::trace::{CRACKS, is_off, unknown_of_run};
use super::super::{Cell, Column, ReportError, Table, instant};
use super::{Case, Source, plain};

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
    /// The entry of what was looked at last then.
    pub source: Option<Source>,
}

/// A limit, with what the record says of it and the entry that does.
struct Row<'a> {
    what: &'a str,
    at: Cell,
    value: Cell,
    limit: Cell,
    says: &'a str,
    means: &'a str,
    by: Option<Source>,
}

impl Row<'_> {
    fn cells(self) -> Vec<Cell> {
        let mut out = vec![
            Cell::Text(self.what.to_owned()),
            self.at,
            self.value,
            self.limit,
            Cell::Text(self.says.to_owned()),
            Cell::Text(self.means.to_owned()),
        ];
        out.extend(Source::cells(self.by.as_ref()));
        out
    }
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
    reader: &Reader<'_>,
    life: &Life,
    case: &Case<'_>,
    called: Option<&[Called]>,
    clock: Clock,
) -> Result<Table, ReportError> {
    let mut rows: Vec<Vec<Cell>> = Vec::new();
    let turns = |n: i64| Cell::Number(n).measured(Some(M::Turns));
    tension_rows(reader, life, clock, &mut rows)?;
    for (run, r) in &life.runs {
        let of_run = |what: &str| format!("{what}, {}", run.row.name);
        let at = || instant(r.finish, clock);
        let by = || Some(Source::of_run(run));
        let bend = |value, limit, says, means| {
            let (what, at, by) = (&*of_run("bend"), at(), by());
            Row { what, at, value, limit, says, means, by }.cells()
        };
        match r.figures.worst_over_limit() {
            Some(n) if n > 0 => rows.push(bend(turns(n), turns(0), EXCEEDED, BEND)),
            None => {
                let means = "bend or tension of this run is not known";
                rows.push(bend(Cell::Missing, Cell::Missing, OPEN, means));
            }
            Some(_) => {}
        }
        if r.restriction_broken == Some(true) {
            let row = Row {
                what: &of_run("restriction"),
                at: at(),
                value: Cell::Missing,
                limit: Cell::Missing,
                says: EXCEEDED,
                means: "a restriction that an inspection put on the joint was not kept in this run",
                by: by(),
            };
            rows.push(row.cells());
        }
    }
    made_up(reader, life, clock, &mut rows)?;
    at_the_failure(life, case, clock, &mut rows);
    for c in called.unwrap_or_default() {
        let row = Row {
            what: &format!("rule {}", c.rule),
            at: instant(c.at.0, clock),
            value: c.value.clone(),
            limit: c.limit.clone(),
            says: match c.calls {
                Some(true) => "CALLED",
                Some(false) => "did not call",
                None => OPEN,
            },
            means: &format!("{}: {} ({})", c.call, c.reason, c.as_of),
            by: c.source.clone(),
        };
        rows.push(row.cells());
    }
    Ok(Source::table(
        "limits",
        vec![
            Column::plain("what", "limit"),
            Column::plain("at", "when"),
            Column::plain("value", "value"),
            Column::plain("limit", "limit is"),
            Column::plain("says", "record says"),
            Column::plain("source", "what it is").dispensable(1),
        ],
        rows,
        "the record holds nothing that could be held against a limit",
    ))
}

const BEND: &str =
    "turns above the bend that causes no fatigue at the tension of the day; API RP 7G (Lubinski)";

/// Make-ups off their target one by one; how many were on it.
fn made_up(
    reader: &Reader<'_>,
    life: &Life,
    clock: Clock,
    rows: &mut Vec<Vec<Cell>>,
) -> Result<(), ReportError> {
    let torque =
        |n: Option<i64>| n.map_or(Cell::Missing, |n| Cell::Number(n).measured(Some(M::Torque)));
    for m in life.makeups.iter().filter(|m| is_off(m)) {
        let row = Row {
            what: &format!("make-up of the {}", m.end),
            at: instant(m.date, clock),
            value: torque(m.torque),
            limit: torque(m.target_torque),
            says: if m.verdict == Some(TorqueVerdict::Under) {
                "OFF TARGET: under"
            } else {
                "OFF TARGET: over"
            },
            means: "target as recorded, or computed for the day's dimensions",
            by: Some(Source::at(reader, m.entry)?),
        };
        rows.push(row.cells());
    }
    let on = life.makeups.iter().filter(|m| m.verdict == Some(TorqueVerdict::OnTarget)).count();
    if on > 0 {
        let row = Row {
            what: "make-ups",
            at: Cell::Missing,
            value: Cell::Text(format!("{on} on target")),
            limit: Cell::Missing,
            says: KEPT,
            means: "as recorded: `trace --only makeup` has each with its entry",
            by: None,
        };
        rows.push(row.cells());
    }
    Ok(())
}

/// A figure held against a limit; without one nobody can say.
fn held(
    what: &str,
    at: Cell,
    (value, limit): (i64, Option<i64>),
    measure: M,
    means: &str,
    by: Source,
) -> Vec<Cell> {
    let cell = |n: i64| Cell::Number(n).measured(Some(measure));
    let says = match limit {
        Some(limit) if value > limit => EXCEEDED,
        Some(_) => KEPT,
        None => OPEN,
    };
    let limit = limit.map_or(Cell::Missing, cell);
    Row { what, at, value: cell(value), limit, says, means, by: Some(by) }.cells()
}

/// Torque and pull when it failed.
fn at_the_failure(life: &Life, case: &Case<'_>, clock: Clock, rows: &mut Vec<Vec<Cell>>) {
    let target = life.makeups.iter().rev().find_map(|m| m.target_torque);
    let at = || instant(case.row.date, clock);
    let by = || Source::of_seen(&case.seen);
    if let (Some(torque), Some(target)) = (case.row.torque, target) {
        let means = "against the make-up torque of its connections";
        let figures = (torque, Some(target));
        rows.push(held("torque at the failure", at(), figures, M::Torque, means, by()));
    }
    if let Some(pull) = case.row.pull
        && let Some(limit) = capacity(life, case.row.date)
    {
        let figures = (pull, Some(limit));
        rows.push(held("pull at the failure", at(), figures, M::Force, YIELD, by()));
    }
}

const YIELD: &str =
    "load at which the tube of the day yields, straight and without torque; API RP 7G";

/// The hardest pull in runs, and pulls of events, against what the worn tube carries.
fn tension_rows(
    reader: &Reader<'_>,
    life: &Life,
    clock: Clock,
    rows: &mut Vec<Vec<Cell>>,
) -> Result<(), ReportError> {
    let mut pulled = |what: &str, pull: i64, at: i64, by| {
        let figures = (pull, capacity(life, at));
        rows.push(held(what, instant(at, clock), figures, M::Force, YIELD, by));
    };
    let hardest = life
        .runs
        .iter()
        .filter_map(|(run, r)| Some((r.figures.max_tension?, run, r)))
        .max_by_key(|x| x.0);
    if let Some((pull, run, r)) = hardest {
        let what = format!("tension, most in {}", run.row.name);
        pulled(&what, pull, r.finish, Source::of_run(run));
    }
    for e in &life.events {
        let Some(pull) = e.pull else { continue };
        let what = format!("{}, pull at the hook", plain(e.what.word()));
        pulled(&what, pull, e.date, Source::at(reader, e.entry)?);
    }
    for e in life.events.iter().filter(|e| e.what == EventKind::SourGas) {
        let row = Row {
            what: "hydrogen sulphide",
            at: instant(e.date, clock),
            value: Cell::Missing,
            limit: Cell::Missing,
            says: "met",
            means: "outside what fatigue curves and ratings hold for",
            by: Some(Source::at(reader, e.entry)?),
        };
        rows.push(row.cells());
    }
    Ok(())
}

/// What is missing or doubtful, each with its place in the record.
pub(super) fn missing(
    reader: &Reader<'_>,
    life: &Life,
    case: &Case<'_>,
    clock: Clock,
) -> Result<Table, ReportError> {
    let mut rows = Vec::new();
    let mut say = |what: String, at: Cell, by: Source| {
        let mut row = vec![Cell::Text(what), at];
        row.extend(Source::cells(Some(&by)));
        rows.push(row);
    };
    for (run, r) in &life.runs {
        let open = unknown_of_run(&run.row, r);
        if !open.is_empty() {
            let what = format!("{}: {}", run.row.name, open.join("; "));
            say(what, instant(r.finish, clock), Source::of_run(run));
        }
    }
    if let Some((run, r)) =
        life.runs.iter().find(|(_, r)| r.start <= case.row.date && r.finish > case.row.date)
    {
        let what = format!(
            "{}: its figures are those of the whole run, which went on after the failure was found",
            run.row.name
        );
        say(what, instant(r.finish, clock), Source::of_run(run));
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
            say(what, instant(i.date, clock), Source::at(reader, i.entry)?);
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
            say(what, instant(m.date, clock), Source::at(reader, m.entry)?);
        }
    }
    if let Some(m) = last {
        let what = format!("{without} make-ups of its ends without a torque");
        say(what, instant(m.date, clock), Source::at(reader, m.entry)?);
    }
    for g in &life.gaps {
        let what = "a stretch of its life about which nothing is known".to_owned();
        say(what, instant(g.until, clock), Source::at(reader, g.entry)?);
    }
    for c in &life.conflicts {
        say(format!("conflict: {}", c.what), Cell::Missing, Source::at(reader, c.first_entry)?);
    }
    for seen in life.entries.iter().filter(|s| s.struck.is_some()) {
        let fallen = seen.struck.as_ref().map_or_else(String::new, ToString::to_string);
        say(fallen, Cell::Missing, Source::of_seen(seen));
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
        say(what, instant(case.row.date, clock), Source::of_seen(&case.seen));
    }
    let entered: Vec<DimensionRow> = reader.book.rows_of(life.row.joint)?;
    if dims::at(&entered, Instant(case.row.date)).is_none_or(|d| d.wall.is_none()) {
        say("its wall was never measured".to_owned(), Cell::Missing, certificate(life));
    }
    Ok(Source::table(
        "missing",
        vec![Column::plain("what", "missing or doubtful"), Column::plain("at", "when")],
        rows,
        "nothing is known to be missing",
    ))
}

/// The entry that introduced a joint.
fn certificate(life: &Life) -> Source {
    let own = life.entries.iter().find(|seen| seen.position == life.row.joint);
    own.map_or_else(
        || Source { entry: life.row.introduced_by.clone(), author: String::new() },
        |seen| Source::of_seen(seen),
    )
}
