//! What a recorded run asked of the joints of its string, as far as the book knows.

use std::fmt::Write as _;

use crate::model::{Body, EventKind, RunBody};
use crate::schema::{EventRow, JointRunRow, Rows, RunRow};
use crate::store::Book;
use crate::units::Measure;

use super::super::lookup::find_run;
use super::super::{Cell, Column, ReportError, Table};
use super::Demands;

/// What a run asked, and what of that nobody can say.
#[derive(Clone, Debug)]
pub struct OfRun {
    /// Its name.
    run: String,
    /// Name of its entry.
    entry: String,
    demands: Demands,
    pull: Known<f64>,
    torque: Known<f64>,
    sour: Known<bool>,
    casing: Known<bool>,
}

/// Something that the book says of a run, with where it has it from; without it, why not.
#[derive(Clone, Debug)]
struct Known<T> {
    value: Option<T>,
    /// Nothing of it is left out that may be harder.
    whole: bool,
    from: String,
}

impl<T> Known<T> {
    fn new(value: Option<T>, from: &str) -> Self {
        Self { value, whole: true, from: from.to_owned() }
    }
}

impl<T> Known<T> {
    /// Whether nobody has to say it.
    const fn closes(&self) -> bool {
        self.value.is_some() && self.whole
    }
}

/// What a recorded run asked of the joints of its string. What the book does not know of it is wanted
/// by itself: where a person says it beside the run, that holds.
///
/// # Errors
/// Where no run has that name.
pub fn of_run(book: &Book, name: &str, said: &Demands) -> Result<OfRun, ReportError> {
    let row = find_run(book, name)?;
    let entry = book.counted(row.run)?;
    let Body::Run(body) = &entry.body else {
        return Err(ReportError::Words(format!("{name} is no run")));
    };
    let joints: Vec<JointRunRow> = book.rows(&Rows::of(JointRunRow::run(), row.run))?;
    let mut events: Vec<EventRow> = Vec::new();
    for joint in &joints {
        let of_joint: Vec<EventRow> = book.rows_of(joint.joint)?;
        events.extend(of_joint.into_iter().filter(|e| e.run == Some(row.run)));
    }
    let pull = pull(&row, body, &joints, &events);
    let torque = torque(body, &events);
    let sour = sour(&row, &events);
    let casing = casing(body, &row);
    let mut demands = said.clone();
    demands.pull = larger(said.pull, pull.value);
    demands.torque = larger(said.torque, torque.value);
    demands.sour |= sour.value == Some(true);
    demands.casing |= casing.value == Some(true);
    let mut open = |is_open: bool, what: &str, how: &str| {
        if is_open {
            demands.open.push(format!("{what} of {} is not in the book: {how}", row.name));
        }
    };
    open(said.pull.is_none() && !pull.closes(), "all of the hardest pull", "say it with --pull");
    open(demands.torque.is_none(), "the hardest torque", "say it with --torque");
    let amend =
        |field: &str| format!("say so with `enter amend entry={} {field} reason='…'`", entry.id);
    let unsaid = |said: bool, known: Option<bool>| !said && known.is_none();
    open(unsaid(said.sour, sour.value), "whether hydrogen sulphide is met", &amend("sour=no"));
    open(unsaid(said.casing, casing.value), "how deep its casing is", &amend("casing_depth='…'"));
    Ok(OfRun { run: row.name, entry: entry.id.to_string(), demands, pull, torque, sour, casing })
}

fn larger(a: Option<f64>, b: Option<f64>) -> Option<f64> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.max(b)),
        (a, b) => a.or(b),
    }
}

fn largest(values: impl Iterator<Item = f64>) -> Option<f64> {
    values.fold(None, |most, value| larger(most, Some(value)))
}

/// The hardest pull on any joint, as it was worked out, as it was logged at the hook, or as it was
/// told of what happened.
fn pull(row: &RunRow, body: &RunBody, joints: &[JointRunRow], events: &[EventRow]) -> Known<f64> {
    let force = |q: i64| Measure::Force.base_f64(q);
    let worked_out = largest(joints.iter().filter_map(|r| r.figures.max_tension).map(force));
    let block = body.block_weight.as_ref().and_then(|q| q.base(Measure::Force)).unwrap_or(0.0);
    let logged = body.segments.iter().filter_map(|s| s.hookload_n);
    let logged = largest(logged.map(|n| (n as f64 - block).max(0.0)));
    let told = largest(events.iter().filter_map(|e| e.pull).map(force));
    let most = larger(larger(worked_out, logged), told);
    let mut from = Vec::new();
    for (what, value) in [
        ("worked out of its string and hole", worked_out),
        ("the hook load of its log", logged),
        ("what happened in it", told),
    ] {
        from.extend(value.is_some().then_some(what));
    }
    let blind = joints.iter().filter(|r| r.figures.max_tension.is_none()).count();
    let mut from = match from.as_slice() {
        [] => "no pull of it is worked out, logged or told".to_owned(),
        known => format!("the most of: {}", known.join(", ")),
    };
    if blind > 0 && most.is_some() {
        let _ = write!(from, "; that of {blind} of its joints cannot be worked out");
    }
    if row.unidentified > 0 && most.is_some() {
        let _ =
            write!(from, "; its {} joints without a serial are not among them", row.unidentified);
    }
    if logged.is_some() && body.block_weight.is_none() {
        from.push_str("; the weight of the block is not stated and so within the hook load");
    }
    // The hook carries all of the string; of joints those that are not worked out may be the topmost.
    let whole = logged.is_some() || worked_out.is_some() && blind == 0 && row.unidentified == 0;
    Known { value: most, whole, from }
}

/// The hardest torque of its log, or of what happened in it.
fn torque(body: &RunBody, events: &[EventRow]) -> Known<f64> {
    let logged = largest(body.segments.iter().filter_map(|s| s.torque_nm).map(|n| n as f64));
    let told = events.iter().filter_map(|e| e.torque).map(|q| Measure::Torque.base_f64(q));
    let most = larger(logged, largest(told));
    let silent = body.segments.iter().filter(|s| s.torque_nm.is_none()).count();
    let from = match (most, silent) {
        (None, _) => "neither its log nor anything that happened in it says a torque".to_owned(),
        (Some(_), 0) => "the means of the stretches of its log, and what happened in it".to_owned(),
        (Some(_), n) => format!(
            "the means of the stretches of its log, of which {n} of {} say none, and what happened \
             in it",
            body.segments.len()
        ),
    };
    Known { value: most, whole: true, from }
}

fn sour(row: &RunRow, events: &[EventRow]) -> Known<bool> {
    match row.sour {
        _ if events.iter().any(|e| e.what == EventKind::SourGas) => {
            Known::new(Some(true), "it was met in it")
        }
        Some(said) => Known::new(Some(said), "its entry says so"),
        None => Known::new(None, "its entry does not say"),
    }
}

/// Whether its joints turned in casing or riser without protectors, at any place in the string.
fn casing(body: &RunBody, row: &RunRow) -> Known<bool> {
    let riser = body.riser_depth.as_ref().and_then(|q| q.stored(Measure::Depth));
    let cased = row.casing_depth.max(riser).is_some_and(|depth| depth > 0);
    // Without a riser there may be casing all the same.
    match (cased, row.casing_depth, row.protectors) {
        (false, None, _) => Known::new(None, "its entry says no depth of casing or riser"),
        (false, Some(_), _) => Known::new(Some(false), "its entry says no casing"),
        (true, _, Some(true)) => Known::new(Some(false), "cased, and protectors were fitted"),
        (true, _, Some(false)) => Known::new(Some(true), "cased, and no protectors were fitted"),
        (true, _, None) => {
            Known::new(Some(true), "cased, and nobody says that protectors were fitted")
        }
    }
}

impl OfRun {
    /// What it asks, together with what was said beside it.
    pub const fn demands(&self) -> &Demands {
        &self.demands
    }

    /// What the book knows of it, each with where it has it from.
    pub fn table(&self) -> Table {
        let measured = |value: Option<f64>, measure: Measure| {
            let stored = value.and_then(|v| measure.store_f64(v));
            stored.map_or(Cell::Missing, |q| Cell::Number(q).measured(Some(measure)))
        };
        let truth = |value: Option<bool>| value.map_or(Cell::Missing, Cell::Truth);
        let row = |what: &str, asked: Cell, from: &str| {
            vec![Cell::Text(what.to_owned()), asked, Cell::Text(from.to_owned())]
        };
        Table {
            name: "demands",
            columns: vec![
                Column::plain("what", &format!("asked by {}, {}", self.run, self.entry)),
                Column::plain("asked", "asked"),
                Column::plain("from", "as the book has it"),
            ],
            rows: vec![
                row("pull", measured(self.pull.value, Measure::Force), &self.pull.from),
                row("torque", measured(self.torque.value, Measure::Torque), &self.torque.from),
                row("hydrogen sulphide", truth(self.sour.value), &self.sour.from),
                row("turns in casing", truth(self.casing.value), &self.casing.from),
            ],
            empty: String::new(),
            below: None,
        }
    }
}
