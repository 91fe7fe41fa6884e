//! Files into entries: every oddity that a reader can meet, in short files of our own, with what
//! must come of it.

use std::fs::File;
use std::io::{self, Read};
use std::path::PathBuf;

use pipelore::intake::{
    DateOrder, Decimal, Diagnostics, Files, JointMatch, Kind, LogOptions, LogRead, MemoryFiles,
    MemoryLookup, Options, Outcome, Severity, World, read, read_log, read_operations, read_tally,
    settle, show_all, unwatched,
};
use pipelore::model::{
    Activity, Body, Component, End, EntryId, Moment, Reading, ReadingKind, RunGrade, Stated,
};
use proptest::prelude::*;

/// Files of the corpus.
struct Corpus;

impl Files for Corpus {
    fn open(&self, name: &str) -> io::Result<Box<dyn Read + '_>> {
        let dir = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/corpus/intake");
        Ok(Box::new(File::open(dir.join(name))?))
    }
}

fn joint(serial: &str, number: u64, since: &str) -> JointMatch {
    JointMatch {
        joint: format!("{serial}@yard-{number}").parse().unwrap(),
        component: Component::DrillPipe,
        since: since.parse().unwrap(),
        until: None,
        made: Some("2019-11-20".parse().unwrap()),
    }
}

/// A book with four joints and a run.
fn book() -> MemoryLookup {
    let mut lookup = MemoryLookup::default();
    for n in 1..=4 {
        lookup = lookup.with(joint(&format!("K1-000{n}"), n, "2024-01-10"));
    }
    lookup.runs.insert("K1-R1".into(), vec!["yard-50".parse().unwrap()]);
    lookup
}

fn load_with(name: &str, lookup: &MemoryLookup, change: impl FnOnce(&mut Options)) -> Outcome {
    let mut options = Options::default();
    change(&mut options);
    read(name, &options, &World { files: &Corpus, lookup, progress: &unwatched })
}

fn load(name: &str, change: impl FnOnce(&mut Options)) -> Outcome {
    load_with(name, &book(), change)
}

fn given(options: &mut Options, pairs: &[(&str, &str)]) {
    for (k, v) in pairs {
        options.given.insert((*k).to_owned(), (*v).to_owned());
    }
}

/// What is expected of a file: rows and words of its errors and warnings, drafts.
struct Case {
    file: &'static str,
    given: &'static [(&'static str, &'static str)],
    columns: Option<&'static str>,
    kind: &'static str,
    drafts: usize,
    /// Row (0: none), column number (0: none), words.
    errors: &'static [(u64, usize, &'static str)],
    warnings: &'static [(u64, usize, &'static str)],
    notes: &'static [&'static str],
}

const NONE: Case = Case {
    file: "",
    given: &[],
    columns: None,
    kind: "",
    drafts: 1,
    errors: &[],
    warnings: &[],
    notes: &[],
};

const WELL: &[(&str, &str)] = &[("well", "Larkfield 1H"), ("date", "2025-03-04")];

const CASES: &[Case] = &[
    Case {
        file: "survey_titles.csv",
        kind: "survey",
        notes: &["above the header", "below the data, or the header again"],
        ..NONE
    },
    Case {
        file: "survey_order.csv",
        given: WELL,
        kind: "survey",
        errors: &[
            (4, 1, "30 m is the depth of row 3 again"),
            (6, 1, "depth goes back from 60 m (row 5) to 45 m"),
        ],
        ..NONE
    },
    Case {
        file: "survey_nulls.csv",
        given: WELL,
        kind: "survey",
        errors: &[
            (3, 2, "the station has no inc"),
            (4, 3, "the station has no azi"),
            (6, 2, "999.25 stands for no value"),
            (7, 3, "the station has no azi"),
        ],
        ..NONE
    },
    Case {
        file: "survey_bom.csv",
        given: WELL,
        kind: "survey",
        notes: &["byte-order mark", "semicolon"],
        ..NONE
    },
    Case {
        file: "survey_latin1.csv",
        given: WELL,
        kind: "survey",
        notes: &["read as Latin-1", "columns not used: Tiefe, Bemerkung"],
        ..NONE
    },
    Case {
        file: "survey_utf16.tsv",
        given: WELL,
        kind: "survey",
        notes: &["UTF-16", "tab"],
        ..NONE
    },
    Case {
        file: "survey_comma.csv",
        given: WELL,
        kind: "survey",
        notes: &["decimal comma"],
        ..NONE
    },
    Case {
        file: "survey_unclear.tsv",
        given: WELL,
        kind: "survey",
        drafts: 0,
        errors: &[(0, 0, "'1,000' may be a decimal number or have a comma between thousands")],
        ..NONE
    },
    Case {
        file: "survey_no_units.csv",
        given: WELL,
        kind: "survey",
        drafts: 0,
        errors: &[
            (2, 1, "the unit of 'MD' is not stated"),
            (2, 2, "the unit of 'Inclination' is not stated"),
            (2, 3, "the unit of 'Azimuth' is not stated"),
        ],
        ..NONE
    },
    Case {
        file: "survey_no_units.csv",
        given: WELL,
        columns: Some("MD = md [m], Inclination = inc [deg], #3 = azi [deg]"),
        kind: "survey",
        ..NONE
    },
    Case {
        file: "survey_ragged.csv",
        given: WELL,
        kind: "survey",
        errors: &[
            (3, 0, "the row has 2 cells and the header 3"),
            (4, 0, "the row has 4 cells and the header 3"),
            (6, 3, "the station has no azi"),
        ],
        ..NONE
    },
    Case {
        file: "survey_angles.csv",
        given: WELL,
        kind: "survey",
        errors: &[
            (3, 2, "181 deg is no inclination"),
            (4, 2, "-1 deg is no inclination"),
            (5, 3, "400 deg is no azimuth"),
            (6, 2, "'x' is not a number"),
        ],
        ..NONE
    },
    Case {
        file: "survey_blanks.txt",
        given: WELL,
        columns: Some("md [m], inc [deg], azi [deg], tvd [m]"),
        kind: "survey",
        notes: &["runs of blanks", "above the header"],
        ..NONE
    },
    Case {
        file: "survey_blanks.txt",
        given: WELL,
        kind: "",
        drafts: 0,
        errors: &[(0, 0, "no header row")],
        ..NONE
    },
    Case {
        file: "survey_mixed.csv",
        given: WELL,
        kind: "survey",
        errors: &[(3, 1, "98.43 ft is not in the unit of the survey")],
        ..NONE
    },
    Case {
        file: "survey_bom.csv",
        kind: "survey",
        drafts: 0,
        errors: &[(0, 0, "there is no well column"), (0, 0, "there is no date column")],
        ..NONE
    },
    Case {
        file: "joints_bad.csv",
        kind: "joint",
        drafts: 1,
        errors: &[
            (2, 4, "the inside diameter is not under the outside diameter"),
            (3, 5, "the wall is more than half of the outside diameter"),
            (4, 1, "A1 is the serial of row 2 too"),
            (5, 2, "did you mean drill_pipe?"),
            (6, 8, "it was made on 2024-03-01, after it entered the book on 2024-02-01"),
            (7, 10, "-10 h is no number of hours that a joint can have run"),
            (8, 3, "500 in is no diameter of a drill string part"),
            (9, 1, "no serial is given"),
            (10, 3, "'psi' measures a pressure or stress, not a length"),
            (11, 3, "'five' is not a number"),
            (12, 8, "'01/02/2024' does not say which number is the day"),
        ],
        warnings: &[(13, 7, "28.50 m is an unusual length for one joint of drill pipe")],
        ..NONE
    },
    Case { file: "inspection_wide.csv", kind: "inspection", drafts: 3, ..NONE },
    Case { file: "inspection_long.csv", kind: "inspection", drafts: 2, ..NONE },
    Case {
        file: "inspection_bad.csv",
        kind: "inspection",
        drafts: 1,
        errors: &[
            (3, 0, "wall of K1-0001 was read twice that day: 0.35 in in row 2 and 0.33 in"),
            (4, 1, "K1-9999 is no joint of the book"),
            (5, 4, "shoulder is a reading of one end, and the row names none"),
            (6, 3, "12 in is not possible for this reading"),
            (7, 1, "K1-0004 was made on 2019-11-20, after 2015-07-01"),
            (8, 5, "'best' is not a class"),
            (9, 2, "no date is given"),
        ],
        ..NONE
    },
    Case {
        file: "repairs.csv",
        kind: "repair",
        drafts: 2,
        errors: &[(4, 4, "no end is given")],
        ..NONE
    },
    Case {
        file: "makeups.csv",
        kind: "makeup",
        drafts: 4,
        errors: &[
            (6, 3, "the pin and the box are of one joint"),
            (7, 0, "the row names neither a pin nor a box"),
            (8, 8, "no run of the book is named 'K1-R9'"),
        ],
        ..NONE
    },
    Case { file: "moves.csv", kind: "move", drafts: 2, errors: &[(5, 0, "nothing moves")], ..NONE },
    Case {
        file: "gaps.csv",
        kind: "gap",
        drafts: 1,
        errors: &[(3, 3, "the gap ends on 2024-02-01, before it begins on 2024-05-01")],
        ..NONE
    },
    Case { file: "hire_out.csv", kind: "hire_out", drafts: 1, ..NONE },
    Case { file: "hire_in.csv", kind: "hire_in", drafts: 1, ..NONE },
    Case {
        file: "events.csv",
        kind: "event",
        drafts: 3,
        errors: &[(5, 0, "the event names neither joints nor a run")],
        ..NONE
    },
    Case {
        file: "failures.csv",
        kind: "failure",
        drafts: 1,
        errors: &[(3, 3, "'exploded' is not a kind of failure")],
        ..NONE
    },
    Case {
        file: "instruments.csv",
        kind: "instrument",
        drafts: 2,
        errors: &[(4, 5, "the unit of 'Tolerance' is not stated")],
        ..NONE
    },
    Case {
        file: "checks.csv",
        kind: "check",
        drafts: 2,
        errors: &[(4, 7, "the check is good until 2024-07-01, before it was made on 2025-01-01")],
        ..NONE
    },
    Case {
        file: "decisions.csv",
        kind: "decision",
        drafts: 2,
        errors: &[(4, 5, "no reason is given"), (4, 3, "'promote' is no decision")],
        ..NONE
    },
    Case { file: "notes.csv", kind: "note", drafts: 2, ..NONE },
    Case {
        file: "identities.csv",
        kind: "identity",
        drafts: 3,
        errors: &[(5, 5, "both serials are one joint already")],
        ..NONE
    },
    Case {
        file: "openings.csv",
        kind: "opening",
        drafts: 2,
        errors: &[(4, 0, "the row states no opening figure")],
        ..NONE
    },
    Case { file: "unknown.csv", kind: "", drafts: 0, errors: &[(0, 0, "no header row")], ..NONE },
    Case {
        file: "log_clean.csv",
        kind: "log",
        drafts: 0,
        errors: &[(0, 0, "a file of kind log belongs to a run")],
        ..NONE
    },
    Case {
        file: "run_bad.toml",
        kind: "run",
        drafts: 0,
        errors: &[
            (2, 0, "'wel' is nothing that a run states"),
            (10, 0, "'gap=3' is no setting of a cut"),
            (0, 0, "there is no well column"),
            (4, 0, "the run ends on 2025-03-01, before it begins on 2025-03-04"),
            (1, 0, "the book has a run 'K1-R1' already: yard-50"),
            (7, 0, "the unit of 'mud_weight' is not stated"),
            (9, 0, "'salty' is not a environment"),
            (8, 0, "'psi' measures a pressure or stress, not a length"),
        ],
        ..NONE
    },
    Case { file: "run.toml", kind: "run", warnings: &[], ..NONE },
    Case { file: "run_block.csv", kind: "run", ..NONE },
    Case { file: "run_operations.toml", kind: "run", ..NONE },
];

fn miss(case: &Case, out: &Outcome) -> Vec<String> {
    let mut wrong = Vec::new();
    let kind = out.kind.map_or("", Kind::word);
    if kind != case.kind {
        wrong.push(format!("kind is '{kind}'"));
    }
    if out.drafts.len() != case.drafts {
        wrong.push(format!("{} drafts, not {}", out.drafts.len(), case.drafts));
    }
    for (severity, expected) in [(Severity::Error, case.errors), (Severity::Warning, case.warnings)]
    {
        let found: Vec<_> =
            out.diagnostics.list().iter().filter(|d| d.severity == severity).collect();
        let mut left = found.clone();
        for (row, column, words) in expected {
            let at = left.iter().position(|d| {
                d.message.contains(words)
                    && d.row.unwrap_or(0) == *row
                    && d.column.as_ref().map_or(0, |c| c.number) == *column
            });
            match at {
                Some(at) => drop(left.remove(at)),
                None => wrong.push(format!("no {severity} at row {row} column {column}: {words}")),
            }
        }
        // Warnings that a case does not list are free, errors are not.
        if severity == Severity::Error {
            wrong.extend(
                left.iter()
                    .map(|d| format!("unexpected: {} at {:?} {:?}", d.message, d.row, d.column)),
            );
            wrong.extend(
                found
                    .iter()
                    .filter(|d| d.help.as_deref() == Some(""))
                    .map(|d| format!("empty help: {}", d.message)),
            );
        }
    }
    for note in case.notes {
        if !out.notes.iter().any(|n| n.contains(note)) {
            wrong.push(format!("no note: {note}; notes are {:?}", out.notes));
        }
    }
    wrong
}

#[test]
fn every_oddity_has_its_expected_outcome() {
    let mut misses = String::new();
    for case in CASES {
        let out = load(case.file, |o| {
            given(o, case.given);
            o.columns = case.columns.map(|c| c.parse().unwrap());
            if case.columns.is_some() {
                o.kind = Some(Kind::Survey);
            }
        });
        let wrong = miss(case, &out);
        if !wrong.is_empty() {
            misses += &format!(
                "{}:\n  {}\n{}\n",
                case.file,
                wrong.join("\n  "),
                show_all(&out.diagnostics)
            );
        }
    }
    assert!(misses.is_empty(), "{misses}");
}

#[test]
fn every_file_of_the_corpus_is_used() {
    let dir = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/corpus/intake");
    let this = include_str!("intake.rs");
    for entry in std::fs::read_dir(dir).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        let named_by_run =
            ["tally.csv", "log_reversed.csv", "operations.csv"].contains(&name.as_str());
        assert!(named_by_run || this.contains(&format!("\"{name}\"")), "{name} is in no test");
    }
}

#[test]
fn certificates_become_joints_and_opening_balances() {
    let lookup = MemoryLookup::default();
    let mut out = load_with("joints.csv", &lookup, |_| {});
    assert!(!out.is_refused(), "{}", show_all(&out.diagnostics));
    let kinds: Vec<&str> = out.drafts.iter().map(|d| d.body.kind()).collect();
    assert_eq!(kinds, ["joint", "joint", "joint", "opening", "joint", "opening"]);
    let Body::Joint(k3) = &out.drafts[2].body else { panic!() };
    assert_eq!(k3.serial.as_str(), "K1-0003");
    assert_eq!(k3.od.as_ref().unwrap().as_str(), "127 mm");
    assert_eq!(k3.tj_od.as_ref().unwrap().as_str(), "6 1/2 in");
    assert_eq!(k3.wall.as_ref().unwrap().as_str(), "9.19 mm");
    assert!(!k3.new);
    let Body::Joint(k1) = &out.drafts[0].body else { panic!() };
    assert!(k1.new);
    assert_eq!(k1.weight.as_ref().unwrap().as_str(), "19.50 lb/ft");
    assert_eq!(k1.tj_od.as_ref().unwrap().as_str(), "6 5/8 in");
    assert_eq!(out.drafts[0].effective.to_string(), "2024-01-10");
    let evidence = out.drafts[0].evidence.as_ref().unwrap();
    assert_eq!((evidence.file.as_str(), evidence.place.as_deref()), ("joints.csv", Some("row 3")));
    assert_eq!(evidence.sha256, out.sha256);
    assert_eq!(out.sha256.len(), 64);

    let name = |i: usize| -> EntryId { format!("yard-{}", i + 10).parse().unwrap() };
    settle(&mut out.drafts, name);
    let Body::Opening(o) = &out.drafts[3].body else { panic!() };
    assert_eq!(o.joint.to_string(), "K1-0003@yard-12");
    assert!(matches!(&o.hours, Some(Stated::Estimated(q)) if q.as_str() == "2100 h"));
    assert!(matches!(&o.revolutions, Some(Stated::Known(q)) if q.as_str() == "18500000"));
    let Body::Opening(o) = &out.drafts[5].body else { panic!() };
    assert_eq!(o.joint.to_string(), "K1-0004@yard-14");
    assert!(matches!(&o.hours, Some(Stated::Estimated(_))));
    assert_eq!(o.revolutions, None);
}

#[test]
fn a_serial_of_the_book_comes_in_again_only_as_a_kept_conflict() {
    let out = load("joints.csv", |_| {});
    assert!(out.is_refused());
    assert!(show_all(&out.diagnostics).contains("the book has a joint K1-0001 already"));
    let out = load("joints.csv", |o| o.keep_conflicts = true);
    assert!(!out.is_refused());
    assert_eq!(out.diagnostics.warnings(), 4);
}

fn find<'a>(readings: &'a [Reading], what: ReadingKind, end: Option<End>) -> &'a str {
    readings.iter().find(|r| r.what == what && r.end == end).map_or("", |r| r.value.as_str())
}

#[test]
fn inspections_hold_readings_and_findings_per_end() {
    let out = load("inspection_wide.csv", |_| {});
    assert!(!out.is_refused(), "{}", show_all(&out.diagnostics));
    let bodies: Vec<_> = out
        .drafts
        .iter()
        .map(|d| match &d.body {
            Body::Inspection(b) => b,
            other => panic!("{}", other.kind()),
        })
        .collect();
    assert_eq!(bodies[0].methods.len(), 2);
    assert_eq!(bodies[0].inspector.as_deref(), Some("an invented hand"));
    assert_eq!(find(&bodies[0].readings, ReadingKind::Wall, None), "0.341 in");
    assert_eq!(find(&bodies[1].readings, ReadingKind::Wall, None), "88 %");
    assert_eq!(find(&bodies[0].readings, ReadingKind::JointOd, Some(End::Pin)), "6 9/16 in");
    assert_eq!(find(&bodies[2].readings, ReadingKind::JointOd, Some(End::Box)), "165.9 mm");
    assert_eq!(find(&bodies[1].readings, ReadingKind::Shoulder, Some(End::Box)), "11/32 in");
    assert_eq!(find(&bodies[1].readings, ReadingKind::TongSpace, Some(End::Pin)), "5 7/8 in");
    assert!(bodies[0].findings.is_empty());
    let found: Vec<_> = bodies[1].findings.iter().map(|f| (f.what.as_str(), f.end)).collect();
    assert_eq!(
        found,
        [
            ("slip_cut_transverse", None),
            ("galled", Some(End::Pin)),
            ("nick_on_seal", Some(End::Pin))
        ]
    );
    let long = load("inspection_long.csv", |_| {});
    assert!(!long.is_refused(), "{}", show_all(&long.diagnostics));
    let Body::Inspection(b) = &long.drafts[0].body else { panic!() };
    assert_eq!((b.readings.len(), b.findings.len()), (3, 1));
    assert_eq!(b.readings[1].at.as_ref().unwrap().as_str(), "9.0 m");
    assert_eq!(b.findings[0].size.as_ref().unwrap().as_str(), "0.6 mm");
    assert_eq!(b.findings[0].transverse, Some(true));
    assert_eq!(long.drafts[0].evidence.as_ref().unwrap().place.as_deref(), Some("rows 2 to 5"));
}

#[test]
fn joints_of_one_fact_share_an_entry() {
    let out = load("moves.csv", |_| {});
    let Body::Move(first) = &out.drafts[0].body else { panic!() };
    assert_eq!(first.joints.len(), 2);
    let Body::Move(second) = &out.drafts[1].body else { panic!() };
    assert_eq!(second.string.as_deref(), Some("-"));
    assert_eq!(out.rows.used, 3);
    assert_eq!(out.rows.refused, 1);
}

#[test]
fn a_header_that_fits_two_kinds_names_both() {
    let out = load("ambiguous.csv", |_| {});
    let text = show_all(&out.diagnostics);
    assert!(out.kind.is_none() && text.contains("fits") && text.contains("--as"), "{text}");
    let out = load("ambiguous.csv", |o| o.kind = Some(Kind::Moves));
    assert!(!out.is_refused());
}

#[test]
fn a_serial_that_means_two_joints_asks_which() {
    let twice = book().with(joint("K1-0001", 99, "2024-06-01"));
    let out = load_with("hire_in.csv", &twice, |_| {});
    let text = show_all(&out.diagnostics);
    assert!(text.contains("K1-0001 means 2 joints") && text.contains("K1-0001@yard-"), "{text}");
    // What the serial meant at the time may decide.
    let mut early = joint("K1-0001", 1, "2024-01-10");
    early.until = Some("2024-05-01".parse().unwrap());
    let mut later = MemoryLookup::default().with(early);
    later = later.with(joint("K1-0001", 99, "2024-06-01"));
    let out = load_with("hire_in.csv", &later, |_| {});
    let Body::HireIn(b) = &out.drafts[0].body else { panic!() };
    assert_eq!(b.joints[0].to_string(), "K1-0001@yard-99");
}

#[test]
fn diagnostics_show_the_cell() {
    let out = load("joints_bad.csv", |_| {});
    let text = show_all(&out.diagnostics);
    assert!(text.contains("joints_bad.csv, row 8, column 3 \"OD [in]\""), "{text}");
    assert!(text.contains("  8 | A6 | drill_pipe | 500 |"), "{text}");
    assert!(text.contains("    |                   ^^^\n"), "{text}");
}

#[test]
fn binary_files_say_what_they_are() {
    let book = book();
    for (name, bytes, words) in [
        ("a.csv", &b"PK\x03\x04\x14\0\0\0xl/workbook.xml"[..], "a workbook (XLSX)"),
        ("b.csv", b"PAR1\x15\x04", "a Parquet file"),
        ("c.csv", b"md,inc\n1,\0\n", "byte 10 is NUL"),
        ("d.csv", b"", "the file is empty"),
    ] {
        let files = MemoryFiles::default().with(name, bytes);
        let out = read(
            name,
            &Options::default(),
            &World { files: &files, lookup: &book, progress: &unwatched },
        );
        let text = show_all(&out.diagnostics);
        assert!(out.is_refused() && text.contains(words), "{name}: {text}");
    }
    let files = MemoryFiles::default();
    let out = read(
        "x.csv",
        &Options::default(),
        &World { files: &files, lookup: &book, progress: &unwatched },
    );
    assert!(show_all(&out.diagnostics).contains("there is no such file"));
}

#[test]
fn dates_and_decimals_may_be_stated() {
    let files = MemoryFiles::default()
        .with("m.csv", "Serial;Date;Wall [mm];Method\nK1-0001;03/04/2025;8,123;ut\n");
    let book = book();
    let world = World { files: &files, lookup: &book, progress: &unwatched };
    let mut options = Options::default();
    assert!(read("m.csv", &options, &world).is_refused());
    options.decimal = Some(Decimal::Comma);
    options.clock.order = Some(DateOrder::DayFirst);
    let out = read("m.csv", &options, &world);
    assert!(!out.is_refused(), "{}", show_all(&out.diagnostics));
    assert_eq!(out.drafts[0].effective, "2025-04-03".parse::<Moment>().unwrap());
    options.given.insert("inspektor".into(), "x".into());
    assert!(
        show_all(&read("m.csv", &options, &world).diagnostics).contains("did you mean inspector?")
    );
}

// ------------------------------------------------------------------ logs

fn log(name: &str, change: impl FnOnce(&mut LogOptions)) -> (Option<LogRead>, Diagnostics) {
    let book = book();
    let mut options = LogOptions::default();
    change(&mut options);
    let mut d = Diagnostics::default();
    let world = World { files: &Corpus, lookup: &book, progress: &unwatched };
    let read = read_log(name, &options, &world, &mut d);
    (read, d)
}

fn whole_log(name: &str) -> LogRead {
    let (read, d) = log(name, |_| {});
    read.unwrap_or_else(|| panic!("{name}:\n{}", show_all(&d)))
}

fn sums(l: &LogRead) -> (i64, i64, i64) {
    let rotating = |a| !matches!(a, Activity::Sliding | Activity::NotRotating);
    (
        l.segments.iter().map(|s| s.milli_turns).sum(),
        l.segments.iter().filter(|s| rotating(s.activity)).map(|s| s.duration_ms).sum(),
        l.segments.iter().map(|s| s.duration_ms).sum(),
    )
}

fn chained(l: &LogRead) -> bool {
    l.segments.windows(2).all(|w| {
        w[0].bit_to_mm == w[1].bit_from_mm && w[0].start_ms + w[0].duration_ms == w[1].start_ms
    })
}

#[test]
fn a_clean_log_becomes_a_handful_of_segments() {
    let l = whole_log("log_clean.csv");
    let acts: Vec<_> = l.segments.iter().map(|s| s.activity).collect();
    use Activity::{
        NotRotating, ReamingDown, ReamingUp, RotatingOffBottom, RotatingOnBottom, Sliding,
    };
    assert_eq!(
        acts,
        [
            RotatingOnBottom,
            Sliding,
            ReamingUp,
            ReamingDown,
            ReamingUp,
            RotatingOffBottom,
            NotRotating
        ],
        "{:#?}",
        l.segments
    );
    // 360 s at 60 rpm, 240 s at 90 rpm, 240 s at 30 rpm
    assert_eq!(sums(&l), (840_000, 840_000, 1_020_000));
    assert_eq!((l.milli_turns, l.rotating_ms), (840_000, 840_000));
    assert!(chained(&l));
    assert_eq!(l.segments[0].wob_n, Some(80_000));
    assert_eq!(l.segments[2].bit_to_mm, 490_040);
    assert!(l.error_mm <= 500);
    assert_eq!(l.source.rows, 103);
    assert!(l.source.left_out.is_empty(), "{:?}", l.source.left_out);
}

/// The same hour in revolutions a second, in feet and minutes, in days and clock times.
#[test]
fn units_and_clocks_do_not_change_a_log() {
    let clean = whole_log("log_clean.csv");
    let rps = whole_log("log_rps.csv");
    assert_eq!(sums(&rps), sums(&clean));
    assert_eq!(rps.segments[0].wob_n, Some(80_000));
    let elapsed = whole_log("log_elapsed.csv");
    assert_eq!(sums(&elapsed), sums(&clean));
    assert_eq!(elapsed.segments[2].bit_to_mm, 490_040);
    assert_eq!(elapsed.first_ms, None);
    let day = whole_log("log_day_time.csv");
    assert_eq!(day.first_ms, clean.first_ms);
    assert_eq!(sums(&day).0, 360_000);
}

#[test]
fn a_log_that_runs_backwards_is_refused() {
    let (read, d) = log("log_reversed.csv", |_| {});
    assert!(read.is_none());
    let text = show_all(&d);
    assert!(text.contains("the log runs from its end to its beginning"), "{text}");
    assert!(text.contains("oldest row first"), "{text}");
}

#[test]
fn a_dirty_log_counts_what_it_leaves_out() {
    let (read, d) = log("log_dirty.csv", |_| {});
    let l = read.unwrap_or_else(|| panic!("{}", show_all(&d)));
    let left = l.source.left_out.join("\n");
    for words in [
        "2 rows have too few cells (first: row 20)",
        "1 row have no readable time or depth (first: row 21)",
        "1 row have no bit depth (first: row 12)",
        "2 rows have no rotary speed (first: row 13)",
        "1 row repeat the time or depth of the row before (first: row 9)",
        "1 row go back in time (first: row 11)",
        "2 rows have a bit depth that no pipe can have moved to (first: row 4)",
        "1 row have a rotary speed above 500 rpm (first: row 16)",
        "1 row have a value stuck at the 16-bit ceiling, which is dropped (first: row 8)",
        "1 rows rotate with the bit above the rotary table",
        "1 gaps of 1.10 h in all",
    ] {
        assert!(left.contains(words), "no '{words}' in:\n{left}");
    }
    // 4000 to 4010, 4020, 4030, then 4070 for the rows without depth or speed, 4090, 4110; the
    // flag that says rotating at 4130 does not count, the speed does.
    assert_eq!(sums(&l).0, 110_000);
    assert_eq!(sums(&l).1, 110_000);
    assert!(chained(&l));
    assert!(l.segments.iter().all(|s| s.torque_nm.is_none_or(|t| t <= 9000)));
    let drilled: i64 = l
        .segments
        .iter()
        .filter(|s| s.activity == Activity::RotatingOnBottom)
        .map(|s| s.bit_to_mm - s.bit_from_mm)
        .sum();
    // the first 0.1 m after the gap was off bottom: no hole had grown yet
    assert_eq!(drilled, 1_100);
}

#[test]
fn rows_outside_the_run_belong_to_others() {
    let at = |t: &str| t.parse::<Moment>().unwrap().start(0).0;
    let (read, _) = log("log_clean.csv", |o| {
        o.run = Some(at("2025-03-04T06:01:00Z")..=at("2025-03-04T06:03:00Z"));
    });
    let l = read.unwrap();
    assert_eq!(sums(&l), (120_000, 120_000, 120_000));
    assert_eq!(l.segments[0].start_ms, 0);
    assert!(l.source.left_out[0].contains("lie outside the run"));
    let (read, d) = log("log_clean.csv", |o| o.run = Some(0..=1));
    assert!(read.is_none() && show_all(&d).contains("of 103 rows 0 can be used"));
}

#[test]
fn a_log_by_depth_has_no_clock() {
    let (read, d) = log("log_depth.csv", |_| {});
    let l = read.unwrap_or_else(|| panic!("{}", show_all(&d)));
    // 6 min/m: a step of half a metre takes 3 min. 20 rows are 19 steps, one of them without
    // rotation; one repeat; 1489.5 to 1500 is a gap; a step back; 0.5 m again; a spike; no rate.
    assert_eq!(sums(&l), (18 * 300_000 + 300_000, 19 * 180_000, 20 * 180_000));
    let left = l.source.left_out.join("\n");
    for words in [
        "1 row repeat",
        "1 row have a rate of penetration above",
        "1 row have no rate",
        "1 gaps of 10.5 m",
        "1 steps back",
    ] {
        assert!(left.contains(words), "no '{words}' in:\n{left}");
    }
    assert!(chained(&l));
}

#[test]
fn no_units_in_a_log_is_an_error_that_says_how() {
    let book = book();
    let files = MemoryFiles::default()
        .with("l.csv", "time,bit depth,hole depth [m],rpm\n2025-03-04T06:00:00Z,1,1,1\n")
        .with("m.csv", "time,bit depth [m],hole depth [m],SURF_RPM\n2025-03-04T06:00:00Z,1,1,1\n")
        .with("n.csv", "time,hole depth [m],rpm\n2025-03-04T06:00:00Z,1,1\n")
        .with("o.csv", "time,bit depth [m],BIT_RPM [rpm]\n2025-03-04T06:00:00Z,1,1\n");
    let world = World { files: &files, lookup: &book, progress: &unwatched };
    for (name, words) in [
        ("l.csv", "the unit of 'bit depth' is not stated"),
        ("m.csv", "the unit of 'SURF_RPM' is not stated"),
        ("n.csv", "the log has no bit depth"),
        ("o.csv", "the log has no rotary speed of the pipe"),
    ] {
        let mut d = Diagnostics::default();
        assert!(read_log(name, &LogOptions::default(), &world, &mut d).is_none());
        let text = show_all(&d);
        assert!(text.contains(words) && text.contains("--columns"), "{name}: {text}");
    }
}

#[test]
fn a_watcher_can_stop_a_long_read() {
    use std::ops::ControlFlow;
    let mut text = String::from("elapsed [s],bit depth [m],hole depth [m],rpm\n");
    for i in 0..150_000 {
        text += &format!("{i},500,500,60\n");
    }
    let files = MemoryFiles::default().with("l.csv", text);
    let book = book();
    let seen = std::cell::RefCell::new(Vec::new());
    let stop = |p: &pipelore::intake::Progress| {
        seen.borrow_mut().push((p.rows, p.of.unwrap() > p.bytes));
        if p.rows > 100_000 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    };
    let world = World { files: &files, lookup: &book, progress: &stop };
    let mut d = Diagnostics::default();
    assert!(read_log("l.csv", &LogOptions::default(), &world, &mut d).is_none());
    assert!(show_all(&d).contains("reading was stopped"));
    assert_eq!(seen.borrow().len(), 2);
}

#[test]
fn a_summary_of_operations_becomes_segments_as_it_stands() {
    let book = book();
    let world = World { files: &Corpus, lookup: &book, progress: &unwatched };
    let mut d = Diagnostics::default();
    let s = read_operations("operations.csv", &Options::default(), &world, &mut d)
        .unwrap_or_else(|| panic!("{}", show_all(&d)));
    assert_eq!(s.len(), 5);
    assert_eq!((s[0].milli_turns, s[0].duration_ms), (8_147_700, 4_444_200));
    assert_eq!(s[2].activity, Activity::ReamingUp);
    // 1.2345 + 0.75 + 0.1111 + 0.1 + 0.33333 h
    assert_eq!(s.iter().map(|s| s.duration_ms).sum::<i64>(), 9_104_148);
    // 8147.7 + 399.96 + 600 + 1599.984 turns
    assert_eq!(s.iter().map(|s| s.milli_turns).sum::<i64>(), 10_747_644);
    let mut d = Diagnostics::default();
    assert!(read_operations("operations_bad.csv", &Options::default(), &world, &mut d).is_none());
    let said: Vec<_> = d.list().iter().map(|d| (d.row.unwrap(), d.message.as_str())).collect();
    for (row, words) in [
        (2, "-1 h is no duration"),
        (3, "700 rpm is no rotary speed of a rig"),
        (4, "sliding with a rotary speed"),
        (5, "rotating on bottom without a rotary speed"),
        (6, "rotating on bottom from 1020 m to 1010 m"),
        (7, "'juggling' is not a activity"),
        (8, "0 hours for a row in which something happened"),
    ] {
        assert!(
            said.iter().any(|(r, m)| *r == row && m.contains(words)),
            "{row} {words}: {said:?}"
        );
    }
    assert_eq!(said.len(), 7);
}

// ------------------------------------------------------------------ tallies and runs

#[test]
fn a_tally_holds_joints_parts_and_unidentified_joints() {
    let book = book();
    let world = World { files: &Corpus, lookup: &book, progress: &unwatched };
    let mut d = Diagnostics::default();
    let t = read_tally("tally.csv", &Options::default(), &world, &mut d)
        .unwrap_or_else(|| panic!("{}", show_all(&d)));
    assert_eq!(t.len(), 8);
    assert_eq!(t[0].part.as_ref().unwrap().component, Component::Bit);
    assert_eq!(t[2].part.as_ref().unwrap().name.as_deref(), Some("DC-1"));
    assert_eq!(t[4].count, Some(12));
    assert_eq!(t[5].joint.as_ref().unwrap().to_string(), "K1-0001@yard-1");
    assert!(t[5].part.is_none());
    assert_eq!(t[5].length.as_ref().unwrap().as_str(), "9.45 m");
    // dimensions measured at the rig stand beside the joint
    assert!(t[6].joint.is_some() && t[6].part.as_ref().unwrap().od.is_some());
    // nobody knows which two joints these were
    assert!(t[7].joint.is_none() && t[7].part.as_ref().unwrap().name.is_none());
    let mut d = Diagnostics::default();
    assert!(read_tally("tally_bad.csv", &Options::default(), &world, &mut d).is_none());
    let said: Vec<_> = d
        .list()
        .iter()
        .filter(|d| d.severity == Severity::Error)
        .map(|d| (d.row.unwrap(), d.message.clone()))
        .collect();
    for (row, words) in [
        (4, "K1-0001 stands in row 3 too"),
        (5, "position 3 stands in row 4 too"),
        (6, "K1-7777 is no joint of the book"),
        (7, "0 parts"),
        (8, "no length is given"),
        (9, "no component is given"),
        (10, "K1-0003 stands 2 times"),
        (11, "the wall is more than half"),
    ] {
        assert!(
            said.iter().any(|(r, m)| *r == row && m.contains(words)),
            "{row} {words}: {said:#?}"
        );
    }
    assert_eq!(said.len(), 8, "{said:#?}");
    let mut d = Diagnostics::default();
    assert!(read_tally("tally_top_down.csv", &Options::default(), &world, &mut d).is_none());
    assert!(show_all(&d).contains("tally_order = \"top down\""));
}

#[test]
fn a_run_pulls_in_its_tally_and_log() {
    let out = load("run.toml", |_| {});
    assert!(!out.is_refused(), "{}", show_all(&out.diagnostics));
    let Body::Run(run) = &out.drafts[0].body else { panic!() };
    assert_eq!((run.name.as_str(), run.grade), ("K1-R2", RunGrade::Logged));
    assert_eq!(run.tally.len(), 8);
    assert_eq!(run.mud_weight.as_ref().unwrap().as_str(), "10.2 ppg");
    assert_eq!(run.equipment, ["MB-1", "SL-2"]);
    assert_eq!(run.swaps.len(), 1);
    // a segment ends where the tally changes
    let swap = 180_000;
    assert!(run.segments.iter().all(|s| s.start_ms >= swap || s.start_ms + s.duration_ms <= swap));
    assert_eq!(run.segments.iter().map(|s| s.milli_turns).sum::<i64>(), 840_000);
    let source = run.log.as_ref().unwrap();
    assert_eq!(source.file, "log_clean.csv");
    assert!(
        source.cut.starts_with("cut 1: ") && source.cut.contains("max_segments=50"),
        "{}",
        source.cut
    );
    assert_eq!(out.drafts[0].effective.to_string(), "2025-03-04T07:00:00Z");
    let evidence = out.drafts[0].evidence.as_ref().unwrap();
    assert!(
        evidence.place.as_ref().unwrap().starts_with("tally tally.csv sha256 "),
        "{evidence:?}"
    );
}

#[test]
fn a_run_may_be_a_sheet_with_its_tally_below() {
    let out = load("run_block.csv", |_| {});
    assert!(!out.is_refused(), "{}", show_all(&out.diagnostics));
    let Body::Run(run) = &out.drafts[0].body else { panic!() };
    assert_eq!((run.name.as_str(), run.grade), ("K1-R3", RunGrade::Summary));
    assert_eq!(run.tally.len(), 3);
    assert_eq!(run.rotary_speed.as_ref().unwrap().as_str(), "110 rpm");
    assert_eq!(run.hours.as_ref().unwrap().as_str(), "20 h");
    assert!(run.segments.is_empty() && run.log.is_none());
    let out = load("run_operations.toml", |_| {});
    let Body::Run(run) = &out.drafts[0].body else { panic!("{}", show_all(&out.diagnostics)) };
    assert_eq!(run.segments.len(), 5);
}

/// One run that was integrated independently; its files are part of the open material beside the
/// data, and are read as they are.
#[test]
fn the_independently_integrated_run_reads_as_it_is() {
    let Some(dir) = std::env::var_os("PIPELORE_OPEN_DATA").map(PathBuf::from) else {
        println!("skipped: PIPELORE_OPEN_DATA names no folder of open data");
        return;
    };
    let dir = dir.join("../reference/exposure_case");
    if !dir.exists() {
        println!("skipped: no reference case beside the open data");
        return;
    }
    let bytes = |name: &str| std::fs::read(dir.join(name)).unwrap();
    let files = MemoryFiles::default()
        .with("log.csv", bytes("log.csv"))
        .with("tally.csv", bytes("tally.csv"))
        .with("survey.csv", bytes("survey.csv"));
    let text = String::from_utf8(bytes("tally.csv")).unwrap();
    let mut lookup = MemoryLookup::default();
    for (n, serial) in text.lines().skip(1).filter_map(|l| l.split(',').nth(1)).enumerate() {
        if !serial.starts_with("DC") {
            lookup = lookup.with(joint(serial, n as u64 + 1, "2024-01-10"));
        }
    }
    let world = World { files: &files, lookup: &lookup, progress: &unwatched };
    let mut d = Diagnostics::default();
    let tally = read_tally("tally.csv", &Options::default(), &world, &mut d);
    let tally = tally.unwrap_or_else(|| panic!("{}", show_all(&d)));
    assert_eq!(tally.len(), text.lines().count() - 1);
    let segments = read_operations("log.csv", &Options::default(), &world, &mut d);
    let segments = segments.unwrap_or_else(|| panic!("{}", show_all(&d)));
    assert_eq!(segments.len(), 155);
    // the bit-most joint of expected.csv was below the table all the time
    let turns = segments.iter().map(|s| s.milli_turns).sum::<i64>() as f64 / 1000.0;
    let rotating = |a| !matches!(a, Activity::Sliding | Activity::NotRotating);
    let hours = segments.iter().filter(|s| rotating(s.activity)).map(|s| s.duration_ms).sum::<i64>()
        as f64
        / 3.6e6;
    assert!((turns - 741_577.944).abs() < 0.001, "{turns}");
    assert!((hours - 111.80386).abs() < 1e-6, "{hours}");
    let mut options = Options::default();
    given(&mut options, WELL);
    let survey = read("survey.csv", &options, &world);
    assert!(!survey.is_refused(), "{}", show_all(&survey.diagnostics));
}

// ------------------------------------------------------------------ laws

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
        let mut d = Diagnostics::default();
        let _ = read_tally(name, &options, &world, &mut d);
        let mut d = Diagnostics::default();
        let _ = read_operations(name, &options, &world, &mut d);
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
            text += &format!("{s},{bit},{hole},{}.{:03}\n", mrpm / 1000, mrpm % 1000);
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
