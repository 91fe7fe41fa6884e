//! The book that the filter benchmarks fill directly has the shape of one that came through ledger
//! and folds: as many rows of each kind for a joint, the same columns filled, rows of the same size.

#![allow(dead_code, reason = "the books are made for benchmarks")]

#[path = "../bench/filter_book.rs"]
mod filled;
#[path = "../bench/fleet_book.rs"]
mod fleet_book;

use crate::world;
use pipelore::units::UnitSystem;
use rusqlite::Connection;

/// Tables of one joint that both books fill.
const TABLES: [&str; 6] = ["joint_run", "joint", "since", "inspection", "repair", "makeup"];

/// Rows of a table for each joint.
fn rows_of_each(conn: &Connection, table: &str) -> f64 {
    let sql = format!("SELECT count(*) * 1.0 / count(DISTINCT joint) FROM {table}");
    conn.query_row(&sql, [], |r| r.get(0)).unwrap()
}

/// Bytes of a row, as the file's pages count them.
fn bytes_of_each(conn: &Connection, table: &str) -> f64 {
    let sql = format!(
        "SELECT sum(payload) * 1.0 / (SELECT count(*) FROM {table}) FROM dbstat WHERE name = '{table}'"
    );
    conn.query_row(&sql, [], |r| r.get(0)).unwrap()
}

/// Columns that hold more than nothing and zero.
fn filled(conn: &Connection, table: &str) -> Vec<String> {
    let mut info = conn.prepare("SELECT name FROM pragma_table_info(?1)").unwrap();
    let names: Vec<String> =
        info.query_map([table], |r| r.get(0)).unwrap().map(Result::unwrap).collect();
    let holds = |column: &String| -> bool {
        let sql = format!(
            "SELECT EXISTS (SELECT 1 FROM {table} WHERE \"{column}\" NOT IN (0, '', x'') )"
        );
        conn.query_row(&sql, [], |r| r.get(0)).unwrap()
    };
    names.into_iter().filter(holds).collect()
}

/// Columns in which the two invented fleets differ by what is told of them: words of a certificate
/// and of a gauge, and verdicts. And twenty joints that hang by themselves hang far below the casing,
/// where no bend of theirs reaches the limit.
fn elsewhere(column: &str) -> bool {
    ["class", "tube_class", "maker", "body_od", "gauge"].contains(&column)
        || column.starts_with("cased_hours")
        || column.starts_with("over_limit")
}

#[test]
fn a_book_filled_for_benchmarks_has_the_shape_of_one_that_was_kept() {
    let world = world::World::new();
    let quick = world.path("filled.pipelore");
    filled::make(&quick, 200);
    let mut book = world.book("kept.pipelore");
    assert_eq!(book.identity().units, UnitSystem::Metric);
    let written = fleet_book::fill(&mut book, 20);
    assert_eq!(written.joint_runs, 20 * fleet_book::RUNS);
    let kept = Connection::open(book.path()).unwrap();
    let quick = Connection::open(&quick).unwrap();
    let mut misses = Vec::new();
    for table in TABLES {
        let (a, b) = (rows_of_each(&quick, table), rows_of_each(&kept, table));
        if (a - b).abs() > 0.01 * b {
            misses.push(format!("{table}: {a} rows of each joint filled, {b} kept"));
        }
        let real = filled(&kept, table);
        for column in filled(&quick, table) {
            if !elsewhere(&column) && !real.contains(&column) {
                misses.push(format!("{table}.{column}: filled, and empty where it was kept"));
            }
        }
    }
    let (a, b) = (bytes_of_each(&quick, "joint_run"), bytes_of_each(&kept, "joint_run"));
    if (a - b).abs() > 0.2 * b {
        misses.push(format!("joint_run: {a:.0} bytes a row filled, {b:.0} kept"));
    }
    let schema = |conn: &Connection| -> Vec<String> {
        let mut ask = conn.prepare("SELECT sql FROM sqlite_schema WHERE sql NOT NULL").unwrap();
        let mut all: Vec<String> =
            ask.query_map([], |r| r.get(0)).unwrap().map(Result::unwrap).collect();
        all.sort();
        all
    };
    assert_eq!(schema(&quick), schema(&kept));
    assert!(misses.is_empty(), "{misses:#?}");
}
