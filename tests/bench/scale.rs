//! What a person waits for, on books of 1,000, 10,000 and 100,000 joints: one run of 300 joints with
//! its log written into the book, and the time of whole processes.
//!
//! `cargo bench --bench scale -- [JOINTS]`. The books are those of the `fleet` bench; appending works
//! on a copy. `ONLY=append` or `ONLY=process` does one of the two.

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
use std::process::{Command, Stdio};
use std::time::Instant as Clock;

use fleet_book::{Dice, STRING};
use pipelore::model::{Instant, JointRef, Recorded};
use pipelore::store::{Access, AppendOptions, Book, Stamp, side_file};

/// Best and median of some times, ms.
fn told(what: &str, mut times: Vec<f64>) {
    times.sort_by(f64::total_cmp);
    println!("  {what:44} median {:8.1} ms  best {:8.1} ms", times[times.len() / 2], times[0]);
}

/// Joints of a string, by name.
fn string_of(path: &Path, string: usize) -> Vec<JointRef> {
    let conn = rusqlite::Connection::open(path).unwrap();
    let mut ask = conn
        .prepare("SELECT serial, introduced_by FROM joint WHERE string = ?1 ORDER BY joint")
        .unwrap();
    ask.query_map([format!("S{string:03}")], |r| Ok((r.get(0)?, r.get(1)?)))
        .unwrap()
        .map(Result::unwrap)
        .map(|(serial, name): (String, String)| world::joint_ref(&serial, &name.parse().unwrap()))
        .collect()
}

/// The well that a string drilled last.
fn well_of(path: &Path, string: usize) -> String {
    let conn = rusqlite::Connection::open(path).unwrap();
    let sql = "SELECT well FROM run WHERE string = ?1 ORDER BY finish DESC LIMIT 1";
    conn.query_row(sql, [format!("S{string:03}")], |r| r.get(0)).unwrap()
}

/// Runs of several strings, each in a book that was just opened.
fn append(path: &Path, joints: usize) {
    let copy = path.with_extension("copy");
    std::fs::copy(path, &copy).unwrap();
    std::fs::copy(side_file(path), side_file(&copy)).unwrap();
    let strings = joints / STRING;
    let (mut opened, mut whole, mut dry) = (Vec::new(), Vec::new(), Vec::new());
    for n in 0..9 {
        let string = n * (strings - 1) / 8 + 1;
        let fleet = string_of(&copy, string);
        let mut dice = Dice::new(n);
        let start = format!("2026-{:02}-{:02}", 8 + n / 9, 2 + n * 3);
        let (name, well) = (format!("S{string:03}-R{}", 51 + n), well_of(&copy, string));
        let body = fleet_book::logged_run(&name, &well, "K", &start, 4, &fleet, &mut dice);
        let end = format!("2026-{:02}-{:02}T12:00Z", 8 + n / 9, 4 + n * 3);
        let draft = [world::draft(&end, body)];
        let stamp = Stamp {
            now: Recorded { at: Instant(1_790_000_000_000), offset_minutes: 60 },
            author: "bench".to_owned(),
            program: "pipelore bench".to_owned(),
        };
        let begun = Clock::now();
        let mut book = Book::open(&copy, Access::Write).unwrap();
        opened.push(begun.elapsed().as_secs_f64() * 1e3);
        let begun = Clock::now();
        let tried = AppendOptions { dry_run: true, ..AppendOptions::default() };
        book.append(&draft, &stamp, &tried).unwrap();
        dry.push(begun.elapsed().as_secs_f64() * 1e3);
        book.close().unwrap();
        let mut book = Book::open(&copy, Access::Write).unwrap();
        let begun = Clock::now();
        book.append(&draft, &stamp, &AppendOptions::default()).unwrap();
        whole.push(begun.elapsed().as_secs_f64() * 1e3);
        book.close().unwrap();
    }
    told("open to write", opened);
    told("the same, written and taken back (dry run)", dry);
    told("one run of 300 joints, 300 segments (≤ 300)", whole);
    std::fs::remove_file(&copy).unwrap();
    std::fs::remove_file(side_file(&copy)).unwrap();
}

/// Times of whole processes.
fn process(what: &str, program: &str, args: &[&str], rounds: usize) {
    let times = (0..rounds)
        .map(|_| {
            let begun = Clock::now();
            let status = Command::new(program)
                .args(args)
                .env("PIPELORE_NOW", "2026-07-18")
                .stdout(Stdio::null())
                .stderr(Stdio::null())
                .status()
                .unwrap();
            // An empty answer is told by the exit code.
            assert!(status.code().is_some_and(|c| c <= 1), "{what}: {status}");
            begun.elapsed().as_secs_f64() * 1e3
        })
        .collect();
    told(what, times);
}

fn processes(path: &Path, joints: usize) {
    // Another build of the program, where one is named.
    let program = std::env::var("PROGRAM");
    let own = program.as_deref().unwrap_or(env!("CARGO_BIN_EXE_pipelore"));
    let book = path.to_str().unwrap();
    let string = (joints / STRING / 2).max(1);
    let joint = format!("S{string:03}-0150");
    let with = |args: &[&'static str]| {
        let mut all = vec!["--book", book];
        all.extend(args);
        all.into_iter().map(str::to_owned).collect::<Vec<_>>()
    };
    let run = |what: &str, args: &[&'static str], rounds: usize| {
        let args = with(args);
        process(what, own, &args.iter().map(String::as_str).collect::<Vec<_>>(), rounds);
    };
    let shell = ["-readonly", book, "SELECT joint FROM joint WHERE serial = 'none'"];
    if Command::new("sqlite3").arg("-version").stdout(Stdio::null()).status().is_ok() {
        process("the sqlite3 shell, one statement", "sqlite3", &shell, 41);
    }
    run("find, nothing found", &["find", "serial = \"none\""], 41);
    process("trace of one joint (≤ 30)", own, &["--book", book, "trace", &joint], 41);
    let why = ["--book", book, "why", &joint, "class = premium and hours > 100 h"];
    process("why of one joint, a filter (≤ 30)", own, &why, 41);
    let why = ["--book", book, "why", &joint, "due for inspection"];
    process("why of one joint, all rules of a call", own, &why, 21);
    run("due, all rules (≤ 1,000)", &["due", "--limit", "20"], 5);
    run(
        "find --as-of, 18 days back (≤ 2,000)",
        &["--as-of", "2026-07-01", "find", "wall < 84 %"],
        3,
    );
    run("find --as-of, 5 months back", &["--as-of", "2026-02-15", "find", "wall < 84 %"], 1);
}

fn main() {
    let joints = std::env::args().skip(1).find_map(|a| a.parse::<usize>().ok()).unwrap_or(1_000);
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("fleet-{joints}.pipelore"));
    fleet_book::make(&path, joints);
    let only = std::env::var("ONLY").unwrap_or_default();
    println!("{joints} joints");
    if only != "append" {
        processes(&path, joints);
    }
    if only != "process" {
        append(&path, joints);
    }
}
