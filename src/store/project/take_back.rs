//! Takes entries back out of the projections of a copy, so that they are those of a book that never
//! heard of them. Only copies are ever treated so.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::Arc;

use rusqlite::Connection;

use super::super::error::{InFile, Result};
use super::super::ledger::sql_list;
use super::super::migrate;
use super::dirty::Dirty;
use super::link::tells_joints_apart;
use super::{Misfits, Pass, Past};
use crate::ledger::RawEntry;
use crate::model::{Body, EntryId, EntryKind, Vocabulary};
use crate::projection::kinds::{Changes, Role, Topic, kinds, role};

/// What a view leaves out of the ledger, and what it sees in other words.
#[derive(Debug, Default)]
pub(in crate::store) struct Unseen {
    /// Places of entries that are not seen.
    pub gone: BTreeSet<i64>,
    /// Entries seen in part: as they are seen.
    pub reworded: BTreeMap<i64, RawEntry>,
}

/// Tables with a row for each entry that names it, and the column.
const BY_ENTRY: [(&str, &str); 6] = [
    ("touch", "entry"),
    ("book_fact", "entry"),
    ("survey", "entry"),
    ("struck", "entry"),
    ("file_taken", "first_entry"),
    ("content", "entry"),
];

/// Brings ledger and projections of a copy to what is seen. Exposures that still rest on the same
/// are kept. Returns whether what is not seen could be taken back by itself; else everything was
/// derived anew.
pub(in crate::store) fn take_back(conn: &Connection, path: &Path, unseen: &Unseen) -> Result<bool> {
    if unseen.gone.is_empty() && unseen.reworded.is_empty() {
        return Ok(true);
    }
    let mut dirty = Dirty::default();
    // Taking back half of a book is more work than deriving the other half.
    let most: i64 = conn.query_row("SELECT count(*) FROM entry", [], |r| r.get(0)).in_file(path)?;
    let few = i64::try_from(unseen.gone.len()).is_ok_and(|n| n < most / 2);
    let mut pass = Pass::begin(conn, path)?;
    let singly = few && pass.can_take_back(unseen, &mut dirty)?;
    let before = pass.book;
    cut_ledger(conn, path, unseen)?;
    if !singly {
        return anew(conn, path).map(|_| false);
    }
    for (table, column) in BY_ENTRY {
        let sql = format!(
            "DELETE FROM \"{table}\" WHERE \"{column}\" IN (SELECT position FROM temp.unseen)"
        );
        conn.execute(&sql, []).in_file(path)?;
    }
    let mut pass = Pass::begin(conn, path)?;
    pass.past = Some(Arc::new(Past::without(unseen.gone.clone())));
    pass.strike(&mut dirty)?;
    if dirty.everything {
        return anew(conn, path).map(|_| false);
    }
    pass.read_identities()?;
    pass.refresh_book_facts()?;
    if !pass.book.adoptions().judge_like(before.adoptions()) {
        return anew(conn, path).map(|_| false);
    }
    pass.settle(dirty)?;
    pass.set_position().map(|()| true)
}

/// Derives everything from the entries that are left; exposures that rest on the same are kept.
pub(super) fn anew(conn: &Connection, path: &Path) -> Result<Misfits> {
    conn.execute_batch(
        "CREATE TEMP TABLE kept_run AS SELECT * FROM main.joint_run
             WHERE run IN (SELECT position FROM main.entry);
         CREATE TEMP TABLE kept_part AS SELECT * FROM main.run_part
             WHERE run IN (SELECT position FROM main.entry);",
    )
    .in_file(path)?;
    migrate::lay_out_projections(conn).in_file(path)?;
    conn.execute_batch(
        "INSERT INTO main.joint_run SELECT * FROM temp.kept_run;
         INSERT INTO main.run_part SELECT * FROM temp.kept_part;
         DROP TABLE temp.kept_run;
         DROP TABLE temp.kept_part;",
    )
    .in_file(path)?;
    super::link_all(conn, path)
}

/// Takes the entries out of the ledger of the copy, and puts those seen in part in other words.
fn cut_ledger(conn: &Connection, path: &Path, unseen: &Unseen) -> Result<()> {
    conn.execute_batch("CREATE TEMP TABLE unseen (position INTEGER PRIMARY KEY)").in_file(path)?;
    {
        let mut insert =
            conn.prepare("INSERT INTO temp.unseen (position) VALUES (?1)").in_file(path)?;
        for position in &unseen.gone {
            insert.execute([position]).in_file(path)?;
        }
    }
    conn.execute("DELETE FROM entry WHERE position IN (SELECT position FROM temp.unseen)", [])
        .in_file(path)?;
    let mut update = conn
        .prepare("UPDATE entry SET effective = ?2, body = ?3 WHERE position = ?1")
        .in_file(path)?;
    for (position, raw) in &unseen.reworded {
        update.execute((position, &raw.effective, &raw.body)).in_file(path)?;
    }
    Ok(())
}

impl Pass<'_> {
    /// Marks what the entries left behind, as long as each can be taken back by itself: nothing
    /// that stays names it, and it decides nothing about the whole book.
    pub(super) fn can_take_back(&mut self, unseen: &Unseen, dirty: &mut Dirty) -> Result<bool> {
        let gone = |p: &i64| unseen.gone.contains(p);
        for position in unseen.gone.iter().chain(unseen.reworded.keys()) {
            let left_behind = gone(position);
            let kind = self.kind_at(*position)?;
            let role = role(kind);
            if role.parts != 0 {
                for joint in self.touched(*position)? {
                    *dirty.parts.entry(joint).or_default() |= role.parts;
                    dirty.joints.insert(joint);
                }
            }
            if kind == EntryKind::Joint && self.is_named(*position, &gone)? {
                return Ok(false);
            }
            // What most change is told by the joints that they touch.
            if role.changes == Changes::Joints && !role.strikes() {
                if role.parts == 0 {
                    dirty.joints.extend(self.touched(*position)?);
                }
                continue;
            }
            let placed = self.entry(*position)?;
            let body = &placed.entry.body;
            // A decision seen in part no longer touches its joints; entries about a run touch the
            // joints of its whole tally.
            let reworded = !left_behind
                && match body {
                    Body::Run(b) => !b.swaps.is_empty(),
                    body => matches!(body, Body::Decision(_)),
                };
            if reworded || tells_joints_apart(body) {
                return Ok(false);
            }
            self.mark(&placed, dirty)?;
            if dirty.everything {
                return Ok(false);
            }
        }
        Ok(!self.is_needed(&gone)?)
    }

    /// Whether an entry that stays names one that does not, of those entries whose work the named
    /// one has a part in.
    fn is_needed(&mut self, gone: &impl Fn(&i64) -> bool) -> Result<bool> {
        for topic in [Topic::AboutRun, Topic::WithSurvey] {
            for name in self.subjects(topic)? {
                let Ok(id) = name.parse::<EntryId>() else { continue };
                if self.position_of(&id)?.is_some_and(|p| gone(&p))
                    && !self.about(topic, &name)?.iter().all(gone)
                {
                    return Ok(true);
                }
            }
        }
        // A run that counts no more has no rows that would show which joints it names.
        let fallen: Vec<i64> = self.struck.iter().copied().filter(|p| !gone(p)).collect();
        for position in fallen {
            let placed = self.entry(position)?;
            for named in placed.entry.body.joints() {
                if self.position_of(&named.joint)?.is_some_and(|p| gone(&p)) {
                    return Ok(true);
                }
            }
        }
        let few = sql_list(kinds(Role::refers));
        let few = self.list(
            &format!("SELECT position FROM entry WHERE kind IN ({few}) ORDER BY position"),
            &[],
        )?;
        for position in few.iter().filter(|p| !gone(p)) {
            let placed = self.entry(*position)?;
            for named in placed.entry.body.entries() {
                if self.position_of(named)?.is_some_and(|p| gone(&p)) {
                    return Ok(true);
                }
            }
        }
        Ok(false)
    }

    fn kind_at(&self, position: i64) -> Result<EntryKind> {
        let word: String = self
            .conn
            .prepare_cached("SELECT kind FROM entry WHERE position = ?1")
            .and_then(|mut s| s.query_row([position], |r| r.get(0)))
            .in_file(self.path)?;
        EntryKind::named(&word).ok_or_else(|| self.missing(position))
    }

    fn subjects(&self, topic: Topic) -> Result<Vec<String>> {
        let mut statement = self
            .conn
            .prepare_cached("SELECT DISTINCT subject FROM book_fact WHERE topic = ?1")
            .in_file(self.path)?;
        let rows = statement.query_map([topic.word()], |r| r.get(0)).in_file(self.path)?;
        rows.collect::<rusqlite::Result<_>>().in_file(self.path)
    }

    /// Whether anything that stays names a joint, or a joint merged into it.
    fn is_named(&self, joint: i64, gone: &impl Fn(&i64) -> bool) -> Result<bool> {
        // Nor has a joint that counts no more.
        if !self.stands(joint)
            || self.merged.contains_key(&joint)
            || self.merged.values().any(|keep| *keep == joint)
            || self.split.values().flatten().any(|(from, _)| *from == joint)
        {
            return Ok(true);
        }
        let touching = self.list("SELECT entry FROM touch WHERE joint = ?1", &[&joint])?;
        let runs = self.list("SELECT run FROM joint_run WHERE joint = ?1", &[&joint])?;
        Ok(!touching.iter().chain(&runs).all(gone))
    }
}
