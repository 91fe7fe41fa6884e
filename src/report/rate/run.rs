//! What a run's string carries at one bit depth, operation by operation, and whether the log's hook
//! load agrees.

use crate::mechanics::loads::hookload::{self, Comparison, Suspicion};
use crate::mechanics::loads::{
    AtBit, Buckling, Friction, LoadFigure, Operation, OperationLoads, SoftString, profile,
};
use crate::model::{Body, RunBody};
use crate::projection::exposure::StringAt;
use crate::schema::RunRow;
use crate::store::Book;
use crate::units::Measure as M;

use super::super::lookup::find_run;
use super::super::{Block, Cell, Column, Fact, Report, ReportError, Table};
use super::{Surroundings, close, flag, maybe, words};

/// Friction where neither the run nor the question says one: 0.25, the low end of what the 1984
/// paper found in water-base mud.
pub const FRICTION: f64 = 0.25;
/// Rows of a profile where no spacing is asked for.
const ROWS: f64 = 16.0;

/// What is asked. SI units.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct RunQuestion {
    pub run: String,
    /// Bit depth; the run's deepest where none is given.
    pub bit: Option<f64>,
    /// Friction coefficient in open hole.
    pub friction: Option<f64>,
    /// Friction coefficient in casing and riser.
    pub friction_cased: Option<f64>,
    /// Weight on bit, N.
    pub wob: Option<f64>,
    /// Torque at the bit, N·m.
    pub bit_torque: Option<f64>,
    /// Block and top drive on the hook, N.
    pub block: Option<f64>,
    /// Mud weight in place of the run's, kg/m³.
    pub mud: Option<f64>,
    /// Spacing of the rows.
    pub every: Option<f64>,
}

/// A run with its string at one bit depth.
#[derive(Debug)]
pub(super) struct Loaded {
    pub row: RunRow,
    pub body: Box<RunBody>,
    pub string: StringAt,
    pub bit: f64,
}

impl Loaded {
    pub(super) fn around(&self) -> Surroundings {
        let e = self.string.case.environment;
        Surroundings { sour: e.hydrogen_sulphide, celsius: e.hottest_celsius }
    }
}

/// Reads a run and its string as it was when the bit stood at a depth, the run's deepest where none
/// is given.
pub(super) fn hang(book: &Book, row: RunRow, bit: Option<f64>) -> Result<Loaded, ReportError> {
    let name = row.name.clone();
    let entry = book.counted(row.run)?;
    let Body::Run(body) = entry.body else {
        return Err(words(format!("{name} is no run")));
    };
    let bit = match bit.or_else(|| row.depth_out.map(|d| d as f64 * 1e-9)) {
        Some(bit) if bit > 0.0 => bit,
        _ => return Err(words(format!("{name} says no depth; give --bit"))),
    };
    let model = book.appraiser()?.run_model(row.run)?;
    let string = model.string_at(bit).map_err(|e| words(format!("{name}: {e}")))?;
    Ok(Loaded { row, body, string, bit })
}

/// The same where the loads of the string are asked for: its hole and its mud have to be known.
pub(super) fn load(
    book: &Book,
    name: &str,
    bit: Option<f64>,
    mud: Option<f64>,
) -> Result<Loaded, ReportError> {
    let row = find_run(book, name)?;
    if row.survey.is_none() {
        return Err(words(format!(
            "there is no survey of {}: without the hole nobody can say what hangs on what; load one",
            row.well
        )));
    }
    let mut loaded = hang(book, row, bit)?;
    if let Some(mud) = mud {
        loaded.string.case.fluids = crate::mechanics::string::Fluids::same(mud);
        loaded.string.mud_known = true;
    }
    if !loaded.string.mud_known {
        return Err(words(format!(
            "the mud weight of {name} is not recorded, so its tensions are not known; give --mud"
        )));
    }
    Ok(loaded)
}

pub fn report(book: &Book, q: &RunQuestion) -> Result<Report, ReportError> {
    let loaded = load(book, &q.run, q.bit, q.mud)?;
    let case = &loaded.string.case;
    let mut notes = Vec::new();
    let friction = friction(q, &loaded, &mut notes)?;
    let wob = wob(q, &loaded, &mut notes);
    let at_bit = AtBit { wob, torque: q.bit_torque.unwrap_or(0.0) };
    let stated = loaded.body.block_weight.as_ref().and_then(|b| b.base(M::Force));
    let block = q.block.or(stated);
    let soft = SoftString { path: &case.path, string: &case.string, fluids: case.fluids, friction };
    let distances = distances(&loaded, q.every);
    let loads = profile(&soft, &case.bore, loaded.bit, at_bit, &distances).map_err(words)?;
    let comparison = compared(&loaded, friction, block, &mut notes)?;

    let mut report = Report::new("rate run");
    report.push(Block::Heading(format!("Loads of run {} in {}", loaded.row.name, loaded.row.well)));
    flag(&mut report, &loaded.around(), loaded.around().on_strength());
    report.push(Block::Facts { name: "run", facts: facts(&loaded, friction, at_bit, block) });
    report.push(Block::Table(operations(&loads, block)));
    report.push(Block::Table(along(&loaded, &loads)));
    if let Some(c) = &comparison {
        report.push(Block::Table(hook_table(c)));
    }
    string_notes(q, &loaded, &loads, &mut notes);
    close(
        &mut report,
        notes,
        "Steady loads of a soft string; shock, stick-slip and overpull come on top.",
    );
    Ok(report)
}

fn friction(
    q: &RunQuestion,
    loaded: &Loaded,
    notes: &mut Vec<String>,
) -> Result<Friction, ReportError> {
    let stated = loaded.body.friction.as_ref().and_then(|f| f.base(M::Factor));
    let open = q.friction.or(stated).unwrap_or_else(|| {
        notes.push(format!(
            "the run states no friction factor: {FRICTION} was taken, the low end of the 1984 paper"
        ));
        FRICTION
    });
    let cased = q.friction_cased.unwrap_or(open);
    if ![open, cased].iter().all(|f| (0.0..=1.0).contains(f)) {
        return Err(words("a friction factor lies between 0 and 1"));
    }
    let case = &loaded.string.case;
    Ok(Friction { cased, open, cased_to: case.cased_to.max(case.riser_to) })
}

/// Weight on bit: as asked, else of the last drilling at that depth.
fn wob(q: &RunQuestion, loaded: &Loaded, notes: &mut Vec<String>) -> f64 {
    if let Some(wob) = q.wob {
        return wob;
    }
    let there = |from: i64, to: i64| {
        let (a, b) = (from as f64 * 1e-3, to as f64 * 1e-3);
        (a.min(b) - 0.5..=a.max(b) + 0.5).contains(&loaded.bit)
    };
    let logged = loaded
        .body
        .segments
        .iter()
        .rev()
        .find(|s| s.activity.drills() && there(s.bit_from_mm, s.bit_to_mm))
        .and_then(|s| s.wob_n);
    logged.map_or_else(
        || {
            notes.push("the log has no weight on bit at that depth: none was taken".to_owned());
            0.0
        },
        |n| n as f64,
    )
}

/// Distances from the bit at which the profile is shown: where the string changes, and evenly.
fn distances(loaded: &Loaded, every: Option<f64>) -> Vec<f64> {
    let string = &loaded.string.case.string;
    let top = loaded.bit.min(string.length());
    let step = every.filter(|s| *s > 0.0).unwrap_or(top / ROWS).max(top / 2000.0);
    let mut list = vec![0.0];
    let parts = string.parts();
    for (i, pair) in parts.windows(2).enumerate() {
        if pair[0].kind != pair[1].kind || (pair[0].id - pair[1].id).abs() > 1e-4 {
            list.push(string.distances()[i + 1]);
        }
    }
    let mut depth = step;
    while depth < loaded.bit {
        list.push(loaded.bit - depth);
        depth += step;
    }
    list.retain(|d| (0.0..top).contains(d));
    list.sort_by(f64::total_cmp);
    // Even rows that nearly stand on a change of the string say nothing more.
    list.dedup_by(|b, a| *b - *a < 0.2 * step.min(30.0));
    list
}

fn facts(loaded: &Loaded, f: Friction, at_bit: AtBit, block: Option<f64>) -> Vec<Fact> {
    let case = &loaded.string.case;
    let of = |name, label, value: f64, m| Fact::of(name, label, Cell::Real(value), m);
    let mut facts = vec![
        of("bit", "bit at", loaded.bit, M::Depth),
        of("length", "string", case.string.length(), M::Depth),
        of("mud", "mud outside", case.fluids.outside, M::Density),
    ];
    if (case.fluids.inside - case.fluids.outside).abs() > 1e-9 {
        facts.push(of("mud_inside", "mud inside", case.fluids.inside, M::Density));
    }
    facts.push(of("friction", "friction, open hole", f.open, M::Factor));
    if f.cased_to > 0.0 {
        facts.push(of("friction_cased", "friction, cased", f.cased, M::Factor));
        facts.push(of("cased_to", "cased to", f.cased_to, M::Depth));
    }
    facts.push(Fact::of("hole", "hole", maybe(case.bore.at(loaded.bit)), M::Diameter));
    facts.push(of("wob", "weight on bit", at_bit.wob, M::Force));
    if at_bit.torque != 0.0 {
        facts.push(of("bit_torque", "torque at the bit", at_bit.torque, M::Torque));
    }
    facts.push(Fact::of("block", "block and top drive", maybe(block), M::Force));
    facts
}

/// One row an operation: what the hook sees.
fn operations(loads: &[OperationLoads], block: Option<f64>) -> Table {
    let mut columns = vec![
        Column::plain("operation", "operation"),
        Column::of("string_load", "string load", M::Force)
            .from(LoadFigure::Drag.source().sentence()),
        Column::of("hook_load", "hook load", M::Force),
        Column::of("torque", "torque", M::Torque),
        Column::of("least_tension", "least\ntension", M::Force).dispensable(1),
        Column::plain("buckling", "worst place").from(LoadFigure::Buckling.source().sentence()),
    ];
    if block.is_none() {
        columns.retain(|c| c.name != "hook_load");
    }
    let rows = loads
        .iter()
        .map(|o| {
            let top = o.at_table();
            let mut row =
                vec![Cell::Text(o.operation.name().to_owned()), maybe(top.map(|t| t.tension))];
            if let Some(block) = block {
                row.push(maybe(top.map(|t| t.tension + block)));
            }
            row.extend([
                maybe(top.map(|t| t.torque)),
                Cell::Real(o.least_tension),
                Cell::Text(o.worst.name().to_owned()),
            ]);
            row
        })
        .collect();
    Table { name: "operations", columns, rows, ..Table::default() }
}

/// The profile, from the table down.
fn along(loaded: &Loaded, loads: &[OperationLoads]) -> Table {
    let rotating = LoadFigure::RotatingTension.source().sentence();
    let mut table = Table {
        name: "profile",
        columns: vec![
            Column::of("depth", "depth", M::Depth),
            Column::plain("part", "part"),
            Column::of("dogleg", "dogleg", M::Dogleg).dispensable(3),
            Column::of("rotating", "rotating", M::Force).from(rotating),
            Column::of("on_bottom", "drilling", M::Force).dispensable(1),
            Column::of("sliding", "sliding", M::Force),
            Column::of("pick_up", "pick-up", M::Force),
            Column::of("slack_off", "slack-off", M::Force),
            Column::of("torque", "torque", M::Torque).dispensable(2),
            Column::of("side_force", "side force", M::LinearForce)
                .from(LoadFigure::SideForce.source().sentence())
                .dispensable(4),
            Column::plain("buckling", "buckles").dispensable(5),
        ],
        ..Table::default()
    };
    let of = |operation| loads.iter().find(|l| l.operation == operation);
    let Some(first) = loads.first() else { return table };
    for (i, point) in first.points.iter().enumerate().rev() {
        let tension = |op| maybe(of(op).and_then(|l| l.points.get(i)).map(|p| p.tension));
        let drilling = of(Operation::RotatingOnBottom).and_then(|l| l.points.get(i));
        let worst = loads
            .iter()
            .filter_map(|l| l.buckling.get(i).map(|b| (*b, l.operation)))
            .max_by_key(|(b, _)| *b)
            .filter(|(b, _)| *b > Buckling::Stable);
        let case = &loaded.string.case;
        let md = (loaded.bit - point.distance).max(0.0);
        let part = case.string.part_at((point.distance - 1e-6).max(0.0));
        table.rows.push(vec![
            Cell::Real(md),
            Cell::Text(loaded.string.parts[part].name.clone()),
            super::dogleg_cell(case.path.curvature(md)),
            tension(Operation::RotatingOffBottom),
            tension(Operation::RotatingOnBottom),
            tension(Operation::Sliding),
            tension(Operation::PickUp),
            tension(Operation::SlackOff),
            maybe(drilling.map(|p| p.torque)),
            maybe(drilling.map(|p| p.side_force)),
            worst.map_or(Cell::Missing, |(b, op)| {
                Cell::Text(format!("{}: {}", op.name(), b.name()))
            }),
        ]);
    }
    table
}

fn string_notes(
    q: &RunQuestion,
    loaded: &Loaded,
    loads: &[OperationLoads],
    notes: &mut Vec<String>,
) {
    let case = &loaded.string.case;
    if case.string.length() + 1.0 < loaded.bit {
        notes.push("the tally is shorter than the hole: its top hangs below the table".to_owned());
    }
    if q.bit_torque.is_none() {
        notes.push("the torque is that of friction alone; --bit-torque adds the bit's".to_owned());
    }
    let guessed = loaded.string.parts.iter().filter(|p| !p.weight_stated).count();
    if guessed > 0 {
        notes.push(format!(
            "{guessed} parts have no stated weight: that of their plain section was taken"
        ));
    }
    let unknown = loaded.string.parts.iter().filter(|p| !p.section_known).count();
    if unknown > 0 {
        notes.push(format!(
            "{unknown} parts have no known section; 5 in pipe was taken for stiffness"
        ));
    }
    if loaded.bit > case.path.surveyed_to() + 1.0 {
        notes.push(
            "the bit is beyond the last survey station: the hole is taken as straight there"
                .to_owned(),
        );
    }
    let buckled: Vec<&str> = loads
        .iter()
        .filter(|l| l.worst >= Buckling::Sinusoidal)
        .map(|l| l.operation.name())
        .collect();
    if !buckled.is_empty() {
        notes.push(format!(
            "outside validity: the string buckles when {}: from there up the drag is larger than \
             these figures, and pipe turned while buckled tires without any dogleg",
            buckled.join(" and ")
        ));
    }
    if loads.iter().any(|l| l.worst == Buckling::Unknown) {
        notes.push(
            "the hole's diameter is not recorded: whether compressed pipe buckles is unknown"
                .to_owned(),
        );
    }
}

/// The log's hook load beside ours.
fn compared(
    loaded: &Loaded,
    friction: Friction,
    block: Option<f64>,
    notes: &mut Vec<String>,
) -> Result<Option<Comparison>, ReportError> {
    let case = &loaded.string.case;
    if case.segments.iter().all(|s| s.hookload.is_none()) {
        notes.push(
            "the log of this run carries no hook load; an operations file or log with a hook-load \
             column would be compared here, and tell whether string or mud data are wrong"
                .to_owned(),
        );
        return Ok(None);
    }
    let Some(block) = block else {
        notes.push(
            "the log has hook loads, the run no block weight: give it in the run's file or as \
             --block to compare them"
                .to_owned(),
        );
        return Ok(None);
    };
    if !loaded.body.swaps.is_empty() {
        notes.push(
            "joints were swapped during the run; hook loads are compared only while the string of \
             this depth hung"
                .to_owned(),
        );
    }
    let loads = hookload::compare(case, friction, block).map_err(words)?;
    let Some(read) = hookload::read(&loads, block) else { return Ok(None) };
    notes.push(suspicion(&read));
    Ok(Some(read))
}

fn hook_table(c: &Comparison) -> Table {
    use crate::mechanics::loads::Motion;
    let name = |m: Motion| match m {
        Motion::Rotating => "turning",
        Motion::PickUp => "pulled",
        Motion::SlackOff => "lowered",
    };
    Table {
        name: "hook_load",
        columns: vec![
            Column::plain("motion", "hook load, string"),
            Column::plain("segments", "pieces of\nthe log"),
            Column::of("computed", "computed", M::Force)
                .from(LoadFigure::HookLoad.source().sentence()),
            Column::of("logged", "logged", M::Force),
            Column::of("difference", "logged less\ncomputed", M::Force),
            Column::of("share", "of the\nstring", M::Ratio),
        ],
        rows: c
            .kinds
            .iter()
            .map(|k| {
                vec![
                    Cell::Text(name(k.motion).to_owned()),
                    Cell::count(k.segments),
                    Cell::Real(k.computed),
                    Cell::Real(k.logged),
                    Cell::Real(k.difference),
                    Cell::Real(k.share),
                ]
            })
            .collect(),
        ..Table::default()
    }
}

/// What the difference may tell.
fn suspicion(c: &Comparison) -> String {
    let tells = match c.suspicion {
        Suspicion::None => "log and computation agree within 5 % of the string",
        Suspicion::Offset => {
            "the difference is about the same at light and heavy string: look at the block weight \
             and the sensor's zero"
        }
        Suspicion::Scale => {
            "the difference grows with the string: look at weights and lengths of the tally, the \
             mud weight, and the sensor's scale"
        }
        Suspicion::Weight => {
            "the turning string differs from the log: look at the tally's weights, the mud weight, \
             the block weight and the sensor; the log varies too little to tell which"
        }
        Suspicion::Friction => {
            "the turning string agrees, the moving one does not: look at the friction factor, or at \
             the hole"
        }
    };
    match c.fit {
        Some((_, slope)) if c.suspicion == Suspicion::Scale => {
            format!("{tells} (the log is {:.0} % of the computed string)", slope * 100.0)
        }
        _ => tells.to_owned(),
    }
}

/// Tension, hole and surroundings at a place of a run, the string turning with the bit at its
/// deepest.
#[derive(Clone, Debug, PartialEq)]
pub struct StringPoint {
    /// Name of the run.
    pub run: String,
    /// Serial or name of the part there.
    pub part: String,
    pub tension: f64,
    /// Curvature of the hole, rad/m.
    pub curvature: f64,
    /// Length of the part, m.
    pub length: f64,
    pub tool_joint: Option<f64>,
    /// What the mud does to fatigue, where recorded.
    pub environment: Option<crate::model::Environment>,
    pub around: Surroundings,
    /// Wall of the body on the day of the run, m.
    pub wall: f64,
}

/// Looks at a place of a run.
///
/// # Errors
/// A sentence when the run is not known, or when nothing of the string hangs at that depth.
pub fn place(
    book: &Book,
    run: &str,
    bit: Option<f64>,
    md: f64,
) -> Result<StringPoint, ReportError> {
    let loaded = load(book, run, bit, None)?;
    let case = &loaded.string.case;
    let distance = loaded.bit - md;
    if !(0.0..=case.string.length()).contains(&distance) || md < 0.0 {
        return Err(words(format!(
            "nothing of the string of {run} hangs at that depth while the bit is at {}",
            M::Depth
                .store_f64(loaded.bit)
                .map_or_else(String::new, |n| { M::Depth.text(n, book.identity().units) })
        )));
    }
    let rotating =
        crate::mechanics::loads::RotatingTension::new(&case.path, &case.string, &case.fluids);
    let mut unsaid = Vec::new();
    let wob = wob(&RunQuestion::default(), &loaded, &mut unsaid);
    let index = case.string.part_at(distance);
    let part = &case.string.parts()[index];
    Ok(StringPoint {
        run: loaded.row.name.clone(),
        part: loaded.string.parts[index].name.clone(),
        tension: rotating.at(loaded.bit, wob).tension(distance),
        curvature: case.path.curvature(md),
        length: part.length,
        tool_joint: part.tool_joint_od,
        environment: loaded.body.environment,
        around: loaded.around(),
        wall: part.wall(),
    })
}
