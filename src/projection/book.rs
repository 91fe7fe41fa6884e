//! Facts of the whole book that the fold of a joint reads: instruments and their checks, adopted
//! sets of limits.

use std::collections::BTreeMap;

use crate::condition::LimitSet;
use crate::model::{Body, Instant, fold};

use super::facts::Placed;

/// Checks of instruments and equipment, by folded tag.
#[derive(Clone, Debug, Default)]
pub struct BookFacts {
    checks: BTreeMap<String, Vec<(Instant, bool)>>,
    /// Sets of limits by the instant from which each is in force.
    limits: Vec<(Instant, LimitSet)>,
}

impl BookFacts {
    /// Gathers the facts from standing entries, in any order.
    pub fn gather<'a>(entries: impl IntoIterator<Item = &'a Placed>) -> Self {
        let mut facts = Self::default();
        let entries: Vec<&Placed> = entries.into_iter().collect();
        for placed in &entries {
            if let Body::Check(b) = &placed.entry.body {
                facts.checks.entry(fold(&b.tag)).or_default().push((placed.at(), b.passed));
            }
        }
        let mut adopted: Vec<(&Placed, LimitSet)> = entries
            .iter()
            .filter_map(|p| match &p.entry.body {
                Body::Adoption(b) if fold(&b.what) == "limits" => {
                    Some((*p, limits_of(b.text.as_deref())?))
                }
                _ => None,
            })
            .collect();
        adopted.sort_by(|a, b| a.0.key().cmp(&b.0.key()));
        facts.limits = adopted.into_iter().map(|(p, set)| (p.at(), set)).collect();
        for list in facts.checks.values_mut() {
            // Of two checks at one instant the failed one counts.
            list.sort();
            list.dedup_by_key(|c| c.0);
        }
        facts
    }

    /// The limits in force at an instant: the set adopted last before it, or the one that ships.
    pub fn limits_at(&self, at: Instant) -> &LimitSet {
        let n = self.limits.partition_point(|(t, _)| *t <= at);
        match n.checked_sub(1).and_then(|i| self.limits.get(i)) {
            Some((_, set)) => set,
            None => LimitSet::shipped(),
        }
    }

    /// The same facts with one more set adopted from an instant on.
    #[must_use]
    pub fn with_limits(mut self, from: Instant, set: LimitSet) -> Self {
        let place = self.limits.partition_point(|(t, _)| *t <= from);
        self.limits.insert(place, (from, set));
        self
    }

    /// Whether what an instrument showed at an instant is in doubt: the check before it failed, or
    /// the next one after it did.
    pub fn doubtful(&self, tag: &str, at: Instant) -> bool {
        let Some(checks) = self.checks.get(&fold(tag)) else { return false };
        let next = checks.partition_point(|(t, _)| *t < at);
        let failed = |i: usize| checks.get(i).is_some_and(|(_, passed)| !passed);
        failed(next) || (next > 0 && failed(next - 1))
    }
}

/// The set that an adoption puts in force: its own over the one that ships, or that one where it
/// brings no text. `None` for a text that is no set.
pub fn limits_of(text: Option<&str>) -> Option<LimitSet> {
    match text {
        Some(text) => Some(LimitSet::parse(text).ok()?.over(LimitSet::shipped())),
        None => Some(LimitSet::shipped().clone()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_failed_check_reaches_back_to_the_last_good_one() {
        let checks = vec![(Instant(10), true), (Instant(20), false), (Instant(30), true)];
        let facts =
            BookFacts { checks: [("tg_07".to_owned(), checks)].into(), ..BookFacts::default() };
        for (at, doubtful) in
            [(5, false), (10, false), (11, true), (20, true), (25, true), (31, false)]
        {
            assert_eq!(facts.doubtful("TG-07", Instant(at)), doubtful, "{at}");
        }
        assert!(!facts.doubtful("TG-08", Instant(15)));
    }
}
