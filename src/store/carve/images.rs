//! What was found in pages: sound images of entries, and damaged ones.

use std::collections::{BTreeMap, BTreeSet};

use super::super::entries::StoredEntry;
use super::mend::{BUDGET, one_bit_turned};
use super::record;
use crate::ledger::Hash;

/// What reads as an entry, each once by the hash that stands in it: an image whose content gives
/// that hash before one whose content does not.
#[derive(Default)]
pub(in crate::store) struct Images {
    by_hash: BTreeMap<Hash, Image>,
    /// Damaged records of entries, each as it reads with one size and another.
    torn: BTreeSet<Vec<Reading>>,
    /// Sound entries got back by turning the one bit that was wrong.
    mended: BTreeSet<Hash>,
    scratch: Vec<u8>,
}

/// The bytes of a record and the row number that stands before it.
type Reading = (Vec<u8>, i64);

/// An image of an entry.
struct Image {
    entry: StoredEntry,
    /// Its content gives its hash: it is what somebody wrote.
    sound: bool,
}

impl Images {
    /// Takes an image; true when it is sound.
    pub(in crate::store) fn take(&mut self, entry: StoredEntry) -> bool {
        let held = self.by_hash.get(&entry.hash);
        if held.is_some_and(|held| held.sound && held.entry.raw == entry.raw) {
            return true;
        }
        let sound = Hash::of_entry(&entry.prev, &entry.raw, &mut self.scratch) == entry.hash;
        if sound || held.is_none() {
            self.by_hash.insert(entry.hash, Image { entry, sound });
        }
        sound
    }

    /// Takes a record if it is a sound entry.
    pub(super) fn look(&mut self, payload: &[u8], position: i64) -> bool {
        record::entry(payload, position).is_some_and(|entry| {
            Hash::of_entry(&entry.prev, &entry.raw, &mut self.scratch) == entry.hash
                && self.take(entry)
        })
    }

    /// Keeps a damaged record, as it reads with one size and another, to be mended once all that is
    /// sound is known.
    pub(super) fn keep_torn(&mut self, readings: Vec<Reading>) {
        if !readings.is_empty() {
            self.torn.insert(readings);
        }
    }

    /// Gets back those damaged records in which one bit is wrong: an entry that gives its hash with
    /// it turned is the entry that was written. Old images of entries that are known are let be;
    /// of the others what reads as an entry is kept as a damaged image.
    pub(super) fn mend(&mut self) {
        let sound = self.by_hash.values().filter(|i| i.sound);
        let mut by_prev: BTreeMap<Hash, Hash> =
            sound.map(|i| (i.entry.prev, i.entry.hash)).collect();
        let mut budget = BUDGET;
        for readings in std::mem::take(&mut self.torn) {
            // Both links are read at the end of a record, which one of a wrong size has elsewhere.
            let mut links = readings.iter().filter_map(|r| record::links(&r.0));
            let known = links.any(|(prev, own)| {
                let by_prev = by_prev.get(&prev).is_some_and(|held| alike(held, &own));
                by_prev
                    || self
                        .by_hash
                        .get(&own)
                        .is_some_and(|held| held.sound && alike(&held.entry.prev, &prev))
            });
            if known {
                continue;
            }
            let mended =
                |(bytes, position): &Reading| one_bit_turned(bytes, *position, &mut budget);
            if let Some(entry) = readings.iter().find_map(mended) {
                self.mended.insert(entry.hash);
                by_prev.insert(entry.prev, entry.hash);
                self.take(entry);
            } else if let Some(entry) = readings.iter().find_map(|r| record::entry(&r.0, r.1)) {
                self.take(entry);
            }
        }
    }

    /// Adds what another search found; true when that gave more sound entries than were known.
    pub(in crate::store) fn add(&mut self, other: Self) -> bool {
        let known = self.sound();
        self.mended.extend(other.mended);
        for image in other.by_hash.into_values() {
            self.take(image.entry);
        }
        self.sound() > known
    }

    /// How many sound entries there are.
    pub(super) fn sound(&self) -> usize {
        self.by_hash.values().filter(|image| image.sound).count()
    }

    pub(in crate::store) fn is_empty(&self) -> bool {
        self.by_hash.is_empty()
    }

    /// Whether there is an image with this hash.
    pub(in crate::store) fn has(&self, hash: &Hash) -> bool {
        self.by_hash.contains_key(hash)
    }

    /// Whether there is a sound image with this hash.
    pub(super) fn holds(&self, hash: &Hash) -> bool {
        self.by_hash.get(hash).is_some_and(|image| image.sound)
    }

    /// Hashes of the entries of which one bit was turned back.
    pub(in crate::store) fn mended(&self) -> &BTreeSet<Hash> {
        &self.mended
    }

    /// Sound entries in order of position, and images that are none.
    pub(in crate::store) fn sorted(self) -> (Vec<StoredEntry>, Vec<StoredEntry>) {
        let (sound, torn): (Vec<Image>, Vec<Image>) =
            self.by_hash.into_values().partition(|image| image.sound);
        let in_order = |images: Vec<Image>| {
            let mut all: Vec<StoredEntry> = images.into_iter().map(|image| image.entry).collect();
            all.sort_by_key(|e| (e.position, e.raw.number));
            all
        };
        (in_order(sound), in_order(torn))
    }
}

/// Whether two hashes differ in one bit at most.
fn alike(a: &Hash, b: &Hash) -> bool {
    a.0.iter().zip(b.0).map(|(a, b)| (a ^ b).count_ones()).sum::<u32>() <= 1
}
