//! Facts of the whole book that the fold of a joint reads: instruments and their checks, adopted
//! sets.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::condition::Standards;
use crate::model::{Body, Instant, fold};

use super::adoptions::{Adoptions, Unreadable};
use super::facts::Placed;

/// Checks of instruments and equipment, and what the book adopted.
#[derive(Clone, Debug)]
pub struct BookFacts {
    /// By folded tag.
    checks: BTreeMap<String, Vec<(Instant, bool)>>,
    adoptions: Arc<Adoptions>,
}

impl BookFacts {
    /// Gathers the facts from standing entries, in any order.
    pub fn gather(entries: &[Placed]) -> Result<Self, Unreadable> {
        let mut facts = Self::of_adoptions(Adoptions::of(entries)?);
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
        Ok(facts)
    }

    /// Nothing but what was adopted.
    pub fn of_adoptions(adoptions: Adoptions) -> Self {
        Self { checks: BTreeMap::new(), adoptions: Arc::new(adoptions) }
    }

    /// What the book adopted.
    pub const fn adoptions(&self) -> &Arc<Adoptions> {
        &self.adoptions
    }

    /// The standards in force at an instant.
    pub fn standards_at(&self, at: Instant) -> &Standards {
        self.adoptions.standards_at(at)
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
        let mut facts = BookFacts::gather(&[]).unwrap();
        facts.checks.insert("tg_07".to_owned(), checks);
        for (at, doubtful) in
            [(5, false), (10, false), (11, true), (20, true), (25, true), (31, false)]
        {
            assert_eq!(facts.doubtful("TG-07", Instant(at)), doubtful, "{at}");
        }
        assert!(!facts.doubtful("TG-08", Instant(15)));
    }
}
