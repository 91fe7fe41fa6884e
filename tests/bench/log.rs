//! A log of a million rows: segmentation against a plain pass of the CSV reader, and the memory
//! that it takes. Run with `cargo bench --bench log`; not run by the tests.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    missing_docs,
    unreachable_pub,
    reason = "a benchmark prints and may fail loudly"
)]

use std::fs::File;
use std::io::{self, BufWriter, Read, Write};
use std::path::{Path, PathBuf};
use std::time::Instant;

use pipelore::intake::{Diagnostics, Files, LogOptions, MemoryLookup, World, read_log, unwatched};

const ROWS: u32 = 1_000_000;

struct Disk(PathBuf);

impl Files for Disk {
    fn open(&self, name: &str) -> io::Result<Box<dyn Read + '_>> {
        Ok(Box::new(File::open(self.0.join(name))?))
    }
}

/// Twelve days at a second: stands drilled with a changing rate and speed, slides, back-reaming,
/// connections, noise, nulls and a few gaps.
fn write_log(path: &Path) {
    let mut out = BufWriter::new(File::create(path).unwrap());
    let header = "time,bit depth [m],hole depth [m],rpm,ROP [m/h],WOB [kN],torque [kN.m],\
                  hook load [kN],flow [L/min],pressure [bar]";
    writeln!(out, "{header}").unwrap();
    // A small generator of its own: the same file on every machine.
    let mut seed = 0x2545_f491_4f6c_dd1d_u64;
    let mut noise = move || {
        seed ^= seed << 13;
        seed ^= seed >> 7;
        seed ^= seed << 17;
        (seed >> 11) as f64 / (1u64 << 53) as f64 - 0.5
    };
    let start = chrono::DateTime::parse_from_rfc3339("2026-01-05T00:00:00Z").unwrap();
    let (mut hole, mut bit, mut ms) = (1500.0f64, 1500.0f64, 0i64);
    for i in 0..ROWS {
        ms += if i % 70_001 == 70_000 { 600_000 } else { 1_000 };
        let phase = i % 3_600;
        let pace = 12.0 + 8.0 * f64::from(i / 3_600 % 7) + 2.0 * noise();
        let (rpm, wob, rop) = match phase {
            0..2_200 => {
                let speed = 90.0 + f64::from(i / 900 % 5) * 15.0 + noise();
                (speed, 90.0 + 10.0 * noise(), pace)
            }
            2_200..2_600 => (0.0, 60.0 + 5.0 * noise(), pace / 2.0),
            2_600..3_000 => (80.0 + noise(), 0.0, 0.0),
            _ => (0.0, 0.0, 0.0),
        };
        match phase {
            0..2_600 => {
                hole += rop / 3600.0;
                bit = hole;
            }
            2_600..2_800 => bit -= 0.1,
            2_800..3_000 => bit += 0.1,
            3_000..3_100 => bit -= 0.02,
            3_500..3_600 => bit += 0.02,
            _ => {}
        }
        let stamp = (start + chrono::Duration::milliseconds(ms)).format("%Y-%m-%dT%H:%M:%SZ");
        let wob = if i % 997 == 0 { "-999.25".to_owned() } else { format!("{wob:.2}") };
        writeln!(
            out,
            "{stamp},{bit:.3},{hole:.3},{rpm:.2},{rop:.2},{wob},{:.2},{:.1},{:.0},{:.1}",
            8.0 + noise(),
            1100.0 + 20.0 * noise(),
            2000.0 + 20.0 * noise(),
            180.0 + noise()
        )
        .unwrap();
    }
}

fn peak_mib() -> f64 {
    std::fs::read_to_string("/proc/self/status")
        .ok()
        .and_then(|s| {
            let line = s.lines().find(|l| l.starts_with("VmHWM"))?.to_owned();
            line.split_whitespace().nth(1)?.parse::<f64>().ok()
        })
        .map_or(f64::NAN, |kib| kib / 1024.0)
}

fn median(mut times: Vec<f64>) -> f64 {
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}

fn main() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("log.csv");
    write_log(&path);
    let mib = std::fs::metadata(&path).unwrap().len() as f64 / (1024.0 * 1024.0);
    let disk = Disk(dir.path().to_owned());
    let lookup = MemoryLookup::default();
    let world = World { files: &disk, lookup: &lookup, progress: &unwatched };
    let before = peak_mib();
    let (mut plain, mut ours) = (Vec::new(), Vec::new());
    let mut last = None;
    for _ in 0..5 {
        let t = Instant::now();
        let mut reader = csv::ReaderBuilder::new().has_headers(false).from_path(&path).unwrap();
        let mut record = csv::ByteRecord::new();
        let mut rows = 0u32;
        while reader.read_byte_record(&mut record).unwrap() {
            rows += 1;
        }
        assert_eq!(rows, ROWS + 1);
        plain.push(t.elapsed().as_secs_f64());
        let t = Instant::now();
        let mut d = Diagnostics::default();
        last = read_log("log.csv", &LogOptions::default(), &world, &mut d);
        ours.push(t.elapsed().as_secs_f64());
    }
    let (plain, ours, log) = (median(plain), median(ours), last.unwrap());
    let rate = |s: f64| f64::from(ROWS) / s / 1e6;
    println!("{ROWS} rows, {mib:.0} MiB, median of 5");
    println!("plain CSV pass         {:7.1} ms  {:5.2} million rows/s", plain * 1e3, rate(plain));
    println!("segments, with digest  {:7.1} ms  {:5.2} million rows/s", ours * 1e3, rate(ours));
    println!("peak memory {:.1} MiB, {before:.1} MiB before the first pass", peak_mib());
    println!(
        "{} segments; bit within {:.2} m of the log at every turn, instants within {:.1} min",
        log.segments.len(),
        log.error_mm as f64 / 1000.0,
        log.shift_ms as f64 / 60_000.0
    );
    let (turns, hours) = (log.milli_turns as f64 / 1000.0, log.rotating_ms as f64 / 3.6e6);
    println!("{turns} turns, {hours:.3} rotating h");
}
