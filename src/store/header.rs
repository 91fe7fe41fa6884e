//! What a file is, told from its first bytes, before SQLite touches it.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use super::error::{Result, StoreError};
use super::log::has_log;
use super::migrate;

/// Marks a file as a book ("plor").
pub(super) const APPLICATION_ID: i32 = 0x706c_6f72;

/// Bytes of the header of a SQLite file.
const HEADER: usize = 100;

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
    let mut header = Vec::with_capacity(HEADER);
    File::open(path)
        .and_then(|f| f.take(HEADER as u64).read_to_end(&mut header))
        .map_err(|e| StoreError::io(path, e))?;
    if header.is_empty() {
        return Err(not("it is empty"));
    }
    if !header.starts_with(b"SQLite format 3\0") {
        return Err(not("it is no SQLite file"));
    }
    let field =
        |at: usize| header.get(at..at + 4).and_then(|b| b.try_into().ok()).map(i32::from_be_bytes);
    let damaged =
        |what: &str| StoreError::Damaged { path: path.to_path_buf(), what: what.to_owned() };
    if header.len() < HEADER {
        return Err(damaged("its header is cut short"));
    }
    if field(68) != Some(APPLICATION_ID) {
        return Err(not("it is another program's database"));
    }
    // Without a log that may still hold them, the file has all the pages that it counts. Opened by
    // SQLite, a shorter one would get an empty log before it is refused.
    let page = match header.get(16..18) {
        Some([0, 1]) => 65_536,
        Some([high, low]) => u64::from(*high) << 8 | u64::from(*low),
        _ => 0,
    };
    let counted = field(28).and_then(|n| u64::try_from(n).ok()).unwrap_or(0).saturating_mul(page);
    let counts = field(24) == field(92);
    if counts && meta.len() < counted && !has_log(path) {
        return Err(damaged(&format!("it is cut short: {} of {counted} bytes", meta.len())));
    }
    let version = i64::from(field(60).unwrap_or(0));
    let known = migrate::newest();
    if version > known {
        return Err(StoreError::Newer { path: path.to_path_buf(), version, known });
    }
    Ok(())
}
