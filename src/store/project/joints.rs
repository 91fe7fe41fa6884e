//! Dimensions and folds of joints.

use std::collections::BTreeMap;

use super::super::carry::{drop_of, get, put};
use super::super::error::Result;
use super::Pass;
use super::dirty::Dirty;
use crate::model::EntryId;
use crate::projection::dims;
use crate::projection::facts::{self, Placed};
use crate::projection::joint::{JointInput, JointOutput, fold};
use crate::projection::row::Row;
use crate::projection::rows::{
    ConflictRow, DecisionRow, DimensionRow, EventRow, FailureRow, FindingRow, GapRow, HireRow,
    InspectionRow, JointRow, JointRunRow, MakeupRow, MoveRow, RepairRow, RunPartRow, RunRow,
    SerialRow, SinceRow,
};

impl Pass<'_> {
    /// Standing entries that name a joint, in canonical order.
    pub(super) fn entries_of(&self, joint: i64) -> Result<Vec<Placed>> {
        let places =
            self.list("SELECT entry FROM touch WHERE joint = ?1 ORDER BY entry", &[&joint])?;
        let mut entries = Vec::with_capacity(places.len());
        for place in places.into_iter().filter(|p| self.stands(*p)) {
            entries.push(self.entry(place)?);
        }
        facts::sort(&mut entries);
        Ok(entries)
    }

    /// Works out the dimensions of the marked joints, and marks the runs that read them.
    pub(super) fn refresh_dimensions(&mut self, dirty: &mut Dirty) -> Result<()> {
        for joint in dirty.joints.clone() {
            let entries = self.entries_of(joint)?;
            let new = dims::timeline(joint, &entries);
            let old: Vec<DimensionRow> =
                get(self.conn, self.path, "WHERE joint = ?1 ORDER BY at", &[&joint])?;
            let since = first_difference(&old, &new);
            if let Some(since) = since {
                drop_of::<DimensionRow>(self.conn, self.path, "joint", joint)?;
                for row in &new {
                    put(self.conn, self.path, row)?;
                }
                self.mark_runs(joint, since, lengths(&old) != lengths(&new), dirty)?;
            }
            self.mark_cut_runs(joint, &entries, dirty)?;
        }
        Ok(())
    }

    /// Marks runs that began when the dimensions already differed.
    fn mark_runs(&self, joint: i64, since: i64, lengths: bool, dirty: &mut Dirty) -> Result<()> {
        let runs = self.list(
            "SELECT run FROM joint_run WHERE joint = ?1 AND start >= ?2 ORDER BY run",
            &[&joint, &since],
        )?;
        for run in runs {
            if lengths {
                dirty.run(run);
            } else {
                dirty.joint_in_run(joint, run);
            }
        }
        Ok(())
    }

    /// Marks runs that an entry of the joint falls into, and runs that none does any more.
    fn mark_cut_runs(&self, joint: i64, entries: &[Placed], dirty: &mut Dirty) -> Result<()> {
        for cut in crate::projection::joint::cuts(entries) {
            let runs = self.list(
                "SELECT r.run FROM joint_run r WHERE r.joint = ?1 AND r.start < ?2 AND r.finish > ?2
                 AND NOT EXISTS (SELECT 1 FROM run_part p
                                 WHERE p.joint = r.joint AND p.run = r.run AND p.cut = ?2)",
                &[&joint, &cut],
            )?;
            runs.into_iter().for_each(|r| dirty.joint_in_run(joint, r));
        }
        let parts = self
            .list("SELECT DISTINCT run FROM run_part WHERE joint = ?1 ORDER BY run", &[&joint])?;
        parts.into_iter().for_each(|r| dirty.joint_in_run(joint, r));
        Ok(())
    }

    /// Folds the marked joints and writes what changed.
    pub(super) fn refresh_joints(&mut self, dirty: &Dirty) -> Result<()> {
        for joint in &dirty.joints {
            self.refresh_joint(*joint)?;
        }
        Ok(())
    }

    fn refresh_joint(&mut self, joint: i64) -> Result<()> {
        let (output, runs) =
            self.with_input(joint, |input| (fold(input), input.runs.to_vec()))?;
        match output {
            Some(output) => self.write_joint(joint, &output, &runs),
            None => self.erase_joint(joint),
        }
    }

    /// Gathers what the fold of a joint reads, and hands it on.
    pub(super) fn with_input<T>(
        &mut self,
        joint: i64,
        work: impl FnOnce(&JointInput<'_>) -> T,
    ) -> Result<T> {
        let entries = self.entries_of(joint)?;
        let dims: Vec<DimensionRow> =
            get(self.conn, self.path, "WHERE joint = ?1 ORDER BY at", &[&joint])?;
        let runs: Vec<JointRunRow> =
            get(self.conn, self.path, "WHERE joint = ?1 ORDER BY finish, run", &[&joint])?;
        let parts: Vec<RunPartRow> =
            get(self.conn, self.path, "WHERE joint = ?1 ORDER BY run, cut", &[&joint])?;
        let mut run_rows = BTreeMap::new();
        for r in &runs {
            if let Some(row) =
                get::<RunRow>(self.conn, self.path, "WHERE run = ?1", &[&r.run])?.into_iter().next()
            {
                run_rows.insert(r.run, row);
            }
        }
        let positions = self.names_in(&entries)?;
        Ok(work(&JointInput {
            joint,
            entries: &entries,
            dims: &dims,
            runs: &runs,
            parts: &parts,
            run_rows: &run_rows,
            book: &self.book,
            positions: &positions,
        }))
    }

    /// Places of the entries that these entries name; joints as the book counts them.
    fn names_in(&mut self, entries: &[Placed]) -> Result<BTreeMap<EntryId, i64>> {
        let mut out = BTreeMap::new();
        for placed in entries {
            for named in placed.entry.body.joints() {
                if let Some(p) = self.joint_of(&named.joint)? {
                    out.insert(named.joint.clone(), p);
                }
            }
            for named in placed.entry.body.entries() {
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
            self.erase_records(joint)?;
            let r = &output.records;
            self.put_all(&r.serials)?;
            self.put_all(&r.gaps)?;
            self.put_all(&r.inspections)?;
            self.put_all(&r.findings)?;
            self.put_all(&r.repairs)?;
            self.put_all(&r.makeups)?;
            self.put_all(&r.events)?;
            self.put_all(&r.failures)?;
            self.put_all(&r.moves)?;
            self.put_all(&r.hires)?;
            self.put_all(&r.decisions)?;
            self.put_all(&r.conflicts)?;
        }
        put(self.conn, self.path, &output.joint)?;
        self.put_all(&output.since)?;
        for run in runs {
            let conflict = output.conflicted_runs.contains(&run.run);
            let broken = output.broken_runs.contains(&run.run);
            if (run.conflict, run.broken) != (conflict, broken) {
                self.execute(
                    "UPDATE joint_run SET conflict = ?1, broken = ?2
                     WHERE joint = ?3 AND finish = ?4 AND run = ?5",
                    &[&i64::from(conflict), &i64::from(broken), &joint, &run.finish, &run.run],
                )?;
            }
        }
        Ok(())
    }

    fn put_all<R: Row>(&self, rows: &[R]) -> Result<()> {
        rows.iter().try_for_each(|row| put(self.conn, self.path, row))
    }

    fn erase_records(&self, joint: i64) -> Result<()> {
        let (conn, path) = (self.conn, self.path);
        drop_of::<SerialRow>(conn, path, "joint", joint)?;
        drop_of::<GapRow>(conn, path, "joint", joint)?;
        drop_of::<InspectionRow>(conn, path, "joint", joint)?;
        drop_of::<FindingRow>(conn, path, "joint", joint)?;
        drop_of::<RepairRow>(conn, path, "joint", joint)?;
        drop_of::<MakeupRow>(conn, path, "joint", joint)?;
        drop_of::<EventRow>(conn, path, "joint", joint)?;
        drop_of::<FailureRow>(conn, path, "joint", joint)?;
        drop_of::<MoveRow>(conn, path, "joint", joint)?;
        drop_of::<HireRow>(conn, path, "joint", joint)?;
        drop_of::<DecisionRow>(conn, path, "joint", joint)?;
        drop_of::<ConflictRow>(conn, path, "joint", joint)?;
        Ok(())
    }

    fn erase_joint(&self, joint: i64) -> Result<()> {
        self.erase_records(joint)?;
        drop_of::<JointRow>(self.conn, self.path, "joint", joint)?;
        drop_of::<SinceRow>(self.conn, self.path, "joint", joint)?;
        Ok(())
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

fn lengths(rows: &[DimensionRow]) -> Vec<(i64, Option<i64>, i64)> {
    let mut out: Vec<(i64, Option<i64>, i64)> = Vec::new();
    for r in rows {
        if out.last().is_none_or(|l| (l.1, l.2) != (r.length, r.pin_removed)) {
            out.push((r.at, r.length, r.pin_removed));
        }
    }
    out
}
