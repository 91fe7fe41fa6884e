//! Reads entries from the pages of a damaged file, past whatever SQLite stumbles over. Layout of
//! pages, records and log as the SQLite project documents its file format; what is found here
//! proves nothing by itself, hashes and links sort it out.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use super::entries::StoredEntry;
use super::log;
use crate::ledger::{HASH_LENGTH, Hash, RawEntry};

/// Bytes of the header of a log, and of each frame in it.
/// Columns of an entry.
const COLUMNS: usize = 15;
/// Serial type of a hash: a blob of 32 bytes.
const HASH_TYPE: u64 = 12 + 2 * HASH_LENGTH as u64;
/// Pages that one entry may run over; more is a circle.
const MOST_PAGES: usize = 8192;

/// All that reads as an entry in the pages of a file and of the log beside it. Of the log, what was
/// committed counts.
pub(super) fn entries(file: &Path, log: &Path) -> std::io::Result<Images> {
    let bytes = fs::read(file)?;
    let log = match fs::read(log) {
        Ok(log) => log,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => Vec::new(),
        Err(e) => return Err(e),
    };
    let size = page_size(&bytes, &log);
    let frames = frames(&log, size);
    // The newest image of each page, and the older ones after it.
    let newest: BTreeMap<u32, &[u8]> = frames.iter().copied().collect();
    let image = |page: u32| -> Option<&[u8]> {
        newest.get(&page).copied().or_else(|| main_page(&bytes, size, page))
    };
    let mut out = Images::default();
    let count = u32::try_from(bytes.len() / size).unwrap_or(u32::MAX);
    let main = (1..=count).filter_map(|p| Some((p, main_page(&bytes, size, p)?)));
    for (page, content) in frames.iter().copied().chain(main) {
        on_page(page, content, &image, &mut |e| out.take(e));
    }
    Ok(out)
}

/// What reads as an entry, each once by the hash that stands in it: an image whose content gives
/// that hash before one whose content does not.
#[derive(Default)]
pub(super) struct Images(BTreeMap<Hash, Image>, Vec<u8>);

/// An image of an entry.
struct Image {
    entry: StoredEntry,
    /// Its content gives its hash: it is what somebody wrote.
    sound: bool,
}

impl Images {
    pub(super) fn take(&mut self, entry: StoredEntry) {
        let held = self.0.get(&entry.hash);
        if held.is_some_and(|held| held.sound) {
            return;
        }
        let sound = Hash::of_entry(&entry.prev, &entry.raw, &mut self.1) == entry.hash;
        if sound || held.is_none() {
            self.0.insert(entry.hash, Image { entry, sound });
        }
    }

    /// Adds what another search found; true when that gave more sound entries than were known.
    pub(super) fn add(&mut self, other: Self) -> bool {
        let known = self.sound();
        other.0.into_values().for_each(|image| self.take(image.entry));
        self.sound() > known
    }

    fn sound(&self) -> usize {
        self.0.values().filter(|image| image.sound).count()
    }

    pub(super) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Whether there is an image with this hash.
    pub(super) fn has(&self, hash: &Hash) -> bool {
        self.0.contains_key(hash)
    }

    /// Sound entries in order of position, and images that are none.
    pub(super) fn sorted(self) -> (Vec<StoredEntry>, Vec<StoredEntry>) {
        let (sound, torn): (Vec<Image>, Vec<Image>) =
            self.0.into_values().partition(|image| image.sound);
        let in_order = |images: Vec<Image>| {
            let mut all: Vec<StoredEntry> = images.into_iter().map(|image| image.entry).collect();
            all.sort_by_key(|e| (e.position, e.raw.number));
            all
        };
        (in_order(sound), in_order(torn))
    }
}

fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    bytes.get(at..at + 4)?.try_into().ok().map(u32::from_be_bytes)
}

fn u16_at(bytes: &[u8], at: usize) -> Option<usize> {
    bytes.get(at..at + 2)?.try_into().ok().map(|b| usize::from(u16::from_be_bytes(b)))
}

/// Page size as the file says, else as the log says, else the usual one.
fn page_size(file: &[u8], log: &[u8]) -> usize {
    let sound = |n: &usize| n.is_power_of_two() && (512..=65_536).contains(n);
    let of_file = u16_at(file, 16).map(|n| if n == 1 { 65_536 } else { n });
    let of_log = u32_at(log, 8).and_then(|n| usize::try_from(n).ok());
    of_file.filter(sound).or(of_log.filter(sound)).unwrap_or(4096)
}

fn main_page(bytes: &[u8], size: usize, page: u32) -> Option<&[u8]> {
    let start = usize::try_from(page).ok()?.checked_sub(1)?.checked_mul(size)?;
    bytes.get(start..start.checked_add(size)?)
}

/// Page images of a log in order of writing, up to the last commit of its present generation.
/// Whether each frame's checksum holds does not matter here.
fn frames(log: &[u8], size: usize) -> Vec<(u32, &[u8])> {
    let Some(salts) = log.get(16..24) else { return Vec::new() };
    let mut out = Vec::new();
    let mut committed = 0;
    let frames = log.get(log::HEADER..).unwrap_or_default().chunks_exact(log::FRAME + size);
    for frame in frames {
        let (header, content) = frame.split_at(log::FRAME);
        if header.get(8..16) != Some(salts) {
            continue;
        }
        let (Some(page), Some(commit)) = (u32_at(header, 0), u32_at(header, 4)) else { continue };
        out.push((page, content));
        if commit != 0 {
            committed = out.len();
        }
    }
    out.truncate(committed);
    out
}

/// Finds the entries on one page: by its list of cells, then wherever the shape of a record shows.
fn on_page<'a>(
    page: u32,
    content: &'a [u8],
    image: &dyn Fn(u32) -> Option<&'a [u8]>,
    found: &mut dyn FnMut(StoredEntry),
) {
    let at = if page == 1 { 100 } else { 0 };
    let cells = u16_at(content, at + 3).unwrap_or(0);
    for cell in 0..cells {
        let Some(start) = u16_at(content, at + 8 + 2 * cell) else { break };
        if let Some(entry) = cell_at(content, start, image) {
            found(entry);
        }
    }
    // A record's header ends with the types of two hashes and begins with its length and a null.
    let pair = [u8::try_from(HASH_TYPE).unwrap_or(0); 2];
    for (end, window) in content.windows(2).enumerate() {
        if window != pair {
            continue;
        }
        for length in COLUMNS + 1..=COLUMNS + 24 {
            let Some(record) = (end + 2).checked_sub(length) else { break };
            let starts = content.get(record).copied().map(usize::from) == Some(length)
                && content.get(record + 1) == Some(&0);
            if !starts {
                continue;
            }
            // Size and row number stand before it, each of a few bytes.
            for before in 2..=12 {
                let Some(start) = record.checked_sub(before) else { break };
                if cell_begins(content, start) == Some(record)
                    && let Some(entry) = cell_at(content, start, image)
                {
                    found(entry);
                    break;
                }
            }
        }
    }
}

/// Where the record of a cell begins.
fn cell_begins(content: &[u8], start: usize) -> Option<usize> {
    let mut at = start;
    varint(content, &mut at)?;
    varint(content, &mut at)?;
    Some(at)
}

/// A variable-length number of up to nine bytes.
fn varint(bytes: &[u8], at: &mut usize) -> Option<u64> {
    let mut value = 0u64;
    for i in 0..9 {
        let byte = *bytes.get(*at)?;
        *at += 1;
        if i == 8 {
            return Some((value << 8) | u64::from(byte));
        }
        value = (value << 7) | u64::from(byte & 0x7f);
        if byte & 0x80 == 0 {
            return Some(value);
        }
    }
    None
}

/// Reads a cell of a table's leaf as an entry; `None` when it is none.
fn cell_at<'a>(
    content: &'a [u8],
    start: usize,
    image: &dyn Fn(u32) -> Option<&'a [u8]>,
) -> Option<StoredEntry> {
    let mut at = start;
    let size = usize::try_from(varint(content, &mut at)?).ok()?;
    let position = i64::try_from(varint(content, &mut at)?).ok()?;
    // Three hashes' worth at least; and what fits the pages that one entry may run over.
    if size < 80 || size > MOST_PAGES.checked_mul(content.len())? {
        return None;
    }
    let usable = content.len();
    let most = usable.checked_sub(35)?;
    if size <= most {
        return record(content.get(at..at.checked_add(size)?)?, position);
    }
    let least = (usable - 12) * 32 / 255 - 23;
    let fitting = least + (size - least) % (usable - 4);
    let local = if fitting <= most { fitting } else { least };
    let mut payload = content.get(at..at.checked_add(local)?)?.to_vec();
    let mut next = u32_at(content, at + local)?;
    for _ in 0..MOST_PAGES {
        if payload.len() >= size || next == 0 {
            break;
        }
        let page = image(next)?;
        let part = page.get(4..4 + (size - payload.len()).min(usable - 4))?;
        payload.extend_from_slice(part);
        next = u32_at(page, 0)?;
    }
    (payload.len() == size).then(|| record(&payload, position))?
}

/// A value of a record.
enum Value<'a> {
    Null,
    Int(i64),
    Text(&'a str),
    Blob(&'a [u8]),
}

impl Value<'_> {
    fn text(&self) -> Option<String> {
        if let Self::Text(t) = self { Some((*t).to_owned()) } else { None }
    }

    fn int<T: TryFrom<i64>>(&self) -> Option<T> {
        if let Self::Int(n) = self { T::try_from(*n).ok() } else { None }
    }

    fn hash(&self) -> Option<Hash> {
        if let Self::Blob(b) = self { Hash::from_bytes(b) } else { None }
    }
}

fn record(payload: &[u8], position: i64) -> Option<StoredEntry> {
    let mut at = 0;
    let header = usize::try_from(varint(payload, &mut at)?).ok()?;
    let mut types = Vec::with_capacity(COLUMNS);
    while at < header {
        types.push(varint(payload, &mut at)?);
        if types.len() > COLUMNS {
            return None;
        }
    }
    if at != header || types.len() != COLUMNS || types[COLUMNS - 2..] != [HASH_TYPE, HASH_TYPE] {
        return None;
    }
    let mut values = Vec::with_capacity(COLUMNS);
    for kind in types {
        values.push(value(payload, &mut at, kind)?);
    }
    // A record is as long as its columns: one that is not was read with a wrong header.
    if at != payload.len() {
        return None;
    }
    let v = |i: usize| values.get(i);
    if !matches!(v(0)?, Value::Null) {
        return None;
    }
    let evidence = match v(10)? {
        Value::Null => None,
        other => Some(other.text()?),
    };
    Some(StoredEntry {
        position,
        raw: RawEntry {
            site: v(1)?.text()?,
            epoch: v(2)?.int()?,
            number: v(3)?.int()?,
            kind: v(4)?.text()?,
            effective: v(5)?.text()?,
            recorded_ms: v(6)?.int()?,
            recorded_offset: v(7)?.int()?,
            author: v(8)?.text()?,
            program: v(9)?.text()?,
            evidence,
            body: v(11)?.text()?,
            encoding: v(12)?.int()?,
        },
        prev: v(13)?.hash()?,
        hash: v(14)?.hash()?,
    })
}

fn value<'a>(payload: &'a [u8], at: &mut usize, kind: u64) -> Option<Value<'a>> {
    let mut take = |n: usize| {
        let part = payload.get(*at..at.checked_add(n)?)?;
        *at += n;
        Some(part)
    };
    let int = |bytes: &[u8]| {
        let negative = bytes.first().is_some_and(|b| b & 0x80 != 0);
        bytes.iter().fold(if negative { -1 } else { 0 }, |n: i64, b| (n << 8) | i64::from(*b))
    };
    Some(match kind {
        0 => Value::Null,
        1..=4 => Value::Int(int(take(usize::try_from(kind).ok()?)?)),
        5 => Value::Int(int(take(6)?)),
        6 => Value::Int(int(take(8)?)),
        8 => Value::Int(0),
        9 => Value::Int(1),
        n if n >= 12 && n % 2 == 0 => Value::Blob(take(usize::try_from((n - 12) / 2).ok()?)?),
        n if n >= 13 => {
            Value::Text(std::str::from_utf8(take(usize::try_from((n - 13) / 2).ok()?)?).ok()?)
        }
        _ => return None,
    })
}
