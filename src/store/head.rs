//! The head beside the book: number and hash of its last own entry, in a small text file. A chain
//! cannot see that its tail is missing; this can.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use super::error::{Result, StoreError};
use crate::ledger::Hash;
use crate::model::EntryId;

/// The last entry of a book's own chain.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HeadMark {
    /// The entry.
    pub entry: EntryId,
    /// Its hash.
    pub hash: Hash,
}

impl std::fmt::Display for HeadMark {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} {}", self.entry, self.hash)
    }
}

/// Where the head of a book is noted.
pub fn side_file(book: &Path) -> PathBuf {
    let mut name = book.as_os_str().to_owned();
    name.push(".head");
    PathBuf::from(name)
}

/// Reads the head noted beside a book; `None` when there is none or it cannot be read as one.
pub(super) fn read(book: &Path) -> Option<HeadMark> {
    let text = fs::read_to_string(side_file(book)).ok()?;
    let (entry, hash) = text.trim().split_once(' ')?;
    Some(HeadMark { entry: entry.parse().ok()?, hash: hash.parse().ok()? })
}

/// Notes the head beside a book: whole or not at all.
pub(super) fn write(book: &Path, head: &HeadMark) -> Result<()> {
    let target = side_file(book);
    let mut fresh = target.as_os_str().to_owned();
    fresh.push(".new");
    let fresh = PathBuf::from(fresh);
    let note = || -> std::io::Result<()> {
        let mut file = fs::File::create(&fresh)?;
        writeln!(file, "{head}")?;
        file.sync_all()?;
        fs::rename(&fresh, &target)
    };
    note().map_err(|e| StoreError::io(&target, e))
}
