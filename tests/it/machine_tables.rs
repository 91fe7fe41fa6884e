//! Tables for machines: CSV and workbooks carry typed numbers with the unit in the header, what is
//! a bound stands beside, and what nobody can decide is counted.

use calamine::{Data, Reader, Xlsx, open_workbook};
use serde_json::Value;

use super::cli::Desk;

/// A book with a joint that came new, one that came used with known hours, and one whose life
/// before the book nobody knows; they ran 24 h.
fn desk() -> Desk {
    let desk = Desk::with_book();
    desk.write(
        "joints.csv",
        "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [ft],Connection,\
         TJ OD [in],TJ ID [in],Received\n\
         A-1,drill pipe,yes,5,.362,19.50,G105,31.2,NC50,6 5/8,3 1/4,2026-01-05\n\
         A-2,drill pipe,no,5,.362,19.50,G105,31.2,NC50,6 5/8,3 1/4,2026-01-05\n",
    );
    desk.run(&["load", "joints.csv"]).ok();
    desk.run(&["enter", "opening", "serial=A-1", "date=2026-01-06", "hours=1 h"]);
    desk.run(&["enter", "opening", "serial=A-2", "date=2026-01-06", "hours=52.5 h"]).ok();
    desk.run(&["enter", "gap", "serial=A-2", "date=2026-01-10", "until=2026-01-20", "reason=lent"])
        .ok();
    desk
}

fn csv_rows(text: &str) -> Vec<Vec<String>> {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
    reader.records().map(|r| r.unwrap().iter().map(str::to_owned).collect()).collect()
}

#[test]
fn a_bound_is_a_number_with_a_word_beside_it() {
    let desk = desk();
    let ran = desk.run(&["find", "true", "--show", "serial,hours,wall,made", "--csv"]);
    let rows = csv_rows(&ran.out);
    assert_eq!(rows[0], ["serial", "hours [h]", "hours bound", "wall [%]", "made", "decided"]);
    assert_eq!(rows[1], ["A-1", "0", "", "", "", "true"]);
    assert_eq!(rows[2], ["A-2", "52.5", "at least", "", "", "true"]);
    let json = desk.run(&["find", "true", "--show", "serial,hours,wall", "--json"]).json();
    assert_eq!(json["joints"][0]["hours"], serde_json::json!({"value": 0.0, "unit": "h"}));
    let used = serde_json::json!({"value": 52.5, "unit": "h", "bound": "at least"});
    assert_eq!(json["joints"][1]["hours"], used);
    assert_eq!(json["joints"][1]["wall"], Value::Null);
    assert_eq!((&json["matching"], &json["undecided"]), (&2.into(), &0.into()));
}

#[test]
fn what_nobody_can_decide_is_counted_beside_the_table() {
    let desk = desk();
    let ran = desk.run(&["find", "hours < 60 h", "--show", "serial", "--csv"]);
    assert_eq!(csv_rows(&ran.out), [["serial", "decided"], ["A-1", "true"]]);
    assert!(ran.err.contains("1 joint cannot be decided, for want of: hours"), "{}", ran.err);
    let open = desk.run(&["find", "hours < 60 h", "--show", "serial", "--undecided", "--csv"]).ok();
    assert_eq!(csv_rows(&open), [["serial", "decided"], ["A-2", "false"]]);
    let json = desk.run(&["find", "hours < 60 h", "--json"]).json();
    assert_eq!((&json["matching"], &json["undecided"]), (&1.into(), &1.into()));
    assert_eq!(json["for_want_of"][0]["count"], 1);
    // Nothing to say is not said.
    assert_eq!(desk.run(&["find", "true", "--csv"]).err, "");
    assert!(!desk.run(&["find", "true"]).ok().contains("decided"));
}

#[test]
fn a_workbook_holds_numbers_for_any_reader() {
    let desk = desk();
    let file = desk.path("fleet.xlsx");
    let name = file.to_str().unwrap();
    let shown = "serial,hours,entered,entered_new,wall";
    desk.run(&["find", "hours >= 0 h", "--show", shown, "--xlsx", name]).ok();
    let mut book: Xlsx<_> = open_workbook(&file).unwrap();
    let sheet = book.worksheet_range("joints").unwrap();
    let row = |n: usize| sheet.rows().nth(n).unwrap().to_vec();
    let text = |t: &str| Data::String(t.to_owned());
    let head =
        ["serial", "hours [h]", "hours bound", "entered", "entered_new", "wall [%]", "decided"];
    assert_eq!(row(0), head.map(text));
    assert_eq!(row(1)[..3], [text("A-1"), Data::Float(0.0), Data::Empty]);
    assert_eq!(row(2)[..3], [text("A-2"), Data::Float(52.5), text("at least")]);
    assert!(matches!(row(1)[3], Data::DateTime(_)), "{:?}", row(1));
    assert_eq!(row(2)[4..], [Data::Bool(false), Data::Empty, Data::Bool(true)]);
}

#[test]
fn every_table_of_the_demo_book_is_typed() {
    let desk = Desk::demo();
    let mut numbers = 0;
    for words in [
        &["find", "hours > 300 h", "--show", "serial,hours,damage,max_dogleg"][..],
        &["find", "true", "--by", "class"],
        &["due"],
        &["due", "--undecided"],
        &["due", "--within", "200 h"],
        &["stock"],
        &["trace", "K1-0417"],
        &["exposure", "K1-0417"],
        &["kin", "K1-0417"],
        &["statement", "H-2031"],
        &["forecast"],
    ] {
        let ran = desk.run(&[words, &["--csv"]].concat());
        if ran.code != 0 {
            continue;
        }
        let rows = csv_rows(&ran.out);
        for (row, at) in rows.iter().skip(1).flat_map(|r| (0..r.len()).map(move |at| (r, at))) {
            let cell = &row[at];
            assert!(
                !cell.contains('≥') && !cell.contains('·'),
                "{words:?} {}: {cell}",
                rows[0][at]
            );
            let dimensional = rows[0][at].ends_with(']');
            assert!(
                !dimensional || cell.is_empty() || cell.parse::<f64>().is_ok(),
                "{words:?} {}: {cell}",
                rows[0][at]
            );
            numbers += usize::from(dimensional && !cell.is_empty());
        }
    }
    assert!(numbers > 500, "{numbers}");
    // Values of many kinds in one column have their unit beside them.
    let due = csv_rows(&desk.run(&["due", "--within", "200 h", "--csv"]).out);
    let at = |name: &str| {
        due[0].iter().position(|h| h == name).unwrap_or_else(|| panic!("{name}: {:?}", due[0]))
    };
    let hours = due.iter().skip(1).filter(|r| r[at("value unit")] == "h");
    let values: Vec<f64> = hours.map(|r| r[at("value")].parse().unwrap()).collect();
    assert!(!values.is_empty());
}

#[test]
fn a_table_in_a_pipe_is_the_bytes_of_the_book_and_on_a_terminal_harmless() {
    let desk = desk();
    let text = "text=cracked\u{1b}[31m \u{9b}2J end";
    desk.run(&["enter", "note", "serial=A-1", "date=2026-02-01", text]).ok();
    let question = ["trace", "A-1", "--only", "notes", "--csv"];
    let piped = desk.run(&question).ok();
    assert!(piped.contains("cracked\u{1b}[31m \u{9b}2J end"), "{piped:?}");
    let json = desk.run(&["trace", "A-1", "--only", "notes", "--json"]).json();
    assert!(json.to_string().contains("\u{9b}2J"), "{json}");
    // What begins like a formula is kept from the spreadsheet, and that is said.
    desk.run(&["enter", "move", "serial=A-1", "date=2026-02-02", "to==1+1"]).ok();
    let ran = desk.run(&["find", "true", "--show", "serial,location", "--csv"]);
    assert!(
        ran.out.contains("'=1+1") && ran.err.contains("1 cell begins"),
        "{} {}",
        ran.out,
        ran.err
    );
    let program = assert_cmd::cargo::cargo_bin!("pipelore").display().to_string();
    for form in ["--csv", "--json"] {
        let line = format!("'{program}' --book book.pipelore trace A-1 --only notes {form}");
        let shown = std::process::Command::new("script")
            .args(["-qec", &line, "/dev/null"])
            .current_dir(desk.path("."))
            .output();
        let Ok(shown) = shown else {
            println!("skipped: no terminal can be had here");
            return;
        };
        let shown = String::from_utf8(shown.stdout).unwrap();
        assert!(shown.contains("cracked"), "{shown:?}");
        assert!(!shown.contains('\u{1b}') && !shown.contains('\u{9b}'), "{shown:?}");
    }
}
