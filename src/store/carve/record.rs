//! A record of the table of entries: the types in its header, the values of its columns.

use super::super::entries::StoredEntry;
use crate::ledger::{HASH_LENGTH, Hash, RawEntry};

/// Columns of an entry.
pub(super) const COLUMNS: usize = 15;
/// Serial type of a hash: a blob of [`HASH_LENGTH`] bytes, twice that and 12.
pub(super) const HASH_TYPE: u8 = 76;
/// Most bytes of a header: a type of a text takes up to five, all others one.
pub(super) const HEADER_MOST: usize = 1 + COLUMNS + 24;

/// What a header says of the record behind it.
pub(super) struct Layout {
    types: Vec<u64>,
    /// Bytes of the header.
    pub header: usize,
    /// Bytes of the whole record.
    pub size: usize,
}

/// Reads the header of an entry's record; `None` when it is that of no entry.
pub(super) fn layout(payload: &[u8]) -> Option<Layout> {
    let mut at = 0;
    let header = usize::try_from(varint(payload, &mut at)?).ok()?;
    if header > HEADER_MOST {
        return None;
    }
    let mut types = Vec::with_capacity(COLUMNS);
    while at < header {
        types.push(varint(payload, &mut at)?);
    }
    if at != header || types.len() != COLUMNS || !types.iter().enumerate().all(|(i, t)| fits(i, *t))
    {
        return None;
    }
    let size = types.iter().try_fold(header, |sum, t| sum.checked_add(size_of(*t)?))?;
    Some(Layout { types, header, size })
}

/// Whether a column of an entry can have a value of this type.
const fn fits(column: usize, kind: u64) -> bool {
    let whole = matches!(kind, 1..=6 | 8 | 9);
    let text = kind >= 13 && kind % 2 == 1;
    match column {
        0 => kind == 0,
        2 | 3 | 6 | 7 | 12 => whole,
        10 => kind == 0 || text,
        13 | 14 => kind == HASH_TYPE as u64,
        _ => text,
    }
}

/// Bytes of a value by its type.
fn size_of(kind: u64) -> Option<usize> {
    match kind {
        0 | 8 | 9 => Some(0),
        1..=4 => usize::try_from(kind).ok(),
        5 => Some(6),
        6 => Some(8),
        n if n >= 12 => usize::try_from((n - 12) / 2).ok(),
        _ => None,
    }
}

/// Whether bytes may be those of an entry's record of which one bit is wrong at most: a bit spoils
/// one of the signs by which a header is known.
pub(super) fn resembles(record: &[u8]) -> bool {
    let is_type = |at: usize| record.get(at) == Some(&HASH_TYPE);
    let pair = |end: usize| end >= 2 && is_type(end - 2) && is_type(end - 1);
    let half = |end: usize| end >= 2 && (is_type(end - 2) || is_type(end - 1));
    let Some(end) = record.first().copied().map(usize::from) else { return false };
    let null = record.get(1) == Some(&0);
    let length = (COLUMNS + 1..=HEADER_MOST).contains(&end);
    (length && (pair(end) || null && half(end))) || (null && (COLUMNS + 1..=HEADER_MOST).any(pair))
}

/// A variable-length number of up to nine bytes.
pub(super) fn varint(bytes: &[u8], at: &mut usize) -> Option<u64> {
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

/// Where the links stand, at the end of a record: the hash of the entry before, and its own.
pub(super) fn links(payload: &[u8]) -> Option<(Hash, Hash)> {
    let links = payload.last_chunk::<{ 2 * HASH_LENGTH }>()?;
    let (prev, own) = links.split_at(HASH_LENGTH);
    Some((Hash::from_bytes(prev)?, Hash::from_bytes(own)?))
}

/// Reads a record as an entry; `None` when it is none.
pub(super) fn entry(payload: &[u8], position: i64) -> Option<StoredEntry> {
    let layout = layout(payload)?;
    // A record is as long as its columns: one that is not was read with a wrong header.
    if layout.size != payload.len() {
        return None;
    }
    let mut at = layout.header;
    let mut values = Vec::with_capacity(COLUMNS);
    for kind in layout.types {
        values.push(value(payload, &mut at, kind)?);
    }
    let v = |i: usize| values.get(i);
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
    let bytes = payload.get(*at..at.checked_add(size_of(kind)?)?)?;
    *at += bytes.len();
    let negative = bytes.first().is_some_and(|b| b & 0x80 != 0);
    let whole =
        || bytes.iter().fold(if negative { -1 } else { 0 }, |n: i64, b| (n << 8) | i64::from(*b));
    Some(match kind {
        0 => Value::Null,
        1..=6 => Value::Int(whole()),
        8 => Value::Int(0),
        9 => Value::Int(1),
        n if n % 2 == 0 => Value::Blob(bytes),
        _ => Value::Text(std::str::from_utf8(bytes).ok()?),
    })
}
