//! Facts that look like corrections of what the book was told before.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use super::Error;
use crate::intake::amend_with;
use crate::model::{Draft, EntryId};
use crate::projection::amend::{fields, is_amendable};
use crate::schema::{StruckRow, TouchRow};
use crate::store::Book;

/// Fields in which a correction differs at most.
const MOST: usize = 3;
/// Facts of a file that are compared with what the book was told: the others are like them.
const COMPARED: usize = 2_000;
/// Entries named; the rest is counted.
const NAMED: usize = 3;

/// Entries that stand of the same kind, joint and day as one of these facts, and say nearly the
/// same: what differs, field by field.
pub(super) fn corrections(book: &Book, drafts: &[Draft]) -> Result<Vec<String>, Error> {
    let mut found: Vec<(EntryId, String)> = Vec::new();
    let mut touched: BTreeMap<i64, Vec<i64>> = BTreeMap::new();
    for draft in drafts.iter().take(COMPARED) {
        let kind = draft.body.kind();
        let joints = draft.body.joints();
        let [joint] = joints.as_slice() else { continue };
        let Some(position) = book.position_of(&joint.joint)?.filter(|_| is_amendable(kind)) else {
            continue;
        };
        let entries = match touched.entry(position) {
            Entry::Occupied(known) => known.into_mut(),
            Entry::Vacant(free) => {
                let rows: Vec<TouchRow> = book.rows_of(position)?;
                free.insert(rows.into_iter().map(|t| t.entry).collect())
            }
        };
        let effective = draft.effective.to_string();
        for entry in entries.iter() {
            let raw = book.entry_at(*entry)?.raw;
            if raw.kind != kind.word() || raw.effective != effective {
                continue;
            }
            if book.row::<StruckRow>(*entry)?.is_some() {
                continue;
            }
            let other = book.counted(*entry)?;
            let (Ok(a), Ok(b)) = (fields(&other.body), fields(&draft.body)) else { continue };
            let differ: Vec<&str> =
                a.keys().filter(|key| a.get(*key) != b.get(*key)).map(String::as_str).collect();
            if (1..=MOST).contains(&differ.len()) {
                found.push((other.id, differ.join(", ").replace('_', " ")));
                break;
            }
        }
    }
    let Some((first, _)) = found.first() else { return Ok(Vec::new()) };
    let named: Vec<String> =
        found.iter().take(NAMED).map(|(entry, differ)| format!("{entry} ({differ})")).collect();
    let more = match found.len().saturating_sub(NAMED) {
        0 => String::new(),
        n => format!(" and {n} more"),
    };
    Ok(vec![format!(
        "of {} facts the book was told nearly the same of the same joint and day: {}{more}; both \
         count. If these correct those: {}; readings and findings by `pipelore strike {first} \
         --reason '…' --instead FILE`",
        found.len(),
        named.join(", "),
        amend_with(first)
    )])
}
