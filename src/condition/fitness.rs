//! Whether a joint is fit to run: one answer from everything that is known of it, with every reason
//! for which it is not, what is known to be bad before what is not known.
//!
//! It never rests on silence. What tests hold it to: one more reading that is bad, finding, event or
//! day never makes a joint fitter, and what was left out never does.

use chrono::NaiveDate;

use crate::model::{
    Call, Class, End, FailureKind, ReadingKind, Scope, Status, Vocabulary, Work, Worse, vocabulary,
};
use crate::units::{Measure, UnitSystem};

use super::criterion::Take;
use super::floor::{self, BelowFloor};
use super::restriction::Restriction;
use super::subject::{Amount, Measured, Subject};
use super::verdict::{Action, Because, Judgement, Missing, Outcome, Standing, Verdict};
use super::words::{Disposition, Part};

vocabulary!(
    /// Whether a joint is fit to run. Where that cannot be said there is none of these.
    Fitness, "fitness", {
        Fit = "fit" [],
        /// Fit where a restriction is kept.
        Restricted = "restricted" ["fit_restricted", "fit_with_a_restriction"],
        NotFit = "not_fit" ["unfit"],
    }
);

vocabulary!(
    /// Why a joint is not fit, or why that cannot be said: what is known to be bad, what is not
    /// known, what restricts it, in this order.
    Ground, "ground", {
        Failed = "failed" [],
        Retired = "retired" [],
        Lost = "lost" [],
        Quarantine = "quarantine" [],
        /// It is in repair, and nothing says that it came back.
        InRepair = "in_repair" [],
        /// Worse than any decision helps.
        BelowFloor = "below_floor" ["floor"],
        /// Its class is scrap.
        Scrap = "scrap" [],
        /// A limit is broken.
        Limit = "limit" ["limit_broken"],
        /// A finding is open for which something is to be done first.
        Finding = "finding" ["open_finding"],
        /// Class 3 without its owner's decision.
        Class3 = "class_3" [],
        /// A rule in force calls for it to be repaired, set aside or retired.
        CalledOut = "called_out" [],
        /// A run asks for more than it has.
        Demand = "demand" ["beyond_demand"],
        /// Facts that exclude each other wait for a decision.
        Conflict = "conflict" [],
        /// Something that its class rests on was not measured or not looked at.
        NotMeasured = "not_measured" ["missing"],
        /// Work was done after which it is looked at, and nobody did.
        FollowUp = "follow_up" ["not_looked_at_after_repair"],
        /// Nobody knows what it went through since it was looked at.
        Gap = "gap" ["unknown_life"],
        /// Steel grew by a reading, or went without use.
        Implausible = "implausible" ["grown"],
        /// A rule in force calls for an inspection.
        InspectionDue = "inspection_due" [],
        /// What a run asks for cannot be held against it.
        DemandOpen = "demand_open" [],
        /// It carries a restriction.
        Restriction = "restriction" [],
        /// Class 3 that runs by its owner's decision.
        OwnersDecision = "owners_decision" [],
        /// A rule in force calls for lesser work, or for a lower class.
        WorkDue = "work_due" [],
    }
);

/// How much a reason weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Weight {
    /// Known to be bad: not fit.
    Bad,
    /// Not known: nothing can be said.
    Unknown,
    /// Fit where it is kept.
    Restricts,
}

impl Weight {
    /// What kind of reason it is, in words.
    pub const fn says(self) -> &'static str {
        match self {
            Self::Bad => "known bad",
            Self::Unknown => "not known",
            Self::Restricts => "restricts",
        }
    }
}

impl Ground {
    /// The grounds that rules give.
    pub const OF_RULES: [Self; 3] = [Self::CalledOut, Self::InspectionDue, Self::WorkDue];

    /// What a call of a rule is to a joint that is to run.
    pub const fn of_call(call: Call) -> Self {
        match call {
            Call::Inspection => Self::InspectionDue,
            Call::Repair | Call::Quarantine | Call::Retire => Self::CalledOut,
            Call::Downgrade => Self::WorkDue,
        }
    }

    /// How much it weighs.
    pub const fn weight(self) -> Weight {
        match self {
            Self::Failed
            | Self::Retired
            | Self::Lost
            | Self::Quarantine
            | Self::InRepair
            | Self::BelowFloor
            | Self::Scrap
            | Self::Limit
            | Self::Finding
            | Self::Class3
            | Self::CalledOut
            | Self::Demand => Weight::Bad,
            Self::Conflict
            | Self::NotMeasured
            | Self::FollowUp
            | Self::Gap
            | Self::Implausible
            | Self::InspectionDue
            | Self::DemandOpen => Weight::Unknown,
            Self::Restriction | Self::OwnersDecision | Self::WorkDue => Weight::Restricts,
        }
    }
}

/// Why a joint is not simply fit.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Reason {
    pub ground: Ground,
    pub part: Part,
    /// In a line.
    pub says: String,
}

/// The answer that follows from all reasons; `None` where it cannot be said.
pub fn answer(grounds: impl IntoIterator<Item = Ground>) -> Option<Fitness> {
    match grounds.into_iter().map(Ground::weight).min() {
        None => Some(Fitness::Fit),
        Some(Weight::Bad) => Some(Fitness::NotFit),
        Some(Weight::Unknown) => None,
        Some(Weight::Restricts) => Some(Fitness::Restricted),
    }
}

/// A pin whose bore is over nominal, and that carries too little of the tube's torque.
///
/// API RP 7G, the rule behind its Table 10: a tool joint carries at least 80 % of the torsional
/// yield of the tube (computed).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WeakPin {
    /// Bore as read, nanometres.
    pub bore: i64,
    /// Bore as made, nanometres.
    pub nominal: i64,
    /// Torsional yield of the pin as a part of the tube's.
    pub share: f64,
    /// The least that it must be.
    pub least: f64,
    /// The class of the tube.
    pub class: Class,
}

/// A reading that an earlier one contradicts: what came back without a repair, or a wall that was lost
/// without use. The worse of the two stands until it is read again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Unlikely {
    pub what: ReadingKind,
    pub end: Option<End>,
    /// As it was read, nanometres.
    pub read: i64,
    /// As it had been read before.
    pub before: i64,
}

impl Unlikely {
    /// Whether it is better than before, so that the one before stands.
    pub fn came_back(&self) -> bool {
        self.what.better_by(self.end, self.read, self.before) > 0
    }

    /// One line: what was read, what stood before, why that cannot be so, and what stands.
    pub fn text(&self, units: UnitSystem) -> String {
        let measure = self.what.spec().measure;
        let end = self.end.map_or_else(String::new, |end| format!("{end} "));
        let what = self.what.word().replace('_', " ");
        let (read, before) = (measure.text(self.read, units), measure.text(self.before, units));
        let came_back = |nature: &str| {
            format!(
                "{end}{what} {read} where {before} was read before, and no repair between: {nature} \
                 stands until it is read again"
            )
        };
        if self.came_back() {
            came_back(match self.what.worse(self.end) {
                Worse::Less => "steel does not grow; the lower one",
                Worse::More => {
                    "what is washed out, swollen or stretched does not go back; the higher one"
                }
                Worse::EitherWay if self.what == ReadingKind::HardbandHeight => {
                    "a band does not grow; the lower one"
                }
                Worse::EitherWay => "it was out of its limit; the earlier one",
            })
        } else {
            format!(
                "{end}{what} {read} where {before} was read before, and no run and no gap between: \
                 nothing in the book wore it; it stands until it is read again"
            )
        }
    }
}

/// What stands about a joint beside the verdict on its readings and findings.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Stands {
    pub failed: Option<FailureKind>,
    /// `None` where a conflict leaves it open.
    pub status: Option<Status>,
    /// Facts about it exclude each other.
    pub conflicted: bool,
    /// The class in force.
    pub class: Option<Class>,
    /// The class that the last inspector gave.
    pub declared: Option<Class>,
    /// Its owner decided, with a reason, that it runs as Class 3, and nobody inspected it since.
    pub owners_word: bool,
    /// What is below the floor.
    pub below: Vec<BelowFloor>,
    pub weak_pin: Option<WeakPin>,
    /// Readings that an earlier one contradicts.
    pub unlikely: Vec<Unlikely>,
    /// Stretches of its life of which nobody knows.
    pub gaps: Vec<UnknownLife>,
    /// It came used into the book, and nobody ever looked for cracks at these.
    pub never_searched: Vec<Scope>,
    /// Work after which nobody looked.
    pub follow_ups: Vec<FollowUp>,
    pub restrictions: Vec<Restriction>,
}

/// A stretch of its life of which nobody knows, and what was looked at before it and not since.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnknownLife {
    pub since: NaiveDate,
    /// `None` where it goes on.
    pub until: Option<NaiveDate>,
    /// Scopes of cracks, and the wall.
    pub stale: Vec<Scope>,
}

impl UnknownLife {
    fn text(&self) -> String {
        let until = self.until.map_or_else(|| " on".to_owned(), |until| format!(" to {until}"));
        format!(
            "nobody knows what it went through from {}{until}, and nobody looked since at: {}",
            self.since,
            in_words(&self.stale, ", ")
        )
    }
}

/// Scopes in words.
pub(super) fn in_words(scopes: &[Scope], between: &str) -> String {
    scopes.iter().map(|s| s.word().replace('_', " ")).collect::<Vec<_>>().join(between)
}

/// Work after which one of some scopes is to be looked at, which nobody has done since.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FollowUp {
    pub work: Work,
    pub end: Option<End>,
    /// Any of these will do.
    pub scopes: Vec<Scope>,
    /// When it was done.
    pub day: NaiveDate,
}

impl FollowUp {
    /// One line: what was done, and what is to be looked at.
    fn text(&self) -> String {
        let plain = |word: &str| word.replace('_', " ");
        let end = self.end.map_or_else(String::new, |end| format!(" of the {end}"));
        format!(
            "{}{end} on {}, and nobody looked at it since: {}",
            plain(self.work.word()),
            self.day,
            in_words(&self.scopes, " or ")
        )
    }
}

/// Every reason, the gravest first: what was read and found, and what stands beside. Without a
/// verdict nobody ever looked.
pub fn reasons(verdict: Option<&Verdict>, stands: &Stands, units: UnitSystem) -> Vec<Reason> {
    let mut out = Vec::new();
    tell(verdict, stands, &mut |ground, part, says| {
        out.push(Reason { ground, part, says: says(units) });
    });
    out.sort();
    out.dedup();
    out
}

/// The grounds alone, each once, in order.
pub fn grounds(verdict: Option<&Verdict>, stands: &Stands) -> Vec<Ground> {
    let mut out = Vec::new();
    tell(verdict, stands, &mut |ground, _, _| out.push(ground));
    out.sort_unstable();
    out.dedup();
    out
}

/// Takes a reason; its words are made where they are wanted.
type Teller<'a> = dyn FnMut(Ground, Part, &dyn Fn(UnitSystem) -> String) + 'a;

fn tell(verdict: Option<&Verdict>, stands: &Stands, see: &mut Teller<'_>) {
    let plain = |word: &str| word.replace('_', " ");
    if let Some(what) = stands.failed {
        see(Ground::Failed, Part::Joint, &|_| format!("it failed: {}", plain(what.word())));
    }
    match stands.status {
        None => see(Ground::Conflict, Part::Joint, &|_| {
            "facts in conflict leave its status open".to_owned()
        }),
        Some(Status::Quarantine) => {
            see(Ground::Quarantine, Part::Joint, &|_| "it is set aside in quarantine".to_owned());
        }
        Some(Status::Retired) => {
            see(Ground::Retired, Part::Joint, &|_| "it is retired".to_owned());
        }
        Some(Status::Lost) => see(Ground::Lost, Part::Joint, &|_| "it is lost".to_owned()),
        Some(Status::InRepair) => see(Ground::InRepair, Part::Joint, &|_| {
            "it is in repair: record that it came back, and what was done".to_owned()
        }),
        Some(Status::InStock | Status::OnHire) => {}
    }
    if stands.conflicted {
        see(Ground::Conflict, Part::Joint, &|_| {
            "facts that exclude each other wait for a decision".to_owned()
        });
    }
    for below in &stands.below {
        see(Ground::BelowFloor, below.part, &|units| below.text(units));
    }
    for gap in &stands.gaps {
        see(Ground::Gap, Part::Joint, &|_| gap.text());
    }
    if !stands.never_searched.is_empty() {
        see(Ground::Gap, Part::Tube, &|_| {
            format!(
                "it came used, and nobody ever looked for cracks at: {}",
                in_words(&stands.never_searched, ", ")
            )
        });
    }
    for after in &stands.follow_ups {
        let part = after.end.map_or(Part::Tube, Part::from);
        see(Ground::FollowUp, part, &|_| after.text());
    }
    for unlikely in &stands.unlikely {
        let part = unlikely.end.map_or(Part::Tube, Part::from);
        see(Ground::Implausible, part, &|units| unlikely.text(units));
    }
    if let Some(weak) = &stands.weak_pin {
        see(Ground::Limit, Part::Pin, &|units| weak.text(units));
    }
    of_class(verdict, stands, see);
    match verdict {
        None => see(Ground::NotMeasured, Part::Joint, &|_| "nobody ever inspected it".to_owned()),
        Some(verdict) => of_verdict(verdict, see),
    }
    for r in &stands.restrictions {
        see(Ground::Restriction, Part::Joint, &|_| r.says().to_owned());
    }
}

impl WeakPin {
    fn text(&self, units: UnitSystem) -> String {
        let show = |q| Measure::Diameter.text(q, units);
        format!(
            "bore {} over nominal {}: the pin carries {:.2} of the torsional yield of the tube in \
             {}, at least {:.2} is wanted (API RP 7G, rule of Table 10; computed)",
            show(self.bore),
            show(self.nominal),
            self.share,
            Outcome::Class(self.class).text(),
            self.least
        )
    }
}

/// Scrap is out; Class 3 runs by its owner's decision alone.
fn of_class(verdict: Option<&Verdict>, stands: &Stands, see: &mut Teller<'_>) {
    let measured = verdict.and_then(|v| v.overall.measured);
    let computed = verdict.and_then(Verdict::class);
    let classes = [
        (stands.class, "its class in the book"),
        (computed, "by its readings and findings"),
        (measured, "by its readings and findings"),
        (stands.declared, "by the last inspector"),
    ];
    let by = |class| classes.iter().find(|(c, _)| *c == Some(class)).map(|(_, by)| *by);
    if let Some(by) = by(Class::Scrap) {
        see(Ground::Scrap, Part::Joint, &|_| format!("scrap, {by}"));
    }
    let Some(by) = by(Class::Class3) else { return };
    if stands.owners_word {
        see(Ground::OwnersDecision, Part::Joint, &|_| {
            format!("Class 3, {by}: it runs by its owner's decision alone")
        });
    } else {
        see(Ground::Class3, Part::Joint, &|_| {
            format!(
                "Class 3, {by}: it runs only by a decision of its owner to that class, with a \
                 reason, made since it was last inspected"
            )
        });
    }
}

/// What the verdict wants done or known first.
fn of_verdict(verdict: &Verdict, see: &mut Teller<'_>) {
    let before = |a: &&Action| !a.disposition.may_run();
    let mut told = false;
    for action in verdict.actions.iter().filter(before) {
        let says = action.disposition.says();
        match &action.because {
            Because::Criterion(c) => {
                told = true;
                let broken = |j: &&Judgement| j.criterion == *c && j.part == action.part;
                let broken = verdict.judgements.iter().filter(broken);
                let worst = broken.max_by_key(|j| j.outcome.severity());
                see(Ground::Limit, action.part, &|units| {
                    let text = worst.map_or_else(|| c.spec().name.to_owned(), |j| j.text(units));
                    format!("{says}: {text}")
                });
            }
            Because::Finding(word) => {
                told = true;
                see(Ground::Finding, action.part, &|_| {
                    format!("{}: {says}", word.replace('_', " "))
                });
            }
            // These are told by themselves.
            Because::Missing(_) => {}
            Because::Class(class) => told |= *class == Class::Scrap,
        }
    }
    let keeps_back = |m: &&Missing| m.could_stop || m.critical && m.from_class.is_none();
    for missing in verdict.missing.iter().filter(keeps_back) {
        told |= missing.critical;
        see(Ground::NotMeasured, missing.part, &|_| missing.text());
    }
    // What stops it though nothing asks for an action.
    if !told && !verdict.may_run() {
        match verdict.overall.standing {
            Standing::Rejected => see(Ground::Limit, Part::Joint, &|_| {
                "a part has no class until it is repaired".to_owned()
            }),
            Standing::Class(Class::Scrap) => {}
            Standing::Class(_) | Standing::Accepted | Standing::NotEstablished { .. } => {
                see(Ground::NotMeasured, Part::Joint, &|_| {
                    "nothing says what it needs before it is passed".to_owned()
                });
            }
        }
    }
}

/// A reading that no criterion judges.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NotJudged {
    pub what: ReadingKind,
    pub part: Part,
    /// As read.
    pub read: Amount,
    /// The dimension as made, nanometres, where it is known.
    pub nominal: Option<i64>,
}

/// Readings that were taken and that nothing judges here: shown against nominal.
pub fn not_judged(verdict: &Verdict, subject: &Subject) -> Vec<NotJudged> {
    let mut out: Vec<NotJudged> = Vec::new();
    let earlier = subject.earlier.readings.iter().map(|(m, _)| m);
    for m in subject.readings.iter().chain(earlier) {
        // They serve a finding or a length, and have no limit of their own.
        let serves = matches!(m.what, ReadingKind::AdjacentWall | ReadingKind::Length);
        if serves || is_judged(verdict, m) {
            continue;
        }
        let part = m.end.map_or(Part::Tube, Part::from);
        let nominal = m.what.nominal().and_then(|kind| subject.nominal.value(kind));
        // A bore no larger than as made has lost nothing of what the torque of the pin rests on.
        let as_made = m.what == ReadingKind::JointId && m.amount.length(nominal) <= nominal;
        if as_made && floor::weighs(m.what, part, &subject.nominal) {
            continue;
        }
        if out.iter().any(|n| n.what == m.what && n.part == part) {
            continue;
        }
        out.push(NotJudged { what: m.what, part, read: m.amount, nominal });
    }
    out
}

fn is_judged(verdict: &Verdict, m: &Measured) -> bool {
    verdict.judgements.iter().any(|j| {
        let takes = matches!(j.criterion.spec().take, Take::Reading(what) if what == m.what);
        let there = m.end.is_none_or(|end| j.part.end() == Some(end));
        takes && there && j.finding.is_none()
    })
}

impl Disposition {
    /// What is to be done with a joint that is not fit though its readings would let it run.
    pub const fn kept_out(self) -> &'static str {
        if self.may_run() { "keep it out" } else { self.says() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn known_bad_comes_before_unknown_and_that_before_what_restricts() {
        let weights: Vec<Weight> = Ground::ALL.iter().map(|g| g.weight()).collect();
        assert!(weights.is_sorted());
    }

    #[test]
    fn one_more_ground_never_makes_it_fitter() {
        let rank = |f: Option<Fitness>| match f {
            Some(Fitness::Fit) => 0,
            Some(Fitness::Restricted) => 1,
            None => 2,
            Some(Fitness::NotFit) => 3,
        };
        for a in Ground::ALL {
            assert!(rank(answer([*a])) > rank(answer([])));
            for b in Ground::ALL {
                assert!(rank(answer([*a, *b])) >= rank(answer([*a])));
            }
        }
    }

    #[test]
    fn nothing_known_is_no_answer() {
        let stands = Stands { status: Some(Status::InStock), ..Stands::default() };
        assert_eq!(answer(grounds(None, &stands)), None);
        let failed = Stands { failed: Some(FailureKind::Washout), ..stands };
        assert_eq!(answer(grounds(None, &failed)), Some(Fitness::NotFit));
    }
}
