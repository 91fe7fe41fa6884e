//! A book as of a date, by what it knows now: a connection to the file in which every table of the
//! projections is shadowed by a view of the same name (`views`). The file is only read.
//!
//! **The past stands in rows.** What was recorded of a joint before the date is in its records, and
//! what it was is in its states (`joint_state`, `custody`): the last one before the date. So a view is
//! plain SQL over one table, or over a joint and its two states, and SQLite reads the file's own
//! indexes through it. Nothing is judged again.
//!
//! **What moves with time is worked out when it is asked for**, by functions of the connection
//! (`functions`):
//! - A run under way counts as far as it had come. Its figures are derived as those of any run, from
//!   the run's own words cut at the date (`under_way`).
//! - Sums over the runs of a joint, in all and since inspections, go on from the state in force with
//!   the runs and make-ups after it (`figures`). Where runs of the joint are in conflict with each
//!   other, the joint is folded as a whole.
//!
//! Who asks of one joint or run has it alone worked out; who asks again of others, all of them, on all
//! threads (`workers`).
//!
//! **Entries are seen by their own instant** (`entry_time`), but for those that count with others
//! (`projection::horizon`): these few are looked through once (`sight`). Conflicts of runs depend on
//! both, so the joints that have any are looked at again, without figures; those of which the file says
//! something else are folded, and their states and moves are those of the fold.
//!
//! **What cannot be left out by itself** (`sight::obstacle`): something seen names something that is
//! not, or runs would have other joints. Then the view is a copy of the book, derived anew
//! (`store::copy`).

mod figures;
mod functions;
mod memo;
mod sight;
mod under_way;
mod view;
mod views;
mod workers;

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::{Arc, Mutex, OnceLock};

use rusqlite::{Connection, ToSql};

use super::clock;
use super::entries::last_position;
use super::error::{InFile, Result, StoreError};
use super::project::Pass;
use super::rows::get;
use crate::model::Instant;
use crate::projection::joint::{FINISH_IS_DAY, START_IS_DAY, fold};
use crate::schema::{ConflictRow, CustodyRow, JointRunRow, MoveRow, RunRow};
pub(super) use sight::{Sight, hidden_with_others};
pub(super) use view::{AsOf, reader};
use view::{Conflicts, Figures, UnderWay};

impl AsOf {
    /// The book from a date on; `None` where something that is seen keeps what is not from being
    /// left out.
    pub(super) fn of(path: &Path, horizon: Instant) -> Result<Option<Arc<Self>>> {
        let conn = reader(path)?;
        let end = last_position(&conn, path)?;
        let clock = clock::of(&conn, path)?;
        let sight = Sight::from(&conn, path, horizon)?;
        if sight::obstacle(&conn, path, horizon, &sight)? {
            return Ok(None);
        }
        let other = reader(path)?;
        if last_position(&other, path)? != end {
            // Someone wrote in between: what was looked at is no more.
            drop((conn, other));
            return Self::of(path, horizon);
        }
        let as_of = Arc::new(Self {
            path: path.to_path_buf(),
            horizon: horizon.0,
            clock,
            end,
            under_way: UnderWay::new(conn),
            figures: Figures::new(other),
            sight,
            conflicts: OnceLock::new(),
            deadline: Mutex::default(),
        });
        let conflicts = as_of.find_conflicts()?;
        as_of.conflicts.get_or_init(|| conflicts);
        Ok(Some(as_of))
    }

    /// A connection that sees the book so; an error when the book was written to since.
    pub(super) fn connect(self: &Arc<Self>) -> Result<Connection> {
        let conn = reader(&self.path)?;
        if last_position(&conn, &self.path)? != self.end {
            return Err(StoreError::Busy { path: self.path.clone() });
        }
        functions::register(&conn, self).in_file(&self.path)?;
        views::shadow(&conn, self)?;
        conn.pragma_update(None, "query_only", true).in_file(&self.path)?;
        Ok(conn)
    }

    /// Looks again at the joints that are in conflict, or may be: a run that is known to have ended
    /// on a day is known to have gone on to the date that cuts it. And at those of which two runs end
    /// together, because the date cuts them.
    fn find_conflicts(self: &Arc<Self>) -> Result<Conflicts> {
        let (path, horizon) = (&self.path, self.horizon);
        let source = reader(path)?;
        let joints = self.may_be_in_conflict(&source)?;
        let mut out = Conflicts::default();
        if joints.is_empty() {
            return Ok(out);
        }
        let view = self.connect()?;
        let mut pass = Pass::begin(&view, path)?.alone();
        for joint in joints {
            let before = |time: &str| format!("WHERE joint = ?1 AND {time} < ?2");
            let known: [&dyn ToSql; 2] = [&joint, &horizon];
            let mut runs: Vec<JointRunRow> = get(&source, path, &before("start"), &known)?;
            let mut run_rows = BTreeMap::new();
            for run in &mut runs {
                if run.finish > horizon {
                    run.finish = horizon;
                    run.flags &= !FINISH_IS_DAY;
                }
                if run.flags & (START_IS_DAY | FINISH_IS_DAY) != 0 {
                    let own = get::<RunRow>(&source, path, "WHERE run = ?1", &[&run.run])?;
                    run_rows.extend(own.into_iter().map(|row| (row.run, row)));
                }
            }
            let mut seen = pass.conflicts_of(joint, &mut runs, &run_rows)?;
            let together: BTreeSet<i64> =
                runs.iter().filter(|r| r.finish == horizon).map(|r| r.run).collect();
            seen.runs.retain(|r| r.conflicting || together.contains(&r.run));
            if !seen.runs.is_empty() {
                out.runs.insert(joint, seen.runs);
            }
            let as_known = get::<CustodyRow>(&source, path, &before("at"), &known)? == seen.custody
                && get::<MoveRow>(&source, path, &before("date"), &known)? == seen.moves
                && get::<ConflictRow>(&source, path, "WHERE joint = ?1", &[&joint])?
                    == seen.conflicts;
            out.rows.extend(seen.conflicts);
            if !as_known && let Some(whole) = pass.with_input(joint, fold)? {
                out.otherwise.insert(joint);
                out.states.extend(whole.states);
                out.custody.extend(whole.custody);
                out.moves.extend(whole.records.moves);
            }
        }
        Ok(out)
    }

    fn may_be_in_conflict(&self, source: &Connection) -> Result<Vec<i64>> {
        let (path, horizon) = (&self.path, self.horizon);
        let ended = "coalesce(u.rows_to, r.finish - 86400000)";
        let mut statement = source
            .prepare(&format!(
                "SELECT joint FROM conflict UNION
                 SELECT r.joint FROM run u CROSS JOIN joint_run r ON r.run = u.run
                     WHERE u.start < {horizon} AND u.finish > {horizon}
                     AND {ended} < {horizon} AND r.flags & {FINISH_IS_DAY}
                     AND (EXISTS (SELECT 1 FROM joint_run o WHERE o.joint = r.joint
                                  AND o.run <> r.run AND o.finish > {ended}
                                  AND o.start < {horizon})
                          OR EXISTS (SELECT 1 FROM touch t WHERE t.joint = r.joint
                                     AND t.cut >= {ended} AND t.cut < {horizon}))
                 UNION
                 SELECT r.joint FROM run u CROSS JOIN joint_run r ON r.run = u.run
                     WHERE u.start < {horizon} AND u.finish >= {horizon}
                     AND r.start < {horizon} AND r.finish >= {horizon}
                     GROUP BY r.joint HAVING count(*) > 1 AND max(r.finish) > {horizon}"
            ))
            .in_file(path)?;
        let joints = statement.query_map([], |r| r.get(0)).in_file(path)?;
        joints.collect::<rusqlite::Result<_>>().in_file(path)
    }
}
