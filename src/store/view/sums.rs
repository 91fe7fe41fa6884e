//! Sums over the runs of a joint as they were: those of today less the runs that are not seen, where
//! nothing but those runs tells them apart.

use std::path::Path;

use rusqlite::Connection;
use rusqlite::types::Value;

use crate::projection::joint::{ESTIMATED, MISFIT, TWICE};
use crate::schema::JointRunRow;
use crate::store::error::{InFile, Result};
use crate::store::project::{Lived, Past, part};

/// What is summed, as a column of `joint_run`.
const SUMS: [&str; 10] = [
    "hours",
    "revolutions",
    "footage",
    "cased_hours",
    "open_turns",
    "side_work",
    "over_limit",
    "damage_pin",
    "damage_middle",
    "damage_box",
];

/// Where the three places of damage begin in [`SUMS`].
const DAMAGE: usize = 7;

/// Columns of `joint`: the name, the sum that bounds it, and whether from above.
const COLUMNS: [(&str, usize, bool); 17] = [
    ("hours_lo", 0, false),
    ("hours_hi", 0, true),
    ("revolutions_lo", 1, false),
    ("revolutions_hi", 1, true),
    ("footage_lo", 2, false),
    ("footage_hi", 2, true),
    ("cased_hours_lo", 3, false),
    ("cased_hours_hi", 3, true),
    ("open_turns_lo", 4, false),
    ("open_turns_hi", 4, true),
    ("side_work_lo", 5, false),
    ("side_work_hi", 5, true),
    ("over_limit_lo", 6, false),
    ("over_limit_hi", 6, true),
    ("damage_pin", 7, false),
    ("damage_middle", 8, false),
    ("damage_box", 9, false),
];

/// The worst of the three places.
const WORST: [&str; 2] = ["damage_lo", "damage_hi"];

/// A column that is known so.
pub(super) fn column(name: &str) -> Option<&'static str> {
    COLUMNS.iter().map(|c| c.0).chain(WORST).find(|c| *c == name)
}

/// A sum as it stands today, or what a run adds to it.
type Sums = [Option<i64>; 10];

fn of_line(line: &JointRunRow) -> Sums {
    let f = &line.figures;
    [
        f.hours,
        f.revolutions,
        f.footage,
        f.cased_hours,
        f.open_turns,
        f.side_work,
        f.over_limit,
        f.damage_pin,
        f.damage_middle,
        f.damage_box,
    ]
}

/// A joint as it stands today.
struct Today {
    conflicted: bool,
    lo: [i64; 10],
    open: [bool; 10],
}

fn today(conn: &Connection, path: &Path, joint: i64) -> Result<Option<Today>> {
    let mut statement = conn
        .prepare_cached(
            "SELECT conflicted, hours_lo, revolutions_lo, footage_lo, cased_hours_lo,
                    open_turns_lo, side_work_lo, over_limit_lo, damage_pin, damage_middle,
                    damage_box, hours_hi, revolutions_hi, footage_hi, cased_hours_hi,
                    open_turns_hi, side_work_hi, over_limit_hi, damage_hi
             FROM joint WHERE joint = ?1",
        )
        .in_file(path)?;
    let mut rows = statement.query([joint]).in_file(path)?;
    let Some(row) = rows.next().in_file(path)? else { return Ok(None) };
    let read = || -> rusqlite::Result<Today> {
        let (mut lo, mut open) = ([0; 10], [false; 10]);
        for n in 0..SUMS.len() {
            lo[n] = row.get(1 + n)?;
            open[n] = row.get::<_, Option<i64>>(11 + n.min(DAMAGE))?.is_none();
        }
        Ok(Today { conflicted: row.get(0)?, lo, open })
    };
    read().in_file(path).map(Some)
}

/// What the asked columns hold where they differ from today; `None` when a fold must tell.
pub(super) fn over_runs(
    past: &Past,
    conn: &Connection,
    path: &Path,
    joint: i64,
    lived: &Lived,
    asked: &[&'static str],
) -> Result<Option<Vec<(&'static str, Value)>>> {
    let Some(until) = past.until else { return Ok(None) };
    if past.parts.get(&joint).is_some_and(|p| p & part::LIFE != 0) {
        return Ok(None);
    }
    let Some(today) = today(conn, path, joint)? else { return Ok(None) };
    if today.conflicted {
        return Ok(None);
    }
    let again: Vec<&JointRunRow> = lived.lines_of(joint).collect();
    let Some(later) = Later::read(conn, path, joint, until)? else { return Ok(None) };
    if later.runs.is_empty() && again.is_empty() {
        return Ok(Some(Vec::new()));
    }
    let damage = asked.iter().any(|c| c.starts_with("damage"));
    let flags = again.iter().fold(0, |all, line| all | line.flags);
    if again.len() > 1
        || later.runs.iter().filter(|run| past.runs.contains(run)).count() != again.len()
        || flags & (TWICE | MISFIT) != 0
        || again.iter().any(|line| later.before.is_some_and(|finish| finish > line.start))
        || damage && !later.is_of_one_length(conn, path, joint, until, &again)?
    {
        return Ok(None);
    }
    let (mut lo, mut open) = (today.lo, today.open);
    for n in 0..SUMS.len() {
        let Some(less) = later.sums[n] else { return Ok(None) };
        lo[n] = match lo[n].checked_sub(less).filter(|_| lo[n] != i64::MAX) {
            Some(left) => left,
            None => return Ok(None),
        };
        for line in &again {
            // One place of damage that is not known leaves none known.
            let Some(more) = of_line(line)[n] else { return Ok(None) };
            lo[n] = lo[n].saturating_add(more);
        }
        open[n] |= flags & ESTIMATED != 0;
    }
    let value = |lo: i64, open: bool, hi: bool| match (hi, open) {
        (true, true) => Value::Null,
        _ => Value::Integer(lo),
    };
    let worst = lo[DAMAGE..].iter().copied().max().unwrap_or(0);
    let any_open = open[DAMAGE..].iter().any(|o| *o);
    let told = asked.iter().filter_map(|column| {
        if let Some(at) = WORST.iter().position(|w| w == column) {
            return Some((*column, value(worst, any_open, at == 1)));
        }
        let (_, n, hi) = COLUMNS.iter().find(|c| c.0 == *column)?;
        Some((*column, value(lo[*n], open[*n], *hi)))
    });
    Ok(Some(told.collect()))
}

/// The runs of a joint that ended after an instant, as they stand in the file.
struct Later {
    runs: Vec<i64>,
    /// What they add, when that is known.
    sums: Sums,
    /// Length and beginning of each.
    lengths: Vec<(i64, i64)>,
    /// When the last run before them ended.
    before: Option<i64>,
}

impl Later {
    /// `None` when what they add is an estimate.
    fn read(conn: &Connection, path: &Path, joint: i64, until: i64) -> Result<Option<Self>> {
        let mut statement = conn
            .prepare_cached(
                "SELECT run, start, length, flags, hours, revolutions, footage, cased_hours,
                        open_turns, side_work, over_limit, damage_pin, damage_middle, damage_box
                 FROM joint_run WHERE joint = ?1 AND finish > ?2",
            )
            .in_file(path)?;
        let mut rows = statement.query([joint, until]).in_file(path)?;
        let mut out =
            Self { runs: Vec::new(), sums: [Some(0); 10], lengths: Vec::new(), before: None };
        while let Some(row) = rows.next().in_file(path)? {
            let flags: i64 = row.get(3).in_file(path)?;
            if flags & ESTIMATED != 0 {
                return Ok(None);
            }
            out.runs.push(row.get(0).in_file(path)?);
            out.lengths.push((row.get(2).in_file(path)?, row.get(1).in_file(path)?));
            for (n, sum) in out.sums.iter_mut().enumerate() {
                let more: Option<i64> = row.get(4 + n).in_file(path)?;
                *sum = sum.zip(more).and_then(|(a, b)| a.checked_add(b));
            }
        }
        out.before = conn
            .prepare_cached("SELECT max(finish) FROM joint_run WHERE joint = ?1 AND finish <= ?2")
            .and_then(|mut s| s.query_row([joint, until], |r| r.get(0)))
            .in_file(path)?;
        Ok(Some(out))
    }

    /// Whether the joint was as long, and its pin as far back, in these runs and at the instant as
    /// it is today: damage is kept by place on the body.
    fn is_of_one_length(
        &self,
        conn: &Connection,
        path: &Path,
        joint: i64,
        until: i64,
        again: &[&JointRunRow],
    ) -> Result<bool> {
        let mut statement = conn
            .prepare_cached(
                "SELECT at, length, pin_removed FROM dimension WHERE joint = ?1 ORDER BY at",
            )
            .in_file(path)?;
        let rows = statement
            .query_map([joint], |r| Ok((r.get(0)?, (r.get(1)?, r.get(2)?))))
            .in_file(path)?;
        type Dims = (Option<i64>, i64);
        let rows: Vec<(i64, Dims)> = rows.collect::<rusqlite::Result<_>>().in_file(path)?;
        let Some((_, now)) = rows.last() else { return Ok(false) };
        let starts = self.lengths.iter().copied();
        let starts = starts.chain(again.iter().map(|line| (line.length, line.start)));
        let began = starts.clone().map(|s| s.1).chain([until]).min().unwrap_or(until);
        // What was in force then, and everything since.
        let first = rows.partition_point(|r| r.0 <= began).saturating_sub(1);
        Ok(rows[first..].iter().all(|r| r.1 == *now)
            && starts.into_iter().all(|(length, _)| Some(length) == now.0))
    }
}
