//! What an inspection sheet holds: joints, columns to fill, last readings, the limits of each
//! joint, the words of the catalogue, the cautions. No formatting.

use std::sync::Arc;

use crate::condition::{
    Catalogue, Caution, DEFERENCE, Finding, ForClass, On, Part, Standards, Threshold, Wanted,
    thresholds,
};
use crate::model::{
    Class, Clock, Component, End, Instant, Method, Qty, ReadingKind, Status, Vocabulary,
};
use crate::projection::joint::{Appraisal, Ask};
use crate::schema::{JointRow, Rows, Value};
use crate::store::Book;
use crate::units::{Measure, UnitSystem};

use super::ReportError;
use super::assess::describe;
use super::data::plain;
use super::fitness;
use super::lookup::in_string;
use super::question::{Present, ask as question, in_context, prepare, rules_in_force, wrong};

/// A reading that a sheet or a prompt asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct ReadingColumn {
    pub what: ReadingKind,
    pub end: Option<End>,
}

impl ReadingColumn {
    /// How its values are kept.
    pub const fn measure(self) -> Measure {
        self.what.spec().measure
    }

    /// What it is called: `wall`, `box shoulder`, `pin OD`.
    pub fn name(self) -> String {
        let what = match self.what {
            ReadingKind::JointOd => "OD".to_owned(),
            ReadingKind::JointId => "bore".to_owned(),
            ReadingKind::BodyOd => "body OD".to_owned(),
            ReadingKind::BodyOdMax => "body OD max".to_owned(),
            ReadingKind::SlipOd => "slip area OD".to_owned(),
            other => plain(other.word()),
        };
        match self.end {
            Some(end) => format!("{end} {what}"),
            None => what,
        }
    }

    /// Title of its column, with the unit: `Box shoulder [in]`.
    pub fn title(self, units: UnitSystem) -> String {
        let name = self.name();
        let mut letters = name.chars();
        let first = letters.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
        format!("{first}{} [{}]", letters.as_str(), self.measure().unit_symbol(units))
    }

    /// The part that it is of.
    pub fn part(self) -> Part {
        self.end.map_or(Part::Tube, Part::from)
    }
}

/// Methods that a rack inspection of a component usually takes (common practice).
pub fn usual_methods(component: Component) -> &'static [Method] {
    use Method as M;
    match component {
        Component::DrillPipe | Component::Pup => &[
            M::VisualTube,
            M::OdGauge,
            M::UltrasonicWall,
            M::VisualConnection,
            M::Dimensional1,
            M::HardbandCheck,
        ],
        Component::HeavyWeight => {
            &[M::VisualTube, M::VisualConnection, M::Dimensional3, M::HardbandCheck]
        }
        _ => &[M::VisualConnection, M::Dimensional3],
    }
}

/// Readings that these methods take of a component, of those that something rests on.
///
/// The largest diameter of the body is left out: it matters after a string shot alone, and can be
/// entered as a finding.
pub fn columns(
    standards: &Standards,
    component: Component,
    methods: &[Method],
) -> Vec<ReadingColumn> {
    let taken = |kind: ReadingKind| {
        let can = methods.iter().filter_map(|m| standards.capabilities.of(*m));
        can.into_iter().any(|c| c.readings.contains(&kind))
    };
    let mut out: Vec<ReadingColumn> = Vec::new();
    let mut add = |what: ReadingKind, end: Option<End>| {
        let column = ReadingColumn { what, end };
        if taken(what) && what != ReadingKind::BodyOdMax && !out.contains(&column) {
            out.push(column);
        }
    };
    let mut wanted: Vec<_> = standards.needs.of(component).collect();
    wanted.sort_by_key(|n| n.part);
    for need in wanted {
        if let Wanted::Reading(kind) = need.wanted {
            add(kind, need.part.end());
        }
    }
    let banded =
        matches!(component, Component::DrillPipe | Component::Pup | Component::HeavyWeight);
    if banded {
        add(ReadingKind::HardbandHeight, Some(End::Box));
    }
    out
}

/// A limit for a class.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ClassLimit {
    /// Nanometres; a reading that keeps this keeps the limit.
    pub at: i64,
    /// True when a reading must not be less, false when it must not be more.
    pub least: bool,
}

/// Limits of one reading of one joint.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ColumnLimits {
    pub premium: Option<ClassLimit>,
    /// For Class 2.
    pub class_2: Option<ClassLimit>,
    /// Least in any class.
    pub least: Option<i64>,
    /// Most in any class.
    pub most: Option<i64>,
}

/// Joints that are made alike and have the same limits.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Group {
    /// What they are: `5 in 19.50 lb/ft G-105 NC50 drill pipe`.
    pub name: String,
    /// Limits, column by column.
    pub limits: Vec<ColumnLimits>,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SheetRow {
    /// Its serial, with its entry where two joints share it.
    pub serial: String,
    pub group: usize,
    pub class: Option<Class>,
    /// Latest readings, column by column, nanometres.
    pub last: Vec<Option<i64>>,
    /// Whether the column is read on this joint.
    pub applies: Vec<bool>,
    /// Findings that are open.
    pub open: Vec<String>,
    /// Restrictions that it carries.
    pub restrictions: Vec<String>,
    /// Whether it is fit to run as it stands, why not, and its searches for cracks, in a line.
    pub fit: String,
    /// How it is to be looked at; what was done is stated by whoever does it.
    pub methods: Vec<Method>,
}

/// A word that can be chosen, and what stands behind it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Choice {
    pub word: String,
    /// What it is and what to measure.
    pub means: String,
}

/// What is written above the columns once for the whole sheet.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Head {
    /// Day of the inspection.
    pub date: String,
    pub inspector: String,
    pub firm: String,
    pub report: String,
    /// Standard and category inspected to.
    pub standard: String,
    /// Tag of the instrument.
    pub instrument: String,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InspectionSheet {
    /// What it is of.
    pub title: String,
    /// Units of its numbers.
    pub units: UnitSystem,
    /// What is written once.
    pub head: Head,
    pub columns: Vec<ReadingColumn>,
    pub groups: Vec<Group>,
    pub rows: Vec<SheetRow>,
    /// The set of limits.
    pub limits: String,
    /// Each limit with where it comes from.
    pub sources: Vec<String>,
    /// Findings of the tube.
    pub tube: Vec<Choice>,
    /// Findings of the pin.
    pub pin: Vec<Choice>,
    /// Findings of the box.
    pub box_: Vec<Choice>,
    /// Cautions of the work, and whom to defer to.
    pub cautions: Vec<&'static str>,
}

/// Which joints a sheet or a prompt is about.
#[derive(Clone, Debug, Default)]
pub struct Which {
    /// Those of a string.
    pub string: Option<String>,
    /// Those of these serials.
    pub serials: Vec<String>,
    /// Those that match a filter.
    pub filter: Option<String>,
}

/// The joints that are meant, in order of their serials where no other order is given; and what
/// was left out, and why.
pub fn joints(
    book: &mut Book,
    which: &Which,
    present: &Present,
) -> Result<(Vec<JointRow>, Vec<String>), ReportError> {
    let mut notes = Vec::new();
    let mut rows: Vec<JointRow> = Vec::new();
    if let Some(string) = &which.string {
        rows = in_string(book, string)?;
        if rows.is_empty() {
            let mut known: Vec<String> = book
                .rows(&Rows::<JointRow>::all().known(JointRow::string()).by(JointRow::string()))?
                .into_iter()
                .filter_map(|r| r.string)
                .collect();
            known.dedup();
            let known = if known.is_empty() { "none".to_owned() } else { known.join(", ") };
            return Err(ReportError::Words(format!(
                "no joint belongs to a string {string}; strings of the book: {known}"
            )));
        }
    }
    for serial in which.serials.iter().map(|s| s.trim()).filter(|s| !s.is_empty()) {
        let joint = super::find_joint(book, serial)?;
        if !rows.iter().any(|r| r.joint == joint) {
            rows.extend(book.row::<JointRow>(joint)?);
        }
    }
    if let Some(filter) = &which.filter {
        let rules = rules_in_force(book, present.now)?;
        let compiled = in_context(book, &rules, present, |context| {
            crate::filter::compile(filter, context).map_err(wrong)
        })?;
        prepare(book, &compiled, &[])?;
        let select = crate::filter::Select::of(crate::filter::Answer::Matching);
        let found = question(book, &compiled.select(&select), present)?;
        let joints: Vec<i64> = found
            .iter()
            .filter_map(|r| match r.first() {
                Some(Value::Int(n)) => Some(*n),
                _ => None,
            })
            .collect();
        if which.string.is_some() || !which.serials.is_empty() {
            rows.retain(|r| joints.contains(&r.joint));
        } else {
            for joint in joints {
                rows.extend(book.row::<JointRow>(joint)?);
            }
            rows.sort_by(|a, b| (&a.serial, &a.by_name).cmp(&(&b.serial, &b.by_name)));
        }
    }
    let before = rows.len();
    rows.retain(|r| r.status != Some(Status::Retired));
    if rows.len() < before {
        notes.push(format!("{} retired joints are left out", before - rows.len()));
    }
    Ok((rows, notes))
}

/// The serial of a joint; with its entry where another joint answers to the same.
pub fn unique_serial(book: &Book, row: &JointRow) -> Result<String, ReportError> {
    let key =
        crate::model::Serial::parse(&row.serial).map_or_else(|_| row.serial.clone(), |s| s.key());
    let shared = book.joints_by_serial(&key)?.len() > 1;
    Ok(if shared { format!("{}@{}", row.serial, row.introduced_by) } else { row.serial.clone() })
}

/// Makes the sheet of some joints. Without methods, each component gets its usual ones.
pub fn inspection(
    book: &mut Book,
    joints: &[JointRow],
    methods: &[Method],
    title: String,
    head: Head,
    present: &Present,
) -> Result<InspectionSheet, ReportError> {
    let of = |component: Component| {
        if methods.is_empty() { usual_methods(component).to_vec() } else { methods.to_vec() }
    };
    let numbers: Vec<i64> = joints.iter().map(|row| row.joint).collect();
    let calls = fitness::calls_on(book, &numbers, present)?;
    let book = &*book;
    let mut appraiser = book.appraiser()?;
    let adoptions = Arc::clone(appraiser.facts().adoptions());
    let standards = adoptions.standards_at(present.now);
    let mut all: Vec<ReadingColumn> = Vec::new();
    for row in joints {
        for column in columns(standards, row.component, &of(row.component)) {
            if !all.contains(&column) {
                all.push(column);
            }
        }
    }
    // Tube, pin, box; within a part as the first joint has them.
    all.sort_by_key(|c| c.part());
    let choices = |wanted: fn(&Finding) -> bool| choices(&standards.findings, wanted);
    let mut sheet = InspectionSheet {
        title,
        units: present.units,
        head,
        columns: all,
        groups: Vec::new(),
        rows: Vec::new(),
        limits: standards.limits.title(),
        sources: Vec::new(),
        tube: choices(|f| f.on != On::End),
        pin: choices(|f| f.on == On::End && f.ends.contains(&End::Pin)),
        box_: choices(|f| f.on == On::End && f.ends.contains(&End::Box)),
        cautions: [
            Caution::Proof,
            Caution::MarkedOut,
            Caution::Threads,
            Caution::Grinding,
            Caution::Hardband,
            Caution::Handling,
        ]
        .iter()
        .map(|c| c.text())
        .chain([DEFERENCE])
        .collect(),
    };
    for row in joints {
        let Some(a) = appraiser.appraise(row.joint, present.now, Ask::default())? else { continue };
        let methods = of(row.component);
        let mut line = line(&mut sheet, &a, standards, row, methods, unique_serial(book, row)?);
        let called = calls.get(&row.joint).map(Vec::as_slice);
        let told = fitness::of(Some(book), &a, called, present.units)?;
        line.fit = fit_in_short(&told, present.units);
        sheet.rows.push(line);
    }
    Ok(sheet)
}

/// How a joint stands in a line.
fn fit_in_short(told: &fitness::Told, units: UnitSystem) -> String {
    let mut grounds: Vec<String> = told.reasons.iter().map(|r| plain(r.ground.word())).collect();
    grounds.dedup();
    let because =
        if grounds.is_empty() { String::new() } else { format!(": {}", grounds.join(", ")) };
    let not_judged = fitness::not_judged_in_short(&told.not_judged, units)
        .map_or_else(String::new, |list| format!("; read and not judged: {list}"));
    format!(
        "{}{because}; crack searches: {}{not_judged}",
        fitness::words(told.answer()),
        fitness::searches_in_short(&told.searches)
    )
}

fn choices(catalogue: &Catalogue, wanted: fn(&Finding) -> bool) -> Vec<Choice> {
    let mut out: Vec<Choice> = catalogue
        .all()
        .iter()
        .filter(|f| wanted(f))
        .map(|f| Choice { word: plain(&f.word), means: format!("{}; {}", f.name, f.measure) })
        .collect();
    out.sort_by(|a, b| a.word.cmp(&b.word));
    out
}

fn line(
    sheet: &mut InspectionSheet,
    a: &Appraisal,
    standards: &Standards,
    row: &JointRow,
    methods: Vec<Method>,
    serial: String,
) -> SheetRow {
    let own = columns(standards, row.component, &methods);
    let all = thresholds(&a.subject, standards);
    for t in &all {
        let text = format!(
            "{}, {}: {} ({}; {})",
            t.criterion.spec().name,
            t.limit.class.to_string().replace('_', " "),
            t.limit.text(),
            t.limit.authority(),
            plain(t.limit.provenance.word())
        );
        if sheet.columns.iter().any(|c| serves(t, *c)) && !sheet.sources.contains(&text) {
            sheet.sources.push(text);
        }
    }
    let group = Group {
        name: describe(&a.joint, sheet.units),
        limits: sheet.columns.iter().map(|c| column_limits(&all, *c)).collect(),
    };
    let at = sheet.groups.iter().position(|g| *g == group).unwrap_or_else(|| {
        sheet.groups.push(group);
        sheet.groups.len() - 1
    });
    let open = a.subject.findings.iter().map(|f| {
        let end = f.end.map_or_else(String::new, |e| format!("{e} "));
        format!("{end}{}", plain(&f.what))
    });
    SheetRow {
        serial,
        group: at,
        class: row.class,
        last: sheet.columns.iter().map(|c| last_reading(a, *c)).collect(),
        applies: sheet.columns.iter().map(|c| own.contains(c)).collect(),
        open: open.collect(),
        restrictions: a.restrictions.iter().map(|r| plain(r.word())).collect(),
        fit: String::new(),
        methods,
    }
}

/// The latest reading of a column that the book has.
pub fn last_reading(a: &Appraisal, column: ReadingColumn) -> Option<i64> {
    let of = |end: Option<End>| {
        a.subject.earlier.readings.iter().find_map(|(m, _)| match m.amount {
            crate::condition::Amount::Length(q) if m.what == column.what && m.end == end => Some(q),
            _ => None,
        })
    };
    of(column.end).or_else(|| of(None).filter(|_| column.what == ReadingKind::HardbandHeight))
}

fn serves(t: &Threshold, column: ReadingColumn) -> bool {
    t.reading == column.what && t.part == column.part()
}

/// Limits of a column among the limits of a joint: the tightest of each kind.
pub fn column_limits(all: &[Threshold], column: ReadingColumn) -> ColumnLimits {
    let mut out = ColumnLimits::default();
    let tighter = |held: Option<i64>, at: i64, least: bool| match held {
        Some(h) => Some(if least { h.max(at) } else { h.min(at) }),
        None => Some(at),
    };
    for t in all.iter().filter(|t| serves(t, column)) {
        let least = t.limit.comparison.wants_more();
        match t.limit.class {
            ForClass::Class(Class::Premium) => {
                let held = out.premium.filter(|l| l.least == least).map(|l| l.at);
                out.premium = tighter(held, t.at, least).map(|at| ClassLimit { at, least });
            }
            ForClass::Class(Class::Class2) => {
                let held = out.class_2.filter(|l| l.least == least).map(|l| l.at);
                out.class_2 = tighter(held, t.at, least).map(|at| ClassLimit { at, least });
            }
            ForClass::Any if least => out.least = tighter(out.least, t.at, true),
            ForClass::Any => out.most = tighter(out.most, t.at, false),
            ForClass::Class(_) | ForClass::New => {}
        }
    }
    out
}

/// Limits in words: `Premium ≥ 0.290, Class 2 ≥ 0.254`.
pub fn limits_text(l: &ColumnLimits, measure: Measure, units: UnitSystem) -> String {
    let number = |q| measure.number_text(q, units);
    let sign = |least: bool| if least { "≥" } else { "≤" };
    let mut parts = Vec::new();
    for (name, limit) in [("Premium", l.premium), ("Class 2", l.class_2)] {
        if let Some(c) = limit {
            parts.push(format!("{name} {} {}", sign(c.least), number(c.at)));
        }
    }
    parts.extend(l.least.map(|q| format!("at least {}", number(q))));
    parts.extend(l.most.map(|q| format!("at most {}", number(q))));
    parts.join(", ")
}

/// The present instant as the day that a sheet is made on.
pub fn day_of(now: Instant, clock: Clock) -> String {
    now.at(clock).date_naive().to_string()
}

/// A value as a spreadsheet keeps it: a float in the unit of the column.
pub fn sheet_value(quanta: i64, measure: Measure, units: UnitSystem) -> f64 {
    // Through the written form, so that 0.2896 in is the float that a person who types it gets.
    Qty::from_quanta(quanta, measure, measure.unit_symbol(units))
        .quantity(measure)
        .map_or_else(|_| measure.value(quanta, units), |q| q.number().to_f64())
}
