//! What the rules in force call for on some joints.

use std::collections::{BTreeMap, HashMap};

use crate::model::Call;
use crate::policy::Rule;
use crate::schema::JointRow;
use crate::store::Book;

use super::super::ReportError;
use super::super::pass::ReaderPool;
use super::super::question::{Present, rules_in_force};
use super::super::rule_pass::all_rules;

/// What a rule in force says of a joint that it is for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RuleCall {
    pub rule: String,
    pub call: Call,
    pub reason: String,
    /// It calls; false where it cannot be decided.
    pub calls: bool,
}

/// So many joints are asked for by name; for more of them all are asked.
const FEW: usize = 30;

/// What the rules in force say of these joints, each with those that call for something or cannot be
/// decided.
pub fn calls_on(
    book: &mut Book,
    joints: &[i64],
    present: &Present,
) -> Result<BTreeMap<i64, Vec<RuleCall>>, ReportError> {
    let mut out: BTreeMap<i64, Vec<RuleCall>> = joints.iter().map(|j| (*j, Vec::new())).collect();
    each_call(book, joints, present, |joint, rule, calls| {
        if let Some(calls_of) = out.get_mut(&joint) {
            calls_of.push(RuleCall {
                rule: rule.name.clone(),
                call: rule.call,
                reason: rule.reason.clone(),
                calls,
            });
        }
    })?;
    Ok(out)
}

/// What the rules in force call for on these joints, and no more of it; nothing for a joint on which
/// none calls.
pub fn called_for(
    book: &mut Book,
    joints: &[i64],
    present: &Present,
) -> Result<HashMap<i64, Vec<Call>>, ReportError> {
    let mut out: HashMap<i64, Vec<Call>> = HashMap::new();
    each_call(book, joints, present, |joint, rule, calls| {
        if calls {
            out.entry(joint).or_default().push(rule.call);
        }
    })?;
    Ok(out)
}

/// Visits what each rule in force says of joints, these among them: that it calls, or that it cannot be
/// decided.
fn each_call(
    book: &mut Book,
    joints: &[i64],
    present: &Present,
    mut see: impl FnMut(i64, &Rule, bool),
) -> Result<(), ReportError> {
    if joints.is_empty() {
        return Ok(());
    }
    let rules = rules_in_force(book, present.now)?;
    let wanted: Vec<&Rule> = rules.rules.iter().collect();
    let among = if joints.len() <= FEW { Some(by_name(book, joints)?) } else { None };
    let mut pool = ReaderPool::open(book)?;
    let said = all_rules(&mut pool, &rules, &wanted, among.as_deref(), false, present)?;
    for (rule, said) in wanted.iter().zip(said) {
        said.due.iter().for_each(|joint| see(*joint, rule, true));
        said.open.iter().for_each(|joint| see(*joint, rule, false));
    }
    Ok(())
}

/// These joints as a filter. Another joint of the same serial may match too.
pub(in crate::report) fn by_name(book: &Book, joints: &[i64]) -> Result<String, ReportError> {
    let mut names = Vec::new();
    for joint in joints {
        if let Some(row) = book.row::<JointRow>(*joint)? {
            names.push(format!("serial = \"{}\"", row.serial.replace('"', "\"\"")));
        }
    }
    Ok(if names.is_empty() { "false".to_owned() } else { names.join(" or ") })
}
