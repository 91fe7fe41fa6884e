//! Files that appear whole or not at all, under a name that nobody can have taken before.

use std::borrow::Cow;
use std::fs::{File, Permissions};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use tempfile::{Builder, NamedTempFile, TempPath};

use super::error::{Result, StoreError};

/// What SQLite and this program keep beside a book.
const COMPANIONS: [&str; 4] = ["-wal", "-shm", "-journal", ".head"];

/// The path of what stands beside a file under its name and a suffix.
pub(super) fn beside(path: &Path, suffix: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(suffix);
    PathBuf::from(name)
}

/// The file that a path names in the end, where the path is a link: logs and heads stand beside the
/// file, whatever it is called by.
pub(super) fn resolved(path: &Path) -> Result<Cow<'_, Path>> {
    if path.is_symlink() {
        let file = path.canonicalize().map_err(|e| StoreError::io(path, e))?;
        return Ok(Cow::Owned(file));
    }
    // SQLite takes such a name for an address, or for a book in memory.
    if path.to_str().is_some_and(|p| p.starts_with("file:") || p.starts_with(':')) {
        return Ok(Cow::Owned(Path::new(".").join(path)));
    }
    Ok(Cow::Borrowed(path))
}

/// A file of its own, to be read: not a folder, nor a pipe or a device that may never end or never
/// begin.
///
/// # Errors
/// What the operating system says; `InvalidInput` for what is no such file.
pub fn open_plain(path: &Path) -> io::Result<File> {
    // A pipe that nobody writes to is not waited for.
    if std::fs::metadata(path)?.is_file() {
        return File::open(path);
    }
    Err(io::Error::new(
        io::ErrorKind::InvalidInput,
        "it is no plain file but a folder, a pipe or a device",
    ))
}

/// The text of a plain file of so many bytes at most.
///
/// # Errors
/// As [`open_plain`]; `InvalidData` for what is longer or no UTF-8.
pub fn text_of(path: &Path, most: u64) -> io::Result<String> {
    let wrong = |what: String| io::Error::new(io::ErrorKind::InvalidData, what);
    let mut bytes = Vec::new();
    open_plain(path)?.take(most.saturating_add(1)).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > most {
        return Err(wrong(format!("it has more than {most} bytes")));
    }
    String::from_utf8(bytes).map_err(|_| wrong("it is not UTF-8 text".to_owned()))
}

/// Refuses a file that has several names.
pub(super) fn refuse_many_names(path: &Path) -> Result<()> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        let names = std::fs::metadata(path).map_err(|e| StoreError::io(path, e))?.nlink();
        if names > 1 {
            return Err(StoreError::ManyNames { path: path.to_path_buf(), names });
        }
    }
    #[cfg(not(unix))]
    let _ = path;
    Ok(())
}

fn folder(path: &Path) -> &Path {
    path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or_else(|| Path::new("."))
}

/// An empty file in the folder of `target`, made exclusively, with the rights of any new file. It
/// is removed unless it is given a name.
pub(super) fn draft_of(target: &Path) -> io::Result<NamedTempFile> {
    let mut builder = Builder::new();
    builder.prefix(".pipelore-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // The file mask of the process takes from these what it takes from every file.
        builder.permissions(Permissions::from_mode(0o666));
    }
    builder.tempfile_in(folder(target))
}

/// Gives a draft its name, where nothing stands, and waits until the folder holds it.
pub(super) fn put_new(draft: TempPath, target: &Path) -> Result<()> {
    sync(&draft).map_err(|e| StoreError::io(target, e))?;
    draft.persist_noclobber(target).map_err(|e| match e.error.kind() {
        io::ErrorKind::AlreadyExists => StoreError::Exists { path: target.to_path_buf() },
        _ => StoreError::io(target, e.error),
    })?;
    sync_folder(target).map_err(|e| StoreError::io(target, e))
}

/// Gives a draft its name in the place of what stands there, and waits until the folder holds it.
pub(super) fn put_over(draft: TempPath, target: &Path) -> io::Result<()> {
    sync(&draft)?;
    draft.persist(target).map_err(|e| e.error)?;
    sync_folder(target)
}

fn sync(file: &Path) -> io::Result<()> {
    File::open(file)?.sync_all()
}

/// A name is safe only when its folder is: a crash after a rename can otherwise bring the old one
/// back.
fn sync_folder(target: &Path) -> io::Result<()> {
    if cfg!(unix) { File::open(folder(target))?.sync_all() } else { Ok(()) }
}

/// Refuses a path at which a book is to appear where anything stands already, or is left of an
/// earlier book of that name: SQLite would fold a log that stands there into the new file.
pub(super) fn refuse_occupied(path: &Path) -> Result<()> {
    // A link that leads nowhere is something that stands there, too.
    if path.symlink_metadata().is_ok() {
        return Err(StoreError::Exists { path: path.to_path_buf() });
    }
    match COMPANIONS.iter().map(|s| beside(path, s)).find(|p| p.symlink_metadata().is_ok()) {
        Some(left) => Err(StoreError::LeftOver { path: path.to_path_buf(), left }),
        None => Ok(()),
    }
}

/// Makes a book under a name of its own and gives it that of `path` when it is whole. `make` leaves
/// no connection open.
pub(super) fn in_new_file<T>(path: &Path, make: impl FnOnce(&Path) -> Result<T>) -> Result<T> {
    refuse_occupied(path)?;
    let draft = draft_of(path).map_err(|e| StoreError::io(path, e))?.into_temp_path();
    let made = make(&draft);
    // A log that could not be folded in when the last connection closed: SQLite says nothing of that.
    let whole = !super::log::has_log(&draft);
    for suffix in &COMPANIONS[..3] {
        let _ = std::fs::remove_file(beside(&draft, suffix));
    }
    let made = made?;
    if !whole {
        let what = "what was written could not be brought into the file; nothing was kept of it";
        return Err(StoreError::io(path, io::Error::other(what)));
    }
    put_new(draft, path)?;
    Ok(made)
}
