//! What a state says of itself: whose books it holds, up to where, and which files.

use std::collections::BTreeMap;
use std::path::Path;

use serde::{Deserialize, Serialize};

use super::{At, PublishError};
use crate::store::ChainEnd;

/// Its name in a state.
pub(super) const NAME: &str = "manifest.json";

/// Version of the files and of the manifest. A state of another one is made anew.
pub(super) const FORMAT: u32 = 1;

/// A state of a publication.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Manifest {
    /// Version of the layout.
    pub pipelore_publication: u32,
    /// Number of the state: one more than that of the state before.
    pub number: u64,
    /// The books that it holds, by their sites.
    pub sites: BTreeMap<String, SiteState>,
    /// Files about the books of all sites.
    pub files: Vec<FileNote>,
}

/// What a state holds of the book of a site.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SiteState {
    /// Last entry of the book's own chain and its hash.
    pub head: String,
    /// How far the book knows each site: the last entry that it holds of every chain.
    pub chains: Vec<ChainEnd>,
    /// The program that wrote it.
    pub program: String,
    /// Version of the derived rows, and digest of the description of the tables.
    pub projections: i64,
    pub tables: String,
    /// Rows of the table `joint`.
    pub joints: u64,
    pub files: Vec<FileNote>,
}

/// A file of a state.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FileNote {
    /// Its path below the folder of the state.
    pub path: String,
    pub rows: u64,
    pub bytes: u64,
    pub sha256: String,
    /// Digest of the rows, by which the next publication sees that they did not change.
    pub content: String,
}

impl Manifest {
    /// Reads that of a state.
    pub(super) fn read(state: &Path) -> Result<Self, PublishError> {
        let path = state.join(NAME);
        let text = std::fs::read_to_string(&path).at(&path)?;
        let wrong = |what: String| PublishError::Manifest { path: path.clone(), what };
        let read: Self = serde_json::from_str(&text)
            .map_err(|e| wrong(format!("it is no manifest of a publication: {e}")))?;
        if read.pipelore_publication > FORMAT {
            return Err(wrong("a newer program wrote it; use that one".to_owned()));
        }
        Ok(read)
    }

    /// As it is written.
    pub(super) fn text(&self) -> Result<String, serde_json::Error> {
        Ok(serde_json::to_string_pretty(self)? + "\n")
    }
}
