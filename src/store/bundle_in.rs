//! Bundles in: taken whole or not at all, in any order, any number of times.

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Read};
use std::path::Path;

use flate2::bufread::MultiGzDecoder;
use rusqlite::Connection;

use super::book::Book;
use super::entries::{StoredEntry, hash_of, head_of, insert, last_position, link_of};
use super::epoch::{EPOCHS_AHEAD, greatest_epoch, later_epochs, told_lost};
use super::error::{Clash, InFile, Result, StoreError};
use super::head::HeadMark;
use super::identity::Stamp;
use super::project;
use super::struck_freely::{self, OfAnother};
use super::trust::{TrustedKey, keys_in_force};
use super::unseen::unseen_in;
use super::whole::open_plain;
use crate::ledger::{
    BundleEnd, BundleError, BundleItem, BundleLimits, BundleReader, Chains, Hash, KnownKeys,
    Linked, RawEntry, RawError, Seal, SealError, Sealer, Stretch,
};
use crate::model::{
    ArrivalBody, Arrived, Body, Chain, Draft, EntryId, EpochBody, Head, LostStretch, Site,
    Vocabulary,
};
use crate::projection::alone::wrong_by_itself;
use crate::projection::kinds::Topic;

/// How to take a bundle in.
#[derive(Clone, Debug, Default)]
pub struct BundleIn {
    /// Work everything out, then leave the book as it was.
    pub dry_run: bool,
    /// Keys known for sites.
    pub known: KnownKeys,
    /// Refuse what no known key sealed.
    pub require_seal: bool,
    /// How much a bundle may hold.
    pub limits: BundleLimits,
}

/// What came of one chain of a bundle.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TakenStretch {
    /// The chain.
    pub chain: Chain,
    /// First and last number in the bundle.
    pub sent: (u64, u64),
    /// First and last numbers that were new; none when the book held them all.
    pub new: Vec<(u64, u64)>,
    /// The seal that it carried, and whose it is.
    pub seal: Option<(Sealer, Seal)>,
}

/// What taking a bundle in did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TakenIn {
    /// Its chains.
    pub chains: Vec<TakenStretch>,
    /// Digest in its footer.
    pub sha256: String,
    /// The entry that says so; `None` when the bundle brought nothing new.
    pub arrival: Option<EntryId>,
    /// The head afterwards.
    pub head: Option<HeadMark>,
    /// Facts that exclude each other; kept, flagged.
    pub clashes: Vec<Clash>,
    /// Entries that entries of the book name and that have not arrived.
    pub awaited: Vec<String>,
    /// New entries with names that hold signs which nobody sees, in words.
    pub unseen: Vec<String>,
    /// Other sets judge now than before, for an adoption that came with it.
    pub judges_otherwise: bool,
    /// New strikes, amendments and settlements that bear on entries of other sites.
    pub of_others: Vec<OfAnother>,
}

impl Book {
    /// Takes a bundle in from a file.
    pub fn bundle_in(&mut self, from: &Path, how: &BundleIn, stamp: &Stamp) -> Result<TakenIn> {
        let file = open_plain(from).map_err(|e| match e.kind() {
            std::io::ErrorKind::InvalidInput => {
                StoreError::from(BundleError::NotABundle { why: e.to_string() })
            }
            _ => StoreError::io(from, e),
        })?;
        self.read_bundle(&mut BufReader::new(file), how, stamp)
    }

    /// Takes a bundle in from a stream; packed or not, its first bytes tell.
    ///
    /// # Errors
    /// `Bundle` with the first thing wrong. The book is then as it was.
    pub fn read_bundle(
        &mut self,
        from: &mut impl BufRead,
        how: &BundleIn,
        stamp: &Stamp,
    ) -> Result<TakenIn> {
        let begins = from.fill_buf().map_err(|e| unreadable(0, &e))?;
        if begins.starts_with(&[0x1f, 0x8b]) {
            return self.take_lines(&mut BufReader::new(MultiGzDecoder::new(from)), how, stamp);
        }
        self.take_lines(from, how, stamp)
    }

    fn take_lines(
        &mut self,
        from: &mut impl BufRead,
        how: &BundleIn,
        stamp: &Stamp,
    ) -> Result<TakenIn> {
        let path = self.path.clone();
        let own = self.identity().chain.clone();
        let tx = self.begin()?;
        let first = last_position(&tx, &path)?;
        let trusted = keys_in_force(&tx, &path, &own.site)?;
        let mut taking = Taking::new(&tx, &path, &own, first);
        let mut reader = BundleReader::new(how.limits);
        let mut line = Vec::new();
        while next_line(from, how.limits.line, &mut line)
            .map_err(|e| unreadable(reader.lines(), &e))?
        {
            match reader.take(&line)? {
                BundleItem::Header(header) => taking.expect_lost(&header.lost)?,
                BundleItem::Entry(linked) => taking.take(&linked)?,
                BundleItem::Seal(_) | BundleItem::Footer => {}
            }
        }
        let end = reader.finish()?;
        let chains = taking.result(&end, how, trusted)?;
        let unseen = std::mem::take(&mut taking.unseen);
        check_parents(&tx, &path)?;
        taking.check_lost()?;
        if chains.iter().all(|c| c.new.is_empty()) {
            tx.rollback().in_file(&path)?;
            let head = self.head()?;
            let awaited = awaited(&self.conn, &path)?;
            let sha256 = end.sha256;
            return Ok(TakenIn {
                chains,
                sha256,
                arrival: None,
                head,
                clashes: Vec::new(),
                awaited,
                unseen: Vec::new(),
                judges_otherwise: false,
                of_others: Vec::new(),
            });
        }
        let arrival = note_arrival(&tx, &path, &own, &chains, &end, stamp)?;
        let project::Applied { clashes, judges_otherwise, .. } = project::apply(&tx, &path, first)?;
        let head = head_of(&tx, &path, &own)?;
        let awaited = awaited(&tx, &path)?;
        let of_others = struck_freely::since(&tx, &path, first)?;
        let taken = TakenIn {
            chains,
            sha256: end.sha256,
            arrival: Some(arrival),
            head,
            clashes,
            awaited,
            unseen,
            judges_otherwise,
            of_others,
        };
        if how.dry_run {
            tx.rollback().in_file(&path)?;
            return Ok(TakenIn { arrival: None, head: self.head()?, ..taken });
        }
        tx.commit().in_file(&path)?;
        self.note_head()?;
        Ok(taken)
    }
}

fn unreadable(line: u64, e: &std::io::Error) -> StoreError {
    BundleError::Unreadable { line, why: e.to_string() }.into()
}

/// Reads a line without its end, of one byte more than allowed at most; false at the end.
fn next_line(from: &mut impl BufRead, limit: usize, line: &mut Vec<u8>) -> std::io::Result<bool> {
    line.clear();
    let most = u64::try_from(limit).unwrap_or(u64::MAX).saturating_add(1);
    let read = from.take(most).read_until(b'\n', line)?;
    if line.last() == Some(&b'\n') {
        line.pop();
    }
    Ok(read > 0)
}

/// Entries on their way into the book.
struct Taking<'a> {
    conn: &'a Connection,
    path: &'a Path,
    own: &'a Chain,
    position: i64,
    /// Heads of the chains, as far as they are in.
    heads: BTreeMap<Chain, Option<HeadMark>>,
    /// Numbers that were new, in stretches.
    new: BTreeMap<Chain, Vec<(u64, u64)>>,
    /// What the book tells as lost.
    told: Vec<LostStretch>,
    /// The same, with what the bundle tells.
    lost: Chains,
    /// Entries that follow what the bundle tells as lost.
    after_lost: Vec<Linked>,
    /// New entries with names that hold signs which nobody sees.
    unseen: Vec<String>,
}

impl<'a> Taking<'a> {
    fn new(conn: &'a Connection, path: &'a Path, own: &'a Chain, position: i64) -> Self {
        Self {
            conn,
            path,
            own,
            position,
            heads: BTreeMap::new(),
            new: BTreeMap::new(),
            told: Vec::new(),
            lost: Chains::new(),
            after_lost: Vec::new(),
            unseen: Vec::new(),
        }
    }

    /// Takes note of what this book, and the sender of the bundle, know to be lost.
    fn expect_lost(&mut self, told: &[LostStretch]) -> Result<()> {
        self.told = told_lost(self.conn, self.path)?;
        let lost = [&self.told, told].concat();
        self.lost = Chains::with_lost(&lost);
        Ok(())
    }

    /// What was passed over as lost must be told so by an entry that is here now.
    fn check_lost(&self) -> Result<()> {
        let told = Chains::with_lost(&told_lost(self.conn, self.path)?);
        let untold = |after: &&Linked| !told.told_lost(&after.raw, &after.prev, after.raw.number);
        match self.after_lost.iter().find(untold) {
            None => Ok(()),
            Some(after) => Err(BundleError::Untold { entry: after.raw.label() }.into()),
        }
    }

    /// Takes the next entry of the bundle: skips it when the book holds it, refuses it when it does
    /// not fit.
    fn take(&mut self, linked: &Linked) -> Result<()> {
        let raw = &linked.raw;
        let chain = raw.chain().map_err(BundleError::from)?;
        let id = EntryId { chain: chain.clone(), number: raw.number };
        if !self.heads.contains_key(&chain) {
            let head = head_of(self.conn, self.path, &chain)?;
            if head.is_none() {
                let known = greatest_epoch(self.conn, self.path, chain.site.as_str())?;
                let most = known.saturating_add(EPOCHS_AHEAD);
                if chain.epoch > most {
                    return Err(BundleError::EpochAhead { entry: id.to_string(), most }.into());
                }
            }
            self.heads.insert(chain.clone(), head);
        }
        let held = self.heads.get(&chain).and_then(Option::as_ref);
        let held_to = held.map_or(0, |h| h.entry.number);
        if raw.number <= held_to {
            match hash_of(self.conn, self.path, &id)? {
                Some(hash) if hash == linked.hash => return Ok(()),
                Some(_) => return Err(BundleError::Fork { entry: id.to_string() }.into()),
                None => self.comes_back(&id, linked)?,
            }
            return self.put(chain, &id, linked);
        }
        if chain == *self.own {
            let held = held.map_or_else(|| "nothing".to_owned(), |h| h.entry.to_string());
            return Err(BundleError::Own { entry: id.to_string(), held }.into());
        }
        if raw.number != held_to + 1 && self.lost.told_lost(raw, &linked.prev, held_to) {
            self.after_lost.push(linked.clone());
        } else if raw.number != held_to + 1 {
            return Err(BundleError::Gap {
                entry: id.to_string(),
                chain: chain.to_string(),
                held: held.map_or_else(|| "nothing".to_owned(), |h| h.entry.to_string()),
            }
            .into());
        } else if held.is_some_and(|h| h.hash != linked.prev) {
            return Err(BundleError::Fork { entry: id.to_string() }.into());
        }
        self.heads.insert(chain.clone(), Some(HeadMark { entry: id.clone(), hash: linked.hash }));
        self.put(chain, &id, linked)
    }

    /// Whether an entry is one that the book lost: it links to the one before, and the one that
    /// follows links to it.
    fn comes_back(&self, id: &EntryId, linked: &Linked) -> Result<()> {
        let numbered = |number| EntryId { chain: id.chain.clone(), number };
        let before = match id.number.checked_sub(1).filter(|n| *n > 0) {
            Some(n) => hash_of(self.conn, self.path, &numbered(n))?,
            None => Some(linked.prev),
        };
        let after = link_of(self.conn, self.path, &numbered(id.number + 1))?;
        let last = |l: &&LostStretch| l.chain == id.chain && l.to == id.number;
        let told_head = self.told.iter().find(last).map(|l| &*l.head);
        if before != Some(linked.prev)
            || after.is_some_and(|link| link != linked.hash)
            || told_head.is_some_and(|head| head != linked.hash.to_string())
        {
            return Err(BundleError::Fork { entry: id.to_string() }.into());
        }
        Ok(())
    }

    /// Writes an entry that fits.
    fn put(&mut self, chain: Chain, id: &EntryId, linked: &Linked) -> Result<()> {
        let raw = &linked.raw;
        check_fact(raw, id)?;
        self.unseen.extend(unseen_in(raw));
        self.position += 1;
        insert(
            self.conn,
            self.path,
            &StoredEntry {
                position: self.position,
                raw: raw.clone(),
                prev: linked.prev,
                hash: linked.hash,
            },
        )?;
        let stretches = self.new.entry(chain).or_default();
        match stretches.last_mut().filter(|(_, to)| *to + 1 == id.number) {
            Some((_, to)) => *to = id.number,
            None => stretches.push((id.number, id.number)),
        }
        Ok(())
    }

    /// What of a stretch was new.
    fn new_within(&self, sent: &Stretch) -> Vec<(u64, u64)> {
        let new = self.new.get(&sent.chain).map_or(&[][..], Vec::as_slice);
        let within = new.iter().map(|(from, to)| (*from.max(&sent.from), *to.min(&sent.to)));
        within.filter(|(from, to)| from <= to).collect()
    }

    /// What came of each chain; checks the seals.
    fn result(
        &self,
        end: &BundleEnd,
        how: &BundleIn,
        trusted: BTreeMap<Site, Vec<TrustedKey>>,
    ) -> Result<Vec<TakenStretch>> {
        // A site of which no key was known tells its own with the bundle that it seals with it.
        let mut keys = keys_in_force(self.conn, self.path, &self.own.site)?;
        keys.extend(trusted);
        let of_entries = keys.values().flatten().map(|k| k.key.clone());
        let known = how.known.clone().with(of_entries);
        let mut out: Vec<TakenStretch> = end
            .header
            .chains
            .iter()
            .map(|s| TakenStretch {
                chain: s.chain.clone(),
                sent: (s.from, s.to),
                new: self.new_within(s),
                seal: None,
            })
            .collect();
        for seal in &end.seals {
            let sealer = seal.check(&known).map_err(BundleError::from)?;
            let of = |s: &Stretch| {
                s.chain == seal.entry.chain && s.to == seal.entry.number && s.head == seal.hash
            };
            let sealed = end.header.chains.iter().position(of).and_then(|i| out.get_mut(i));
            let Some(stretch) = sealed else {
                let entry = seal.entry.to_string();
                return Err(BundleError::Seal(SealError::NoHead { entry }).into());
            };
            stretch.seal = Some((sealer, seal.clone()));
        }
        for stretch in &out {
            let beyond = stretch.new.iter().any(|(_, to)| *to == stretch.sent.1);
            let Some(keys) = keys.get(&stretch.chain.site).filter(|_| beyond) else { continue };
            let sealed = stretch.seal.as_ref().is_some_and(|(_, seal)| {
                keys.iter().any(|k| k.key.key == seal.key.to_ascii_lowercase())
            });
            if !sealed {
                let told_by = keys.iter().map(|k| k.told_by.to_string()).collect::<Vec<_>>();
                return Err(BundleError::SealWanted {
                    chain: stretch.chain.to_string(),
                    site: stretch.chain.site.to_string(),
                    told_by: told_by.join(", "),
                }
                .into());
            }
        }
        if how.require_seal {
            let bare = out
                .iter()
                .filter(|s| !s.new.is_empty())
                .find(|s| !matches!(s.seal, Some((Sealer::Known(_), _))));
            if let Some(s) = bare {
                return Err(BundleError::Unsealed { chain: s.chain.to_string() }.into());
            }
        }
        Ok(out)
    }
}

/// Refuses an entry that this version cannot read, would write in other bytes, or that stands
/// where its kind cannot.
fn check_fact(raw: &RawEntry, id: &EntryId) -> Result<()> {
    let entry = raw.read_strictly().map_err(BundleError::from)?;
    let begins = matches!(&entry.body, Body::Epoch(_));
    let of_site = |b: &EpochBody| Site::parse(&b.site).is_ok_and(|s| s == id.chain.site);
    let named = !matches!(&entry.body, Body::Epoch(b) if !of_site(b));
    if begins != (id.number == 1) || !named {
        let misplaced = RawError::Misplaced { entry: id.to_string(), kind: raw.kind.clone() };
        return Err(BundleError::Entry(misplaced).into());
    }
    wrong_by_itself(&entry).map_err(|what| BundleError::Fact { entry: id.to_string(), what }.into())
}

/// Every epoch of the book continues an entry with the hash that it says, as far as the book holds
/// that entry.
pub(super) fn check_parents(conn: &Connection, path: &Path) -> Result<()> {
    for (stored, body) in later_epochs(conn, path)? {
        if let Some(Head { entry: parent, .. }) = body.parent
            && hash_of(conn, path, &parent)?.is_some_and(|held| held != stored.prev)
        {
            let epoch = stored.raw.label();
            return Err(BundleError::Parent { epoch, parent: parent.to_string() }.into());
        }
    }
    Ok(())
}

fn note_arrival(
    conn: &Connection,
    path: &Path,
    own: &Chain,
    chains: &[TakenStretch],
    end: &BundleEnd,
    stamp: &Stamp,
) -> Result<EntryId> {
    let mut arrived = Vec::new();
    for c in chains {
        for (from, to) in c.new.iter().copied() {
            // A seal is that of the last entry of what was sent.
            let seal = c.seal.as_ref().map(|(_, seal)| seal).filter(|s| s.entry.number == to);
            let last = EntryId { chain: c.chain.clone(), number: to };
            let hash = hash_of(conn, path, &last)?.unwrap_or(Hash::NONE);
            arrived.push(Arrived {
                chain: c.chain.clone(),
                from,
                to,
                head: hash.to_string(),
                sealed_by: c.seal.as_ref().map(|(_, seal)| seal.key.clone()),
                seal_known: matches!(c.seal, Some((Sealer::Known(_), _))),
                signature: seal.map(|seal| seal.signature.clone()),
                sealed_at: seal.and_then(|seal| seal.at.clone()),
            });
        }
    }
    let draft = Draft {
        effective: stamp.present(),
        evidence: None,
        body: Body::Arrival(ArrivalBody { chains: arrived, bundle: end.sha256.clone() }),
    };
    super::entries::append_one(conn, path, own, &draft, stamp)
}

/// Entries that others name and that are not here.
fn awaited(conn: &Connection, path: &Path) -> Result<Vec<String>> {
    let mut statement = conn
        .prepare_cached("SELECT DISTINCT subject FROM book_fact WHERE topic = ?1 ORDER BY subject")
        .in_file(path)?;
    let rows = statement.query_map([Topic::Awaits.word()], |r| r.get(0)).in_file(path)?;
    rows.collect::<rusqlite::Result<Vec<String>>>().in_file(path)
}
