//! Works entries into the projections: finds what an entry touches, gives the pure folds what they
//! read, and writes what they say. Incremental work and a rebuild go through the same steps.

mod appraise;
mod dirty;
mod joints;
mod link;
mod runs;

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use rusqlite::Connection;

use rayon::prelude::*;

use super::carry::{get, put_into};
use super::error::{Clash, InFile, Result, StoreError};
use super::ledger::{COLUMNS, from_row};
use super::migrate;
use crate::model::EntryId;
use crate::projection::book::BookFacts;
use crate::projection::exposure::Method;
use crate::projection::facts::Placed;
use crate::projection::rows::{ConflictRow, StruckRow};
use dirty::Dirty;

pub use appraise::Appraiser;

/// One pass over the projections, inside the caller's transaction.
pub(super) struct Pass<'a> {
    conn: &'a Connection,
    path: &'a Path,
    /// Entries that count no more.
    struck: BTreeSet<i64>,
    /// Facts of the whole book.
    book: BookFacts,
    /// Fatigue method in force.
    method: Method,
    /// Places of entries looked up so far.
    positions: BTreeMap<EntryId, i64>,
    /// Joints that proved to be another one.
    merged: BTreeMap<i64, i64>,
}

/// Works in the entries after a position. Returns the conflicts that they brought.
pub(super) fn apply(conn: &Connection, path: &Path, after: i64) -> Result<Vec<Clash>> {
    let mut pass = Pass::begin(conn, path)?;
    let fresh = pass.entries_after(after)?;
    let before = conflicts(conn, path)?;
    let mut dirty = Dirty::default();
    for placed in &fresh {
        pass.link(placed, &mut dirty)?;
    }
    if dirty.strikes {
        pass.strike(&mut dirty)?;
    }
    if dirty.everything {
        rebuild(conn, path)?;
    } else {
        pass.refresh_book_facts(&fresh)?;
        pass.settle(dirty)?;
    }
    pass.set_position()?;
    let known: BTreeSet<_> = before.iter().map(conflict_key).collect();
    conflicts(conn, path)?
        .iter()
        .filter(|c| !known.contains(&conflict_key(c)))
        .map(|c| clash(conn, path, c))
        .collect()
}

/// Drops nothing and trusts nothing: works all entries in anew. The tables must be empty.
pub(super) fn rebuild(conn: &Connection, path: &Path) -> Result<()> {
    migrate::lay_out_projections(conn).in_file(path)?;
    let mut pass = Pass::begin(conn, path)?;
    let mut dirty = Dirty::default();
    // Which entries count, and which joints are one, decides how the others are linked.
    pass.strike(&mut dirty)?;
    pass.read_merges()?;
    let mut dirty = Dirty::default();
    let mut statement =
        conn.prepare(&format!("SELECT {COLUMNS} FROM entry ORDER BY position")).in_file(path)?;
    let mut rows = statement.query([]).in_file(path)?;
    while let Some(row) = rows.next().in_file(path)? {
        let stored = from_row(row).in_file(path)?;
        let placed = Placed { position: stored.position, entry: stored.raw.read()? };
        pass.link(&placed, &mut dirty)?;
    }
    pass.book = pass.gather_book_facts()?;
    pass.method = pass.read_method()?;
    pass.settle(dirty)?;
    pass.set_position()
}

/// Fills the table of parts at the edges of windows.
pub(super) fn fill_windows(conn: &Connection, path: &Path, cuts: &[i64]) -> Result<()> {
    if cuts.is_empty() {
        return Ok(());
    }
    let mut pass = Pass::begin(conn, path)?;
    for cut in cuts {
        let runs =
            pass.list("SELECT run FROM run WHERE start < ?1 AND finish > ?1 ORDER BY run", &[cut])?;
        for run in runs {
            let placed = pass.entry(run)?;
            let model = pass.model(&placed)?;
            let parts: Vec<_> =
                model.lines().par_iter().map(|line| model.part(line, *cut)).collect();
            for part in parts {
                let part = part.map_err(|what| StoreError::Fold {
                    entry: placed.entry.id.to_string(),
                    what,
                })?;
                put_into(conn, path, "window_part", &part)?;
            }
        }
    }
    Ok(())
}

fn shipped_method(path: &Path) -> Result<Method> {
    Method::shipped().map_err(|what| StoreError::Damaged { path: path.to_path_buf(), what })
}

fn conflict_key(c: &ConflictRow) -> (i64, i64, i64) {
    (c.joint, c.first_entry, c.second_entry)
}

fn conflicts(conn: &Connection, path: &Path) -> Result<Vec<ConflictRow>> {
    get(conn, path, "ORDER BY joint, first_entry, second_entry", &[])
}

fn clash(conn: &Connection, path: &Path, c: &ConflictRow) -> Result<Clash> {
    let name = |position: i64| -> Result<String> {
        Ok(super::ledger::at_position(conn, path, position)?
            .map_or_else(|| format!("position {position}"), |s| s.raw.label()))
    };
    let serial: Option<String> = conn
        .prepare_cached("SELECT serial FROM joint WHERE joint = ?1")
        .and_then(|mut s| {
            let mut rows = s.query([c.joint])?;
            rows.next()?.map(|r| r.get(0)).transpose()
        })
        .in_file(path)?;
    Ok(Clash {
        serial: serial.unwrap_or_default(),
        first: name(c.first_entry)?,
        second: name(c.second_entry)?,
        what: c.what.clone(),
    })
}

impl<'a> Pass<'a> {
    fn begin(conn: &'a Connection, path: &'a Path) -> Result<Self> {
        let struck = get::<StruckRow>(conn, path, "ORDER BY entry", &[])?;
        let mut pass = Self {
            conn,
            path,
            struck: struck.into_iter().map(|s| s.entry).collect(),
            book: BookFacts::default(),
            method: shipped_method(path)?,
            positions: BTreeMap::new(),
            merged: BTreeMap::new(),
        };
        pass.read_merges()?;
        pass.book = pass.gather_book_facts()?;
        pass.method = pass.read_method()?;
        Ok(pass)
    }

    fn entries_after(&self, after: i64) -> Result<Vec<Placed>> {
        let mut statement = self
            .conn
            .prepare_cached(&format!(
                "SELECT {COLUMNS} FROM entry WHERE position > ?1 ORDER BY position"
            ))
            .in_file(self.path)?;
        let mut rows = statement.query([after]).in_file(self.path)?;
        let mut out = Vec::new();
        while let Some(row) = rows.next().in_file(self.path)? {
            let stored = from_row(row).in_file(self.path)?;
            out.push(Placed { position: stored.position, entry: stored.raw.read()? });
        }
        Ok(out)
    }

    /// Reads one entry; that it is missing is damage, for only known places are asked for.
    fn entry(&self, position: i64) -> Result<Placed> {
        let entry = super::ledger::read_at(self.conn, self.path, position)?.ok_or_else(|| {
            StoreError::Damaged {
                path: self.path.to_path_buf(),
                what: format!("entry {position}, which projections name, is missing"),
            }
        })?;
        Ok(Placed { position, entry })
    }

    fn position_of(&mut self, id: &EntryId) -> Result<Option<i64>> {
        if let Some(p) = self.positions.get(id) {
            return Ok(Some(*p));
        }
        let found = super::ledger::position_of(self.conn, self.path, id)?;
        if let Some(p) = found {
            self.positions.insert(id.clone(), p);
        }
        Ok(found)
    }

    fn stands(&self, position: i64) -> bool {
        !self.struck.contains(&position)
    }

    /// Places of entries in a column of one table.
    fn list(&self, sql: &str, params: &[&dyn rusqlite::types::ToSql]) -> Result<Vec<i64>> {
        let mut statement = self.conn.prepare_cached(sql).in_file(self.path)?;
        let rows = statement.query_map(params, |r| r.get(0)).in_file(self.path)?;
        rows.collect::<rusqlite::Result<Vec<i64>>>().in_file(self.path)
    }

    fn execute(&self, sql: &str, params: &[&dyn rusqlite::types::ToSql]) -> Result<usize> {
        self.conn.prepare_cached(sql).and_then(|mut s| s.execute(params)).in_file(self.path)
    }

    fn gather_book_facts(&self) -> Result<BookFacts> {
        let places = self.list(
            "SELECT entry FROM book_fact WHERE topic = 'check'
             OR topic = 'adoption' AND subject = 'limits' ORDER BY entry",
            &[],
        )?;
        let mut entries = Vec::new();
        for p in places.into_iter().filter(|p| self.stands(*p)) {
            entries.push(self.entry(p)?);
        }
        Ok(BookFacts::gather(&entries))
    }

    fn refresh_book_facts(&mut self, fresh: &[Placed]) -> Result<()> {
        use crate::model::Body;
        let touched = fresh
            .iter()
            .any(|p| matches!(p.entry.body, Body::Check(_) | Body::Strike(_) | Body::Decision(_)));
        if touched {
            self.book = self.gather_book_facts()?;
        }
        Ok(())
    }

    fn read_method(&self) -> Result<Method> {
        let places = self.list(
            "SELECT entry FROM book_fact WHERE topic = 'adoption' AND subject = 'fatigue' \
             ORDER BY entry",
            &[],
        )?;
        let mut entries = Vec::new();
        for p in places.into_iter().filter(|p| self.stands(*p)) {
            entries.push(self.entry(p)?);
        }
        crate::projection::facts::sort(&mut entries);
        let Some(last) = entries.last() else { return shipped_method(self.path) };
        let crate::model::Body::Adoption(body) = &last.entry.body else {
            return shipped_method(self.path);
        };
        Method::parse(&body.name, body.text.as_deref())
            .map_err(|what| StoreError::Fold { entry: last.entry.id.to_string(), what })
    }

    fn set_position(&self) -> Result<()> {
        self.execute(
            "UPDATE projection_state SET position = (SELECT coalesce(max(position), 0) FROM entry)",
            &[],
        )?;
        Ok(())
    }

    /// Derives again what the marks name: dimensions, then exposures, then joints.
    fn settle(&mut self, mut dirty: Dirty) -> Result<()> {
        self.refresh_dimensions(&mut dirty)?;
        self.refresh_runs(&mut dirty)?;
        self.refresh_joints(&dirty)
    }
}
