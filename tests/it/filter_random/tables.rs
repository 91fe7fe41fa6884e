//! Tables of the projections in memory, for rows that no fold would make, and the functions that the
//! store gives to queries.

use pipelore::filter::Query;
use pipelore::model::{Histogram, Scope, Vocabulary, name_key};
use pipelore::schema::{Table, layout};
use rusqlite::functions::FunctionFlags;
use rusqlite::types::{Value, ValueRef};
use rusqlite::{Connection, params_from_iter};

use crate::filter_book::presence_by_rows;

/// Tables without rows.
pub fn empty() -> Connection {
    let conn = Connection::open_in_memory().unwrap();
    for table in Table::ALL {
        conn.execute_batch(&layout::of_book(*table)).unwrap();
    }
    conn.execute_batch("CREATE TEMP TABLE window_part AS SELECT * FROM run_part").unwrap();
    conn.execute_batch("CREATE INDEX temp.window_part_key ON window_part (joint, run, cut)")
        .unwrap();
    let flags = FunctionFlags::SQLITE_UTF8 | FunctionFlags::SQLITE_DETERMINISTIC;
    for (name, ask) in [
        ("turns_above", Histogram::turns_above as fn(&Histogram, i64) -> i64),
        ("hours_above", Histogram::hours_above),
    ] {
        conn.create_scalar_function(name, 2, flags, move |ctx| {
            let ValueRef::Blob(bytes) = ctx.get_raw(0) else { return Ok(None) };
            let dogleg: i64 = ctx.get(1)?;
            Ok(Histogram::decode(bytes).ok().map(|h| ask(&h, dogleg)))
        })
        .unwrap();
    }
    conn.create_scalar_function("name_key", 1, flags, |ctx| {
        let ValueRef::Text(name) = ctx.get_raw(0) else { return Ok(None) };
        Ok(Some(name_key(std::str::from_utf8(name).unwrap())))
    })
    .unwrap();
    conn.create_collation("NAME", |a, b| name_key(a).cmp(&name_key(b))).unwrap();
    conn
}

/// The rows that a statement gives.
pub fn rows(conn: &Connection, query: &Query) -> Vec<Vec<Value>> {
    let mut statement = match conn.prepare(&query.sql) {
        Ok(s) => s,
        Err(e) => panic!("{e}\n{}", query.sql),
    };
    let columns = statement.column_count();
    let mut rows = statement.query(params_from_iter(&query.params)).unwrap();
    let mut out = Vec::new();
    while let Some(row) = rows.next().unwrap() {
        out.push((0..columns).map(|c| row.get(c).unwrap()).collect());
    }
    out
}

/// Completes joints whose rows were written by hand with what the folds promise: summary bits, ends of what
/// is unknown and of the last run, the inspections at which rows of `since` begin.
pub fn mark(conn: &Connection) {
    conn.execute_batch(&format!(
        "UPDATE joint SET presence = {},
         unknown_until = (SELECT max(until) FROM gap g WHERE g.joint = joint.joint),
         last_run = (SELECT max(finish) FROM joint_run r WHERE r.joint = joint.joint);",
        presence_by_rows()
    ))
    .unwrap();
    for scope in Scope::ALL {
        conn.execute(
            "UPDATE since SET (at, entry) = (SELECT coalesce(i.date, j.entered), i.entry FROM joint j
             LEFT JOIN inspection i ON i.joint = j.joint AND i.covers & ?1 <> 0
             WHERE j.joint = since.joint ORDER BY i.date DESC, i.turn DESC LIMIT 1)
             WHERE scope = ?2",
            (1i64 << scope.rank(), scope.word()),
        )
        .unwrap();
    }
}
