//! What a view says of a few joints: they alone are folded, and their rows stand by themselves in a
//! connection that holds no others. Only statements that ask of one joint, or of joints that stand
//! beside it in a run, are put to it.

use std::cell::RefCell;
use std::collections::BTreeSet;
use std::path::Path;

use rusqlite::Connection;

use super::folds::Scribe;
use super::guard::Made;
use super::tables::{WITH_RUNS, WITHOUT_RUNS};
use super::{View, is_one_state, reader};
use crate::model::{Scope, Vocabulary};
use crate::projection::row::Row;
use crate::projection::rows::{JointRow, JointRunRow, RunRow, SinceRow};
use crate::store::carry::put_into;
use crate::store::error::{InFile, Result};
use crate::store::migrate;
use crate::store::project::{Lived, Pass, part};

/// The connection, and what it holds.
#[derive(Debug)]
pub(super) struct Narrow {
    conn: Connection,
    joints: RefCell<BTreeSet<i64>>,
    runs: RefCell<BTreeSet<i64>>,
}

/// What a statement of [`crate::store::Book::rows`] asks of, where that is told by its text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum About {
    /// One joint, by the first parameter.
    Joint,
    /// One run, by the first parameter.
    Run,
    /// Some places of a run, by the first three.
    Places,
    /// The joints of a string, by the first parameter.
    String,
}

/// A parameter of a statement.
#[derive(Clone, Debug)]
pub(super) enum Param {
    /// A place.
    Int(i64),
    /// A name.
    Text(String),
}

/// Joints that are brought in at once at most; for more the whole view is made.
const MOST: usize = 2_000;

/// Tells what a condition asks of.
pub(super) fn about(table: &str, rest: &str) -> Option<About> {
    let own = |head: &str| {
        rest.strip_prefix(head).is_some_and(|tail| {
            // Whatever follows can only ask for less.
            (tail.is_empty() || tail.starts_with(" AND ") || tail.starts_with(" ORDER BY "))
                && !tail.contains(" OR ")
                && !tail.contains("SELECT")
        })
    };
    let of_joints =
        table == JointRow::TABLE || WITHOUT_RUNS.contains(&table) || WITH_RUNS.contains(&table);
    if of_joints && own("WHERE joint = ?1") {
        Some(About::Joint)
    } else if table == JointRow::TABLE && own("WHERE string = ?1") {
        Some(About::String)
    } else if table == RunRow::TABLE && own("WHERE run = ?1") {
        Some(About::Run)
    } else if table == JointRunRow::TABLE && own("WHERE run = ?1 AND place BETWEEN ?2 AND ?3") {
        Some(About::Places)
    } else {
        None
    }
}

fn all_tables() -> impl Iterator<Item = &'static str> {
    WITHOUT_RUNS.into_iter().chain(WITH_RUNS)
}

impl Narrow {
    /// Empty; `None` when the book was written to since the view was made.
    fn open(view: &View, path: &Path) -> Result<Option<Self>> {
        let conn = reader(path)?;
        if !is_one_state(&conn, &view.source, path)? {
            return Ok(None);
        }
        super::shadow(&conn, path, &view.past, view.place)?;
        for table in all_tables().chain([JointRow::TABLE, RunRow::TABLE]) {
            let (made, indexes) = migrate::own_table(table);
            // The plans of readers count on them, few as the rows are.
            conn.execute_batch(&format!("{made}; {}", indexes.join("; "))).in_file(path)?;
        }
        Ok(Some(Self { conn, joints: RefCell::default(), runs: RefCell::default() }))
    }

    /// Brings in what the view says of joints.
    fn joints(&self, view: &View, pass: &mut Pass<'_>, path: &Path, all: &[i64]) -> Result<()> {
        let new: Vec<i64> =
            all.iter().copied().filter(|j| !self.joints.borrow().contains(j)).collect();
        let (changed, others): (Vec<i64>, Vec<i64>) =
            new.into_iter().partition(|joint| view.past.joints.contains(joint));
        if !changed.is_empty() {
            let lived = Lived::of_joints(pass, &view.past, &changed)?;
            let tables: Vec<&str> = all_tables().collect();
            let scribe = Scribe::new(&self.conn, path, &tables, Some(&Made::Whole), None);
            for joint in changed {
                scribe.write(joint, &pass.fold_past(joint, Some(&lived))?)?;
                self.runs_of(joint, path)?;
                self.joints.borrow_mut().insert(joint);
            }
            for run in lived.runs.values() {
                put_into(&self.conn, path, RunRow::TABLE, &run.row)?;
                self.runs.borrow_mut().insert(run.row.run);
            }
        }
        for joint in others {
            self.take_over(path, joint)?;
            self.runs_of(joint, path)?;
            self.joints.borrow_mut().insert(joint);
        }
        Ok(())
    }

    /// Takes over what the file says of a joint.
    fn take_over(&self, path: &Path, joint: i64) -> Result<()> {
        let scopes: Vec<String> = Scope::ALL.iter().map(|s| format!("'{}'", s.word())).collect();
        for table in all_tables().chain([JointRow::TABLE]) {
            let by = if table == SinceRow::TABLE {
                format!("scope IN ({}) AND joint", scopes.join(", "))
            } else {
                "joint".to_owned()
            };
            let sql = format!(
                "INSERT INTO temp.\"{table}\" SELECT * FROM main.\"{table}\" WHERE {by} = ?1"
            );
            self.conn.prepare_cached(&sql).and_then(|mut s| s.execute([joint])).in_file(path)?;
        }
        Ok(())
    }

    /// Joints that may be in a string: those that are, and those that may have been moved since.
    fn in_string(&self, view: &View, path: &Path, string: &str) -> Result<Vec<i64>> {
        let mut statement = self
            .conn
            .prepare_cached("SELECT joint FROM main.joint WHERE string = ?1")
            .in_file(path)?;
        let rows = statement.query_map([string], |r| r.get(0)).in_file(path)?;
        let mut out: BTreeSet<i64> = rows.collect::<rusqlite::Result<_>>().in_file(path)?;
        let moved = view.past.parts.iter().filter(|(_, p)| **p & part::CUSTODY != 0);
        out.extend(moved.map(|(joint, _)| *joint));
        Ok(out.into_iter().collect())
    }

    /// Brings in the runs of a joint that are as they stand in the file.
    fn runs_of(&self, joint: i64, path: &Path) -> Result<()> {
        self.conn
            .execute(
                "INSERT OR IGNORE INTO temp.run SELECT * FROM main.run
                 WHERE run IN (SELECT run FROM temp.joint_run WHERE joint = ?1)",
                [joint],
            )
            .in_file(path)?;
        Ok(())
    }

    /// Brings in a run by itself.
    fn run(&self, view: &View, pass: &mut Pass<'_>, path: &Path, run: i64) -> Result<()> {
        if view.past.unseen.gone.contains(&run) || self.runs.borrow().contains(&run) {
            return Ok(());
        }
        self.bring_run(view, pass, path, run)?;
        self.runs.borrow_mut().insert(run);
        Ok(())
    }

    fn bring_run(&self, view: &View, pass: &mut Pass<'_>, path: &Path, run: i64) -> Result<()> {
        if view.past.runs.contains(&run) {
            // No joint has this place.
            let run = pass.past_run(run, Some(0))?;
            return put_into(&self.conn, path, RunRow::TABLE, &run.row);
        }
        self.conn
            .execute("INSERT OR IGNORE INTO temp.run SELECT * FROM main.run WHERE run = ?1", [run])
            .in_file(path)?;
        Ok(())
    }

    /// Joints that stand at some places of a run, by the file: what a view sees otherwise of a run
    /// is not its tally.
    fn at_places(&self, path: &Path, run: i64, from: i64, to: i64) -> Result<Vec<i64>> {
        let mut statement = self
            .conn
            .prepare_cached(
                "SELECT joint FROM main.joint_run WHERE run = ?1 AND place BETWEEN ?2 AND ?3",
            )
            .in_file(path)?;
        let rows = statement.query_map([run, from, to], |r| r.get(0)).in_file(path)?;
        rows.collect::<rusqlite::Result<_>>().in_file(path)
    }
}

impl View {
    /// Puts a question to the connection that holds what the view says of a joint; `None` when it
    /// cannot be had.
    pub(super) fn narrow_to<T>(
        &self,
        path: &Path,
        joint: i64,
        ask: impl FnOnce(&Connection) -> T,
    ) -> Result<Option<T>> {
        self.narrow_about(path, About::Joint, &[Param::Int(joint)], ask)
    }

    /// The same for what a condition asks of.
    pub(super) fn narrow_about<T>(
        &self,
        path: &Path,
        about: About,
        params: &[Param],
        ask: impl FnOnce(&Connection) -> T,
    ) -> Result<Option<T>> {
        let mut slot = self.narrow.borrow_mut();
        if slot.is_none() {
            *slot = Narrow::open(self, path)?;
        }
        let Some(narrow) = &*slot else { return Ok(None) };
        let joints = match (about, params) {
            (About::Joint, [Param::Int(joint), ..]) => vec![*joint],
            (About::Places, [Param::Int(run), Param::Int(from), Param::Int(to), ..]) => {
                narrow.at_places(path, *run, *from, *to)?
            }
            (About::String, [Param::Text(string), ..]) => narrow.in_string(self, path, string)?,
            (About::Run, [Param::Int(run), ..]) => {
                narrow.run(self, &mut self.pass(path)?, path, *run)?;
                return Ok(Some(ask(&narrow.conn)));
            }
            _ => return Ok(None),
        };
        if joints.len() > MOST {
            return Ok(None);
        }
        let is_new = |joint: &i64| !narrow.joints.borrow().contains(joint);
        if joints.iter().any(is_new) {
            narrow.joints(self, &mut self.pass(path)?, path, &joints)?;
        }
        Ok(Some(ask(&narrow.conn)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_questions_of_one_joint_or_run_are_narrow() {
        for (table, rest, told) in [
            ("joint", "WHERE joint = ?1", Some(About::Joint)),
            ("finding", "WHERE joint = ?1 AND open ORDER BY at, entry, n", Some(About::Joint)),
            (
                "joint_run",
                "WHERE run = ?1 AND place BETWEEN ?2 AND ?3 ORDER BY place",
                Some(About::Places),
            ),
            ("run", "WHERE run = ?1", Some(About::Run)),
            ("joint", "WHERE string = ?1 ORDER BY joint", Some(About::String)),
            ("joint", "WHERE string = ?1 COLLATE NOCASE ORDER BY serial, joint", None),
            ("joint", "", None),
            ("joint", "WHERE joint = ?10", None),
            ("joint", "WHERE joint = ?1 OR string = ?2", None),
            ("joint_run", "WHERE run = ?1 ORDER BY place", None),
            ("run", "WHERE run IN (SELECT run FROM joint_run WHERE joint = ?1)", None),
            ("touch", "WHERE joint = ?1 ORDER BY entry", None),
        ] {
            assert_eq!(about(table, rest), told, "{table} {rest}");
        }
    }
}
