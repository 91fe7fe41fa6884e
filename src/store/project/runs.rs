//! Run exposures: derived again where what they rest on changed, kept where it did not.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use rayon::prelude::*;

use super::super::error::{InFile, Result, StoreError};
use super::super::rows::{get, put};
use super::Pass;
use super::ahead::work_ahead;
use super::dirty::{Dirty, Which};
use crate::model::{Body, EntryId, Instant, SurveyBody, fold};
use crate::projection::exposure::{JointFacts, JointLine, RunInput, RunModel};
use crate::projection::facts::Placed;
use crate::schema::query::collation;
use crate::schema::{JointRunRow, RunPartRow};

/// Runs worked on at once: while the hole of one is tabulated by one thread, another thread has a run too.
const TOGETHER: usize = 4;

/// A run with everything that its exposures rest on.
struct Prepared {
    placed: Placed,
    model: RunModel,
    /// Its exposures as they were.
    old: BTreeMap<i64, JointRunRow>,
    /// Places of the lines that are looked at.
    lines: Vec<usize>,
    /// Those whose exposures are to be derived again.
    stale: Vec<usize>,
}

impl Prepared {
    /// The exposures derived again, or why one cannot be.
    fn fresh(&self) -> Vec<Result<JointRunRow>> {
        let lines = self.model.lines();
        let misfit = |what| Pass::misfit(&self.placed, what);
        self.stale.par_iter().map(|at| self.model.exposure(&lines[*at]).map_err(misfit)).collect()
    }
}

impl Pass<'_> {
    /// Derives the marked runs again and marks the joints that this changes.
    pub(super) fn refresh_runs(&mut self, dirty: &mut Dirty) -> Result<()> {
        let mut runs: Vec<_> = std::mem::take(&mut dirty.runs).into_iter().collect();
        // In order of time the runs of a large fleet would touch all its pages again and again.
        runs.sort_by_key(|(run, _)| (dirty.near.get(run).copied().unwrap_or(0), *run));
        // No run reads what another one writes.
        work_ahead(
            &mut (&mut *self, dirty),
            runs.chunks(TOGETHER),
            |(pass, dirty), runs| {
                let mut prepared = Vec::with_capacity(runs.len());
                for (run, which) in runs {
                    if pass.stands(*run) {
                        prepared.push(pass.prepare_run(*run, which, dirty)?);
                    } else {
                        pass.drop_run(*run, dirty)?;
                    }
                }
                Ok(prepared)
            },
            |prepared| prepared.par_iter().map(Prepared::fresh).collect::<Vec<_>>(),
            |(pass, dirty), prepared, fresh| {
                let mut each = prepared.iter().zip(fresh);
                each.try_for_each(|(prepared, fresh)| pass.write_run(prepared, fresh, dirty))
            },
        )?;
        self.misfits.sort();
        Ok(())
    }

    fn drop_run(&mut self, run: i64, dirty: &mut Dirty) -> Result<()> {
        let joints =
            self.list("SELECT joint FROM joint_run WHERE run = ?1 ORDER BY joint", &[&run])?;
        dirty.joints.extend(joints);
        for sql in [
            "DELETE FROM joint_run WHERE run = ?1",
            "DELETE FROM run_part WHERE run = ?1",
            "DELETE FROM run WHERE run = ?1",
        ] {
            self.execute(sql, &[&run])?;
        }
        self.run_rows.forget(&run);
        Ok(())
    }

    /// Reads what the exposures of a run rest on, and finds those that are to be derived again.
    fn prepare_run(&mut self, run: i64, which: &Which, dirty: &mut Dirty) -> Result<Prepared> {
        let placed = self.entry(run)?;
        let model = self.model(&placed)?;
        let old: BTreeMap<i64, JointRunRow> =
            get::<JointRunRow>(self.conn, self.path, "WHERE run = ?1", &[&run])?
                .into_iter()
                .map(|r| (r.joint, r))
                .collect();
        if *which == Which::All {
            let lines: BTreeSet<i64> = model.lines().iter().map(|l| l.joint).collect();
            for gone in old.keys().filter(|j| !lines.contains(j)) {
                self.execute("DELETE FROM joint_run WHERE joint = ?1 AND run = ?2", &[gone, &run])?;
                self.execute("DELETE FROM run_part WHERE joint = ?1 AND run = ?2", &[gone, &run])?;
                dirty.joints.insert(*gone);
            }
            let known = self.run_row(run)?;
            if known.as_deref() != Some(model.row()) {
                // The folds of its joints read it too.
                if known.is_some() {
                    dirty.joints.extend(old.keys());
                }
                put(self.conn, self.path, model.row())?;
                self.run_rows.forget(&run);
            }
        }
        let looked_at = |line: &JointLine| match which {
            Which::All => true,
            Which::Only(set) => set.contains(&line.joint),
        };
        let is_stale = |line: &JointLine| {
            old.get(&line.joint).is_none_or(|r| {
                r.input_key != line.key
                    || r.finish != model.row().finish
                    || r.start != model.row().start
            })
        };
        let lines = model.lines().iter().enumerate();
        let lines: Vec<usize> = lines.filter(|(_, l)| looked_at(l)).map(|(at, _)| at).collect();
        let stale = lines.iter().copied().filter(|at| is_stale(&model.lines()[*at])).collect();
        Ok(Prepared { placed, model, old, lines, stale })
    }

    /// Writes the exposures of a run that were derived again, and the parts of it.
    fn write_run(
        &self,
        prepared: &Prepared,
        fresh: Vec<Result<JointRunRow>>,
        dirty: &mut Dirty,
    ) -> Result<()> {
        let Prepared { placed, model, old, lines, .. } = prepared;
        let run = model.row().run;
        for row in fresh {
            let mut row = row?;
            if let Some(before) = old.get(&row.joint) {
                (row.conflicting, row.restriction_broken, row.turn) =
                    (before.conflicting, before.restriction_broken, before.turn);
                if before.finish != row.finish {
                    self.execute(
                        "DELETE FROM joint_run WHERE joint = ?1 AND run = ?2",
                        &[&row.joint, &run],
                    )?;
                }
            }
            put(self.conn, self.path, &row)?;
            dirty.joints.insert(row.joint);
        }
        let lines: Vec<&JointLine> = lines.iter().map(|at| &model.lines()[*at]).collect();
        self.refresh_parts(placed, model, &lines, dirty)
    }

    /// Keeps the parts of a run before the instants of its joints' entries that fall inside it.
    fn refresh_parts(
        &self,
        placed: &Placed,
        model: &RunModel,
        lines: &[&JointLine],
        dirty: &mut Dirty,
    ) -> Result<()> {
        let run = model.row().run;
        let mut old: BTreeMap<i64, Vec<RunPartRow>> = BTreeMap::new();
        for part in get::<RunPartRow>(self.conn, self.path, "WHERE run = ?1", &[&run])? {
            old.entry(part.joint).or_default().push(part);
        }
        let wanted = if model.is_timed() { self.cuts_in(run)? } else { BTreeMap::new() };
        let mut stale: Vec<(&JointLine, i64)> = Vec::new();
        for line in lines {
            let old = old.get(&line.joint).map_or(&[][..], Vec::as_slice);
            let wanted = wanted.get(&line.joint).map_or(&[][..], Vec::as_slice);
            for part in old.iter().filter(|p| !wanted.contains(&p.cut)) {
                self.execute(
                    "DELETE FROM run_part WHERE joint = ?1 AND run = ?2 AND cut = ?3",
                    &[&line.joint, &run, &part.cut],
                )?;
                dirty.joints.insert(line.joint);
            }
            let kept = |cut: i64| old.iter().any(|p| p.cut == cut && p.input_key == line.key);
            stale.extend(wanted.iter().filter(|c| !kept(**c)).map(|c| (*line, *c)));
        }
        let fresh: Vec<_> = stale.par_iter().map(|(line, cut)| model.part(line, *cut)).collect();
        for part in fresh {
            let part = part.map_err(|what| Self::misfit(placed, what))?;
            put(self.conn, self.path, &part)?;
            dirty.joints.insert(part.joint);
        }
        Ok(())
    }

    /// Instants that divide a run, by joint.
    pub(in crate::store) fn cuts_in(&self, run: i64) -> Result<BTreeMap<i64, Vec<i64>>> {
        let mut statement = self
            .conn
            .prepare_cached(
                "SELECT r.joint, t.cut FROM joint_run r
                 JOIN touch t ON t.joint = r.joint AND t.cut > r.start AND t.cut < r.finish
                 WHERE r.run = ?1 AND NOT EXISTS (SELECT 1 FROM struck s WHERE s.entry = t.entry)
                 UNION
                 SELECT r.joint, t.ends FROM joint_run r
                 JOIN touch t ON t.joint = r.joint AND t.ends > r.start AND t.ends < r.finish
                 WHERE r.run = ?1 AND NOT EXISTS (SELECT 1 FROM struck s WHERE s.entry = t.entry)
                 ORDER BY 1, 2",
            )
            .in_file(self.path)?;
        let mut rows = statement.query([run]).in_file(self.path)?;
        let mut out: BTreeMap<i64, Vec<i64>> = BTreeMap::new();
        while let Some(row) = rows.next().in_file(self.path)? {
            let (joint, cut) = (row.get(0).in_file(self.path)?, row.get(1).in_file(self.path)?);
            out.entry(joint).or_default().push(cut);
        }
        Ok(out)
    }

    pub(in crate::store) fn misfit(placed: &Placed, what: String) -> StoreError {
        StoreError::Fold { entry: placed.entry.id.to_string(), what }
    }

    /// A run with everything that its figures rest on.
    pub(in crate::store) fn model(&mut self, placed: &Placed) -> Result<RunModel> {
        self.model_in(placed, None)
    }

    /// The same in a hole that is given; in that of the book where none is.
    pub(super) fn model_in(
        &mut self,
        placed: &Placed,
        hole: Option<&SurveyBody>,
    ) -> Result<RunModel> {
        let Body::Run(body) = &placed.entry.body else {
            return Err(Self::misfit(placed, "it is no run".to_owned()));
        };
        let mut positions: BTreeMap<EntryId, i64> = BTreeMap::new();
        let mut joints: BTreeMap<i64, JointFacts> = BTreeMap::new();
        for named in body.joints() {
            let Some(joint) = self.joint_of(&named.joint)? else { continue };
            positions.insert(named.joint.clone(), joint);
            if let std::collections::btree_map::Entry::Vacant(slot) = joints.entry(joint)
                && let Some(facts) = self.facts_of(joint)?
            {
                slot.insert(JointFacts::clone(&facts));
            }
        }
        let survey = match &body.survey {
            Some(id) => self.position_of(id)?.filter(|p| self.stands(*p)),
            None => self.survey_of(&body.well)?,
        };
        let survey = survey.map(|position| self.entry(position)).transpose()?;
        let survey: Option<(&SurveyBody, i64)> = survey.as_ref().and_then(|placed| {
            let Body::Survey(s) = &placed.entry.body else { return None };
            Some((s, placed.position))
        });
        // It is no entry, and has no place.
        let survey = hole.map(|hole| (hole, 0)).or(survey);
        let (from, to) = (placed.began(), placed.at());
        let equipment_doubtful =
            body.equipment.iter().any(|tag| self.book.doubtful_within(&fold(tag), from, to));
        let method = self.method()?;
        let input = RunInput {
            run: placed,
            survey,
            joints: &joints,
            positions: &positions,
            method: &method,
            equipment_doubtful,
        };
        // A fact that is right by itself is never refused for what else the book holds: figures
        // that cannot be derived are unknown, and the run is flagged.
        RunModel::new(&input).or_else(|what| {
            let model = RunModel::misfit(&input, &what)
                .ok_or_else(|| Self::misfit(placed, "it is no run".to_owned()))?;
            self.misfits.push((placed.position, placed.entry.id.to_string(), what));
            Ok(model)
        })
    }

    /// Runs of a well.
    pub(super) fn runs_of(&self, well: &str) -> Result<Vec<i64>> {
        let alike = collation(well);
        self.list(
            &format!("SELECT run FROM run WHERE well = ?1 COLLATE {alike} ORDER BY run"),
            &[&well],
        )
    }

    /// The survey in force for a well: of those that stand the latest by effective time, then by
    /// name.
    fn survey_of(&mut self, well: &str) -> Result<Option<i64>> {
        let alike = collation(well);
        let places = self.list(
            &format!("SELECT entry FROM survey WHERE well = ?1 COLLATE {alike} ORDER BY at, entry"),
            &[&well],
        )?;
        let surveys = self.standing_at(places)?;
        Ok(surveys.last().map(|p| p.position))
    }

    /// What a run reads of a joint; `None` when the entry that introduced it does not stand.
    fn facts_of(&mut self, joint: i64) -> Result<Option<Arc<JointFacts>>> {
        if let Some(facts) = self.joint_facts.get(&joint) {
            return Ok(facts.clone());
        }
        let facts = self.read_facts(joint)?.map(Arc::new);
        self.joint_facts.put(joint, facts.clone(), 1);
        Ok(facts)
    }

    fn read_facts(&mut self, joint: i64) -> Result<Option<JointFacts>> {
        if !self.stands(joint) {
            return Ok(None);
        }
        let placed = self.entry(joint)?;
        let Body::Joint(body) = &placed.entry.body else { return Ok(None) };
        let dims = get(self.conn, self.path, "WHERE joint = ?1 ORDER BY at", &[&joint])?;
        Ok(Some(JointFacts::of(body, dims)))
    }
}

impl crate::projection::book::BookFacts {
    /// Whether a piece of equipment was in doubt at any time of a run.
    fn doubtful_within(&self, tag: &str, from: Instant, to: Instant) -> bool {
        self.doubtful(tag, from) || self.doubtful(tag, to)
    }
}
