//! What of the entries found the chains prove: from the beginning of a chain on, and backwards from
//! ends that are trusted.

use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use super::super::carve::Images;
use super::super::entries::StoredEntry;
use crate::ledger::{ChainFault, Chains, Hash, chain_label};
use crate::model::{Body, EntryId, EntryKind, LostStretch};

/// What became of one chain.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SalvagedChain {
    /// The chain.
    pub chain: String,
    /// Last number kept; 0 when none was.
    pub kept: u64,
    /// Greatest number of which anything was seen, in the file or in the head noted beside it.
    pub seen: u64,
    /// Numbers that are lost before the last one kept: what follows them was kept, since it links
    /// back from an end that is trusted, or by decision.
    pub lost: Vec<(u64, u64)>,
    /// Entries that can be read, but to which no trusted end links.
    pub unproven: u64,
    /// Entries that were set aside by decision.
    pub set_aside: u64,
    /// Why it breaks off; `None` when everything seen was kept.
    pub broke: Option<String>,
}

impl SalvagedChain {
    pub(super) fn new(chain: String) -> Self {
        Self { chain, kept: 0, seen: 0, lost: Vec::new(), unproven: 0, set_aside: 0, broke: None }
    }

    /// Whether a number is not among those kept.
    fn lacks(&self, number: u64) -> bool {
        number > self.kept || self.lost.iter().any(|(from, to)| (*from..=*to).contains(&number))
    }
}

/// What is decided about what nothing proves; the new book says so.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SalvageDecision {
    /// Keep also what can be read and links to no end that is trusted.
    pub unproven: bool,
    /// Leave these entries and all after them in their chains out of the new book, where others came
    /// in under their names.
    pub set_aside: Vec<EntryId>,
    /// Take the facts of what is set aside in again, as new entries of the new epoch.
    pub take_again: bool,
    pub reason: String,
}

impl SalvageDecision {
    /// Whether an entry is one that is left out.
    pub(super) fn covers(&self, entry: &EntryId) -> bool {
        self.set_aside.iter().any(|from| from.chain == entry.chain && from.number <= entry.number)
    }

    /// What is said of it in the entry that begins the new epoch.
    pub(super) fn said(&self) -> String {
        let mut out = String::new();
        if self.unproven {
            out.push_str("; what no trusted end proves was kept");
        }
        for entry in &self.set_aside {
            let _ = write!(out, "; {entry} and what follows it was set aside");
        }
        if self.take_again && !self.set_aside.is_empty() {
            out.push_str("; its facts were taken in again");
        }
        if !out.is_empty() {
            let _ = write!(out, " by decision: {}", self.reason);
        }
        out
    }
}

/// What is believed before anything is proven.
pub(super) struct Trust<'a> {
    /// The site whose book it was: what its entries say of the heads of others is believed.
    pub own: Option<&'a str>,
    /// Head noted beside the file.
    pub noted: Option<Hash>,
    /// What is decided about what nothing proves.
    pub decision: &'a SalvageDecision,
}

impl Trust<'_> {
    fn sets_aside(&self, entry: &StoredEntry) -> bool {
        let raw = &entry.raw;
        self.decision.set_aside.iter().any(|from| {
            from.chain.site.as_str() == raw.site
                && from.chain.epoch == raw.epoch
                && from.number <= raw.number
        })
    }
}

/// What is kept of the chains, and what is not.
pub(super) struct Sorted {
    /// In the order in which they stood.
    pub kept: Vec<StoredEntry>,
    pub chains: BTreeMap<ChainKey, SalvagedChain>,
    pub lost: Vec<LostStretch>,
    /// How many of those kept no trusted end links to.
    pub by_decision: u64,
    /// What was set aside by decision, in the order in which it stood.
    pub aside: Vec<StoredEntry>,
    /// Damaged images of entries that are lost.
    pub torn: Vec<StoredEntry>,
    /// Damaged images of nobody's.
    pub apart: Vec<StoredEntry>,
}

/// Site and epoch.
type ChainKey = (String, u32);

/// Entries of one chain of which each links to the one before.
struct Segment {
    entries: Vec<StoredEntry>,
    /// Last number in it whose hash is trusted; 0 when none is.
    trusted: u64,
    /// It is the beginning of its chain.
    begins: bool,
}

impl Segment {
    fn first(&self) -> u64 {
        self.entries.first().map_or(0, |e| e.raw.number)
    }

    fn last(&self) -> u64 {
        self.entries.last().map_or(0, |e| e.raw.number)
    }

    const fn is_proven(&self) -> bool {
        self.begins || self.trusted > 0
    }
}

/// Keeps of each chain what is proven.
///
/// A chain is made of entries whose content gives their hash, so that its name is proven too. A
/// torn image says by its links, never by its own words, where it belongs.
pub(super) fn sort_out(images: Images, trust: &Trust<'_>) -> Sorted {
    let (sound, torn) = images.sorted();
    let places = Places::of(&sound);
    let mut by_chain: BTreeMap<ChainKey, Vec<StoredEntry>> = BTreeMap::new();
    for e in sound {
        by_chain.entry((e.raw.site.clone(), e.raw.epoch)).or_default().push(e);
    }
    // What is kept of one chain tells heads of others: the own ones first, the latest epoch first.
    let mut order: Vec<ChainKey> = by_chain.keys().cloned().collect();
    order.sort_by_key(|(site, epoch)| (Some(&**site) != trust.own, u32::MAX - epoch));
    let mut trusted: BTreeSet<Hash> = trust.noted.into_iter().collect();
    let mut out = Sorted {
        kept: Vec::new(),
        chains: BTreeMap::new(),
        lost: Vec::new(),
        by_decision: 0,
        aside: Vec::new(),
        torn: Vec::new(),
        apart: Vec::new(),
    };
    for key in order {
        let (entries, aside): (Vec<_>, Vec<_>) = by_chain
            .remove(&key)
            .unwrap_or_default()
            .into_iter()
            .partition(|e| !trust.sets_aside(e));
        let segments = segments(&entries, &trusted);
        let kept = out.keep(key.clone(), segments, trust.decision.unproven);
        if let Some(state) = out.chains.get_mut(&key) {
            state.set_aside = aside.len() as u64;
        }
        out.aside.extend(aside);
        trusted.extend(kept.iter().flat_map(told_heads));
        out.kept.extend(kept);
    }
    for list in [&mut out.kept, &mut out.aside] {
        list.sort_by(|a, b| a.position.cmp(&b.position).then_with(|| by_name(a, b)));
    }
    for image in torn {
        match places.count(&image, &mut out.chains) {
            Belongs::Lost => out.torn.push(image),
            Belongs::Known => {}
            Belongs::Nowhere => out.apart.push(image),
        }
    }
    out
}

impl Sorted {
    /// Chooses among the segments of a chain, the best proven first, and notes what lies between.
    fn keep(
        &mut self,
        key: ChainKey,
        mut segments: Vec<Segment>,
        unproven_too: bool,
    ) -> Vec<StoredEntry> {
        let mut state = SalvagedChain::new(chain_label(&key.0, key.1));
        state.seen = segments.iter().map(Segment::last).max().unwrap_or(0);
        segments.sort_by_key(|s| std::cmp::Reverse((s.trusted, s.begins, s.entries.len())));
        let mut chosen: Vec<Segment> = Vec::new();
        let mut left: Vec<Segment> = Vec::new();
        for mut segment in segments {
            // Another image of a number that is kept is one that was never part of the chain.
            let taken = |n: u64| chosen.iter().any(|c| (c.first()..=c.last()).contains(&n));
            segment.entries.retain(|e| !taken(e.raw.number));
            if segment.entries.is_empty() {
                continue;
            }
            if segment.is_proven() || unproven_too { &mut chosen } else { &mut left }.push(segment);
        }
        chosen.sort_by_key(Segment::first);
        let mut kept: Vec<StoredEntry> = Vec::new();
        for segment in chosen {
            let (from, before) = (segment.first(), state.kept);
            if let Some(first) = segment.entries.first().filter(|_| from > before + 1) {
                state.lost.push((before + 1, from - 1));
                state.broke.get_or_insert_with(|| {
                    ChainFault::Gap { entry: first.raw.label(), before }.to_string()
                });
                if let Ok(chain) = first.raw.chain() {
                    self.lost.push(LostStretch {
                        chain,
                        from: before + 1,
                        to: from - 1,
                        head: first.prev.to_string(),
                        unproven: !segment.is_proven(),
                    });
                }
            }
            state.kept = segment.last();
            if !segment.is_proven() {
                self.by_decision += segment.entries.len() as u64;
            }
            kept.extend(segment.entries);
        }
        for segment in &left {
            state.unproven += segment.entries.len() as u64;
            let entry = segment.entries.first().map_or_else(String::new, |e| e.raw.label());
            let before = segment.first().saturating_sub(1).min(state.kept);
            state.broke.get_or_insert_with(|| {
                let linked = segment.first() == before + 1;
                if linked { ChainFault::Link { entry } } else { ChainFault::Gap { entry, before } }
                    .to_string()
            });
        }
        self.chains.insert(key, state);
        in_rising_order(&mut kept);
        kept
    }
}

fn by_name(a: &StoredEntry, b: &StoredEntry) -> Ordering {
    let (a, b) = (&a.raw, &b.raw);
    (&a.site, a.epoch, a.number).cmp(&(&b.site, b.epoch, b.number))
}

/// No hash covers the position. Within a chain it rises, but for what was lost once and came back,
/// which goes to where it stood before; one that is above the next is damaged.
fn in_rising_order(chain: &mut [StoredEntry]) {
    let mut at = 0;
    for i in 0..chain.len() {
        let next = chain.get(i + 1).map_or(i64::MAX, |e| e.position);
        let Some(entry) = chain.get_mut(i) else { return };
        if entry.position <= next || next < at {
            at = at.max(entry.position);
        }
        entry.position = at;
    }
}

/// Cuts the entries of a chain into segments.
fn segments(entries: &[StoredEntry], trusted: &BTreeSet<Hash>) -> Vec<Segment> {
    let by_hash: BTreeMap<Hash, usize> =
        entries.iter().enumerate().map(|(i, e)| (e.hash, i)).collect();
    let before = |e: &StoredEntry| {
        let at = *by_hash.get(&e.prev)?;
        let number = entries.get(at)?.raw.number;
        (number.checked_add(1) == Some(e.raw.number)).then_some(at)
    };
    let followed: BTreeSet<usize> = entries.iter().filter_map(before).collect();
    let mut out = Vec::new();
    for (last, entry) in entries.iter().enumerate().filter(|(i, _)| !followed.contains(i)) {
        let mut back = vec![entry.clone()];
        let mut at = last;
        while let Some(earlier) = entries.get(at).and_then(before) {
            at = earlier;
            back.extend(entries.get(at).cloned());
        }
        back.reverse();
        let trusted = back.iter().rfind(|e| trusted.contains(&e.hash));
        let trusted = trusted.map_or(0, |e| e.raw.number);
        let begins = back.first().is_some_and(|e| {
            e.raw.number == 1 && Chains::new().check(&e.raw, &e.prev, &e.hash).is_ok()
        });
        out.push(Segment { entries: back, trusted, begins });
    }
    out
}

/// Heads of chains that a kept entry names: of what arrived, of what it continues.
fn told_heads(entry: &StoredEntry) -> Vec<Hash> {
    let tells = [Some(EntryKind::Arrival), Some(EntryKind::Epoch)];
    if !tells.contains(&EntryKind::named(&entry.raw.kind)) {
        return Vec::new();
    }
    let Ok(read) = entry.raw.read() else { return Vec::new() };
    let mut heads: Vec<String> = Vec::new();
    if let Body::Arrival(b) = read.body {
        heads.extend(b.chains.into_iter().map(|a| a.head));
    } else if let Body::Epoch(b) = read.body {
        heads.extend(b.parent.map(|p| p.hash));
    }
    heads.iter().filter_map(|head| head.parse().ok()).collect()
}

/// Chain and number of an entry.
type Place = (String, u32, u64);

/// Whose a damaged image is.
enum Belongs {
    /// Of an entry that was kept in a sound image.
    Known,
    /// Of an entry that is lost.
    Lost,
    /// Of no entry of any chain.
    Nowhere,
}

/// Where sound entries stand, by their own hash and by the one that they link to.
struct Places {
    by_hash: BTreeMap<Hash, Place>,
    by_prev: BTreeMap<Hash, Place>,
    /// When the first of each chain was written, and what it says: it links to no other of its chain.
    firsts: BTreeSet<(i64, String)>,
}

impl Places {
    fn of(sound: &[StoredEntry]) -> Self {
        let place = |e: &StoredEntry| (e.raw.site.clone(), e.raw.epoch, e.raw.number);
        // What begins a chain links to another, or to none.
        let (first, linked): (Vec<_>, Vec<_>) = sound.iter().partition(|e| e.raw.number == 1);
        Self {
            firsts: first.iter().map(|e| (e.raw.recorded_ms, e.raw.body.clone())).collect(),
            by_hash: sound.iter().map(|e| (e.hash, place(e))).collect(),
            by_prev: linked.into_iter().map(|e| (e.prev, place(e))).collect(),
        }
    }

    /// The place of a torn image: behind the one to which it links, before the one that links to it;
    /// or by its own name, where that is an entry which was kept, or the next of its chain.
    fn of_torn(
        &self,
        torn: &StoredEntry,
        chains: &BTreeMap<ChainKey, SalvagedChain>,
    ) -> Option<Place> {
        let behind = self.by_hash.get(&torn.prev).map(|(s, e, n)| (s.clone(), *e, n + 1));
        let before = || self.by_prev.get(&torn.hash).map(|(s, e, n)| (s.clone(), *e, n - 1));
        let named = || {
            let name = (torn.raw.site.clone(), torn.raw.epoch);
            let chain = chains.get(&name)?;
            (torn.raw.number <= chain.kept + 1).then_some((name.0, name.1, torn.raw.number))
        };
        behind.or_else(before).or_else(named)
    }

    /// Counts a torn image for the chain that it belongs to. One of an entry of which a sound image
    /// is there is nothing new.
    fn count(&self, torn: &StoredEntry, chains: &mut BTreeMap<ChainKey, SalvagedChain>) -> Belongs {
        let says = (torn.raw.recorded_ms, torn.raw.body.clone());
        if self.by_prev.contains_key(&torn.prev) || self.firsts.contains(&says) {
            return Belongs::Known;
        }
        let Some((site, epoch, number)) = self.of_torn(torn, chains) else {
            return Belongs::Nowhere;
        };
        let Some(chain) = chains.get_mut(&(site, epoch)) else { return Belongs::Nowhere };
        if !chain.lacks(number) {
            return Belongs::Known;
        }
        chain.unproven += 1;
        chain.seen = chain.seen.max(number);
        if number == chain.kept + 1 || chain.lost.first().is_some_and(|(from, _)| *from == number) {
            let entry = format!("{}-{number}", chain.chain);
            chain.broke = Some(ChainFault::Content { entry }.to_string());
        }
        Belongs::Lost
    }
}
