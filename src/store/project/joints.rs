//! Dimensions and folds of joints: gathered in chunks, folded side by side, written one after the
//! other while the next are folded.

use std::collections::BTreeMap;
use std::sync::Arc;

use rayon::prelude::*;

use super::super::error::{Result, StoreError};
use super::super::rows::{drop_of, get, put};
use super::Pass;
use super::ahead::work_ahead;
use super::dirty::Dirty;
use crate::model::{Body, EntryId};
use crate::projection::book::BookFacts;
use crate::projection::dims;
use crate::projection::facts::{self, Placed};
use crate::projection::joint::{
    JointInput, JointOutput, JointRecords, SeeRows, UNTIMED, fold, sort_runs,
};
use crate::projection::kinds::role;
use crate::schema::{
    ConflictRow, CustodyRow, DimensionRow, JointRow, JointRunRow, JointStateRow, MoveRow, Row,
    RunPartRow, RunRow, SinceRow,
};

/// Joints gathered at once.
const CHUNK: usize = 64;

/// What depends on which of a joint's facts are in conflict, and on where its runs end.
#[derive(Debug, Default)]
pub(in crate::store) struct Seen {
    pub conflicts: Vec<ConflictRow>,
    pub runs: Vec<SeenRun>,
    pub custody: Vec<CustodyRow>,
    pub moves: Vec<MoveRow>,
}

/// A run of such a joint.
#[derive(Clone, Copy, Debug)]
pub(in crate::store) struct SeenRun {
    pub run: i64,
    /// Place among the runs that ended then.
    pub turn: i64,
    pub conflicting: bool,
}

/// What the fold of one joint reads, at hand.
struct Gathered {
    joint: i64,
    entries: Vec<Placed>,
    dims: Vec<DimensionRow>,
    runs: Vec<JointRunRow>,
    parts: Vec<RunPartRow>,
    run_rows: BTreeMap<i64, RunRow>,
    run_names: BTreeMap<i64, EntryId>,
    positions: BTreeMap<EntryId, i64>,
}

impl Gathered {
    fn input<'a>(&'a self, book: &'a BookFacts) -> JointInput<'a> {
        JointInput {
            joint: self.joint,
            entries: &self.entries,
            dims: &self.dims,
            runs: &self.runs,
            parts: &self.parts,
            run_rows: &self.run_rows,
            run_names: &self.run_names,
            book,
            positions: &self.positions,
        }
    }
}

impl Pass<'_> {
    /// Standing entries that name joints, in canonical order: what is not at hand is read first and
    /// decoded side by side.
    fn entries_of_all(&mut self, joints: &[i64]) -> Result<Vec<Vec<Placed>>> {
        let mut places = Vec::with_capacity(joints.len());
        for joint in joints {
            let touching =
                self.list("SELECT entry FROM touch WHERE joint = ?1 ORDER BY entry", &[joint])?;
            places.push(touching.into_iter().filter(|p| self.stands(*p)).collect::<Vec<_>>());
        }
        let read = self.entries_at(places.iter().flatten().copied())?;
        let missing = |p: &i64| self.missing(*p);
        let mut out = Vec::with_capacity(places.len());
        for list in &places {
            let found = list.iter().map(|p| read.get(p).cloned().ok_or_else(|| missing(p)));
            let mut entries = found.collect::<Result<Vec<_>>>()?;
            facts::sort(&mut entries);
            out.push(entries);
        }
        Ok(out)
    }

    /// Works out the dimensions of the marked joints, and marks the runs that read them.
    pub(super) fn refresh_dimensions(&mut self, dirty: &mut Dirty) -> Result<()> {
        let joints: Vec<i64> = dirty.joints.iter().copied().collect();
        let book = self.book.clone();
        // What tells the dimensions of a joint is nothing that those of another write.
        work_ahead(
            &mut (&mut *self, dirty),
            joints.chunks(CHUNK),
            |(pass, _), chunk| {
                let entries = pass.entries_of_all(chunk)?;
                Ok(chunk.iter().copied().zip(entries).collect::<Vec<(i64, Vec<Placed>)>>())
            },
            |gathered| -> Vec<Vec<DimensionRow>> {
                let timeline = |(joint, entries): &(i64, Vec<Placed>)| {
                    dims::timeline(*joint, entries, |at| book.standards_at(at))
                };
                gathered.par_iter().map(timeline).collect()
            },
            |(pass, dirty), gathered, timelines| {
                for ((joint, _), new) in gathered.iter().zip(timelines) {
                    pass.write_dimensions(*joint, &new, dirty)?;
                }
                Ok(())
            },
        )
    }

    fn write_dimensions(&self, joint: i64, new: &[DimensionRow], dirty: &mut Dirty) -> Result<()> {
        let old: Vec<DimensionRow> =
            get(self.conn, self.path, "WHERE joint = ?1 ORDER BY at", &[&joint])?;
        if let Some(since) = first_difference(&old, new) {
            if !old.is_empty() {
                drop_of::<DimensionRow>(self.conn, self.path, "joint", joint)?;
            }
            self.put_all(new)?;
            self.mark_runs(joint, since, dirty)?;
        }
        self.mark_divided_runs(joint, dirty)
    }

    /// Marks runs that were not over when the dimensions began to differ: what a joint measures may
    /// bear on all joints of the string, and a cut found during a run on the rest of that run.
    fn mark_runs(&self, joint: i64, since: i64, dirty: &mut Dirty) -> Result<()> {
        let runs = self.list(
            "SELECT run FROM joint_run WHERE joint = ?1 AND finish >= ?2 ORDER BY run",
            &[&joint, &since],
        )?;
        runs.into_iter().for_each(|r| dirty.run(r));
        Ok(())
    }

    /// Marks runs that an entry of the joint divides now, or divides no more.
    fn mark_divided_runs(&self, joint: i64, dirty: &mut Dirty) -> Result<()> {
        let stands = "NOT EXISTS (SELECT 1 FROM struck s WHERE s.entry = t.entry)";
        let lacks = |cut: &str| {
            format!(
                "EXISTS (SELECT 1 FROM touch t
                     WHERE t.joint = r.joint AND t.{cut} > r.start AND t.{cut} < r.finish AND {stands}
                     AND NOT EXISTS (SELECT 1 FROM run_part p
                                     WHERE p.joint = r.joint AND p.run = r.run AND p.cut = t.{cut}))"
            )
        };
        let divides = |cut: &str| {
            format!(
                "EXISTS (SELECT 1 FROM touch t
                     WHERE t.joint = r.joint AND t.{cut} = p.cut AND {stands})"
            )
        };
        let sql = format!(
            "SELECT r.run FROM joint_run r
             WHERE r.joint = ?1 AND (
                 r.flags & ?2 = 0 AND ({} OR {})
                 OR EXISTS (
                     SELECT 1 FROM run_part p WHERE p.joint = r.joint AND p.run = r.run
                     AND NOT {} AND NOT {}))
             ORDER BY r.run",
            lacks("cut"),
            lacks("ends"),
            divides("cut"),
            divides("ends"),
        );
        let runs = self.list(&sql, &[&joint, &UNTIMED])?;
        runs.into_iter().for_each(|r| dirty.joint_in_run(joint, r));
        Ok(())
    }

    /// Folds the marked joints and writes what changed.
    pub(super) fn refresh_joints(&mut self, dirty: &Dirty) -> Result<()> {
        let joints: Vec<i64> = dirty.joints.iter().copied().collect();
        let book = self.book.clone();
        // What a joint's fold reads no other joint's fold writes.
        work_ahead(
            self,
            joints.chunks(CHUNK),
            Self::gather,
            |gathered| -> Vec<Option<JointOutput>> {
                gathered.par_iter().map(|g| fold(&g.input(&book))).collect()
            },
            |pass, gathered, outputs| {
                for (g, output) in gathered.iter().zip(outputs) {
                    match output {
                        Some(output) => pass.write_joint(g.joint, &output, &g.runs)?,
                        None => pass.erase_joint(g.joint)?,
                    }
                }
                Ok(())
            },
        )
    }

    /// Conflicts of a joint, and what follows from them, if these were its runs.
    pub(in crate::store) fn conflicts_of(
        &mut self,
        joint: i64,
        runs: &mut [JointRunRow],
        run_rows: &BTreeMap<i64, RunRow>,
    ) -> Result<Seen> {
        let run_names = self.run_names(runs)?;
        sort_runs(runs, &run_names);
        let entries = self.entries_of_all(&[joint])?.pop().unwrap_or_default();
        let input = JointInput {
            joint,
            entries: &entries,
            dims: &[],
            runs,
            parts: &[],
            run_rows,
            run_names: &run_names,
            book: &self.book,
            positions: &BTreeMap::new(),
        };
        let Some(output) = fold(&input) else { return Ok(Seen::default()) };
        let seen = runs.iter().zip(output.run_turns).map(|(r, turn)| SeenRun {
            run: r.run,
            turn,
            conflicting: output.conflicted_runs.contains(&r.run),
        });
        Ok(Seen {
            conflicts: output.records.conflicts,
            runs: seen.collect(),
            custody: output.custody,
            moves: output.records.moves,
        })
    }

    /// Gathers what the fold of a joint reads, and hands it on.
    pub(in crate::store) fn with_input<T>(
        &mut self,
        joint: i64,
        work: impl FnOnce(&JointInput<'_>) -> Option<T>,
    ) -> Result<Option<T>> {
        let gathered = self.gather(&[joint])?;
        Ok(gathered.first().and_then(|g| work(&g.input(&self.book))))
    }

    fn gather(&mut self, joints: &[i64]) -> Result<Vec<Gathered>> {
        let entries = self.entries_of_all(joints)?;
        let mut out = Vec::with_capacity(joints.len());
        for (joint, entries) in joints.iter().copied().zip(entries) {
            let dims = get(self.conn, self.path, "WHERE joint = ?1 ORDER BY at", &[&joint])?;
            let mut runs: Vec<JointRunRow> =
                get(self.conn, self.path, "WHERE joint = ?1", &[&joint])?;
            let run_names = self.run_names(&runs)?;
            sort_runs(&mut runs, &run_names);
            let parts = get(self.conn, self.path, "WHERE joint = ?1 ORDER BY run, cut", &[&joint])?;
            let mut run_rows = BTreeMap::new();
            for r in &runs {
                if let Some(row) = self.run_row(r.run)? {
                    run_rows.insert(r.run, RunRow::clone(&row));
                }
            }
            let positions = self.names_in(&entries)?;
            out.push(Gathered {
                joint,
                entries,
                dims,
                runs,
                parts,
                run_rows,
                run_names,
                positions,
            });
        }
        Ok(out)
    }

    pub(super) fn run_row(&mut self, run: i64) -> Result<Option<Arc<RunRow>>> {
        if let Some(row) = self.run_rows.get(&run) {
            return Ok(Some(Arc::clone(row)));
        }
        let row = get::<RunRow>(self.conn, self.path, "WHERE run = ?1", &[&run])?;
        let Some(row) = row.into_iter().next().map(Arc::new) else { return Ok(None) };
        self.run_rows.put(run, Arc::clone(&row), 1);
        Ok(Some(row))
    }

    /// Names of runs that end together with another; the others need none.
    fn run_names(&mut self, runs: &[JointRunRow]) -> Result<BTreeMap<i64, EntryId>> {
        let mut out = BTreeMap::new();
        for r in runs {
            let tied = runs.iter().any(|o| o.run != r.run && o.finish == r.finish);
            if tied {
                out.insert(r.run, self.entry(r.run)?.entry.id.clone());
            }
        }
        Ok(out)
    }

    /// Places of the entries that these entries name, where the fold asks for them; joints as the
    /// book counts them.
    fn names_in(&mut self, entries: &[Placed]) -> Result<BTreeMap<EntryId, i64>> {
        let mut out = BTreeMap::new();
        for placed in entries {
            let body = &placed.entry.body;
            if !role(body.kind()).names() {
                continue;
            }
            if matches!(body, Body::Makeup(_)) {
                for named in body.joints() {
                    if let Some(p) = self.joint_of(&named.joint)? {
                        out.insert(named.joint.clone(), p);
                    }
                }
            }
            for named in body.entries() {
                if let Some(p) = self.position_of(named)? {
                    out.insert(named.clone(), p);
                }
            }
        }
        Ok(out)
    }

    fn write_joint(&self, joint: i64, output: &JointOutput, runs: &[JointRunRow]) -> Result<()> {
        let old: Option<i64> = self
            .list("SELECT records_digest FROM joint WHERE joint = ?1", &[&joint])?
            .first()
            .copied();
        if old != Some(output.joint.records_digest) {
            // A joint without its row has no records either.
            if old.is_some() {
                self.erase_records(joint)?;
            }
            output.records.each(&mut Put(self))?;
        }
        self.put_from_first_change(joint, &output.states, |s| s.at)?;
        self.put_from_first_change(joint, &output.custody, |c| c.at)?;
        put(self.conn, self.path, &output.joint)?;
        self.put_all(&output.since)?;
        for (run, turn) in runs.iter().zip(&output.run_turns) {
            let conflict = output.conflicted_runs.contains(&run.run);
            let broken = output.broken_runs.get(&run.run).copied().unwrap_or(Some(false));
            if (run.conflicting, run.restriction_broken, run.turn) != (conflict, broken, *turn) {
                self.execute(
                    "UPDATE joint_run SET conflicting = ?1, restriction_broken = ?2, turn = ?3
                     WHERE joint = ?4 AND finish = ?5 AND run = ?6",
                    &[
                        &i64::from(conflict),
                        &broken.map(i64::from),
                        turn,
                        &joint,
                        &run.finish,
                        &run.run,
                    ],
                )?;
            }
        }
        Ok(())
    }

    fn put_all<R: Row>(&self, rows: &[R]) -> Result<()> {
        rows.iter().try_for_each(|row| put(self.conn, self.path, row))
    }

    /// Writes rows of a joint that each hold from an instant on: those from the first that is new or
    /// no more.
    fn put_from_first_change<R: Row + PartialEq>(
        &self,
        joint: i64,
        new: &[R],
        at: impl Fn(&R) -> i64,
    ) -> Result<()> {
        let old: Vec<R> = get(self.conn, self.path, "WHERE joint = ?1 ORDER BY at", &[&joint])?;
        let same = old.iter().zip(new).take_while(|(a, b)| a == b).count();
        let (old, new) = (old.get(same..).unwrap_or(&[]), new.get(same..).unwrap_or(&[]));
        if let Some(first) = old.first() {
            let sql = format!("DELETE FROM \"{}\" WHERE joint = ?1 AND at >= ?2", R::TABLE);
            self.execute(&sql, &[&joint, &at(first)])?;
        }
        self.put_all(new)
    }

    fn erase_records(&self, joint: i64) -> Result<()> {
        JointRecords::default().each(&mut Erase(self, joint))
    }

    fn erase_joint(&self, joint: i64) -> Result<()> {
        self.erase_records(joint)?;
        drop_of::<JointRow>(self.conn, self.path, "joint", joint)?;
        drop_of::<SinceRow>(self.conn, self.path, "joint", joint)?;
        drop_of::<JointStateRow>(self.conn, self.path, "joint", joint)?;
        drop_of::<CustodyRow>(self.conn, self.path, "joint", joint)?;
        Ok(())
    }
}

/// Writes rows.
struct Put<'p, 'a>(&'p Pass<'a>);

impl SeeRows for Put<'_, '_> {
    type Error = StoreError;

    fn rows<R: Row>(&mut self, rows: &[R]) -> Result<()> {
        self.0.put_all(rows)
    }
}

/// Deletes the rows of a joint.
struct Erase<'p, 'a>(&'p Pass<'a>, i64);

impl SeeRows for Erase<'_, '_> {
    type Error = StoreError;

    fn rows<R: Row>(&mut self, _: &[R]) -> Result<()> {
        drop_of::<R>(self.0.conn, self.0.path, "joint", self.1).map(drop)
    }
}

/// The instant from which two timelines differ.
fn first_difference(old: &[DimensionRow], new: &[DimensionRow]) -> Option<i64> {
    let same = old.iter().zip(new).take_while(|(a, b)| a == b).count();
    let at = |rows: &[DimensionRow]| rows.get(same).map(|r| r.at);
    match (at(old), at(new)) {
        // A first row reaches back before its own instant.
        (a, b) if same == 0 => (a.is_some() || b.is_some()).then_some(i64::MIN),
        (Some(a), Some(b)) => Some(a.min(b)),
        (a, b) => a.or(b),
    }
}
