//! What was read lately, so that it need not be read again; of bounded size, whatever the book's.

use std::collections::BTreeMap;

/// Values by key, as long as they weigh less than a limit together; then all are let go.
#[derive(Debug)]
pub(super) struct BoundedCache<K, V> {
    values: BTreeMap<K, V>,
    weight: usize,
    limit: usize,
}

impl<K: Ord, V> BoundedCache<K, V> {
    pub(super) const fn new(limit: usize) -> Self {
        Self { values: BTreeMap::new(), weight: 0, limit }
    }

    pub(super) fn get(&self, key: &K) -> Option<&V> {
        self.values.get(key)
    }

    pub(super) fn put(&mut self, key: K, value: V, weight: usize) {
        if self.weight.saturating_add(weight) > self.limit {
            self.clear();
        }
        self.weight = self.weight.saturating_add(weight);
        self.values.insert(key, value);
    }

    pub(super) fn clear(&mut self) {
        self.values.clear();
        self.weight = 0;
    }

    pub(super) fn forget(&mut self, key: &K) {
        self.values.remove(key);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn never_more_than_the_limit_is_kept() {
        let mut cache = BoundedCache::new(10);
        for n in 0..100 {
            cache.put(n, n, 3);
            assert!(cache.values.len() <= 3);
            assert_eq!(cache.get(&n), Some(&n));
        }
        cache.forget(&99);
        assert_eq!(cache.get(&99), None);
    }
}
