//! What hangs on an entry that is wrong: who names it, which joints rest on it.

use std::collections::BTreeSet;

use super::super::book::Book;
use super::chain::Bad;

/// An entry that is wrong and everything that rests on it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hanging {
    /// The entry.
    pub entry: String,
    /// Later entries of its chain, whose place the chain no longer proves.
    pub later: u64,
    /// Entries that name it, in order of arrival.
    pub named_by: Vec<String>,
    /// Joints whose derived rows rest on it: serial and entry of each.
    pub joints: Vec<String>,
}

impl Book {
    /// Gathers what hangs on an entry. The book is damaged: what cannot be read is left out.
    pub(super) fn hanging_on(&self, bad: &Bad) -> Hanging {
        let mut later = 0;
        let mut named_by = Vec::new();
        let mut joints = BTreeSet::new();
        let id = bad.id();
        let _ = self.each_readable(|stored| {
            let raw = &stored.raw;
            if raw.site == bad.entry.site
                && raw.epoch == bad.entry.epoch
                && stored.position > bad.position
            {
                later += 1;
            }
            let (Some(id), Ok(entry)) = (&id, raw.read()) else { return };
            let named = entry.body.joints().into_iter().map(|j| &j.joint);
            if named.chain(entry.body.entries()).any(|e| e == id) {
                named_by.push(raw.label());
            }
            if stored.position == bad.position {
                joints.extend(entry.body.joints().into_iter().map(ToString::to_string));
            }
        });
        joints.extend(self.joints_resting_on(bad.position));
        Hanging { entry: bad.entry.label(), later, named_by, joints: joints.into_iter().collect() }
    }

    /// Joints whose rows were derived from an entry, as far as the projections can be read.
    fn joints_resting_on(&self, position: i64) -> Vec<String> {
        let ask = || -> rusqlite::Result<Vec<String>> {
            let mut statement = self.conn.prepare(
                "SELECT DISTINCT j.serial || '@' || j.introduced_by FROM joint j WHERE j.joint IN (
                     SELECT joint FROM joint WHERE joint = ?1
                     UNION SELECT joint FROM touch WHERE entry = ?1
                     UNION SELECT joint FROM joint_run WHERE run = ?1
                     UNION SELECT r.joint FROM joint_run r JOIN run u ON u.run = r.run
                           WHERE u.survey = ?1)",
            )?;
            let rows = statement.query_map([position], |r| r.get(0))?;
            rows.collect()
        };
        ask().unwrap_or_default()
    }
}
