//! A book as it was, beside the book: nothing is copied that is not asked for.
//!
//! A view is a connection to the file, inside one transaction that only reads. Tables that it sees
//! otherwise than they stand in the file are shadowed by tables or views of the connection, under
//! the same names. Those that folds write are made when a statement is about to read them, and only
//! in the columns that it reads.

mod folds;
mod guard;
mod narrow;
mod quick;
mod sums;
mod tables;

use std::cell::{Cell, RefCell};
use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant as Clock};

use rusqlite::Connection;

use super::book::{self, Book};
use super::carry::{self, put_into};
use super::error::{InFile, Result, StoreError};
use super::ledger::last_position;
use super::migrate;
use super::project::{Lived, Pass, Past, PastRun};
use crate::schema::{JointRow, JointRunRow, Row, Rows, RunRow, StruckRow, Value};
use folds::Pile;
use guard::{Columns, Guard, Made};
use narrow::Narrow;
use quick::Quick;
use tables::{BY_ENTRY, WITH_RUNS, WITHOUT_RUNS, joint_without_runs};

/// What a view is made of.
#[derive(Debug)]
pub(super) struct View {
    /// The book as it stands, for the folds.
    source: Connection,
    past: Arc<Past>,
    guard: Guard,
    /// Statements whose tables are made.
    ready: RefCell<BTreeSet<String>>,
    /// Runs as the view sees them, once they were worked out.
    lived: RefCell<Option<Arc<Lived>>>,
    /// Something was folded already.
    folded: Cell<bool>,
    /// What it says of a few joints.
    narrow: RefCell<Option<Narrow>>,
    /// Last place that is seen.
    place: i64,
}

/// How often to look whether two connections read one state.
const PATIENCE: u32 = 100;

/// A connection to the book of its own, in the middle of a transaction that only reads.
pub(super) fn reader(path: &Path) -> Result<Connection> {
    let conn = book::open_read_only(path)?;
    book::configure(&conn, path)?;
    // Where a table is larger than memory should be, it goes to disk.
    conn.pragma_update(None, "temp_store", "FILE").in_file(path)?;
    conn.execute_batch("PRAGMA temp.cache_size = -131072; BEGIN").in_file(path)?;
    // Only the first look fixes which state of the book is read.
    last_position(&conn, path)?;
    Ok(conn)
}

/// Whether two connections read one state of the book.
fn is_one_state(a: &Connection, b: &Connection, path: &Path) -> Result<bool> {
    Ok(last_position(a, path)? == last_position(b, path)?)
}

/// What a view looks at: two connections that read one state of the book.
pub(super) fn readers(path: &Path) -> Result<(Connection, Connection)> {
    for _ in 0..PATIENCE {
        let (a, b) = (reader(path)?, reader(path)?);
        if is_one_state(&a, &b, path)? {
            return Ok((a, b));
        }
    }
    // Someone writes without a pause.
    Err(StoreError::Busy { path: path.to_path_buf() })
}

/// Puts what a view sees otherwise, and no fold writes, in the place of what stands in the file.
fn shadow(conn: &Connection, path: &Path, past: &Past, place: i64) -> Result<()> {
    conn.execute_batch(
        "CREATE TEMP TABLE unseen (position INTEGER PRIMARY KEY);
         CREATE TEMP TABLE otherwise AS SELECT * FROM main.entry WHERE 0;
         CREATE UNIQUE INDEX temp.otherwise_place ON otherwise (position);",
    )
    .in_file(path)?;
    {
        let mut hide =
            conn.prepare("INSERT INTO temp.unseen (position) VALUES (?1)").in_file(path)?;
        for position in &past.unseen.gone {
            hide.execute([position]).in_file(path)?;
        }
        let mut copy = conn
            .prepare("INSERT INTO temp.otherwise SELECT * FROM main.entry WHERE position = ?1")
            .in_file(path)?;
        let mut reword = conn
            .prepare("UPDATE temp.otherwise SET effective = ?2, body = ?3 WHERE position = ?1")
            .in_file(path)?;
        for (position, raw) in &past.unseen.reworded {
            copy.execute([position]).in_file(path)?;
            reword.execute((position, &raw.effective, &raw.body)).in_file(path)?;
        }
    }
    let mut sql = String::from(
        "CREATE TEMP VIEW entry AS
             SELECT * FROM main.entry
                 WHERE position NOT IN (SELECT position FROM temp.unseen)
                 AND position NOT IN (SELECT position FROM temp.otherwise)
             UNION ALL SELECT * FROM temp.otherwise;",
    );
    for (table, column) in BY_ENTRY {
        sql.push_str(&format!(
            "CREATE TEMP VIEW {table} AS SELECT * FROM main.{table}
                 WHERE {column} NOT IN (SELECT position FROM temp.unseen);"
        ));
    }
    sql.push_str(&format!(
        "CREATE TEMP VIEW projection_state AS
             SELECT only, version, {place} AS position FROM main.projection_state;"
    ));
    sql.push_str(&migrate::own_table(StruckRow::TABLE).0);
    conn.execute_batch(&sql).in_file(path)?;
    for row in &past.struck {
        put_into(conn, path, StruckRow::TABLE, row)?;
    }
    Ok(())
}

impl View {
    /// Shadows what a view sees otherwise.
    pub(super) fn over(
        conn: &mut Connection,
        source: Connection,
        path: &Path,
        past: Past,
        place: i64,
    ) -> Result<Self> {
        shadow(conn, path, &past, place)?;
        let is_named_alike = past.serials.is_empty();
        if is_named_alike {
            conn.execute_batch("CREATE TEMP VIEW serial AS SELECT * FROM main.serial")
                .in_file(path)?;
        }
        let guard = Guard::before(conn).in_file(path)?;
        for table in
            BY_ENTRY.map(|t| t.0).into_iter().chain(["entry", "projection_state", "struck"])
        {
            guard.allow(table, Made::Whole);
        }
        if is_named_alike {
            guard.allow("serial", Made::Whole);
        }
        Ok(Self {
            source,
            past: Arc::new(past),
            guard,
            ready: RefCell::default(),
            lived: RefCell::default(),
            folded: Cell::new(false),
            narrow: RefCell::default(),
            place,
        })
    }

    /// Makes the tables that a statement reads.
    fn ready(&self, conn: &Connection, path: &Path, sql: &str, until: Option<Until>) -> Result<()> {
        if self.ready.borrow().contains(sql) {
            return Ok(());
        }
        let lacks = self.guard.lacks(conn, sql).in_file(path)?;
        if !lacks.is_empty() {
            conn.pragma_update(None, "query_only", false).in_file(path)?;
            let made = self.guard.at_work(|| self.make(conn, path, &lacks, until));
            conn.pragma_update(None, "query_only", true).in_file(path)?;
            made?;
        }
        self.ready.borrow_mut().insert(sql.to_owned());
        Ok(())
    }

    /// Someone who works out what was.
    fn pass<'a>(&'a self, path: &'a Path) -> Result<Pass<'a>> {
        Pass::past(&self.source, path, &self.past)
    }

    /// Runs as the view sees them.
    fn lived(&self, path: &Path, until: Option<Until>) -> Result<Arc<Lived>> {
        if let Some(lived) = &*self.lived.borrow() {
            return Ok(Arc::clone(lived));
        }
        let again: Vec<i64> = self.past.runs.iter().copied().collect();
        let past = &self.past;
        let job = |source: &Connection,
                   pile: &Pile<'_>,
                   tell: &mut dyn FnMut(Vec<PastRun>) -> Result<()>|
         -> Result<()> {
            let mut pass = Pass::past(source, path, past)?;
            while let Some(chunk) = pile.take() {
                let runs = chunk.iter().map(|run| pass.past_run(*run, None));
                tell(runs.collect::<Result<_>>()?)?;
            }
            Ok(())
        };
        let mut runs = Vec::with_capacity(again.len());
        self.side_by_side(path, (&again, 1), until, &job, |some| {
            runs.extend(some);
            Ok(())
        })?;
        let lived = Arc::new(Lived::all(&self.pass(path)?, runs)?);
        *self.lived.borrow_mut() = Some(Arc::clone(&lived));
        Ok(lived)
    }

    fn make(
        &self,
        conn: &Connection,
        path: &Path,
        lacks: &Columns,
        until: Option<Until>,
    ) -> Result<()> {
        self.note_changes(conn, path)?;
        if lacks.contains_key(RunRow::TABLE) {
            self.make_runs(conn, path, until)?;
        }
        // Who asks again, or for much, gets all at once, but for the runs of joints, which are many.
        let much = WITHOUT_RUNS
            .into_iter()
            .chain(WITH_RUNS)
            .filter(|t| *t != JointRunRow::TABLE && lacks.contains_key(*t))
            .count()
            > 2;
        let again = self.folded.replace(true) || much;
        let is_made = |t: &str| self.guard.made(t) == Some(Made::Whole);
        let wanted =
            |t: &str| lacks.contains_key(t) || again && t != JointRunRow::TABLE && !is_made(t);
        let folded: Vec<&str> =
            WITHOUT_RUNS.into_iter().chain(WITH_RUNS).filter(|t| wanted(t)).collect();
        let columns = match lacks.get(JointRow::TABLE) {
            _ if again => (!is_made(JointRow::TABLE)).then_some(Made::Whole),
            asked => asked.map(|asked| columns_with(asked, &folded)),
        };
        if folded.is_empty() && columns.is_none() {
            return Ok(());
        }
        if folded.is_empty() && matches!(columns, Some(Made::Columns(_))) {
            let mut asked = lacks.get(JointRow::TABLE).cloned().unwrap_or_default();
            asked.insert("joint".to_owned());
            if let Some(Made::Columns(made)) = self.guard.made(JointRow::TABLE) {
                asked.extend(made);
            }
            if let Some(quick) = Quick::of(&asked) {
                // What was asked for is as good as any other beginning.
                self.folded.set(false);
                return self.make_quick(conn, path, asked, &quick, until);
            }
        }
        self.make_folded(conn, path, &folded, columns, until)
    }

    /// Names the joints that may have changed where statements can see them.
    fn note_changes(&self, conn: &Connection, path: &Path) -> Result<()> {
        conn.execute_batch(
            "CREATE TEMP TABLE IF NOT EXISTS changed (joint INTEGER PRIMARY KEY);
             CREATE TEMP TABLE IF NOT EXISTS renamed (joint INTEGER PRIMARY KEY);",
        )
        .in_file(path)?;
        for (table, joints) in [("changed", &self.past.joints), ("renamed", &self.past.serials)] {
            let mut add = conn
                .prepare(&format!("INSERT OR IGNORE INTO temp.{table} (joint) VALUES (?1)"))
                .in_file(path)?;
            for joint in joints {
                add.execute([joint]).in_file(path)?;
            }
        }
        Ok(())
    }

    fn make_runs(&self, conn: &Connection, path: &Path, until: Option<Until>) -> Result<()> {
        let (made, indexes) = migrate::own_table(RunRow::TABLE);
        let sql = format!(
            "DROP TABLE IF EXISTS temp.run; {made};
             INSERT INTO temp.run SELECT * FROM main.run
                 WHERE run NOT IN (SELECT position FROM temp.unseen)"
        );
        conn.execute_batch(&sql).in_file(path)?;
        let lived = self.lived(path, until)?;
        for run in lived.runs.values() {
            put_into(conn, path, RunRow::TABLE, &run.row)?;
        }
        conn.execute_batch(&indexes.join(";")).in_file(path)?;
        self.guard.allow(RunRow::TABLE, Made::Whole);
        Ok(())
    }
}

/// The columns of `joint` to fill where some are asked for, when these tables are folded too: what
/// takes a fold of the same depth comes with them.
fn columns_with(asked: &BTreeSet<String>, folded: &[&str]) -> Made {
    let without = |c: &str| joint_without_runs().any(|known| known == c);
    if folded.iter().any(|t| WITH_RUNS.contains(t)) {
        return Made::Whole;
    }
    let mut columns = asked.clone();
    columns.insert("joint".to_owned());
    if columns.iter().all(|c| without(c)) {
        columns.extend(joint_without_runs().map(str::to_owned));
        return Made::Columns(columns);
    }
    if Quick::of(&columns).is_some() { Made::Columns(columns) } else { Made::Whole }
}

/// When a question has taken too long.
#[derive(Clone, Copy, Debug)]
pub(super) struct Until {
    begun: Clock,
    limit: Duration,
}

impl Until {
    fn check(self) -> Result<()> {
        if self.begun.elapsed() > self.limit {
            return Err(StoreError::Deadline { limit: self.limit });
        }
        Ok(())
    }
}

impl Book {
    /// Makes ready what a statement reads, where the book is a view.
    pub(super) fn ready(&self, sql: &str) -> Result<()> {
        self.ready_within(sql, None)
    }

    /// The same, in so much time.
    pub(super) fn ready_within(&self, sql: &str, limit: Option<Duration>) -> Result<()> {
        let Some(view) = &self.view else { return Ok(()) };
        let until = limit.map(|limit| Until { begun: Clock::now(), limit });
        view.ready(&self.conn, &self.path, sql, until)
    }

    /// Someone who folds what this book says, and writes nothing.
    pub(super) fn pass(&self) -> Result<Pass<'_>> {
        match &self.view {
            Some(view) => view.pass(&self.path),
            None => Pass::begin(&self.conn, &self.path),
        }
    }

    /// Last place of a view.
    pub(super) fn place_of_view(&self) -> Option<i64> {
        self.view.as_ref().map(|v| v.place)
    }

    /// Puts a statement about one joint to what a view says of it; `None` where the book is no view.
    pub(super) fn of_joint<T>(
        &self,
        joint: i64,
        ask: impl FnOnce(&Connection) -> T,
    ) -> Result<Option<T>> {
        let Some(view) = &self.view else { return Ok(None) };
        view.narrow_to(&self.path, joint, ask)
    }

    /// Puts a statement to what is said of one joint, or of all.
    pub(super) fn of_one_or_all(
        &self,
        only: Option<i64>,
        sql: &str,
        mut ask: impl FnMut(&Connection) -> Result<()>,
    ) -> Result<()> {
        if let Some(joint) = only
            && let Some(done) = self.of_joint(joint, &mut ask)?
        {
            return done;
        }
        self.ready(sql)?;
        ask(&self.conn)
    }

    /// Rows of one joint or run, as a view sees them; `None` where more is asked for.
    pub(super) fn narrow_rows<R: Row>(
        &self,
        wanted: &Rows<R>,
        rest: &str,
        values: &[Value],
    ) -> Result<Option<Vec<R>>> {
        let Some(view) = &self.view else { return Ok(None) };
        let Some(about) = narrow::about(wanted) else { return Ok(None) };
        let rows = view.narrow_about(&self.path, &about, |conn| {
            carry::get(conn, &self.path, rest, &carry::params(values))
        })?;
        rows.transpose()
    }
}
