//! Books as columnar files that any engine reads: the derived tables and the ledger as Parquet, one
//! folder a state.
//!
//! A folder of states (`DIR`) is shared by the books of several sites:
//!
//! ```text
//! DIR/state-7-1a2b3c4d5e6f/joint_run/site=yard/part-00000.parquet
//!                         /…
//!                         /superseded/part-00000.parquet
//!                         /manifest.json
//!                         /tables.md
//! ```
//!
//! A state is made under a hidden name and gets its own when every byte of it is on the disk; from then
//! on nothing in it changes. Files whose rows did not change since the state before are links to its
//! files. The same books give the same bytes.
//!
//! Rows come from the store as they stand: whole numbers of quanta, ms of UTC, words. This room knows
//! neither SQL nor what a row means.

mod describe;
mod manifest;
mod part;
mod publish;
mod read;
mod sites;
mod state;

use std::path::{Path, PathBuf};

pub use manifest::{FileNote, Manifest, SiteState};
pub use publish::{How, Published, publish};

use crate::store::StoreError;

/// Why nothing was published.
#[derive(Debug, thiserror::Error)]
pub enum PublishError {
    #[error(transparent)]
    Store(#[from] StoreError),
    #[error("{}: {source}", path.display())]
    Io { path: PathBuf, source: std::io::Error },
    #[error("{}: it could not be written as Parquet: {source}", path.display())]
    Parquet { path: PathBuf, source: parquet::errors::ParquetError },
    /// Somebody else publishes there.
    #[error(
        "somebody publishes into {} at this moment; wait until that is done, or publish elsewhere",
        dir.display()
    )]
    Locked { dir: PathBuf },
    /// The folder holds something else.
    #[error(
        "{} holds other things than states of a publication ({found}); name a folder of its own, or one \
         that is not there yet",
        dir.display()
    )]
    NotOurs { dir: PathBuf, found: String },
    /// The manifest of the newest state cannot be used.
    #[error(
        "{}: {what}; take that state away to go on from the one before it",
        path.display()
    )]
    Manifest { path: PathBuf, what: String },
    /// The newest state was published from a later state of the site's book.
    #[error(
        "{} holds what site {site} published when its book ended at {published}, which this book does \
         not hold: it is an older copy, or another book of that site. Publish from the newest book, or \
         say --anew to put this one in its place",
        dir.display()
    )]
    NotItsFuture { dir: PathBuf, site: String, published: String },
    /// A stored value is not what its column says.
    #[error(
        "table {table}, column {column}: what is stored there is not of the kind that the column holds; \
         `pipelore verify` says what is wrong with the book"
    )]
    Value { table: &'static str, column: &'static str },
}

/// Adds the file to what the operating system says.
trait At<T> {
    fn at(self, path: &Path) -> Result<T, PublishError>;
}

impl<T> At<T> for std::io::Result<T> {
    fn at(self, path: &Path) -> Result<T, PublishError> {
        self.map_err(|source| PublishError::Io { path: path.to_path_buf(), source })
    }
}

impl<T> At<T> for Result<T, parquet::errors::ParquetError> {
    fn at(self, path: &Path) -> Result<T, PublishError> {
        self.map_err(|source| PublishError::Parquet { path: path.to_path_buf(), source })
    }
}
