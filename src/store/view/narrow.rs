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
use crate::schema::query::Test;
use crate::schema::{JointRow, JointRunRow, Row, Rows, RunRow, SinceRow, Value};
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

/// What rows are asked of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum About {
    /// One joint.
    Joint(i64),
    /// One run.
    Run(i64),
    /// Some places of a run: the first and the last.
    Places(i64, i64, i64),
    /// The joints of a string.
    String(String),
}

/// Joints that are brought in at once at most; for more the whole view is made.
const MOST: usize = 2_000;

/// Tells what rows are asked of; `None` where it is more than a few joints or one run.
pub(super) fn about<R: Row>(wanted: &Rows<R>) -> Option<About> {
    let number = |column: &str| {
        wanted.tests().iter().find_map(|test| match test {
            Test::Is(name, Value::Int(n)) if *name == column => Some(*n),
            _ => None,
        })
    };
    let table = R::TABLE;
    let of_joints =
        table == JointRow::TABLE || WITHOUT_RUNS.contains(&table) || WITH_RUNS.contains(&table);
    if of_joints && let Some(joint) = number("joint") {
        return Some(About::Joint(joint));
    }
    if table == RunRow::TABLE {
        return number("run").map(About::Run);
    }
    if table == JointRunRow::TABLE {
        let position = JointRunRow::position().name();
        let (mut from, mut to) = (None, None);
        for test in wanted.tests() {
            match test {
                Test::AtLeast(name, Value::Int(n)) if *name == position => from = Some(*n),
                Test::AtMost(name, Value::Int(n)) if *name == position => to = Some(*n),
                _ => {}
            }
        }
        return Some(About::Places(number("run")?, from?, to?));
    }
    wanted.tests().iter().find_map(|test| match test {
        Test::Is(name, Value::Text(string))
            if table == JointRow::TABLE && *name == JointRow::string().name() =>
        {
            Some(About::String(string.clone()))
        }
        _ => None,
    })
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
                "SELECT joint FROM main.joint_run WHERE run = ?1 AND position BETWEEN ?2 AND ?3",
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
        self.narrow_about(path, &About::Joint(joint), ask)
    }

    /// The same for what a condition asks of.
    pub(super) fn narrow_about<T>(
        &self,
        path: &Path,
        about: &About,
        ask: impl FnOnce(&Connection) -> T,
    ) -> Result<Option<T>> {
        let mut slot = self.narrow.borrow_mut();
        if slot.is_none() {
            *slot = Narrow::open(self, path)?;
        }
        let Some(narrow) = &*slot else { return Ok(None) };
        let joints = match about {
            About::Joint(joint) => vec![*joint],
            About::Places(run, from, to) => narrow.at_places(path, *run, *from, *to)?,
            About::String(string) => narrow.in_string(self, path, string)?,
            About::Run(run) => {
                narrow.run(self, &mut self.pass(path)?, path, *run)?;
                return Ok(Some(ask(&narrow.conn)));
            }
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
    use crate::schema::{FindingRow, TouchRow};

    #[test]
    fn only_questions_of_one_joint_or_run_are_narrow() {
        assert_eq!(about(&Rows::of(JointRow::joint(), 3)), Some(About::Joint(3)));
        let open = Rows::of(FindingRow::joint(), 3).is(FindingRow::open(), true);
        assert_eq!(about(&open), Some(About::Joint(3)));
        let beside = Rows::of(JointRunRow::run(), 9)
            .at_least(JointRunRow::position(), 4)
            .at_most(JointRunRow::position(), 6);
        assert_eq!(about(&beside), Some(About::Places(9, 4, 6)));
        assert_eq!(about(&Rows::of(RunRow::run(), 9)), Some(About::Run(9)));
        let k1 = Some(About::String("K1".to_owned()));
        assert_eq!(about(&Rows::of(JointRow::string(), "K1")), k1);
        assert_eq!(about(&Rows::<JointRow>::all().named(JointRow::string(), "K1")), None);
        assert_eq!(about(&Rows::<JointRow>::all()), None);
        let either = [Rows::of(JointRow::joint(), 1), Rows::of(JointRow::string(), "K1")];
        assert_eq!(about(&Rows::all().any(either)), None);
        assert_eq!(about(&Rows::of(JointRunRow::run(), 9)), None);
        assert_eq!(about(&Rows::<JointRow>::all().one_of(JointRow::joint(), [1, 2])), None);
        assert_eq!(about(&Rows::of(TouchRow::joint(), 3)), None);
    }
}
