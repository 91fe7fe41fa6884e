//! What intake asks of others: files by name, and the book by serial, run and word.

use std::collections::BTreeMap;
use std::io::{self, Cursor, Read};
use std::ops::ControlFlow;

use crate::condition::Catalogue;
use crate::model::{Component, EntryId, JointBody, JointRef, Moment, ToldLayout, WordError, fold};

/// Files by name. A run's file names its tally and log relative to itself.
pub trait Files {
    /// Opens a file for one pass.
    fn open(&self, name: &str) -> io::Result<Box<dyn Read + '_>>;

    /// The files of a folder and of the folders in it, in order; `None` for what is no folder.
    fn list(&self, name: &str) -> Option<io::Result<Vec<String>>> {
        let _ = name;
        None
    }

    /// Size in bytes, where it is known beforehand.
    fn size(&self, name: &str) -> Option<u64> {
        let _ = name;
        None
    }
}

/// Files in memory, by name.
#[derive(Clone, Debug, Default)]
pub struct MemoryFiles {
    files: BTreeMap<String, Vec<u8>>,
}

impl MemoryFiles {
    #[must_use]
    pub fn with(mut self, name: &str, bytes: impl Into<Vec<u8>>) -> Self {
        self.files.insert(name.to_owned(), bytes.into());
        self
    }
}

impl Files for MemoryFiles {
    fn open(&self, name: &str) -> io::Result<Box<dyn Read + '_>> {
        match self.files.get(name) {
            Some(bytes) => Ok(Box::new(Cursor::new(bytes))),
            None => Err(io::Error::from(io::ErrorKind::NotFound)),
        }
    }

    fn size(&self, name: &str) -> Option<u64> {
        self.files.get(name).map(|b| b.len() as u64)
    }
}

/// A joint that a serial may mean.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct JointMatch {
    /// The joint, with its serial as the book has it.
    pub joint: JointRef,
    pub component: Component,
    /// Since when the book knows the joint under this serial.
    pub since: Moment,
    /// Until when it carried this serial, where it was marked anew.
    pub until: Option<Moment>,
    /// When it was made, where that is known.
    pub made: Option<Moment>,
}

/// A run that was cut from a log.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LoggedRun {
    pub name: String,
    pub entry: EntryId,
    /// Instant of its first row, ms of UTC.
    pub from: i64,
    pub to: i64,
}

/// The book, as far as intake needs it.
pub trait Lookup {
    /// Joints that carry or carried a serial, by its key (`Serial::key`).
    fn joints(&self, key: &str) -> Vec<JointMatch>;

    /// Runs of a name.
    fn runs(&self, name: &str) -> Vec<EntryId>;

    /// True when an entry of that name exists.
    fn has_entry(&self, entry: &EntryId) -> bool;

    /// Wells of which the book has a survey; `None` where nobody can say.
    fn surveyed(&self) -> Option<Vec<String>> {
        None
    }

    /// Runs of a well whose log has a clock, with the span of its rows.
    fn logged(&self, well: &str) -> Vec<LoggedRun> {
        let _ = well;
        Vec::new()
    }

    /// Layouts of files that are in force.
    fn layouts(&self) -> &[ToldLayout] {
        &[]
    }

    /// The catalogue of findings; without one any word is taken as it stands.
    fn catalogue(&self) -> Option<&Catalogue> {
        None
    }

    /// A joint as it was made, so that its readings can be held against its nominal dimensions.
    /// Nothing is held against a joint of which that is not known.
    fn made(&self, joint: &EntryId) -> Option<JointBody> {
        let _ = joint;
        None
    }
}

/// The catalogue's word for a finding in any spelling. A strange word gets the nearest words, never
/// a guess.
pub(super) fn finding(text: &str, catalogue: Option<&Catalogue>) -> Result<String, WordError> {
    let Some(catalogue) = catalogue else { return Ok(fold(text)) };
    catalogue.get(text).map(|f| f.word.clone()).map_err(|e| WordError {
        kind: "finding",
        word: e.word,
        nearest: (!e.nearest.is_empty()).then(|| e.nearest.join(" or ")),
        known: vec!["those that `pipelore findings` lists"],
    })
}

/// A book in memory, for tests and for readers that need none.
#[derive(Clone, Debug, Default)]
pub struct MemoryLookup {
    /// Joints by the key of a serial.
    pub joints: BTreeMap<String, Vec<JointMatch>>,
    pub runs: BTreeMap<String, Vec<EntryId>>,
    pub entries: Vec<EntryId>,
}

impl MemoryLookup {
    /// Adds a joint under the serial that it carries.
    #[must_use]
    pub fn with(mut self, found: JointMatch) -> Self {
        self.joints.entry(found.joint.serial.key()).or_default().push(found);
        self
    }
}

impl Lookup for MemoryLookup {
    fn joints(&self, key: &str) -> Vec<JointMatch> {
        self.joints.get(key).cloned().unwrap_or_default()
    }

    fn runs(&self, name: &str) -> Vec<EntryId> {
        self.runs.get(name).cloned().unwrap_or_default()
    }

    fn has_entry(&self, entry: &EntryId) -> bool {
        self.entries.contains(entry)
            || self.runs.values().flatten().any(|r| r == entry)
            || self.joints.values().flatten().any(|j| j.joint.joint == *entry)
    }
}

/// How far a long read has come.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Progress {
    pub file: String,
    pub bytes: u64,
    /// Bytes of the whole file, where that is known.
    pub of: Option<u64>,
    pub rows: u64,
}

/// What surrounds a read: files, the book, and someone who watches.
#[derive(Clone, Copy)]
pub struct World<'a> {
    pub files: &'a dyn Files,
    pub lookup: &'a dyn Lookup,
    /// Called now and then during a long read; `Break` stops it.
    pub progress: &'a dyn Fn(&Progress) -> ControlFlow<()>,
}

/// A watcher that never stops a read.
pub fn unwatched(_: &Progress) -> ControlFlow<()> {
    ControlFlow::Continue(())
}

/// The name of a file that another file names relative to itself.
pub(super) fn beside(file: &str, named: &str) -> String {
    let named = named.trim();
    let absolute = named.starts_with(['/', '\\']) || named.get(1..2) == Some(":");
    match file.rfind(['/', '\\']) {
        Some(at) if !absolute => format!("{}{named}", &file[..=at]),
        _ => named.to_owned(),
    }
}

/// A file name without its folder.
pub(crate) fn base_name(name: &str) -> &str {
    name.rsplit(['/', '\\']).next().unwrap_or(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_stand_beside_the_file_that_names_them() {
        assert_eq!(beside("runs/r3.toml", "r3-log.csv"), "runs/r3-log.csv");
        assert_eq!(beside("r3.toml", "logs/r3.csv"), "logs/r3.csv");
        assert_eq!(beside("runs/r3.toml", "/data/r3.csv"), "/data/r3.csv");
        assert_eq!(base_name("a/b\\c.csv"), "c.csv");
    }

    #[test]
    fn files_in_memory_open_by_name() {
        let files = MemoryFiles::default().with("a", "x");
        assert_eq!(files.size("a"), Some(1));
        assert!(files.open("b").is_err());
    }
}
