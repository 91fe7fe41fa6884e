//! One joint's whole life on one timeline, oldest first, with running totals.

use std::collections::BTreeMap;

use crate::model::{Body, Entry, EntryId, Recorded, Stated, Vocabulary};
use crate::projection::facts::{Placed, rank};
use crate::projection::rows::{
    ConflictRow, FailureRow, FindingRow, InspectionRow, JointRow, JointRunRow, MakeupRow, RunRow,
    StruckRow, TouchRow,
};
use crate::store::Book;
use crate::units::{Measure, UnitSystem};

use super::exposure::worst_damage;
use super::{Block, Cell, Column, Fact, Report, ReportError, Table, instant};

/// What to show.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// Kinds of record to show; all when empty.
    pub only: Vec<String>,
    /// Clock offset to show times at.
    pub offset_minutes: i32,
}

/// One line of the timeline.
struct Line {
    at: i64,
    rank: u8,
    entry: EntryId,
    what: String,
    detail: String,
    struck: Option<String>,
    /// Hours and damage that it adds.
    adds: Option<(Option<i64>, [Option<i64>; 3])>,
    author: String,
    program: String,
    /// When it was written, at the clock of the place.
    recorded: Recorded,
}

/// Words for `only` and the kinds of entry that each stands for.
const KINDS: [(&str, &[&str]); 12] = [
    ("runs", &["run"]),
    ("inspections", &["inspection"]),
    ("findings", &["inspection"]),
    ("repairs", &["repair"]),
    ("makeups", &["makeup"]),
    ("events", &["event"]),
    ("failures", &["failure"]),
    ("moves", &["move"]),
    ("hires", &["hire_out", "hire_in"]),
    ("decisions", &["decision"]),
    ("notes", &["note"]),
    ("identity", &["joint", "opening", "identity", "gap"]),
];

fn wanted(only: &[String]) -> Result<Vec<&'static str>, ReportError> {
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
    let Some(row) = book.rows::<JointRow>("WHERE joint = ?1", &[&joint])?.into_iter().next() else {
        return Err(ReportError::NoJoint { serial: joint.to_string(), like: Vec::new() });
    };
    let units = book.identity().units;
    let mut lines = entry_lines(book, joint, units)?;
    lines.extend(run_lines(book, joint, units)?);
    lines.sort_by(|a, b| (a.at, a.rank, &a.entry).cmp(&(b.at, b.rank, &b.entry)));
    let mut report = Report::new("trace");
    report.push(Block::Heading(format!("{}, {}", row.serial, describe(&row, units))));
    report.push(today(&row));
    report.push(Block::Table(timeline(&row, &lines, &kinds, options.offset_minutes)));
    for note in notes(book, &row)? {
        report.push(Block::Note(note));
    }
    Ok(report)
}

fn describe(row: &JointRow, units: UnitSystem) -> String {
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

fn today(row: &JointRow) -> Block {
    use Measure as M;
    let word = |w: Option<String>| w.map_or(Cell::Missing, Cell::Text);
    let mut facts = vec![
        Fact::plain("entry", "introduced by", Cell::Text(row.name.clone())),
        Fact::plain("heat", "heat", Cell::text(row.heat.as_deref())),
        Fact::plain("class", "class", word(row.class.map(|c| c.to_string()))),
        Fact::of("wall", "wall left", Cell::number(row.wall), M::Ratio),
        Fact::plain("status", "status", Cell::Text(row.status.to_string())),
        Fact::plain("location", "where", Cell::text(row.location.as_deref())),
        Fact::plain("string", "string", Cell::text(row.string.as_deref())),
        Fact::of("hours", "rotating hours", Cell::bound(row.hours_lo, row.hours_hi), M::Hours),
        Fact::of(
            "revolutions",
            "turns",
            Cell::bound(row.revolutions_lo, row.revolutions_hi),
            M::Turns,
        ),
        Fact::of("damage", "damage", Cell::bound(row.damage_lo, row.damage_hi), M::Damage),
    ];
    if let Some(reason) = &row.out_reason {
        facts.push(Fact::plain("out", "out of service", Cell::Text(reason.clone())));
    }
    Block::Facts { name: "joint", facts }
}

fn timeline(row: &JointRow, lines: &[Line], kinds: &[&str], offset: i32) -> Table {
    let mut hours = 0i64;
    let mut places = [0i64; 3];
    let mut open = !row.entered_new;
    let mut rows = Vec::new();
    for line in lines {
        let mut totals = (Cell::Missing, Cell::Missing);
        if let Some((h, d)) = &line.adds {
            if line.struck.is_none() {
                hours += h.unwrap_or(0);
                for (sum, x) in places.iter_mut().zip(d) {
                    *sum += x.unwrap_or(0);
                }
                open |= h.is_none() || d.iter().any(Option::is_none);
            }
            let bound = |lo: i64| Cell::Bound { lo, hi: (!open).then_some(lo) };
            let tidy = |cell| match cell {
                Cell::Bound { lo, hi: Some(hi) } if lo == hi => Cell::Number(lo),
                other => other,
            };
            let worst = places.into_iter().max().unwrap_or(0);
            totals = (tidy(bound(hours)), tidy(bound(worst)));
        }
        if !kinds.is_empty() && !kinds.contains(&line.what.as_str()) {
            continue;
        }
        let detail = match &line.struck {
            Some(by) => format!("STRUCK by {by}: {}", line.detail),
            None => line.detail.clone(),
        };
        rows.push(vec![
            instant(line.at, offset),
            Cell::Text(line.what.replace('_', " ")),
            Cell::Text(detail),
            totals.0,
            totals.1,
            Cell::Text(line.entry.to_string()),
            Cell::Text(line.author.clone()),
            Cell::Text(line.program.clone()),
            Cell::Time(line.recorded.at.at(line.recorded.offset_minutes)),
            if line.struck.is_some() { Cell::Truth(true) } else { Cell::Missing },
        ]);
    }
    Table {
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
    }
}

/// Lines of all entries that name the joint, struck ones included.
fn entry_lines(book: &Book, joint: i64, units: UnitSystem) -> Result<Vec<Line>, ReportError> {
    let touches: Vec<TouchRow> = book.rows("WHERE joint = ?1 ORDER BY entry", &[&joint])?;
    let inspections: BTreeMap<i64, InspectionRow> = book
        .rows::<InspectionRow>("WHERE joint = ?1", &[&joint])?
        .into_iter()
        .map(|r| (r.entry, r))
        .collect();
    let makeups: Vec<MakeupRow> = book.rows("WHERE joint = ?1", &[&joint])?;
    let failures: Vec<FailureRow> = book.rows("WHERE joint = ?1", &[&joint])?;
    let mut lines = Vec::new();
    for touch in touches {
        let entry =
            book.entry_at(touch.entry)?.raw.read().map_err(crate::store::StoreError::from)?;
        let detail = match &entry.body {
            Body::Makeup(_) => makeup_detail(&makeups, touch.entry, units),
            Body::Inspection(_) => inspection_detail(&entry, inspections.get(&touch.entry), units),
            Body::Failure(_) => failures
                .iter()
                .find(|f| f.entry == touch.entry)
                .map_or_else(String::new, |f| failure_detail(f, units)),
            body => body_detail(body, units),
        };
        let struck = struck_by(book, touch.entry)?;
        let placed = Placed::new(touch.entry, entry);
        lines.push(Line {
            at: placed.at().0,
            rank: rank(&placed.entry.body),
            what: placed.entry.body.kind().to_owned(),
            detail,
            struck,
            adds: None,
            author: placed.entry.author.clone(),
            program: placed.entry.program.clone(),
            recorded: placed.entry.recorded,
            entry: placed.entry.id.clone(),
        });
    }
    Ok(lines)
}

fn struck_by(book: &Book, entry: i64) -> Result<Option<String>, ReportError> {
    let rows: Vec<StruckRow> = book.rows("WHERE entry = ?1", &[&entry])?;
    match rows.first() {
        Some(row) => {
            let by = book.entry_at(row.by_entry)?.raw;
            let entry = by.read().map_err(crate::store::StoreError::from)?;
            let why = match &entry.body {
                Body::Strike(strike) if strike.instead.is_empty() => {
                    format!(" ({})", strike.reason)
                }
                Body::Strike(strike) => {
                    let instead: Vec<String> =
                        strike.instead.iter().map(ToString::to_string).collect();
                    format!(" ({}; instead {})", strike.reason, instead.join(", "))
                }
                _ => String::new(),
            };
            Ok(Some(by.label() + &why))
        }
        None => Ok(None),
    }
}

fn run_lines(book: &Book, joint: i64, units: UnitSystem) -> Result<Vec<Line>, ReportError> {
    let runs: Vec<JointRunRow> = book.rows("WHERE joint = ?1 ORDER BY finish, run", &[&joint])?;
    let mut lines = Vec::new();
    for r in runs {
        let run: Option<RunRow> = book.rows("WHERE run = ?1", &[&r.run])?.into_iter().next();
        let entry: Entry =
            book.entry_at(r.run)?.raw.read().map_err(crate::store::StoreError::from)?;
        lines.push(Line {
            at: r.finish,
            rank: rank(&entry.body),
            what: "run".to_owned(),
            detail: run.map_or_else(String::new, |run| run_detail(&run, &r, units)),
            struck: None,
            adds: Some((r.hours, [r.damage_pin, r.damage_middle, r.damage_box])),
            author: entry.author,
            program: entry.program,
            recorded: entry.recorded,
            entry: entry.id,
        });
    }
    Ok(lines)
}

fn run_detail(run: &RunRow, r: &JointRunRow, units: UnitSystem) -> String {
    use Measure as M;
    let mut parts = vec![format!("{} in {}", run.name, run.well)];
    if let (Some(top), Some(bottom)) = (r.top_depth, r.bottom_depth) {
        parts.push(format!(
            "{} to {}",
            M::Depth.number_text(top, units),
            M::Depth.text(bottom, units)
        ));
    }
    parts.push(format!("place {}", r.place));
    if let Some(h) = r.hours {
        parts.push(M::Hours.text(h, units));
    }
    if let Some(t) = r.revolutions {
        parts.push(format!("{} turns", M::Turns.number_text(t, units)));
    }
    if let Some(d) = r.max_dogleg {
        parts.push(format!("bend {}", M::Dogleg.text(d, units)));
    }
    if let Some(t) = r.max_tension {
        parts.push(format!("pull {}", M::Force.text(t, units)));
    }
    match worst_damage(r) {
        Some(d) => parts.push(format!("damage +{}", M::Damage.number_text(d, units))),
        None => parts.push("damage unknown".to_owned()),
    }
    if r.conflict {
        parts.push("IN CONFLICT, not counted".to_owned());
    }
    parts.join(", ")
}

fn inspection_detail(entry: &Entry, row: Option<&InspectionRow>, units: UnitSystem) -> String {
    let Body::Inspection(b) = &entry.body else { return String::new() };
    let mut parts = Vec::new();
    if !b.methods.is_empty() {
        parts.push(words(b.methods.iter().map(|m| m.word())));
    }
    if let Some(r) = row {
        if let Some(w) = r.wall {
            parts.push(format!("wall {}", Measure::Ratio.text(w, units)));
        }
        for (name, value) in [("box OD", r.box_od), ("pin OD", r.pin_od)] {
            if let Some(v) = value {
                parts.push(format!("{name} {}", Measure::Diameter.text(v, units)));
            }
        }
        let class = |c: Option<crate::model::Class>| {
            c.map_or_else(|| "no class".to_owned(), |c| c.to_string().replace('_', " "))
        };
        parts.push(format!("{} → {}", class(r.class_before), class(r.class)));
        if let Some(c) = &r.criterion {
            parts.push(format!("by {c}"));
        }
        if r.doubtful {
            parts.push("instrument in doubt".to_owned());
        }
    }
    for f in &b.findings {
        let end = f.end.map_or_else(String::new, |e| format!("{e} "));
        let place = f.place.map_or_else(String::new, |p| format!(" in {}", p.word()));
        let size = f.size.as_ref().map_or_else(String::new, |s| format!(" {s}"));
        parts.push(format!("found {end}{}{place}{size}", f.what).replace('_', " "));
    }
    parts.extend(b.remark.clone());
    parts.join(", ")
}

fn makeup_detail(rows: &[MakeupRow], entry: i64, units: UnitSystem) -> String {
    rows.iter()
        .filter(|m| m.entry == entry)
        .map(|m| {
            let mut parts = vec![format!("{} made up {}×", m.end, m.times)];
            if let Some(t) = m.torque {
                parts.push(Measure::Torque.text(t, units));
            }
            if m.verdict != "unknown" {
                parts.push(m.verdict.replace('_', " "));
            }
            if m.doubtful {
                parts.push("gauge in doubt".to_owned());
            }
            parts.join(", ")
        })
        .collect::<Vec<_>>()
        .join("; ")
}

fn failure_detail(f: &FailureRow, units: UnitSystem) -> String {
    let mut parts = vec![f.what.to_string().replace('_', " ")];
    if let Some(p) = f.place {
        parts.push(format!("in {}", p.to_string().replace('_', " ")));
    }
    if let Some(w) = &f.well {
        parts.push(w.clone());
    }
    if let Some(d) = f.depth {
        parts.push(format!("at {}", Measure::Depth.text(d, units)));
    }
    parts.extend(f.operation.clone());
    parts.join(", ")
}

fn words<'a>(list: impl Iterator<Item = &'a str>) -> String {
    list.map(|w| w.replace('_', " ")).collect::<Vec<_>>().join(" + ")
}

/// The remaining kinds in a few words.
fn body_detail(body: &Body, units: UnitSystem) -> String {
    let mut parts: Vec<String> = Vec::new();
    match body {
        Body::Joint(b) => {
            parts.push(if b.new { "enters new".to_owned() } else { "enters used".to_owned() });
            parts.extend(b.certificate.as_ref().map(|c| format!("certificate {c}")));
            parts.extend(b.heat.as_ref().map(|h| format!("heat {h}")));
            parts.extend(b.maker.clone());
        }
        Body::Opening(b) => {
            let stated = |name: &str, s: &Option<Stated>| {
                s.as_ref().map(|s| match s {
                    Stated::Known(q) => format!("{name} {q}"),
                    Stated::Estimated(q) => format!("{name} about {q}"),
                })
            };
            parts.extend(stated("hours", &b.hours));
            parts.extend(stated("turns", &b.revolutions));
            parts.extend(stated("damage", &b.damage));
            parts.extend(b.stated_by.as_ref().map(|s| format!("stated by {s}")));
        }
        Body::Identity(b) => match b {
            crate::model::IdentityBody::Remark { serial, .. } => {
                parts.push(format!("marked {serial} from now on"));
            }
            crate::model::IdentityBody::Alias { serial, .. } => {
                parts.push(format!("also read as {serial}"));
            }
            crate::model::IdentityBody::Merge { same, .. } => {
                parts.push(format!("proved to be the same joint as {same}"));
            }
        },
        Body::Gap(b) => {
            parts.push("nothing is known".to_owned());
            parts.extend(b.until.map(|u| format!("until {u}")));
            parts.extend(b.reason.clone());
        }
        Body::Move(b) => {
            parts.extend(b.location.as_ref().map(|l| format!("to {l}")));
            parts.extend(b.string.as_ref().map(|s| {
                if s == "-" { "out of its string".to_owned() } else { format!("string {s}") }
            }));
            parts.extend(b.status.map(|s| s.to_string().replace('_', " ")));
            parts.extend(b.remark.clone());
        }
        Body::HireOut(b) => {
            parts.push(format!("out on {} to {}", b.hire, b.party));
            parts.extend(b.condition.clone());
        }
        Body::HireIn(b) => parts.push(format!("back from {}", b.hire)),
        Body::Repair(b) => {
            let end = b.end.map_or_else(String::new, |e| format!("{e} "));
            parts.push(format!("{end}{}", b.work).replace('_', " "));
            parts.extend(b.removed.as_ref().map(|r| format!("{r} removed")));
            parts.extend(b.shop.clone());
            parts.extend(b.remark.clone());
        }
        Body::Event(b) => {
            parts.push(b.what.to_string().replace('_', " "));
            parts.extend(b.pull.as_ref().map(|p| format!("pull {p}")));
            parts.extend(b.depth.as_ref().map(|d| format!("at {d}")));
            parts.extend(b.remark.clone());
        }
        Body::Decision(b) => {
            use crate::model::Ruling;
            parts.push(match &b.ruling {
                Ruling::Class { class, end } => {
                    let end = end.map_or_else(String::new, |e| format!(" {e}"));
                    format!("class{end} {}", class.word().replace('_', " "))
                }
                Ruling::Quarantine => "quarantine".to_owned(),
                Ruling::Release => "released".to_owned(),
                Ruling::Retire => "retired".to_owned(),
                Ruling::Settle { .. } => "conflict settled".to_owned(),
                Ruling::Waive { what } => format!("{what} waived"),
            });
            parts.push(b.reason.clone());
        }
        Body::Note(b) => parts.push(b.text.clone()),
        _ => {}
    }
    let _ = units;
    parts.join(", ")
}

fn notes(book: &Book, row: &JointRow) -> Result<Vec<String>, ReportError> {
    let mut notes = Vec::new();
    if !row.runs_complete {
        notes.push(
            "part of this joint's life is not in the book: sums marked ≥ are lower bounds"
                .to_owned(),
        );
    }
    for c in book.rows::<ConflictRow>("WHERE joint = ?1", &[&row.joint])? {
        notes.push(format!(
            "conflict: {} ({} and {}); what depends on it is unknown until a decision settles it",
            c.what,
            book.entry_at(c.first_entry)?.raw.label(),
            book.entry_at(c.second_entry)?.raw.label(),
        ));
    }
    let open: Vec<FindingRow> = book.rows("WHERE joint = ?1 AND open = 1", &[&row.joint])?;
    if !open.is_empty() {
        let list: Vec<String> = open.iter().map(|f| f.what.replace('_', " ")).collect();
        notes.push(format!("open findings: {}", list.join(", ")));
    }
    Ok(notes)
}
