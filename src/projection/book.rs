//! Facts of the whole book that the fold of a joint reads: instruments and their checks, adopted
//! sets of limits.

use std::collections::BTreeMap;

use crate::model::{Body, Instant, fold};

use super::facts::Placed;

/// Checks of instruments and equipment, by folded tag.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct BookFacts {
    checks: BTreeMap<String, Vec<(Instant, bool)>>,
}

impl BookFacts {
    /// Gathers the facts from standing entries, in any order.
    pub fn gather<'a>(entries: impl IntoIterator<Item = &'a Placed>) -> Self {
        let mut facts = Self::default();
        for placed in entries {
            if let Body::Check(b) = &placed.entry.body {
                facts.checks.entry(fold(&b.tag)).or_default().push((placed.at(), b.passed));
            }
        }
        for list in facts.checks.values_mut() {
            // Of two checks at one instant the failed one counts.
            list.sort();
            list.dedup_by_key(|c| c.0);
        }
        facts
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_failed_check_reaches_back_to_the_last_good_one() {
        let checks = vec![(Instant(10), true), (Instant(20), false), (Instant(30), true)];
        let facts = BookFacts { checks: [("tg_07".to_owned(), checks)].into() };
        for (at, doubtful) in
            [(5, false), (10, false), (11, true), (20, true), (25, true), (31, false)]
        {
            assert_eq!(facts.doubtful("TG-07", Instant(at)), doubtful, "{at}");
        }
        assert!(!facts.doubtful("TG-08", Instant(15)));
    }
}
