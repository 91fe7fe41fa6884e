//! A book for filter tests: the tables of the projections in memory, and the functions that the
//! store gives to queries.

use pipelore::filter::{Bind, Context, FilterError, Query, Rule};
use pipelore::model::{Call, Histogram, Instant, Moment};
use pipelore::units::UnitSystem;
use rusqlite::functions::FunctionFlags;
use rusqlite::types::{ToSql, ToSqlOutput, Value, ValueRef};
use rusqlite::{Connection, params_from_iter};

/// Tables without rows.
pub fn empty() -> Connection {
    let conn = Connection::open_in_memory().unwrap();
    conn.execute_batch(include_str!("../../migrations/projection.sql")).unwrap();
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
    conn
}

/// A value of a statement for rusqlite.
pub struct Bound<'a>(pub &'a Bind);

impl ToSql for Bound<'_> {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(ToSqlOutput::Borrowed(match self.0 {
            Bind::Int(n) => ValueRef::Integer(*n),
            Bind::Real(x) => ValueRef::Real(*x),
            Bind::Text(t) => ValueRef::Text(t.as_bytes()),
        }))
    }
}

/// The rows that a statement gives.
pub fn rows(conn: &Connection, query: &Query) -> Vec<Vec<Value>> {
    let mut statement = match conn.prepare(&query.sql) {
        Ok(s) => s,
        Err(e) => panic!("{e}\n{}", query.sql),
    };
    let columns = statement.column_count();
    let mut rows = statement.query(params_from_iter(query.params.iter().map(Bound))).unwrap();
    let mut out = Vec::new();
    while let Some(row) = rows.next().unwrap() {
        out.push((0..columns).map(|c| row.get(c).unwrap()).collect());
    }
    out
}

/// The lines of a statement's plan.
pub fn plan(conn: &Connection, query: &Query) -> Vec<String> {
    let mut statement = conn.prepare(&format!("EXPLAIN QUERY PLAN {}", query.sql)).unwrap();
    let mut rows = statement.query(params_from_iter(query.params.iter().map(Bound))).unwrap();
    let mut out = Vec::new();
    while let Some(row) = rows.next().unwrap() {
        out.push(row.get::<_, String>(3).unwrap());
    }
    out
}

/// Noon of 2026-06-30 at the site, which is UTC.
pub fn now() -> Instant {
    Instant("2026-06-30".parse::<Moment>().unwrap().start(0).0 + 43_200_000)
}

/// The rules of the tests.
pub fn rules() -> Vec<Rule> {
    let rule = |name: &str, call, scope: Option<&str>, filter: &str| Rule {
        name: name.to_owned(),
        call,
        scope: scope.map(str::to_owned),
        filter: filter.to_owned(),
    };
    vec![
        rule(
            "tired",
            Call::Inspection,
            None,
            "hours since last inspection (covers = wall) > 1500 h",
        ),
        rule("worn", Call::Downgrade, Some("component = drill_pipe"), "wall < 80 %"),
        rule(
            "bent_and_tired",
            Call::Inspection,
            Some("not worn"),
            "tired and max_dogleg > 8 deg/100ft",
        ),
    ]
}

/// Joints of a serial: the digits at its end.
pub fn joints(key: &str) -> Vec<i64> {
    key.rsplit('-').next().and_then(|n| n.parse().ok()).into_iter().collect()
}

/// The context of the tests.
pub fn context(rules: &[Rule]) -> Context<'_> {
    Context { now: now(), offset_minutes: 0, units: UnitSystem::Us, rules, joints: &joints }
}

/// Errors as a user sees them.
pub fn shown(errors: &[FilterError]) -> String {
    errors.iter().map(|e| e.render(100)).collect::<Vec<_>>().join("---\n")
}
