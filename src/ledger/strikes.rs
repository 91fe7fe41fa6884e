//! Which strikes stand. A strike may itself be struck; then what it struck counts again.

use std::collections::{BTreeMap, BTreeSet};

/// Of strikes given as (strike, struck entry), returns for every entry that is struck the first
/// strike (in the order of names) that stands.
///
/// A strike stands unless another standing strike strikes it. Names are any ordered keys; the
/// result does not depend on the order in which the strikes are given.
pub fn standing_strikes<K: Ord + Clone>(strikes: &[(K, K)]) -> BTreeMap<K, K> {
    let mut by_target: BTreeMap<&K, Vec<&K>> = BTreeMap::new();
    for (strike, target) in strikes {
        by_target.entry(target).or_default().push(strike);
    }
    for list in by_target.values_mut() {
        list.sort();
    }
    let mut known: BTreeMap<K, Option<K>> = BTreeMap::new();
    for (_, target) in strikes {
        settle(target, &by_target, &mut known);
    }
    known.into_iter().filter_map(|(k, by)| by.map(|b| (k, b))).collect()
}

/// Works out by which strike `start` is struck, without recursion: a chain of strikes of strikes
/// may be long.
fn settle<K: Ord + Clone>(
    start: &K,
    by_target: &BTreeMap<&K, Vec<&K>>,
    known: &mut BTreeMap<K, Option<K>>,
) {
    let mut open = BTreeSet::new();
    let mut stack = vec![start.clone()];
    while let Some(top) = stack.last().cloned() {
        if known.contains_key(&top) {
            stack.pop();
            continue;
        }
        let strikers = by_target.get(&top).map_or(&[][..], Vec::as_slice);
        // A strike that strikes itself in a circle can only come from a forged bundle; it does
        // not stand.
        let waiting = strikers.iter().find(|s| !known.contains_key(**s) && !open.contains(**s));
        if let Some(next) = waiting {
            open.insert(top);
            stack.push((*next).clone());
            continue;
        }
        let by = strikers.iter().find(|s| matches!(known.get(**s), Some(None)));
        let by = by.map(|s| (*s).clone());
        known.insert(top, by);
        stack.pop();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_struck_strike_counts_no_more() {
        assert_eq!(standing_strikes(&[(5, 1)]), [(1, 5)].into());
        assert_eq!(standing_strikes(&[(5, 1), (6, 5)]), [(5, 6)].into());
        assert_eq!(standing_strikes(&[(5, 1), (6, 5), (7, 6)]), [(1, 5), (6, 7)].into());
        assert_eq!(standing_strikes(&[(5, 1), (6, 1)]), [(1, 5)].into());
        assert_eq!(standing_strikes(&[(5, 1), (6, 1), (7, 5)]), [(1, 6), (5, 7)].into());
    }

    #[test]
    fn circles_end() {
        let result = standing_strikes(&[(1, 2), (2, 1)]);
        assert!(result.len() <= 2);
    }

    #[test]
    fn long_chains_do_not_overflow() {
        let strikes: Vec<(u32, u32)> = (1..200_000).map(|n| (n + 1, n)).collect();
        let struck = standing_strikes(&strikes);
        assert!(!struck.contains_key(&200_000));
        assert!(struck.contains_key(&199_999));
        assert!(!struck.contains_key(&199_998));
    }

    proptest! {
        #[test]
        fn order_of_arrival_does_not_matter(
            pairs in prop::collection::btree_set((0u8..30, 0u8..30), 0..30),
            seed in any::<u64>(),
        ) {
            let strikes: Vec<(u8, u8)> = pairs.into_iter().filter(|(s, t)| s > t).collect();
            let mut shuffled = strikes.clone();
            let mut state = seed | 1;
            for i in (1..shuffled.len()).rev() {
                state = state.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
                shuffled.swap(i, (state >> 33) as usize % (i + 1));
            }
            prop_assert_eq!(standing_strikes(&strikes), standing_strikes(&shuffled));
        }
    }
}
