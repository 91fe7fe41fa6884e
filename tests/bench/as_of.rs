//! What it costs to see a book as it was: by size of the book, and by how far back.
//!
//! `cargo bench --bench as_of -- [JOINTS] [RUNS OF EACH]`

#![allow(
    missing_docs,
    unreachable_pub,
    dead_code,
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::panic,
    reason = "a measurement for people"
)]

#[path = "../it/world.rs"]
mod world;

use std::time::Instant as Clock;

use pipelore::model::{Body, Draft, JointRef, Moment, RunBody, RunGrade};
use pipelore::store::{Access, Book, LookBack};
use pipelore::units::Measure;
use world::{World, draft, inspection, joint, joint_ref, qty, run, survey};

/// Joints of a string; they run together.
const STRING: usize = 200;
/// Days from one run of a string to the next.
const EVERY: u64 = 30;

/// A view makes what a question reads: what is asked, and the statement.
const QUESTIONS: [(&str, &str); 4] = [
    ("a reading", "SELECT count(*) FROM joint WHERE wall < 840000000"),
    ("a sum over runs", "SELECT count(*) FROM joint WHERE hours_lo > 0"),
    ("what only a fold tells", "SELECT count(*) FROM joint WHERE tube_class = 'premium'"),
    ("runs", "SELECT count(*) FROM joint_run WHERE max_dogleg > 0"),
];

/// Seconds to look back and answer.
fn asked_of(book: &Book, asked: &LookBack, sql: &str) -> f64 {
    let begun = Clock::now();
    let mut view = book.look_back(asked).unwrap();
    view.book.ask(sql, &[], None).unwrap();
    begun.elapsed().as_secs_f64()
}

fn date(days: u64) -> String {
    let first = chrono::NaiveDate::from_ymd_opt(2021, 1, 1).unwrap();
    (first + chrono::Days::new(days)).format("%Y-%m-%d").to_string()
}

/// A run of a string as a summary: hours and depths, and the path of the hole.
fn short_run(name: &str, start: &str, joints: &[JointRef]) -> Body {
    let Body::Run(body) = run(name, "Larkfield 1H", start, joints) else { panic!() };
    Body::Run(Box::new(RunBody {
        grade: RunGrade::Summary,
        segments: Vec::new(),
        hours: qty("100 h", Measure::Hours),
        rotary_speed: qty("120 rpm", Measure::RotarySpeed),
        depth_in: qty("800 m", Measure::Depth),
        depth_out: qty("1000 m", Measure::Depth),
        ..*body
    }))
}

fn main() {
    let mut args = std::env::args().skip(1).filter_map(|a| a.parse::<usize>().ok());
    let joints = args.next().unwrap_or(4_000);
    let runs = args.next().unwrap_or(20);
    let world = World::new();
    let mut book = world.book("a.pipelore");
    world.append(&mut book, &[draft("2020-12-01", survey("Larkfield 1H"))]);
    let mut fleets = Vec::new();
    for string in 0..joints.div_ceil(STRING) {
        let serials: Vec<String> = (0..STRING).map(|n| format!("K{}-{n:04}", string + 1)).collect();
        let drafts: Vec<Draft> =
            serials.iter().map(|s| draft("2020-12-10", joint(s, true))).collect();
        let done = world.append(&mut book, &drafts);
        let fleet: Vec<JointRef> =
            serials.iter().zip(&done.entries).map(|(s, id)| joint_ref(s, id)).collect();
        fleets.push(fleet);
    }
    // Month by month, as a book is written; every fifth month each joint is looked at.
    for n in 0..runs {
        let mut drafts = Vec::new();
        for (string, fleet) in fleets.iter().enumerate() {
            let begin = n as u64 * EVERY + string as u64 % 20;
            let body = short_run(&format!("R{}-{n}", string + 1), &date(begin), fleet);
            drafts.push(draft(&date(begin + 6), body));
            if n % 5 == 4 {
                let looked = date(begin + 8);
                drafts.extend(fleet.iter().map(|j| draft(&looked, inspection(j, "0.340 in"))));
            }
        }
        world.append(&mut book, &drafts);
    }
    let (entries, path) = (book.length().unwrap(), book.path().to_path_buf());
    book.close().unwrap();
    let size = std::fs::metadata(&path).unwrap().len() >> 20;
    println!("{joints} joints, {} joint-runs, {entries} entries, {size} MiB", joints * runs);
    let book = Book::open(&path, Access::Read).unwrap();
    let whole = runs as u64 * EVERY;
    for (what, back) in [
        ("after everything", 0),
        ("10 days back", 20),
        ("1 month back", 30),
        ("3 months back", 90),
        ("half way", whole / 2),
        ("nine tenths back", whole * 9 / 10),
    ] {
        let day: Moment = date(whole + 10 - back).parse().unwrap();
        let asked =
            LookBack { known_to: None, before: Some(day.end(pipelore::model::Clock::Offset(60))) };
        let view = book.look_back(&asked).unwrap();
        println!(
            "as of {day}, {what} ({} entries of later, {} runs under way):",
            view.later,
            view.under_way.len()
        );
        for (what, sql) in QUESTIONS {
            println!("  {what}: {:.2} s", asked_of(&book, &asked, sql));
        }
    }
    for back in [0, 1, 100, entries / 20, entries / 2, entries * 9 / 10] {
        let asked = LookBack { known_to: Some(entries - back), before: None };
        let seconds = asked_of(&book, &asked, QUESTIONS[0].1);
        println!("as known {back} entries ago, {}: {seconds:.2} s", QUESTIONS[0].0);
    }
}
