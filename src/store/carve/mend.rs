//! A record in which one bit is wrong. The hash that stands in it, or would with that bit turned,
//! tells which bit it was: no other content gives it.

use rayon::prelude::*;

use super::super::entries::StoredEntry;
use super::record::{self, HEADER_MOST};
use crate::ledger::Hash;

/// Bytes that may be hashed in search of wrong bits, in all: some ten seconds. An entry of n bytes
/// takes 8 n².
pub(super) const BUDGET: u64 = 16 << 30;

/// Bytes of a record that are tried in one piece.
const PIECE: usize = 256;

/// The entry that a damaged record is with one bit turned; `None` when there is none, or when the
/// search would take more than is left of the budget.
pub(super) fn one_bit_turned(
    payload: &[u8],
    position: i64,
    budget: &mut u64,
) -> Option<StoredEntry> {
    let in_header = 0..payload.len().min(HEADER_MOST);
    if let Some(entry) = turned_within(payload, in_header, position) {
        return Some(entry);
    }
    // Of a header that tells other lengths nothing behind it can be read.
    let layout = record::layout(payload).filter(|layout| layout.size == payload.len())?;
    let cost = u64::try_from(payload.len()).ok()?.checked_pow(2)?.checked_mul(8)?;
    *budget = budget.checked_sub(cost)?;
    let starts: Vec<usize> = (layout.header..payload.len()).step_by(PIECE).collect();
    starts.into_par_iter().find_map_any(|start| {
        turned_within(payload, start..payload.len().min(start + PIECE), position)
    })
}

fn turned_within(
    payload: &[u8],
    bytes: std::ops::Range<usize>,
    position: i64,
) -> Option<StoredEntry> {
    let mut turned = payload.to_vec();
    let mut scratch = Vec::new();
    for at in bytes {
        for bit in 0..8 {
            *turned.get_mut(at)? ^= 1 << bit;
            if let Some(entry) = record::entry(&turned, position)
                && Hash::of_entry(&entry.prev, &entry.raw, &mut scratch) == entry.hash
            {
                return Some(entry);
            }
            *turned.get_mut(at)? ^= 1 << bit;
        }
    }
    None
}
