//! Reads entries from the pages of a damaged file, past whatever SQLite stumbles over. Layout of
//! pages, records and log as the SQLite project documents its file format; what is found here
//! proves nothing by itself, hashes and links sort it out.

mod images;
mod mend;
mod record;

use std::collections::BTreeMap;
use std::io::{self, Read};
use std::path::Path;

use super::log;
use super::whole::open_plain;
use crate::ledger::Hash;
pub(super) use images::Images;
use record::{COLUMNS, HASH_TYPE, HEADER_MOST, varint};

/// Pages that one entry may run over; more is a circle.
const MOST_PAGES: usize = 8192;

/// All that reads as an entry in the pages of a file and of the log beside it. Of the log, what was
/// committed counts; and what was not, when only there the entry stands that is noted as the last.
pub(super) fn entries(file: &Path, log: &Path, noted: Option<&Hash>) -> io::Result<Images> {
    let read = |path: &Path| {
        let mut bytes = Vec::new();
        open_plain(path)?.read_to_end(&mut bytes).map(|_| bytes)
    };
    let bytes = read(file)?;
    let log = match read(log) {
        Ok(log) => log,
        Err(e) if e.kind() == io::ErrorKind::NotFound => Vec::new(),
        Err(e) => return Err(e),
    };
    let stated = [page_size_of_file(&bytes), page_size_of_log(&log)];
    let images = stated
        .into_iter()
        .flatten()
        .map(|size| in_pages(&bytes, &log, size, noted))
        .find(|images| images.sound() > 0);
    // Where neither tells the size of a page, the size by which most can be read is the one.
    let sizes = || (9..=16).rev().map(|power| in_pages(&bytes, &log, 1 << power, noted));
    Ok(images.or_else(|| sizes().max_by_key(Images::sound)).unwrap_or_default())
}

fn in_pages(file: &[u8], log: &[u8], size: usize, noted: Option<&Hash>) -> Images {
    let (frames, committed) = frames(log, size);
    let mut images = scan(file, frames.get(..committed).unwrap_or_default(), size);
    if let Some(noted) = noted
        && committed < frames.len()
        && !images.holds(noted)
    {
        let with_tail = scan(file, &frames, size);
        if with_tail.holds(noted) {
            images = with_tail;
        }
    }
    images
}

fn scan(file: &[u8], frames: &[(u32, &[u8])], size: usize) -> Images {
    // The newest image of each page, and the older ones after it.
    let newest: BTreeMap<u32, &[u8]> = frames.iter().copied().collect();
    let image = |page: u32| -> Option<&[u8]> {
        newest.get(&page).copied().or_else(|| main_page(file, size, page))
    };
    let mut out = Images::default();
    let count = u32::try_from(file.len() / size).unwrap_or(u32::MAX);
    let main = (1..=count).filter_map(|p| Some((p, main_page(file, size, p)?)));
    for (page, content) in frames.iter().copied().chain(main) {
        on_page(page, content, &image, &mut out);
    }
    out.mend();
    out
}

fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    bytes.get(at..at + 4)?.try_into().ok().map(u32::from_be_bytes)
}

fn u16_at(bytes: &[u8], at: usize) -> Option<usize> {
    bytes.get(at..at + 2)?.try_into().ok().map(|b| usize::from(u16::from_be_bytes(b)))
}

/// Page size as the file says; `None` when it says none that can be.
fn page_size_of_file(file: &[u8]) -> Option<usize> {
    u16_at(file, 16).map(|n| if n == 1 { 65_536 } else { n }).filter(|n| is_page_size(*n))
}

/// Page size as the log says.
fn page_size_of_log(log: &[u8]) -> Option<usize> {
    usize::try_from(u32_at(log, 8)?).ok().filter(|n| is_page_size(*n))
}

fn is_page_size(n: usize) -> bool {
    n.is_power_of_two() && (512..=65_536).contains(&n)
}

fn main_page(bytes: &[u8], size: usize, page: u32) -> Option<&[u8]> {
    let start = usize::try_from(page).ok()?.checked_sub(1)?.checked_mul(size)?;
    bytes.get(start..start.checked_add(size)?)
}

/// Page images of a log in order of writing, and how many of them its last commit covers: those of
/// its present generation, known by the salts that all of them bear. Whether each frame's checksum
/// holds does not matter here; of the salts a bit may be wrong.
fn frames(log: &[u8], size: usize) -> (Vec<(u32, &[u8])>, usize) {
    let salts = |at: usize| log.get(at..at + 8)?.first_chunk::<8>().map(|s| u64::from_be_bytes(*s));
    let alike = |a: u64, b: u64| (a ^ b).count_ones() <= 1;
    let Some(stated) = salts(16) else { return (Vec::new(), 0) };
    // A log begins with a frame of its present generation, whatever stands in its header.
    let present = salts(log::HEADER + 8).filter(|first| alike(*first, stated)).unwrap_or(stated);
    let mut out = Vec::new();
    let mut committed = 0;
    let frames = log.get(log::HEADER..).unwrap_or_default().chunks_exact(log::FRAME + size);
    for frame in frames {
        let (header, content) = frame.split_at(log::FRAME);
        let of_frame = header.get(8..16).and_then(|s| s.first_chunk::<8>());
        if !of_frame.is_some_and(|s| alike(u64::from_be_bytes(*s), present)) {
            continue;
        }
        let (Some(page), Some(commit)) = (u32_at(header, 0), u32_at(header, 4)) else { continue };
        out.push((page, content));
        if commit != 0 {
            committed = out.len();
        }
    }
    (out, committed)
}

/// Finds the entries on one page: by its list of cells, then wherever the shape of a record shows.
fn on_page<'a>(
    page: u32,
    content: &'a [u8],
    image: &dyn Fn(u32) -> Option<&'a [u8]>,
    found: &mut Images,
) {
    let at = if page == 1 { 100 } else { 0 };
    let cells = u16_at(content, at + 3).unwrap_or(0);
    for cell in 0..cells {
        let Some(start) = u16_at(content, at + 8 + 2 * cell) else { break };
        if let Some(cell) = Cell::at(content, start) {
            look_at(content, &[cell], image, found);
        }
    }
    // A record's header ends with the types of two hashes and begins with its length and a null.
    for (end, window) in content.windows(2).enumerate() {
        if window != [HASH_TYPE; 2] {
            continue;
        }
        for length in COLUMNS + 1..=HEADER_MOST {
            let Some(record) = (end + 2).checked_sub(length) else { break };
            let starts = content.get(record).copied().map(usize::from) == Some(length)
                && content.get(record + 1) == Some(&0);
            if !starts {
                continue;
            }
            // Size and row number stand before it, each of a few bytes; where they are damaged the
            // record tells its own size, and its chain where it belongs.
            let starts = (2..=12).filter_map(|before| record.checked_sub(before));
            let cells = starts.filter_map(|start| Cell::at(content, start));
            let mut cells: Vec<Cell> = cells.filter(|cell| cell.record == record).collect();
            if cells.is_empty() {
                cells.push(Cell { size: 0, position: 0, record });
            }
            look_at(content, &cells, image, found);
        }
    }
}

/// The beginning of a cell in a table's leaf.
struct Cell {
    /// Bytes of the record, as the cell says.
    size: usize,
    /// Row number: position of an entry.
    position: i64,
    /// Where the record begins.
    record: usize,
}

impl Cell {
    fn at(content: &[u8], start: usize) -> Option<Self> {
        let mut at = start;
        let size = usize::try_from(varint(content, &mut at)?).ok()?;
        let position = i64::try_from(varint(content, &mut at)?).ok()?;
        Some(Self { size, position, record: at })
    }
}

/// Looks whether a record is an entry, by each of the beginnings that its cell may have.
fn look_at<'a>(
    content: &'a [u8],
    cells: &[Cell],
    image: &dyn Fn(u32) -> Option<&'a [u8]>,
    found: &mut Images,
) {
    let Some(Cell { record: start, position, .. }) = cells.first() else { return };
    let Some(record) = content.get(*start..).filter(|r| record::resembles(r)) else { return };
    // As long as a cell says, or as its own header says.
    let told = record::layout(record).map(|layout| (layout.size, *position));
    let mut torn = Vec::new();
    for (size, position) in cells.iter().map(|c| (c.size, c.position)).chain(told) {
        let Some(payload) = assembled(content, *start, size, image, None) else { continue };
        if found.look(&payload, position) {
            return;
        }
        // One bit of a link from page to page may be wrong.
        let links = if size > content.len() { size.div_ceil(content.len()) } else { 0 };
        for turned in (0..links).flat_map(|link| (0..32).map(move |bit| (link, 1 << bit))) {
            if let Some(other) = assembled(content, *start, size, image, Some(turned))
                && found.look(&other, position)
            {
                return;
            }
        }
        torn.push((payload, position));
    }
    // Which of the sizes is the damaged one, the hash will tell.
    found.keep_torn(torn);
}

/// The record of a cell, with what of it stands on further pages. `turned` says in which link to a
/// further page, counted from 0, which bits to turn.
fn assembled<'a>(
    content: &'a [u8],
    record: usize,
    size: usize,
    image: &dyn Fn(u32) -> Option<&'a [u8]>,
    turned: Option<(usize, u32)>,
) -> Option<Vec<u8>> {
    // Three hashes' worth at least; and what fits the pages that one entry may run over.
    if size < 80 || size > MOST_PAGES.checked_mul(content.len())? {
        return None;
    }
    let usable = content.len();
    let most = usable.checked_sub(35)?;
    if size <= most {
        return Some(content.get(record..record.checked_add(size)?)?.to_vec());
    }
    let least = (usable - 12) * 32 / 255 - 23;
    let fitting = least + (size - least) % (usable - 4);
    let local = if fitting <= most { fitting } else { least };
    let mut payload = content.get(record..record.checked_add(local)?)?.to_vec();
    let mut next = u32_at(content, record + local)?;
    for link in 0..MOST_PAGES {
        if payload.len() >= size {
            break;
        }
        if let Some((at, bits)) = turned
            && at == link
        {
            next ^= bits;
        }
        if next == 0 {
            break;
        }
        let page = image(next)?;
        let part = page.get(4..4 + (size - payload.len()).min(usable - 4))?;
        payload.extend_from_slice(part);
        next = u32_at(page, 0)?;
    }
    (payload.len() == size).then_some(payload)
}
