//! Exposure of the reference run and of a fleet: time and error side by side, with a numpy and a
//! numba implementation of the same integral as peers where a Python that has them is at hand
//! (`PIPELORE_PYTHON`, else `python3`).

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    missing_docs,
    reason = "a benchmark prints its table and fails loudly"
)]

mod reference_run;

use std::fmt::Write as _;
use std::fs;
use std::hint::black_box;
use std::path::Path;
use std::process::Command;
use std::time::Instant;

use pipelore::mechanics::exposure::{PartExposure, PreparedRun, Settings, plain_all};
use pipelore::mechanics::fatigue::CurveTable;
use pipelore::mechanics::string::RunCase;
use rayon::ThreadPoolBuilder;

/// A line of the table.
struct Line {
    what: String,
    milliseconds: f64,
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
    let converged = plain_all(&case, &Settings { points: 8, ..settings.clone() }).unwrap();

    let rounds = if quick { 1 } else { 41 };
    let mut lines = Vec::new();
    for (points, threads) in [(2, 1), (2, 2), (3, 1), (4, 1)] {
        let settings = Settings { points, ..settings.clone() };
        let pool = ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let compute = || {
            let run = PreparedRun::new(&case, &settings).unwrap();
            if threads == 1 { run.all().unwrap() } else { run.all_parallel().unwrap() }
        };
        let milliseconds = pool.install(|| best(rounds, compute));
        let error = worst(&pool.install(compute), &converged);
        let what = format!("pipelore, {points} points, {threads} thread(s), all outputs");
        lines.push(Line { what, milliseconds, error });
    }
    lines.extend(peers(&case, &stations, &converged));
    print(&lines);
    if !quick {
        fleet(&settings);
    }
}

/// Best time of some rounds, ms: what the machine can do when others leave it alone.
fn best<T>(rounds: usize, mut work: impl FnMut() -> T) -> f64 {
    let mut once = || {
        let start = Instant::now();
        black_box(work());
        start.elapsed().as_secs_f64() * 1e3
    };
    (0..rounds).map(|_| once()).fold(f64::INFINITY, f64::min)
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
    let Ok(output) = Command::new(&python).arg(&script).arg(&file).output() else {
        println!("no {python}: peers left out");
        return Vec::new();
    };
    let read = |line: &str| {
        let mut cells = line.rsplitn(3, ';');
        let error = cells.next()?.trim().parse().ok()?;
        let milliseconds = cells.next()?.trim().parse().ok()?;
        Some(Line { what: cells.next()?.to_owned(), milliseconds, error })
    };
    let lines: Vec<Line> =
        String::from_utf8_lossy(&output.stdout).lines().filter_map(read).collect();
    if lines.is_empty() {
        println!("peers left out: {}", String::from_utf8_lossy(&output.stderr).trim());
    }
    lines
}

fn print(lines: &[Line]) {
    let numpy = lines
        .iter()
        .filter(|l| l.what.starts_with("numpy") && l.error <= 1e-6)
        .map(|l| l.milliseconds)
        .fold(f64::INFINITY, f64::min);
    println!("{:<52} {:>10} {:>12} {:>18}", "", "ms", "worst error", "times numpy at 1e-6");
    for line in lines {
        let ratio = numpy / line.milliseconds;
        let ratio = if ratio.is_finite() { format!("{ratio:.1}") } else { "-".to_owned() };
        println!("{:<52} {:>10.2} {:>12.1e} {ratio:>18}", line.what, line.milliseconds, line.error);
    }
}

/// 2,000 runs of everyday size on two threads, each thread a run at a time.
fn fleet(settings: &Settings) {
    use rayon::prelude::*;
    let cases: Vec<RunCase> =
        (0..50).map(|seed| reference_run::run(reference_run::EVERYDAY, seed).0).collect();
    let pool = ThreadPoolBuilder::new().num_threads(2).build().unwrap();
    let start = Instant::now();
    let joints: usize = pool.install(|| {
        (0..2000_usize)
            .into_par_iter()
            .map(|i| PreparedRun::new(&cases[i % 50], settings).unwrap().all().unwrap().len())
            .sum()
    });
    let seconds = start.elapsed().as_secs_f64();
    println!("fleet: 2,000 runs, {joints} joint-runs, two threads: {seconds:.2} s");
}
