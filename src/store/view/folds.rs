//! Tables that folds of joints write: what did not change is taken over, what may have is folded
//! again, on all threads.

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::{SyncSender, sync_channel};

use rusqlite::{Connection, params_from_iter};

use super::guard::Made;
use super::tables::{WITH_RUNS, joint_without_runs};
use super::{Until, View, reader};
use crate::projection::joint::SeeRows;
use crate::schema::{JointRow, JointRunRow, Row};
use crate::store::carry::put_into;
use crate::store::error::{InFile, Result, StoreError};
use crate::store::ledger::last_position;
use crate::store::migrate;
use crate::store::project::{Lived, Pass, PastFold};

/// Joints folded in one go.
pub(super) const CHUNK: usize = 128;

/// Answers that wait to be written.
const WAITING: usize = 16;

/// What the folds of some joints said.
type Answers = Vec<(i64, PastFold)>;

/// Joints that are still to be worked on, for whoever has time.
pub(super) struct Pile<'a> {
    joints: &'a [i64],
    /// So many are taken at once.
    chunk: usize,
    next: AtomicUsize,
    stop: AtomicBool,
}

impl Pile<'_> {
    pub(super) fn take(&self) -> Option<&[i64]> {
        if self.stop.load(Ordering::Relaxed) {
            return None;
        }
        let from = self.next.fetch_add(self.chunk, Ordering::Relaxed);
        let to = from.saturating_add(self.chunk).min(self.joints.len());
        self.joints.get(from..to).filter(|c| !c.is_empty())
    }
}

/// Takes joints from a pile and tells what came of them, reading the book through a connection.
type Job<'j, T> =
    dyn Fn(&Connection, &Pile<'_>, &mut dyn FnMut(T) -> Result<()>) -> Result<()> + Sync + 'j;

impl View {
    /// Makes tables that folds write.
    pub(super) fn make_folded(
        &self,
        conn: &Connection,
        path: &Path,
        tables: &[&str],
        columns: Option<Made>,
        until: Option<Until>,
    ) -> Result<()> {
        let mut indexes = Vec::new();
        for table in tables.iter().copied().chain(columns.is_some().then_some(JointRow::TABLE)) {
            self.guard.forbid(table);
            indexes.extend(take_over(conn, path, table, columns.as_ref(), &self.past.runs)?);
        }
        let without = |c: &String| joint_without_runs().any(|known| known == c);
        let lived = tables.iter().any(|t| WITH_RUNS.contains(t))
            || match &columns {
                Some(Made::Whole) => true,
                Some(Made::Columns(columns)) => !columns.iter().all(without),
                None => false,
            };
        let lived = if lived { Some(self.lived(path, until)?) } else { None };
        let only_serials = columns.is_none() && tables == ["serial"];
        let joints = if only_serials { &self.past.serials } else { &self.past.joints };
        let joints: Vec<i64> = joints.iter().copied().collect();
        let scribe = Scribe::new(conn, path, tables, columns.as_ref(), Some(&self.past.runs));
        self.each_fold(path, &joints, lived.as_deref(), until, |joint, folded| {
            scribe.write(joint, &folded)
        })?;
        for sql in indexes {
            conn.execute_batch(&sql).in_file(path)?;
        }
        for table in tables {
            self.guard.allow(table, Made::Whole);
        }
        if let Some(columns) = columns {
            self.guard.allow(JointRow::TABLE, columns);
        }
        Ok(())
    }

    /// Folds joints side by side; what comes of it is seen in whatever order.
    pub(super) fn each_fold(
        &self,
        path: &Path,
        joints: &[i64],
        lived: Option<&Lived>,
        until: Option<Until>,
        mut see: impl FnMut(i64, PastFold) -> Result<()>,
    ) -> Result<()> {
        let past = &self.past;
        let job = |source: &Connection,
                   pile: &Pile<'_>,
                   tell: &mut dyn FnMut(Answers) -> Result<()>|
         -> Result<()> {
            let mut pass = Pass::past(source, path, past)?;
            while let Some(chunk) = pile.take() {
                let mut out = Vec::with_capacity(chunk.len());
                for joint in chunk {
                    out.push((*joint, pass.fold_past(*joint, lived)?));
                }
                tell(out)?;
            }
            Ok(())
        };
        self.side_by_side(path, (joints, CHUNK), until, &job, |answers: Answers| {
            answers.into_iter().try_for_each(|(joint, folded)| see(joint, folded))
        })
    }

    /// Works through joints on all threads; this one also takes in what comes of it.
    pub(super) fn side_by_side<T: Send>(
        &self,
        path: &Path,
        (joints, chunk): (&[i64], usize),
        until: Option<Until>,
        job: &Job<'_, T>,
        mut see: impl FnMut(T) -> Result<()>,
    ) -> Result<()> {
        let pile = Pile { joints, chunk, next: AtomicUsize::new(0), stop: AtomicBool::new(false) };
        let others = match joints.len() {
            n if n < 4 * chunk => 0,
            _ => std::thread::available_parallelism().map_or(1, usize::from) - 1,
        };
        let same = last_position(&self.source, path)?;
        let (send, answers) = sync_channel(WAITING);
        std::thread::scope(|scope| {
            for _ in 0..others {
                let (pile, send) = (&pile, send.clone());
                scope.spawn(move || help(path, same, pile, job, &send));
            }
            drop(send);
            let mut work = || -> Result<()> {
                job(&self.source, &pile, &mut |told| {
                    until.map_or(Ok(()), Until::check)?;
                    see(told)?;
                    answers.try_iter().try_for_each(|told: Result<T>| see(told?))
                })?;
                // Until all who help are done.
                for told in &answers {
                    until.map_or(Ok(()), Until::check)?;
                    see(told?)?;
                }
                Ok(())
            };
            let done = work();
            pile.stop.store(true, Ordering::Relaxed);
            // Whoever waits to tell more is not heard.
            drop(answers);
            done
        })
    }
}

/// Takes part in the work, through a connection of its own; leaves it to the others where that shows
/// another state of the book.
fn help<T: Send>(
    path: &Path,
    same: i64,
    pile: &Pile<'_>,
    job: &Job<'_, T>,
    send: &SyncSender<Result<T>>,
) {
    let Ok(source) = reader(path) else { return };
    if last_position(&source, path).ok() != Some(same) {
        return;
    }
    let unheard = |_| StoreError::Busy { path: path.to_path_buf() };
    if let Err(error) = job(&source, pile, &mut |told| send.send(Ok(told)).map_err(unheard)) {
        let _ = send.send(Err(error));
    }
}

/// Makes a table with the rows that did not change. The indexes to make when it is full.
pub(super) fn take_over(
    conn: &Connection,
    path: &Path,
    table: &str,
    columns: Option<&Made>,
    again: &BTreeSet<i64>,
) -> Result<Vec<String>> {
    let (made, indexes) = migrate::own_table(table);
    conn.execute_batch(&format!("DROP TABLE IF EXISTS temp.\"{table}\"; {made}")).in_file(path)?;
    let sql = match (table, columns) {
        ("joint", Some(Made::Columns(columns))) => {
            let list: Vec<String> = columns.iter().map(|c| format!("\"{c}\"")).collect();
            let list = list.join(", ");
            format!(
                "INSERT INTO temp.joint ({list}) SELECT {list} FROM main.joint
                 WHERE joint NOT IN (SELECT joint FROM temp.changed)"
            )
        }
        // Most of its rows stay as they are, those of joints that changed too. All of a table at
        // once is copied as it stands.
        ("joint_run", _) => {
            let again: Vec<String> = again.iter().map(ToString::to_string).collect();
            format!(
                "INSERT INTO temp.joint_run SELECT * FROM main.joint_run;
                 DELETE FROM temp.joint_run
                     WHERE run IN (SELECT position FROM temp.unseen) OR run IN ({})",
                again.join(", ")
            )
        }
        ("serial", _) => "INSERT INTO temp.serial SELECT * FROM main.serial
                              WHERE joint NOT IN (SELECT joint FROM temp.renamed)"
            .to_owned(),
        _ => format!(
            "INSERT INTO temp.\"{table}\" SELECT * FROM main.\"{table}\"
             WHERE joint NOT IN (SELECT joint FROM temp.changed)"
        ),
    };
    conn.execute_batch(&sql).in_file(path)?;
    Ok(indexes)
}

/// Writes what folds say into the tables that are being made.
pub(super) struct Scribe<'a> {
    conn: &'a Connection,
    path: &'a Path,
    tables: &'a [&'a str],
    /// Which columns of `joint`, and the statement that writes them.
    joint: Option<(Vec<usize>, String)>,
    /// Runs that were derived again, where the others stand in the table already.
    again: Option<&'a BTreeSet<i64>>,
}

impl<'a> Scribe<'a> {
    pub(super) fn new(
        conn: &'a Connection,
        path: &'a Path,
        tables: &'a [&'a str],
        columns: Option<&Made>,
        again: Option<&'a BTreeSet<i64>>,
    ) -> Self {
        let joint = columns.map(|columns| {
            let wanted = |c: &&str| match columns {
                Made::Whole => true,
                Made::Columns(list) => list.contains(*c),
            };
            let all = JointRow::spec().names.iter().copied().enumerate();
            let (places, names): (Vec<usize>, Vec<&str>) = all.filter(|(_, c)| wanted(c)).unzip();
            let list: Vec<String> = names.iter().map(|c| format!("\"{c}\"")).collect();
            let marks = vec!["?"; names.len()].join(", ");
            (
                places,
                format!("INSERT OR REPLACE INTO temp.joint ({}) VALUES ({marks})", list.join(", ")),
            )
        });
        Self { conn, path, tables, joint, again }
    }

    fn rows<R: Row>(&self, rows: &[R]) -> Result<()> {
        if !self.tables.contains(&R::TABLE) {
            return Ok(());
        }
        rows.iter().try_for_each(|row| put_into(self.conn, self.path, R::TABLE, row))
    }

    pub(super) fn write(&self, joint: i64, folded: &PastFold) -> Result<()> {
        self.rows(&folded.dims)?;
        self.rows(&folded.parts)?;
        if let Some(output) = &folded.output {
            if let Some((places, sql)) = &self.joint {
                let values = output.joint.values();
                let values = places.iter().filter_map(|p| values.get(*p));
                self.conn
                    .prepare_cached(sql)
                    .and_then(|mut s| s.execute(params_from_iter(values)))
                    .in_file(self.path)?;
            }
            self.rows(&output.since)?;
            output.records.each(&mut Records(self))?;
        }
        if self.tables.contains(&JointRunRow::TABLE) {
            self.runs(joint, folded)?;
        }
        Ok(())
    }

    /// Rows of a joint's runs: those that differ from the file's.
    fn runs(&self, joint: i64, folded: &PastFold) -> Result<()> {
        for run in &folded.runs {
            let mut row = run.clone();
            if let Some(output) = &folded.output {
                row.conflicting = output.conflicted_runs.contains(&run.run);
                row.restriction_broken = output.broken_runs.contains(&run.run);
            }
            if self.again.is_none_or(|again| again.contains(&run.run)) {
                put_into(self.conn, self.path, JointRunRow::TABLE, &row)?;
            } else if row != *run {
                self.conn
                    .prepare_cached(
                        "UPDATE temp.joint_run SET conflicting = ?1, restriction_broken = ?2
                         WHERE joint = ?3 AND finish = ?4 AND run = ?5",
                    )
                    .and_then(|mut s| {
                        s.execute((
                            row.conflicting,
                            row.restriction_broken,
                            joint,
                            row.finish,
                            row.run,
                        ))
                    })
                    .in_file(self.path)?;
            }
        }
        Ok(())
    }
}

/// Writes the records of a joint.
struct Records<'s, 'a>(&'s Scribe<'a>);

impl SeeRows for Records<'_, '_> {
    type Error = StoreError;

    fn rows<R: Row>(&mut self, rows: &[R]) -> Result<()> {
        self.0.rows(rows)
    }
}
