//! What can go wrong with a book file. Told apart by SQLite's codes, never by its messages.

use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{ErrorCode, ffi};

use crate::ledger::{BundleError, ChainFault, RawError, SealError};
use crate::projection::adoptions::Unreadable;

/// A fact that excludes another one already in the book.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Clash {
    /// Serial of the joint.
    pub serial: String,
    /// The entry already there, or taken first.
    pub first: String,
    /// The entry that does not fit; its index among the drafts when it is new.
    pub second: String,
    /// What cannot be.
    pub what: String,
}

/// Why a book could not be used.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// There is no such file.
    #[error("there is no book at {}", path.display())]
    NotFound {
        /// The file.
        path: PathBuf,
    },
    /// A file stands where a book was to be started.
    #[error("{} already exists; a new book is never written over a file", path.display())]
    Exists {
        /// The file.
        path: PathBuf,
    },
    /// Something of an earlier book stands beside the place of a new one.
    #[error(
        "{} stands where {} would be made: it is left of an earlier book of that name, and would be \
         taken for a part of the new one",
        left.display(),
        path.display()
    )]
    LeftOver {
        /// The book to be made.
        path: PathBuf,
        /// What is left over.
        left: PathBuf,
    },
    /// A copy that is the book itself.
    #[error("{} is the book itself; a copy of it can be put back, not the file", path.display())]
    SameFile {
        /// The file.
        path: PathBuf,
    },
    /// What is noted beside a book as its head cannot be read as one.
    #[error(
        "{} cannot be read as the head of {}: whether the book lost its tail cannot be told; \
         nothing was written",
        side.display(),
        path.display()
    )]
    HeadUnreadable {
        /// The book.
        path: PathBuf,
        /// The side file.
        side: PathBuf,
    },
    /// The log beside a file is of another state of the book.
    #[error(
        "{} is of another state of the book than {}: the file was put back or changed by hand, and \
         read together they would be a mixture of both; nothing was read",
        log.display(),
        path.display()
    )]
    StrangeLog {
        /// The file.
        path: PathBuf,
        /// The log beside it.
        log: PathBuf,
    },
    /// A file with two names would have two heads and two logs.
    #[error(
        "{} is one of {names} names of the same file; each would have a head and a log of its own; \
         nothing was written",
        path.display()
    )]
    ManyNames {
        /// The name given.
        path: PathBuf,
        /// How many there are.
        names: u64,
    },
    /// Derived rows are of another ledger than the one in the file.
    #[error(
        "{}: what was derived belongs to {derived} entries and not to those in the file, which end \
         at {found}",
        path.display()
    )]
    NotOfThisLedger {
        /// The file.
        path: PathBuf,
        /// Entries from which the rows were derived.
        derived: i64,
        /// Place of the last entry.
        found: i64,
    },
    /// A book that is read without a lock was written to in between.
    #[error(
        "{} was written to while it was read by somebody who may not write it and so cannot hold it; \
         what was read may be a mixture, and is not shown",
        path.display()
    )]
    WrittenMeanwhile {
        /// The file.
        path: PathBuf,
    },
    /// What is derived of a joint is not what its entries give.
    #[error(
        "{}: what is derived of {joint} does not follow from its entries and its runs: something was \
         altered, and nothing is said of it",
        path.display()
    )]
    NotDerived {
        /// The file.
        path: PathBuf,
        /// Serial of the joint.
        joint: String,
    },
    /// The operating system took no more.
    #[error(
        "{} could not be written: the disk failed, or the file reached a limit of size (ulimit -f)",
        path.display()
    )]
    NotTaken {
        /// The file.
        path: PathBuf,
        /// What SQLite said.
        source: rusqlite::Error,
    },
    /// Another command began an epoch since the book was opened.
    #[error(
        "{}: another command began {now} since this one opened the book as {opened}; nothing was \
         written",
        path.display()
    )]
    OtherEpoch {
        /// The file.
        path: PathBuf,
        /// The chain as it was opened.
        opened: String,
        /// The chain that the book writes now.
        now: String,
    },
    /// The file is something else.
    #[error("{} is not a book: {why}; it was left untouched", path.display())]
    NotABook {
        /// The file.
        path: PathBuf,
        /// What it is instead.
        why: String,
    },
    /// A newer program wrote it.
    #[error(
        "{} was written by a newer version (layout {version}, this version knows {known}); it was \
         left untouched",
        path.display()
    )]
    Newer {
        /// The file.
        path: PathBuf,
        /// Layout found.
        version: i64,
        /// Newest layout known.
        known: i64,
    },
    /// Other code laid it out.
    #[error(
        "{} was laid out by other code: migration {number} ({name}) differs from this version's",
        path.display()
    )]
    ForeignLayout {
        /// The file.
        path: PathBuf,
        /// Number of the migration.
        number: i64,
        /// Its name.
        name: String,
    },
    /// The file is damaged.
    #[error("{} is damaged: {what}; nothing was changed", path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        what: String,
    },
    /// The book ends before the head that was written beside it.
    #[error(
        "{} has lost its tail: {anchored} was written, the book ends at {found}",
        path.display()
    )]
    TailLost {
        /// The file.
        path: PathBuf,
        /// Head noted beside the file.
        anchored: String,
        /// Head in the file.
        found: String,
    },
    /// Entries were written, but the head could not be noted beside the book.
    #[error(
        "{} was written and ends at {head}, but that could not be noted in {}: {source}; what was \
         written stands, do not write it again",
        path.display(),
        side.display()
    )]
    HeadNotNoted {
        /// The book.
        path: PathBuf,
        /// Its head.
        head: String,
        /// The side file.
        side: PathBuf,
        /// What the operating system said.
        source: std::io::Error,
    },
    /// An epoch that other books may know as another one.
    #[error("epoch {asked} is taken; the next one free is {least}")]
    EpochTaken {
        /// Epoch asked for.
        asked: u32,
        /// Least that is free.
        least: u32,
    },
    /// An epoch far above all that are known.
    #[error(
        "epoch {asked} is far above those known; the next one free is {least}, the last that can begin is {most}"
    )]
    EpochAhead {
        /// Epoch asked for.
        asked: u32,
        /// Least that is free.
        least: u32,
        /// Greatest that is taken.
        most: u32,
    },
    /// A bundle was refused.
    #[error(transparent)]
    Bundle(#[from] BundleError),
    /// No entry fits what was to be sent.
    #[error("there are no entries to send from there on")]
    NothingToSend,
    /// A key was given and nothing of its site is among what is sent.
    #[error("the key seals for {0}, and nothing of that site is among what is sent")]
    NothingToSeal(String),
    /// A site that the book does not hold.
    #[error("the book holds no entry of {0}")]
    NoSite(String),
    /// A file of keys was refused.
    #[error("{}: {source}", path.display())]
    Keys {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        source: SealError,
    },
    /// The lost tail can still be read.
    #[error(
        "{}: SQLite no longer shows {head}, but its pages still hold it; nothing was changed",
        path.display()
    )]
    TailInLog {
        /// The file.
        path: PathBuf,
        /// The head that is lost.
        head: String,
    },
    /// Another program holds it.
    #[error("{} is being written by another program", path.display())]
    Busy {
        /// The file.
        path: PathBuf,
    },
    /// No space left.
    #[error("no space left to write {}; nothing was changed", path.display())]
    Full {
        /// The file.
        path: PathBuf,
    },
    /// Cannot be written.
    #[error("{} cannot be written: the file or its folder is read-only", path.display())]
    ReadOnly {
        /// The file.
        path: PathBuf,
    },
    /// The file system cannot do what a book needs.
    #[error(
        "{} stands on a file system that cannot share a write-ahead log (a network share?); keep \
         the book on a local disk",
        path.display()
    )]
    NoSharedLog {
        /// The file.
        path: PathBuf,
    },
    /// A question took longer than allowed.
    #[error("the question took longer than {}", seconds(limit))]
    Deadline {
        /// The limit.
        limit: Duration,
    },
    /// New facts exclude facts of the book.
    #[error("{} of the new facts exclude facts of the book", .0.len())]
    Refused(Vec<Clash>),
    /// An entry could not be written or read.
    #[error(transparent)]
    Entry(#[from] RawError),
    /// The chain is broken.
    #[error("{}: {source}", path.display())]
    Chain {
        /// The file.
        path: PathBuf,
        /// Where and how.
        source: ChainFault,
    },
    /// A derived value does not fit its column.
    #[error("{}: column {column} of {table} holds what it should not; rebuild the book", path.display())]
    Row {
        /// The file.
        path: PathBuf,
        /// Table.
        table: &'static str,
        /// Column.
        column: &'static str,
    },
    /// An entry that was named is not in the book.
    #[error("there is no entry {0} in this book")]
    NoEntry(String),
    /// A fold could not work an entry in.
    #[error("entry {entry}: {what}")]
    Fold {
        /// The entry.
        entry: String,
        /// What is wrong.
        what: String,
    },
    /// The operating system said no.
    #[error("{}: {source}", path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// What it said.
        source: std::io::Error,
    },
    /// Anything else SQLite said.
    #[error("{}: {source}", path.display())]
    Sqlite {
        /// The file.
        path: PathBuf,
        /// What it said.
        source: rusqlite::Error,
    },
}

fn seconds(d: &Duration) -> String {
    format!("{} s", d.as_secs_f64())
}

impl From<Unreadable> for StoreError {
    fn from(e: Unreadable) -> Self {
        Self::Fold { entry: e.entry, what: e.what }
    }
}

impl StoreError {
    /// Sorts what SQLite said by its code.
    pub(super) fn from_sqlite(path: &Path, source: rusqlite::Error) -> Self {
        let path = path.to_path_buf();
        // A column of another kind than the layout says, or text that is none.
        if matches!(
            source,
            rusqlite::Error::InvalidColumnType(..)
                | rusqlite::Error::IntegralValueOutOfRange(..)
                | rusqlite::Error::FromSqlConversionFailure(..)
                | rusqlite::Error::Utf8Error(..)
        ) {
            return Self::Damaged { path, what: source.to_string() };
        }
        if source.sqlite_error().is_some_and(|e| e.extended_code == ffi::SQLITE_IOERR_WRITE) {
            return Self::NotTaken { path, source };
        }
        match source.sqlite_error_code() {
            Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => {
                Self::Damaged { path, what: source.to_string() }
            }
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Busy { path },
            Some(ErrorCode::DiskFull) => Self::Full { path },
            Some(ErrorCode::ReadOnly) => Self::ReadOnly { path },
            Some(ErrorCode::CannotOpen) if !path.exists() => Self::NotFound { path },
            _ => Self::Sqlite { path, source },
        }
    }

    pub(super) fn io(path: &Path, source: std::io::Error) -> Self {
        let path = path.to_path_buf();
        match source.kind() {
            std::io::ErrorKind::NotFound => Self::NotFound { path },
            std::io::ErrorKind::StorageFull => Self::Full { path },
            std::io::ErrorKind::ReadOnlyFilesystem => Self::ReadOnly { path },
            _ => Self::Io { path, source },
        }
    }
}

/// Result of the store.
pub type Result<T> = std::result::Result<T, StoreError>;

/// Gives a SQLite error the name of the file.
pub(super) trait InFile<T> {
    fn in_file(self, path: &Path) -> Result<T>;
}

impl<T> InFile<T> for rusqlite::Result<T> {
    fn in_file(self, path: &Path) -> Result<T> {
        self.map_err(|e| StoreError::from_sqlite(path, e))
    }
}
