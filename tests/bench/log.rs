//! A log of a million rows: segmentation against a plain pass of the CSV reader, and the memory
//! that it takes; and 40,000 rows of WITSML, taken in by the program itself. Run with
//! `cargo bench --bench log`; not run by the tests.

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

/// What the system says of this process.
const OWN: &str = "/proc/self/status";

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

/// The most memory that a process took so far, MiB.
fn peak_mib(status: &str) -> f64 {
    std::fs::read_to_string(status)
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

/// Rows of the document.
const DOCUMENT: u32 = 40_000;

/// A log of WITSML 1.4.1.1 with twelve channels, a row every ten seconds, 60 turns a minute.
fn write_document(path: &Path) {
    let mut out = BufWriter::new(File::create(path).unwrap());
    let channels = "Time,DBTM,DMEA,RPMA,ROPA,WOBA,TQA,HKLA,BPOS,MFIA,SPPA,MDIA";
    let units = ",m,m,rpm,m/h,kN,kN.m,kN,m,L/min,kPa,g/cm3";
    write!(
        out,
        "<logs xmlns=\"http://www.witsml.org/schemas/1series\" version=\"1.4.1.1\"><log uid=\"l\">\
         <nameWell>Made 1</nameWell><nameWellbore>Made 1</nameWellbore><name>time</name>\
         <indexType>date time</indexType><logData><mnemonicList>{channels}</mnemonicList>\
         <unitList>{units}</unitList>"
    )
    .unwrap();
    let start = chrono::DateTime::parse_from_rfc3339("2026-01-05T00:00:00Z").unwrap();
    for i in 0..DOCUMENT {
        let at = (start + chrono::Duration::seconds(i64::from(i) * 10)).to_rfc3339();
        let depth = 500.0 + f64::from(i) * 0.01;
        writeln!(
            out,
            "<data>{at},{depth:.3},{depth:.3},60.000,3.600,88.123,8.456,1100.789,12.345,2000.000,18000.000,\
             1.200</data>"
        )
        .unwrap();
    }
    write!(out, "</logData></log></logs>").unwrap();
}

/// Runs the program; seconds, and the most memory that it was seen to take, MiB.
fn program(dir: &Path, words: &[&str]) -> (f64, f64) {
    let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_pipelore"));
    command.current_dir(dir).args(words).stdout(std::process::Stdio::null());
    let start = Instant::now();
    let mut child = command.spawn().unwrap();
    let mut most = f64::NAN;
    loop {
        most = most.max(peak_mib(&format!("/proc/{}/status", child.id())));
        if let Some(status) = child.try_wait().unwrap() {
            assert!(status.success(), "{words:?}");
            return (start.elapsed().as_secs_f64(), most);
        }
        std::thread::sleep(std::time::Duration::from_millis(2));
    }
}

/// A run whose log is a document, from the file into a book.
fn document() {
    let mut times = Vec::new();
    let mut most = f64::NAN;
    for _ in 0..5 {
        let dir = tempfile::tempdir().unwrap();
        write_document(&dir.path().join("log.xml"));
        let write = |name: &str, text: &str| std::fs::write(dir.path().join(name), text).unwrap();
        write(
            "joints.csv",
            "Serial,Component,New,OD [in],Wall [in],Length [m],Received\nA-1,drill pipe,yes,5,.362,9.5,2025-01-05\n",
        );
        write(
            "tally.csv",
            "serial,component,count,length [m],od [mm],id [mm]\n,drill collar,100,9.5,165.1,71.4\nA-1,,,,,\n",
        );
        write(
            "run.toml",
            "name = \"R1\"\nwell = \"Made 1\"\nstart = 2026-01-05\nend = 2026-01-10\ntally = \"tally.csv\"\nlog = \"log.xml\"\n",
        );
        program(dir.path(), &["new", "--site", "yard", "--clock", "UTC"]);
        program(dir.path(), &["load", "joints.csv"]);
        let (seconds, mib) = program(dir.path(), &["load", "run.toml"]);
        times.push(seconds);
        most = most.max(mib);
    }
    println!("{DOCUMENT} rows of WITSML, `pipelore load`, median of 5");
    println!(
        "{:.0} ms with the process (wanted: under 1,000), at most {most:.1} MiB (under 60)",
        median(times) * 1e3
    );
}

fn main() {
    document();
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("log.csv");
    write_log(&path);
    let mib = std::fs::metadata(&path).unwrap().len() as f64 / (1024.0 * 1024.0);
    let disk = Disk(dir.path().to_owned());
    let lookup = MemoryLookup::default();
    let world = World { files: &disk, lookup: &lookup, progress: &unwatched };
    let before = peak_mib(OWN);
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
    println!("peak memory {:.1} MiB, {before:.1} MiB before the first pass", peak_mib(OWN));
    println!(
        "{} segments; bit within {:.2} m of the log at every turn, instants within {:.1} min",
        log.segments.len(),
        log.error_mm as f64 / 1000.0,
        log.shift_ms as f64 / 60_000.0
    );
    let (turns, hours) = (log.milli_turns as f64 / 1000.0, log.rotating_ms as f64 / 3.6e6);
    println!("{turns} turns, {hours:.3} rotating h");
}
