//! Questions: SQL with bound parameters, read-only, under a deadline.

use std::collections::HashMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant as Clock};

use rusqlite::limits::Limit;
use rusqlite::{Connection, params_from_iter};

use super::book::Book;
use super::error::{InFile, Result, StoreError};
use super::{rows, select};
use crate::schema::{OfJoint, Row, Rows, Table, Value};

/// Operations of SQLite's machine between two looks at the clock.
const OPERATIONS: i32 = 1_000;

/// Stops a question at a deadline, and says afterwards whether it did.
fn arm(conn: &mut Connection, limit: Option<Duration>) -> rusqlite::Result<Arc<AtomicBool>> {
    let late = Arc::new(AtomicBool::new(false));
    let Some(limit) = limit else {
        conn.progress_handler(0, None::<fn() -> bool>)?;
        return Ok(late);
    };
    let seen = Arc::clone(&late);
    let begun = Clock::now();
    conn.progress_handler(
        OPERATIONS,
        Some(move || {
            let over = begun.elapsed() > limit;
            if over {
                seen.store(true, Ordering::Relaxed);
            }
            over
        }),
    )?;
    Ok(late)
}

impl Book {
    /// Asks a question whose text comes from the filter language. Values reach it as parameters
    /// only.
    ///
    /// # Errors
    /// `Deadline` when it takes longer than `limit`.
    pub fn ask(
        &mut self,
        sql: &str,
        params: &[Value],
        limit: Option<Duration>,
    ) -> Result<Vec<Vec<Value>>> {
        let mut rows = Vec::new();
        self.ask_each(sql, params, limit, |row| rows.push(std::mem::take(row)))?;
        Ok(rows)
    }

    /// Asks a question and hands on one row after another. What is left of a row is used again for
    /// the next.
    ///
    /// # Errors
    /// `Deadline` when it takes longer than `limit`.
    pub fn ask_each(
        &mut self,
        sql: &str,
        params: &[Value],
        limit: Option<Duration>,
        see: impl FnMut(&mut Vec<Value>),
    ) -> Result<()> {
        let path = self.path.clone();
        let late = arm(&mut self.conn, limit).in_file(&path)?;
        let begun = Clock::now();
        if let Some(as_of) = &self.as_of {
            as_of.allow(limit);
        }
        // A filter is 8 KiB at most; nothing that it lowers to needs more than this.
        self.conn.set_limit(Limit::SQLITE_LIMIT_SQL_LENGTH, 4_000_000).in_file(&path)?;
        let answer = run(&self.conn, sql, params, see);
        let disarmed = arm(&mut self.conn, None);
        // A function of a view that is late says so as any error.
        let over = || self.as_of.is_some() && limit.is_some_and(|l| begun.elapsed() > l);
        match answer {
            Err(_) if late.load(Ordering::Relaxed) || over() => {
                Err(StoreError::Deadline { limit: limit.unwrap_or_default() })
            }
            Err(e) => Err(StoreError::from_sqlite(&path, e)),
            Ok(rows) => disarmed.in_file(&path).map(|_| rows),
        }
    }

    /// Asks a question that another rests on, while that one is still being put together. The clock
    /// is looked at from row to row.
    ///
    /// # Errors
    /// `Deadline` when it takes longer than `limit`.
    pub fn ask_beforehand(
        &self,
        sql: &str,
        params: &[Value],
        limit: Duration,
    ) -> Result<Vec<Vec<Value>>> {
        let begun = Clock::now();
        let mut rows = Vec::new();
        let mut late = false;
        run(&self.conn, sql, params, |row| {
            late |= begun.elapsed() > limit;
            if !late {
                rows.push(std::mem::take(row));
            }
        })
        .in_file(&self.path)?;
        if late { Err(StoreError::Deadline { limit }) } else { Ok(rows) }
    }

    /// The words that stand in a column, each once.
    pub fn words_in(&self, table: Table, column: &'static str) -> Result<Vec<String>> {
        let sql = format!(
            "SELECT DISTINCT \"{column}\" FROM \"{}\" WHERE \"{column}\" IS NOT NULL ORDER BY 1",
            table.name()
        );
        let mut statement = self.conn.prepare_cached(&sql).in_file(&self.path)?;
        let rows = statement.query_map([], |r| r.get(0)).in_file(&self.path)?;
        rows.collect::<rusqlite::Result<Vec<String>>>().in_file(&self.path)
    }

    /// Rows of a derived table.
    pub fn rows<R: Row>(&self, wanted: &Rows<R>) -> Result<Vec<R>> {
        let (rest, values) = select::clauses(wanted);
        rows::get(&self.conn, &self.path, &rest, &rows::params(&values))
    }

    /// Rows of a joint, in the order of their key.
    pub fn rows_of<R: OfJoint>(&self, joint: i64) -> Result<Vec<R>> {
        self.rows(&Rows::of_joint(joint))
    }

    /// The row of a key that is one whole number.
    pub fn row<R: Row>(&self, key: i64) -> Result<Option<R>> {
        Ok(self.rows(&Rows::of_key(key))?.pop())
    }

    /// These joints, in the order of the names of their entries.
    pub fn joints_by_name(&self, joints: &[i64]) -> Result<Vec<i64>> {
        let list: Vec<String> = joints.iter().map(i64::to_string).collect();
        let sql = "SELECT joint FROM joint WHERE joint IN (SELECT value FROM json_each(?1))
                   ORDER BY by_name";
        let mut statement = self.conn.prepare_cached(sql).in_file(&self.path)?;
        let list = format!("[{}]", list.join(","));
        let rows = statement.query_map([list], |r| r.get(0)).in_file(&self.path)?;
        rows.collect::<rusqlite::Result<Vec<i64>>>().in_file(&self.path)
    }

    /// The place of each joint in the order of the names of their entries; `None` where they came in
    /// that order.
    pub fn order_of_joints(&self) -> Result<Option<HashMap<i64, usize>>> {
        let sql = "SELECT joint FROM joint ORDER BY by_name";
        let mut statement = self.conn.prepare_cached(sql).in_file(&self.path)?;
        let rows = statement.query_map([], |r| r.get(0)).in_file(&self.path)?;
        let all = rows.collect::<rusqlite::Result<Vec<i64>>>().in_file(&self.path)?;
        let place = || all.iter().enumerate().map(|(at, joint)| (*joint, at)).collect();
        Ok((!all.is_sorted()).then(place))
    }

    /// Joints that answer to a serial, by its look-up key.
    pub fn joints_by_serial(&self, key: &str) -> Result<Vec<i64>> {
        let sql = "SELECT joint FROM joint
                   WHERE joint IN (SELECT s.joint FROM serial s WHERE s.key = ?1) ORDER BY by_name";
        let mut statement = self.conn.prepare_cached(sql).in_file(&self.path)?;
        let rows = statement.query_map([key], |r| r.get(0)).in_file(&self.path)?;
        rows.collect::<rusqlite::Result<Vec<i64>>>().in_file(&self.path)
    }

    /// Divides the places of the book's joints into stretches of the same length, each by its first
    /// and last place; together they hold every place. Joints need not lie evenly among them.
    pub fn stretches(&self, wanted: usize) -> Result<Vec<(i64, i64)>> {
        if wanted < 2 {
            return Ok(vec![(i64::MIN, i64::MAX)]);
        }
        let sql = "SELECT (SELECT min(joint) FROM joint), (SELECT max(joint) FROM joint)";
        let ends: (Option<i64>, Option<i64>) = self
            .conn
            .prepare_cached(sql)
            .and_then(|mut s| s.query_row([], |r| Ok((r.get(0)?, r.get(1)?))))
            .in_file(&self.path)?;
        let wanted = i64::try_from(wanted).unwrap_or(1);
        let (Some(first), Some(last)) = ends else { return Ok(vec![(i64::MIN, i64::MAX)]) };
        let step = (last - first) / wanted.max(1) + 1;
        let firsts = (0..wanted).map(|n| first + n * step).take_while(|at| *at <= last);
        let mut out: Vec<(i64, i64)> = firsts.map(|at| (at, at + (step - 1))).collect();
        // Whatever else may stand there.
        if let Some(begin) = out.first_mut() {
            begin.0 = i64::MIN;
        }
        if let Some(end) = out.last_mut() {
            end.1 = i64::MAX;
        }
        Ok(out)
    }

    /// Serials of the book that look like one that is not there.
    pub fn serials_like(&self, key: &str) -> Result<Vec<String>> {
        let sql = "SELECT DISTINCT serial FROM serial ORDER BY key";
        let mut statement = self.conn.prepare_cached(sql).in_file(&self.path)?;
        let rows = statement.query_map([], |r| r.get::<_, String>(0)).in_file(&self.path)?;
        let mut scored = Vec::new();
        for row in rows {
            let serial = row.in_file(&self.path)?;
            let score = strsim::jaro_winkler(&serial.to_uppercase(), key);
            if score > 0.85 {
                scored.push((score, serial));
            }
        }
        scored.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
        scored.truncate(3);
        Ok(scored.into_iter().map(|s| s.1).collect())
    }
}

fn run(
    conn: &Connection,
    sql: &str,
    params: &[Value],
    mut see: impl FnMut(&mut Vec<Value>),
) -> rusqlite::Result<()> {
    let mut statement = conn.prepare_cached(sql)?;
    let columns = statement.column_count();
    let mut rows = statement.query(params_from_iter(params))?;
    let mut values = Vec::new();
    while let Some(row) = rows.next()? {
        values.clear();
        values.reserve(columns);
        for c in 0..columns {
            values.push(Value::from(row.get_ref(c)?));
        }
        see(&mut values);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::book::{Access, Book};
    use crate::model::{Instant, Recorded};
    use crate::store::Stamp;
    use crate::units::UnitSystem;

    #[test]
    fn stretches_hold_every_place_once() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("a.pipelore");
        let stamp = Stamp {
            now: Recorded { at: Instant(0), offset_minutes: 0 },
            author: "a".to_owned(),
            program: "b".to_owned(),
        };
        let book = {
            let edition = crate::condition::Edition::shipped();
            Book::create(&path, "yard", UnitSystem::default(), edition, &stamp)
        }
        .unwrap();
        assert_eq!(book.stretches(8).unwrap(), [(i64::MIN, i64::MAX)]);
        book.close().unwrap();
        let book = Book::open(&path, Access::Write).unwrap();
        let columns: Vec<(String, String)> = book
            .conn
            .prepare("SELECT name, type FROM pragma_table_info('joint') WHERE \"notnull\" = 1")
            .and_then(|mut s| s.query_map([], |r| Ok((r.get(0)?, r.get(1)?)))?.collect())
            .unwrap();
        let empty = |kind: &str| if kind == "BLOB" { "x''" } else { "0" };
        let (names, values): (Vec<&str>, Vec<&str>) =
            columns.iter().map(|(name, kind)| (name.as_str(), empty(kind))).unzip();
        for joint in [3, 4, 5, 90, 91, 1_000] {
            let (names, values) = (names.join(", "), values.join(", "));
            let sql = format!("INSERT INTO joint (joint, {names}) VALUES ({joint}, {values})");
            book.conn.execute(&sql, []).unwrap();
        }
        for wanted in [1, 2, 7, 64, 5_000] {
            let stretches = book.stretches(wanted).unwrap();
            assert!(stretches.len() <= wanted && !stretches.is_empty());
            assert_eq!(stretches.first().unwrap().0, i64::MIN);
            assert_eq!(stretches.last().unwrap().1, i64::MAX);
            assert!(stretches.windows(2).all(|w| w[0].1 + 1 == w[1].0), "{stretches:?}");
        }
    }
}
