//! The due list of a large fleet by the rules that ship. Run with `cargo bench --bench due`; not run by
//! the tests. A path behind `--` names a book; without one, a book whose rows are filled directly is
//! made (`PIPELORE_BENCH_JOINTS` joints, 100,000 where that is not set) and kept between runs.
//! Then the pass over the joints alone, on one connection: with all rules, with none, and with each.
//! `SHOW=NAME` shows the statements, plans and times of the rules whose names hold a word.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    missing_docs,
    unreachable_pub,
    reason = "a benchmark prints and may fail loudly"
)]
#![allow(dead_code, reason = "the book of another bench is made with more than this one needs")]

mod filter_book;

use std::path::PathBuf;
use std::time::{Duration, Instant};

use pipelore::condition::Edition;
use pipelore::filter::{Answer, Compiled, Select, compile, panels};
use pipelore::model::SetKind;
use pipelore::policy::RuleSet;
use pipelore::projection::VERSION;
use pipelore::report::Present;
use pipelore::report::due::{self, Ahead};
use pipelore::report::in_context;
use pipelore::schema::Value;
use pipelore::store::{Access, Book};
use pipelore::units::UnitSystem;

fn main() {
    let named = std::env::args().skip(1).find(|a| !a.starts_with("--")).map(PathBuf::from);
    let joints: i64 =
        std::env::var("PIPELORE_BENCH_JOINTS").ok().and_then(|n| n.parse().ok()).unwrap_or(100_000);
    let path = named.unwrap_or_else(|| {
        let name = format!("pipelore-bench-filter-{joints}-{VERSION}.pipelore");
        let path = std::env::temp_dir().join(name);
        if !path.exists() {
            filter_book::make(&path, joints);
        }
        path
    });
    let mut book = Book::open(&path, Access::Read).unwrap();
    let shipped = Edition::shipped();
    let rules = RuleSet::parse(shipped.set(SetKind::Rules).unwrap()).unwrap();
    let present = Present {
        now: filter_book::NOW,
        clock: pipelore::model::Clock::UTC,
        units: UnitSystem::Us,
        limit: Duration::from_mins(10),
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
    if let Ok(name) = std::env::var("SHOW") {
        show(&mut book, &rules, &present, &name);
        return;
    }
    // One connection, the pass over the joints alone.
    let names: Vec<&str> = rules.rules.iter().map(|r| r.name.as_str()).collect();
    let all = pass(&mut book, &rules, &present, &names);
    println!("{:<34} {all:>8.1} ms", "the pass");
    let nothing = pass(&mut book, &rules, &present, &[]);
    println!("{:<34} {nothing:>8.1} ms", "the pass without a rule");
    for name in names {
        let one = pass(&mut book, &rules, &present, &[name]) - nothing;
        println!("{name:<34} {one:>8.1} ms more");
    }
}

/// Milliseconds of a pass over all joints with some rules.
fn pass(book: &mut Book, rules: &RuleSet, present: &Present, names: &[&str]) -> f64 {
    let (among, filters) = in_context(book, rules, present, |c| {
        let filters: Vec<Compiled> = names.iter().map(|n| compile(n, c).unwrap()).collect();
        (compile("status not in (retired, lost)", c).unwrap(), filters)
    });
    for filter in &filters {
        book.prepare_windows(&filter.cuts()).unwrap();
    }
    let panels = panels(&among, &filters);
    let once = || {
        let begun = Instant::now();
        for panel in &panels {
            let mut params = panel.params.clone();
            params.extend([Value::Int(i64::MIN), Value::Int(i64::MAX)]);
            book.ask(&panel.sql, &params, None).unwrap();
        }
        if panels.is_empty() {
            book.ask("SELECT joint, 0 FROM joint WHERE status <> 'lost'", &[], None).unwrap();
        }
        begun.elapsed().as_secs_f64() * 1e3
    };
    std::iter::repeat_with(once).take(3).fold(f64::INFINITY, f64::min)
}

/// What a rule asks of the book: both statements, their plans and times.
fn show(book: &mut Book, rules: &RuleSet, present: &Present, name: &str) {
    for rule in rules.rules.iter().filter(|r| r.name.contains(name)) {
        let text = format!("status not in (retired, lost) and {}", rule.name);
        let compiled = in_context(book, rules, present, |c| compile(&text, c).unwrap());
        let cuts = compiled.cuts();
        if !cuts.is_empty() {
            let begun = Instant::now();
            book.prepare_windows(&cuts).unwrap();
            println!("{}: windows {:.1?}", rule.name, begun.elapsed());
        }
        let matching = compiled.select(&Select::of(Answer::Matching));
        let (open, _) = compiled.undecided_by(None);
        for (what, query) in [("matching", matching), ("undecided", open)] {
            let params = &query.params;
            let begun = Instant::now();
            let rows = book.ask(&query.sql, params, None).unwrap().len();
            println!("{} {what}: {rows} rows, {:.1?}", rule.name, begun.elapsed());
            println!("{}\n{params:?}", query.sql);
            let plan = format!("EXPLAIN QUERY PLAN {}", query.sql);
            for line in book.ask(&plan, params, None).unwrap() {
                println!("      {:?}", line[3]);
            }
        }
    }
}
