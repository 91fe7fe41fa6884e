//! What the book would say of a joint if it were looked at now: the same fold, stopped at an
//! instant, and one verdict more that nobody records. Sheets, quick entry and questions ask here,
//! so that they say what the record will say.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use crate::condition::{
    self, ClassStep, Fitness, Reason, RepairHistory, Restriction, RestsOn, Stands, Subject,
    UnknownLife, Unlikely, Verdict,
};
use crate::model::{
    Body, Class, Clock, Component, End, Entry, EntryId, InspectionBody, Instant, JointBody, Moment,
    ReadingKind, Recorded, Work,
};
use crate::units::{Measure, UnitSystem};

use super::super::book::BookFacts;
use super::super::connection;
use super::super::facts::Placed;
use super::super::kinds::{RANK_OF_INSPECTIONS, role};
use super::fold::{Fold, JointInput};
use super::history::ClassEvent;

/// A verdict that is not recorded, and what stands around it.
#[derive(Clone, Debug)]
pub struct Appraisal {
    /// Place of the entry that brought it into the book.
    pub position: i64,
    /// The joint as it was made.
    pub joint: JointBody,
    /// The serial that it carries.
    pub serial: String,
    /// When it is looked at.
    pub at: Instant,
    /// What was judged.
    pub subject: Subject,
    /// The verdict.
    pub verdict: Verdict,
    /// What it makes of the class.
    pub step: ClassStep,
    /// Class before.
    pub class_before: Option<Class>,
    /// Class that the inspector gives, with this inspection or the latest one.
    pub declared: Option<Class>,
    /// Whether that differs from the computed one.
    pub disputed: bool,
    /// Restrictions that the joint carries afterwards.
    pub restrictions: Vec<Restriction>,
    /// What stands about it beside the verdict.
    pub stands: Stands,
    /// Readings of the inspection at hand that earlier ones contradict.
    pub unlikely: Vec<Unlikely>,
    /// How its class came about, oldest first.
    pub history: Vec<ClassEvent>,
}

impl Appraisal {
    /// Why it is not simply fit to run by what is recorded of it, the gravest first; what the rules
    /// in force call for comes on top.
    pub fn reasons(&self, units: UnitSystem) -> Vec<Reason> {
        condition::reasons(Some(&self.verdict), &self.stands, units)
    }

    /// Fit to run by what is recorded of it; `None` where that cannot be said.
    pub fn fit(&self) -> Option<Fitness> {
        condition::answer(condition::grounds(Some(&self.verdict), &self.stands))
    }

    /// The class of the joint, with what a decision made of it where one is in force and nothing
    /// new was looked at.
    pub const fn class(&self) -> Option<Class> {
        self.step.class
    }
}

/// With what a joint is judged.
#[derive(Clone, Copy, Debug, Default)]
pub struct Ask<'a> {
    /// What an inspection of a day brings; without one, what is known is judged.
    pub inspection: Option<(Moment, &'a InspectionBody)>,
    /// Leave out readings and searches of earlier inspections. Findings that are open still count.
    pub fresh: bool,
}

/// Judges a joint as of an instant: with what an inspection brings, or with what is known.
///
/// `None` when the entry that introduced the joint does not stand.
pub fn appraise(input: &JointInput<'_>, at: Instant, ask: Ask<'_>) -> Option<Appraisal> {
    let Ask { inspection, fresh } = ask;
    let mut fold = fold_until(input, at)?;
    let class_before = fold.condition.standing();
    let day_of = inspection.map(|i| i.0.day(fold.clock));
    let unlikely = match (inspection, day_of) {
        (Some((_, body)), Some(day)) if !fresh => fold.unlikely(body, day, at),
        _ => Vec::new(),
    };
    let standing = inspection.map(|(_, body)| super::condition::stands_of(body, &unlikely));
    let body = standing.as_ref();
    let day = day_of.filter(|_| !fresh);
    if let (Some(body), Some(day)) = (body, day_of) {
        fold.condition.flag(body, day, &unlikely);
    }
    if let (Some(body), Some(day)) = (body, day) {
        fold.condition.inspected_on(day, body);
    }
    let mut subject = fold.subject(body, day, at);
    if fresh {
        subject.earlier = condition::Earlier::default();
    }
    let standards = input.book.standards_at(at);
    let verdict = condition::assess(&subject, standards);
    let c = &fold.condition;
    let step = match body {
        Some(_) => {
            condition::class_after(&c.previous, &verdict, &c.repairs, None, &standards.works)
        }
        // Looking at what is known already changes nothing.
        None => ClassStep {
            class: class_before,
            change: condition::Change::Same,
            rests_on: c.steps.last().map_or(RestsOn::Nothing, |s| s.rests_on),
            flags: c.steps.last().map_or_else(Vec::new, |s| s.flags.clone()),
        },
    };
    let done: Vec<Work> = c.repairs.iter().map(|r| r.0).collect();
    let restrictions =
        condition::restrictions_after(&c.restrictions, &verdict, &done, &standards.works);
    let declared = if fresh { body.and_then(|b| b.declared).or(c.declared) } else { c.declared() };
    let disputed = declared.is_some() && condition::agreement(declared, verdict.overall).disputed();
    let below = condition::below_floor(&subject, &standards.findings);
    let bore = subject.worst(ReadingKind::JointId, Some(End::Pin));
    let stands = fold.stands(below, step.class);
    let stands = Stands {
        // What the book held alone is judged by what is seen now.
        weak_pin: connection::weak_pin(fold.body, &fold.nominal, bore, step.class),
        declared,
        owners_word: c.owners_word && body.is_none(),
        never_searched: stands
            .never_searched
            .iter()
            .filter(|s| body.is_none() || !verdict.covered.contains(s))
            .copied()
            .collect(),
        gaps: looked_at_now(stands.gaps, day_of.map(|day| (day, &verdict))),
        follow_ups: c
            .follow_ups
            .iter()
            .filter(|f| body.is_none() || !f.scopes.iter().any(|s| verdict.covered.contains(s)))
            .cloned()
            .collect(),
        restrictions: restrictions.clone(),
        ..stands
    };
    Some(Appraisal {
        position: input.joint,
        joint: fold.body.clone(),
        serial: fold.serial.to_string(),
        at,
        class_before,
        history: c.steps.clone(),
        subject,
        verdict,
        step,
        declared,
        disputed,
        restrictions,
        stands,
        unlikely,
    })
}

/// Stretches of its life of which nobody knows, without what a verdict of now has looked at again.
fn looked_at_now(gaps: Vec<UnknownLife>, now: Option<(NaiveDate, &Verdict)>) -> Vec<UnknownLife> {
    let Some((day, now)) = now else { return gaps };
    let still = |mut gap: UnknownLife| {
        // What is looked at before a stretch has ended says nothing of the rest of it.
        if gap.until.is_some_and(|until| until <= day) {
            gap.stale.retain(|scope| !now.covered.contains(scope));
        }
        (!gap.stale.is_empty()).then_some(gap)
    };
    gaps.into_iter().filter_map(still).collect()
}

/// Judges a joint that is in no book: what it is as made, and what was read and found on it.
pub fn appraise_alone(
    joint: &JointBody,
    at: Instant,
    ask: Ask<'_>,
    book: &BookFacts,
    clock: Clock,
) -> Option<Appraisal> {
    let id: EntryId = "unrecorded-1".parse().ok()?;
    let recorded = Recorded { at, offset_minutes: 0 };
    let entry = Entry {
        id,
        effective: Moment::Clock(at.at(Clock::UTC)),
        recorded,
        author: String::new(),
        program: String::new(),
        evidence: None,
        body: Body::Joint(Box::new(joint.clone())),
    };
    let entries = [Placed::new(1, entry, clock)];
    let input = JointInput {
        joint: 1,
        entries: &entries,
        dims: &[],
        runs: &[],
        parts: &[],
        run_rows: &BTreeMap::new(),
        run_names: &BTreeMap::new(),
        book,
        positions: &BTreeMap::new(),
    };
    appraise(&input, at, ask)
}

/// What a repair is held against.
#[derive(Clone, Debug)]
pub struct RepairGround {
    /// What the joint is.
    pub component: Component,
    /// The joint as it was made.
    pub nominal: condition::Nominal,
    /// What the book knows of the end before the repair.
    pub history: RepairHistory,
    /// The joint to which the end was made up last.
    pub mate: Option<i64>,
}

/// What the book knows of an end, or of the body, before a repair at an instant.
pub fn repair_ground(
    input: &JointInput<'_>,
    at: Instant,
    end: Option<End>,
) -> Option<RepairGround> {
    let fold = fold_until(input, at)?;
    let subject = fold.subject(None, None, at);
    let stored = |q: &Option<crate::model::Qty>| q.as_ref().and_then(|q| q.stored(Measure::Wall));
    let benchmark = fold
        .condition
        .reading(ReadingKind::Benchmark, end)
        .or_else(|| stored(&fold.body.benchmark).filter(|_| end.is_some()));
    let open_findings: Vec<String> =
        fold.records.findings.iter().filter(|f| f.open).map(|f| f.what.clone()).collect();
    let has_benchmark = if open_findings.iter().any(|f| f == "no_benchmark") {
        Some(false)
    } else {
        benchmark.map(|_| true)
    };
    let mate = end.and_then(|e| {
        fold.records.makeups.iter().rev().find(|m| m.end == e && m.mate_joint.is_some())?.mate_joint
    });
    Some(RepairGround {
        component: fold.body.component,
        nominal: subject.nominal,
        history: RepairHistory {
            refaced: end.and_then(|e| fold.refaced(e)),
            mate_refaced: None,
            has_benchmark,
            benchmark,
            open_findings,
            length: super::dims_at(input.dims, at.0).and_then(|d| d.length),
        },
        mate,
    })
}

/// The fold of everything before an inspection at an instant.
fn fold_until<'a>(input: &'a JointInput<'a>, at: Instant) -> Option<Fold<'a>> {
    let mut fold = Fold::begin(input)?;
    for placed in input.entries {
        let key = (placed.at(), role(placed.entry.body.kind()).rank);
        if key <= (at, RANK_OF_INSPECTIONS) {
            fold.take(placed);
        }
    }
    Some(fold)
}

impl Fold<'_> {
    /// Removed by refacing since the last cut of an end, nanometres; `None` where that is not
    /// known: an end that came used into the book, or a refacing that says no amount.
    pub(super) fn refaced(&self, end: End) -> Option<i64> {
        let generation = self.ends.of(end).generation;
        if generation == 1 && !self.body.new {
            return None;
        }
        self.records
            .repairs
            .iter()
            .filter(|r| {
                r.work == Work::Reface && r.end == Some(end) && r.generation == Some(generation)
            })
            .try_fold(0i64, |sum, r| sum.checked_add(r.removed?))
    }
}
