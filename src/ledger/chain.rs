//! The hash chain: each entry's hash covers the hash before it.

use std::fmt;
use std::str::FromStr;

use sha2::{Digest, Sha256};

use super::raw::{ENCODING, RawEntry};
use crate::model::{Body, Chain, LostStretch};

/// Bytes of a hash.
pub const HASH_LENGTH: usize = 32;

/// Domain tag: a hash of an entry is no hash of anything else.
const TAG: &[u8] = b"pipelore entry\0";

/// A SHA-256 hash.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Hash(pub [u8; HASH_LENGTH]);

/// Text that is not a hash.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is not a hash; a hash has 64 hexadecimal digits")]
pub struct HashTextError(pub String);

impl Hash {
    /// What stands before the first entry of a site.
    pub const NONE: Self = Self([0; HASH_LENGTH]);

    /// The hash of an entry after `prev`.
    pub fn of_entry(prev: &Self, entry: &RawEntry, scratch: &mut Vec<u8>) -> Self {
        scratch.clear();
        scratch.extend_from_slice(TAG);
        scratch.extend_from_slice(&prev.0);
        entry.canonical_bytes(scratch);
        Self(Sha256::digest(&*scratch).into())
    }

    /// Reads a stored hash; `None` when it has the wrong length.
    pub fn from_bytes(bytes: &[u8]) -> Option<Self> {
        bytes.try_into().ok().map(Self)
    }
}

/// SHA-256 of bytes, as lower-case hex.
pub fn digest(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

/// Bytes as lower-case hex.
pub fn hex(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 16] = b"0123456789abcdef";
    bytes
        .iter()
        .flat_map(|b| [b >> 4, b & 15])
        .map(|d| char::from(DIGITS[usize::from(d)]))
        .collect()
}

impl fmt::Display for Hash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&hex(&self.0))
    }
}

impl fmt::Debug for Hash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Hash({self})")
    }
}

impl FromStr for Hash {
    type Err = HashTextError;

    fn from_str(text: &str) -> Result<Self, HashTextError> {
        let bad = || HashTextError(text.to_owned());
        let t = text.trim();
        if t.len() != 2 * HASH_LENGTH || !t.is_ascii() {
            return Err(bad());
        }
        let mut out = [0; HASH_LENGTH];
        for (i, byte) in out.iter_mut().enumerate() {
            *byte = t
                .get(2 * i..2 * i + 2)
                .and_then(|d| u8::from_str_radix(d, 16).ok())
                .ok_or_else(bad)?;
        }
        Ok(Self(out))
    }
}

impl serde::Serialize for Hash {
    fn serialize<S: serde::Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(self)
    }
}

impl<'de> serde::Deserialize<'de> for Hash {
    /// Takes lower-case digits only, the one spelling that is written.
    fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let text = <String as serde::Deserialize>::deserialize(d)?;
        let hash: Self = text.parse().map_err(serde::de::Error::custom)?;
        if hash.to_string() == text {
            Ok(hash)
        } else {
            Err(serde::de::Error::custom(HashTextError(text)))
        }
    }
}

/// The first thing wrong in a chain.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ChainFault {
    /// A number is missing or comes twice.
    #[error("{entry} follows number {before} of its chain: entries are missing or out of order")]
    Gap {
        entry: String,
        /// Last number seen before it.
        before: u64,
    },
    /// The stored link does not fit the entry before.
    #[error("{entry} does not hold the hash of the entry before it")]
    Link { entry: String },
    /// The content does not give the stored hash.
    #[error("{entry} does not give its own hash: its content was altered")]
    Content { entry: String },
    /// An encoding of a newer program.
    #[error("{entry} has encoding {encoding}, which this version does not know")]
    Encoding { entry: String, encoding: u8 },
    /// A later epoch that does not say what it continues, or says something else than it links to.
    #[error("{entry} begins an epoch but does not link to the entry that it says it continues")]
    Parent { entry: String },
}

/// Entries of a chain that a book has lost and says so. What follows them is no gap.
#[derive(Clone, Debug)]
struct Hole {
    chain: Chain,
    from: u64,
    to: u64,
    /// Hash of the last of them.
    head: Hash,
}

/// Last number and hash of one chain.
#[derive(Clone, Debug)]
struct End {
    site: String,
    epoch: u32,
    number: u64,
    hash: Hash,
    /// Lost stretches before it, as far as they have come back.
    open: Vec<Open>,
}

/// A lost stretch: the entry before it, or the last that came back.
#[derive(Clone, Debug)]
struct Open {
    number: u64,
    hash: Hash,
    /// Last number of the stretch and its hash.
    to: u64,
    head: Hash,
}

/// Follows the chains of all sites in one book, entry by entry in order of arrival.
#[derive(Default, Debug, Clone)]
pub struct Chains {
    /// One for each chain, in order of appearance; a book holds few.
    ends: Vec<End>,
    /// Where the chain of the entry last seen stands among them.
    last: usize,
    holes: Vec<Hole>,
    scratch: Vec<u8>,
}

impl Chains {
    /// Starts with nothing seen.
    pub fn new() -> Self {
        Self::default()
    }

    /// Starts with nothing seen, in a book that says that it has lost these stretches. A head that
    /// is no hash is linked to by no entry.
    pub fn with_lost(lost: &[LostStretch]) -> Self {
        let holes = lost.iter().filter_map(|l| {
            let head = l.head.parse().ok()?;
            Some(Hole { chain: l.chain.clone(), from: l.from, to: l.to, head })
        });
        Self { holes: holes.collect(), ..Self::default() }
    }

    /// Stretches that are lost and have not come back: site, epoch, first and last number.
    pub fn missing(&self) -> impl Iterator<Item = (&str, u32, u64, u64)> {
        self.ends.iter().flat_map(|end| {
            let open = end.open.iter().filter(|open| open.number < open.to);
            open.map(|open| (&*end.site, end.epoch, open.number + 1, open.to))
        })
    }

    /// Whether what lies between two entries of a chain is told as lost, and the second links to it.
    pub fn told_lost(&self, entry: &RawEntry, prev: &Hash, held_to: u64) -> bool {
        self.holes.iter().any(|hole| {
            hole.chain.epoch == entry.epoch
                && hole.chain.site.as_str() == entry.site
                && hole.to.checked_add(1) == Some(entry.number)
                && hole.from <= held_to.saturating_add(1)
                && hole.head == *prev
        })
    }

    /// Takes a known head, to go on from there.
    pub fn resume(&mut self, site: &str, epoch: u32, number: u64, hash: Hash) {
        match self.find(site, epoch) {
            Some(end) => (end.number, end.hash) = (number, hash),
            None => {
                let open = Vec::new();
                self.ends.push(End { site: site.to_owned(), epoch, number, hash, open });
            }
        }
    }

    fn find(&mut self, site: &str, epoch: u32) -> Option<&mut End> {
        let is = |e: &End| e.epoch == epoch && e.site == site;
        if !self.ends.get(self.last).is_some_and(is) {
            self.last = self.ends.iter().position(is)?;
        }
        self.ends.get_mut(self.last)
    }

    /// Last number and hash of a chain.
    pub fn head(&self, site: &str, epoch: u32) -> Option<(u64, Hash)> {
        let end = self.ends.iter().find(|e| e.epoch == epoch && e.site == site)?;
        Some((end.number, end.hash))
    }

    /// Checks an entry against the chain so far and takes it in.
    pub fn check(&mut self, entry: &RawEntry, prev: &Hash, hash: &Hash) -> Result<(), ChainFault> {
        let mut scratch = std::mem::take(&mut self.scratch);
        let sound = Hash::of_entry(prev, entry, &mut scratch) == *hash;
        self.scratch = scratch;
        self.check_hashed(entry, prev, hash, sound)
    }

    /// Like [`Self::check`], for a caller that has worked out the hash already: `sound` tells
    /// whether the content gives it.
    pub fn check_hashed(
        &mut self,
        entry: &RawEntry,
        prev: &Hash,
        hash: &Hash,
        sound: bool,
    ) -> Result<(), ChainFault> {
        let label = || entry.label();
        if entry.encoding != ENCODING {
            return Err(ChainFault::Encoding { entry: label(), encoding: entry.encoding });
        }
        let content = || {
            if sound { Ok(()) } else { Err(ChainFault::Content { entry: label() }) }
        };
        let held = self.find(&entry.site, entry.epoch).map(|end| end.number);
        let lost_before = self.told_lost(entry, prev, held.unwrap_or(0));
        if let Some(end) = self.find(&entry.site, entry.epoch) {
            if entry.number <= end.number {
                return end.comes_back(entry, prev, hash, content);
            }
            if entry.number == end.number + 1 {
                if *prev != end.hash {
                    return Err(ChainFault::Link { entry: label() });
                }
                content()?;
            } else if lost_before {
                content()?;
                end.open.push(Open {
                    number: end.number,
                    hash: end.hash,
                    to: entry.number - 1,
                    head: *prev,
                });
            } else {
                return Err(ChainFault::Gap { entry: label(), before: end.number });
            }
            (end.number, end.hash) = (entry.number, *hash);
            return Ok(());
        }
        let mut open = Vec::new();
        if entry.number == 1 {
            content()?;
            begins(entry, prev)?;
        } else if lost_before {
            content()?;
            open.push(Open { number: 0, hash: Hash::NONE, to: entry.number - 1, head: *prev });
        } else {
            return Err(ChainFault::Gap { entry: label(), before: 0 });
        }
        self.last = self.ends.len();
        self.ends.push(End {
            site: entry.site.clone(),
            epoch: entry.epoch,
            number: entry.number,
            hash: *hash,
            open,
        });
        Ok(())
    }
}

impl End {
    /// Takes in an entry of a stretch that was lost.
    fn comes_back(
        &mut self,
        entry: &RawEntry,
        prev: &Hash,
        hash: &Hash,
        content: impl Fn() -> Result<(), ChainFault>,
    ) -> Result<(), ChainFault> {
        let before = self.number;
        let awaited = |open: &&mut Open| open.number < entry.number && entry.number <= open.to;
        let Some(open) = self.open.iter_mut().find(awaited) else {
            return Err(ChainFault::Gap { entry: entry.label(), before });
        };
        if entry.number != open.number + 1 {
            return Err(ChainFault::Gap { entry: entry.label(), before: open.number });
        }
        let last = entry.number == open.to && *hash != open.head;
        if last || entry.number > 1 && *prev != open.hash {
            return Err(ChainFault::Link { entry: entry.label() });
        }
        content()?;
        if entry.number == 1 {
            begins(entry, prev)?;
        }
        (open.number, open.hash) = (entry.number, *hash);
        Ok(())
    }
}

/// The first entry of a chain links to nothing, or to what it says that it continues.
fn begins(entry: &RawEntry, prev: &Hash) -> Result<(), ChainFault> {
    if entry.epoch > 1 {
        return check_parent(entry, prev);
    }
    if *prev == Hash::NONE { Ok(()) } else { Err(ChainFault::Link { entry: entry.label() }) }
}

/// The first entry of a later epoch continues an entry of an earlier epoch of its site, whose hash
/// stands in the body and is the one that the entry links to. An epoch whose beginnings are lost
/// continues nothing. Whoever holds the parent's chain compares its hash; a parent that has not
/// arrived yet proves nothing either way.
fn check_parent(entry: &RawEntry, prev: &Hash) -> Result<(), ChainFault> {
    let fault = || ChainFault::Parent { entry: entry.label() };
    let read = entry.read().map_err(|_| fault())?;
    let Body::Epoch(body) = read.body else { return Err(fault()) };
    let Some(head) = body.parent else {
        return if *prev == Hash::NONE { Ok(()) } else { Err(fault()) };
    };
    let hash: Hash = head.hash.parse().map_err(|_| fault())?;
    let chain = &head.entry.chain;
    let earlier = chain.site == read.id.chain.site && chain.epoch < entry.epoch;
    if !earlier || hash != *prev || head.entry.number == 0 {
        return Err(fault());
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(number: u64, body: &str) -> RawEntry {
        RawEntry {
            site: "yard".to_owned(),
            epoch: 1,
            number,
            kind: "note".to_owned(),
            effective: "2026-03-04".to_owned(),
            recorded_ms: 1_772_600_000_000,
            recorded_offset: 60,
            author: "someone".to_owned(),
            program: "pipelore 0.1.0".to_owned(),
            evidence: None,
            body: body.to_owned(),
            encoding: ENCODING,
        }
    }

    fn chained(bodies: &[&str]) -> Vec<(RawEntry, Hash, Hash)> {
        let mut prev = Hash::NONE;
        let mut scratch = Vec::new();
        bodies
            .iter()
            .zip(1..)
            .map(|(body, number)| {
                let e = entry(number, body);
                let hash = Hash::of_entry(&prev, &e, &mut scratch);
                let link = (e, prev, hash);
                prev = hash;
                link
            })
            .collect()
    }

    /// Golden vector: any change of the encoding shows here, and must be a new version.
    #[test]
    fn the_encoding_does_not_drift() {
        let links = chained(&[r#"{"text":"first"}"#, r#"{"text":"second"}"#]);
        let shown: Vec<_> = links.iter().map(|l| l.2.to_string()).collect();
        // Computed independently with Python's hashlib over the documented layout.
        assert_eq!(
            shown,
            [
                "176b6a7f602fb85f7a22d91db9460dc06b5feba8ea87375a5afbb9492d4a4246",
                "177727615146ef83d6020d4a90f1e36a7110be48b6633dbe38b3be2393350203"
            ]
        );
    }

    #[test]
    fn an_untouched_chain_passes() {
        let mut chains = Chains::new();
        for (e, prev, hash) in chained(&["{}", "{}", "{}"]) {
            chains.check(&e, &prev, &hash).unwrap();
        }
        assert_eq!(chains.head("yard", 1).unwrap().0, 3);
    }

    #[test]
    fn every_column_is_covered() {
        let change: [fn(&mut RawEntry); 10] = [
            |e| e.kind.push('x'),
            |e| e.effective = "2026-03-05".to_owned(),
            |e| e.recorded_ms += 1,
            |e| e.recorded_offset += 1,
            |e| e.author.push('x'),
            |e| e.program.push('x'),
            |e| e.evidence = Some(String::new()),
            |e| e.body = r#"{"text":"x"}"#.to_owned(),
            |e| e.encoding += 1,
            |e| e.site = "rig".to_owned(),
        ];
        for (i, f) in change.into_iter().enumerate() {
            let mut links = chained(&["{}", "{}"]);
            f(&mut links[1].0);
            let mut chains = Chains::new();
            let result = links.iter().try_for_each(|(e, prev, hash)| chains.check(e, prev, hash));
            assert!(result.is_err(), "change {i} went unseen");
        }
    }

    #[test]
    fn gaps_and_wrong_links_are_named() {
        let links = chained(&["{}", "{}", "{}"]);
        let mut chains = Chains::new();
        chains.check(&links[0].0, &links[0].1, &links[0].2).unwrap();
        assert_eq!(
            chains.check(&links[2].0, &links[2].1, &links[2].2).unwrap_err().to_string(),
            "yard-3 follows number 1 of its chain: entries are missing or out of order"
        );
        assert_eq!(
            chains.check(&links[1].0, &Hash::NONE, &links[1].2).unwrap_err(),
            ChainFault::Link { entry: "yard-2".to_owned() }
        );
    }

    #[test]
    fn what_is_told_lost_is_no_gap_and_comes_back_link_by_link() {
        let links = chained(&["{}", "{}", "{}", "{}", "{}"]);
        let lost = |head: Hash| LostStretch {
            chain: Chain { site: crate::model::Site::parse("yard").unwrap(), epoch: 1 },
            from: 2,
            to: 3,
            head: head.to_string(),
            unproven: false,
        };
        let check = |chains: &mut Chains, i: usize| {
            let (e, prev, hash) = &links[i];
            chains.check(e, prev, hash)
        };
        let mut untold = Chains::with_lost(&[lost(links[1].2)]);
        check(&mut untold, 0).unwrap();
        assert!(matches!(check(&mut untold, 3), Err(ChainFault::Gap { .. })));
        let mut chains = Chains::with_lost(&[lost(links[2].2)]);
        for i in [0, 3, 4] {
            check(&mut chains, i).unwrap();
        }
        assert_eq!(chains.missing().collect::<Vec<_>>(), [("yard", 1, 2, 3)]);
        assert!(matches!(check(&mut chains, 2), Err(ChainFault::Gap { .. })));
        check(&mut chains, 1).unwrap();
        assert!(matches!(check(&mut chains, 1), Err(ChainFault::Gap { .. })));
        // Another third entry, sound by itself, is not the one that was lost.
        let mut other = links[2].0.clone();
        other.body = "[]".to_owned();
        let hash = Hash::of_entry(&links[2].1, &other, &mut Vec::new());
        assert!(matches!(chains.check(&other, &links[2].1, &hash), Err(ChainFault::Link { .. })));
        check(&mut chains, 2).unwrap();
        assert_eq!(chains.missing().count(), 0);
        assert_eq!(chains.head("yard", 1), Some((5, links[4].2)));
    }

    fn epoch_entry(parent: Option<&str>) -> RawEntry {
        let head = parent.map(|hash| format!(r#""parent":{{"entry":"yard-2","hash":"{hash}"}},"#));
        let body = format!(r#"{{{}"site":"yard","units":"us"}}"#, head.unwrap_or_default());
        RawEntry { epoch: 2, kind: "epoch".to_owned(), ..entry(1, &body) }
    }

    #[test]
    fn a_later_epoch_links_to_what_it_says_it_continues() {
        let links = chained(&["{}", "{}", "{}"]);
        let parent = links[1].2;
        let other = links[0].2;
        let mut scratch = Vec::new();
        let try_it = |e: &RawEntry, prev: Hash, scratch: &mut Vec<u8>| {
            let mut chains = Chains::new();
            let hash = Hash::of_entry(&prev, e, scratch);
            chains.check(e, &prev, &hash)
        };
        let sound = epoch_entry(Some(&parent.to_string()));
        assert!(try_it(&sound, parent, &mut scratch).is_ok());
        assert!(try_it(&sound, other, &mut scratch).is_err());
        assert!(try_it(&epoch_entry(None), Hash::NONE, &mut scratch).is_ok());
        assert!(try_it(&epoch_entry(None), parent, &mut scratch).is_err());
        let foreign = RawEntry {
            body: sound.body.replace("yard-2", "rig-2"),
            ..epoch_entry(Some(&parent.to_string()))
        };
        assert!(try_it(&foreign, parent, &mut scratch).is_err());
        let note = RawEntry { kind: "note".to_owned(), ..sound };
        assert!(try_it(&note, parent, &mut scratch).is_err());
    }

    #[test]
    fn hashes_read_back() {
        let h = Hash([0xa5; 32]);
        assert_eq!(h.to_string().parse::<Hash>().unwrap(), h);
        assert!("abc".parse::<Hash>().is_err());
        assert!("é".repeat(32).parse::<Hash>().is_err());
    }
}
