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

/// What an inspection read of the dimensions that wear, nm.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct WearReading {
    /// The joint.
    pub joint: i64,
    /// When, ms of UTC.
    pub at: i64,
    /// Wall of the tube.
    pub wall: Option<i64>,
    /// Outside diameter of the pin tool joint.
    pub pin_od: Option<i64>,
    /// Outside diameter of the box tool joint.
    pub box_od: Option<i64>,
    /// Tong length of the pin.
    pub pin_tong: Option<i64>,
    /// Tong length of the box.
    pub box_tong: Option<i64>,
}

impl Book {
    /// Visits every reading of dimensions that wear, joint by joint, oldest first; those of
    /// instruments that failed their next check are left out.
    pub fn wear_readings(
        &self,
        only: Option<i64>,
        mut visit: impl FnMut(WearReading),
    ) -> Result<()> {
        let sql = if only.is_some() {
            "SELECT joint, date, wall_thickness, pin_od, box_od, pin_tong, box_tong
                 FROM inspection WHERE joint = ?1 AND instrument_doubtful = 0
                 ORDER BY joint, date, turn"
        } else {
            "SELECT joint, date, wall_thickness, pin_od, box_od, pin_tong, box_tong
                 FROM inspection WHERE ?1 IS NULL AND instrument_doubtful = 0
                 ORDER BY joint, date, turn"
        };
        let mut statement = self.conn.prepare_cached(sql).in_file(&self.path)?;
        let mut rows = statement.query(params![only]).in_file(&self.path)?;
        while let Some(row) = rows.next().in_file(&self.path)? {
            let read = || -> rusqlite::Result<WearReading> {
                Ok(WearReading {
                    joint: row.get(0)?,
                    at: row.get(1)?,
                    wall: row.get(2)?,
                    pin_od: row.get(3)?,
                    box_od: row.get(4)?,
                    pin_tong: row.get(5)?,
                    box_tong: row.get(6)?,
                })
            };
            visit(read().in_file(&self.path)?);
        }
        Ok(())
    }

    /// Visits begin, end and rotating hours of every run that counts, joint by joint, by end.
    pub fn hours_of_runs(
        &self,
        only: Option<i64>,
        mut visit: impl FnMut(i64, i64, i64, Option<i64>),
    ) -> Result<()> {
        let sql = if only.is_some() {
            "SELECT joint, start, finish, iif(conflicting, NULL, hours) FROM joint_run
                 WHERE joint = ?1 ORDER BY joint, finish, turn"
        } else {
            "SELECT joint, start, finish, iif(conflicting, NULL, hours) FROM joint_run
                 WHERE ?1 IS NULL ORDER BY joint, finish, turn"
        };
        let mut statement = self.conn.prepare_cached(sql).in_file(&self.path)?;
        let mut rows = statement.query(params![only]).in_file(&self.path)?;
        while let Some(row) = rows.next().in_file(&self.path)? {
            let read = || Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?));
            let (joint, start, finish, hours) = read().in_file(&self.path)?;
            visit(joint, start, finish, hours);
        }
        Ok(())
    }

    /// Visits every run of every joint, or of one, that ended after an instant, joint by joint.
    pub fn recent_runs(
        &self,
        since: i64,
        only: Option<i64>,
        mut visit: impl FnMut(RecentRun),
    ) -> Result<()> {
        // From the joints outwards: each is one seek into rows clustered by joint and end.
        let from = match only {
            Some(_) => "joint_run AS r WHERE r.joint = ?2 AND r.finish > ?1",
            None => {
                "joint AS j CROSS JOIN joint_run AS r ON r.joint = j.joint AND r.finish > ?1
                     WHERE ?2 IS NULL"
            }
        };
        let sql = format!(
            "SELECT r.joint, r.start, r.finish, r.hours, r.revolutions, r.footage,
                    max(r.damage_pin, r.damage_middle, r.damage_box),
                    max(r.over_limit_pin, r.over_limit_middle, r.over_limit_box)
             FROM {from}"
        );
        let mut statement = self.conn.prepare_cached(&sql).in_file(&self.path)?;
        let mut rows = statement.query(params![since, only]).in_file(&self.path)?;
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
        let sql = "SELECT DISTINCT joint FROM gap WHERE until > ?1 AND since IS NOT NULL";
        let mut statement = self.conn.prepare_cached(sql).in_file(&self.path)?;
        let rows = statement.query_map([since], |r| r.get(0)).in_file(&self.path)?;
        rows.collect::<rusqlite::Result<Vec<i64>>>().in_file(&self.path)
    }
}
