//! Rules that the calendar alone moves: a filter that will hold though nothing happens, like one of a
//! search that becomes a year old. They are asked of the book as it stands, on days to come.

use std::collections::{BTreeMap, BTreeSet, HashSet};

use crate::model::{DAY_MS, Instant};
use crate::policy::{Rule, RuleSet};
use crate::report::ReportError;

use super::super::pass::ReaderPool;
use super::super::question::Present;
use super::super::rule_pass::{Said, all_rules};

/// Most times that the rules are asked: where their days are more, the last ones are told as a span.
const MOST: usize = 96;

/// The first and the last day, counted from today, on which a rule begins to speak of a joint.
pub(super) type Days = (f64, f64);

/// A rule, by its place in the list, and a joint.
type Key = (usize, i64);

/// Whom it is asked of.
#[derive(Clone, Copy)]
pub(super) enum Of<'a> {
    /// Every joint, each rule.
    All,
    /// One joint, which this filter finds, perhaps with others of its serial: the first day alone.
    First(i64, &'a str),
}

/// When each of the rules that have no value of their own will begin to speak of joints of which it
/// does not speak now, within so many days; by place in the list and joint.
pub(super) fn coming(
    readers: &mut ReaderPool<'_>,
    rules: &RuleSet,
    (wanted, said): (&[&Rule], &[Said]),
    days: f64,
    of: Of<'_>,
    present: &Present,
) -> Result<BTreeMap<Key, Days>, ReportError> {
    let moved: Vec<usize> = (0..wanted.len()).filter(|n| wanted[*n].limit.is_none()).collect();
    let (only, among) = match of {
        Of::All => (None, None),
        Of::First(joint, filter) => (Some(joint), Some(filter)),
    };
    let mut out = BTreeMap::new();
    if moved.is_empty() || days < 1.0 {
        return Ok(out);
    }
    #[expect(clippy::cast_possible_truncation, reason = "a cast of a float saturates")]
    let last = days.min(36_525.0) as i64;
    let mut on = |day: i64, rules_asked: &[usize]| -> Result<HashSet<Key>, ReportError> {
        let asked: Vec<&Rule> = rules_asked.iter().map(|n| wanted[*n]).collect();
        let now = Instant(present.now.0.saturating_add(day * DAY_MS));
        let then = Present { now, ..*present };
        let said = all_rules(readers, rules, &asked, among, false, &then)?;
        let due = rules_asked.iter().zip(said);
        let due = due.flat_map(|(n, s)| s.due.into_iter().map(|j| (*n, j)));
        Ok(due.filter(|(_, joint)| only.is_none_or(|only| only == *joint)).collect())
    };
    let mut first: Vec<Key> = on(last, &moved)?.into_iter().collect();
    let now: HashSet<Key> = moved
        .iter()
        .flat_map(|n| said[*n].due.iter().chain(&said[*n].open).map(|j| (*n, *j)))
        .collect();
    first.retain(|key| !now.contains(key));
    // Between two days of which the first has none of these and the last has all.
    let mut spans = vec![(0i64, last, first)];
    let mut times = 1;
    while let Some((lo, hi, keys)) = spans.pop() {
        // Earlier spans come first.
        if keys.is_empty() || (only.is_some() && !out.is_empty()) {
            continue;
        }
        if hi - lo <= 1 || times >= MOST {
            out.extend(keys.into_iter().map(|key| (key, ((lo + 1) as f64, hi as f64))));
            continue;
        }
        let mid = lo + (hi - lo) / 2;
        // Of the rules, those that begin to speak in this span.
        let speaking: BTreeSet<usize> = keys.iter().map(|(n, _)| *n).collect();
        let due = on(mid, &speaking.into_iter().collect::<Vec<_>>())?;
        times += 1;
        let (early, late) = keys.into_iter().partition(|key| due.contains(key));
        spans.push((mid, hi, late));
        spans.push((lo, mid, early));
    }
    Ok(out)
}
