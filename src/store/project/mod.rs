//! Works entries into the projections: finds what an entry touches, gives the pure folds what they
//! read, and writes what they say. Incremental work and a rebuild go through the same steps.

mod ahead;
mod appraise;
mod cache;
mod dirty;
mod joints;
mod link;
mod runs;
mod standing;

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::Arc;

use rayon::prelude::*;
use rusqlite::Connection;

use super::entries::{COLUMNS, StoredEntry, check_content, from_row, in_own_words};
use super::error::{Clash, InFile, Result, StoreError};
use super::rows::{get, put_into};
use super::{clock, content, migrate};
use crate::model::{Clock, Entry, EntryId, JointRef, Vocabulary};
use crate::projection::book::BookFacts;
use crate::projection::exposure::{JointFacts, Method};
use crate::projection::facts::{self, Placed};
use crate::projection::kinds::{Changes, Topic, role};
use crate::schema::{ConflictRow, RunRow, StruckRow};
use ahead::work_ahead;
use cache::BoundedCache;
use dirty::Dirty;

pub use appraise::Appraiser;
pub(super) use joints::SeenRun;
pub(super) use link::tells_joints_apart;

/// One pass over the projections, inside the caller's transaction.
pub(super) struct Pass<'a> {
    conn: &'a Connection,
    path: &'a Path,
    /// Entries that count no more.
    struck: BTreeSet<i64>,
    /// Facts of the whole book.
    book: BookFacts,
    /// Fatigue method in force, once it was asked for.
    method: Option<Arc<Method>>,
    /// Places of entries looked up lately.
    positions: BoundedCache<EntryId, i64>,
    /// Entries read lately.
    entries: BoundedCache<i64, Placed>,
    /// Runs read lately, as rows.
    run_rows: BoundedCache<i64, Arc<RunRow>>,
    /// What runs read of joints.
    joint_facts: BoundedCache<i64, Option<Arc<JointFacts>>>,
    /// Joints that proved to be another one.
    merged: BTreeMap<i64, i64>,
    /// Amendments that stand, by the entry of which they are, in canonical order.
    amended: BTreeMap<EntryId, Vec<Arc<Entry>>>,
    /// Entries that speak of another joint where they name this one.
    split: BTreeMap<i64, Vec<(i64, JointRef)>>,
    misfits: Misfits,
    /// The clock by which days are days.
    clock: Clock,
    /// It works on its own thread alone.
    alone: bool,
    /// Entries stand in their own words, and give their hashes.
    own_words: bool,
}

/// An entry on its way in.
pub(super) struct Fresh {
    placed: Placed,
    /// Digest of what it says.
    content: i64,
}

/// Entries decoded at once, and the bytes of their bodies.
const BATCH: (usize, usize) = (512, 4 << 20);

/// What came of working entries in.
#[derive(Debug, Default)]
pub(super) struct Applied {
    /// New conflicts.
    pub clashes: Vec<Clash>,
    /// The first run that newly does not fit: its name, and why.
    pub misfit: Option<(String, String)>,
    /// Other sets judge now, or damage is worked out by another method.
    pub judges_otherwise: bool,
}

/// Works in the entries after a position. Returns the conflicts that they brought.
pub(super) fn apply(conn: &Connection, path: &Path, after: i64) -> Result<Applied> {
    work_in(conn, path, after, work_all_in)
}

/// The same in a copy, where room is no matter: exposures that rest on the same are kept even where
/// all else is derived again.
pub(super) fn apply_in_copy(conn: &Connection, path: &Path, after: i64) -> Result<Applied> {
    work_in(conn, path, after, anew)
}

/// Runs whose figures cannot be derived: place, name, why.
type Misfits = Vec<(i64, String, String)>;

fn work_in(
    conn: &Connection,
    path: &Path,
    after: i64,
    all_anew: impl Fn(&Connection, &Path) -> Result<Misfits>,
) -> Result<Applied> {
    let mut pass = Pass::begin(conn, path)?;
    let before = conflicts(conn, path)?;
    let mut dirty = Dirty::default();
    let mut facts = false;
    pass.each_after(after, |pass, fresh| {
        let changes = role(fresh.placed.entry.body.kind()).changes;
        facts |= matches!(changes, Changes::Check | Changes::Sets);
        pass.link(fresh, &mut dirty)
    })?;
    if dirty.strikes {
        pass.strike(&mut dirty)?;
    }
    dirty.everything |= dirty.clock && pass.told_clock()? != pass.clock;
    let judges_otherwise = (facts || dirty.strikes) && pass.refresh_book_facts()?;
    dirty.everything |= judges_otherwise;
    let all = dirty.everything;
    let misfits = if all {
        all_anew(conn, path)?
    } else {
        pass.settle(dirty)?;
        pass.misfits.clone()
    };
    // What was derived anew has noted its own clock.
    if !all {
        pass.set_position()?;
    }
    let known: BTreeSet<_> = before.iter().map(conflict_key).collect();
    let clashes = conflicts(conn, path)?
        .iter()
        .filter(|c| !known.contains(&conflict_key(c)))
        .map(|c| clash(conn, path, c))
        .collect::<Result<_>>()?;
    // A run that is in conflict with itself did not fit before.
    let old = |run: i64| before.iter().any(|c| c.first_entry == run && c.second_entry == run);
    let misfit = misfits.into_iter().find(|m| !old(m.0)).map(|(_, entry, what)| (entry, what));
    Ok(Applied { clashes, misfit, judges_otherwise })
}

/// Throws the projections away and works all entries in anew.
pub(super) fn rebuild(conn: &Connection, path: &Path) -> Result<()> {
    work_all_in(conn, path).map(|_| ())
}

fn work_all_in(conn: &Connection, path: &Path) -> Result<Misfits> {
    migrate::lay_out_projections(conn).in_file(path)?;
    link_all(conn, path, None)
}

/// Derives everything anew from the entries of a copy; exposures that rest on the same are kept.
pub(super) fn anew(conn: &Connection, path: &Path) -> Result<Misfits> {
    let clock = clock::of(conn, path)?;
    conn.execute_batch(
        "CREATE TEMP TABLE kept_run AS SELECT * FROM main.joint_run
             WHERE run IN (SELECT position FROM main.entry);
         CREATE TEMP TABLE kept_part AS SELECT * FROM main.run_part
             WHERE run IN (SELECT position FROM main.entry);",
    )
    .in_file(path)?;
    migrate::lay_out_projections(conn).in_file(path)?;
    conn.execute_batch(
        "INSERT INTO main.joint_run SELECT * FROM temp.kept_run;
         INSERT INTO main.run_part SELECT * FROM temp.kept_part;
         DROP TABLE temp.kept_run;
         DROP TABLE temp.kept_part;",
    )
    .in_file(path)?;
    link_all(conn, path, Some(clock))
}

/// Works all entries into projections that are empty, or hold exposures of earlier that may still
/// be right; those were derived by a clock.
fn link_all(conn: &Connection, path: &Path, kept_by: Option<Clock>) -> Result<Misfits> {
    let mut pass = Pass::begin(conn, path)?;
    let mut dirty = Dirty::default();
    // Which entries count, and which joints are one, decides how the others are linked.
    pass.strike(&mut dirty)?;
    pass.go_by(pass.told_clock()?);
    if kept_by.is_some_and(|clock| clock != pass.clock) {
        // By another clock a run may have begun at another instant.
        pass.execute("DELETE FROM run_part", &[])?;
    }
    pass.strike(&mut dirty)?;
    pass.read_identities()?;
    pass.read_amendments()?;
    let mut dirty = Dirty::default();
    pass.each_after(0, |pass, fresh| pass.link(fresh, &mut dirty))?;
    pass.refresh_book_facts()?;
    pass.settle(dirty)?;
    pass.set_position()?;
    Ok(pass.misfits)
}

/// Fills the table of parts at the edges of windows; what it reads of the book it asks of `pass`.
pub(super) fn fill_windows(conn: &Connection, mut pass: Pass<'_>, cuts: &[i64]) -> Result<()> {
    let path = pass.path;
    for cut in cuts {
        let mut statement = conn
            .prepare_cached("SELECT run FROM run WHERE start < ?1 AND finish > ?1 ORDER BY run")
            .in_file(path)?;
        let rows = statement.query_map([cut], |r| r.get(0)).in_file(path)?;
        let runs: Vec<i64> = rows.collect::<rusqlite::Result<_>>().in_file(path)?;
        for run in runs {
            let placed = pass.entry(run)?;
            let model = pass.model(&placed)?;
            if !model.is_timed() {
                continue;
            }
            let parts: Vec<_> =
                model.lines().par_iter().map(|line| model.part(line, *cut)).collect();
            for part in parts {
                let part = part.map_err(|what| StoreError::Fold {
                    entry: placed.entry.id.to_string(),
                    what,
                })?;
                put_into(conn, path, "window_part", &part)?;
            }
        }
    }
    Ok(())
}

/// The next entries to be decoded at once; `None` behind the last.
fn batch(rows: &mut rusqlite::Rows<'_>, path: &Path) -> Result<Option<Vec<StoredEntry>>> {
    let (mut batch, mut bytes) = (Vec::new(), 0);
    while batch.len() < BATCH.0
        && bytes <= BATCH.1
        && let Some(row) = rows.next().in_file(path)?
    {
        let stored: StoredEntry = from_row(row).in_file(path)?;
        bytes += stored.raw.body.len();
        batch.push(stored);
    }
    Ok((!batch.is_empty()).then_some(batch))
}

/// Decodes entries side by side.
fn decode(batch: &[StoredEntry], clock: Clock, alone: bool) -> Vec<Result<Fresh>> {
    let one = |stored: &StoredEntry| -> Result<Fresh> {
        Ok(Fresh {
            placed: Placed::new(stored.position, stored.raw.read()?, clock),
            content: content::digest_of_entry(&stored.raw),
        })
    };
    // Handing a few over to other threads takes longer than decoding them.
    if alone || batch.len() < 8 {
        batch.iter().map(one).collect()
    } else {
        batch.par_iter().map(one).collect()
    }
}

fn conflict_key(c: &ConflictRow) -> (i64, i64, i64) {
    (c.joint, c.first_entry, c.second_entry)
}

fn conflicts(conn: &Connection, path: &Path) -> Result<Vec<ConflictRow>> {
    get(conn, path, "ORDER BY joint, n", &[])
}

/// A conflict as it is told: the entry that was there first comes first.
fn clash(conn: &Connection, path: &Path, c: &ConflictRow) -> Result<Clash> {
    let name = |position: i64| -> Result<String> {
        Ok(super::entries::at_position(conn, path, position)?
            .map_or_else(|| format!("position {position}"), |s| s.raw.label()))
    };
    let serial: Option<String> = conn
        .prepare_cached("SELECT serial FROM joint WHERE joint = ?1")
        .and_then(|mut s| {
            let mut rows = s.query([c.joint])?;
            rows.next()?.map(|r| r.get(0)).transpose()
        })
        .in_file(path)?;
    Ok(Clash {
        serial: serial.unwrap_or_default(),
        first: name(c.first_entry.min(c.second_entry))?,
        second: name(c.first_entry.max(c.second_entry))?,
        what: c.what.clone(),
    })
}

impl<'a> Pass<'a> {
    pub(super) fn begin(conn: &'a Connection, path: &'a Path) -> Result<Self> {
        let struck = get::<StruckRow>(conn, path, "ORDER BY entry", &[])?;
        let mut pass = Self {
            conn,
            path,
            struck: struck.into_iter().map(|s| s.entry).collect(),
            book: BookFacts::gather(&[])?,
            method: None,
            positions: BoundedCache::new(200_000),
            // Decoded, a tally is some six times its text.
            entries: BoundedCache::new(16 << 20),
            run_rows: BoundedCache::new(10_000),
            joint_facts: BoundedCache::new(20_000),
            merged: BTreeMap::new(),
            amended: BTreeMap::new(),
            split: BTreeMap::new(),
            misfits: Vec::new(),
            clock: Clock::UTC,
            alone: false,
            own_words: in_own_words(conn, path)?,
        };
        pass.clock = clock::of(conn, path)?;
        pass.read_identities()?;
        pass.read_amendments()?;
        pass.refresh_book_facts()?;
        Ok(pass)
    }

    /// From now on it hands nothing over to other threads: whoever holds a lock may not wait for
    /// threads that may wait for the lock.
    pub(super) const fn alone(mut self) -> Self {
        self.alone = true;
        self
    }

    /// Runs through the entries after a position. They are decoded in batches, side by side, while those
    /// before are seen.
    fn each_after(
        &mut self,
        after: i64,
        see: impl FnMut(&mut Self, &Fresh) -> Result<()>,
    ) -> Result<()> {
        let (conn, path) = (self.conn, self.path);
        let mut statement = conn
            .prepare(&format!("SELECT {COLUMNS} FROM entry WHERE position > ?1 ORDER BY position"))
            .in_file(path)?;
        let mut rows = statement.query([after]).in_file(path)?;
        debug_assert!(!self.alone, "entries are read ahead on another thread");
        let clock = self.clock;
        work_ahead(
            &mut (self, see),
            std::iter::from_fn(|| batch(&mut rows, path).transpose()),
            |_, batch| batch,
            |batch| decode(batch, clock, false),
            |(pass, see), _, fresh| {
                for fresh in fresh {
                    let Fresh { placed, content } = fresh?;
                    let placed = pass.as_counted(placed)?;
                    see(pass, &Fresh { placed, content })?;
                }
                Ok(())
            },
        )
    }

    /// An entry as it stands in the file, proven; that it is missing is damage, for only known places
    /// are asked for.
    fn stored(&self, position: i64) -> Result<StoredEntry> {
        let stored = super::entries::at_position(self.conn, self.path, position)?
            .ok_or_else(|| self.missing(position))?;
        if self.own_words {
            check_content(self.path, &stored)?;
        }
        Ok(stored)
    }

    /// Reads one entry.
    fn entry(&mut self, position: i64) -> Result<Placed> {
        if let Some(placed) = self.entries.get(&position) {
            return Ok(placed.clone());
        }
        let stored = self.stored(position)?;
        let placed = self.as_counted(Placed::new(position, stored.raw.read()?, self.clock))?;
        self.entries.put(position, placed.clone(), stored.raw.body.len());
        Ok(placed)
    }

    /// Reads several; those not at hand are decoded side by side.
    fn entries_at(
        &mut self,
        positions: impl IntoIterator<Item = i64>,
    ) -> Result<BTreeMap<i64, Placed>> {
        let mut out = BTreeMap::new();
        let mut wanted = BTreeSet::new();
        for position in positions {
            match self.entries.get(&position) {
                Some(placed) => {
                    out.insert(position, placed.clone());
                }
                None => {
                    wanted.insert(position);
                }
            }
        }
        let mut raw: Vec<StoredEntry> = Vec::with_capacity(wanted.len());
        for position in wanted {
            raw.push(self.stored(position)?);
        }
        for (stored, fresh) in raw.iter().zip(decode(&raw, self.clock, self.alone)) {
            let placed = self.as_counted(fresh?.placed)?;
            self.entries.put(placed.position, placed.clone(), stored.raw.body.len());
            out.insert(placed.position, placed);
        }
        Ok(out)
    }

    /// Those that stand, in canonical order.
    fn standing_at(&mut self, positions: Vec<i64>) -> Result<Vec<Placed>> {
        let mut out = Vec::with_capacity(positions.len());
        for position in positions {
            if self.stands(position) {
                out.push(self.entry(position)?);
            }
        }
        facts::sort(&mut out);
        Ok(out)
    }

    fn missing(&self, position: i64) -> StoreError {
        StoreError::Damaged {
            path: self.path.to_path_buf(),
            what: format!("entry {position}, which projections name, is missing"),
        }
    }

    /// Keeps the place of an entry at hand.
    fn know(&mut self, id: &EntryId, position: i64) {
        self.positions.put(id.clone(), position, 1);
    }

    fn position_of(&mut self, id: &EntryId) -> Result<Option<i64>> {
        if let Some(p) = self.positions.get(id) {
            return Ok(Some(*p));
        }
        let found = super::entries::position_of(self.conn, self.path, id)?;
        if let Some(p) = found {
            self.know(id, p);
        }
        Ok(found)
    }

    fn stands(&self, position: i64) -> bool {
        !self.struck.contains(&position)
    }

    /// Places of entries in a column of one table.
    fn list(&self, sql: &str, params: &[&dyn rusqlite::types::ToSql]) -> Result<Vec<i64>> {
        let mut statement = self.conn.prepare_cached(sql).in_file(self.path)?;
        let rows = statement.query_map(params, |r| r.get(0)).in_file(self.path)?;
        rows.collect::<rusqlite::Result<Vec<i64>>>().in_file(self.path)
    }

    fn execute(&self, sql: &str, params: &[&dyn rusqlite::types::ToSql]) -> Result<usize> {
        self.conn.prepare_cached(sql).and_then(|mut s| s.execute(params)).in_file(self.path)
    }

    /// Reads the facts of the whole book anew. Returns whether joints are judged otherwise now, or
    /// damage is worked out otherwise.
    fn refresh_book_facts(&mut self) -> Result<bool> {
        let places = self.list(
            "SELECT entry FROM book_fact WHERE topic IN (?1, ?2) ORDER BY entry",
            &[&Topic::Check.word(), &Topic::Adoption.word()],
        )?;
        let book = BookFacts::gather(&self.standing_at(places)?)?;
        let changed = !book.adoptions().judge_like(self.book.adoptions());
        (self.book, self.method) = (book, None);
        Ok(changed)
    }

    /// The fatigue method in force.
    fn method(&mut self) -> Result<Arc<Method>> {
        if let Some(method) = &self.method {
            return Ok(Arc::clone(method));
        }
        let method = Arc::new(self.book.adoptions().method()?);
        self.method = Some(Arc::clone(&method));
        Ok(method)
    }

    /// The clock that the entries tell.
    fn told_clock(&self) -> Result<Clock> {
        clock::told(self.conn, self.path, &self.struck)
    }

    /// Days are those of this clock; what was read by another is read again.
    fn go_by(&mut self, clock: Clock) {
        if clock != self.clock {
            self.clock = clock;
            self.entries.clear();
        }
    }

    fn set_position(&self) -> Result<()> {
        self.execute(
            "UPDATE projection_state
             SET position = (SELECT coalesce(max(position), 0) FROM entry), clock = ?1,
                 head = (SELECT hash FROM entry ORDER BY position DESC LIMIT 1)",
            &[&self.clock.to_string()],
        )?;
        Ok(())
    }

    /// Derives again what the marks name: dimensions, then exposures, then joints.
    fn settle(&mut self, mut dirty: Dirty) -> Result<()> {
        self.refresh_dimensions(&mut dirty)?;
        self.joint_facts.clear();
        self.refresh_runs(&mut dirty)?;
        self.refresh_joints(&dirty)
    }
}
