//! Serials into joints, names into entries, and drafts that say where they come from.

use super::lookup::{JointMatch, Lookup};
use super::table::Row;
use crate::model::{Body, Chain, Draft, EntryId, Evidence, JointRef, Moment, Serial, Site};

/// The joint that a cell names, as a serial or as `serial@entry`.
pub(super) fn joint(
    row: &mut Row<'_>,
    lookup: &dyn Lookup,
    key: &str,
    at: Option<Moment>,
) -> Option<JointMatch> {
    let text = row.text(key)?;
    one(row, lookup, key, &text, at)
}

/// The joint that must be named.
pub(super) fn need_joint(
    row: &mut Row<'_>,
    lookup: &dyn Lookup,
    key: &str,
    at: Option<Moment>,
) -> Option<JointMatch> {
    if row.text(key).is_none() {
        row.missing(key, "name the joint by its serial");
        return None;
    }
    joint(row, lookup, key, at)
}

/// Joints that a cell names, divided by semicolons.
pub(super) fn joints(
    row: &mut Row<'_>,
    lookup: &dyn Lookup,
    key: &str,
    at: Option<Moment>,
) -> Vec<JointRef> {
    let Some(text) = row.text(key) else { return Vec::new() };
    let parts: Vec<&str> = text.split(';').map(str::trim).filter(|p| !p.is_empty()).collect();
    parts.iter().filter_map(|p| one(row, lookup, key, p, at).map(|m| m.joint)).collect()
}

fn one(
    row: &mut Row<'_>,
    lookup: &dyn Lookup,
    key: &str,
    text: &str,
    at: Option<Moment>,
) -> Option<JointMatch> {
    let (serial_text, entry) = match text.rsplit_once('@') {
        Some((s, e)) if e.parse::<EntryId>().is_ok() => (s, e.parse::<EntryId>().ok()),
        _ => (text, None),
    };
    let serial = match Serial::parse(serial_text) {
        Ok(serial) => serial,
        Err(e) => {
            row.wrong(Some(key), e.to_string(), "");
            return None;
        }
    };
    let clock = row.clock();
    let mut found = lookup.joints(&serial.key());
    if let Some(entry) = &entry {
        found.retain(|m| m.joint.joint == *entry);
        if found.is_empty() {
            let message = format!("no joint of the book is {serial}@{entry}");
            row.wrong(Some(key), message, "name a joint by its serial and its first entry");
            return None;
        }
    }
    if found.is_empty() {
        let help = meant(lookup, text, &serial)
            .unwrap_or_else(|| "take in its certificate first, or correct the serial".to_owned());
        row.wrong(Some(key), format!("{serial} is no joint of the book"), &help);
        return None;
    }
    if found.len() > 1
        && let Some(at) = at
    {
        // A serial that was marked anew meant another joint at another time.
        let (from, to) = (at.end(clock).0, at.start(clock).0);
        let carried: Vec<JointMatch> = found
            .iter()
            .filter(|m| {
                m.since.start(clock).0 <= from && m.until.is_none_or(|u| u.end(clock).0 >= to)
            })
            .cloned()
            .collect();
        if !carried.is_empty() {
            found = carried;
        }
    }
    if found.len() > 1 {
        let list: Vec<String> = found
            .iter()
            .map(|m| format!("{}@{} ({}, since {})", serial, m.joint.joint, m.component, m.since))
            .collect();
        row.wrong(
            Some(key),
            format!("{serial} means {} joints: {}", found.len(), list.join(", ")),
            &format!("write which one: {serial}@{}", found[0].joint.joint),
        );
        return None;
    }
    let mut found = found.swap_remove(0);
    found.joint.serial = serial;
    if let Some(at) = at {
        if found.made.is_some_and(|made| made.start(clock).0 > at.end(clock).0) {
            let made = found.made.map(|m| m.to_string()).unwrap_or_default();
            row.wrong(
                Some(key),
                format!("{} was made on {made}, after {at}", found.joint.serial),
                "correct the date or the serial",
            );
            return None;
        }
        if found.since.start(clock).0 > at.end(clock).0 {
            let message =
                format!("{} entered the book on {}, after {at}", found.joint.serial, found.since);
            row.odd(Some(key), message, "check the date; facts before the entry count as history");
        }
    }
    Some(found)
}

/// What a text may mean that is no serial of the book: zeros that a spreadsheet dropped, several joints in
/// one cell.
fn meant(lookup: &dyn Lookup, text: &str, serial: &Serial) -> Option<String> {
    let is_known =
        |text: &str| Serial::parse(text.trim()).is_ok_and(|s| !lookup.joints(&s.key()).is_empty());
    let key = serial.key();
    if key.bytes().all(|b| b.is_ascii_digit()) {
        let padded = (1..=8).map(|zeros| "0".repeat(zeros) + text.trim());
        let found = padded.into_iter().find(|text| is_known(text));
        return found.map(|found| {
            format!(
                "the book has {found}: a spreadsheet takes the zeros before a number away; format the \
                 column as text and write the serials whole"
            )
        });
    }
    for sign in [",", "&", "/", "+", " and "] {
        let parts: Vec<&str> = text.split(sign).map(str::trim).filter(|p| !p.is_empty()).collect();
        if parts.len() > 1 && parts.iter().all(|p| is_known(p)) {
            return Some(format!(
                "several joints of one row are divided by semicolons: {}",
                parts.join("; ")
            ));
        }
    }
    let ends = [" to ", " - ", " \u{2013} ", "..", " thru ", " through "]
        .iter()
        .find_map(|sign| text.split_once(sign))
        .filter(|(a, b)| is_known(a) && is_known(b))?;
    Some(format!(
        "name each joint, divided by semicolons, as in {}; {}: which are between the two no file says",
        ends.0.trim(),
        ends.1.trim()
    ))
}

/// The run that a cell names.
pub(super) fn run(row: &mut Row<'_>, lookup: &dyn Lookup, key: &str) -> Option<EntryId> {
    let text = row.text(key)?;
    let mut found = lookup.runs(&text);
    match found.len() {
        1 => Some(found.swap_remove(0)),
        0 => match text.parse::<EntryId>() {
            Ok(entry) if lookup.has_entry(&entry) => Some(entry),
            _ => {
                row.wrong(
                    Some(key),
                    format!("no run of the book is named '{text}'"),
                    "take in the run first, or correct its name",
                );
                None
            }
        },
        _ => {
            let list: Vec<String> = found.iter().map(ToString::to_string).collect();
            row.wrong(
                Some(key),
                format!("'{text}' names {} runs: {}", list.len(), list.join(", ")),
                "write the entry of the one that is meant",
            );
            None
        }
    }
}

/// An entry that a cell names.
pub(super) fn entry(row: &mut Row<'_>, lookup: &dyn Lookup, key: &str) -> Option<EntryId> {
    let text = row.text(key)?;
    let message = match text.parse::<EntryId>() {
        Ok(entry) if lookup.has_entry(&entry) => return Some(entry),
        Ok(_) => format!("the book has no entry {text}"),
        Err(e) => e.to_string(),
    };
    row.wrong(Some(key), message, "");
    None
}

/// A body that waits for its file's digest.
#[derive(Clone, Debug)]
pub(super) struct Made {
    /// Rows that it was made from.
    pub rows: Vec<u64>,
    pub effective: Moment,
    pub body: Body,
}

/// The rows of a draft in words: `row 12`, `rows 12, 14`, `rows 12 to 40`.
pub(super) fn place(sheet: Option<&str>, rows: &[u64]) -> Option<String> {
    let text = match rows {
        [] => return sheet.map(|s| format!("sheet {s}")),
        [one] => format!("row {one}"),
        [first, .., last] if rows.len() > 3 => format!("rows {first} to {last}"),
        many => {
            format!("rows {}", many.iter().map(u64::to_string).collect::<Vec<_>>().join(", "))
        }
    };
    Some(sheet.map_or_else(|| text.clone(), |s| format!("sheet {s}, {text}")))
}

/// Rows in words, every one of them: `rows 9 to 12, 15, 18 to 20`.
pub(super) fn spans(rows: &[u64]) -> String {
    let mut spans: Vec<(u64, u64)> = Vec::new();
    for row in rows {
        match spans.last_mut() {
            Some((_, last)) if *last + 1 == *row => *last = *row,
            _ => spans.push((*row, *row)),
        }
    }
    let said = spans.iter().map(|(first, last)| match last - first {
        0 => first.to_string(),
        _ => format!("{first} to {last}"),
    });
    let said: Vec<String> = said.collect();
    format!("{} {}", if rows.len() == 1 { "row" } else { "rows" }, said.join(", "))
}

/// Turns what was made from a file into drafts with their evidence.
pub(super) fn drafts(made: Vec<Made>, file: &str, sha256: &str, sheet: Option<&str>) -> Vec<Draft> {
    made.into_iter()
        .map(|m| Draft {
            effective: m.effective,
            evidence: Some(Evidence {
                file: file.to_owned(),
                sha256: sha256.to_owned(),
                place: place(sheet, &m.rows),
            }),
            body: m.body,
        })
        .collect()
}

/// Joins rows that say the same of different joints into one fact about all of them.
pub(super) fn merge_joints(made: Vec<Made>) -> Vec<Made> {
    let mut out: Vec<Made> = Vec::new();
    for mut m in made {
        let Some(joints) = m.body.joint_list().map(std::mem::take) else {
            out.push(m);
            continue;
        };
        let same = out.iter_mut().rev().take(64).position(|o| {
            o.effective == m.effective && {
                let held = o.body.joint_list().map(std::mem::take).unwrap_or_default();
                let alike = o.body == m.body && !joints.is_empty() && !held.is_empty();
                if let Some(slot) = o.body.joint_list() {
                    *slot = held;
                }
                alike
            }
        });
        let last = out.len();
        let same = same.and_then(|back| out.get_mut(last - 1 - back));
        if let Some(o) = same {
            o.rows.append(&mut m.rows);
            if let Some(slot) = o.body.joint_list() {
                for joint in joints {
                    if !slot.contains(&joint) {
                        slot.push(joint);
                    }
                }
            }
        } else {
            if let Some(slot) = m.body.joint_list() {
                *slot = joints;
            }
            out.push(m);
        }
    }
    out
}

/// The name of an entry that a draft of the same file will become. No book has such a chain.
pub(super) fn provisional(draft: usize) -> Option<EntryId> {
    let site = Site::parse("this_file").ok()?;
    Some(EntryId { chain: Chain { site, epoch: u32::MAX }, number: draft as u64 + 1 })
}

/// Leaves out what is not to be kept, and what speaks of it, of facts that become drafts after so many
/// others; what speaks of another fact among them names it by its place among all.
pub(super) fn kept(
    made: Vec<Made>,
    after: usize,
    mut keep: impl FnMut(&Made) -> bool,
) -> Vec<Made> {
    let mut places: Vec<Option<u64>> = Vec::with_capacity(made.len());
    let mut out: Vec<Made> = Vec::with_capacity(made.len());
    for mut m in made {
        let mut whole = keep(&m);
        for named in m.body.joints_mut() {
            if named.joint.chain.epoch != u32::MAX {
                continue;
            }
            // The first that is named is no further on than the fact that names it.
            let own = named.joint.number.checked_sub(1).and_then(|n| usize::try_from(n).ok());
            match own.and_then(|n| places.get(n).copied().flatten()) {
                Some(place) => named.joint.number = place,
                None => whole = false,
            }
        }
        places.push(whole.then(|| (after + out.len()) as u64 + 1));
        if whole {
            out.push(m);
        }
    }
    out
}

/// Gives joints that a file both introduces and speaks about their entries' names, once it is
/// known how the drafts will be numbered: `name(i)` is the entry of draft `i`.
pub fn settle(drafts: &mut [Draft], name: impl Fn(usize) -> EntryId) {
    for draft in drafts {
        for named in draft.body.joints_mut() {
            let EntryId { chain, number } = &named.joint;
            if chain.epoch == u32::MAX
                && let Some(at) = number.checked_sub(1).and_then(|n| usize::try_from(n).ok())
            {
                named.joint = name(at);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_in_words() {
        assert_eq!(place(None, &[12]).as_deref(), Some("row 12"));
        assert_eq!(place(Some("A"), &[12, 14]).as_deref(), Some("sheet A, rows 12, 14"));
        assert_eq!(place(None, &[1, 2, 3, 4]).as_deref(), Some("rows 1 to 4"));
        assert_eq!(place(None, &[]), None);
        assert_eq!(spans(&[9, 10, 12, 14, 15, 16]), "rows 9 to 10, 12, 14 to 16");
        assert_eq!(spans(&[9]), "row 9");
    }
}
