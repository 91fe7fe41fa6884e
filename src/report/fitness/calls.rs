//! What the rules in force call for on some joints.

use std::collections::BTreeMap;

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
    if joints.is_empty() {
        return Ok(out);
    }
    let rules = rules_in_force(book, present.now)?;
    let wanted: Vec<&Rule> = rules.rules.iter().collect();
    let among = if joints.len() <= FEW { Some(by_name(book, joints)?) } else { None };
    let mut pool = ReaderPool::open(book)?;
    let said = all_rules(&mut pool, &rules, &wanted, among.as_deref(), false, present)?;
    for (rule, said) in wanted.iter().zip(said) {
        for (list, calls) in [(said.due, true), (said.open, false)] {
            for joint in list {
                if let Some(calls_of) = out.get_mut(&joint) {
                    calls_of.push(RuleCall {
                        rule: rule.name.clone(),
                        call: rule.call,
                        reason: rule.reason.clone(),
                        calls,
                    });
                }
            }
        }
    }
    Ok(out)
}

/// These joints as a filter. Another joint of the same serial may match too.
fn by_name(book: &Book, joints: &[i64]) -> Result<String, ReportError> {
    let mut names = Vec::new();
    for joint in joints {
        if let Some(row) = book.row::<JointRow>(*joint)? {
            names.push(format!("serial = \"{}\"", row.serial.replace('"', "\"\"")));
        }
    }
    Ok(if names.is_empty() { "false".to_owned() } else { names.join(" or ") })
}
