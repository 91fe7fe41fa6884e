//! Laws of intake: nothing panics, every row is accounted for, no turn is lost.

use std::cell::Cell;
use std::fmt::Write as _;
use std::io::{self, Read};

use pipelore::intake::{
    Diagnostics, Files, JointMatch, Kind, LogOptions, Lookup, MemoryFiles, MemoryLookup, Options,
    Severity, World, read, read_log, unwatched,
};
use pipelore::model::{EntryId, ToldLayout};
use proptest::prelude::*;

use crate::intake::{book, run_of, show_all};
use crate::intake_logs::{chained, sums};

fn soup() -> impl Strategy<Value = Vec<u8>> {
    let header = prop::sample::select(vec![
        "",
        "MD [m],Inc [deg],Azi [deg]\n",
        "Serial,Date,Wall [in],Box OD [in],Findings\n",
        "Serial,Component,OD [in],Wall [in],Grade,Date,Hours\n",
        "Date,Pin,Box,Torque [ft.lbf]\n",
        "Serial,Date,Location\n",
        "Date;Event;Serial\n",
        "time,bit depth [m],hole depth [m],rpm\n",
        "Run,X\nWell,Y\nStart,2025-01-01\nEnd,2025-01-02\n,\nPosition,Component,Length [m]\n",
    ]);
    let cell = prop::sample::select(vec![
        "0",
        "30",
        "-999.25",
        "K1-0001",
        "K1-0002",
        "2025-03-04",
        "drill_pipe",
        "5",
        "0.362",
        "1,5",
        "\"",
        "\"a,b\"",
        "\u{202e}x",
        "",
        "NaN",
        "6 3/32 in",
        "none",
        "jarring",
        "1e309",
        "total",
    ]);
    let row = proptest::collection::vec(cell, 0..8).prop_map(|c| c.join(",") + "\n");
    let rows = proptest::collection::vec(row, 0..20).prop_map(|r| r.concat());
    prop_oneof![
        proptest::collection::vec(any::<u8>(), 0..200),
        (header, rows).prop_map(|(h, r)| (h.to_owned() + &r).into_bytes()),
    ]
}

/// Files that fail once: the opening of this number gives nothing but an error of the disk.
struct FailsOnce {
    files: MemoryFiles,
    left: Cell<i32>,
}

struct BadDisk;

impl Read for BadDisk {
    fn read(&mut self, _: &mut [u8]) -> io::Result<usize> {
        Err(io::Error::other("the disk"))
    }
}

impl Files for FailsOnce {
    fn open(&self, name: &str) -> io::Result<Box<dyn Read + '_>> {
        self.left.set(self.left.get() - 1);
        if self.left.get() == 0 { Ok(Box::new(BadDisk)) } else { self.files.open(name) }
    }
}

/// A book that knows layouts.
struct Taught {
    book: MemoryLookup,
    layouts: Vec<ToldLayout>,
}

impl Lookup for Taught {
    fn joints(&self, key: &str) -> Vec<JointMatch> {
        self.book.joints(key)
    }

    fn runs(&self, name: &str) -> Vec<EntryId> {
        self.book.runs(name)
    }

    fn has_entry(&self, entry: &EntryId) -> bool {
        self.book.has_entry(entry)
    }

    fn layouts(&self) -> &[ToldLayout] {
        &self.layouts
    }
}

/// A file is read several times: what it is is told first. Whichever of them fails, it is refused, or
/// read as if none had.
#[test]
fn a_disk_that_fails_once_has_no_file_read_otherwise() {
    let text = "Serial,Component,New,Dia,Received\nL-3,drill pipe,yes,127,2024-01-05\n";
    let files = MemoryFiles::default().with("f.csv", text);
    let read_by = |files: &dyn Files, options: &Options, lookup: &dyn Lookup| {
        read("f.csv", options, &World { files, lookup, progress: &unwatched })
    };
    let said = Options { columns: Some("Dia = od [mm]".parse().unwrap()), ..Options::default() };
    let mut taught = read_by(&files, &said, &book());
    assert!(!taught.is_refused(), "{}", show_all(&taught.diagnostics));
    let told_by = "yard-9".parse().unwrap();
    let body = taught.learned.pop().unwrap();
    let told = ToldLayout { body, told_by, author: "t".to_owned() };
    let book = Taught { book: book(), layouts: vec![told] };
    // The layout says the same as the one who loads, and is not learned again.
    let sound = read_by(&files, &said, &book);
    assert!(!sound.is_refused() && sound.learned.is_empty(), "{sound:?}");
    let read_by = |files: &dyn Files| read_by(files, &said, &book);
    let mut refused = 0;
    for at in 1..8 {
        let out = read_by(&FailsOnce { files: files.clone(), left: Cell::new(at) });
        if out.is_refused() {
            refused += 1;
        } else {
            assert_eq!(out.drafts, sound.drafts, "opening {at}");
            assert_eq!(out.learned, sound.learned, "opening {at}");
            assert_eq!(out.notes, sound.notes, "opening {at}");
        }
    }
    assert!(refused >= 2, "{refused}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    /// Whatever the bytes, nothing panics, and every data row is in a draft, refused or skipped.
    #[test]
    fn every_row_is_accounted_for(bytes in soup(), kind in 0usize..=Kind::ALL.len(), name in prop::sample::select(vec!["f.csv", "f.toml"])) {
        let files = MemoryFiles::default().with(name, bytes);
        let book = book();
        let options = Options { kind: Kind::ALL.get(kind).copied(), ..Options::default() };
        let world = World { files: &files, lookup: &book, progress: &unwatched };
        let out = read(name, &options, &world);
        let _ = show_all(&out.diagnostics);
        if !out.is_refused() {
            prop_assert_eq!(out.rows.refused, 0, "{:?}", out);
            prop_assert!(!out.drafts.is_empty());
        }
        if out.rows.refused > 0 {
            prop_assert!(out.is_refused());
        }
        let mut d = Diagnostics::default();
        let _ = read_log(name, &LogOptions::default(), &world, &mut d);
        let _ = run_of(name, Some(name), &files, &book);
    }

    /// Counted by the test: the lines below the header are the rows used, refused and skipped, and
    /// a refused row has an error with its number.
    #[test]
    fn no_row_gets_lost(
        header in prop::sample::select(vec![
            "Serial,Date,Wall [in],Box OD [in]",
            "Serial,Date,Location,String",
            "Serial,Date,Work,End",
            "Date,Event,Serial,Pull [klbf]",
            "Date,Serial,Note,x",
            "Serial,Date,Until,Reason",
        ]),
        rows in proptest::collection::vec(
            proptest::collection::vec(
                prop::sample::select(vec![
                    "K1-0001", "K1-0002", "K9", "2025-03-04", "0.33", "9", "dress", "pin", "jarring",
                    "yard", "", "total", "-999.25", "x",
                ]),
                3..6,
            ),
            1..40,
        ),
    ) {
        let mut text = header.to_owned() + "\n";
        let mut lines = 0u64;
        for row in &rows {
            text += &(row.join(",") + "\n");
            lines += u64::from(row.iter().any(|c| !c.is_empty()));
        }
        let files = MemoryFiles::default().with("f.csv", text);
        let book = book();
        let world = World { files: &files, lookup: &book, progress: &unwatched };
        let out = read("f.csv", &Options::default(), &world);
        let d = &out.diagnostics;
        prop_assert!(out.kind.is_some(), "{}", show_all(d));
        let all = [out.rows.used, out.rows.refused, out.rows.skipped, out.rows.not_looked_at];
        prop_assert_eq!(all.iter().sum::<u64>(), lines);
        let named: std::collections::BTreeSet<u64> = d
            .list()
            .iter()
            .filter(|d| d.severity == Severity::Error)
            .filter_map(|d| d.row)
            .collect();
        if d.errors() <= 100 {
            prop_assert_eq!(named.len() as u64, out.rows.refused, "{}", show_all(d));
        }
    }

    /// Turns and hours of the segments are those of the rows, whatever the log and the cut.
    #[test]
    fn segmentation_keeps_the_sums(
        rows in proptest::collection::vec((1u32..50, 0u32..400_000, 0i32..2_000, any::<bool>()), 2..300),
        most in 1usize..60,
    ) {
        let mut text = String::from("elapsed [s],bit depth [m],hole depth [m],rpm\n");
        let (mut s, mut turns, mut rotating, mut total) = (0u64, 0u128, 0u64, 0u64);
        for (i, (dt, mrpm, cm, off)) in rows.iter().enumerate() {
            s += u64::from(*dt);
            let bit = 500.0 + f64::from(*cm) / 100.0;
            let hole = if *off { 600.0 } else { bit };
            writeln!(text, "{s},{bit},{hole},{}.{:03}", mrpm / 1000, mrpm % 1000).unwrap();
            if i > 0 {
                total += u64::from(*dt);
                if *mrpm >= 1000 {
                    turns += u128::from(*mrpm) * u128::from(*dt);
                    rotating += u64::from(*dt);
                }
            }
        }
        let files = MemoryFiles::default().with("l.csv", text);
        let book = book();
        let world = World { files: &files, lookup: &book, progress: &unwatched };
        let mut options = LogOptions::default();
        options.rules.max_segments = most;
        let mut d = Diagnostics::default();
        let l = read_log("l.csv", &options, &world, &mut d);
        let l = l.unwrap_or_else(|| panic!("{}", show_all(&d)));
        prop_assert!(l.segments.len() <= most.max(4));
        prop_assert_eq!(u64::try_from(l.milli_turns).unwrap(), u64::try_from((turns + 30) / 60).unwrap());
        let (milli, rotating_ms, all_ms) = sums(&l);
        prop_assert_eq!(milli, l.milli_turns);
        prop_assert_eq!(u64::try_from(rotating_ms).unwrap(), rotating * 1000);
        prop_assert_eq!(u64::try_from(all_ms).unwrap(), total * 1000);
        prop_assert!(chained(&l));
        prop_assert!(l.segments.iter().all(|s| s.bit_from_mm >= 0 && s.bit_to_mm >= 0));
    }
}
