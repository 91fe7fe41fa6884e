//! The folder of states: one publisher at a time, and states that appear whole and go whole.

use std::collections::BTreeSet;
use std::fs::{self, File, TryLockError};
use std::path::{Path, PathBuf};

use super::{At, PublishError};

/// How names begin of what is not a state.
const OURS: &str = ".pipelore-";
const LOCK: &str = ".pipelore-lock";
const STATE: &str = "state-";

/// A folder of states, for this publisher alone.
#[derive(Debug)]
pub(super) struct States {
    dir: PathBuf,
    /// The lock is let go when the file is closed, however the process ends.
    _lock: File,
}

/// A state in the making; nothing is left of it unless it gets its name.
#[derive(Debug)]
pub(super) struct Draft {
    pub folder: PathBuf,
    folders: BTreeSet<PathBuf>,
    named: bool,
}

impl States {
    /// Opens a folder, or makes it, and takes away what a publisher left that was ended.
    pub(super) fn open(dir: &Path) -> Result<Self, PublishError> {
        fs::create_dir_all(dir).at(dir)?;
        let foreign =
            names(dir)?.into_iter().find(|n| number_of(n).is_none() && !n.starts_with(OURS));
        if let Some(found) = foreign {
            return Err(PublishError::NotOurs { dir: dir.to_path_buf(), found });
        }
        let path = dir.join(LOCK);
        let lock = File::options().create(true).append(true).open(&path).at(&path)?;
        match lock.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                return Err(PublishError::Locked { dir: dir.to_path_buf() });
            }
            Err(TryLockError::Error(e)) => return Err(e).at(&path),
        }
        for left in names(dir)?.iter().filter(|n| n.starts_with(OURS) && *n != LOCK) {
            let path = dir.join(left);
            fs::remove_dir_all(&path).at(&path)?;
        }
        Ok(Self { dir: dir.to_path_buf(), _lock: lock })
    }

    /// The states, the oldest first.
    pub(super) fn all(&self) -> Result<Vec<PathBuf>, PublishError> {
        let mut found: Vec<(u64, String)> =
            names(&self.dir)?.into_iter().filter_map(|n| Some((number_of(&n)?, n))).collect();
        found.sort();
        Ok(found.into_iter().map(|(_, n)| self.dir.join(n)).collect())
    }

    /// Begins a state.
    pub(super) fn begin(&self) -> Result<Draft, PublishError> {
        let folder = self.dir.join(format!("{OURS}making"));
        fs::create_dir(&folder).at(&folder)?;
        Ok(Draft { folders: BTreeSet::from([folder.clone()]), folder, named: false })
    }

    /// Gives a state its name, when all of it is on the disk.
    pub(super) fn name(
        &self,
        mut draft: Draft,
        number: u64,
        digest: &str,
    ) -> Result<PathBuf, PublishError> {
        for folder in draft.folders.iter().rev() {
            sync_folder(folder)?;
        }
        let state = self.dir.join(format!("{STATE}{number}-{}", &digest[..12]));
        fs::rename(&draft.folder, &state).at(&state)?;
        draft.named = true;
        sync_folder(&self.dir)?;
        Ok(state)
    }

    /// Takes the oldest states away until so many are left. Each loses its name first.
    pub(super) fn keep(&self, most: usize) -> Result<usize, PublishError> {
        let all = self.all()?;
        let gone = &all[..all.len().saturating_sub(most.max(1))];
        for state in gone {
            let away = self.dir.join(format!("{OURS}gone"));
            fs::rename(state, &away).at(state)?;
            sync_folder(&self.dir)?;
            fs::remove_dir_all(&away).at(&away)?;
        }
        Ok(gone.len())
    }
}

impl Draft {
    /// The place of a file in it, in a folder that is there.
    pub(super) fn place(&mut self, path: &str) -> Result<PathBuf, PublishError> {
        let place = self.folder.join(path);
        let mut missing: Vec<&Path> =
            place.ancestors().skip(1).take_while(|f| !self.folders.contains(*f)).collect();
        while let Some(folder) = missing.pop() {
            fs::create_dir(folder).at(folder)?;
            self.folders.insert(folder.to_path_buf());
        }
        Ok(place)
    }

    /// A small file, whole on the disk.
    pub(super) fn text(&mut self, path: &str, text: &str) -> Result<(), PublishError> {
        let place = self.place(path)?;
        fs::write(&place, text).at(&place)?;
        File::open(&place).and_then(|f| f.sync_all()).at(&place)
    }
}

impl Drop for Draft {
    fn drop(&mut self) {
        if !self.named {
            // What cannot be taken away now the next publisher takes away.
            let _ = fs::remove_dir_all(&self.folder);
        }
    }
}

/// Another name for a file of an earlier state; a copy of it where the file system has no such names.
pub(super) fn link(from: &Path, to: &Path) -> Result<(), PublishError> {
    if fs::hard_link(from, to).is_ok() {
        return Ok(());
    }
    fs::copy(from, to).at(to)?;
    File::open(to).and_then(|f| f.sync_all()).at(to)
}

/// Bytes of a file; `None` where it is not there.
pub(super) fn length(path: &Path) -> Option<u64> {
    fs::metadata(path).ok().filter(fs::Metadata::is_file).map(|m| m.len())
}

fn names(dir: &Path) -> Result<Vec<String>, PublishError> {
    let entries = fs::read_dir(dir).at(dir)?;
    entries.map(|e| Ok(e.at(dir)?.file_name().to_string_lossy().into_owned())).collect()
}

fn number_of(name: &str) -> Option<u64> {
    name.strip_prefix(STATE)?.split_once('-')?.0.parse().ok()
}

fn sync_folder(folder: &Path) -> Result<(), PublishError> {
    if cfg!(unix) { File::open(folder).and_then(|f| f.sync_all()).at(folder) } else { Ok(()) }
}
