//! Books as they were: the same book, at an earlier place of its chain, or seen from an earlier
//! date. The projections of a view are those of a book that stopped there; the book itself is only
//! read. Mostly a view stands beside the book and holds what it sees otherwise (`view`). Where what
//! is not seen cannot be taken out by itself it is a copy in memory (the rest of a large one on
//! disk, in a file without a name), derived anew as far as needed.

use std::collections::{BTreeMap, BTreeSet};
use std::time::Duration;

use rusqlite::Connection;
use rusqlite::backup::{Backup, StepResult};

use super::book::{Book, Identity, keep_plans};
use super::error::{InFile, Result, StoreError};
use super::functions;
use super::head::HeadMark;
use super::ledger::{at_position, last_position, position_of, sql_list};
use super::project::{self, Past, Unseen};
use super::view::{self, View};
use crate::ledger::RawEntry;
use crate::model::{Body, Chain, Draft, Entry, EntryId, EntryKind, EpochBody, Instant, Moment};
use crate::projection::horizon::{Sight, sight};
use crate::projection::kinds::{Seen, kinds, role};

/// From where a book is looked at.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LookBack {
    /// The last place of the book that is known; all of it when absent.
    pub known_to: Option<i64>,
    /// What had happened before this instant; everything when absent.
    pub before: Option<Instant>,
}

/// A book as it was.
#[derive(Debug)]
pub struct LookedBack {
    /// For questions only.
    pub book: Book,
    /// Its last place.
    pub position: i64,
    /// Its own last entry.
    pub head: Option<HeadMark>,
    /// Entries that are known and not seen: they tell of later.
    pub later: usize,
    /// Runs that were under way, seen as far as they had come.
    pub under_way: Vec<EntryId>,
    /// What is not seen was taken back by itself; else everything else was derived anew.
    pub singly: bool,
}

/// How often, and how long, to wait for a writer who has the file for itself.
const PATIENCE: (u32, Duration) = (500, Duration::from_millis(10));

/// Most of a copy that is held in memory, KiB.
const MEMORY: i64 = 1 << 20;

impl Book {
    /// The place that the book had reached before an instant, by its own clock: what it took in
    /// counts from when it took it in. `None` when nothing had been written.
    pub fn place_before(&self, at: Instant) -> Result<Option<i64>> {
        let mut last = None;
        let mut later = None;
        for (chain, from, until) in self.own_stretches()? {
            let (site, epoch) = (chain.site.as_str(), chain.epoch);
            later = self
                .conn
                .query_row(
                    "SELECT min(position) FROM entry WHERE site = ?1 AND epoch = ?2
                     AND position >= ?3 AND position < ?4 AND recorded_ms >= ?5",
                    (site, epoch, from, until, at.0),
                    |r| r.get::<_, Option<i64>>(0),
                )
                .in_file(&self.path)?
                .or(later);
            let found: Option<i64> = self
                .conn
                .query_row(
                    "SELECT max(position) FROM entry WHERE site = ?1 AND epoch = ?2
                     AND position >= ?3 AND position < ?4",
                    (site, epoch, from, later.unwrap_or(until).min(until)),
                    |r| r.get(0),
                )
                .in_file(&self.path)?;
            last = last.max(found);
            if last.is_some() {
                break;
            }
        }
        Ok(last)
    }

    /// The place that the book had reached when it held an entry: a bundle is taken in whole.
    pub fn place_with(&self, entry: &EntryId) -> Result<i64> {
        let place = position_of(&self.conn, &self.path, entry)?
            .ok_or_else(|| StoreError::NoEntry(entry.to_string()))?;
        let mut next: Option<i64> = None;
        for (chain, from, until) in self.own_stretches()? {
            let found: Option<i64> = self
                .conn
                .query_row(
                    "SELECT min(position) FROM entry WHERE site = ?1 AND epoch = ?2
                     AND position >= ?3 AND position < ?4",
                    (chain.site.as_str(), chain.epoch, from.max(place), until),
                    |r| r.get(0),
                )
                .in_file(&self.path)?;
            next = found.or(next);
        }
        Ok(next.unwrap_or(place))
    }

    /// What this book wrote itself, newest chain first: the chain, and from which place until
    /// before which. An earlier epoch's entries that came back by bundle are not of it.
    fn own_stretches(&self) -> Result<Vec<(Chain, i64, i64)>> {
        let mut out = Vec::new();
        let mut chain = self.identity().chain.clone();
        let mut until = i64::MAX;
        loop {
            let first = EntryId { chain: chain.clone(), number: 1 };
            let from = position_of(&self.conn, &self.path, &first)?.filter(|p| *p < until);
            let Some(from) = from else { break };
            out.push((chain.clone(), from, until));
            let entry = self.entry_at(from)?.raw.read()?;
            let Body::Epoch(EpochBody { parent: Some(parent), .. }) = entry.body else { break };
            (chain, until) = (parent.entry.chain, from);
        }
        // A salvaged book may hold its past without the place where it went on from it.
        if let Some((chain, from, _)) = out.last().cloned() {
            for epoch in (1..chain.epoch).rev() {
                let earlier = Chain { site: chain.site.clone(), epoch };
                out.push((earlier, 1, from));
            }
        }
        Ok(out)
    }

    /// The book as it was.
    pub fn look_back(&self, from: &LookBack) -> Result<LookedBack> {
        let path = &self.path;
        // A view of a view, and a view of what stands in no file, is made in a copy.
        let is_file = self.view.is_none() && self.conn.path().is_some_and(|p| !p.is_empty());
        let (mut conn, source) = if is_file {
            let (conn, source) = view::readers(path)?;
            (conn, Some(source))
        } else {
            (self.copy()?, None)
        };
        let end = last_position(&conn, path)?;
        let known_to = from.known_to.unwrap_or(end).min(end);
        let mut unseen = match from.before {
            None => Unseen::default(),
            Some(horizon) => later_than(&conn, path, horizon, known_to)?,
        };
        let later = unseen.gone.len();
        let runs = unseen.reworded.values().filter(|raw| raw.kind == EntryKind::Run.word());
        let under_way = runs
            .map(|raw| Ok(EntryId { chain: raw.chain()?, number: raw.number }))
            .collect::<Result<_>>()?;
        unseen.gone.extend(places(&conn, path, known_to)?);
        let identity = self.identity_at(known_to)?;
        let head = head_at(self, &identity.chain, known_to)?;
        let told =
            |book, singly| LookedBack { book, position: known_to, head, later, under_way, singly };
        let Some(source) = source else {
            return self.looked_back_in_copy(conn, &unseen, identity).map(|(b, s)| told(b, s));
        };
        let reach = Some(known_to).filter(|k| *k < end);
        match Past::of(&source, path, unseen, reach, from.before)? {
            Ok(past) => {
                let place = seen_to(&conn, path, &past)?;
                let view = if past.is_present() {
                    None
                } else {
                    Some(Box::new(View::over(&mut conn, source, path, past, place)?))
                };
                conn.pragma_update(None, "query_only", true).in_file(path)?;
                Ok(told(Self::of_parts(conn, path.clone(), identity, view), true))
            }
            Err(unseen) => {
                drop((conn, source));
                self.looked_back_in_copy(self.copy()?, &unseen, identity).map(|(b, s)| told(b, s))
            }
        }
    }

    /// The view in a copy of the whole book, whose projections are brought to what is seen.
    fn looked_back_in_copy(
        &self,
        conn: Connection,
        unseen: &Unseen,
        identity: Identity,
    ) -> Result<(Self, bool)> {
        let path = &self.path;
        let singly = project::take_back(&conn, path, unseen)?;
        conn.execute_batch("COMMIT").in_file(path)?;
        conn.pragma_update(None, "query_only", true).in_file(path)?;
        Ok((Self::of_parts(conn, path.clone(), identity, None), singly))
    }

    /// Whose book it was: a restored one was another before it went on.
    fn identity_at(&self, place: i64) -> Result<Identity> {
        let mut identity = self.identity().clone();
        for (chain, from, _) in self.own_stretches()? {
            if from <= place {
                identity.chain = chain;
                break;
            }
        }
        Ok(identity)
    }

    /// A copy that nobody else sees, inside a transaction, without guards.
    pub(super) fn copy(&self) -> Result<Connection> {
        let path = &self.path;
        let mut copy = Connection::open("").in_file(path)?;
        let set = |conn: &Connection| -> rusqlite::Result<()> {
            conn.pragma_update(None, "cache_size", -MEMORY)?;
            conn.pragma_update(None, "synchronous", "OFF")?;
            conn.pragma_update(None, "temp_store", "MEMORY")?;
            conn.set_prepared_statement_cache_capacity(256);
            keep_plans(conn)?;
            functions::register(conn)
        };
        set(&copy).in_file(path)?;
        {
            let backup = Backup::new(&self.conn, &mut copy).in_file(path)?;
            // All pages at once: one state of the book.
            let mut tries = 0;
            while backup.step(-1).in_file(path)? != StepResult::Done {
                tries += 1;
                if tries > PATIENCE.0 {
                    return Err(StoreError::Busy { path: path.clone() });
                }
                std::thread::sleep(PATIENCE.1);
            }
        }
        // What stands in a stranger's file as a trigger has no business here, nor have ours.
        let triggers: Vec<String> = {
            let mut statement = copy
                .prepare("SELECT name FROM sqlite_schema WHERE type = 'trigger'")
                .in_file(path)?;
            let names = statement.query_map([], |r| r.get(0)).in_file(path)?;
            names.collect::<rusqlite::Result<_>>().in_file(path)?
        };
        for name in triggers {
            let sql = format!("DROP TRIGGER \"{}\"", name.replace('"', "\"\""));
            copy.execute_batch(&sql).in_file(path)?;
        }
        copy.pragma_update(None, "journal_mode", "OFF").in_file(path)?;
        copy.execute_batch("BEGIN").in_file(path)?;
        Ok(copy)
    }
}

fn head_at(book: &Book, chain: &Chain, place: i64) -> Result<Option<HeadMark>> {
    let number: Option<i64> = book
        .conn
        .query_row(
            "SELECT max(number) FROM entry WHERE site = ?1 AND epoch = ?2 AND position <= ?3",
            (chain.site.as_str(), chain.epoch, place),
            |r| r.get(0),
        )
        .in_file(&book.path)?;
    let Some(number) = number.and_then(|n| u64::try_from(n).ok()) else { return Ok(None) };
    let entry = EntryId { chain: chain.clone(), number };
    let hash = super::book::hash_of(&book.conn, &book.path, &entry)?;
    Ok(hash.map(|hash| HeadMark { entry, hash }))
}

/// The last place that a view sees.
fn seen_to(conn: &Connection, path: &std::path::Path, past: &Past) -> Result<i64> {
    let mut statement =
        conn.prepare("SELECT position FROM entry ORDER BY position DESC").in_file(path)?;
    let mut rows = statement.query([]).in_file(path)?;
    while let Some(row) = rows.next().in_file(path)? {
        let place = row.get(0).in_file(path)?;
        if !past.unseen.gone.contains(&place) {
            return Ok(place);
        }
    }
    Ok(0)
}

/// Places after one.
fn places(conn: &Connection, path: &std::path::Path, after: i64) -> Result<BTreeSet<i64>> {
    let mut statement =
        conn.prepare("SELECT position FROM entry WHERE position > ?1").in_file(path)?;
    let rows = statement.query_map([after], |r| r.get(0)).in_file(path)?;
    rows.collect::<rusqlite::Result<_>>().in_file(path)
}

/// What is not seen from an instant, or only in part, of the entries up to a place.
fn later_than(
    conn: &Connection,
    path: &std::path::Path,
    horizon: Instant,
    known_to: i64,
) -> Result<Unseen> {
    // As written, a day may be two off by clock offsets and by where the day ends.
    let about = Instant(horizon.0.saturating_sub(2 * 86_400_000)).day(0).to_string();
    let dependent = sql_list(kinds(|role| matches!(role.seen, Seen::BySaying(_))));
    let mut statement = conn
        .prepare(&format!(
            "SELECT position, kind, effective, recorded_offset FROM entry WHERE position <= ?1
             AND (kind IN ({dependent}) OR substr(effective, 1, 10) >= ?2) ORDER BY position"
        ))
        .in_file(path)?;
    let mut rows = statement.query((known_to, about)).in_file(path)?;
    let mut out = Unseen::default();
    let mut waiting: Vec<(i64, Entry, Sight)> = Vec::new();
    while let Some(row) = rows.next().in_file(path)? {
        let position: i64 = row.get(0).in_file(path)?;
        let text = |at| Ok::<_, StoreError>(row.get_ref(at).in_file(path)?.as_str().unwrap_or(""));
        // Most are seen or not by their date alone, and need not be read.
        if EntryKind::named(text(1)?).is_some_and(|kind| matches!(role(kind).seen, Seen::ByTime))
            && let Ok(effective) = text(2)?.parse::<Moment>()
        {
            if effective.start(row.get(3).in_file(path)?) >= horizon {
                out.gone.insert(position);
            }
            continue;
        }
        let Some(stored) = at_position(conn, path, position)? else { continue };
        let entry = stored.raw.read()?;
        match sight(&entry, horizon) {
            Sight::Whole => {}
            Sight::Hidden => {
                out.gone.insert(position);
            }
            Sight::Part(part) => {
                out.reworded.insert(position, reworded(&part)?);
            }
            dependent @ (Sight::WithAny(..) | Sight::WithAll(_)) => {
                waiting.push((position, entry, dependent));
            }
        }
    }
    let mut places: BTreeMap<EntryId, Option<i64>> = BTreeMap::new();
    for (_, _, sight) in &waiting {
        let (Sight::WithAny(names, _) | Sight::WithAll(names)) = sight else { continue };
        for name in names {
            if !places.contains_key(name) {
                places.insert(name.clone(), position_of(conn, path, name)?);
            }
        }
    }
    let is_hidden = |name: &EntryId, gone: &BTreeSet<i64>| {
        places.get(name).copied().flatten().is_some_and(|p| gone.contains(&p))
    };
    // Strikes strike strikes: what hides one may hide another, until no more is hidden.
    loop {
        let before = waiting.len();
        let mut still = Vec::with_capacity(before);
        for (position, entry, sight) in waiting {
            let gone = match &sight {
                Sight::WithAny(names, _) => names.iter().all(|n| is_hidden(n, &out.gone)),
                Sight::WithAll(names) => names.iter().any(|n| is_hidden(n, &out.gone)),
                Sight::Whole | Sight::Part(_) | Sight::Hidden => false,
            };
            if gone {
                out.gone.insert(position);
            } else {
                still.push((position, entry, sight));
            }
        }
        waiting = still;
        if waiting.len() == before {
            break;
        }
    }
    for (position, _, sight) in waiting {
        if let Sight::WithAny(_, Some(words)) = sight {
            out.reworded.insert(position, reworded(&words)?);
        }
    }
    Ok(out)
}

/// An entry of the view, as it would be stored.
fn reworded(entry: &Entry) -> Result<RawEntry> {
    let draft = Draft {
        effective: entry.effective,
        evidence: entry.evidence.clone(),
        body: entry.body.clone(),
    };
    Ok(RawEntry::write(&draft, &entry.id, entry.recorded, &entry.author, &entry.program)?)
}
