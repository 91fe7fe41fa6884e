//! One joint's whole life on one timeline, oldest first, with running totals; and, for a joint that
//! failed, what the record says about that.

mod detail;

use std::fmt::Write as _;

use std::collections::{BTreeMap, BTreeSet};

use crate::model::{Body, Clock, EntryId, EntryKind, Recorded};
use crate::projection::adoptions::Adoptions;
use crate::projection::facts::Placed;
use crate::projection::joint::READ_APART;
use crate::projection::kinds::{RANK_OF_RUNS, role};
use crate::schema::{InspectionRow, JointRow, JointRunRow, MakeupRow, Totals};
use crate::store::Book;
use crate::units::{Measure, UnitSystem};

pub use detail::changes;
pub(super) use detail::{CRACKS, is_off, unknown_of_run};
use detail::{Detail, KINDS};

use super::fitness;
use super::life::{Fallen, Life, Reader};
use super::lookup::joint_row;
use super::wear::Wear;
use super::{
    Block, Cell, Column, Fact, Present, Report, ReportError, Table, due, failure, instant,
};

#[derive(Clone, Debug, Default)]
pub struct Options {
    /// Kinds of record to show; all when empty.
    pub only: Vec<String>,
    /// Clock offset to show times at.
    pub clock: Clock,
    /// Now and here, to ask the rules in force of a joint that failed.
    pub present: Option<Present>,
}

/// One line of the timeline.
struct Line {
    at: i64,
    rank: u8,
    entry: EntryId,
    kind: EntryKind,
    told: Detail,
    struck: Option<Fallen>,
    /// What it adds to the sums.
    adds: Option<Adds>,
    author: String,
    program: String,
    /// When it was written, at the clock of the place.
    recorded: Recorded,
}

/// Hours and damage that a line adds: at least, and whether it may be more.
struct Adds {
    hours: (i64, bool),
    damage: ([i64; 3], bool),
}

fn wanted(only: &[String]) -> Result<Vec<EntryKind>, ReportError> {
    let mut out = Vec::new();
    for word in only {
        let key = crate::model::fold(word);
        let found = KINDS.iter().find(|(k, _)| *k == key || k.strip_suffix('s') == Some(&key));
        let Some((_, kinds)) = found else {
            let known: Vec<&str> = KINDS.iter().map(|k| k.0).collect();
            return Err(ReportError::Words(format!(
                "'{word}' is no kind of record; known: {}",
                known.join(", ")
            )));
        };
        out.extend_from_slice(kinds);
    }
    Ok(out)
}

/// The timeline of a joint.
pub fn report(book: &mut Book, joint: i64, options: &Options) -> Result<Report, ReportError> {
    let kinds = wanted(&options.only)?;
    let units = options.present.map_or(book.identity().units, |p| p.units);
    let called = match &options.present {
        Some(present) if kinds.is_empty() => failed_rules(book, joint, present)?,
        _ => None,
    };
    let told = match &options.present {
        Some(present) if kinds.is_empty() => due::standing(book, joint, present)?,
        _ => None,
    };
    let told = told.map(|(_, told)| told);
    let reader = Reader::in_units(book, units);
    // What led to a failure is looked for in whole runs.
    let failed = called.is_some() || has_failed(reader.book, joint)?;
    let life = if failed { reader.life(joint)? } else { reader.brief_life(joint)? };
    let mut report = Report::new("trace");
    report.push(Block::Heading(format!("{}, {}", life.row.serial, describe(&life.row, units))));
    report.push(today(&life, options.clock));
    if let Some(told) = &told {
        let name = |at: i64| reader.entry(at).map_or_else(|_| String::new(), |seen| seen.name());
        report.blocks.extend(fitness::blocks(told, &name, units));
    }
    report.push(Block::Table(timeline(&reader, &life, &kinds, options.clock)?));
    if let Some(present) = options.present.filter(|_| kinds.is_empty()) {
        let wear = Wear::beside(reader.book, &life.row, present.now.0)?;
        if let Some(block) = wear.block(&life.row) {
            report.push(block);
        }
    }
    for note in notes(&reader, &life)? {
        report.push(Block::Note(note));
    }
    if kinds.is_empty() {
        for block in failure::blocks(&reader, &life, called.as_deref(), options.clock)? {
            report.push(block);
        }
    }
    if told.is_some_and(|told| told.may_run()) {
        report.push(fitness::caution());
    }
    Ok(report)
}

/// What the rules called for on a joint that failed, as the book stood before the run began in which
/// it did; without a run, before it failed.
pub(super) fn failed_rules(
    book: &mut Book,
    joint: i64,
    present: &Present,
) -> Result<Option<Vec<failure::Called>>, ReportError> {
    let row = joint_row(book, joint)?;
    match row {
        Some(row) if row.failed_on.is_some() => failure::before_it(book, &row, present).map(Some),
        _ => Ok(None),
    }
}

fn has_failed(book: &Book, joint: i64) -> Result<bool, ReportError> {
    let row = joint_row(book, joint)?;
    Ok(row.is_some_and(|r| r.failed_on.is_some()))
}

pub(super) fn describe(row: &JointRow, units: UnitSystem) -> String {
    let mut parts = Vec::new();
    if let Some(od) = row.od {
        parts.push(Measure::Diameter.text(od, units));
    }
    if let Some(w) = row.weight {
        parts.push(Measure::LinearMass.text(w, units));
    }
    parts.extend(row.grade.clone());
    parts.extend(row.connection.clone());
    parts.push(row.component.to_string().replace('_', " "));
    parts.join(" ")
}

/// What the joint is today, and under which serials it was known.
pub(super) fn today(life: &Life, clock: Clock) -> Block {
    let row = &life.row;
    let plain = |w: String| w.replace('_', " ");
    let word = |w: Option<String>| w.map_or(Cell::Missing, |w| Cell::Text(plain(w)));
    let mut facts = vec![
        Fact::field(JointRow::introduced_by(), &row.introduced_by).named("entry"),
        Fact::field(JointRow::heat(), &row.heat),
        Fact::field(JointRow::class(), word(row.class.map(|c| c.to_string()))),
        Fact::field(JointRow::wall(), row.wall),
        Fact::field(JointRow::status(), Cell::word(row.status)),
        Fact::field(JointRow::location(), &row.location),
        Fact::field(JointRow::string(), &row.string),
        Fact::field(Totals::hours(), row.totals.hours),
        Fact::field(Totals::revolutions(), row.totals.revolutions),
        Fact::field(Totals::damage(), row.totals.damage),
    ];
    // Most joints of most strings are in none of these.
    for (column, hours) in [
        (Totals::compression_hours(), row.totals.compression_hours),
        (Totals::contact_hours(), row.totals.contact_hours),
        (Totals::buckled_hours(), row.totals.buckled_hours),
    ] {
        if hours.lo > 0 {
            facts.push(Fact::field(column, hours));
        }
    }
    let other: Vec<String> = life
        .serials
        .iter()
        .filter(|s| s.serial != row.serial)
        .map(|s| match s.until {
            Some(until) => {
                let day = crate::model::Instant(until).day(clock);
                format!("{} (until {day})", s.serial)
            }
            None => s.serial.clone(),
        })
        .collect();
    if !other.is_empty() {
        facts.push(Fact::plain("also_known_as", "also known as", Cell::Text(other.join(", "))));
    }
    for (name, n, label) in [
        ("pin_cuts", row.pin_generation, "pin cut anew"),
        ("box_cuts", row.box_generation, "box cut anew"),
    ] {
        if n > 1 {
            facts.push(Fact::plain(name, label, Cell::Text(format!("{}×", n - 1))));
        }
    }
    if let Some(reason) = &row.out_reason {
        facts.push(Fact::field(JointRow::out(), Cell::Text(plain(reason.clone()))));
    }
    Block::Facts { name: "joint", facts }
}

/// The lines of a joint's life in order of time.
pub(super) fn timeline(
    reader: &Reader<'_>,
    life: &Life,
    kinds: &[EntryKind],
    clock: Clock,
) -> Result<Table, ReportError> {
    let units = reader.units;
    let mut lines = entry_lines(life, reader.adoptions()?, units, clock);
    lines.extend(run_lines(reader, life, units)?);
    lines.sort_by(|a, b| (a.at, a.rank, &a.entry).cmp(&(b.at, b.rank, &b.entry)));
    let mut hours = 0i64;
    let mut places = [0i64; 3];
    let mut open = (!life.row.entered_new, !life.row.entered_new);
    let mut rows = Vec::new();
    for line in &lines {
        let mut totals = (Cell::Missing, Cell::Missing);
        if let Some(adds) = &line.adds {
            if line.struck.is_none() {
                hours += adds.hours.0;
                for (sum, x) in places.iter_mut().zip(adds.damage.0) {
                    *sum += x;
                }
                open.0 |= adds.hours.1;
                open.1 |= adds.damage.1;
            }
            let bound = |lo: i64, open: bool| Cell::bound(lo, (!open).then_some(lo));
            let worst = places.into_iter().max().unwrap_or(0);
            totals = (bound(hours, open.0), bound(worst, open.1));
        }
        if !kinds.is_empty() && !kinds.contains(&line.kind) {
            continue;
        }
        rows.push(row(line, totals, clock));
    }
    Ok(Table {
        name: "timeline",
        columns: vec![
            Column::plain("at", "when"),
            Column::plain("what", "what"),
            Column::plain("detail", "detail"),
            Column::of("hours", "hours so far", Measure::Hours),
            Column::of("damage", "damage so far", Measure::Damage),
            Column::plain("entry", "entry"),
            Column::plain("author", "by").dispensable(1),
            Column::plain("program", "with").dispensable(3),
            Column::plain("recorded", "written").dispensable(4),
            Column::plain("struck", "struck").dispensable(5),
        ],
        rows,
        empty: "nothing of that kind".to_owned(),
        below: Some(2),
    })
}

fn row(line: &Line, totals: (Cell, Cell), clock: Clock) -> Vec<Cell> {
    let mut detail = match &line.struck {
        Some(Fallen::By(by)) => format!("STRUCK by {by}: {}", line.told.detail),
        Some(Fallen::NotInForce(why)) => format!("NOT IN FORCE, {why}: {}", line.told.detail),
        None => line.told.detail.clone(),
    };
    if !line.told.unknown.is_empty() {
        let lead = if detail.is_empty() { "" } else { " | " };
        let _ = write!(detail, "{lead}not known: {}", line.told.unknown.join("; "));
    }
    vec![
        instant(line.at, clock),
        Cell::Text(line.kind.word().replace('_', " ")),
        Cell::Text(detail),
        totals.0,
        totals.1,
        Cell::Text(line.entry.to_string()),
        Cell::Text(line.author.clone()),
        Cell::Text(line.program.clone()),
        Cell::Time(line.recorded.at.at(clock)),
        if line.struck.is_some() { Cell::Truth(true) } else { Cell::Missing },
    ]
}

/// Lines of all entries that name the joint, struck ones included.
fn entry_lines(life: &Life, adoptions: &Adoptions, units: UnitSystem, clock: Clock) -> Vec<Line> {
    let at: BTreeMap<i64, usize> =
        life.inspections.iter().enumerate().map(|(n, r)| (r.entry, n)).collect();
    let inspection = |entry: i64| -> (Option<&InspectionRow>, Option<&InspectionRow>) {
        match at.get(&entry) {
            Some(n) => (life.inspections.get(*n), n.checked_sub(1).map(|b| &life.inspections[b])),
            None => (None, None),
        }
    };
    let gap = |entry: i64| life.gaps.iter().find(|g| g.entry == entry && g.since.is_some());
    let line = |seen: &super::life::Seen| {
        let told = match &seen.entry.body {
            Body::Makeup(_) => {
                let rows: Vec<&MakeupRow> =
                    life.makeups.iter().filter(|m| m.entry == seen.position).collect();
                detail::of_makeup(&rows, units)
            }
            Body::Inspection(b) => {
                let (row, before) = inspection(seen.position);
                let standards = adoptions.standards_at(seen.entry.starts(clock));
                let covers =
                    standards.capabilities.covers(life.row.component, &b.methods, &b.covers);
                detail::of_inspection(b, &covers, row, before, units)
            }
            Body::Failure(_) => life
                .failures
                .iter()
                .find(|f| f.entry == seen.position)
                .map_or_else(Detail::default, |f| detail::of_failure(f, units)),
            body @ Body::Repair(_) => {
                let row = life.repairs.iter().find(|r| r.entry == seen.position);
                detail::of_repair(body, row, units)
            }
            body @ Body::Gap(b) if seen.struck.is_none() => {
                let counted = detail::counted_of(b, gap(seen.position), units);
                let detail = [detail::of_body(body)].into_iter().chain(counted);
                Detail { detail: detail.collect::<Vec<_>>().join(", "), unknown: Vec::new() }
            }
            body => Detail { detail: detail::of_body(body), unknown: Vec::new() },
        };
        let told = told.amended(&seen.amended).again(seen.again.as_deref());
        let placed = Placed::new(seen.position, seen.entry.clone(), clock);
        Line {
            at: placed.at().0,
            rank: role(seen.entry.body.kind()).rank,
            kind: seen.entry.body.kind(),
            told,
            struck: seen.struck.clone(),
            // A stretch of which nothing is known leaves the sums open, and adds the hours told of it.
            adds: gap(seen.position)
                .map(|row| Adds { hours: (row.hours.unwrap_or(0), true), damage: ([0; 3], true) }),
            author: seen.entry.author.clone(),
            program: seen.entry.program.clone(),
            recorded: seen.entry.recorded,
            entry: seen.entry.id.clone(),
        }
    };
    life.entries.iter().map(|seen| line(seen)).collect()
}

fn of_run(r: &JointRunRow) -> Adds {
    let damage = [r.figures.damage_pin, r.figures.damage_middle, r.figures.damage_box];
    Adds {
        hours: (r.figures.hours.unwrap_or(0), r.figures.hours.is_none()),
        damage: (damage.map(Option::unwrap_or_default), damage.iter().any(Option::is_none)),
    }
}

fn run_lines(
    reader: &Reader<'_>,
    life: &Life,
    units: UnitSystem,
) -> Result<Vec<Line>, ReportError> {
    let mut lines = Vec::new();
    for (run, r) in &life.runs {
        let (below, above) = run.neighbours(r);
        let name = |joint: Option<i64>| joint.map(|j| reader.serial(j)).transpose();
        let (below, above) = (name(below)?, name(above)?);
        let head = &run.head;
        let amended = reader.book.amendments_of(&head.id)?;
        let amended: Vec<String> = amended.iter().map(|a| a.id.to_string()).collect();
        let told = detail::of_run(&run.row, r, (below.as_deref(), above.as_deref()), units);
        let told = told.amended(&amended);
        lines.push(Line {
            at: r.finish,
            rank: RANK_OF_RUNS,
            kind: EntryKind::Run,
            told,
            struck: None,
            adds: Some(of_run(r)),
            author: head.author.clone(),
            program: head.program.clone(),
            recorded: head.recorded,
            entry: head.id.clone(),
        });
    }
    Ok(lines)
}

/// What qualifies the whole life.
pub(super) fn notes(reader: &Reader<'_>, life: &Life) -> Result<Vec<String>, ReportError> {
    let mut notes = Vec::new();
    if !life.row.life_complete {
        notes.push(
            "part of this joint's life is not in the book: sums marked ≥ are lower bounds"
                .to_owned(),
        );
    }
    for c in &life.conflicts {
        let follows = if c.what.starts_with(READ_APART) {
            "the worse reading stands until a decision settles it"
        } else {
            "what depends on it is unknown until a decision settles it"
        };
        notes.push(format!(
            "conflict: {} ({} and {}); {follows}",
            c.what,
            reader.entry(c.first_entry)?.name(),
            reader.entry(c.second_entry)?.name(),
        ));
    }
    let told: BTreeSet<&EntryId> = life.entries.iter().map(|seen| &seen.entry.id).collect();
    let told_in_runs: BTreeSet<&EntryId> = life.runs.iter().map(|(r, _)| &r.head.id).collect();
    for said in reader.book.not_in_force()? {
        if told.contains(&said.target) || told_in_runs.contains(&said.target) {
            notes.push(said.to_string());
        }
    }
    let open: Vec<String> =
        life.findings.iter().filter(|f| f.open).map(|f| f.what.replace('_', " ")).collect();
    if !open.is_empty() {
        notes.push(format!("open findings: {}", open.join(", ")));
    }
    Ok(notes)
}
