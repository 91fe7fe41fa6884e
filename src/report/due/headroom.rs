//! How much use is left to joints until rules speak, for a run that is to be.

use std::collections::{BTreeMap, HashSet};

use crate::filter::compile;
use crate::model::Call;
use crate::policy::{Driver, Rule};
use crate::report::ReportError;
use crate::store::Book;

use super::super::pass::ReaderPool;
use super::super::question::{self, Present, in_context, rules_in_force};
use super::super::rule_pass::IN_SERVICE;
use super::values::against;

/// What is left to a joint until a rule may speak.
#[derive(Clone, Debug, PartialEq)]
pub struct Headroom {
    pub call: Call,
    pub rule: String,
    pub driver: Driver,
    /// In the base unit of what moves it.
    pub left: f64,
}

/// What is left to each joint.
pub(in crate::report) type ByJoint = BTreeMap<i64, Vec<Headroom>>;

/// What is left to joints until those rules in force may speak that move with use or with time, and do
/// not speak of them now. What else a rule waits for is taken as met: it may come with the run.
///
/// Beside it for how many of these joints each such rule cannot be decided.
pub fn headroom(
    book: &mut Book,
    joints: &[i64],
    present: &Present,
) -> Result<(ByJoint, Vec<(String, usize)>), ReportError> {
    let set = rules_in_force(book, present.now)?;
    let driver = |rule: &Rule| rule.limit.as_ref().and_then(|limit| limit.driver);
    let rules: Vec<(&Rule, Driver)> =
        set.rules.iter().filter_map(|rule| Some((rule, driver(rule)?))).collect();
    let mut readers = ReaderPool::open(book)?;
    let (in_service, filters) = in_context(readers.book(), &set, present, |context| {
        let read = |text: &str| compile(text, context).map_err(question::wrong);
        let one = |(rule, _): &(&Rule, Driver)| match &rule.scope {
            Some(scope) => read(&format!("not {} and ({scope})", rule.name)),
            None => read(&format!("not {}", rule.name)),
        };
        let filters: Result<Vec<_>, _> = rules.iter().map(one).collect();
        Ok::<_, ReportError>((read(IN_SERVICE)?, filters?))
    })?;
    let wanted: HashSet<i64> = joints.iter().copied().collect();
    let verdicts = readers.verdicts(&in_service, &filters, present)?;
    let mut out = ByJoint::new();
    let mut open = Vec::new();
    for ((rule, driver), verdicts) in rules.iter().zip(verdicts) {
        let undecided = verdicts.open.iter().filter(|j| wanted.contains(j)).count();
        open.extend((undecided > 0).then(|| (rule.name.clone(), undecided)));
        let asked: Vec<i64> = verdicts.holds.into_iter().filter(|j| wanted.contains(j)).collect();
        against(readers.book(), &set, rule, &asked, present, |joint, value| {
            if let Some(left) = value.left() {
                out.entry(joint).or_default().push(Headroom {
                    call: rule.call,
                    rule: rule.name.clone(),
                    driver: *driver,
                    left,
                });
            }
        })?;
    }
    Ok((out, open))
}
