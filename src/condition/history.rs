//! The class of a joint through time: the inspector's beside the computed one, and what may change
//! a class. It falls on evidence, and it rises on evidence only: a repair, or a new measurement of
//! what had put it down. A person may decide otherwise, with a reason, and that shows.

use crate::model::{Class, End, Scope, Work};

use super::criterion::Criterion;
use super::needs::Wanted;
use super::repair::Works;
use super::verdict::{PartVerdict, Standing, Verdict};
use super::words::Part;

/// How the class that an inspector gave agrees with the computed one. Both are kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Agreement {
    Same,
    /// The inspector gave a better class than what was recorded allows.
    DeclaredBetter,
    /// The inspector gave a worse class.
    DeclaredWorse,
    /// The inspector gave one, and none could be computed.
    OnlyDeclared,
    OnlyComputed,
    Neither,
}

impl Agreement {
    /// Whether the two differ, so that the joint is flagged.
    pub const fn disputed(self) -> bool {
        matches!(self, Self::DeclaredBetter | Self::DeclaredWorse)
    }
}

/// Holds the class that an inspector gave against the computed one.
pub fn agreement(declared: Option<Class>, computed: PartVerdict) -> Agreement {
    let Some(d) = declared else {
        return match computed.standing {
            Standing::Class(_) => Agreement::OnlyComputed,
            _ => Agreement::Neither,
        };
    };
    let compare = |c: Class| match d.cmp(&c) {
        std::cmp::Ordering::Less => Agreement::DeclaredBetter,
        std::cmp::Ordering::Equal => Agreement::Same,
        std::cmp::Ordering::Greater => Agreement::DeclaredWorse,
    };
    match computed.standing {
        Standing::Class(c) => compare(c),
        // What is known allows no better than this, whatever is still missing.
        Standing::NotEstablished { .. } => match computed.measured {
            Some(m) if d < m => Agreement::DeclaredBetter,
            _ => Agreement::OnlyDeclared,
        },
        Standing::Rejected if d != Class::Scrap => Agreement::DeclaredBetter,
        Standing::Rejected | Standing::Accepted => Agreement::OnlyDeclared,
    }
}

/// The class before, and what had decided it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Previous {
    pub class: Option<Class>,
    /// The criterion that decided it, where one did.
    pub criterion: Option<Criterion>,
    /// The part that it judged.
    pub part: Option<Part>,
    /// Scopes for want of which a better class could not be passed.
    pub gaps: Vec<Scope>,
}

impl Previous {
    /// What the next step looks back on: a class and the verdict that it came with.
    pub fn of(class: Option<Class>, verdict: &Verdict) -> Self {
        let decided = verdict.governing_judgement();
        Self {
            class,
            criterion: decided.map(|j| j.criterion),
            part: decided.map(|j| j.part),
            gaps: verdict
                .missing
                .iter()
                .filter(|m| m.critical && m.from_class.is_some())
                .filter_map(|m| match m.wanted {
                    Some(Wanted::Scope(s)) => Some(s),
                    _ => None,
                })
                .collect(),
        }
    }
}

/// A person's decision about the class.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ClassDecision {
    pub class: Class,
    /// Why. A decision without a reason changes nothing.
    pub reason: String,
}

/// What the class did.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Change {
    Same,
    /// The first class that the joint has.
    First,
    Better,
    Worse,
    /// It was taken away: a part was rejected, and has none until it is repaired.
    Withdrawn,
}

/// What a class rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum RestsOn {
    Verdict,
    /// What was known before: the verdict gives no reason to change it.
    Before,
    Decision,
    /// Nothing: there is no class.
    Nothing,
}

/// A remark on a step in the history of a class.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum StepFlag {
    /// The verdict does not establish a class.
    NotEstablished,
    /// Measured into a better class than could be passed, for want of a search for cracks.
    HeldDown,
    /// Rests in part on readings of earlier inspections.
    Carried,
    /// A better class came out, and nothing shows why: no repair, and what had put the joint down
    /// was not measured again. The class stays.
    RiseWithoutEvidence,
    /// Rose because what had put it down was measured again.
    Remeasured,
    /// Rose because a search that was wanting has been made.
    Searched,
    /// Rose after a repair of the part that had put it down.
    Repaired,
    /// A person gave a better class than the computed one.
    DecidedBetter,
    /// A person gave a worse class than the computed one.
    DecidedWorse,
    /// A person gave a class to a joint with a crack, a hole or another breach that takes it out.
    DecidedAgainstRejection,
    /// A decision without a reason, which changes nothing.
    DecisionWithoutReason,
}

/// A step in the history of a class.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ClassStep {
    /// The class from now on.
    pub class: Option<Class>,
    pub change: Change,
    /// What it rests on.
    pub rests_on: RestsOn,
    pub flags: Vec<StepFlag>,
}

/// The class after a verdict, repairs since the last one, and a person's decision.
pub fn class_after(
    previous: &Previous,
    verdict: &Verdict,
    repairs: &[(Work, Option<End>)],
    decision: Option<&ClassDecision>,
    works: &Works,
) -> ClassStep {
    let mut flags = Vec::new();
    if !verdict.carried.is_empty() {
        flags.push(StepFlag::Carried);
    }
    let repaired = repaired(previous, repairs, works);
    let (mut class, mut rests_on) = by_verdict(previous, verdict, repaired, &mut flags);
    if let Some(d) = decision {
        if d.reason.trim().is_empty() {
            flags.push(StepFlag::DecisionWithoutReason);
        } else {
            let bad = matches!(
                verdict.overall.standing,
                Standing::Rejected | Standing::Class(Class::Scrap)
            );
            if bad && d.class != Class::Scrap {
                flags.push(StepFlag::DecidedAgainstRejection);
            }
            match class {
                Some(c) if d.class < c => flags.push(StepFlag::DecidedBetter),
                Some(c) if d.class > c => flags.push(StepFlag::DecidedWorse),
                None if !bad => flags.push(StepFlag::DecidedBetter),
                _ => {}
            }
            (class, rests_on) = (Some(d.class), RestsOn::Decision);
        }
    }
    let change = match (previous.class, class) {
        (None, None) => Change::Same,
        (None, Some(_)) => Change::First,
        (Some(_), None) => Change::Withdrawn,
        (Some(p), Some(c)) => match c.cmp(&p) {
            std::cmp::Ordering::Less => Change::Better,
            std::cmp::Ordering::Equal => Change::Same,
            std::cmp::Ordering::Greater => Change::Worse,
        },
    };
    flags.sort_unstable();
    flags.dedup();
    ClassStep { class, change, rests_on, flags }
}

fn by_verdict(
    previous: &Previous,
    verdict: &Verdict,
    repaired: bool,
    flags: &mut Vec<StepFlag>,
) -> (Option<Class>, RestsOn) {
    let overall = verdict.overall;
    let before = previous.class;
    let stays = if before.is_some() { RestsOn::Before } else { RestsOn::Nothing };
    match overall.standing {
        Standing::Class(Class::Scrap) => (Some(Class::Scrap), RestsOn::Verdict),
        Standing::Rejected => (None, RestsOn::Nothing),
        Standing::Accepted => (before, stays),
        Standing::NotEstablished { .. } => {
            flags.push(StepFlag::NotEstablished);
            fall_to(before, overall.measured)
        }
        // Not looked for is no evidence against a class, nor for a better one.
        Standing::Class(c) if overall.held_down() => {
            flags.push(StepFlag::HeldDown);
            match before {
                None => (Some(c), RestsOn::Verdict),
                Some(b) if c < b => rise(previous, b, c, verdict, repaired, flags),
                Some(_) => fall_to(before, overall.measured),
            }
        }
        Standing::Class(c) => match before {
            None => (Some(c), RestsOn::Verdict),
            Some(b) if c >= b => (Some(c), RestsOn::Verdict),
            Some(b) => rise(previous, b, c, verdict, repaired, flags),
        },
    }
}

/// The class before, or the worse one that was measured.
fn fall_to(before: Option<Class>, measured: Option<Class>) -> (Option<Class>, RestsOn) {
    match (before, measured) {
        (Some(b), Some(m)) if m > b => (Some(m), RestsOn::Verdict),
        (Some(b), _) => (Some(b), RestsOn::Before),
        (None, _) => (None, RestsOn::Nothing),
    }
}

fn rise(
    previous: &Previous,
    before: Class,
    to: Class,
    verdict: &Verdict,
    repaired: bool,
    flags: &mut Vec<StepFlag>,
) -> (Option<Class>, RestsOn) {
    // Scrap does not come back by a measurement.
    let measured = before != Class::Scrap && measured_again(previous, verdict);
    if measured {
        flags.push(StepFlag::Remeasured);
    }
    if repaired {
        flags.push(StepFlag::Repaired);
    }
    let searched =
        before != Class::Scrap && previous.gaps.iter().any(|s| verdict.covered.contains(s));
    if searched {
        flags.push(StepFlag::Searched);
    }
    if measured || searched || repaired {
        (Some(to), RestsOn::Verdict)
    } else {
        flags.push(StepFlag::RiseWithoutEvidence);
        (Some(before), RestsOn::Before)
    }
}

/// Whether what had put the joint down was measured again by this inspection; where that is not
/// known, whether everything was.
fn measured_again(previous: &Previous, verdict: &Verdict) -> bool {
    match previous.criterion {
        Some(criterion) => verdict.judgements.iter().any(|j| {
            j.criterion == criterion
                && j.age.is_none()
                && previous.part.is_none_or(|part| part == j.part)
        }),
        None => verdict.carried.is_empty() && verdict.judgements.iter().all(|j| j.age.is_none()),
    }
}

/// Whether the part that had put the joint down was repaired. A recut does nothing for a tube.
fn repaired(previous: &Previous, repairs: &[(Work, Option<End>)], works: &Works) -> bool {
    repairs.iter().any(|(work, end)| {
        let Some(effect) = works.effect(*work) else { return false };
        match previous.part {
            Some(part) => match part.end() {
                Some(e) => *end == Some(e) && !effect.voids.is_empty(),
                None => end.is_none() && !effect.voids.is_empty(),
            },
            None => false,
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn part(standing: Standing, measured: Class) -> PartVerdict {
        PartVerdict { standing, measured: Some(measured) }
    }

    #[test]
    fn declared_and_computed_are_held_against_each_other() {
        let open = Standing::NotEstablished { at_best: Some(Class::Class2) };
        for (declared, computed, agrees) in [
            (
                Some(Class::Premium),
                part(Standing::Class(Class::Premium), Class::Premium),
                Agreement::Same,
            ),
            (
                Some(Class::Premium),
                part(Standing::Class(Class::Class2), Class::Class2),
                Agreement::DeclaredBetter,
            ),
            (
                Some(Class::Class2),
                part(Standing::Class(Class::Premium), Class::Premium),
                Agreement::DeclaredWorse,
            ),
            (Some(Class::Premium), part(open, Class::Class2), Agreement::DeclaredBetter),
            (Some(Class::Class2), part(open, Class::Class2), Agreement::OnlyDeclared),
            (
                Some(Class::Premium),
                part(Standing::Rejected, Class::Premium),
                Agreement::DeclaredBetter,
            ),
            (None, part(open, Class::Class2), Agreement::Neither),
            (None, part(Standing::Class(Class::Class3), Class::Class3), Agreement::OnlyComputed),
        ] {
            assert_eq!(agreement(declared, computed), agrees, "{declared:?} {computed:?}");
        }
    }
}
