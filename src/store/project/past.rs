//! What joints and runs were, worked out beside a book that is only read: the folds get what a view
//! sees, and what they say is handed on, not written.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::Arc;

use rayon::prelude::*;
use rusqlite::Connection;

use super::super::carry::get;
use super::super::error::{InFile, Result};
use super::super::ledger::sql_list;
use super::dirty::Dirty;
use super::joints::Gathered;
use super::{Pass, Unseen, part};
use crate::model::{Body, EntryKind, Instant, Moment, ReadingKind, Work};
use crate::projection::book::BookFacts;
use crate::projection::dims;
use crate::projection::exposure::RunModel;
use crate::projection::facts::{self, Placed};
use crate::projection::joint::{JointOutput, cut, fold};
use crate::projection::kinds::{Role, kinds};
use crate::schema::{DimensionRow, JointRunRow, RunPartRow, RunRow, StruckRow};

/// A run as a view sees it.
#[derive(Debug)]
pub(in crate::store) struct PastRun {
    /// The run.
    pub row: RunRow,
    /// What its joints went through, by joint.
    pub lines: BTreeMap<i64, JointRunRow>,
    /// Parts before the instants of its joints' entries, by joint.
    pub parts: BTreeMap<i64, Vec<RunPartRow>>,
}

/// What a view leaves out and sees in other words, and what that changes.
#[derive(Debug, Default)]
pub(in crate::store) struct Past {
    /// Entries that are not seen, or in other words.
    pub unseen: Unseen,
    /// Those in other words, decoded.
    pub reworded: BTreeMap<i64, Placed>,
    /// Entries that count no more, as the view sees it.
    pub struck: Vec<StruckRow>,
    /// Joints of which the projections may say something else.
    pub joints: BTreeSet<i64>,
    /// Those of them whose serials may be others.
    pub serials: BTreeSet<i64>,
    /// Kinds of entries that are not seen, as bits of [`part`], by joint.
    pub parts: BTreeMap<i64, u8>,
    /// Runs whose exposures are derived again.
    pub runs: BTreeSet<i64>,
    /// Facts of the whole book; as they are where the view changes none.
    book: Option<BookFacts>,
    /// The instant from which on nothing is seen, when that is all that is not seen.
    pub until: Option<i64>,
}

impl Past {
    /// Without entries that the ledger does not hold any more.
    pub(super) fn without(gone: BTreeSet<i64>) -> Self {
        Self { unseen: Unseen { gone, reworded: BTreeMap::new() }, ..Self::default() }
    }

    /// What a view changes in a book; the entries back when they cannot be taken out each by itself.
    ///
    /// `known_to` is the last place that is known, `horizon` the instant from which on nothing is
    /// seen.
    pub(in crate::store) fn of(
        conn: &Connection,
        path: &Path,
        unseen: Unseen,
        known_to: Option<i64>,
        horizon: Option<Instant>,
    ) -> Result<std::result::Result<Self, Unseen>> {
        let mut pass = Pass::begin(conn, path)?;
        let mut dirty = Dirty::default();
        if !pass.can_take_back(&unseen, &mut dirty)? || pass.reaches_back(&unseen, known_to)? {
            return Ok(Err(unseen));
        }
        let mut past = Self { unseen, ..Self::default() };
        for (position, raw) in &past.unseen.reworded {
            past.reworded.insert(*position, Placed::new(*position, raw.read()?));
        }
        let past = pass.look(Arc::new(past));
        // Which entries count decides about all joints that they name.
        let old = std::mem::take(&mut pass.struck);
        let struck = pass.standing()?;
        let stays = |p: &&i64| !past.unseen.gone.contains(*p);
        if !old.iter().filter(stays).eq(struck.keys()) {
            let unseen =
                Unseen { gone: past.unseen.gone.clone(), reworded: past.unseen.reworded.clone() };
            return Ok(Err(unseen));
        }
        pass.struck = struck.keys().copied().collect();
        pass.read_identities()?;
        if pass.refresh_book_facts()? {
            let unseen =
                Unseen { gone: past.unseen.gone.clone(), reworded: past.unseen.reworded.clone() };
            return Ok(Err(unseen));
        }
        let book = Some(pass.book.clone());
        let runs: BTreeSet<i64> =
            dirty.runs.keys().copied().filter(|run| pass.stands(*run)).collect();
        let mut joints = dirty.joints;
        for run in &runs {
            joints.extend(pass.list("SELECT joint FROM joint_run WHERE run = ?1", &[run])?);
            let placed = pass.entry(*run)?;
            for named in placed.entry.body.joints() {
                joints.extend(pass.joint_of(&named.joint)?);
            }
        }
        drop(pass);
        let past = Arc::try_unwrap(past).unwrap_or_default();
        Ok(Ok(Self {
            struck: struck.into_values().collect(),
            joints,
            serials: dirty
                .parts
                .iter()
                .filter(|(_, parts)| **parts & part::NAME != 0)
                .map(|(joint, _)| *joint)
                .collect(),
            parts: dirty.parts,
            runs,
            book,
            until: horizon.filter(|_| known_to.is_none()).map(|h| h.0),
            ..past
        }))
    }

    /// Whether a work of an instant made a reading hold no longer.
    pub(in crate::store) fn voids(&self, work: Work, what: ReadingKind, at: Instant) -> bool {
        self.book.as_ref().is_none_or(|book| book.works_at(at).voids(work, what))
    }

    /// Nothing is left out.
    pub(in crate::store) fn is_present(&self) -> bool {
        self.unseen.gone.is_empty() && self.unseen.reworded.is_empty()
    }
}

impl<'a> Pass<'a> {
    /// One who works out what was, and writes nothing.
    pub(in crate::store) fn past(
        conn: &'a Connection,
        path: &'a Path,
        past: &Arc<Past>,
    ) -> Result<Self> {
        let mut pass = Self::begin(conn, path)?;
        pass.look(Arc::clone(past));
        pass.struck = past.struck.iter().map(|s| s.entry).collect();
        pass.read_identities()?;
        if let Some(book) = &past.book {
            pass.book = book.clone();
        }
        Ok(pass)
    }

    /// From now on the book is read as a view sees it.
    fn look(&mut self, past: Arc<Past>) -> Arc<Past> {
        self.positions.clear();
        self.entries.clear();
        self.joint_facts.clear();
        self.past = Some(Arc::clone(&past));
        past
    }

    /// Whether an entry that was not known yet changed the dimensions with which a known run began.
    fn reaches_back(&self, unseen: &Unseen, known_to: Option<i64>) -> Result<bool> {
        let Some(known_to) = known_to else { return Ok(false) };
        let path = self.path;
        let sizes = sql_list(kinds(Role::sizes));
        let mut read = self
            .conn
            .prepare_cached(&format!(
                "SELECT effective, recorded_offset FROM entry
                 WHERE position = ?1 AND kind IN ({sizes})"
            ))
            .in_file(path)?;
        for position in unseen.gone.range(known_to + 1..) {
            let mut rows = read.query([position]).in_file(path)?;
            let Some(row) = rows.next().in_file(path)? else { continue };
            let text: String = row.get(0).in_file(path)?;
            let Ok(moment) = text.parse::<Moment>() else { return Ok(true) };
            let at = moment.start(row.get(1).in_file(path)?).0;
            for joint in self.touched(*position)? {
                // Its first dimensions reach back before they were taken.
                let entered = self.list("SELECT entered FROM joint WHERE joint = ?1", &[&joint])?;
                let since = if entered.iter().any(|e| *e < at) { at } else { i64::MIN };
                let later = self.list(
                    "SELECT run FROM joint_run WHERE joint = ?1 AND finish >= ?2 AND start >= ?2",
                    &[&joint, &since],
                )?;
                if !later.iter().all(|run| unseen.gone.contains(run)) {
                    return Ok(true);
                }
            }
        }
        Ok(false)
    }

    /// Dimensions of a joint as a view sees them.
    pub(super) fn dims_of(&mut self, joint: i64) -> Result<Vec<DimensionRow>> {
        let stored = "WHERE joint = ?1 ORDER BY at";
        let Some(past) = self.past.clone().filter(|p| p.joints.contains(&joint)) else {
            return get(self.conn, self.path, stored, &[&joint]);
        };
        let Some(until) = past.until else {
            let entries = self.seen_entries(joint, true)?;
            return Ok(dims::timeline(joint, &entries, |at| self.book.works_at(at)));
        };
        // What is read on a joint changes its dimensions from then on, never before.
        let mut rows: Vec<DimensionRow> = get(self.conn, self.path, stored, &[&joint])?;
        rows.retain(|r| r.at < until);
        Ok(rows)
    }

    /// Standing entries that name a joint, in canonical order; without make-ups, which tell nothing
    /// without runs, where runs are not asked for.
    fn seen_entries(&mut self, joint: i64, runs: bool) -> Result<Vec<Placed>> {
        let mut out = Vec::new();
        for position in self.list("SELECT entry FROM touch WHERE joint = ?1", &[&joint])? {
            if self.stands(position)
                && let Some(placed) = self.seen_entry(position, runs)?
            {
                out.push(placed);
            }
        }
        facts::sort(&mut out);
        Ok(out)
    }

    fn seen_entry(&mut self, position: i64, makeups: bool) -> Result<Option<Placed>> {
        if self.reworded(position).is_some() || self.entries.get(&position).is_some() {
            return self.entry(position).map(Some);
        }
        let stored = super::super::ledger::at_position(self.conn, self.path, position)?
            .ok_or_else(|| self.missing(position))?;
        if !makeups && stored.raw.kind == EntryKind::Makeup.word() {
            return Ok(None);
        }
        let placed = self.as_counted(Placed::new(position, stored.raw.read()?))?;
        // What names one joint is read once.
        if !matches!(placed.entry.body, Body::Joint(_) | Body::Inspection(_) | Body::Repair(_)) {
            self.entries.put(position, placed.clone(), stored.raw.body.len());
        }
        Ok(Some(placed))
    }

    /// A run as a view sees it: all its joints, or one.
    pub(in crate::store) fn past_run(&mut self, run: i64, only: Option<i64>) -> Result<PastRun> {
        let placed = self.entry(run)?;
        let model = self.model(&placed)?;
        let old: Vec<JointRunRow> = get(self.conn, self.path, "WHERE run = ?1", &[&run])?;
        let old: BTreeMap<i64, JointRunRow> = old.into_iter().map(|r| (r.joint, r)).collect();
        let (start, finish) = (model.row().start, model.row().finish);
        let mut lines = BTreeMap::new();
        let mut stale = Vec::new();
        let looked_at = |joint: i64| only.is_none_or(|o| o == joint);
        for line in model.lines().iter().filter(|l| looked_at(l.joint)) {
            let same = |r: &&JointRunRow| {
                r.input_key == line.key && r.start == start && r.finish == finish
            };
            match old.get(&line.joint).filter(same) {
                Some(row) => drop(lines.insert(line.joint, row.clone())),
                None => stale.push(line),
            }
        }
        let misfit = |what| Self::misfit(&placed, what);
        let fresh: Vec<_> = stale.par_iter().map(|line| model.exposure(line)).collect();
        for row in fresh {
            let mut row = row.map_err(misfit)?;
            if let Some(before) = old.get(&row.joint) {
                (row.conflicting, row.restriction_broken) =
                    (before.conflicting, before.restriction_broken);
            }
            lines.insert(row.joint, row);
        }
        let parts = self.past_parts(&model, &lines, only)?;
        let parts = parts.into_iter().map(|p| p.map_err(misfit));
        let mut by_joint: BTreeMap<i64, Vec<RunPartRow>> = BTreeMap::new();
        for part in parts {
            let part = part?;
            by_joint.entry(part.joint).or_default().push(part);
        }
        Ok(PastRun { row: model.row().clone(), lines, parts: by_joint })
    }

    /// Parts of a run before the instants of its joints' entries that fall inside it.
    fn past_parts(
        &self,
        model: &RunModel,
        lines: &BTreeMap<i64, JointRunRow>,
        only: Option<i64>,
    ) -> Result<Vec<std::result::Result<RunPartRow, String>>> {
        let run = model.row().run;
        let old: Vec<RunPartRow> = get(self.conn, self.path, "WHERE run = ?1", &[&run])?;
        let old: BTreeMap<(i64, i64), RunPartRow> =
            old.into_iter().map(|p| ((p.joint, p.cut), p)).collect();
        let mut out = Vec::new();
        let mut stale = Vec::new();
        for line in model.lines().iter().filter(|l| only.is_none_or(|o| o == l.joint)) {
            let Some(row) = lines.get(&line.joint) else { continue };
            for instant in self.cuts_of(line.joint, row.start, row.finish)? {
                match old.get(&(line.joint, instant)).filter(|p| p.input_key == line.key) {
                    Some(part) => out.push(Ok(part.clone())),
                    None => stale.push((line, instant)),
                }
            }
        }
        out.par_extend(stale.par_iter().map(|(line, instant)| model.part(line, *instant)));
        Ok(out)
    }

    /// Instants between two others at which a standing entry divides the runs of a joint.
    fn cuts_of(&self, joint: i64, from: i64, to: i64) -> Result<BTreeSet<i64>> {
        let mut statement = self
            .conn
            .prepare_cached(
                "SELECT cut, entry FROM touch WHERE joint = ?1 AND cut > ?2 AND cut < ?3",
            )
            .in_file(self.path)?;
        let mut rows = statement.query([joint, from, to]).in_file(self.path)?;
        let mut out = BTreeSet::new();
        while let Some(row) = rows.next().in_file(self.path)? {
            if self.stands(row.get(1).in_file(self.path)?) {
                out.insert(row.get(0).in_file(self.path)?);
            }
        }
        Ok(out)
    }

    /// What the fold of a joint reads in a view; without runs where `lived` is absent.
    pub(super) fn gather_past(&mut self, joint: i64, lived: Option<&Lived>) -> Result<Gathered> {
        let entries = self.seen_entries(joint, lived.is_some())?;
        let dims = dims::timeline(joint, &entries, |at| self.book.works_at(at));
        let Some(lived) = lived else {
            let positions = self.names_in(&entries)?;
            return Ok(Gathered { joint, entries, dims, positions, ..Gathered::default() });
        };
        let is_kept = |run: i64| !lived.runs.contains_key(&run) && self.stands(run);
        let own = "WHERE joint = ?1 ORDER BY finish, run";
        let mut runs: Vec<JointRunRow> = get(self.conn, self.path, own, &[&joint])?;
        runs.retain(|r| is_kept(r.run));
        let own = "WHERE joint = ?1 ORDER BY run, cut";
        let mut parts: Vec<RunPartRow> = get(self.conn, self.path, own, &[&joint])?;
        if !parts.is_empty() {
            let cuts: BTreeSet<i64> = entries.iter().filter_map(cut).collect();
            parts.retain(|p| is_kept(p.run) && cuts.contains(&p.cut));
        }
        if let Some(again) = lived.by_joint.get(&joint) {
            for run in again.iter().filter_map(|run| lived.runs.get(run)) {
                runs.extend(run.lines.get(&joint).cloned());
                parts.extend(run.parts.get(&joint).into_iter().flatten().cloned());
            }
            runs.sort_by_key(|r| (r.finish, r.run));
            parts.sort_by_key(|p| (p.run, p.cut));
        }
        let told = entries.iter().any(|p| matches!(p.entry.body, Body::Failure(_)));
        let run_rows = match &lived.rows {
            // A failure is told by the runs of its own joint.
            Some(rows) if !told => Arc::clone(rows),
            _ => {
                let mut own = BTreeMap::new();
                for r in &runs {
                    let row = match lived.runs.get(&r.run) {
                        Some(run) => Some(run.row.clone()),
                        None => self.run_row(r.run)?.map(|row| RunRow::clone(&row)),
                    };
                    own.extend(row.map(|row| (r.run, row)));
                }
                Arc::new(own)
            }
        };
        let run_names = self.run_names(&runs)?;
        let positions = self.names_in(&entries)?;
        Ok(Gathered { joint, entries, dims, runs, parts, run_rows, run_names, positions })
    }

    /// Folds a joint as a view sees it.
    pub(in crate::store) fn fold_past(
        &mut self,
        joint: i64,
        lived: Option<&Lived>,
    ) -> Result<PastFold> {
        let gathered = self.gather_past(joint, lived)?;
        let output = fold(&gathered.input(&self.book));
        let Gathered { runs, parts, dims, .. } = gathered;
        Ok(PastFold { output, runs, parts, dims })
    }
}

/// What the fold of a joint said, and what it read.
#[derive(Debug)]
pub(in crate::store) struct PastFold {
    /// `None` for a joint that is not seen.
    pub output: Option<JointOutput>,
    /// Its runs.
    pub runs: Vec<JointRunRow>,
    /// Parts of them.
    pub parts: Vec<RunPartRow>,
    /// Its dimensions.
    pub dims: Vec<DimensionRow>,
}

/// What joints lived through, as a view sees it.
#[derive(Debug, Default)]
pub(in crate::store) struct Lived {
    /// Runs that were derived again.
    pub runs: BTreeMap<i64, PastRun>,
    /// Those of each joint.
    by_joint: BTreeMap<i64, Vec<i64>>,
    /// All runs, where they were read.
    rows: Option<Arc<BTreeMap<i64, RunRow>>>,
}

impl Lived {
    /// What all joints lived through, with the runs that were derived again.
    pub(in crate::store) fn all(
        pass: &Pass<'_>,
        again: impl IntoIterator<Item = PastRun>,
    ) -> Result<Self> {
        let mut out = Self::default();
        let mut rows = BTreeMap::new();
        for row in get::<RunRow>(pass.conn, pass.path, "", &[])? {
            if pass.stands(row.run) {
                rows.insert(row.run, row);
            }
        }
        for run in again {
            rows.insert(run.row.run, run.row.clone());
            out.add(run);
        }
        out.rows = Some(Arc::new(rows));
        Ok(out)
    }

    /// Derives again what some joints need: of one, its own part alone.
    pub(in crate::store) fn of_joints(
        pass: &mut Pass<'_>,
        past: &Past,
        joints: &[i64],
    ) -> Result<Self> {
        let mut out = Self::default();
        if past.runs.is_empty() {
            return Ok(out);
        }
        let only = if let [joint] = joints { Some(*joint) } else { None };
        for joint in joints {
            for run in pass.list("SELECT run FROM joint_run WHERE joint = ?1", &[joint])? {
                if past.runs.contains(&run) && !out.runs.contains_key(&run) {
                    out.add(pass.past_run(run, only)?);
                }
            }
        }
        Ok(out)
    }

    /// What a joint went through in the runs that were derived again.
    pub(in crate::store) fn lines_of(&self, joint: i64) -> impl Iterator<Item = &JointRunRow> {
        let runs = self.by_joint.get(&joint).into_iter().flatten();
        runs.filter_map(move |run| self.runs.get(run)?.lines.get(&joint))
    }

    fn add(&mut self, run: PastRun) {
        for joint in run.lines.keys() {
            self.by_joint.entry(*joint).or_default().push(run.row.run);
        }
        self.runs.insert(run.row.run, run);
    }
}
