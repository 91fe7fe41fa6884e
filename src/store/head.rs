//! The head beside the book: number and hash of its last own entry, in a small text file. A chain
//! cannot see that its tail is missing; this can.

use std::io::Write;
use std::path::{Path, PathBuf};

use super::error::{Result, StoreError};
use super::whole;
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
    whole::beside(book, ".head")
}

/// Bytes of a note at most: the name of an entry and a hash are far shorter.
const LONGEST: u64 = 4096;

/// What stands beside a book.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Noted {
    /// Nothing: a book that was copied without it, or never written to by this program.
    Nothing,
    /// A head.
    Head(HeadMark),
    /// A file that is no head, or cannot be read.
    Unreadable,
}

/// Looks at what is noted beside a book.
pub(super) fn noted(book: &Path) -> Noted {
    let text = match whole::text_of(&side_file(book), LONGEST) {
        Ok(text) => text,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Noted::Nothing,
        Err(_) => return Noted::Unreadable,
    };
    let parse = || {
        let (entry, hash) = text.trim().split_once(' ')?;
        Some(HeadMark { entry: entry.parse().ok()?, hash: hash.parse().ok()? })
    };
    parse().map_or(Noted::Unreadable, Noted::Head)
}

/// The error of a head that cannot be read.
pub(super) fn unreadable(book: &Path) -> StoreError {
    StoreError::HeadUnreadable { path: book.to_path_buf(), side: side_file(book) }
}

/// Reads the head noted beside a book; `None` when there is none or it cannot be read as one.
pub(super) fn read(book: &Path) -> Option<HeadMark> {
    match noted(book) {
        Noted::Head(head) => Some(head),
        Noted::Nothing | Noted::Unreadable => None,
    }
}

/// Notes the head beside a book: whole or not at all.
pub(super) fn write(book: &Path, head: &HeadMark) -> Result<()> {
    let target = side_file(book);
    let note = || -> std::io::Result<()> {
        let mut draft = whole::draft_of(&target)?;
        writeln!(draft, "{head}")?;
        whole::put_over(draft.into_temp_path(), &target)
    };
    note().map_err(|source| StoreError::HeadNotNoted {
        path: book.to_path_buf(),
        head: head.to_string(),
        side: target.clone(),
        source,
    })
}
