//! Bundles in: taken whole or not at all, in any order, any number of times.

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Read};
use std::path::Path;

use flate2::bufread::MultiGzDecoder;
use rusqlite::Connection;

use super::book::Book;
use super::entries::{StoredEntry, hash_of, head_of, insert, last_position};
use super::epoch::{EPOCHS_AHEAD, greatest_epoch};
use super::error::{Clash, InFile, Result, StoreError};
use super::head::HeadMark;
use super::identity::Stamp;
use super::project;
use super::unseen::unseen_in;
use crate::ledger::{
    BundleEnd, BundleError, BundleItem, BundleLimits, BundleReader, Hash, KnownKeys, Linked,
    RawEntry, RawError, SealError, Sealer,
};
use crate::model::{
    ArrivalBody, Arrived, Body, Chain, Draft, EntryId, EntryKind, EpochBody, Vocabulary,
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
    /// First and last number that were new; `None` when the book held them all.
    pub new: Option<(u64, u64)>,
    /// Whose seal it carried: who holds a known key, or the key itself when unknown.
    pub seal: Option<(Sealer, String)>,
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
}

impl Book {
    /// Takes a bundle in from a file.
    pub fn bundle_in(&mut self, from: &Path, how: &BundleIn, stamp: &Stamp) -> Result<TakenIn> {
        let file = std::fs::File::open(from).map_err(|e| StoreError::io(from, e))?;
        if file.metadata().is_ok_and(|m| m.is_dir()) {
            let why = "it is a folder".to_owned();
            return Err(BundleError::NotABundle { why }.into());
        }
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
        let mut taking = Taking::new(&tx, &path, &own, first);
        let mut reader = BundleReader::new(how.limits);
        let mut line = Vec::new();
        while next_line(from, how.limits.line, &mut line)
            .map_err(|e| unreadable(reader.lines(), &e))?
        {
            if let BundleItem::Entry(linked) = reader.take(&line)? {
                taking.take(&linked)?;
            }
        }
        let end = reader.finish()?;
        let chains = taking.result(&end, how)?;
        let unseen = taking.unseen;
        check_parents(&tx, &path)?;
        if chains.iter().all(|c| c.new.is_none()) {
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
            });
        }
        let arrival = note_arrival(&tx, &path, &own, &chains, &end, stamp)?;
        let project::Applied { clashes, judges_otherwise, .. } = project::apply(&tx, &path, first)?;
        let head = head_of(&tx, &path, &own)?;
        let awaited = awaited(&tx, &path)?;
        if how.dry_run {
            tx.rollback().in_file(&path)?;
            let head = self.head()?;
            let sha256 = end.sha256;
            let arrival = None;
            return Ok(TakenIn {
                chains,
                sha256,
                arrival,
                head,
                clashes,
                awaited,
                unseen,
                judges_otherwise,
            });
        }
        tx.commit().in_file(&path)?;
        self.note_head()?;
        let (sha256, arrival) = (end.sha256, Some(arrival));
        Ok(TakenIn { chains, sha256, arrival, head, clashes, awaited, unseen, judges_otherwise })
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
    new: BTreeMap<Chain, (u64, u64)>,
    /// New entries with names that hold signs which nobody sees.
    unseen: Vec<String>,
}

impl<'a> Taking<'a> {
    fn new(conn: &'a Connection, path: &'a Path, own: &'a Chain, position: i64) -> Self {
        let (heads, new) = (BTreeMap::new(), BTreeMap::new());
        Self { conn, path, own, position, heads, new, unseen: Vec::new() }
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
            return match hash_of(self.conn, self.path, &id)? {
                Some(hash) if hash == linked.hash => Ok(()),
                _ => Err(BundleError::Fork { entry: id.to_string() }.into()),
            };
        }
        if chain == *self.own {
            let held = held.map_or_else(|| "nothing".to_owned(), |h| h.entry.to_string());
            return Err(BundleError::Own { entry: id.to_string(), held }.into());
        }
        if raw.number != held_to + 1 {
            return Err(BundleError::Gap {
                entry: id.to_string(),
                chain: chain.to_string(),
                held: held.map_or_else(|| "nothing".to_owned(), |h| h.entry.to_string()),
            }
            .into());
        }
        if held.is_some_and(|h| h.hash != linked.prev) {
            return Err(BundleError::Fork { entry: id.to_string() }.into());
        }
        check_fact(raw, &id)?;
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
        self.heads.insert(chain.clone(), Some(HeadMark { entry: id.clone(), hash: linked.hash }));
        self.new.entry(chain).or_insert((id.number, id.number)).1 = id.number;
        Ok(())
    }

    /// What came of each chain; checks the seals.
    fn result(&self, end: &BundleEnd, how: &BundleIn) -> Result<Vec<TakenStretch>> {
        let mut out: Vec<TakenStretch> = end
            .header
            .chains
            .iter()
            .map(|s| TakenStretch {
                chain: s.chain.clone(),
                sent: (s.from, s.to),
                new: self.new.get(&s.chain).copied(),
                seal: None,
            })
            .collect();
        for seal in &end.seals {
            let sealer = seal.check(&how.known).map_err(BundleError::from)?;
            let of = |s: &crate::ledger::Stretch| {
                s.chain == seal.entry.chain && s.to == seal.entry.number && s.head == seal.hash
            };
            let sealed = end.header.chains.iter().position(of).and_then(|i| out.get_mut(i));
            let Some(stretch) = sealed else {
                let entry = seal.entry.to_string();
                return Err(BundleError::Seal(SealError::NoHead { entry }).into());
            };
            stretch.seal = Some((sealer, seal.key.clone()));
        }
        if how.require_seal {
            let bare = out
                .iter()
                .filter(|s| s.new.is_some())
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
    let of_site =
        |b: &EpochBody| crate::model::Site::parse(&b.site).is_ok_and(|s| s == id.chain.site);
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
    for (epoch, parent, hash) in parents(conn, path)? {
        if hash_of(conn, path, &parent)?.is_some_and(|held| held != hash) {
            return Err(BundleError::Parent { epoch, parent: parent.to_string() }.into());
        }
    }
    Ok(())
}

/// Entries that begin a later epoch, with what they continue.
fn parents(conn: &Connection, path: &Path) -> Result<Vec<(String, EntryId, Hash)>> {
    let mut statement = conn
        .prepare_cached("SELECT position FROM entry WHERE kind = ?1 AND epoch > 1")
        .in_file(path)?;
    let places =
        statement.query_map([EntryKind::Epoch.word()], |r| r.get::<_, i64>(0)).in_file(path)?;
    let mut out = Vec::new();
    for place in places {
        let place = place.in_file(path)?;
        let Some(stored) = super::entries::at_position(conn, path, place)? else { continue };
        if let Body::Epoch(b) = stored.raw.read()?.body
            && let Some(parent) = b.parent
        {
            out.push((stored.raw.label(), parent.entry, stored.prev));
        }
    }
    Ok(out)
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
        let Some((from, to)) = c.new else { continue };
        let last = EntryId { chain: c.chain.clone(), number: to };
        let hash = hash_of(conn, path, &last)?.unwrap_or(Hash::NONE);
        arrived.push(Arrived {
            chain: c.chain.clone(),
            from,
            to,
            head: hash.to_string(),
            sealed_by: c.seal.as_ref().map(|(_, key)| key.clone()),
            seal_known: matches!(c.seal, Some((Sealer::Known(_), _))),
        });
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
