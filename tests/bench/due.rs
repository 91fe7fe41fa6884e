//! The due list of a large fleet by the rules that ship. Run with `cargo bench --bench due`; not run by
//! the tests. A path behind `--` names a book; without one, a book whose rows are filled directly is
//! made (`PIPELORE_BENCH_JOINTS` joints, 100,000 where that is not set) and kept between runs.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    missing_docs,
    reason = "a benchmark prints and may fail loudly"
)]
#![allow(dead_code, reason = "the book of another bench is made with more than this one needs")]

mod filter_book;

use std::path::PathBuf;
use std::time::{Duration, Instant};

use pipelore::policy::RuleSet;
use pipelore::report::Present;
use pipelore::report::due::{self, Ahead};
use pipelore::store::{Access, Book};
use pipelore::units::UnitSystem;

fn main() {
    let named = std::env::args().skip(1).find(|a| !a.starts_with("--")).map(PathBuf::from);
    let joints: i64 =
        std::env::var("PIPELORE_BENCH_JOINTS").ok().and_then(|n| n.parse().ok()).unwrap_or(100_000);
    let path = named.unwrap_or_else(|| {
        let path = std::env::temp_dir().join(format!("pipelore-bench-filter-{joints}.pipelore"));
        if !path.exists() {
            filter_book::make(&path, joints);
        }
        path
    });
    let mut book = Book::open(&path, Access::Read).unwrap();
    let rules = RuleSet::shipped().unwrap();
    let present = Present {
        now: filter_book::NOW,
        offset_minutes: 0,
        units: UnitSystem::Us,
        limit: Duration::from_secs(600),
    };
    let time = |name: &str, rules: &RuleSet, options: &due::Options, book: &mut Book| {
        let best = (0..3)
            .map(|_| {
                let begun = Instant::now();
                due::report(book, rules, options, &present).unwrap();
                begun.elapsed()
            })
            .min()
            .unwrap();
        println!("{name:<34} {:>8.1} ms", best.as_secs_f64() * 1e3);
    };
    time("all rules, now", &rules, &due::Options::default(), &mut book);
    let ahead = due::Options { within: Some(Ahead::Days(90.0)), ..due::Options::default() };
    time("all rules, 90 days ahead", &rules, &ahead, &mut book);
    for rule in &rules.rules {
        // A rule alone, where no other rule names it.
        let one = RuleSet { rules: vec![rule.clone()], ..rules.clone() };
        time(&rule.name, &one, &due::Options::default(), &mut book);
    }
}
