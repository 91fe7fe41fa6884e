//! The next call of one joint: what the rules in force call for now, and what they will call for first.

use crate::condition::Ground;
use crate::model::{Call, Vocabulary};
use crate::policy::{Outlook, Rule};
use crate::projection::joint::Appraisal;
use crate::report::ReportError;
use crate::schema::JointRow;
use crate::store::Book;

use super::super::Present;
use super::super::fitness::{self, Ahead, NextCall, Told, by_name};
use super::super::pass::ReaderPool;
use super::super::question::rules_in_force;
use super::super::rule_pass::all_rules;
use super::line::Standing;
use super::when::{undated, when};
use super::{ask, calendar};

/// How far it is looked ahead: further nobody plans.
const YEARS: u32 = 10;

/// How a joint of the book stands now, with what the rules will call for next.
pub fn standing(
    book: &mut Book,
    joint: i64,
    present: &Present,
) -> Result<Option<(Appraisal, Told)>, ReportError> {
    let Some((appraisal, mut told)) = fitness::standing(book, &[joint], present)?.pop() else {
        return Ok(None);
    };
    told.ahead = next_call(book, joint, present)?;
    Ok(Some((appraisal, told)))
}

/// What the rules in force call for now on a joint, the gravest, and what they will call for first;
/// `None` for a joint that the book does not hold.
pub fn next_call(
    book: &mut Book,
    joint: i64,
    present: &Present,
) -> Result<Option<Ahead>, ReportError> {
    let Some(row) = book.row::<JointRow>(joint)? else { return Ok(None) };
    let set = rules_in_force(book, present.now)?;
    let rules: Vec<&Rule> = set.rules.iter().collect();
    let recent = ask::recent_of(book, Some(&row), &rules, present)?;
    let among = by_name(book, &[joint])?;
    let mut readers = ReaderPool::open(book)?;
    let mut said = all_rules(&mut readers, &set, &rules, Some(&among), true, present)?;
    for said in &mut said {
        for list in [&mut said.due, &mut said.open, &mut said.coming] {
            list.retain(|other| *other == joint);
        }
    }
    let mut ahead = Ahead { within: format!("within {YEARS} years"), ..Ahead::default() };
    let call = |rule: &Rule, standing: &Standing| NextCall {
        call: rule.call,
        rule: rule.name.clone(),
        reason: rule.reason.clone(),
        on: when(standing, present),
        by: rule.moved_by().unwrap_or_default(),
    };
    let of_rule = || rules.iter().zip(&said);
    // A call that is made now is made by whatever rule; others name what comes after it.
    let made: Vec<Call> =
        of_rule().filter(|(_, said)| !said.due.is_empty()).map(|(rule, _)| rule.call).collect();
    let due = of_rule().filter(|(_, said)| !said.due.is_empty());
    let gravest = |(rule, _): &(&&Rule, _)| {
        (Ground::of_call(rule.call).weight(), rule.severity, rule.call.rank())
    };
    if let Some((rule, _)) = due.min_by_key(gravest) {
        ahead.calls.push(NextCall { by: "it calls now", ..call(rule, &Standing::Due) });
    }
    let days = f64::from(YEARS) * 365.25;
    let mut coming: Vec<(f64, usize, Outlook)> = Vec::new();
    for (n, (rule, said)) in of_rule().enumerate() {
        ask::approaching(readers.book(), &set, (rule, said), &recent, present, |way| {
            match way.outlook {
                Outlook::Days { likely, .. } if likely <= days => {
                    coming.push((likely, n, way.outlook));
                }
                Outlook::Days { .. } => {}
                outlook @ (Outlook::Idle
                | Outlook::UseUnknown
                | Outlook::RateUnknown
                | Outlook::NoWear) => {
                    ahead.undated.push(format!("{} ({})", rule.name, undated(&outlook)));
                }
            }
        })?;
    }
    let open = of_rule().filter(|(_, said)| !said.open.is_empty());
    let open = open.map(|(rule, _)| format!("{} (cannot be decided now)", rule.name));
    ahead.undated.extend(open.collect::<Vec<_>>());
    let rest: Vec<usize> = (0..rules.len()).filter(|n| !made.contains(&rules[*n].call)).collect();
    let asked: (Vec<&Rule>, Vec<_>) = rest.iter().map(|n| (rules[*n], said[*n].clone())).unzip();
    let of = calendar::Of::First(joint, &among);
    let first = calendar::coming(&mut readers, &set, (&asked.0, &asked.1), days, of, present)?;
    coming.extend(first.into_iter().map(|((at, _), (earliest, latest))| {
        let outlook = Outlook::Days { earliest, likely: latest, latest: Some(latest) };
        (latest, rest[at], outlook)
    }));
    coming.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    if let Some((_, n, outlook)) = coming.iter().find(|(_, n, _)| !made.contains(&rules[*n].call)) {
        ahead.calls.push(call(rules[*n], &Standing::Soon(*outlook)));
    }
    Ok(Some(ahead))
}
