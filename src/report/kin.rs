//! Sisters of a joint: what each shares with it, where each is now, and which to inspect first.

use std::collections::{BTreeMap, BTreeSet};

use crate::condition::Capabilities;
use crate::model::{Clock, Instant, Method, Name, Scope, Vocabulary, fold, same_name};
use crate::schema::{
    InspectionRow, JointRow, JointRunRow, MakeupRow, RepairRow, Rows, RunRow, Totals,
};
use crate::store::Book;
use crate::units::Measure as M;

use super::life::{Life, Reader};
use super::lookup::joint_row;
use super::{Block, Cell, Column, Report, ReportError, Table, instant};

#[derive(Clone, Copy, Debug)]
pub struct Options {
    /// At most so many sisters.
    pub limit: usize,
    pub now: Instant,
    /// Clock offset to show days at.
    pub clock: Clock,
}

/// Points for what is shared, in hundredths. The order is a suggestion: common practice asks for
/// the same steel, the same bends under the same pull and the same hands first, and no standard
/// weighs them.
const HEAT: i64 = 200;
const TOOL_JOINT_HEAT: i64 = 100;
const ORDER: i64 = 100;
const WELD_LOT: i64 = 100;
/// All of the joint's damage done in bends and under pulls that the sister met too.
const BENDS: i64 = 400;
const RUNS: i64 = 100;
/// Each run beside it, four at most.
const NEIGHBOUR: i64 = 50;
/// Made up with a gauge that failed its check, as it was.
const BAD_GAUGE: i64 = 100;
const GAUGE: i64 = 25;
/// Each run with the same slips or bushing in doubt, four at most.
const BAD_EQUIPMENT: i64 = 50;
const TICKET: i64 = 100;

/// How close bend and pull must be to count as the same: within a tenth.
const SAME: i64 = 10;

/// What a sister shares.
#[derive(Clone, Debug, Default)]
struct Shares {
    heat: Option<String>,
    tool_joint_heat: bool,
    order: bool,
    weld_lot: bool,
    runs: i64,
    neighbour: i64,
    /// Damage of the joint in bends and under pulls that the sister met too.
    bends: i64,
    gauges: BTreeSet<String>,
    bad_gauge: bool,
    bad_equipment: i64,
    tickets: BTreeSet<String>,
}

/// Runs and damage of the joint that is asked about.
struct Whole {
    runs: i64,
    damage: i64,
}

impl Shares {
    fn points(&self, whole: &Whole) -> i64 {
        let part = |n: i64, of: i64, worth: i64| {
            let share = i128::from(n) * i128::from(worth) / i128::from(of.max(1));
            i64::try_from(share).unwrap_or(worth).min(worth)
        };
        let flag = |holds: bool, worth: i64| if holds { worth } else { 0 };
        flag(self.heat.is_some(), HEAT)
            + flag(self.tool_joint_heat, TOOL_JOINT_HEAT)
            + flag(self.order, ORDER)
            + flag(self.weld_lot, WELD_LOT)
            + part(self.bends, whole.damage, BENDS)
            + part(self.runs, whole.runs, RUNS)
            + NEIGHBOUR * self.neighbour.min(4)
            + if self.bad_gauge { BAD_GAUGE } else { flag(!self.gauges.is_empty(), GAUGE) }
            + BAD_EQUIPMENT * self.bad_equipment.min(4)
            + flag(!self.tickets.is_empty(), TICKET)
    }

    fn words(&self, whole: &Whole) -> String {
        let mut out = Vec::new();
        out.extend(self.heat.as_ref().map(|h| format!("heat {h}")));
        if self.tool_joint_heat {
            out.push("tool joint heat".to_owned());
        }
        if self.order {
            out.push("mill order".to_owned());
        }
        if self.weld_lot {
            out.push("weld lot".to_owned());
        }
        if self.runs > 0 {
            out.push(format!("{} of {} runs", self.runs, whole.runs));
        }
        if self.neighbour > 0 {
            out.push(format!("next to it in {}", self.neighbour));
        }
        let share = i128::from(self.bends) * 100 / i128::from(whole.damage.max(1));
        if share > 0 {
            out.push(format!("bends and pulls that did {share} % of its damage"));
        }
        if !self.gauges.is_empty() {
            let list: Vec<&str> = self.gauges.iter().map(String::as_str).collect();
            let doubt = if self.bad_gauge { " while in doubt" } else { "" };
            out.push(format!("gauge {}{doubt}", list.join(", ")));
        }
        if self.bad_equipment > 0 {
            out.push(format!("slips or bushing in doubt in {} runs", self.bad_equipment));
        }
        if !self.tickets.is_empty() {
            let list: Vec<&str> = self.tickets.iter().map(String::as_str).collect();
            out.push(format!("repair ticket {}", list.join(", ")));
        }
        out.join("; ")
    }
}

pub(super) struct Sister {
    pub row: JointRow,
    points: i64,
    words: String,
    /// Its last search for cracks in the scope that matters.
    searched: Option<i64>,
    running: String,
    close: bool,
}

pub fn report(book: &Book, joint: i64, options: &Options) -> Result<Report, ReportError> {
    let reader = Reader::new(book);
    let life = reader.life(joint)?;
    let mut report = Report::new("kin");
    report.push(Block::Heading(format!("Kin of {}", life.row.serial)));
    for block in blocks(&reader, &life, options)? {
        report.push(block);
    }
    Ok(report)
}

/// Sisters, and which of them to inspect.
pub(super) fn blocks(
    reader: &Reader<'_>,
    life: &Life,
    options: &Options,
) -> Result<Vec<Block>, ReportError> {
    let scope = scope_of(life);
    let all = sisters(reader, life, scope, options)?;
    let count = all.len();
    let rows = all.iter().take(options.limit).map(|s| row(s, options)).collect();
    let scope_name = scope.word().replace('_', " ");
    let mut out = vec![Block::Table(Table {
        name: "kin",
        columns: vec![
            Column::field(JointRow::serial()),
            Column::of("points", "points", M::Factor),
            Column::plain("shares", "shares"),
            Column::field(Totals::damage()),
            Column::field(JointRow::class()).dispensable(2),
            Column::plain("searched", &format!("{scope_name} looked for")).dispensable(1),
            Column::field(JointRow::location()),
            Column::field(JointRow::status()).dispensable(3),
            Column::plain("running", "running"),
        ],
        rows,
        empty: "no joint of the book shares anything with it".to_owned(),
        below: Some(2),
    })];
    let standards = reader.adoptions()?.standards_at(options.now);
    let can = &standards.capabilities;
    out.push(Block::Table(suggested(can, life, &all, scope, options)));
    if count > options.limit {
        out.push(Block::Note(format!(
            "{count} joints share something; the first {} shown",
            options.limit
        )));
    }
    out.push(Block::Note(format!(
        "points: heat {}, tool joint heat, mill order, weld lot and repair ticket {} each, runs up to \
         {}, bends and pulls within a tenth of its own up to {} by the damage that they did, {} for \
         each run beside it, {} for a gauge that failed its check, {} for each run with slips or bushing in \
         doubt; common practice, no standard \
         weighs them; the order is a suggestion",
        HEAT / 100,
        ORDER / 100,
        RUNS / 100,
        BENDS / 100,
        NEIGHBOUR as f64 / 100.0,
        BAD_GAUGE / 100,
        BAD_EQUIPMENT as f64 / 100.0,
    )));
    Ok(out)
}

/// The scope in which sisters are to be searched: where the joint failed, else the slip area, where
/// most tubes fail (common practice).
fn scope_of(life: &Life) -> Scope {
    use crate::model::{End, Place};
    match life.failure().map(|f| (f.place, f.end)) {
        Some((Some(Place::Body), _)) => Scope::BodyCracks,
        Some((Some(Place::Upset), _)) => Scope::UpsetCracks,
        Some((Some(Place::SlipArea), _)) => Scope::SlipCracks,
        Some((_, Some(End::Pin))) => Scope::PinCracks,
        Some((_, Some(End::Box))) => Scope::BoxCracks,
        _ => Scope::SlipCracks,
    }
}

fn alike(a: Option<i64>, b: Option<i64>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => (a - b).abs().saturating_mul(SAME) <= a.abs(),
        _ => false,
    }
}

fn sisters(
    reader: &Reader<'_>,
    life: &Life,
    scope: Scope,
    options: &Options,
) -> Result<Vec<Sister>, ReportError> {
    let mut shares: BTreeMap<i64, Shares> = BTreeMap::new();
    by_making(reader, life, &mut shares)?;
    by_runs(life, &mut shares);
    by_hands(reader, life, &mut shares)?;
    let own = life.row.joint;
    shares.remove(&own);
    let whole = Whole {
        runs: i64::try_from(life.runs.len()).unwrap_or(i64::MAX),
        damage: life.runs.iter().filter_map(|r| r.1.figures.worst_damage()).sum(),
    };
    let busy = busy(reader, options.now)?;
    let mut out = Vec::new();
    for (joint, shared) in shares {
        let Some(row) = joint_row(reader.book, joint)? else {
            continue;
        };
        let inspections: Vec<InspectionRow> = reader.book.rows_of(joint)?;
        let searched =
            inspections.iter().rev().find(|i| i.covers & (1 << scope.rank()) != 0).map(|i| i.date);
        let running = match busy.get(&joint) {
            Some(run) => format!("in {run}"),
            None if row.out => "no, out of service".to_owned(),
            None if row.on_hire != Some(false) => "may be: on hire".to_owned(),
            None => "no".to_owned(),
        };
        let points = shared.points(&whole);
        let close = shared.neighbour > 0 || shared.bends * 2 >= whole.damage.max(1);
        out.push(Sister { points, words: shared.words(&whole), searched, running, close, row });
    }
    out.sort_by(|a, b| {
        let damage = |s: &Sister| s.row.totals.damage.lo;
        (b.points, damage(b), &a.row.serial, &a.row.by_name).cmp(&(
            a.points,
            damage(a),
            &b.row.serial,
            &b.row.by_name,
        ))
    });
    Ok(out)
}

/// Joints in runs that go on now, each with the run.
fn busy(reader: &Reader<'_>, now: Instant) -> Result<BTreeMap<i64, String>, ReportError> {
    let mut out = BTreeMap::new();
    let now = Rows::all().at_most(RunRow::start(), now.0).above(RunRow::finish(), now.0);
    for run in reader.book.rows(&now)? {
        for j in reader.book.rows(&Rows::of(JointRunRow::run(), run.run))? {
            out.insert(j.joint, run.name.clone());
        }
    }
    Ok(out)
}

/// Heats, orders, weld lots.
fn by_making(
    reader: &Reader<'_>,
    life: &Life,
    shares: &mut BTreeMap<i64, Shares>,
) -> Result<(), ReportError> {
    let r = &life.row;
    let same = |a: &Option<String>, b: &Option<String>| {
        a.as_deref().zip(b.as_deref()).is_some_and(|(a, b)| same_name(a, b))
    };
    let mut alike = Vec::new();
    for (column, own) in [
        (JointRow::heat(), &r.heat),
        (JointRow::mill_order(), &r.mill_order),
        (JointRow::weld_lot(), &r.weld_lot),
    ] {
        alike.extend(own.as_deref().map(|own| Rows::all().named(column, own)));
    }
    for heat in [&r.pin_heat, &r.box_heat].into_iter().flatten() {
        alike.extend([
            Rows::all().named(JointRow::pin_heat(), heat),
            Rows::all().named(JointRow::box_heat(), heat),
        ]);
    }
    if alike.is_empty() {
        return Ok(());
    }
    for row in reader.book.rows(&Rows::all().any(alike))? {
        let s = shares.entry(row.joint).or_default();
        if same(&r.heat, &row.heat) {
            s.heat.clone_from(&r.heat);
        }
        s.order = same(&r.mill_order, &row.mill_order);
        s.weld_lot = same(&r.weld_lot, &row.weld_lot);
        let own = [&r.pin_heat, &r.box_heat];
        let theirs = [&row.pin_heat, &row.box_heat];
        s.tool_joint_heat = own.iter().any(|own| theirs.iter().any(|h| same(own, h)));
    }
    Ok(())
}

/// Runs, neighbours, bends and pulls.
fn by_runs(life: &Life, shares: &mut BTreeMap<i64, Shares>) {
    for (run, own) in &life.runs {
        let (below, above) = run.neighbours(own);
        let damage = own.figures.worst_damage().unwrap_or(0);
        for r in run.joints.iter().filter(|r| r.joint != own.joint) {
            let s = shares.entry(r.joint).or_default();
            s.runs += 1;
            s.neighbour += i64::from(Some(r.joint) == below || Some(r.joint) == above);
            s.bad_equipment += i64::from(run.row.equipment_doubtful);
            if alike(own.figures.max_dogleg, r.figures.max_dogleg)
                && alike(own.figures.max_tension, r.figures.max_tension)
            {
                s.bends = s.bends.saturating_add(damage);
            }
        }
    }
}

/// Gauges, slips and bushings, repair tickets.
fn by_hands(
    reader: &Reader<'_>,
    life: &Life,
    shares: &mut BTreeMap<i64, Shares>,
) -> Result<(), ReportError> {
    let mut gauges: BTreeMap<Name<'_>, bool> = BTreeMap::new();
    for m in &life.makeups {
        if let Some(gauge) = &m.gauge {
            *gauges.entry(Name(gauge)).or_default() |= m.instrument_doubtful;
        }
    }
    for (gauge, bad) in gauges {
        for m in reader.book.rows(&Rows::all().named(MakeupRow::gauge(), gauge.0))? {
            let s = shares.entry(m.joint).or_default();
            s.gauges.insert(gauge.0.to_owned());
            s.bad_gauge |= bad && m.instrument_doubtful;
        }
    }
    let tickets: BTreeSet<Name<'_>> =
        life.repairs.iter().filter_map(|r| r.ticket.as_deref().map(Name)).collect();
    for ticket in tickets {
        for r in reader.book.rows(&Rows::all().named(RepairRow::ticket(), ticket.0))? {
            shares.entry(r.joint).or_default().tickets.insert(ticket.0.to_owned());
        }
    }
    // The same slips or bushing in doubt, in runs that the joint was not in.
    let tags = |equipment: &Option<String>| -> BTreeSet<String> {
        equipment.iter().flat_map(|e| e.split(", ").map(fold)).collect()
    };
    let mine: BTreeSet<String> = life
        .runs
        .iter()
        .filter(|r| r.0.row.equipment_doubtful)
        .flat_map(|r| tags(&r.0.row.equipment))
        .collect();
    if mine.is_empty() {
        return Ok(());
    }
    let met: BTreeSet<i64> = life.runs.iter().map(|r| r.0.row.run).collect();
    for run in reader.book.rows(&Rows::of(RunRow::equipment_doubtful(), true))? {
        if !met.contains(&run.run) && !tags(&run.equipment).is_disjoint(&mine) {
            for j in reader.book.rows(&Rows::of(JointRunRow::run(), run.run))? {
                shares.entry(j.joint).or_default().bad_equipment += 1;
            }
        }
    }
    Ok(())
}

fn row(s: &Sister, options: &Options) -> Vec<Cell> {
    let class = s.row.class.map(|c| c.word().replace('_', " "));
    vec![
        Cell::Text(s.row.serial.clone()),
        Cell::Number(s.points * (M::Factor.quanta_per_base() / 100)),
        Cell::Text(s.words.clone()),
        Cell::from(s.row.totals.damage),
        Cell::text(class.as_deref()),
        s.searched.map_or(Cell::Text("never".to_owned()), |at| instant(at, options.clock)),
        Cell::text(s.row.location.as_deref()),
        Cell::word(s.row.status),
        Cell::Text(s.running.clone()),
    ]
}

/// Sisters to inspect first: those beside it or bent like it, still in service and not searched
/// since it failed.
fn suggested(
    can: &Capabilities,
    life: &Life,
    all: &[Sister],
    scope: Scope,
    options: &Options,
) -> Table {
    let failed = life.failure().map(|f| f.date);
    let best = all.first().map_or(0, |s| s.points);
    let methods: Vec<Method> = can.methods_for_scope(scope, life.row.component);
    let by: Vec<String> = methods.iter().map(|m| m.word().replace('_', " ")).collect();
    let scope_name = scope.word().replace('_', " ");
    let rows = all
        .iter()
        .filter(|s| !s.row.out && (s.close || s.points * 2 >= best))
        .filter(|s| failed.is_none_or(|at| s.searched.is_none_or(|seen| seen < at)))
        .take(10)
        .map(|s| {
            let since = match s.searched {
                Some(at) => {
                    let day = Instant(at).day(options.clock);
                    format!("{scope_name} not looked for since {day}")
                }
                None => format!("{scope_name} never looked for"),
            };
            vec![
                Cell::Text(s.row.serial.clone()),
                Cell::Text("inspection".to_owned()),
                Cell::Text(by.join(" or ")),
                Cell::Text(s.row.location.clone().unwrap_or_else(|| "place unknown".to_owned())),
                Cell::Text(s.running.clone()),
                Cell::Text(format!("{since}; shares {}", s.words)),
            ]
        })
        .collect();
    Table {
        name: "inspect_first",
        columns: vec![
            Column::plain("serial", "inspect first"),
            Column::plain("call", "call"),
            Column::plain("by", "by"),
            Column::field(JointRow::location()),
            Column::plain("running", "running"),
            Column::plain("reason", "because"),
        ],
        rows,
        empty: "no sister in service waits for a search".to_owned(),
        below: Some(5),
    }
}
