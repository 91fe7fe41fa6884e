//! What was set aside, taken in again by decision: the facts of a tail over which others came in under
//! the same names. An entry cannot be given another name, for its hash covers the name and the chain;
//! its fact is written again, as a new entry that names the one it was.

use std::collections::{BTreeMap, BTreeSet};

use super::super::entries::StoredEntry;
use super::super::error::Result;
use crate::model::{Body, Chain, Clock, Draft, Entry, EntryId, TakenAgain};
use crate::projection::kinds::role;

/// Facts to be written again.
#[derive(Default)]
pub(super) struct Again {
    pub drafts: Vec<Draft>,
    /// What each of them was.
    pub told: Vec<TakenAgain>,
    /// Names of what is not taken in again.
    pub left: Vec<String>,
}

/// The facts of entries as they are written again behind the first entry of a chain. What names one of
/// them names it by its new name. What tells how the book of another site is kept, what arrived and
/// what founds a book is left out.
pub(super) fn of(aside: &[StoredEntry], chain: &Chain) -> Result<Again> {
    let mut out = Again::default();
    let mut entries: Vec<(&StoredEntry, Entry)> = Vec::new();
    for stored in aside {
        let entry = stored.raw.read()?;
        if is_fact(&entry, chain) {
            entries.push((stored, entry));
        } else {
            out.left.push(stored.raw.label());
        }
    }
    let name = |number| EntryId { chain: chain.clone(), number };
    let names: BTreeMap<EntryId, EntryId> =
        (2..).zip(&entries).map(|(number, (_, entry))| (entry.id.clone(), name(number))).collect();
    for (number, (stored, entry)) in (2..).zip(entries) {
        let mut body = entry.body;
        let joints = body.joints_mut().into_iter().map(|named| &mut named.joint);
        for named in joints {
            if let Some(name) = names.get(named) {
                named.clone_from(name);
            }
        }
        for named in body.entries_mut() {
            if let Some(name) = names.get(named) {
                named.clone_from(name);
            }
        }
        let recorded = entry.recorded.at.at(Clock::of_offset(entry.recorded.offset_minutes));
        out.told.push(TakenAgain {
            number,
            entry: entry.id,
            hash: stored.hash.to_string(),
            author: entry.author,
            recorded: recorded.to_rfc3339(),
        });
        out.drafts.push(Draft { effective: entry.effective, evidence: entry.evidence, body });
    }
    Ok(out)
}

/// Whether an entry tells a fact, and not how a book is kept.
fn is_fact(entry: &Entry, chain: &Chain) -> bool {
    match &entry.body {
        Body::Epoch(_) | Body::Arrival(_) => false,
        Body::Adoption(b) => !b.founding,
        body => !role(body.kind()).keeps() || entry.id.chain.site == chain.site,
    }
}

/// Entries that name others which were set aside.
pub(super) fn naming(kept: &[StoredEntry], aside: &[StoredEntry]) -> Result<Vec<String>> {
    let names: BTreeSet<String> = aside.iter().map(|e| e.raw.label()).collect();
    let mut out = Vec::new();
    // Most books are salvaged whole.
    for stored in kept.iter().filter(|_| !names.is_empty()) {
        let body = stored.raw.read()?.body;
        let joints = body.joints().into_iter().map(|named| &named.joint);
        if joints.chain(body.entries()).any(|named| names.contains(&named.to_string())) {
            out.push(stored.raw.label());
        }
    }
    Ok(out)
}
