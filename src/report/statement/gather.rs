//! What a hire did to each joint, from the rows of the book.

use std::collections::BTreeSet;

use crate::model::{
    Body, Class, Component, FailureKind, Status, Vocabulary, Work, compare_names, same_name,
};
use crate::projection::facts::{self, Placed};
use crate::report::ReportError;
use crate::report::lookup::joint_row;
use crate::schema::{
    ConflictRow, DecisionRow, EventRow, FailureRow, Figures, FindingRow, HireRow, InspectionRow,
    JointRunRow, MoveRow, RepairRow, Rows, RunPartRow,
};
use crate::store::Book;

use super::told::{self, Stretch};

/// What was known of a joint on one side of a hire.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Condition {
    /// When it was looked at.
    pub seen: Option<i64>,
    pub class: Option<Class>,
    /// Wall as a part of the nominal one.
    pub wall: Option<i64>,
    /// Outside diameter of the box tool joint, nm.
    pub box_od: Option<i64>,
    /// Outside diameter of the pin tool joint, nm.
    pub pin_od: Option<i64>,
}

/// A sum of which some parts may not be known.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Used {
    pub known: i64,
    pub open: bool,
}

impl Used {
    pub(super) fn add(&mut self, part: Option<i64>) {
        match part {
            Some(n) => self.known += n,
            None => self.open = true,
        }
    }
}

/// One joint of a hire.
#[derive(Clone, Debug)]
pub(super) struct HiredJoint {
    pub serial: String,
    pub component: Component,
    /// Outside diameter of the body, nm.
    pub size: Option<i64>,
    pub grade: Option<String>,
    pub out: i64,
    pub back: Option<i64>,
    /// When it was lost, where it was and did not come back.
    pub lost: Option<i64>,
    /// Start and end of its runs on hire.
    pub in_runs: Vec<(i64, i64)>,
    /// Inspections after it came back, until what came next.
    pub inspections: usize,
    pub before: Condition,
    pub after: Condition,
    pub hours: Used,
    pub revolutions: Used,
    pub footage: Used,
    pub damage: Used,
    pub runs: usize,
    /// What its use on hire rests on beside its runs.
    pub rests_on: Vec<String>,
    /// Work done between the hire and what came next, oldest first.
    pub repairs: Vec<(Work, Option<crate::model::End>)>,
    /// What inspections at its end found, and what failed.
    pub found: Vec<String>,
    pub failed: bool,
    /// Why the comparison is doubtful.
    pub doubts: Vec<String>,
}

#[derive(Debug)]
pub(super) struct Hire {
    pub name: String,
    pub party: String,
    pub contract: Option<String>,
    /// Conditions agreed at the gate, in words, each once.
    pub agreed: Vec<String>,
    pub joints: Vec<HiredJoint>,
    /// Serials that came back on this hire and were not out on it, with the entry that says so.
    pub extra: Vec<(String, String)>,
}

/// Reads a hire. `None` when nothing went out under that name.
pub(super) fn hire(book: &Book, name: &str, now: i64) -> Result<Option<Hire>, ReportError> {
    let rows: Vec<HireRow> = book.rows(&Rows::all().named(HireRow::name(), name))?;
    let clock = book.clock()?;
    let mut gates = Vec::new();
    for entry in rows.iter().map(|r| r.entry).collect::<BTreeSet<_>>() {
        let read = book.counted(entry)?;
        gates.push(Placed::new(entry, read, clock));
    }
    facts::sort(&mut gates);
    let of = |gate: &Placed| rows.iter().find(|r| r.entry == gate.position);
    let Some(first) = gates.first().and_then(of) else { return Ok(None) };
    let mut hire = Hire {
        name: first.name.clone(),
        party: first.party.clone(),
        contract: gates.iter().filter_map(of).find_map(|r| r.contract.clone()),
        agreed: Vec::new(),
        joints: Vec::new(),
        extra: Vec::new(),
    };
    for gate in &gates {
        if let Body::HireOut(b) = &gate.entry.body
            && let Some(words) = &b.condition
            && !hire.agreed.contains(words)
        {
            hire.agreed.push(words.clone());
        }
    }
    for row in &rows {
        hire.joints.extend(joint(book, row, now)?);
    }
    hire.joints.sort_by(|a, b| (&a.serial, a.out).cmp(&(&b.serial, b.out)));
    hire.extra = extra(book, name)?;
    Ok(Some(hire))
}

/// Names of the hires of the book.
pub(super) fn names(book: &Book) -> Result<Vec<String>, ReportError> {
    let mut names: Vec<String> =
        book.rows(&Rows::<HireRow>::all())?.into_iter().map(|h| h.name).collect();
    names.sort_by(|a, b| compare_names(a, b).then_with(|| a.cmp(b)));
    names.dedup_by(|a, b| same_name(a, b));
    Ok(names)
}

/// Joints that came back on a hire that they were not out on: the book keeps that as a clash.
fn extra(book: &Book, name: &str) -> Result<Vec<(String, String)>, ReportError> {
    let mut out = Vec::new();
    for clash in book.rows(&Rows::all().begins(ConflictRow::what(), "taken back from a hire"))? {
        let entry = book.entry_at(clash.second_entry)?;
        let read = book.counted(clash.second_entry)?;
        let Body::HireIn(b) = &read.body else { continue };
        if !same_name(&b.hire, name) {
            continue;
        }
        if let Some(j) = joint_row(book, clash.joint)? {
            out.push((j.serial, entry.raw.label()));
        }
    }
    out.sort();
    out.dedup();
    Ok(out)
}

fn joint(book: &Book, row: &HireRow, now: i64) -> Result<Option<HiredJoint>, ReportError> {
    let id = row.joint;
    let Some(today) = joint_row(book, id)? else {
        return Ok(None);
    };
    let runs: Vec<JointRunRow> = book.rows_of(id)?;
    let others: Vec<HireRow> = book.rows_of(id)?;
    let looks: Vec<InspectionRow> = book.rows_of(id)?;
    let stretches = told::stretches(book, id)?;
    let rulings = book.rows(&Rows::of_joint(id).known(DecisionRow::class()))?;
    let end = row.back.unwrap_or(now);
    // What comes after the hire belongs to someone else from the next run or hire on.
    let mut used: Vec<(i64, i64)> = runs.iter().map(|r| (r.start, r.finish)).collect();
    used.extend(stretches.iter().filter_map(Stretch::used));
    let next_run = used.iter().filter(|u| u.0 >= end).map(|u| u.0).min();
    let next_hire = others.iter().filter(|h| h.date >= end && h.entry != row.entry).map(|h| h.date);
    let until = next_run.into_iter().chain(next_hire).min().unwrap_or(i64::MAX);
    let mut it = HiredJoint {
        serial: today.serial.clone(),
        component: today.component,
        size: today.od,
        grade: today.grade.clone(),
        out: row.date,
        back: row.back,
        lost: None,
        in_runs: Vec::new(),
        inspections: 0,
        before: Condition::default(),
        after: Condition::default(),
        hours: Used::default(),
        revolutions: Used::default(),
        footage: Used::default(),
        damage: Used::default(),
        runs: 0,
        rests_on: Vec::new(),
        repairs: Vec::new(),
        found: Vec::new(),
        failed: false,
        doubts: Vec::new(),
    };
    let hired: Vec<&JointRunRow> =
        runs.iter().filter(|r| r.finish > row.date && r.start < end).collect();
    for run in &hired {
        it.in_runs.push((run.start.max(row.date), run.finish.min(end)));
        it.runs += 1;
        use_of(book, run, row.date, end, &mut it)?;
    }
    stretches.iter().for_each(|stretch| stretch.add_to(&mut it, (row.date, end)));
    let last_run = it.in_runs.iter().map(|r| r.1).max().unwrap_or(row.date);
    if let Some(back) = row.back {
        it.inspections = looks.iter().filter(|l| l.date >= back && l.date < until).count();
    }
    it.lost = if row.back.is_none() { lost(book, id, row.date, until)? } else { None };
    outward(&mut it, &looks, &rulings, &used);
    inward(&mut it, &looks, &rulings, last_run, until);
    for repair in book.rows_of::<RepairRow>(id)? {
        if repair.date > row.date && repair.date < until {
            it.repairs.push((repair.work, repair.end));
        }
    }
    for f in book.rows_of::<FindingRow>(id)? {
        if f.date > row.date && f.date < until && !open_before(book, id, &f, row.date)? {
            let end = f.end.map_or_else(String::new, |e| format!("{e} "));
            it.found.push(format!("{end}{}", f.what.replace('_', " ")));
        }
    }
    for e in book.rows_of::<EventRow>(id)? {
        if e.date > row.date && e.date <= end {
            it.found.push(e.what.word().replace('_', " "));
        }
    }
    for f in book.rows_of::<FailureRow>(id)? {
        if f.date > row.date && f.date < until {
            it.failed = true;
            it.found.push(format!("failed: {}", f.what.word().replace('_', " ")));
        }
    }
    if it.doubts.is_empty() && (it.before.class.is_none() || it.after.class.is_none()) {
        it.doubts.push("no class is established on one side".to_owned());
    }
    it.found.dedup();
    Ok(Some(it))
}

/// When a joint that did not come back was lost, by a failure or by a move.
fn lost(book: &Book, id: i64, out: i64, until: i64) -> Result<Option<i64>, ReportError> {
    let failed = book.rows_of::<FailureRow>(id)?;
    let failed = failed.iter().filter(|f| f.what == FailureKind::Lost).map(|f| f.date);
    let moved = book.rows_of::<MoveRow>(id)?;
    let moved = moved.iter().filter(|m| m.status == Some(Status::Lost)).map(|m| m.date);
    Ok(failed.chain(moved).filter(|at| (out..until).contains(at)).min())
}

/// The same thing was found before it went out, and not cleared by then.
fn open_before(book: &Book, id: i64, f: &FindingRow, out: i64) -> Result<bool, ReportError> {
    let earlier = book.rows(&Rows::of_joint(id).at_most(FindingRow::date(), out))?;
    Ok(earlier.iter().any(|e| e.what == f.what && e.end == f.end && e.open))
}

/// Adds what a run used; the part of it outside the hire is left out.
fn use_of(
    book: &Book,
    run: &JointRunRow,
    from: i64,
    to: i64,
    it: &mut HiredJoint,
) -> Result<(), ReportError> {
    let used = |f: &Figures| [f.hours, f.revolutions, f.footage, f.worst_damage()];
    let whole = used(&run.figures);
    let part = |cut: i64| -> Result<[Option<i64>; 4], ReportError> {
        if cut <= run.start {
            return Ok([Some(0); 4]);
        }
        if cut >= run.finish {
            return Ok(whole);
        }
        let before = Rows::of_joint(run.joint).is(RunPartRow::run(), run.run);
        let rows = book.rows(&before.is(RunPartRow::cut(), cut))?;
        Ok(rows.first().map_or([None; 4], |p| used(&p.figures)))
    };
    let (first, last) = (part(from)?, part(to)?);
    let sums = [&mut it.hours, &mut it.revolutions, &mut it.footage, &mut it.damage];
    for (sum, (a, b)) in sums.into_iter().zip(first.into_iter().zip(last)) {
        sum.add(if run.conflicting { None } else { a.zip(b).map(|(a, b)| (b - a).max(0)) });
    }
    Ok(())
}

/// Readings and class by an instant, from what inspections said up to then.
fn condition(looks: &[&InspectionRow], rulings: &[DecisionRow], by: i64) -> Condition {
    let last = |get: fn(&InspectionRow) -> Option<i64>| {
        looks.iter().rev().filter(|l| !l.instrument_doubtful).find_map(|l| get(l))
    };
    let seen = looks.last().map(|l| l.date);
    let ruled = rulings.iter().rev().find(|r| r.date <= by && seen.is_none_or(|s| r.date >= s));
    Condition {
        seen,
        class: ruled.and_then(|r| r.class).or_else(|| looks.iter().rev().find_map(|l| l.class)),
        wall: last(|l| l.wall),
        box_od: last(|l| l.box_od),
        pin_od: last(|l| l.pin_od),
    }
}

fn outward(
    it: &mut HiredJoint,
    looks: &[InspectionRow],
    rulings: &[DecisionRow],
    used: &[(i64, i64)],
) {
    let then: Vec<&InspectionRow> = looks.iter().filter(|l| l.date <= it.out).collect();
    it.before = condition(&then, rulings, it.out);
    match then.last() {
        None => it.doubts.push("not inspected before it went out".to_owned()),
        Some(l) => {
            let since = used.iter().filter(|u| u.0 >= l.date && u.1 <= it.out).count();
            if since > 0 {
                it.doubts.push(match since {
                    1 => "ran once between its inspection and going out".to_owned(),
                    n => format!("ran {n} times between its inspection and going out"),
                });
            }
            if l.instrument_doubtful {
                it.doubts.push("inspected out by an instrument in doubt".to_owned());
            }
        }
    }
    if it.before.wall.is_none() && !then.is_empty() {
        it.doubts.push("wall not read before it went out".to_owned());
    }
}

fn inward(
    it: &mut HiredJoint,
    looks: &[InspectionRow],
    rulings: &[DecisionRow],
    last_run: i64,
    until: i64,
) {
    let then: Vec<&InspectionRow> =
        looks.iter().filter(|l| l.date > it.out && l.date >= last_run && l.date < until).collect();
    it.after = condition(&then, rulings, until);
    match (then.last(), it.back) {
        (None, Some(_)) => it.doubts.push("not inspected since it came back".to_owned()),
        (None, None) if it.lost.is_some() => it.doubts.push("lost".to_owned()),
        (None, None) => it.doubts.push("still out, not inspected since it last ran".to_owned()),
        (Some(l), _) if l.instrument_doubtful => {
            it.doubts.push("inspected in by an instrument in doubt".to_owned());
        }
        (Some(_), _) if it.after.wall.is_none() => {
            it.doubts.push("wall not read since it came back".to_owned());
        }
        _ => {}
    }
}
