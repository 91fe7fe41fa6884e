//! Strikes and amendments of other sites' entries: those that a book held before it knew that they need
//! a decision, and those that wait for one.

use std::path::Path;

use rusqlite::{Connection, OptionalExtension};

use super::book::Book;
use super::entries::{append_one, at_position, last_position, sql_list};
use super::error::{InFile, Result};
use super::identity::Stamp;
use super::project;
use crate::model::{Body, DecisionBody, Draft, Entry, EntryId, EntryKind, Ruling};
use crate::schema::{StruckRow, WITHOUT_DECISION};

/// Last place of the book that is older than the rule; 0 where there is none.
pub(super) fn up_to(conn: &Connection, path: &Path) -> Result<i64> {
    conn.prepare_cached("SELECT up_to FROM struck_freely WHERE only = 1")
        .and_then(|mut s| s.query_row([], |r| r.get(0)).optional())
        .in_file(path)
        .map(|found| found.unwrap_or(0))
}

/// A strike or an amendment of another site's entry, or a settlement that sets one aside.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OfAnother {
    /// It.
    pub entry: EntryId,
    /// What it strikes, amends or sets aside.
    pub target: EntryId,
    /// `strikes`, `amends` or `sets aside`.
    pub does: &'static str,
    /// By whose word: the decision in it.
    pub decision: Option<String>,
    /// Why it is not in force.
    pub not_in_force: Option<String>,
}

impl std::fmt::Display for OfAnother {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { entry, target, does, decision, not_in_force } = self;
        write!(f, "{entry} {does} {target}, which site {} wrote", target.chain.site)?;
        match (not_in_force.as_deref(), decision) {
            (Some(WITHOUT_DECISION), _) => write!(
                f,
                ", and nobody decided that: it is not in force until a decision here says so \
                 (enter decision ruling=settle stands={entry} reason='…'; falls={entry} to decline)"
            ),
            (Some(why), _) => write!(f, ", and is not in force: {why}"),
            (None, Some(decision)) => write!(f, ", by decision: {decision}"),
            (None, None) => {
                write!(f, ", by a decision of a settlement, or from before one was needed")
            }
        }
    }
}

/// What an entry says of entries of other sites.
fn of_others(entry: &Entry, not_in_force: Option<&str>) -> Vec<OfAnother> {
    let (targets, does, decision): (Vec<&EntryId>, _, _) = if let Body::Strike(b) = &entry.body {
        (vec![&b.entry], "strikes", b.decision.clone())
    } else if let Body::Amend(b) = &entry.body {
        (vec![&b.entry], "amends", b.decision.clone())
    } else if let Body::Decision(b) = &entry.body
        && let Ruling::Settle { falls, .. } = &b.ruling
    {
        (falls.iter().collect(), "sets aside", Some(b.reason.clone()))
    } else {
        return Vec::new();
    };
    targets
        .into_iter()
        .filter(|target| target.chain.site != entry.id.chain.site)
        .map(|target| OfAnother {
            entry: entry.id.clone(),
            target: target.clone(),
            does,
            decision: decision.clone(),
            not_in_force: not_in_force.map(str::to_owned),
        })
        .collect()
}

/// What entries behind a place say of entries of other sites, in order of arrival.
pub(super) fn since(conn: &Connection, path: &Path, after: i64) -> Result<Vec<OfAnother>> {
    let kinds = sql_list([EntryKind::Strike, EntryKind::Amend, EntryKind::Decision]);
    let mut statement = conn
        .prepare(&format!(
            "SELECT e.position,
                 (SELECT s.why FROM struck s WHERE s.entry = e.position AND s.by_entry = s.entry)
             FROM entry e WHERE e.kind IN ({kinds}) AND e.position > ?1 ORDER BY e.position"
        ))
        .in_file(path)?;
    let places: Vec<(i64, Option<String>)> = statement
        .query_map([after], |r| Ok((r.get(0)?, r.get(1)?)))
        .and_then(Iterator::collect)
        .in_file(path)?;
    let mut out = Vec::new();
    for (place, why) in places {
        if let Some(stored) = at_position(conn, path, place)? {
            out.extend(of_others(&stored.raw.read()?, why.as_deref()));
        }
    }
    Ok(out)
}

impl Book {
    /// Strikes and amendments of other sites' entries that are not in force.
    pub fn not_in_force(&self) -> Result<Vec<OfAnother>> {
        let rows: Vec<StruckRow> = self.rows(&crate::schema::Rows::all())?;
        let mut out = Vec::new();
        for row in rows.iter().filter(|r| r.by_entry == r.entry) {
            out.extend(of_others(&self.entry_at(row.entry)?.raw.read()?, Some(&row.why)));
        }
        Ok(out)
    }

    /// Gives strikes and amendments of other sites' entries that the book held before it knew that they
    /// need a decision the decision that keeps them in force, as an entry: other books take it over.
    /// Returns the entry's name; `None` where there are none.
    pub fn found_strikes(&mut self, stamp: &Stamp) -> Result<Option<EntryId>> {
        let (path, chain) = (self.path.clone(), self.identity().chain.clone());
        let tx = self.begin()?;
        let old = up_to(&tx, &path)?;
        if old == 0 {
            return Ok(None);
        }
        let all = since(&tx, &path, 0)?;
        let mut stands: Vec<EntryId> = Vec::new();
        for said in all.iter().filter(|s| s.decision.is_none() && s.not_in_force.is_none()) {
            let place = super::entries::position_of(&tx, &path, &said.entry)?;
            if place.is_some_and(|p| p <= old) && !is_settled(&tx, &path, &said.entry)? {
                stands.push(said.entry.clone());
            }
        }
        if stands.is_empty() {
            return Ok(None);
        }
        let first = last_position(&tx, &path)?;
        let body = Body::Decision(DecisionBody {
            joints: Vec::new(),
            ruling: Ruling::Settle { stands, falls: Vec::new() },
            reason:
                "in force in this book before it asked for a decision on entries of other sites"
                    .to_owned(),
            authority: None,
            until: None,
        });
        let draft = Draft { effective: stamp.present(), evidence: None, body };
        let id = append_one(&tx, &path, &chain, &draft, stamp)?;
        project::apply(&tx, &path, first)?;
        tx.commit().in_file(&path)?;
        self.note_head()?;
        Ok(Some(id))
    }
}

/// Whether a settlement names an entry.
fn is_settled(conn: &Connection, path: &Path, entry: &EntryId) -> Result<bool> {
    // In a canonical body the words stand just so.
    conn.prepare_cached(
        "SELECT EXISTS (SELECT 1 FROM entry WHERE kind = ?1
         AND instr(body, '\"ruling\":\"settle\"') > 0 AND instr(body, ?2) > 0)",
    )
    .and_then(|mut s| {
        s.query_row((EntryKind::Decision.word(), format!("\"{entry}\"")), |r| r.get(0))
    })
    .in_file(path)
}
