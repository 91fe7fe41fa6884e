//! Steps in the class of a joint.

use crate::condition::{ClassStep, RestsOn, StepFlag, Verdict};
use crate::model::{Class, Instant};

/// A step in the history of a joint's class, with what it rests on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ClassEvent {
    /// When.
    pub at: Instant,
    /// Place of the entry that brought it.
    pub entry: i64,
    /// Class before.
    pub before: Option<Class>,
    /// Class from then on.
    pub after: Option<Class>,
    /// What it rests on.
    pub rests_on: RestsOn,
    /// Remarks on the step.
    pub flags: Vec<StepFlag>,
    /// What decided, as one word.
    pub decided_by: Option<String>,
    /// The set of limits that judged; none for a decision.
    pub limits: Option<String>,
}

impl ClassEvent {
    pub(super) fn of_verdict(
        at: Instant,
        entry: i64,
        before: Option<Class>,
        step: &ClassStep,
        verdict: &Verdict,
    ) -> Self {
        Self {
            at,
            entry,
            before,
            after: step.class,
            rests_on: step.rests_on,
            flags: step.flags.clone(),
            decided_by: verdict.criterion_word(),
            limits: Some(verdict.limits.clone()),
        }
    }

    pub(super) fn of_decision(
        at: Instant,
        entry: i64,
        before: Option<Class>,
        class: Class,
        out: bool,
    ) -> Self {
        let mut flags = Vec::new();
        match before {
            Some(b) if class < b => flags.push(StepFlag::DecidedBetter),
            Some(b) if class > b => flags.push(StepFlag::DecidedWorse),
            None if !out => flags.push(StepFlag::DecidedBetter),
            _ => {}
        }
        if out && class != Class::Scrap {
            flags.push(StepFlag::DecidedAgainstRejection);
        }
        Self {
            at,
            entry,
            before,
            after: Some(class),
            rests_on: RestsOn::Decision,
            flags,
            decided_by: Some("decision".to_owned()),
            limits: None,
        }
    }
}
