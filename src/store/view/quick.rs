//! Columns of joints that need no fold: a column that no entry of what is not seen has a part in
//! stands as in the file, and readings and classes stand in the records of inspections.

use std::collections::BTreeSet;
use std::path::Path;

use rusqlite::types::Value;
use rusqlite::{Connection, OptionalExtension, params_from_iter};

use super::folds::{CHUNK, Pile, Scribe};
use super::guard::Made;
use super::sums;
use super::tables::basis_of;
use super::{Until, View};
use crate::model::{Body, End, ReadingKind, RepairBody};
use crate::schema::{Basis, JointRow, Row};
use crate::store::error::{InFile, Result};
use crate::store::ledger::at_position;
use crate::store::migrate;
use crate::store::project::{Lived, Past, part};

/// Readings in force: the column of `joint`, that of `inspection`, and what is read.
const READINGS: [(&str, &str, ReadingKind, Option<End>); 14] = [
    ("wall", "wall", ReadingKind::Wall, None),
    ("wall_thickness", "wall_thickness", ReadingKind::Wall, None),
    // Of the reading before.
    ("wall_read", "iif(wall_thickness IS NULL, NULL, date)", ReadingKind::Wall, None),
    ("body_od", "body_od", ReadingKind::BodyOd, None),
    ("slip_od", "slip_od", ReadingKind::SlipOd, None),
    ("pin_od", "pin_od", ReadingKind::JointOd, Some(End::Pin)),
    ("pin_id", "pin_id", ReadingKind::JointId, Some(End::Pin)),
    ("pin_shoulder", "pin_shoulder", ReadingKind::Shoulder, Some(End::Pin)),
    ("pin_stretch", "pin_stretch", ReadingKind::Stretch, Some(End::Pin)),
    ("pin_tong", "pin_tong", ReadingKind::TongSpace, Some(End::Pin)),
    ("box_od", "box_od", ReadingKind::JointOd, Some(End::Box)),
    ("box_shoulder", "box_shoulder", ReadingKind::Shoulder, Some(End::Box)),
    ("box_counterbore", "box_counterbore", ReadingKind::Counterbore, Some(End::Box)),
    ("box_tong", "box_tong", ReadingKind::TongSpace, Some(End::Box)),
];

/// Two facts further apart than this are of two civil days, at whatever clocks: ms.
const TWO_DAYS: i64 = 2 * 86_400_000;

/// What is asked of joints, sorted by what it takes to know it.
pub(super) struct Quick {
    custody: bool,
    serial: bool,
    complete: bool,
    class: bool,
    readings: Vec<(&'static str, &'static str, ReadingKind, Option<End>)>,
    /// Columns of sums over runs.
    sums: Vec<&'static str>,
}

/// What is looked into.
#[derive(Clone, Copy)]
struct Desk<'a> {
    past: &'a Past,
    conn: &'a Connection,
    path: &'a Path,
    /// Runs that were derived again, where sums over runs are asked for.
    lived: Option<&'a Lived>,
}

/// What was found out about a joint.
pub(super) enum Told {
    /// Everything stands as in the file.
    AsItIs,
    /// These columns hold something else.
    Otherwise(Vec<(&'static str, Value)>),
    /// It is no joint that is seen.
    Nothing,
    /// It must be folded.
    Unknown,
}

impl Quick {
    /// `None` when some of the columns need the fold of every joint that may have changed.
    pub(super) fn of(columns: &BTreeSet<String>) -> Option<Self> {
        let mut out = Self {
            custody: false,
            serial: false,
            complete: false,
            class: false,
            readings: Vec::new(),
            sums: Vec::new(),
        };
        for column in columns.iter().map(String::as_str) {
            match column {
                "serial" => out.serial = true,
                "class" => out.class = true,
                "life_complete" | "unknown_until" => out.complete = true,
                c if basis_of(c) == Some(Basis::Entry) => {}
                c if basis_of(c) == Some(Basis::Custody) => out.custody = true,
                c => match sums::column(c) {
                    Some(sum) => out.sums.push(sum),
                    None => out.readings.push(*READINGS.iter().find(|r| r.0 == c)?),
                },
            }
        }
        Some(out)
    }

    /// Finds out what the columns of a joint hold.
    fn ask(&self, desk: &Desk<'_>, joint: i64) -> Result<Told> {
        let Desk { past, conn, path, lived } = *desk;
        let gone = |entry: &i64| past.unseen.gone.contains(entry);
        if gone(&joint) {
            return Ok(Told::Nothing);
        }
        let parts = past.parts.get(&joint).copied().unwrap_or(0);
        let has = |asked: bool, part: u8| asked && parts & part != 0;
        if has(self.serial, part::NAME)
            || has(self.custody, part::CUSTODY)
            || has(self.complete, part::LIFE)
        {
            return Ok(Told::Unknown);
        }
        let mut out = Vec::new();
        if self.class && past.until.is_none() {
            // Checks of instruments have a part in it.
            return Ok(Told::Unknown);
        }
        if self.class && parts & (part::INSPECTION | part::REPAIR | part::DECISION) != 0 {
            if parts & (part::REPAIR | part::DECISION) != 0 {
                return Ok(Told::Unknown);
            }
            match class_before(past, conn, path, joint)? {
                Some(class) => out.push(("class", class)),
                None => return Ok(Told::Unknown),
            }
        }
        if parts & (part::INSPECTION | part::REPAIR) != 0 && !self.readings.is_empty() {
            for (column, sql, what, end) in &self.readings {
                match reading(past, conn, path, joint, sql, (*what, *end))? {
                    Some(value) => out.push((*column, value)),
                    None => return Ok(Told::Unknown),
                }
            }
        }
        if let Some(lived) = lived {
            match sums::over_runs(past, conn, path, joint, lived, &self.sums)? {
                Some(values) => out.extend(values),
                None => return Ok(Told::Unknown),
            }
        }
        Ok(if out.is_empty() { Told::AsItIs } else { Told::Otherwise(out) })
    }
}

/// The latest reading that is seen; `None` when the records do not tell.
fn reading(
    past: &Past,
    conn: &Connection,
    path: &Path,
    joint: i64,
    column: &str,
    key: (ReadingKind, Option<End>),
) -> Result<Option<Value>> {
    let mut found: Option<(i64, Value)> = None;
    {
        let mut statement = conn
            .prepare_cached(&format!(
                "SELECT date, entry, {column} FROM inspection WHERE joint = ?1
                 ORDER BY date DESC, entry DESC"
            ))
            .in_file(path)?;
        let mut rows = statement.query([joint]).in_file(path)?;
        while let Some(row) = rows.next().in_file(path)? {
            let (at, entry): (i64, i64) = (row.get(0).in_file(path)?, row.get(1).in_file(path)?);
            if past.unseen.gone.contains(&entry) {
                continue;
            }
            if found.as_ref().is_some_and(|f| f.0 - at > TWO_DAYS) {
                break;
            }
            let value: Value = row.get(2).in_file(path)?;
            if value != Value::Null {
                if found.is_some() {
                    // Of several on one day the worst stands.
                    return Ok(None);
                }
                found = Some((at, value));
            }
        }
    }
    let since = found.as_ref().map_or(i64::MIN, |f| f.0 - TWO_DAYS);
    let mut statement = conn
        .prepare_cached(
            "SELECT entry FROM repair WHERE joint = ?1 AND date >= ?2 ORDER BY date, entry",
        )
        .in_file(path)?;
    let mut rows = statement.query([joint, since]).in_file(path)?;
    while let Some(row) = rows.next().in_file(path)? {
        let entry: i64 = row.get(0).in_file(path)?;
        if !past.unseen.gone.contains(&entry) && has_part(past, conn, path, entry, key)? {
            return Ok(None);
        }
    }
    Ok(Some(found.map_or(Value::Null, |f| f.1)))
}

/// Whether a repair brought a reading, or ended one.
fn has_part(
    past: &Past,
    conn: &Connection,
    path: &Path,
    entry: i64,
    (what, end): (ReadingKind, Option<End>),
) -> Result<bool> {
    let Some(stored) = at_position(conn, path, entry)? else { return Ok(true) };
    let entry = stored.raw.read()?;
    let (at, Body::Repair(body)) = (entry.starts(), &entry.body) else { return Ok(true) };
    let RepairBody { work, results, .. } = &**body;
    let voids = past.voids(*work, what, at);
    Ok(voids || results.iter().any(|r| r.what == what && r.end == end))
}

/// The class before the first inspection that is not seen, when nothing else that is not seen came
/// before it.
fn class_before(past: &Past, conn: &Connection, path: &Path, joint: i64) -> Result<Option<Value>> {
    let Some(until) = past.until else { return Ok(None) };
    let mut statement = conn
        .prepare_cached(
            "SELECT date, class_before FROM inspection WHERE joint = ?1 AND date >= ?2
             ORDER BY date LIMIT 2",
        )
        .in_file(path)?;
    let rows = statement.query_map([joint, until], |r| Ok((r.get(0)?, r.get(1)?))).in_file(path)?;
    let rows: Vec<(i64, Value)> = rows.collect::<rusqlite::Result<_>>().in_file(path)?;
    match rows.as_slice() {
        // It counts no more: the class is as it is.
        [] => conn
            .query_row("SELECT class FROM joint WHERE joint = ?1", [joint], |r| r.get(0))
            .optional()
            .in_file(path),
        [(a, _), (b, _)] if a == b => Ok(None),
        [(_, class), ..] => Ok(Some(class.clone())),
    }
}

impl View {
    /// Fills columns of `joint` that are known without a fold, for all joints or nearly all; the
    /// others are folded.
    pub(super) fn make_quick(
        &self,
        conn: &Connection,
        path: &Path,
        columns: BTreeSet<String>,
        quick: &Quick,
        until: Option<Until>,
    ) -> Result<()> {
        let (made, indexes) = migrate::own_table(JointRow::TABLE);
        let list: Vec<String> = columns.iter().map(|c| format!("\"{c}\"")).collect();
        let list = list.join(", ");
        self.guard.forbid(JointRow::TABLE);
        conn.execute_batch(&format!(
            "DROP TABLE IF EXISTS temp.joint; {made};
             INSERT INTO temp.joint ({list}) SELECT {list} FROM main.joint;"
        ))
        .in_file(path)?;
        let joints: Vec<i64> = self.past.joints.iter().copied().collect();
        let lived = if quick.sums.is_empty() { None } else { Some(self.lived(path, until)?) };
        let (past, lived) = (&self.past, lived.as_deref());
        let job = |source: &Connection,
                   pile: &Pile<'_>,
                   tell: &mut dyn FnMut(Vec<(i64, Told)>) -> Result<()>|
         -> Result<()> {
            while let Some(chunk) = pile.take() {
                let desk = Desk { past, conn: source, path, lived };
                let told = chunk.iter().map(|joint| Ok((*joint, quick.ask(&desk, *joint)?)));
                tell(told.collect::<Result<_>>()?)?;
            }
            Ok(())
        };
        let mut unknown = Vec::new();
        self.side_by_side(path, (&joints, CHUNK), until, &job, |told: Vec<(i64, Told)>| {
            for (joint, told) in told {
                match told {
                    Told::AsItIs => {}
                    Told::Otherwise(values) => correct(conn, path, joint, &values)?,
                    Told::Nothing => drop(
                        conn.execute("DELETE FROM temp.joint WHERE joint = ?1", [joint])
                            .in_file(path)?,
                    ),
                    Told::Unknown => unknown.push(joint),
                }
            }
            Ok(())
        })?;
        unknown.sort_unstable();
        let columns = Made::Columns(columns);
        let scribe = Scribe::new(conn, path, &[], Some(&columns), None);
        self.each_fold(path, &unknown, lived, until, |joint, folded| {
            conn.execute("DELETE FROM temp.joint WHERE joint = ?1", [joint]).in_file(path)?;
            scribe.write(joint, &folded)
        })?;
        conn.execute_batch(&indexes.join(";")).in_file(path)?;
        self.guard.allow(JointRow::TABLE, columns);
        Ok(())
    }
}

/// Puts other values into the row of a joint.
fn correct(
    conn: &Connection,
    path: &Path,
    joint: i64,
    values: &[(&'static str, Value)],
) -> Result<()> {
    let set: Vec<String> = values.iter().map(|(c, _)| format!("\"{c}\" = ?")).collect();
    let sql = format!("UPDATE temp.joint SET {} WHERE joint = ?", set.join(", "));
    let joint = Value::Integer(joint);
    let values = values.iter().map(|(_, v)| v).chain([&joint]);
    conn.prepare_cached(&sql)
        .and_then(|mut s| s.execute(params_from_iter(values)))
        .in_file(path)
        .map(drop)
}
