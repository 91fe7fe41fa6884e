//! Recent use of joints, for what is foreseen.

use rusqlite::params;

use super::book::Book;
use super::error::{InFile, Result};

/// What a run used of a joint; unknown figures are `None`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RecentRun {
    /// The joint.
    pub joint: i64,
    /// Begin, ms of UTC.
    pub start: i64,
    /// End, ms of UTC.
    pub finish: i64,
    /// Rotating hours, ms.
    pub hours: Option<i64>,
    /// Turns, in thousandths.
    pub revolutions: Option<i64>,
    /// Length drilled, nm.
    pub footage: Option<i64>,
    /// Damage at the place that took most, in 1e-15.
    pub damage: Option<i64>,
    /// Turns above the no-fatigue dogleg, in thousandths.
    pub over_limit: Option<i64>,
}

impl Book {
    /// Visits every run of every joint that ended after an instant, joint by joint.
    pub fn recent_runs(&self, since: i64, mut visit: impl FnMut(RecentRun)) -> Result<()> {
        // From the joints outwards: each is one seek into rows clustered by joint and end.
        let mut statement = self
            .conn
            .prepare_cached(
                "SELECT r.joint, r.start, r.finish, r.hours, r.revolutions, r.footage,
                        max(r.damage_pin, r.damage_middle, r.damage_box), r.over_limit
                 FROM joint AS j CROSS JOIN joint_run AS r ON r.joint = j.joint AND r.finish > ?1",
            )
            .in_file(&self.path)?;
        let mut rows = statement.query(params![since]).in_file(&self.path)?;
        while let Some(row) = rows.next().in_file(&self.path)? {
            let read = || -> rusqlite::Result<RecentRun> {
                Ok(RecentRun {
                    joint: row.get(0)?,
                    start: row.get(1)?,
                    finish: row.get(2)?,
                    hours: row.get(3)?,
                    revolutions: row.get(4)?,
                    footage: row.get(5)?,
                    damage: row.get(6)?,
                    over_limit: row.get(7)?,
                })
            };
            visit(read().in_file(&self.path)?);
        }
        Ok(())
    }

    /// Joints with a stretch of life after an instant about which nothing is known.
    pub fn gaps_since(&self, since: i64) -> Result<Vec<i64>> {
        let mut statement = self
            .conn
            .prepare_cached("SELECT DISTINCT joint FROM gap WHERE until > ?1 AND since IS NOT NULL")
            .in_file(&self.path)?;
        let rows = statement.query_map([since], |r| r.get(0)).in_file(&self.path)?;
        rows.collect::<rusqlite::Result<Vec<i64>>>().in_file(&self.path)
    }
}
