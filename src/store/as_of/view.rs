//! A view of the past: its date, and what was worked out for it so far.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};
use std::time::{Duration, Instant as Stopwatch};

use rusqlite::Connection;

use super::memo::Memo;
use super::sight::Sight;
use crate::ledger::RawEntry;
use crate::model::Clock;
use crate::projection::joint::JointOutput;
use crate::schema::{
    ConflictRow, CustodyRow, JointRunRow, JointStateRow, MoveRow, Row, RunPartRow, RunRow, Value,
};
use crate::store::connect::{configure, open_read_only};
use crate::store::entries::last_position;
use crate::store::error::{InFile, Result, StoreError};
use crate::store::project::SeenRun;

/// A date from which a book is seen, and what was worked out for it.
#[derive(Debug)]
pub(in crate::store) struct AsOf {
    pub(super) path: PathBuf,
    /// From this instant on nothing is seen.
    pub(super) horizon: i64,
    /// The clock of the book.
    pub(super) clock: Clock,
    /// The last place of the book: connections of one view read one state of it.
    pub(super) end: i64,
    pub(super) sight: Sight,
    pub(super) conflicts: OnceLock<Conflicts>,
    pub(super) under_way: UnderWay,
    pub(super) figures: Figures,
    /// When the question at hand has taken too long.
    pub(super) deadline: Mutex<Option<(Stopwatch, Duration)>>,
}

/// Facts that exclude each other, and what follows from that, as the view sees it.
#[derive(Debug, Default)]
pub(super) struct Conflicts {
    pub rows: Vec<ConflictRow>,
    /// Runs in conflict, and runs of a joint that end together, by joint.
    pub runs: BTreeMap<i64, Vec<SeenRun>>,
    /// Joints of which the file says something else, with their states and moves.
    pub otherwise: BTreeSet<i64>,
    pub states: Vec<JointStateRow>,
    pub custody: Vec<CustodyRow>,
    pub moves: Vec<MoveRow>,
}

/// What a joint went through in all. Sums are kept as a state keeps them, for they are many.
#[derive(Debug)]
pub(super) enum OfLife {
    Sums { runs: i64, last_run: Option<i64>, presence: i64, totals: Vec<u8> },
    Folded(Box<JointOutput>),
}

/// The same since the inspections of its scopes.
#[derive(Debug)]
pub(super) enum SinceInspections {
    Sums(Vec<Since>),
    Folded(Box<JointOutput>),
}

/// Since an inspection, or since the joint entered.
#[derive(Debug)]
pub(super) struct Since {
    /// Scopes of which it is the latest, as a set.
    pub covers: i64,
    pub at: i64,
    pub entry: Option<i64>,
    pub totals: Vec<u8>,
}

/// What was worked out of joints.
#[derive(Debug)]
pub(super) struct Figures {
    pub own: Mutex<Reader>,
    /// Sees the book as the view does, for folds.
    pub view: Mutex<Option<Connection>>,
    pub life: Memo<Arc<OfLife>>,
    pub since: Memo<Arc<SinceInspections>>,
}

/// What reads the book for the sums of joints.
#[derive(Debug)]
pub(super) struct Reader {
    pub source: Connection,
    /// Summary bits of runs read so far.
    pub runs: BTreeMap<i64, i64>,
}

impl Figures {
    pub(super) fn new(source: Connection) -> Self {
        Self {
            own: Mutex::new(Reader { source, runs: BTreeMap::new() }),
            view: Mutex::default(),
            life: Memo::new(),
            since: Memo::new(),
        }
    }
}

/// A run as far as it had come.
#[derive(Debug)]
pub(super) struct PartRun {
    /// The run.
    pub row: RunRow,
    /// What its joints went through, by joint.
    pub lines: BTreeMap<i64, JointRunRow>,
    /// Parts before the instants of entries, by joint and instant.
    pub parts: BTreeMap<(i64, i64), RunPartRow>,
}

/// The runs of a view.
#[derive(Debug)]
pub(super) struct UnderWay {
    pub source: Mutex<Connection>,
    pub runs: Memo<Arc<PartRun>>,
    pub words: Memo<Arc<RawEntry>>,
}

impl UnderWay {
    pub(super) fn new(source: Connection) -> Self {
        Self { source: Mutex::new(source), runs: Memo::new(), words: Memo::new() }
    }
}

/// A connection to the book of its own, in the middle of a transaction that only reads.
pub(in crate::store) fn reader(path: &Path) -> Result<Connection> {
    let (conn, _) = open_read_only(path)?;
    configure(&conn, path)?;
    conn.execute_batch("PRAGMA cache_size = -8192; BEGIN").in_file(path)?;
    // Only the first look fixes which state of the book is read.
    last_position(&conn, path)?;
    Ok(conn)
}

impl AsOf {
    pub(in crate::store) const fn sight(&self) -> &Sight {
        &self.sight
    }

    pub(super) fn conflicts(&self) -> Option<&Conflicts> {
        self.conflicts.get()
    }

    /// Gives the question at hand so much time.
    pub(in crate::store) fn allow(&self, limit: Option<Duration>) {
        *self.deadline.lock().unwrap_or_else(PoisonError::into_inner) =
            limit.map(|limit| (Stopwatch::now(), limit));
    }

    pub(super) fn check_time(&self) -> Result<()> {
        let deadline = *self.deadline.lock().unwrap_or_else(PoisonError::into_inner);
        match deadline {
            Some((begun, limit)) if begun.elapsed() > limit => Err(StoreError::Deadline { limit }),
            _ => Ok(()),
        }
    }

    /// A column of a row.
    pub(super) fn own_column<R: Row>(&self, row: &R, column: &str) -> Result<Value> {
        let at = R::spec().names.iter().position(|c| *c == column);
        at.and_then(|at| row.values().into_iter().nth(at))
            .ok_or_else(|| self.damaged(&format!("{} has no column {column}", R::TABLE)))
    }

    pub(super) fn damaged(&self, what: &str) -> StoreError {
        StoreError::Damaged { path: self.path.clone(), what: what.to_owned() }
    }
}
