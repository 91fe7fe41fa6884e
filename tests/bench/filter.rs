//! Filters on a large book: how long a filter takes to become SQL, and the SQL against the best
//! that was written by hand for the same question on the same file. Run with
//! `cargo bench --bench filter`; not run by the tests.
//!
//! `PIPELORE_BENCH_JOINTS` makes another number of joints than 100,000. The book is kept between
//! runs, one for each version of the projections. A word behind `--` runs only the questions that hold it.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    missing_docs,
    unreachable_pub,
    reason = "a benchmark prints and may fail loudly"
)]

mod filter_book;

use std::path::Path;
use std::time::{Duration, Instant};

use pipelore::filter::parse::{Text, parse_filter};
use pipelore::filter::{Answer, Context, Rules, Select, compile};
use pipelore::policy::RuleSet;
use pipelore::projection::VERSION;
use pipelore::report::{Present, find};
use pipelore::schema::Value;
use pipelore::store::{Access, Book};
use pipelore::units::UnitSystem;

use filter_book::NOW;

/// A question, as a filter and as SQL by hand.
struct Question {
    name: &'static str,
    filter: &'static str,
    /// How many times the time of the hand-written SQL is thought good.
    ratio: f64,
    /// Hand-written SQL, the fastest of which counts. Doglegs of 6 and 8 deg/100ft are 196850393
    /// and 262467191 quanta, an hour 3600000. What lies above a dogleg each run tells of itself; its
    /// band reaches from 250000000 to 266666667, and from 183333333 to 200000000.
    by_hand: &'static [&'static str],
}

const QUESTIONS: &[Question] = &[
    Question {
        name: "joint fields",
        filter: "class = premium and location = \"Rig 14\" and wall < 75 %",
        ratio: 1.3,
        by_hand: &["SELECT joint FROM joint WHERE class = 'premium' AND location = 'Rig 14' \
                    AND wall < 750000000"],
    },
    Question {
        name: "class and hours since an inspection",
        filter: "class = premium and hours since last inspection (covers = wall) > 1200 h",
        ratio: 1.3,
        by_hand: &[
            "SELECT s.joint FROM since s JOIN joint j ON j.joint = s.joint WHERE s.scope = 'wall' \
             AND s.hours_lo > 4320000000 AND j.class = 'premium'",
            "SELECT joint FROM joint WHERE class = 'premium' AND joint IN (SELECT joint FROM since \
             WHERE scope = 'wall' AND hours_lo > 4320000000)",
        ],
    },
    Question {
        name: "damage since an inspection, or in all",
        filter: "damage since last inspection (covers = slip_cracks) > 0.072 or damage > 0.36",
        ratio: 1.3,
        by_hand: &[
            "SELECT joint FROM joint WHERE damage_lo > 360000000000000 OR joint IN (SELECT \
                    joint FROM since WHERE scope = 'slip_cracks' AND damage_lo > 72000000000000)",
        ],
    },
    Question {
        name: "turns above a dogleg since an inspection",
        filter: "revolutions above 6 deg/100ft since last inspection (covers = slip_cracks) > 100000",
        ratio: 1.3,
        by_hand: &[
            "SELECT s.joint FROM since s WHERE scope = 'slip_cracks' AND max_dogleg_lo > 196850393 \
             AND turns_above(histogram, 183333333) > 100000000 AND (SELECT \
             sum(turns_above(r.histogram, 196850393)) FROM joint_run r WHERE r.joint = s.joint AND \
             r.start >= s.at AND r.max_dogleg > 196850393 AND conflicting = 0) > 100000000",
        ],
    },
    Question {
        name: "hours above a dogleg",
        filter: "hours above 8 deg/100ft > 20 h",
        ratio: 1.3,
        by_hand: &[
            "SELECT joint FROM joint j WHERE max_dogleg_lo > 262467191 AND hours_above(histogram, \
             250000000) > 72000000 AND (SELECT sum(hours_above(r.histogram, 262467191)) FROM \
             joint_run r WHERE r.joint = j.joint AND r.max_dogleg > 262467191 AND conflicting = 0) \
             > 72000000",
            "SELECT joint FROM joint j WHERE max_dogleg_lo > 262467191 AND hours_above(histogram, \
             250000000) > 72000000 AND (max_dogleg_lo > 266666667 AND hours_above(histogram, \
             266666667) > 72000000 OR (SELECT sum(hours_above(r.histogram, 262467191)) FROM \
             joint_run r WHERE r.joint = j.joint AND r.max_dogleg > 262467191 AND conflicting = 0) \
             > 72000000)",
        ],
    },
    Question {
        name: "a run above two thresholds",
        filter: "any run (max_dogleg > 8 deg/100ft and rotating_hours > 170 h)",
        ratio: 1.3,
        by_hand: &[
            "SELECT DISTINCT joint FROM joint_run WHERE max_dogleg > 262467191 AND hours > \
             612000000 AND conflicting = 0",
            "SELECT joint FROM joint j WHERE joint IN (SELECT joint FROM joint_run WHERE max_dogleg > 262467191 AND hours > 612000000) AND (conflicted = 0 OR EXISTS (SELECT 1 FROM joint_run r WHERE r.joint = j.joint AND max_dogleg > 262467191 AND hours > 612000000 AND conflicting = 0))",
            "SELECT DISTINCT joint FROM joint_run INDEXED BY joint_run_dogleg WHERE max_dogleg > 262467191 AND hours > 612000000 AND conflicting = 0",
            "SELECT joint FROM joint j WHERE max_dogleg_lo > 262467191 AND EXISTS (SELECT 1 FROM \
             joint_run r WHERE r.joint = j.joint AND max_dogleg > 262467191 AND hours > 612000000 \
             AND conflicting = 0)",
        ],
    },
    Question {
        name: "a run above rare thresholds",
        filter: "any run (max_dogleg > 12 deg/100ft and rotating_hours > 170 h)",
        ratio: 1.3,
        by_hand: &[
            "SELECT DISTINCT joint FROM joint_run WHERE max_dogleg > 393700787 AND hours > \
             612000000 AND conflicting = 0",
            "SELECT joint FROM joint j WHERE joint IN (SELECT joint FROM joint_run WHERE max_dogleg > 393700787 AND hours > 612000000) AND (conflicted = 0 OR EXISTS (SELECT 1 FROM joint_run r WHERE r.joint = j.joint AND max_dogleg > 393700787 AND hours > 612000000 AND conflicting = 0))",
            "SELECT DISTINCT joint FROM joint_run INDEXED BY joint_run_dogleg WHERE max_dogleg > 393700787 AND hours > 612000000 AND conflicting = 0",
            "SELECT joint FROM joint j WHERE max_dogleg_lo > 393700787 AND EXISTS (SELECT 1 FROM \
             joint_run r WHERE r.joint = j.joint AND max_dogleg > 393700787 AND hours > 612000000 \
             AND conflicting = 0)",
        ],
    },
    Question {
        name: "a run of a well",
        filter: "any run (well = \"Well 77\" and max_dogleg > 6 deg/100ft)",
        ratio: 1.3,
        by_hand: &["SELECT DISTINCT r.joint FROM run u JOIN joint_run r ON r.run = u.run WHERE \
                    u.well = 'Well 77' COLLATE NOCASE AND r.max_dogleg > 196850393 AND r.conflicting = 0"],
    },
    Question {
        name: "one string's hours in 109 days",
        filter: "string = \"S7\" and hours since today - 109 days > 400 h",
        ratio: 2.0,
        by_hand: &[
            "SELECT joint FROM joint j WHERE string = 'S7' COLLATE NOCASE AND (SELECT sum(hours) FROM joint_run r WHERE r.joint = j.joint AND finish > 1775001600000 AND conflicting = 0) > 1440000000",
        ],
    },
    Question {
        name: "scan: under-torqued make-ups",
        filter: "any makeup (end = box and torque < 68 % * target_torque)",
        ratio: 2.0,
        by_hand: &[
            "SELECT DISTINCT joint FROM makeup WHERE end = 'box' AND torque < 0.68 * target_torque",
            "SELECT joint FROM joint j WHERE EXISTS (SELECT 1 FROM makeup m WHERE m.joint = \
             j.joint AND end = 'box' AND torque < 0.68 * target_torque)",
        ],
    },
    Question {
        name: "scan: wall loss over inspections",
        filter: "max wall_loss over inspections > 25 %",
        ratio: 2.0,
        by_hand: &[
            "SELECT joint FROM inspection GROUP BY joint HAVING min(wall) < 750000000",
            "SELECT joint FROM joint j WHERE (SELECT min(wall) FROM inspection i WHERE i.joint = \
             j.joint) < 750000000",
        ],
    },
    Question {
        name: "scan: latest inspection, no repair since",
        filter: "latest inspection (box_od < 160 mm) and no repair since last inspection",
        ratio: 2.0,
        by_hand: &[
            "SELECT joint FROM joint j WHERE (SELECT box_od FROM inspection i WHERE i.joint = \
                    j.joint ORDER BY date DESC, entry DESC LIMIT 1) < 160000000 AND NOT EXISTS (SELECT \
                    1 FROM repair r WHERE r.joint = j.joint AND r.date > (SELECT max(date) FROM \
                    inspection i WHERE i.joint = j.joint))",
        ],
    },
    Question {
        name: "scan: long runs counted",
        filter: "count runs (rotating_hours > 150 h) > 15",
        ratio: 2.0,
        by_hand: &[
            "SELECT joint FROM joint_run WHERE hours > 540000000 AND conflicting = 0 GROUP BY joint \
             HAVING count(*) > 15",
            "SELECT joint FROM joint j WHERE (SELECT count(*) FROM joint_run r WHERE r.joint = \
             j.joint AND hours > 540000000 AND conflicting = 0) > 15",
        ],
    },
];

const PRESENT: Present = Present {
    now: NOW,
    clock: pipelore::model::Clock::UTC,
    units: UnitSystem::Us,
    limit: Duration::from_mins(10),
};

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// Time of one call: the best of forty short rounds, for a machine that others use too.
fn micros(work: &dyn Fn()) -> f64 {
    (0..40)
        .map(|_| {
            let begun = Instant::now();
            (0..40).for_each(|_| work());
            begun.elapsed().as_secs_f64() / 40.0 * 1e6
        })
        .fold(f64::INFINITY, f64::min)
}

fn compiling(context: &Context<'_>) {
    println!("text to SQL, best of 40 rounds");
    for text in [
        "class = premium and hours since last inspection (covers = wall) > 1500 h and location = \"Rig 14\"",
        "any run (hours above 8 deg/100ft > 2 h and well = \"Larkfield 2H\") and wall_age > 180 days    ",
        "latest inspection (box_od < 6 3/32 in) and no repair since last inspection and on_hire = false",
        "count makeups (end = pin) since last repair (work = recut and end = pin) >= 60 or damage > 0.6 ",
        "max wall_loss over inspections in last 2 years > 12 % and (string = \"K1\" or heat = \"H4417\")",
    ] {
        let compiled = compile(text, context).unwrap();
        let parse = micros(&|| drop(std::hint::black_box(parse_filter(&Text::typed(text)))));
        let check = micros(&|| drop(std::hint::black_box(compile(text, context))));
        let lower = micros(&|| {
            drop(std::hint::black_box(compiled.select(&Select::of(Answer::Matching))));
        });
        println!(
            "  {:6.1} µs, of which reading {parse:5.1} and writing SQL {lower:5.1}; {} characters  {text}",
            check + lower,
            text.trim().chars().count()
        );
    }
}

fn asked(book: &mut Book, sql: &str, params: &[Value]) -> (Vec<i64>, f64) {
    let begun = Instant::now();
    let rows = book.ask(sql, params, None).unwrap();
    let taken = begun.elapsed().as_secs_f64() * 1e3;
    let mut joints: Vec<i64> = rows
        .iter()
        .map(|r| if let Value::Int(n) = r[0] { n } else { panic!("{:?}", r[0]) })
        .collect();
    joints.sort_unstable();
    (joints, taken)
}

fn questions(path: &Path, context: &Context<'_>, only: Option<&str>) {
    let mut book = Book::open(path, Access::Read).unwrap();
    for question in QUESTIONS.iter().filter(|q| only.is_none_or(|o| q.name.contains(o))) {
        let compiled = compile(question.filter, context).unwrap();
        let cuts = compiled.cuts();
        if !cuts.is_empty() {
            book.prepare_windows(&cuts).unwrap();
        }
        let query = compiled.select(&Select::of(Answer::Matching));
        let params = &query.params;
        let (found, first) = asked(&mut book, &query.sql, params);
        if std::env::var_os("PIPELORE_SHOW").is_some_and(|v| v == "1") {
            println!("{}\n{:?}", query.sql, query.params);
            for line in
                book.ask(&format!("EXPLAIN QUERY PLAN {}", query.sql), params, None).unwrap()
            {
                println!("      {:?}", line[3]);
            }
        }
        let rounds = if first > 1_000.0 { 3 } else { 7 };
        let (mut ours, mut theirs) = (Vec::new(), vec![Vec::new(); question.by_hand.len()]);
        for _ in 0..rounds {
            ours.push(asked(&mut book, &query.sql, params).1);
            for (sql, times) in question.by_hand.iter().zip(&mut theirs) {
                let (same, taken) = asked(&mut book, sql, &[]);
                assert_eq!(
                    found,
                    same,
                    "{}: {} and {} joints",
                    question.name,
                    found.len(),
                    same.len()
                );
                times.push(taken);
            }
        }
        let ours = median(ours);
        let theirs: Vec<f64> = theirs.into_iter().map(median).collect();
        if std::env::var_os("PIPELORE_SHOW").is_some_and(|v| v == "1") {
            println!("by hand: {theirs:.2?} ms");
        }
        let best = theirs.into_iter().fold(f64::INFINITY, f64::min);
        let ratio = ours / best;
        let mark = if ratio <= question.ratio { "" } else { "  above what is wanted" };
        // As a person asks: with what cannot be decided, and twenty rows to look at.
        let options = find::Options { limit: Some(20), ..find::Options::default() };
        let whole = (0..rounds).map(|_| {
            let begun = Instant::now();
            let rules = RuleSet::none();
            find::report(&mut book, question.filter, Some(&rules), &options, &PRESENT).unwrap();
            begun.elapsed().as_secs_f64() * 1e3
        });
        let whole = median(whole.collect());
        println!(
            "{:42} {:6} joints  {ours:8.2} ms  by hand {best:8.2} ms  × {ratio:.2} (≤ {}){mark}; \
             the command {whole:8.2} ms",
            question.name,
            found.len(),
            question.ratio
        );
    }
}

fn main() {
    let joints: i64 =
        std::env::var("PIPELORE_BENCH_JOINTS").ok().and_then(|n| n.parse().ok()).unwrap_or(100_000);
    let only = std::env::args().nth(1).filter(|a| !a.starts_with("--"));
    let none = |_: &str| Vec::new();
    let context = Context {
        now: NOW,
        clock: pipelore::model::Clock::UTC,
        units: UnitSystem::Us,
        rules: Rules::These(&[]),
        joints: &none,
        words: &|_, _| None,
        ask: &|_| Some(Vec::new()),
    };
    compiling(&context);
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR"));
    let path = folder.join(format!("filter-bench-{joints}-{VERSION}.pipelore"));
    let begun = Instant::now();
    filter_book::make(&path, joints);
    let size = std::fs::metadata(&path).unwrap().len() / (1 << 20);
    println!(
        "{joints} joints, {} joint-runs, {size} MiB, ready in {:.0} s",
        joints * filter_book::RUNS,
        begun.elapsed().as_secs_f64()
    );
    println!("without statistics");
    questions(&path, &context, only.as_deref());
    let analysed = folder.join(format!("filter-bench-{joints}-{VERSION}-analysed.pipelore"));
    if !analysed.exists() {
        std::fs::copy(&path, &analysed).unwrap();
        let conn = rusqlite::Connection::open(&analysed).unwrap();
        conn.execute_batch("ANALYZE").unwrap();
    }
    println!("with statistics");
    questions(&analysed, &context, only.as_deref());
}
