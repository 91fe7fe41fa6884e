//! What facts would change, before they are written: the rows before and after, inside a
//! transaction that is rolled back.

use std::cmp::Ordering;
use std::collections::BTreeMap;
use std::path::Path;

use rusqlite::types::ValueRef;
use rusqlite::{Connection, Row as SqlRow, Rows};

use super::book::Book;
use super::connect::open_read_only;
use super::error::{Clash, InFile, Result};
use super::identity::Stamp;
use super::rows::{from_row, get};
use super::{entries, project};
use crate::model::Draft;
use crate::schema::{JointRow, JointRunRow, Row, RunRow, Spec, StruckRow};

/// A row before and after; absent where there is none.
#[derive(Clone, Debug, PartialEq)]
pub struct Change<R> {
    /// As the book has it.
    pub before: Option<R>,
    /// As it would be.
    pub after: Option<R>,
}

/// A run of which figures would change.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RunChange {
    /// Name of the run.
    pub name: String,
    /// The entry that it is.
    pub entry: String,
    /// Joints with other figures in it.
    pub joints: u64,
}

/// What facts would change.
#[derive(Clone, Debug, Default)]
pub struct Effects {
    /// Entries that would count no more.
    pub fallen: Vec<String>,
    /// Entries that would count again.
    pub raised: Vec<String>,
    /// Joints of which anything would change, by place in the book; the first of them.
    pub joints: Vec<Change<JointRow>>,
    /// Joints that would change in all.
    pub joints_in_all: u64,
    /// Runs of which figures would change.
    pub runs: Vec<RunChange>,
    /// Facts that would exclude each other.
    pub clashes: Vec<Clash>,
    /// The first run that would no longer fit what is known: its entry, and why.
    pub misfit: Option<(String, String)>,
}

/// Changed joints that are kept with all their values; the others are counted.
const KEPT: usize = 1_000;

impl Book {
    /// Says what facts would change, and leaves the book as it was.
    ///
    /// # Errors
    /// What [`Self::append`] would say of facts that are wrong by themselves.
    pub fn effects(&mut self, drafts: &[Draft], stamp: &Stamp) -> Result<Effects> {
        let path = self.path().to_path_buf();
        let chain = self.identity().chain.clone();
        let tx = self.begin()?;
        // Nobody else writes now; a reader sees the book as it was.
        let (before, _) = open_read_only(&path)?;
        let before = before.unchecked_transaction().in_file(&path)?;
        let (first, _) = entries::write_all(&tx, &path, &chain, drafts, stamp)?;
        let project::Applied { clashes, misfit, .. } = project::apply(&tx, &path, first)?;
        let mut out = Effects { clashes, misfit, ..Effects::default() };
        differences::<JointRow>(&before, &tx, &path, |before, after| {
            out.joints_in_all += 1;
            if out.joints.len() < KEPT {
                out.joints.push(Change { before, after });
            }
        })?;
        let mut runs: BTreeMap<i64, u64> = BTreeMap::new();
        differences::<JointRunRow>(&before, &tx, &path, |before, after| {
            if let Some(row) = before.or(after) {
                *runs.entry(row.run).or_default() += 1;
            }
        })?;
        for (run, joints) in runs {
            let mut row = get::<RunRow>(&tx, &path, "WHERE run = ?1", &[&run])?;
            if row.is_empty() {
                row = get::<RunRow>(&before, &path, "WHERE run = ?1", &[&run])?;
            }
            out.runs.push(RunChange {
                name: row.pop().map_or_else(String::new, |r| r.name),
                entry: label(&tx, &path, run)?,
                joints,
            });
        }
        let (mut fallen, mut raised) = (Vec::new(), Vec::new());
        differences::<StruckRow>(&before, &tx, &path, |before, after| {
            match (before, after) {
                (None, Some(row)) => fallen.push(row.entry),
                (Some(row), None) => raised.push(row.entry),
                // By another entry now.
                _ => {}
            }
        })?;
        for (places, names) in [(fallen, &mut out.fallen), (raised, &mut out.raised)] {
            for place in places {
                names.push(label(&tx, &path, place)?);
            }
        }
        tx.rollback().in_file(&path)?;
        Ok(out)
    }
}

fn label(conn: &Connection, path: &Path, position: i64) -> Result<String> {
    Ok(entries::at_position(conn, path, position)?
        .map_or_else(|| format!("position {position}"), |e| e.raw.label()))
}

/// Runs through both tables in the order of their keys and shows the rows that differ.
fn differences<R: Row>(
    before: &Connection,
    after: &Connection,
    path: &Path,
    mut see: impl FnMut(Option<R>, Option<R>),
) -> Result<()> {
    let Spec { list, names, key: keys, .. } = R::spec();
    let query = format!("SELECT {list} FROM \"{}\" ORDER BY {}", R::TABLE, keys.join(", "));
    let places: Vec<usize> =
        keys.iter().filter_map(|k| names.iter().position(|c| c == k)).collect();
    let mut a = before.prepare(&query).in_file(path)?;
    let mut b = after.prepare(&query).in_file(path)?;
    let (mut a, mut b) = (a.query([]).in_file(path)?, b.query([]).in_file(path)?);
    let mut x = a.next().in_file(path)?;
    let mut y = b.next().in_file(path)?;
    let read = |row: &SqlRow<'_>| from_row::<R>(row, path);
    loop {
        let order = match (x, y) {
            (None, None) => return Ok(()),
            (Some(_), None) => Ordering::Less,
            (None, Some(_)) => Ordering::Greater,
            (Some(p), Some(q)) => key(p, &places).cmp(&key(q, &places)),
        };
        match (order, x, y) {
            (Ordering::Equal, Some(p), Some(q)) => {
                if !same(p, q, names.len()) {
                    see(Some(read(p)?), Some(read(q)?));
                }
                x = next(&mut a, path)?;
                y = next(&mut b, path)?;
            }
            (Ordering::Less, Some(p), _) => {
                see(Some(read(p)?), None);
                x = next(&mut a, path)?;
            }
            (_, _, Some(q)) => {
                see(None, Some(read(q)?));
                y = next(&mut b, path)?;
            }
            _ => return Ok(()),
        }
    }
}

fn next<'a>(rows: &'a mut Rows<'_>, path: &Path) -> Result<Option<&'a SqlRow<'a>>> {
    rows.next().in_file(path)
}

/// Keys are whole numbers.
fn key(row: &SqlRow<'_>, places: &[usize]) -> Vec<i64> {
    let number = |p: &usize| match row.get_ref(*p) {
        Ok(ValueRef::Integer(n)) => n,
        _ => i64::MIN,
    };
    places.iter().map(number).collect()
}

fn same(a: &SqlRow<'_>, b: &SqlRow<'_>, columns: usize) -> bool {
    (0..columns).all(|c| matches!((a.get_ref(c), b.get_ref(c)), (Ok(p), Ok(q)) if p == q))
}
