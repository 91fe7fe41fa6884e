//! Runs that were under way, as far as they had come: figures of the run and of its joints, derived as
//! those of any run from its words cut at the date.

use std::collections::BTreeMap;
use std::sync::{Arc, PoisonError};

use rusqlite::Connection;

use super::view::{AsOf, PartRun, reader};
use crate::ledger::RawEntry;
use crate::model::{Entry, Instant};
use crate::projection::facts::Placed;
use crate::projection::horizon::words_at;
use crate::projection::joint::breaks;
use crate::schema::Value;
use crate::store::amended::counted;
use crate::store::entries::{as_stored, read_at};
use crate::store::error::{InFile, Result, StoreError};
use crate::store::project::Pass;

impl AsOf {
    /// A run that was under way.
    pub(super) fn part_run(&self, run: i64) -> Result<Arc<PartRun>> {
        let one = || self.cut_run(&mut self.source(), run);
        let all = || {
            let begin = || reader(&self.path);
            self.side_by_side(
                (&self.sight.under_way, 1),
                &mut *self.source(),
                begin,
                |conn, run| self.cut_run(conn, run),
            )
        };
        self.under_way.runs.get(run, one, all)
    }

    /// A column of a run that was under way.
    pub(super) fn run_column(&self, run: i64, column: &str) -> Result<Value> {
        self.own_column(&self.part_run(run)?.row, column)
    }

    /// A column of what a joint went through in it.
    pub(super) fn joint_run_column(&self, joint: i64, run: i64, column: &str) -> Result<Value> {
        match self.part_run(run)?.lines.get(&joint) {
            Some(line) => self.own_column(line, column),
            None => Ok(Value::Null),
        }
    }

    /// A column of a part of that.
    pub(super) fn part_column(
        &self,
        joint: i64,
        run: i64,
        cut: i64,
        column: &str,
    ) -> Result<Value> {
        match self.part_run(run)?.parts.get(&(joint, cut)) {
            Some(part) => self.own_column(part, column),
            None => Ok(Value::Null),
        }
    }

    /// A column of the entry of a run that was under way.
    pub(super) fn words_column(&self, position: i64, column: &str) -> Result<Value> {
        let words = self.words(position)?;
        Ok(Value::Text(if column == "body" { words.body.clone() } else { words.effective.clone() }))
    }

    /// The words of a run that was under way, as the ledger would hold them.
    fn words(&self, position: i64) -> Result<Arc<RawEntry>> {
        let one = || {
            let entry = self.cut_entry(&self.source(), position)?;
            Ok(Arc::new(as_stored(&entry)?))
        };
        self.under_way.words.get(position, one, || Ok(Vec::new()))
    }

    fn source(&self) -> std::sync::MutexGuard<'_, Connection> {
        self.under_way.source.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn cut_entry(&self, conn: &Connection, position: i64) -> Result<Entry> {
        let entry = read_at(conn, &self.path, position)?
            .ok_or_else(|| StoreError::NoEntry(format!("at position {position}")))?;
        let entry = counted(conn, &self.path, entry, i64::MAX)?;
        let placed = Placed::new(position, entry, self.clock);
        let words = words_at(&placed, Instant(self.horizon));
        Ok(words.unwrap_or_else(|| Entry::clone(&placed.entry)))
    }

    fn cut_run(&self, conn: &mut Connection, run: i64) -> Result<Arc<PartRun>> {
        let path = &self.path;
        let cut = Placed::new(run, self.cut_entry(conn, run)?, self.clock);
        let mut pass = Pass::begin(conn, path)?.alone();
        // It was cut as amended.
        let placed = pass.as_split(cut)?;
        let model = pass.model(&placed)?;
        let misfit = |what| Pass::misfit(&placed, what);
        let restrictions = restrictions(conn, path, run)?;
        let mut lines = BTreeMap::new();
        for line in model.lines() {
            let mut row = model.exposure(line).map_err(misfit)?;
            row.restriction_broken = restrictions.get(&row.joint).map_or(Some(false), |words| {
                breaks(words, row.figures.cased_hours, model.row().protectors)
            });
            lines.insert(row.joint, row);
        }
        let cuts = if model.is_timed() { pass.cuts_in(run)? } else { BTreeMap::new() };
        let mut parts = BTreeMap::new();
        for line in model.lines() {
            let own = cuts.get(&line.joint).into_iter().flatten();
            for cut in own.filter(|cut| **cut < self.horizon) {
                let part = model.part(line, *cut).map_err(misfit)?;
                parts.insert((part.joint, part.cut), part);
            }
        }
        Ok(Arc::new(PartRun { row: model.row().clone(), lines, parts }))
    }
}

/// Restrictions that the joints of a run carried when it began, as words.
fn restrictions(
    conn: &Connection,
    path: &std::path::Path,
    run: i64,
) -> Result<BTreeMap<i64, String>> {
    let mut statement = conn
        .prepare_cached(
            "SELECT joint, words FROM (
                 SELECT r.joint AS joint, (SELECT s.restriction FROM joint_state s
                     WHERE s.joint = r.joint AND s.at <= r.start ORDER BY s.at DESC LIMIT 1) AS words
                 FROM joint_run r WHERE r.run = ?1)
             WHERE words IS NOT NULL",
        )
        .in_file(path)?;
    let rows = statement.query_map([run], |r| Ok((r.get(0)?, r.get(1)?))).in_file(path)?;
    rows.collect::<rusqlite::Result<_>>().in_file(path)
}
