//! Exposure of the reference run and of a fleet: time and error side by side, with a numpy and a
//! numba implementation of the same integral as peers where a Python that has them is at hand
//! (`PIPELORE_PYTHON`, else `python3`).
//!
//! Two times are given, each the best of its rounds: by the clock, and the processor's own, which a
//! neighbour's load disturbs far less (Linux only). Rounds of the peers run before and after ours.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    missing_docs,
    unreachable_pub,
    reason = "a benchmark prints its table and fails loudly"
)]

#[path = "../it/exposure_plain.rs"]
#[expect(dead_code, reason = "one part alone is asked of it by tests")]
mod exposure_plain;
mod reference_run;

use std::fmt::Write as _;
use std::fs;
use std::hint::black_box;
use std::path::Path;
use std::process::Command;
use std::thread;
use std::time::{Duration, Instant};

use pipelore::mechanics::exposure::{PartExposure, PreparedRun, Settings};
use pipelore::mechanics::fatigue::CurveTable;
use pipelore::mechanics::string::RunCase;
use rayon::ThreadPoolBuilder;
use rayon::prelude::*;

use exposure_plain::plain_all;

/// A line of the table.
struct Line {
    what: String,
    /// Best by the clock, ms.
    clock: f64,
    /// Best of the processor's time on all threads, ms; infinite where it can't be read.
    processor: f64,
    /// Worst relative error of a damage above 1e-9.
    error: f64,
}

fn main() {
    // the test runner passes --test to benchmarks without a harness: one quick pass then
    let quick = std::env::args().any(|a| a == "--test");
    let curve = CurveTable::shipped().unwrap().get("DNVGL-RP-C203 2016 air B1").unwrap();
    let settings = Settings::with_curve(curve);
    let size = if quick { reference_run::EVERYDAY } else { reference_run::REFERENCE };
    let (case, stations) = reference_run::run(size, 1);
    let curved = case.path.arcs().iter().filter(|a| a.curvature > 0.0).count();
    println!(
        "{} joints, {} m drilled, {} segments, {curved} curved arcs, three places",
        size.joints, size.drilled, size.segments
    );
    let converged = plain_all(&case, &settings, 8);

    let own = PreparedRun::new(&case, &settings).unwrap();
    let on_the_wall = |i| own.part(i).unwrap().hours_in_contact.iter().any(|h| *h != Some(0.0));
    let touching = (0..case.string.parts().len()).filter(|i| on_the_wall(*i)).count();
    assert_eq!(touching, 0, "the peers leave contact out");

    let before = peers(&case, &stations, &converged);
    let rounds = if quick { 1 } else { 41 };
    let mut lines = Vec::new();
    // Threads that ended would take their time with them, in the middle of a round.
    let mut pools = Vec::new();
    for (points, threads) in [(2, 1), (2, 2), (3, 1), (4, 1)] {
        let settings = Settings { points, ..settings.clone() };
        let pool = ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let compute = || {
            let run = PreparedRun::new(&case, &settings).unwrap();
            let parts = 0..case.string.parts().len();
            if threads == 1 {
                parts.map(|i| run.part(i).unwrap()).collect::<Vec<_>>()
            } else {
                parts.into_par_iter().map(|i| run.part(i).unwrap()).collect()
            }
        };
        let (clock, processor) = pool.install(|| best(rounds, compute));
        let error = worst(&pool.install(compute), &converged);
        let what = format!("pipelore, {points} points, {threads} thread(s), all outputs");
        lines.push(Line { what, clock, processor, error });
        pools.push(pool);
    }
    let after = if quick { Vec::new() } else { peers(&case, &stations, &converged) };
    for mut line in before {
        for again in after.iter().filter(|l| l.what == line.what) {
            line.clock = line.clock.min(again.clock);
            line.processor = line.processor.min(again.processor);
        }
        lines.push(line);
    }
    print(&lines);
    if !quick {
        rebuild(&lines, size.joints);
        fleet(&settings);
    }
}

/// Nanoseconds that the threads of this process have run; none where the system doesn't tell. A thread
/// that is running is counted up to the last tick of its clock, so this one steps aside first.
fn processor_time() -> Option<f64> {
    thread::sleep(Duration::from_micros(1));
    let mut sum = 0.0;
    for task in fs::read_dir("/proc/self/task").ok()? {
        let text = fs::read_to_string(task.ok()?.path().join("schedstat")).ok()?;
        sum += text.split_whitespace().next()?.parse::<f64>().ok()?;
    }
    Some(sum)
}

/// Best times of some rounds by the clock and by the processor, ms: what the machine can do when
/// others leave it alone.
fn best<T>(rounds: usize, mut work: impl FnMut() -> T) -> (f64, f64) {
    let (mut clock, mut processor) = (f64::INFINITY, f64::INFINITY);
    for _ in 0..rounds {
        let spent = processor_time();
        let start = Instant::now();
        black_box(work());
        clock = clock.min(start.elapsed().as_secs_f64() * 1e3);
        if let Some((a, b)) = spent.zip(processor_time()) {
            processor = processor.min((b - a) * 1e-6);
        }
    }
    (clock, processor)
}

fn worst(got: &[PartExposure], converged: &[PartExposure]) -> f64 {
    let pairs = got.iter().zip(converged).flat_map(|(a, b)| a.damage.into_iter().zip(b.damage));
    pairs.filter(|(_, b)| *b > 1e-9).map(|(a, b)| (a / b - 1.0).abs()).fold(0.0, f64::max)
}

/// Runs the Python peers on the same run; no lines where there is no such Python.
fn peers(
    case: &RunCase,
    stations: &[pipelore::mechanics::path::Station],
    converged: &[PartExposure],
) -> Vec<Line> {
    let file = Path::new(env!("CARGO_TARGET_TMPDIR")).join("reference_run.txt");
    let mut text = reference_run::export(case, stations);
    writeln!(text, "damage {}", converged.len()).unwrap();
    for part in converged {
        let [pin, middle, box_end] = part.damage;
        writeln!(text, "{pin:?},{middle:?},{box_end:?}").unwrap();
    }
    fs::write(&file, text).unwrap();
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/bench/exposure_numpy.py");
    let python = std::env::var("PIPELORE_PYTHON").unwrap_or_else(|_| "python3".to_owned());
    let Ok(output) =
        Command::new(&python).args([&script, &file]).env("OPENBLAS_NUM_THREADS", "1").output()
    else {
        println!("no {python}: peers left out");
        return Vec::new();
    };
    let read = |line: &str| {
        let mut cells = line.rsplitn(4, ';');
        let mut number = || cells.next()?.trim().parse().ok();
        let (error, processor, clock) = (number()?, number()?, number()?);
        Some(Line { what: cells.next()?.to_owned(), clock, processor, error })
    };
    let lines: Vec<Line> =
        String::from_utf8_lossy(&output.stdout).lines().filter_map(read).collect();
    if lines.is_empty() {
        println!("peers left out: {}", String::from_utf8_lossy(&output.stderr).trim());
    }
    lines
}

/// The table; ratios are against the fastest numpy variant that is as good as 1e-6.
fn print(lines: &[Line]) {
    let numpy = || lines.iter().filter(|l| l.what.starts_with("numpy") && l.error <= 1e-6);
    let clock = numpy().map(|l| l.clock).fold(f64::INFINITY, f64::min);
    let processor = numpy().map(|l| l.processor).fold(f64::INFINITY, f64::min);
    let times = |ratio: f64| {
        if ratio.is_finite() { format!("{ratio:.1}") } else { "-".to_owned() }
    };
    println!(
        "{:<48} {:>9} {:>10} {:>12} {:>9} {:>10}",
        "", "clock ms", "busy ms", "worst error", "× numpy", "× by busy"
    );
    for line in lines {
        println!(
            "{:<48} {:>9.2} {:>10.2} {:>12.1e} {:>9} {:>10}",
            line.what,
            line.clock,
            line.processor,
            line.error,
            times(clock / line.clock),
            times(processor / line.processor)
        );
    }
}

/// What the first line says of a rebuild of every joint of every run.
fn rebuild(lines: &[Line], joints: usize) {
    if let Some(line) = lines.first() {
        let busy = if line.processor.is_finite() { line.processor } else { line.clock };
        println!(
            "rebuild: {:.0} joint-runs of this detail a second and core",
            joints as f64 / busy * 1e3
        );
    }
}

/// 2,000 runs of everyday size on two threads, each thread a run at a time.
fn fleet(settings: &Settings) {
    let cases: Vec<RunCase> =
        (0..50).map(|seed| reference_run::run(reference_run::EVERYDAY, seed).0).collect();
    let pool = ThreadPoolBuilder::new().num_threads(2).build().unwrap();
    let start = Instant::now();
    let joints: usize = pool.install(|| {
        (0..2000_usize)
            .into_par_iter()
            .map(|i| {
                let case = &cases[i % 50];
                let run = PreparedRun::new(case, settings).unwrap();
                let parts = case.string.parts().len();
                (0..parts).for_each(|i| {
                    black_box(run.part(i).unwrap());
                });
                parts
            })
            .sum()
    });
    let seconds = start.elapsed().as_secs_f64();
    println!("fleet: 2,000 runs, {joints} joint-runs, two threads: {seconds:.2} s");
}
