//! The gate: what a file is, told from its first bytes, before SQLite touches it.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use super::error::{Result, StoreError};
use super::migrate;

/// Marks a file as a book ("plor").
pub(super) const APPLICATION_ID: i32 = 0x706c_6f72;

/// Refuses what is no book, or a newer one, without writing a byte.
pub(super) fn check(path: &Path) -> Result<()> {
    let not = |why: &str| StoreError::NotABook { path: path.to_path_buf(), why: why.to_owned() };
    let meta = std::fs::metadata(path).map_err(|e| StoreError::io(path, e))?;
    if meta.is_dir() {
        return Err(not("it is a folder"));
    }
    // Reading from a pipe would wait for somebody to write to it.
    if !meta.is_file() {
        return Err(not("it is no regular file"));
    }
    let mut header = Vec::with_capacity(100);
    File::open(path)
        .and_then(|f| f.take(100).read_to_end(&mut header))
        .map_err(|e| StoreError::io(path, e))?;
    if header.is_empty() {
        return Err(not("it is empty"));
    }
    if !header.starts_with(b"SQLite format 3\0") {
        return Err(not("it is no SQLite file"));
    }
    let field =
        |at: usize| header.get(at..at + 4).and_then(|b| b.try_into().ok()).map(i32::from_be_bytes);
    match field(68) {
        Some(APPLICATION_ID) => {}
        Some(_) => return Err(not("it is another program's database")),
        None => {
            return Err(StoreError::Damaged {
                path: path.to_path_buf(),
                what: "its header is cut short".to_owned(),
            });
        }
    }
    let version = i64::from(field(60).unwrap_or(0));
    let known = migrate::newest();
    if version > known {
        return Err(StoreError::Newer { path: path.to_path_buf(), version, known });
    }
    Ok(())
}
