//! Run exposures: derived again where what they rest on changed, kept where it did not.

use std::collections::{BTreeMap, BTreeSet};

use rayon::prelude::*;

use super::super::carry::{get, put};
use super::super::error::{Result, StoreError};
use super::Pass;
use super::dirty::{Dirty, Which};
use crate::model::{Body, EntryId, Instant, SurveyBody, fold};
use crate::projection::exposure::{JointFacts, JointLine, RunInput, RunModel};
use crate::projection::facts::{self, Placed};
use crate::projection::joint::cuts;
use crate::projection::rows::{JointRunRow, RunPartRow};

impl Pass<'_> {
    /// Derives the marked runs again and marks the joints that this changes.
    pub(super) fn refresh_runs(&mut self, dirty: &mut Dirty) -> Result<()> {
        let runs = std::mem::take(&mut dirty.runs);
        for (run, which) in runs {
            if self.stands(run) {
                self.refresh_run(run, &which, dirty)?;
            } else {
                self.drop_run(run, dirty)?;
            }
        }
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
        Ok(())
    }

    fn refresh_run(&mut self, run: i64, which: &Which, dirty: &mut Dirty) -> Result<()> {
        let placed = self.entry(run)?;
        let model = self.model(&placed)?;
        let old: BTreeMap<i64, JointRunRow> =
            get::<JointRunRow>(self.conn, self.path, "WHERE run = ?1", &[&run])?
                .into_iter()
                .map(|r| (r.joint, r))
                .collect();
        let looked_at = |joint: i64| match which {
            Which::All => true,
            Which::Only(set) => set.contains(&joint),
        };
        if *which == Which::All {
            let lines: BTreeSet<i64> = model.lines().iter().map(|l| l.joint).collect();
            for gone in old.keys().filter(|j| !lines.contains(j)) {
                self.execute("DELETE FROM joint_run WHERE joint = ?1 AND run = ?2", &[gone, &run])?;
                self.execute("DELETE FROM run_part WHERE joint = ?1 AND run = ?2", &[gone, &run])?;
                dirty.joints.insert(*gone);
            }
            put(self.conn, self.path, model.row())?;
        }
        let stale: Vec<&JointLine> = model
            .lines()
            .iter()
            .filter(|l| looked_at(l.joint))
            .filter(|l| {
                old.get(&l.joint).is_none_or(|r| {
                    r.input_key != l.key
                        || r.finish != model.row().finish
                        || r.start != model.row().start
                })
            })
            .collect();
        let fresh: Vec<_> = stale.par_iter().map(|line| model.exposure(line)).collect();
        for row in fresh {
            let mut row = row.map_err(|what| Self::misfit(&placed, what))?;
            if let Some(before) = old.get(&row.joint) {
                (row.conflict, row.broken) = (before.conflict, before.broken);
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
        for line in model.lines().iter().filter(|l| looked_at(l.joint)) {
            self.refresh_parts(&placed, &model, line, dirty)?;
        }
        Ok(())
    }

    /// Keeps the parts of a joint's run before the instants of its entries that fall inside it.
    fn refresh_parts(
        &self,
        placed: &Placed,
        model: &RunModel,
        line: &JointLine,
        dirty: &mut Dirty,
    ) -> Result<()> {
        let (start, finish, run) = (model.row().start, model.row().finish, model.row().run);
        let wanted: BTreeSet<i64> =
            self.cuts_of(line.joint)?.into_iter().filter(|c| start < *c && *c < finish).collect();
        let old = get::<RunPartRow>(
            self.conn,
            self.path,
            "WHERE joint = ?1 AND run = ?2",
            &[&line.joint, &run],
        )?;
        for part in old.iter().filter(|p| !wanted.contains(&p.cut)) {
            self.execute(
                "DELETE FROM run_part WHERE joint = ?1 AND run = ?2 AND cut = ?3",
                &[&line.joint, &run, &part.cut],
            )?;
            dirty.joints.insert(line.joint);
        }
        for cut in wanted {
            if old.iter().any(|p| p.cut == cut && p.input_key == line.key) {
                continue;
            }
            let part = model.part(line, cut).map_err(|what| Self::misfit(placed, what))?;
            put(self.conn, self.path, &part)?;
            dirty.joints.insert(line.joint);
        }
        Ok(())
    }

    /// Instants at which the runs of a joint are cut.
    pub(super) fn cuts_of(&self, joint: i64) -> Result<Vec<i64>> {
        Ok(cuts(&self.entries_of(joint)?))
    }

    fn misfit(placed: &Placed, what: String) -> StoreError {
        StoreError::Fold { entry: placed.entry.id.to_string(), what }
    }

    /// A run with everything that its figures rest on.
    pub(super) fn model(&mut self, placed: &Placed) -> Result<RunModel> {
        let Body::Run(body) = &placed.entry.body else {
            return Err(Self::misfit(placed, "it is no run".to_owned()));
        };
        let mut positions: BTreeMap<EntryId, i64> = BTreeMap::new();
        let mut joints: BTreeMap<i64, JointFacts> = BTreeMap::new();
        for named in body.joints() {
            let Some(joint) = self.joint_of(&named.joint)? else { continue };
            positions.insert(named.joint.clone(), joint);
            if let std::collections::btree_map::Entry::Vacant(slot) = joints.entry(joint)
                && let Some(facts) = self.joint_facts(joint)?
            {
                slot.insert(facts);
            }
        }
        let survey = match &body.survey {
            Some(id) => self.position_of(id)?.filter(|p| self.stands(*p)),
            None => self.survey_of(&body.well)?,
        };
        let survey: Option<(SurveyBody, i64)> = match survey {
            Some(position) => match self.entry(position)?.entry.body {
                Body::Survey(s) => Some((s, position)),
                _ => None,
            },
            None => None,
        };
        let (from, to) = (body.start.start(placed.entry.recorded.offset_minutes), placed.at());
        let equipment_doubtful =
            body.equipment.iter().any(|tag| self.book.doubtful_within(&fold(tag), from, to));
        let input = RunInput {
            run: placed,
            survey: survey.as_ref().map(|(s, p)| (s, *p)),
            joints: &joints,
            positions: &positions,
            method: &self.method,
            equipment_doubtful,
        };
        // A fact that is right by itself is never refused for what else the book holds: figures
        // that cannot be derived are unknown, and the run is flagged.
        RunModel::new(&input).or_else(|what| {
            let model = RunModel::misfit(&input)
                .ok_or_else(|| Self::misfit(placed, "it is no run".to_owned()))?;
            self.misfits.push((placed.position, placed.entry.id.to_string(), what));
            Ok(model)
        })
    }

    /// The survey in force for a well: of those that stand the latest by effective time, then by
    /// name.
    fn survey_of(&self, well: &str) -> Result<Option<i64>> {
        let places =
            self.list("SELECT entry FROM survey WHERE well = ?1 ORDER BY at, entry", &[&well])?;
        let mut surveys = Vec::new();
        for p in places.into_iter().filter(|p| self.stands(*p)) {
            surveys.push(self.entry(p)?);
        }
        facts::sort(&mut surveys);
        Ok(surveys.last().map(|p| p.position))
    }

    /// What a run reads of a joint; `None` when the entry that introduced it does not stand.
    fn joint_facts(&self, joint: i64) -> Result<Option<JointFacts>> {
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
