//! Everything that a joint of the book is good for, from its latest dimensions.

use std::collections::BTreeMap;

use crate::condition::Caution;
use crate::mechanics::connection::{ConnectionType, Dimensions};
use crate::mechanics::tube::TubeClass;
use crate::model::{Clock, Component, Environment, EventKind};
use crate::projection::exposure::Method;
use crate::projection::notches::is_notch;
use crate::schema::{EventRow, FindingRow, InspectionRow, JointRow, JointRunRow, Rows, RunRow};
use crate::store::Book;
use crate::units::Measure as M;

use super::super::due;
use super::super::fitness;
use super::super::lookup::{joint_row, runs_of};
use super::super::{
    Block, Cell, Column, Fact, Present, Report, ReportError, Table, instant, method,
};
use super::connection::{ConnectionQuestion, On};
use super::dogleg::{self, DoglegQuestion, Notch};
use super::tube::{self, MeasuredWall, TubeQuestion};
use super::{Surroundings, TubeSpec, close, flag, words};

/// What is asked besides the joint.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct JointQuestion {
    /// Root radius of cuts and pits, which no inspection measures, m.
    pub root: f64,
    /// Clock offset at which days are shown, minutes.
    pub clock: Clock,
}

fn metres(nm: i64) -> f64 {
    nm as f64 * 1e-9
}

/// A dimension of the joint: what it is, what it was new, when it was read.
#[derive(Clone, Copy, Debug)]
struct Dimension {
    label: &'static str,
    nominal: Option<f64>,
    measured: Option<f64>,
    read: Option<i64>,
}

impl Dimension {
    fn value(&self) -> Option<f64> {
        self.measured.or(self.nominal)
    }
}

/// Everything read of a joint.
struct Facts {
    row: JointRow,
    dims: BTreeMap<&'static str, Dimension>,
    order: Vec<&'static str>,
    last: Option<(JointRunRow, RunRow)>,
    sour: bool,
    /// Heat, fire or an arc struck it.
    burnt: bool,
    findings: Vec<FindingRow>,
}

impl Facts {
    fn read(book: &Book, joint: i64) -> Result<Self, ReportError> {
        let none = || ReportError::NoJoint { serial: joint.to_string(), like: Vec::new() };
        let row = joint_row(book, joint)?.ok_or_else(none)?;
        let mut inspections: Vec<InspectionRow> = book.rows_of(joint)?;
        inspections.reverse();
        let runs: Vec<JointRunRow> = book.rows_of(joint)?;
        let rows = runs_of(book, &runs)?;
        let events: Vec<EventRow> = book.rows_of(joint)?;
        let met = |kind| events.iter().any(|e| e.what == kind);
        let sour = rows.values().any(|r| r.sour == Some(true)) || met(EventKind::SourGas);
        let burnt = met(EventKind::Heat);
        let last = runs.into_iter().rev().find_map(|j| {
            let run = rows.get(&j.run)?.clone();
            Some((j, run))
        });
        let open = Rows::of(FindingRow::joint(), joint).is(FindingRow::open(), true);
        let findings = book.rows(&open)?;
        let mut facts =
            Self { row, dims: BTreeMap::new(), order: Vec::new(), last, sour, burnt, findings };
        facts.dimensions(&inspections);
        Ok(facts)
    }

    fn dimensions(&mut self, inspections: &[InspectionRow]) {
        let r = &self.row;
        // When the value in force was read: the latest inspection that has it.
        let read = |get: fn(&InspectionRow) -> Option<i64>, now: Option<i64>| {
            let now = now?;
            inspections.iter().find(|i| get(i) == Some(now)).map(|i| i.date)
        };
        let latest = |get: fn(&InspectionRow) -> Option<i64>| inspections.iter().find_map(get);
        let wall = r.wall_thickness;
        let rows = [
            ("od", "body diameter", r.od, r.body_od, read(|i| i.body_od, r.body_od)),
            ("wall", "least wall", r.nominal_wall, wall, r.wall_read.filter(|_| wall.is_some())),
            ("box_od", "box diameter", r.tool_joint_od, r.box_od, read(|i| i.box_od, r.box_od)),
            ("pin_od", "pin diameter", r.tool_joint_od, r.pin_od, read(|i| i.pin_od, r.pin_od)),
            ("pin_id", "pin bore", r.tool_joint_id, r.pin_id, read(|i| i.pin_id, r.pin_id)),
            (
                "counterbore",
                "box counterbore",
                None,
                r.box_counterbore,
                read(|i| i.box_counterbore, r.box_counterbore),
            ),
            (
                "box_bevel",
                "box bevel",
                None,
                latest(|i| i.box_bevel),
                read(|i| i.box_bevel, latest(|i| i.box_bevel)),
            ),
            (
                "pin_bevel",
                "pin bevel",
                None,
                latest(|i| i.pin_bevel),
                read(|i| i.pin_bevel, latest(|i| i.pin_bevel)),
            ),
        ];
        for (name, label, nominal, measured, read) in rows {
            if nominal.is_some() || measured.is_some() {
                let d = Dimension {
                    label,
                    nominal: nominal.map(metres),
                    measured: measured.map(metres),
                    read,
                };
                self.dims.insert(name, d);
                self.order.push(name);
            }
        }
    }

    fn dim(&self, name: &str) -> Option<f64> {
        self.dims.get(name).and_then(Dimension::value)
    }

    fn measured(&self, name: &str) -> Option<f64> {
        self.dims.get(name).and_then(|d| d.measured)
    }

    fn on(&self) -> On {
        match self.row.component {
            Component::DrillPipe | Component::Pup => On::ToolJoint,
            Component::HeavyWeight => On::HeavyWeight,
            _ => On::Collar,
        }
    }

    fn around(&self) -> Surroundings {
        Surroundings { sour: self.sour, celsius: None }
    }
}

pub fn report(
    book: &mut Book,
    joint: i64,
    q: &JointQuestion,
    present: &Present,
) -> Result<Report, ReportError> {
    let told = due::standing(book, joint, present)?;
    let book = &*book;
    let facts = Facts::read(book, joint)?;
    let mut report = Report::new("rate joint");
    let r = &facts.row;
    let connection = r.connection.as_deref().unwrap_or("connection not recorded");
    let component = r.component.to_string().replace('_', " ");
    report.push(Block::Heading(format!("Joint {}, {component}, {connection}", r.serial)));
    let entry = |at: i64| book.entry_at(at).map_or_else(|_| String::new(), |e| e.raw.label());
    if let Some((_, told)) = &told {
        report.blocks.extend(fitness::blocks(told, &entry, present.units));
        if told.may_run() {
            report.push(fitness::caution());
        } else {
            report.push(Block::Note(
                "what follows is what its dimensions would carry if it were sound; it is not said to \
                 be fit to carry it"
                    .to_owned(),
            ));
        }
    }
    let around = facts.around();
    let mut outside = around.on_strength();
    if facts.on() == On::ToolJoint {
        outside.extend(around.on_fatigue());
    }
    if facts.burnt {
        outside.push(
            "outside validity: heat, fire or an arc is in its life; strengths of heat-treated steel \
             cannot be taken for granted after it"
                .to_owned(),
        );
    }
    flag(&mut report, &around, Vec::new());
    outside.into_iter().for_each(|n| report.push(Block::Note(n)));
    report.push(Block::Facts { name: "joint", facts: about(&facts, q) });
    report.push(Block::Table(dimension_table(&facts, q.clock)));
    let mut notes = Vec::new();
    let spec = spec(&facts);
    let pipe = facts.on() == On::ToolJoint;
    match &spec {
        Ok(spec) => tube_parts(&facts, spec, &mut report, &mut notes)?,
        Err(e) if pipe => notes.push(format!("the tube cannot be rated: {e}")),
        Err(_) => notes.push(
            "the body of heavy-weight pipe and collars has no classes and no rating table; its \
             connections decide"
                .to_owned(),
        ),
    }
    let spec = spec.ok().filter(|_| pipe);
    connection_parts(&facts, spec.as_ref(), &mut report, &mut notes);
    if let Some(spec) = &spec {
        bend_parts(book, &facts, spec, q, &mut report, &mut notes)?;
    }
    let unread: Vec<&str> = facts
        .order
        .iter()
        .filter_map(|n| facts.dims.get(n))
        .filter(|d| d.measured.is_none())
        .map(|d| d.label)
        .collect();
    if !unread.is_empty() {
        notes.push(format!("never measured, taken as new: {}", unread.join(", ")));
    }
    if let Some(open) = open_findings(&facts.findings) {
        notes.push(open);
    }
    close(
        &mut report,
        notes,
        &format!("Limits of sound pipe from what the book holds. {}", Caution::Makeup.text()),
    );
    Ok(report)
}

fn spec(facts: &Facts) -> Result<TubeSpec, ReportError> {
    let r = &facts.row;
    if facts.on() != On::ToolJoint {
        return Err(words("only drill pipe is rated by class"));
    }
    let weight = r.weight.map(|w| M::LinearMass.base_f64(w));
    TubeSpec::of(r.od.map(metres), r.nominal_wall.map(metres), weight, r.grade.as_deref())
}

fn about(facts: &Facts, q: &JointQuestion) -> Vec<Fact> {
    let r = &facts.row;
    let mut list = vec![
        Fact::field(JointRow::serial(), &r.serial),
        Fact::field(JointRow::component(), &r.component.to_string().replace('_', " ")),
        Fact::field(JointRow::grade(), &r.grade),
        Fact::field(JointRow::connection(), &r.connection),
        Fact::field(JointRow::class(), &r.class.map(|c| c.to_string()))
            .labelled("class in the book"),
        Fact::field(JointRow::status(), Cell::word(r.status)),
    ];
    if let Some((in_run, run)) = &facts.last {
        list.push(Fact::plain("last_run", "last run", Cell::Text(run.name.clone())));
        list.push(Fact::plain("last_run_end", "  to", instant(run.finish, q.clock)));
        list.push(Fact::of(
            "last_tension",
            "  most pull",
            Cell::number(in_run.figures.max_tension),
            M::Force,
        ));
        list.push(Fact::of(
            "last_dogleg",
            "  sharpest bend",
            Cell::number(in_run.figures.max_dogleg),
            M::Dogleg,
        ));
    }
    list
}

fn dimension_table(facts: &Facts, clock: Clock) -> Table {
    Table {
        name: "dimensions",
        columns: vec![
            Column::plain("dimension", "dimension"),
            Column::of("used", "used", M::Wall),
            Column::of("new", "new", M::Wall),
            Column::plain("from", "from"),
            Column::plain("read", "read on"),
        ],
        rows: facts
            .order
            .iter()
            .filter_map(|n| facts.dims.get(n))
            .map(|d| {
                let cell = |v: Option<f64>| v.map_or(Cell::Missing, Cell::Real);
                let from = if d.measured.is_some() { "measured" } else { "nominal" };
                vec![
                    Cell::Text(d.label.to_owned()),
                    cell(d.value()),
                    cell(d.nominal),
                    Cell::Text(from.to_owned()),
                    d.read.map_or(Cell::Missing, |at| instant(at, clock)),
                ]
            })
            .collect(),
        empty: "the book holds no dimension of this joint".to_owned(),
        below: None,
    }
}

/// Pull of the last run, N, where it is known and is a pull.
fn last_tension(facts: &Facts) -> Option<f64> {
    let in_run = facts.last.as_ref()?.0.figures.max_tension?;
    Some(M::Force.base_f64(in_run)).filter(|t| *t > 0.0)
}

fn measured_wall(facts: &Facts) -> Option<MeasuredWall> {
    facts.measured("wall").map(|wall| MeasuredWall { wall, od: facts.measured("od") })
}

fn tube_parts(
    facts: &Facts,
    spec: &TubeSpec,
    report: &mut Report,
    notes: &mut Vec<String>,
) -> Result<(), ReportError> {
    let question = TubeQuestion {
        tube: spec.clone(),
        classes: TubeClass::ALL.to_vec(),
        measured: measured_wall(facts),
        tension: last_tension(facts),
        torque: None,
        mud: None,
        slip_length: tube::SLIP_LENGTH,
        slip_friction: tube::SLIP_FRICTION,
        around: Surroundings::default(),
    };
    report.push(Block::Heading(format!("Tube {}", spec.title())));
    for block in tube::parts(&question, notes)? {
        report.push(block);
    }
    match facts.last.as_ref() {
        Some((_, run)) if question.tension.is_some() => notes.push(format!(
            "\"under load\" and the bends are at the most pull of its last run, {}",
            run.name
        )),
        Some((_, run)) => notes.push(format!(
            "the tension of its last run, {}, is not known: no survey, no mud weight, or it hung \
             near the top of nothing",
            run.name
        )),
        None => notes.push("it has no run in the book: no tension to rate it at".to_owned()),
    }
    Ok(())
}

/// One sheet for both ends where they are alike, else one for each.
fn connection_parts(
    facts: &Facts,
    spec: Option<&TubeSpec>,
    report: &mut Report,
    notes: &mut Vec<String>,
) {
    let r = &facts.row;
    let pin = r.connection.as_deref();
    let box_ = r.box_connection.as_deref().or(pin);
    let Some(name) = pin else { return };
    if box_ != pin {
        notes.push(format!(
            "the box is {}, the pin {name}: rated as the pin, since a pair is alike",
            box_.unwrap_or_default()
        ));
    }
    let collar = facts.on() == On::Collar;
    let bore = facts.dim("pin_id").or_else(|| {
        let (od, wall) = (r.od.map(metres)?, r.nominal_wall.map(metres)?);
        Some(od - 2.0 * wall)
    });
    let od = facts.dim("box_od").or_else(|| collar.then(|| facts.dim("od")).flatten());
    let asked = (|| {
        let connection: ConnectionType = name.parse().map_err(words)?;
        let od = od.ok_or_else(|| words("its outside diameter is not recorded"))?;
        let id = bore.ok_or_else(|| words("its bore is not recorded"))?;
        let mut d = Dimensions::new(od, id);
        // A pin as wide as the box limits nothing.
        d.pin_od = facts.measured("pin_od").filter(|p| *p < od);
        d.counterbore = facts.measured("counterbore");
        d.bevel = [facts.measured("box_bevel"), facts.measured("pin_bevel")]
            .into_iter()
            .flatten()
            .reduce(f64::min);
        let question = ConnectionQuestion {
            connection,
            dimensions: d,
            on: facts.on(),
            compound: None,
            tube: spec.cloned(),
            measured: measured_wall(facts),
            makeup: None,
            yield_strength: None,
        };
        super::connection::parts(&question, notes)
    })();
    match asked {
        Ok(blocks) => {
            report.push(Block::Heading(format!("Connection {name}")));
            blocks.into_iter().for_each(|b| report.push(b));
        }
        Err(e) => notes.push(format!("the connection cannot be rated: {e}")),
    }
}

fn bend_parts(
    book: &Book,
    facts: &Facts,
    spec: &TubeSpec,
    q: &JointQuestion,
    report: &mut Report,
    notes: &mut Vec<String>,
) -> Result<(), ReportError> {
    let method: Method = method::in_force(book)?;
    let environment = facts.last.as_ref().and_then(|(_, run)| run.environment);
    let environment = environment.unwrap_or(Environment::Air);
    let settings = method.settings(environment);
    let sharpest = facts.last.as_ref().and_then(|(in_run, _)| in_run.figures.max_dogleg);
    let length = facts.row.length.map_or(dogleg::RANGE_2, metres);
    let question = DoglegQuestion {
        tube: spec.clone(),
        classes: TubeClass::ALL.to_vec(),
        measured: measured_wall(facts),
        tension: last_tension(facts),
        dogleg: last_tension(facts)
            .and(sharpest)
            .filter(|d| *d > 0)
            .map(|d| dogleg::curvature(M::Dogleg.base_f64(d))),
        length,
        tool_joint: facts.dim("box_od"),
        environment,
        curve: method.curve(environment).clone(),
        rule: settings.mean_stress,
        turns: 1000.0,
        speed: None,
        notch: notch(&facts.findings, q.root, notes),
        side_force: dogleg::SIDE_FORCE,
        around: facts.around(),
    };
    report.push(Block::Heading("Bends".to_owned()));
    for block in dogleg::parts(&question, notes)? {
        report.push(block);
    }
    Ok(())
}

/// The deepest open cut or pit as a notch.
fn notch(findings: &[FindingRow], root: f64, notes: &mut Vec<String>) -> Option<Notch> {
    let cuts = || findings.iter().filter(|f| is_notch(&f.what, f.transverse));
    let deepest = cuts().filter_map(|f| Some((f.size?, f))).max_by_key(|(size, _)| *size);
    let unmeasured = cuts().filter(|f| f.size.is_none()).count();
    if unmeasured > 0 {
        notes.push(format!(
            "{unmeasured} open cuts or pits have no depth in the book: what they do to the stress \
             is not counted"
        ));
    }
    let (size, finding) = deepest?;
    notes.push(format!(
        "the deepest open cut or pit ({}) is counted as a notch; no inspection measures its root, \
         {:.2} mm is assumed",
        finding.what.replace('_', " "),
        root * 1e3
    ));
    Some(Notch { depth: metres(size), root })
}

fn open_findings(findings: &[FindingRow]) -> Option<String> {
    let words: Vec<String> = findings.iter().map(|f| f.what.replace('_', " ")).collect();
    (!words.is_empty())
        .then(|| format!("open findings that no rating here knows of: {}", words.join(", ")))
}
