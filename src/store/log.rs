//! Whether the write-ahead log beside a file is that file's own, told from the bytes of both before
//! SQLite touches them. SQLite takes any sound log for one of the file beside which it stands: a copy
//! put back by hand beside the log of the book that was lost is a mixture of both, without an error.
//!
//! Every transaction of a book writes the first page, whose change counter rises with every command
//! that writes. So the log of a file begins with the state in which the file is or was, and the
//! counter of the file is one of those in its log, or the one before the first.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::path::Path;

use super::error::{Result, StoreError};
use super::whole::beside;

/// Bytes of the header of a log, and of the header of each page image in it.
pub(super) const HEADER: usize = 32;
pub(super) const FRAME: usize = 24;

/// Where the header of a file says how it is written, and how often its first page was.
const MODE: usize = 18;
const COUNTER: usize = 24;

/// How often both are looked at again while another program writes.
const LOOKS: usize = 20;

/// Whether a log with anything in it stands beside a file.
pub(super) fn has_log(path: &Path) -> bool {
    std::fs::metadata(beside(path, "-wal")).is_ok_and(|m| m.len() > 0)
}

/// A file and what stands beside it, at a glance: another when anybody wrote.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Glance {
    header: Header,
    log: bool,
}

/// Looks at a file that is read without a lock.
pub(super) fn glance(path: &Path) -> Result<Glance> {
    let header = header(path).map_err(|e| StoreError::io(path, e))?;
    Ok(Glance { header, log: has_log(path) })
}

/// Refuses a file beside which stands the log of another state of the book.
///
/// # Errors
/// `StrangeLog`; what the operating system says.
pub(super) fn check(path: &Path) -> Result<()> {
    let io = |e| StoreError::io(path, e);
    for _ in 0..LOOKS {
        if !has_log(path) {
            return Ok(());
        }
        let before = header(path).map_err(io)?;
        let counters = match counters(&beside(path, "-wal")) {
            Ok(counters) => counters,
            // Folded in and removed by another program in between.
            Err(e) if e.kind() == io::ErrorKind::NotFound => continue,
            Err(e) => return Err(io(e)),
        };
        // What is written meanwhile moves both; a log begins anew only behind a file that moved.
        if header(path).map_err(io)? != before {
            continue;
        }
        let own = match counters {
            // Nothing committed, or by a version that did not write the first page each time.
            None => true,
            Some((first, last)) => {
                let since = before.counter.wrapping_sub(first.wrapping_sub(1));
                before.keeps_log && since <= last.wrapping_sub(first).wrapping_add(1)
            }
        };
        if own {
            return Ok(());
        }
        let log = beside(path, "-wal");
        return Err(StoreError::StrangeLog { path: path.to_path_buf(), log });
    }
    Ok(())
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Header {
    /// It is written through a log at all; a copy is not, until it is opened to write.
    keeps_log: bool,
    counter: u32,
}

fn header(path: &Path) -> io::Result<Header> {
    let mut bytes = [0; 100];
    File::open(path)?.read_exact(&mut bytes)?;
    Ok(Header { keeps_log: bytes[MODE] == 2, counter: word(&bytes, COUNTER) })
}

fn word(bytes: &[u8], at: usize) -> u32 {
    bytes.get(at..at + 4).and_then(|b| b.try_into().ok()).map_or(0, u32::from_be_bytes)
}

/// Change counters in the first and the last image of the first page that was committed; `None`
/// where there is none.
fn counters(log: &Path) -> io::Result<Option<(u32, u32)>> {
    let mut file = io::BufReader::with_capacity(64, File::open(log)?);
    let mut head = [0; HEADER];
    if file.read_exact(&mut head).is_err() {
        return Ok(None);
    }
    let page = u64::from(word(&head, 8));
    if !page.is_power_of_two() || !(512..=65_536).contains(&page) {
        return Ok(None);
    }
    let mut committed: Option<(u32, u32)> = None;
    let mut pending: Option<(u32, u32)> = None;
    let mut at = HEADER as u64;
    let mut frame = [0; FRAME];
    // Frames of an earlier use of the same file carry other salts.
    while file.read_exact(&mut frame).is_ok() && frame.get(8..16) == head.get(16..24) {
        if word(&frame, 0) == 1 {
            let mut start = [0; 28];
            if file.read_exact(&mut start).is_err() {
                break;
            }
            let counter = word(&start, COUNTER);
            pending = Some((pending.or(committed).map_or(counter, |(first, _)| first), counter));
        }
        if word(&frame, 4) != 0 {
            committed = pending.or(committed);
        }
        at += FRAME as u64 + page;
        file.seek(SeekFrom::Start(at))?;
    }
    Ok(committed)
}
