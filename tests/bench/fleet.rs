//! A fleet of 1,000, 10,000 or 100,000 joints through the real ledger and folds: how fast it is
//! taken in, what it weighs, how fast it is derived anew, and the memory for that.
//!
//! `cargo bench --bench fleet -- [JOINTS]`. The book is kept between runs, under the build's folder
//! for temporary files; one that stands is weighed and not made again. `REBUILD=1` derives it anew.

#![allow(
    missing_docs,
    unreachable_pub,
    dead_code,
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::panic,
    clippy::cast_possible_wrap,
    reason = "a measurement for people"
)]

mod fleet_book;
#[path = "../it/world.rs"]
mod world;

use std::path::Path;
use std::time::Instant as Clock;

use pipelore::store::{Access, Book};

/// Most memory that the process held so far, MiB, where the system tells.
fn peak() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:")).unwrap_or_default();
    line.trim().trim_end_matches(" kB").parse::<u64>().unwrap_or(0) / 1024
}

/// Bytes of tables and indexes, whole pages.
fn weigh(path: &Path) {
    let conn = rusqlite::Connection::open(path).unwrap();
    let mut ask = conn
        .prepare(
            "SELECT m.tbl_name, m.name, sum(s.pgsize) FROM dbstat('main', 1) s
             JOIN sqlite_schema m ON m.name = s.name GROUP BY m.name ORDER BY 3 DESC",
        )
        .unwrap();
    let rows: Vec<(String, String, i64)> = ask
        .query_map([], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    let of = |table: &str| rows.iter().filter(|r| r.0 == table).map(|r| r.2).sum::<i64>();
    let count = |table: &str| -> i64 {
        conn.query_row(&format!("SELECT count(*) FROM {table}"), [], |r| r.get(0)).unwrap()
    };
    let (runs, whole) = (count("joint_run"), rows.iter().map(|r| r.2).sum::<i64>());
    let mib = |bytes: i64| bytes as f64 / f64::from(1 << 20);
    println!("{} joints, {runs} joint-runs, {} entries", count("joint"), count("entry"));
    println!(
        "run projection with its indexes {:.1} bytes a joint-run (≤ 280): {:.0} MiB",
        of("joint_run") as f64 / runs as f64,
        mib(of("joint_run"))
    );
    println!("ledger {:.0} MiB of {:.0} MiB", mib(of("entry")), mib(whole));
    for (table, name, bytes) in rows.iter().filter(|r| r.2 * 100 > whole) {
        println!(
            "  {:>9.1} MiB  {name}{}",
            mib(*bytes),
            if table == name { "" } else { " (index)" }
        );
    }
}

fn main() {
    let joints = std::env::args().skip(1).find_map(|a| a.parse::<usize>().ok()).unwrap_or(1_000);
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR"));
    let path = folder.join(format!("fleet-{joints}.pipelore"));
    let begun = Clock::now();
    if let Some(done) = fleet_book::make(&path, joints) {
        let seconds = begun.elapsed().as_secs_f64();
        println!(
            "taken in in {seconds:.1} s: {:.0} entries/s, {:.0} joint-runs/s; most memory {} MiB",
            done.entries as f64 / seconds,
            done.joint_runs as f64 / seconds,
            peak()
        );
    }
    weigh(&path);
    if std::env::var_os("REBUILD").is_some() {
        let mut book = Book::open(&path, Access::Write).unwrap();
        let before = peak();
        let begun = Clock::now();
        book.rebuild().unwrap();
        let seconds = begun.elapsed().as_secs_f64();
        println!(
            "derived anew in {seconds:.1} s, {:.0} joint-runs/s on {} threads; most memory {} MiB, {before} before",
            (joints * fleet_book::RUNS) as f64 / seconds,
            std::env::var("RAYON_NUM_THREADS").unwrap_or_else(|_| "all".to_owned()),
            peak()
        );
    }
}
