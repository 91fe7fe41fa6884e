//! What joints went through up to the date: in all, and since inspections. Each goes on from the state
//! in force; where runs of the joint are in conflict, the joint is folded.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use std::sync::{Arc, MutexGuard, PoisonError};

use rusqlite::Connection;

use super::view::{AsOf, OfLife, Reader, Since, SinceInspections, reader};
use crate::model::{Scope, Vocabulary};
use crate::projection::joint::{JointOutput, Later, Life, fold, since_inspection};
use crate::schema::row::Scalar;
use crate::schema::{
    Columns, DimensionRow, GapRow, Group, JointRunRow, JointStateRow, MakeupRow, PLACED,
    RunPartRow, RunRow, Running, Totals, Value, presence,
};
use crate::store::error::{InFile, Result};
use crate::store::project::Pass;
use crate::store::rows::get;

/// What is read of a joint to go on from its state.
struct Known {
    state: JointStateRow,
    runs: Vec<JointRunRow>,
    parts: Vec<RunPartRow>,
    makeups: Vec<MakeupRow>,
    gaps: Vec<GapRow>,
    dims: Vec<DimensionRow>,
}

/// The stretches of a joint (?1) of which nothing is known that are seen from a date (?2); before it
/// entered nothing is known from any.
const SEEN_GAPS: &str = "joint = ?1 AND (since IS NULL OR EXISTS (
    SELECT 1 FROM entry_time e WHERE e.entry = gap.entry AND e.at < ?2))";

/// How many joints are worked out in one go.
const CHUNK: usize = 256;

impl AsOf {
    /// A column of `joint` that sums up its runs and make-ups.
    pub(super) fn life_column(self: &Arc<Self>, joint: i64, column: &str) -> Result<Value> {
        let one = || self.life_of(&mut self.own(), joint);
        let all = || self.of_all(|reader, joint| self.life_of(reader, joint));
        match (&*self.figures.life.get(joint, one, all)?, column) {
            (OfLife::Sums { runs, .. }, "runs") => Ok(Value::Int(*runs)),
            (OfLife::Sums { last_run, .. }, "last_run") => Ok(last_run.to_value()),
            (OfLife::Sums { presence, .. }, "presence") => Ok(Value::Int(*presence)),
            (OfLife::Sums { totals, .. }, _) => self.column(totals, column),
            (OfLife::Folded(output), _) => self.own_column(&output.joint, column),
        }
    }

    /// A column of `since`.
    pub(super) fn since_column(
        self: &Arc<Self>,
        joint: i64,
        scope: &str,
        column: &str,
    ) -> Result<Value> {
        let one = || self.since_of(&mut self.own(), joint);
        let all = || self.of_all(|reader, joint| self.since_of(reader, joint));
        let Ok(scope) = Scope::from_word(scope) else {
            return Err(self.damaged(&format!("there is no scope '{scope}'")));
        };
        let missing = || self.damaged(&format!("joint {joint} has no counters of {scope}"));
        match &*self.figures.since.get(joint, one, all)? {
            SinceInspections::Sums(all) => {
                let bit = 1i64 << scope.rank();
                let since = all.iter().find(|s| s.covers & bit != 0).ok_or_else(missing)?;
                match column {
                    "at" => Ok(Value::Int(since.at)),
                    "entry" => Ok(since.entry.to_value()),
                    _ => self.column(&since.totals, column),
                }
            }
            SinceInspections::Folded(output) => {
                let row = output.since.iter().find(|s| s.scope == scope).ok_or_else(missing)?;
                self.own_column(row, column)
            }
        }
    }

    fn column(&self, totals: &[u8], column: &str) -> Result<Value> {
        let sums = Running::decode(totals).map_err(|e| self.damaged(&e.to_string()))?;
        let places = PLACED.into_iter().flatten().zip(sums.figures.placed());
        for (place, sum) in places {
            match column.strip_prefix(place) {
                Some("_lo") => return Ok(Value::Int(sum.lo)),
                Some("_hi") => return Ok(sum.hi.to_value()),
                _ => {}
            }
        }
        let mut names =
            Totals::columns().iter().flat_map(crate::schema::Column::stored).map(|c| c.0);
        let mut values = Vec::new();
        sums.totals().write(&mut values);
        let at = names.position(|name| name == column);
        at.and_then(|at| values.into_iter().nth(at))
            .ok_or_else(|| self.damaged(&format!("no sum is called {column}")))
    }

    fn own(&self) -> MutexGuard<'_, Reader> {
        self.figures.own.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Something of every joint.
    fn of_all<T: Send>(
        &self,
        work: impl Fn(&mut Reader, i64) -> Result<T> + Sync,
    ) -> Result<Vec<(i64, T)>> {
        let own = &mut *self.own();
        let joints: Vec<i64> = own
            .source
            .prepare("SELECT joint FROM joint WHERE entered < ?1")
            .and_then(|mut s| s.query_map([self.horizon], |r| r.get(0))?.collect())
            .in_file(&self.path)?;
        let begin = || Ok(Reader { source: reader(&self.path)?, runs: BTreeMap::new() });
        self.side_by_side((&joints, CHUNK), own, begin, work)
    }

    fn life_of(self: &Arc<Self>, reader: &mut Reader, joint: i64) -> Result<Arc<OfLife>> {
        if self.is_in_conflict(joint) {
            return Ok(Arc::new(OfLife::Folded(self.folded(joint)?)));
        }
        let known = self.read(reader, joint, i64::MAX)?;
        let life = self.life(reader, &known)?;
        Ok(Arc::new(OfLife::Sums {
            runs: life.runs,
            last_run: life.last_run,
            presence: life.presence,
            totals: life.totals.encode(),
        }))
    }

    fn since_of(
        self: &Arc<Self>,
        reader: &mut Reader,
        joint: i64,
    ) -> Result<Arc<SinceInspections>> {
        let inspections = self.inspections(&reader.source, joint)?;
        // Of two at one instant their names decide.
        let together = inspections.windows(2).any(|w| w[0].1 == w[1].1);
        if together || self.is_in_conflict(joint) {
            return Ok(Arc::new(SinceInspections::Folded(self.folded(joint)?)));
        }
        let oldest = inspections.last().map_or(i64::MAX, |i| i.1);
        let covered = inspections.iter().fold(0, |all, i| all | i.0);
        let rest = Scope::ALL.iter().fold(0, |all, s| all | 1i64 << s.rank()) & !covered;
        // What was never inspected counts from the end of what nothing is known of.
        let known_from = if rest == 0 { None } else { self.unknown_until(&reader.source, joint)? };
        let known = self.read(reader, joint, oldest.min(known_from.unwrap_or(i64::MAX)))?;
        let whole = self.life(reader, &known)?.totals;
        let later = known.later(reader);
        let sums = |at| since_inspection(at, &known.state, &later, &whole).encode();
        let mut since = Vec::new();
        for (covers, at, entry) in inspections {
            since.push(Since { covers, at, entry: Some(entry), totals: sums(Some(at)) });
        }
        if rest != 0 {
            let entered = self.entered(&reader.source, joint)?;
            since.push(Since { covers: rest, at: entered, entry: None, totals: sums(None) });
        }
        Ok(Arc::new(SinceInspections::Sums(since)))
    }

    /// Inspections that are the latest of some scope, newest first: those scopes, when, the entry.
    fn inspections(&self, conn: &Connection, joint: i64) -> Result<Vec<(i64, i64, i64)>> {
        let mut statement = conn
            .prepare_cached(
                "SELECT covers, date, entry FROM inspection WHERE joint = ?1 AND date < ?2
                 ORDER BY date DESC",
            )
            .in_file(&self.path)?;
        let rows = statement
            .query_map([joint, self.horizon], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)))
            .in_file(&self.path)?;
        let mut covered = 0i64;
        let mut out: Vec<(i64, i64, i64)> = Vec::new();
        for row in rows {
            let (covers, at, entry): (i64, i64, i64) = row.in_file(&self.path)?;
            let last = out.last().is_some_and(|l| l.1 == at);
            if covers & !covered != 0 || last {
                out.push((covers & !covered, at, entry));
                covered |= covers;
            }
        }
        Ok(out)
    }

    /// The end of the last stretch of which nothing is known.
    fn unknown_until(&self, conn: &Connection, joint: i64) -> Result<Option<i64>> {
        conn.prepare_cached(&format!("SELECT max(until) FROM gap WHERE {SEEN_GAPS}"))
            .and_then(|mut s| s.query_row([joint, self.horizon], |r| r.get(0)))
            .in_file(&self.path)
    }

    fn entered(&self, conn: &Connection, joint: i64) -> Result<i64> {
        conn.prepare_cached("SELECT entered FROM joint WHERE joint = ?1")
            .and_then(|mut s| s.query_row([joint], |r| r.get(0)))
            .in_file(&self.path)
    }

    fn life(&self, reader: &Reader, known: &Known) -> Result<Life> {
        let life = Life::of_state(&known.state).map_err(|e| self.damaged(&e.to_string()))?;
        Ok(life.go_on(&known.state, &known.later(reader)))
    }

    /// Whether the sums of a joint do not go on from its state: runs of it are in conflict, or were.
    fn is_in_conflict(&self, joint: i64) -> bool {
        self.conflicts().is_some_and(|c| {
            let mut runs = c.runs.get(&joint).into_iter().flatten();
            c.otherwise.contains(&joint) || runs.any(|r| r.conflicting)
        })
    }

    /// The fold of a joint on what the view sees.
    fn folded(self: &Arc<Self>, joint: i64) -> Result<Box<JointOutput>> {
        let mut view = self.figures.view.lock().unwrap_or_else(PoisonError::into_inner);
        let conn = match &*view {
            Some(conn) => conn,
            None => view.insert(self.connect()?),
        };
        let output = Pass::begin(conn, &self.path)?.alone().with_input(joint, fold)?;
        let output = output.map(Box::new);
        output.ok_or_else(|| self.damaged(&format!("joint {joint} is not introduced")))
    }

    /// Reads what is known of a joint from its state in force on, and from some instant on.
    fn read(&self, reader: &mut Reader, joint: i64, from: i64) -> Result<Known> {
        let (path, horizon) = (&self.path, self.horizon);
        let Reader { source, runs: known } = reader;
        let state = get::<JointStateRow>(
            source,
            path,
            "WHERE joint = ?1 AND at < ?2 ORDER BY at DESC LIMIT 1",
            &[&joint, &horizon],
        )?
        .pop()
        .ok_or_else(|| self.damaged(&format!("joint {joint} has no state")))?;
        let from = from.min(state.at);
        let whole = "WHERE joint = ?1 AND finish > ?2 AND start < ?3 ORDER BY finish, run";
        let gaps: Vec<GapRow> = if state.life_complete {
            Vec::new()
        } else {
            get(source, path, &format!("WHERE {SEEN_GAPS}"), &[&joint, &horizon])?
        };
        let mut runs: Vec<JointRunRow> = Vec::new();
        let mut parts = Vec::new();
        for run in get::<JointRunRow>(source, path, whole, &[&joint, &from, &horizon])? {
            if run.finish > horizon {
                let part = self.part_run(run.run)?;
                runs.extend(part.lines.get(&joint).cloned());
                let own = part.parts.range((joint, i64::MIN)..=(joint, i64::MAX));
                parts.extend(own.map(|(_, part)| part.clone()));
                known
                    .entry(run.run)
                    .or_insert_with(|| presence::of_run(Some(&part.row), Some(false)));
                continue;
            }
            // Sums may begin at an inspection, and where a stretch ends of which nothing is known.
            let divided = gaps.iter().any(|g| run.start < g.until && g.until < run.finish);
            if run.start < state.at || divided {
                let own = "WHERE joint = ?1 AND run = ?2";
                parts.extend(get::<RunPartRow>(source, path, own, &[&joint, &run.run])?);
            }
            if let Entry::Vacant(slot) = known.entry(run.run)
                && let Some(row) = get::<RunRow>(source, path, "WHERE run = ?1", &[&run.run])?.pop()
            {
                slot.insert(presence::of_run(Some(&row), Some(false)));
            }
            runs.push(run);
        }
        let begun_before = runs.iter().any(|r| r.start < state.at);
        let makeups = "WHERE joint = ?1 AND date >= ?2 AND date < ?3";
        let dims = "WHERE joint = ?1 AND at < ?2 ORDER BY at";
        Ok(Known {
            makeups: get(source, path, makeups, &[&joint, &from, &horizon])?,
            gaps,
            dims: if begun_before {
                get(source, path, dims, &[&joint, &horizon])?
            } else {
                vec![as_in(&state)]
            },
            state,
            runs,
            parts,
        })
    }
}

/// What a run that began in a state asks of the joint's dimensions.
const fn as_in(state: &JointStateRow) -> DimensionRow {
    DimensionRow {
        joint: state.joint,
        at: state.at,
        wall: None,
        od: None,
        length: state.length,
        tj_od: None,
        pin_removed: state.pin_removed,
        notch_pin: None,
        notch_middle: None,
        notch_box: None,
        notch_unmeasured: false,
    }
}

impl Known {
    fn later<'a>(&'a self, reader: &'a Reader) -> Later<'a> {
        Later {
            runs: &self.runs,
            run_presence: &reader.runs,
            parts: &self.parts,
            makeups: &self.makeups,
            gaps: &self.gaps,
            dims: &self.dims,
        }
    }
}
