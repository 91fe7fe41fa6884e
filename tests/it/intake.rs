//! Files into entries: every oddity that a reader can meet, in short files of our own, with what
//! must come of it.

use std::fmt::Write as _;
use std::fs::File;
use std::io::{self, Read};
use std::path::PathBuf;

use pipelore::intake::{
    DateOrder, Decimal, Diagnostics, Files, JointMatch, Kind, Lookup, MemoryFiles, MemoryLookup,
    Options, Outcome, Severity, World, read, settle, show, unwatched,
};
use pipelore::model::{
    Body, Component, End, EntryId, Moment, Place, Reading, ReadingKind, RunBody, Stated,
};

/// Files of the corpus.
pub(crate) struct Corpus;

impl Files for Corpus {
    fn open(&self, name: &str) -> io::Result<Box<dyn Read + '_>> {
        let dir = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/corpus/intake");
        Ok(Box::new(File::open(dir.join(name))?))
    }
}

pub(crate) fn joint(serial: &str, number: u64, since: &str) -> JointMatch {
    JointMatch {
        joint: format!("{serial}@yard-{number}").parse().unwrap(),
        component: Component::DrillPipe,
        since: since.parse().unwrap(),
        until: None,
        made: Some("2019-11-20".parse().unwrap()),
    }
}

/// A book with four joints and a run.
pub(crate) fn book() -> MemoryLookup {
    let mut lookup = MemoryLookup::default();
    for n in 1..=4 {
        lookup = lookup.with(joint(&format!("K1-000{n}"), n, "2024-01-10"));
    }
    lookup.runs.insert("K1-R1".into(), vec!["yard-50".parse().unwrap()]);
    lookup
}

/// Everything that is to be said of a file, as people read it.
pub(crate) fn show_all(diagnostics: &Diagnostics) -> String {
    diagnostics.list().iter().map(show).collect::<Vec<_>>().join("\n")
}

/// Files, and a run that names two of them.
struct WithRun<'a> {
    files: &'a dyn Files,
    run: String,
}

impl Files for WithRun<'_> {
    fn open(&self, name: &str) -> io::Result<Box<dyn Read + '_>> {
        if name == "the-run.toml" {
            return Ok(Box::new(self.run.as_bytes()));
        }
        self.files.open(name)
    }
}

/// A tally and a log, or a summary of hours, as a run brings them.
pub(crate) fn run_of(
    tally: &str,
    log: Option<&str>,
    files: &dyn Files,
    lookup: &dyn Lookup,
) -> Outcome {
    let hours = match log {
        Some(log) => format!("log = \"{log}\""),
        None => "hours = \"5 h\"\nrotary_speed = \"100 rpm\"\ndepth_in = \"100 m\"\n\
                 depth_out = \"200 m\""
            .to_owned(),
    };
    let run = format!(
        "name = \"K1-R9\"\nwell = \"Larkfield 1H\"\nstart = 2025-03-04T06:00:00Z\n\
         end = 2025-04-04T06:00:00Z\ntally = \"{tally}\"\n{hours}\n"
    );
    let files = WithRun { files, run };
    let world = World { files: &files, lookup, progress: &unwatched };
    read("the-run.toml", &Options::default(), &world)
}

/// The run that a file gave.
pub(crate) fn the_run(outcome: &Outcome) -> &RunBody {
    match outcome.drafts.first().map(|d| &d.body) {
        Some(Body::Run(run)) => run,
        _ => panic!("{}", show_all(&outcome.diagnostics)),
    }
}

/// Errors with their rows.
pub(crate) fn errors(outcome: &Outcome) -> Vec<(u64, String)> {
    let errors = outcome.diagnostics.list().iter().filter(|d| d.severity == Severity::Error);
    errors.map(|d| (d.row.unwrap_or_default(), d.message.clone())).collect()
}

fn load_with(name: &str, lookup: &MemoryLookup, change: impl FnOnce(&mut Options)) -> Outcome {
    let mut options = Options::default();
    change(&mut options);
    read(name, &options, &World { files: &Corpus, lookup, progress: &unwatched })
}

pub(crate) fn load(name: &str, change: impl FnOnce(&mut Options)) -> Outcome {
    load_with(name, &book(), change)
}

pub(crate) fn given(options: &mut Options, pairs: &[(&str, &str)]) {
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

pub(crate) const WELL: &[(&str, &str)] = &[("well", "Larkfield 1H"), ("date", "2025-03-04")];

const CASES: &[Case] = &[
    Case {
        file: "survey_titles.csv",
        kind: "survey",
        notes: &[
            "above the header",
            "below or between the data (a heading, a sum), or the header again",
        ],
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
        errors: &[(0, 0, "the file states no well"), (0, 0, "the file states no date")],
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
            (0, 0, "the file states no well"),
            (4, 0, "the run ends on 2025-03-01, before it begins on 2025-03-04"),
            (1, 0, "the book has a run 'K1-R1' already: yard-50"),
            (7, 0, "the unit of 'mud_weight' is not stated"),
            (9, 0, "'salty' is not an environment"),
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
            let shown = show_all(&out.diagnostics);
            writeln!(
                misses,
                "{}:
  {}
{shown}",
                case.file,
                wrong.join(
                    "
  "
                )
            )
            .unwrap();
        }
    }
    assert!(misses.is_empty(), "{misses}");
}

#[test]
fn every_file_of_the_corpus_is_used() {
    let dir = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/corpus/intake");
    let this = concat!(
        include_str!("intake.rs"),
        include_str!("intake_logs.rs"),
        include_str!("intake_runs.rs")
    );
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
    let kinds: Vec<&str> = out.drafts.iter().map(|d| d.body.kind().word()).collect();
    assert_eq!(kinds, ["joint", "joint", "joint", "opening", "joint", "opening"]);
    let Body::Joint(k3) = &out.drafts[2].body else { panic!() };
    assert_eq!(k3.serial.to_string(), "K1-0003");
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

fn find(readings: &[Reading], what: ReadingKind, end: Option<End>) -> &str {
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
            other => panic!("{}", other.kind().word()),
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
fn a_column_of_findings_is_read_at_its_place_or_refused() {
    let told = |title: &str| {
        let text = format!(
            "Date,2026-05-20\nReport,R-7\nMethod,MPI slip; UT wall\n\
             Serial,Wall [in],{title},Pin findings\nK1-0001,0.301,slip crack,none\n"
        );
        let files = MemoryFiles::default().with("findings.csv", text);
        let world = World { files: &files, lookup: &book(), progress: &unwatched };
        read("findings.csv", &Options::default(), &world)
    };
    let out = told("Slip area findings");
    assert!(!out.is_refused(), "{}", show_all(&out.diagnostics));
    let Body::Inspection(b) = &out.drafts[0].body else { panic!() };
    assert_eq!(b.findings.len(), 1);
    assert_eq!((b.findings[0].place, b.findings[0].end), (Some(Place::SlipArea), None));
    let out = told("Findings of the second shift");
    assert!(out.is_refused());
    let said = show_all(&out.diagnostics);
    assert!(said.contains("the findings of 'Findings of the second shift' are not read"), "{said}");
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
        (
            "a.csv",
            &b"PK\x03\x04\x14\0\0\0xl/workbook.xml"[..],
            "begins like a workbook and cannot be unpacked",
        ),
        ("b.csv", b"PAR1\x15\x04", "a Parquet file"),
        ("c.csv", b"md,inc\n1,\0\n", "byte 10 is NUL"),
        ("d.csv", b"", "the file is empty"),
        (
            "e.csv",
            b"Serial,Date,Note\nK1-0001,2025-01-01,\"open\nK1-0002,2025-01-01,x\n",
            "closes in another",
        ),
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
fn a_remark_may_have_lines() {
    let files = MemoryFiles::default()
        .with("n.csv", "Serial,Date,Note\nK1-0001,2025-01-01,\"first line\nsecond, and last\"\n");
    let book = book();
    let world = World { files: &files, lookup: &book, progress: &unwatched };
    let out = read("n.csv", &Options::default(), &world);
    assert!(!out.is_refused(), "{}", show_all(&out.diagnostics));
    let Body::Note(note) = &out.drafts[0].body else { panic!() };
    assert_eq!(note.text, "first line second, and last");
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
    options.times.order = Some(DateOrder::DayFirst);
    let out = read("m.csv", &options, &world);
    assert!(!out.is_refused(), "{}", show_all(&out.diagnostics));
    assert_eq!(out.drafts[0].effective, "2025-04-03".parse::<Moment>().unwrap());
    options.given.insert("inspektor".into(), "x".into());
    assert!(
        show_all(&read("m.csv", &options, &world).diagnostics).contains("did you mean inspector?")
    );
}
