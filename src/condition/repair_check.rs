//! A repair against the limits and against what the book knows: what breaks a limit, what is not
//! known that should be, and what the work cannot have done.

use std::collections::BTreeSet;

use crate::model::{Component, End, Qty, ReadingKind, Scope, Vocabulary, Work};
use crate::units::{Measure, Rational, UnitSystem};

use super::assess::assess;
use super::catalogue::UnknownFinding;
use super::criterion::Criterion;
use super::fitness::in_words;
use super::limit::Limit;
use super::limits::LimitSet;
use super::repair::WorkOn;
use super::standards::Standards;
use super::subject::{Amount, Measured, Nominal, Subject};
use super::verdict::Outcome;
use super::words::{Blocks, Part};

/// A repair that was done, or is to be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RepairInput {
    /// What the joint is.
    pub component: Component,
    /// The joint as it was made.
    pub nominal: Nominal,
    pub work: Work,
    pub end: Option<End>,
    pub removed: Option<i64>,
    pub results: Vec<Measured>,
    pub shop: Option<String>,
    pub licence: Option<String>,
    /// Findings that it disposed of, in the words of the catalogue.
    pub clears: Vec<String>,
    /// Scopes inspected since, or with it.
    pub inspected: BTreeSet<Scope>,
}

/// What the book knows of the end before the repair. What is absent is unknown, never zero.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct RepairHistory {
    /// Removed from this end by refacing since its last cut, nanometres.
    pub refaced: Option<i64>,
    /// The same of the mate, where one is known.
    pub mate_refaced: Option<i64>,
    /// Whether the end has a benchmark.
    pub has_benchmark: Option<bool>,
    /// Shoulder to benchmark before, nanometres.
    pub benchmark: Option<i64>,
    /// Findings open on the joint, in the words of the catalogue.
    pub open_findings: Vec<String>,
    pub length: Option<i64>,
}

/// How much an issue weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// Something is not known that should be.
    Ask,
    /// It may stand, with a doubt that is kept.
    Warn,
    /// It breaks a limit or cannot be.
    Refuse,
}

/// What is wrong with a repair, or open about it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RepairIssue {
    /// The end is not named.
    #[error("{0} is done to an end; name pin or box")]
    EndMissing(Work),
    /// An end is named that the work has none of.
    #[error("{0} is done to the tube, not to an end")]
    EndNamed(Work),
    /// Nobody is named.
    #[error("nobody is named who did it; it is work for: {0}")]
    WhoMissing(String),
    /// No licence or qualification is named.
    #[error("{0} needs a licence or a qualified procedure; none is named")]
    LicenceMissing(Work),
    /// Refaced without a benchmark.
    #[error("there is no benchmark: a connection without one is not refaced but recut ({0})")]
    NoBenchmark(String),
    /// The amount is not known.
    #[error("how much was removed is not known, nor the benchmark before and after")]
    RemovedUnknown,
    /// Too much at once.
    #[error("{} removed at once; the limit is {limit} ({authority})", inches(*removed))]
    TooMuchAtOnce { removed: i64, limit: String, authority: String },
    /// Too much in all.
    #[error("{} removed since the last cut; the limit is {limit} ({authority}){}", inches(*total), other_reading(allowed_by.as_deref()))]
    TooMuchInAll {
        /// Removed in all, nanometres.
        total: i64,
        limit: String,
        authority: String,
        /// Another source that would allow it.
        allowed_by: Option<String>,
    },
    /// Too much of both mating shoulders.
    #[error("{} removed from the two shoulders that mate; the limit is {limit} ({authority})", inches(*total))]
    TooMuchOfPair {
        /// Removed from both, nanometres.
        total: i64,
        limit: String,
        authority: String,
    },
    /// What was removed before is not known.
    #[error("what was refaced since the last cut is not known; the total cannot be judged")]
    TotalUnknown,
    /// The benchmark and the amount do not agree.
    #[error("the benchmark moved by {}, but {} is said to be removed", inches(*moved), inches(*removed))]
    BenchmarkDisagrees {
        /// How far it moved, nanometres.
        moved: i64,
        removed: i64,
    },
    /// A reading that must follow is not there.
    #[error("{0} must be measured after {1}")]
    ResultMissing(ReadingKind, Work),
    /// A dimension afterwards breaks a limit.
    #[error("{what} after the work breaks its limit: {value}, {limit} ({authority})")]
    ResultFails {
        what: String,
        value: String,
        limit: String,
        authority: String,
        /// Whether the joint stays out for it.
        stops: bool,
    },
    /// It was not inspected afterwards.
    #[error("after {work} look at: {scopes}")]
    NotInspected {
        work: Work,
        /// Scopes, one of which is enough.
        scopes: String,
    },
    /// The work cannot make the finding good.
    #[error("{work} does not clear {finding}{}", what_does(by))]
    CannotClear {
        work: Work,
        /// Word of the finding.
        finding: String,
        by: Vec<Work>,
    },
    /// No word of the catalogue.
    #[error(transparent)]
    StrangeFinding(#[from] UnknownFinding),
    /// The finding is not open.
    #[error("{0} is not open on this joint")]
    NotOpen(String),
    /// The length afterwards is not shorter.
    #[error("the joint is {} long after {work}, no shorter than {} before", feet(*after), feet(*before))]
    NoShorter { work: Work, before: i64, after: i64 },
}

fn other_reading(allowed_by: Option<&str>) -> String {
    allowed_by.map_or_else(String::new, |s| format!("; {s} would allow it"))
}

fn what_does(by: &[Work]) -> String {
    if by.is_empty() {
        "; nothing does".to_owned()
    } else {
        let words: Vec<&str> = by.iter().map(|w| w.word()).collect();
        format!("; it takes {}", words.join(" or "))
    }
}

impl RepairIssue {
    /// How much it weighs.
    pub const fn severity(&self) -> Severity {
        match self {
            Self::EndMissing(_)
            | Self::EndNamed(_)
            | Self::NoBenchmark(_)
            | Self::TooMuchAtOnce { .. }
            | Self::TooMuchInAll { allowed_by: None, .. }
            | Self::ResultFails { stops: true, .. }
            | Self::CannotClear { .. }
            | Self::StrangeFinding(_) => Severity::Refuse,
            Self::TooMuchInAll { .. }
            | Self::TooMuchOfPair { .. }
            | Self::ResultFails { .. }
            | Self::BenchmarkDisagrees { .. }
            | Self::NotOpen(_)
            | Self::NoShorter { .. }
            | Self::NotInspected { .. } => Severity::Warn,
            Self::WhoMissing(_)
            | Self::LicenceMissing(_)
            | Self::RemovedUnknown
            | Self::TotalUnknown
            | Self::ResultMissing(..) => Severity::Ask,
        }
    }
}

/// Checks a repair against the standards and what the book knows, the gravest issue first.
pub fn check_repair(
    repair: &RepairInput,
    history: &RepairHistory,
    standards: &Standards,
) -> Vec<RepairIssue> {
    let catalogue = &standards.findings;
    let mut issues = Vec::new();
    let Some(effect) = standards.works.effect(repair.work) else { return issues };
    match (effect.on, repair.end) {
        (WorkOn::End, None) => issues.push(RepairIssue::EndMissing(repair.work)),
        (WorkOn::Tube, Some(_)) => issues.push(RepairIssue::EndNamed(repair.work)),
        _ => {}
    }
    if repair.shop.as_deref().is_none_or(|s| s.trim().is_empty()) {
        let who: Vec<&str> = effect.who.iter().map(|p| p.says()).collect();
        issues.push(RepairIssue::WhoMissing(who.join("; ")));
    }
    if effect.licensed && repair.licence.as_deref().is_none_or(|s| s.trim().is_empty()) {
        issues.push(RepairIssue::LicenceMissing(repair.work));
    }
    if repair.work == Work::Reface {
        check_refacing(repair, history, &standards.limits, &mut issues);
    }
    for kind in &effect.results {
        if !repair.results.iter().any(|m| m.what == *kind) {
            // A length that can be worked out is as good as one that was strapped.
            let known = *kind == ReadingKind::Length
                && repair.removed.is_some()
                && history.length.is_some();
            if !known {
                issues.push(RepairIssue::ResultMissing(*kind, repair.work));
            }
        }
    }
    check_results(repair, standards, &mut issues);
    for wanted in effect.looks_afterwards(repair.end) {
        if !wanted.iter().any(|s| repair.inspected.contains(s)) {
            let scopes = in_words(&wanted, " or ");
            issues.push(RepairIssue::NotInspected { work: repair.work, scopes });
        }
    }
    for word in &repair.clears {
        match catalogue.get(word) {
            Err(e) => issues.push(e.into()),
            Ok(f) if !f.cleared_by.contains(&repair.work) => {
                issues.push(RepairIssue::CannotClear {
                    work: repair.work,
                    finding: f.word.clone(),
                    by: f.cleared_by.clone(),
                });
            }
            Ok(f) => {
                let open = history
                    .open_findings
                    .iter()
                    .any(|o| catalogue.get(o).is_ok_and(|g| g.word == f.word));
                if !open {
                    issues.push(RepairIssue::NotOpen(f.word.clone()));
                }
            }
        }
    }
    let after = length_of(repair.results.iter().find(|m| m.what == ReadingKind::Length));
    if let (Some(before), Some(after)) = (history.length, after)
        && effect.shortens
        && after >= before
    {
        issues.push(RepairIssue::NoShorter { work: repair.work, before, after });
    }
    issues.sort_by_key(|i| std::cmp::Reverse(i.severity()));
    issues
}

fn length_of(m: Option<&Measured>) -> Option<i64> {
    match m?.amount {
        Amount::Length(q) => Some(q),
        Amount::OfNominal(_) => None,
    }
}

/// A small length to the last digit: a limit of 1/32 in is not broken by "0.031 in".
fn inches(nanometres: i64) -> String {
    const SIXTY_FOURTH: i64 = 396_875;
    if nanometres > 0 && nanometres % SIXTY_FOURTH == 0 {
        Measure::Diameter.text(nanometres, UnitSystem::Us)
    } else {
        Qty::from_quanta(nanometres, Measure::Diameter, "in").to_string()
    }
}

fn feet(nanometres: i64) -> String {
    Measure::JointLength.text(nanometres, UnitSystem::Us)
}

/// How much came off: as said, else as the benchmark moved.
fn removed(repair: &RepairInput, history: &RepairHistory) -> Option<i64> {
    repair.removed.or_else(|| benchmark_moved(repair, history))
}

/// How far the benchmark moved: on a pin the distance grows, on a box it shrinks.
fn benchmark_moved(repair: &RepairInput, history: &RepairHistory) -> Option<i64> {
    let after = length_of(repair.results.iter().find(|m| m.what == ReadingKind::Benchmark))?;
    match repair.end? {
        End::Pin => after.checked_sub(history.benchmark?),
        End::Box => history.benchmark?.checked_sub(after),
    }
}

/// Two readings of a benchmark agree to this (0.005 in, common practice).
const BENCHMARK_AGREES: i64 = 127_000;

fn check_refacing(
    repair: &RepairInput,
    history: &RepairHistory,
    limits: &LimitSet,
    issues: &mut Vec<RepairIssue>,
) {
    let part = repair.end.map_or(Part::Joint, Part::from);
    let fit = repair.nominal.fit(part);
    if history.has_benchmark == Some(false) {
        issues.push(RepairIssue::NoBenchmark("NS-2 Repair Procedures r1 2015".to_owned()));
    }
    if let (Some(said), Some(moved)) = (repair.removed, benchmark_moved(repair, history))
        && (said - moved).abs() > BENCHMARK_AGREES
    {
        issues.push(RepairIssue::BenchmarkDisagrees { moved, removed: said });
    }
    let Some(off) = removed(repair, history) else {
        issues.push(RepairIssue::RemovedUnknown);
        return;
    };
    let broken = |criterion: Criterion, amount: i64| -> Option<Limit> {
        limits
            .in_force(criterion, repair.component, &fit)
            .into_iter()
            .find(|l| !l.comparison.holds(Rational::integer(amount), l.number))
            .cloned()
    };
    if let Some(l) = broken(Criterion::RefaceOnce, off) {
        issues.push(RepairIssue::TooMuchAtOnce {
            removed: off,
            limit: l.written.clone(),
            authority: l.authority(),
        });
    }
    let Some(before) = history.refaced else {
        issues.push(RepairIssue::TotalUnknown);
        return;
    };
    let total = before.saturating_add(off);
    if let Some(l) = broken(Criterion::RefaceTotal, total) {
        let allowed_by = limits
            .alternatives(Criterion::RefaceTotal, repair.component, &fit)
            .into_iter()
            .find(|a| a.comparison.holds(Rational::integer(total), a.number))
            .map(|a| format!("{} ({})", a.authority(), a.written));
        issues.push(RepairIssue::TooMuchInAll {
            total,
            limit: l.written.clone(),
            authority: l.authority(),
            allowed_by,
        });
    }
    if let Some(mate) = history.mate_refaced {
        let both = total.saturating_add(mate);
        if let Some(l) = broken(Criterion::RefacePair, both) {
            issues.push(RepairIssue::TooMuchOfPair {
                total: both,
                limit: l.written.clone(),
                authority: l.authority(),
            });
        }
    }
}

/// Dimensions afterwards, held against the limits that hold in every class.
fn check_results(repair: &RepairInput, standards: &Standards, issues: &mut Vec<RepairIssue>) {
    let mut subject = Subject::new(repair.component);
    subject.nominal = repair.nominal.clone();
    subject.readings =
        repair.results.iter().map(|m| Measured { end: m.end.or(repair.end), ..*m }).collect();
    let verdict = assess(&subject, standards);
    for j in verdict.judgements.iter().filter(|j| j.outcome == Outcome::Fails) {
        issues.push(RepairIssue::ResultFails {
            what: j.criterion.spec().name.to_owned(),
            value: j.value_text(UnitSystem::Us),
            limit: j.limit.text(),
            authority: j.limit.authority(),
            stops: j.blocks != Blocks::Nothing,
        });
    }
}
