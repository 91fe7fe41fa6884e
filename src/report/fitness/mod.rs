//! Whether joints are fit to run, asked by every command that shows a verdict: what is recorded of a
//! joint, what the rules in force call for, and each search for cracks with what came since.

mod against;
mod calls;
mod of_run;
mod show;

use std::collections::{BTreeMap, BTreeSet};

use crate::condition::{
    self, Catalogue, Disposition, Fitness, Ground, NotJudged, Part, Reason, Search, answer,
    crack_scopes, is_crack_scope,
};
use crate::model::{Call, Method, Scope, Vocabulary};
use crate::projection::joint::{Appraisal, Ask};
use crate::schema::{Bounds, EventRow, FindingRow, InspectionRow, JointRow, Rows, SinceRow};
use crate::store::Book;
use crate::units::UnitSystem;

use super::data::plain;
use super::question::Present;
use super::{Cell, ReportError};

pub use against::{Demands, against, pull_borne};
pub(super) use calls::by_name;
pub use calls::{RuleCall, called_for, calls_on};
pub use of_run::{OfRun, of_run};
pub use show::{
    blocks, caution, is_told_by, last_columns, lines, not_judged_in_short, row_of,
    searches_in_short, words,
};

/// How a joint stands for a run.
#[derive(Clone, Debug)]
pub struct Told {
    /// Every reason against it, the gravest first.
    pub reasons: Vec<Reason>,
    /// Where each search for cracks stands.
    pub searches: Vec<CrackSearch>,
    /// What was read and nothing judges.
    pub not_judged: Vec<NotJudged>,
    /// Rules in force that cannot be decided for it.
    pub open: Vec<String>,
    /// Whether the rules in force were asked.
    pub rules_asked: bool,
    /// What the rules will call for next; `None` where nobody asked.
    pub ahead: Option<Ahead>,
}

/// What the rules in force call for now and next.
#[derive(Clone, Debug, Default)]
pub struct Ahead {
    /// The gravest call that is made now, and the first that is foreseen.
    pub calls: Vec<NextCall>,
    /// How far it was looked ahead, in words.
    pub within: String,
    /// Rules for which no day is foreseen, each with why.
    pub undated: Vec<String>,
}

/// A call that is made now or foreseen.
#[derive(Clone, Debug)]
pub struct NextCall {
    pub call: Call,
    pub rule: String,
    pub reason: String,
    /// When it is likely, and the days before and behind which it is not four times in five.
    pub on: [Cell; 3],
    /// What moves it.
    pub by: &'static str,
}

impl Told {
    /// The answer; `None` where it cannot be said.
    pub fn answer(&self) -> Option<Fitness> {
        answer(self.reasons.iter().map(|r| r.ground))
    }

    /// Whether it may go into a string.
    pub fn may_run(&self) -> bool {
        matches!(self.answer(), Some(Fitness::Fit | Fitness::Restricted))
    }

    /// The gravest reason.
    pub fn first(&self) -> Option<&Reason> {
        self.reasons.first()
    }

    /// What follows for the joint, where its readings and findings lead to this: what they alone would
    /// allow is no leave to run it.
    pub fn follows(&self, disposition: Disposition) -> &'static str {
        if self.may_run() { disposition.says() } else { disposition.kept_out() }
    }

    /// Takes in reasons from elsewhere.
    pub fn add(&mut self, reasons: impl IntoIterator<Item = Reason>) {
        self.reasons.extend(reasons);
        self.reasons.sort();
        self.reasons.dedup();
    }
}

/// A search for cracks, and what came since.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CrackSearch {
    pub scope: Scope,
    /// `None` where it was never made.
    pub made: Option<Made>,
    /// Cracks were found.
    pub found: bool,
    /// Turns since it, or of the whole life where it was never made; nothing for a joint in no book.
    pub turns: Option<Bounds>,
    /// Fatigue damage likewise.
    pub damage: Option<Bounds>,
    /// What happened to it since, in words.
    pub events: Vec<String>,
}

/// When and how a search was made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Made {
    /// Age, quanta of `Measure::Days`.
    pub age: i64,
    /// Methods of that inspection that can see it; none where the book does not tell.
    pub methods: Vec<Method>,
    /// Place of its entry; none for one that is not recorded yet.
    pub entry: Option<i64>,
}

/// What the searches of a joint rest on.
#[derive(Default)]
struct Record {
    since: BTreeMap<Scope, SinceRow>,
    inspections: Vec<InspectionRow>,
    events: Vec<EventRow>,
}

impl Record {
    fn read(book: &Book, joint: i64) -> Result<Self, ReportError> {
        let scopes = Scope::ALL.iter().copied().filter(|s| is_crack_scope(*s));
        let of_joint = Rows::of(SinceRow::joint(), joint).one_of(SinceRow::scope(), scopes);
        let since: Vec<SinceRow> = book.rows(&of_joint)?;
        Ok(Self {
            since: since.into_iter().map(|s| (s.scope, s)).collect(),
            inspections: book.rows_of(joint)?,
            events: book.rows_of(joint)?,
        })
    }

    fn search(&self, a: &Appraisal, scope: Scope, search: Search) -> CrackSearch {
        let since = self.since.get(&scope);
        let now = |methods: &[Method]| Made { age: 0, methods: methods.to_vec(), entry: None };
        let made = match search {
            Search::NotSearched => None,
            Search::Found if a.subject.methods.is_empty() => since
                .and_then(|s| s.entry.map(|entry| (s.at, entry)))
                .map(|(at, entry)| self.made(a.at.0.saturating_sub(at).max(0), entry)),
            Search::Found | Search::NoneFound => Some(now(&a.subject.methods)),
            Search::NoneFoundEarlier(age) => Some(match since.and_then(|s| s.entry) {
                Some(entry) => self.made(age, entry),
                None => Made { age, methods: Vec::new(), entry: None },
            }),
        };
        CrackSearch { found: search == Search::Found, ..self.at(scope, made, a.at.0) }
    }

    /// A search, and what came between it and an instant.
    fn at(&self, scope: Scope, made: Option<Made>, now: i64) -> CrackSearch {
        let since = self.since.get(&scope);
        let just_now = made.as_ref().is_some_and(|m| m.entry.is_none());
        let from = made.as_ref().map(|m| now.saturating_sub(m.age));
        let events = self.events.iter().filter(|e| from.is_none_or(|from| e.date > from));
        let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
        for event in events.filter(|e| e.date <= now) {
            *counts.entry(event.what.word()).or_default() += 1;
        }
        let events = counts.into_iter().map(|(what, n)| match n {
            1 => plain(what),
            n => format!("{n}× {}", plain(what)),
        });
        let nothing = Bounds { lo: 0, hi: Some(0) };
        let of = |pick: fn(&SinceRow) -> Bounds| {
            if just_now { Some(nothing) } else { since.map(pick) }
        };
        CrackSearch {
            scope,
            found: false,
            turns: of(|s| s.totals.revolutions),
            damage: of(|s| s.totals.damage),
            events: if just_now { Vec::new() } else { events.collect() },
            made,
        }
    }

    fn made(&self, age: i64, entry: i64) -> Made {
        let bits = self.inspections.iter().find(|i| i.entry == entry).map_or(0, |i| i.method);
        let methods = Method::ALL.iter().copied().filter(|m| bits & (1 << m.rank()) != 0);
        Made { age, methods: methods.collect(), entry: Some(entry) }
    }
}

/// Where the searches for cracks of a joint of the book stand, by its record alone: a crack that
/// this catalogue knows and nothing cleared was found.
pub(super) fn searches_on_record(
    book: &Book,
    joint: i64,
    catalogue: &Catalogue,
    now: i64,
) -> Result<Vec<CrackSearch>, ReportError> {
    let Some(joint) = book.row::<JointRow>(joint)? else { return Ok(Vec::new()) };
    let record = Record::read(book, joint.joint)?;
    let open = Rows::of(FindingRow::joint(), joint.joint).is(FindingRow::open(), true);
    let open: Vec<FindingRow> = book.rows(&open)?;
    let cracks = open.iter().filter_map(|f| catalogue.at(&f.what, f.place, f.end).ok());
    let seen_by = cracks.filter(|f| f.is_crack()).flat_map(|f| &f.seen_by);
    let cracked: BTreeSet<Scope> = seen_by.copied().collect();
    let scopes = crack_scopes(joint.component).into_iter();
    Ok(scopes
        .map(|(scope, _)| {
            let since = record.since.get(&scope);
            let made = since.and_then(|s| Some((s.at, s.entry?)));
            let made = made.map(|(at, entry)| record.made((now - at).max(0), entry));
            CrackSearch { found: cracked.contains(&scope), ..record.at(scope, made, now) }
        })
        .collect())
}

/// How a joint stands by what an appraisal of it says and by these calls; `None` in their place where
/// the rules were not asked.
pub fn of(
    book: Option<&Book>,
    a: &Appraisal,
    calls: Option<&[RuleCall]>,
    units: UnitSystem,
) -> Result<Told, ReportError> {
    let record = match book {
        Some(book) => Record::read(book, a.position)?,
        None => Record::default(),
    };
    let mut stands = a.stands.clone();
    if let Some(book) = book {
        stands.conflicted = book.row::<JointRow>(a.position)?.is_some_and(|row| row.conflicted);
    }
    let mut told = Told {
        reasons: condition::reasons(Some(&a.verdict), &stands, units),
        searches: a.verdict.cracks.iter().map(|(s, found)| record.search(a, *s, *found)).collect(),
        not_judged: condition::not_judged(&a.verdict, &a.subject),
        open: Vec::new(),
        rules_asked: calls.is_some(),
        ahead: None,
    };
    let calls = calls.unwrap_or_default();
    told.open = calls.iter().filter(|c| !c.calls).map(|c| c.rule.clone()).collect();
    told.add(calls.iter().filter(|c| c.calls).map(RuleCall::reason));
    Ok(told)
}

/// Visits joints of the book, each as it stands now.
pub fn each_standing(
    book: &mut Book,
    joints: &[i64],
    present: &Present,
    mut see: impl FnMut(Appraisal, Told),
) -> Result<(), ReportError> {
    let calls = calls_on(book, joints, present)?;
    let book = &*book;
    let mut appraiser = book.appraiser()?;
    for joint in joints {
        let asked = appraiser.appraise(*joint, present.now, Ask::default())?;
        let Some(appraisal) = asked else { continue };
        let called = calls.get(joint).map_or(&[][..], Vec::as_slice);
        let told = of(Some(book), &appraisal, Some(called), present.units)?;
        see(appraisal, told);
    }
    Ok(())
}

/// How joints of the book stand now.
pub fn standing(
    book: &mut Book,
    joints: &[i64],
    present: &Present,
) -> Result<Vec<(Appraisal, Told)>, ReportError> {
    let mut out = Vec::with_capacity(joints.len());
    each_standing(book, joints, present, |a, told| out.push((a, told)))?;
    Ok(out)
}

/// The answer of a joint of which nobody asks more than its row, with what rules call for.
pub fn of_record(row: &JointRow, called: &[Call]) -> Option<Fitness> {
    with_calls(row.fit, answer(called.iter().copied().map(Ground::of_call)))
}

/// The answer of a record together with that of the rules.
pub(super) fn with_calls(recorded: Option<Fitness>, called: Option<Fitness>) -> Option<Fitness> {
    match (recorded, called) {
        (Some(Fitness::NotFit), _) | (_, Some(Fitness::NotFit)) => Some(Fitness::NotFit),
        (None, _) | (_, None) => None,
        (a, b) => a.max(b),
    }
}

impl RuleCall {
    fn reason(&self) -> Reason {
        let ground = Ground::of_call(self.call);
        let says = format!("{}: {} (rule {})", self.call, self.reason, self.rule);
        Reason { ground, part: Part::Joint, says }
    }
}
