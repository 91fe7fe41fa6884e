//! The inspector's work at the rack, through the binary: judge, ask, fill in a workbook, take it
//! back.

use std::io::{Cursor, Read, Write};

use zip::write::SimpleFileOptions;
use zip::{ZipArchive, ZipWriter};

use super::cli::Desk;
use super::fitness::{ALL_METHODS, SOUND};

/// Certificates of so many joints.
fn joints(n: usize) -> String {
    let mut out = "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [ft],Connection,TJ OD [in],TJ ID [in],String,Received\n".to_owned();
    for i in 1..=n {
        out += &format!(
            "A-{i:03},drill pipe,yes,5,.362,19.50,G-105,31.2,NC50,6 5/8,3 1/4,A,2026-01-05\n"
        );
    }
    out
}

fn rack(n: usize) -> Desk {
    let desk = Desk::with_book();
    desk.write("joints.csv", joints(n));
    desk.run(&["load", "joints.csv"]).ok();
    desk
}

/// A workbook with values put into cells of its first sheet that are empty.
pub(super) fn filled(bytes: &[u8], values: &[(String, String)]) -> Vec<u8> {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).unwrap();
    let mut out = ZipWriter::new(Cursor::new(Vec::new()));
    for i in 0..archive.len() {
        let mut part = archive.by_index(i).unwrap();
        let name = part.name().unwrap().into_owned();
        let mut content = Vec::new();
        part.read_to_end(&mut content).unwrap();
        if name == "xl/worksheets/sheet1.xml" {
            let mut xml = String::from_utf8(content).unwrap();
            for (cell, value) in values {
                let start = xml
                    .find(&format!("<c r=\"{cell}\""))
                    .unwrap_or_else(|| panic!("no cell {cell}"));
                let end = start + xml[start..].find("/>").unwrap();
                let open = xml[start..end].to_owned();
                assert!(!open.contains('>'), "{cell} is not empty: {open}");
                let given = match value.parse::<f64>() {
                    Ok(_) => format!("{open}><v>{value}</v></c>"),
                    Err(_) => format!("{open} t=\"inlineStr\"><is><t>{value}</t></is></c>"),
                };
                xml.replace_range(start..end + 2, &given);
            }
            content = xml.into_bytes();
        }
        out.start_file(name, SimpleFileOptions::default()).unwrap();
        out.write_all(&content).unwrap();
    }
    out.finish().unwrap().into_inner()
}

/// Columns of the first sheet by their titles, and the row of the first joint.
pub(super) fn layout(
    desk: &Desk,
    file: &str,
) -> (std::collections::BTreeMap<String, String>, usize) {
    use calamine::{DataType, Reader, Xlsx, open_workbook};
    let mut book: Xlsx<_> = open_workbook(desk.path(file)).unwrap();
    let range = book.worksheet_range_at(0).unwrap().unwrap();
    let (at, titles) = range
        .rows()
        .enumerate()
        .find(|(_, r)| r.iter().any(|c| c.get_string() == Some("Serial")))
        .expect("a row of titles");
    let letters = |i: usize| {
        let letter = |n: usize| char::from(b'A' + u8::try_from(n).unwrap());
        if i < 26 {
            letter(i).to_string()
        } else {
            format!("{}{}", letter(i / 26 - 1), letter(i % 26))
        }
    };
    let columns = titles
        .iter()
        .enumerate()
        .map(|(i, t)| (t.to_string(), letters(i)))
        .filter(|(t, _)| !t.is_empty() && t != "last")
        .collect();
    (columns, at + 2)
}

#[test]
fn a_sheet_of_300_joints_goes_round_without_loss() {
    let desk = rack(300);
    desk.run(&[
        "sheet",
        "inspection",
        "--string",
        "A",
        "-o",
        "a.xlsx",
        "--inspector",
        "N. Quill",
        "--date",
        "2026-06-01",
    ])
    .ok();
    let (columns, first) = layout(&desk, "a.xlsx");
    let wall = |i: usize| 0.362 - 0.0002 * i as f64;
    let box_od = |i: usize| 6.625 - 0.0005 * i as f64;
    let mut values = Vec::new();
    for i in 0..300 {
        let row = first + i;
        values.push((format!("{}{row}", columns["Wall [in]"]), format!("{:.4}", wall(i))));
        values.push((format!("{}{row}", columns["Box OD [in]"]), format!("{:.4}", box_od(i))));
    }
    values.push((format!("{}{}", columns["Box found"], first + 4), "galled 15 %".to_owned()));
    let bytes = std::fs::read(desk.path("a.xlsx")).unwrap();
    desk.write("filled.xlsx", filled(&bytes, &values));
    desk.run(&["load", "filled.xlsx"]).ok();
    let read = desk
        .run(&[
            "find",
            "true",
            "--show",
            "serial,wall_thickness,box_od,inspected",
            "--sort",
            "serial",
            "--json",
        ])
        .json();
    let rows = read["joints"].as_array().unwrap();
    assert_eq!(rows.len(), 300);
    for (i, row) in rows.iter().enumerate() {
        let number = |key: &str| row[key]["value"].as_f64().or(row[key].as_f64()).unwrap();
        assert!((number("wall_thickness") - wall(i)).abs() < 6e-5, "{row}");
        assert!((number("box_od") - box_od(i)).abs() < 6e-5, "{row}");
    }
    let galled = desk.run(&["find", "any finding (what = galled and end = box)", "--json"]).json();
    assert_eq!(galled["joints"][0]["serial"], "A-005");
    // Again: the same file adds nothing.
    assert!(desk.run(&["load", "filled.xlsx"]).ok().contains("taken in before"));
    // What the book shows next time is what was read.
    desk.run(&["sheet", "inspection", "--string", "A", "-o", "again.xlsx"]).ok();
    desk.run(&["verify"]).ok();
}

#[test]
fn a_wrong_cell_is_named_by_sheet_and_cell() {
    let desk = rack(3);
    desk.run(&["sheet", "inspection", "--string", "A", "-o", "a.xlsx"]).ok();
    let (columns, first) = layout(&desk, "a.xlsx");
    let bytes = std::fs::read(desk.path("a.xlsx")).unwrap();
    let cell = format!("{}{}", columns["Wall [in]"], first + 1);
    let word = format!("{}{first}", columns["Box found"]);
    let values = [(cell.clone(), "0.29O".to_owned()), (word.clone(), "galed".to_owned())];
    desk.write("bad.xlsx", filled(&bytes, &values));
    let err = desk.run(&["load", "bad.xlsx"]).fails(3);
    assert!(err.contains(&cell) && err.contains(&word), "{err}");
    assert!(err.contains("did you mean galled?") && err.contains("nothing was written"), "{err}");
    // An untouched sheet holds nothing to take in.
    let blank = desk.run(&["load", "a.xlsx"]);
    assert!(blank.code != 0 || blank.out.contains('0'), "{}{}", blank.out, blank.err);
    // A sheet is never written over.
    desk.run(&["sheet", "inspection", "--string", "A", "-o", "a.xlsx"]).fails(2);
}

#[test]
fn a_verdict_without_a_record() {
    let desk = rack(1);
    // One reading passes no joint: the others are named.
    let good = desk.run(&["assess", "A-001", "wall=0.330 in", "methods=ut wall", "--json"]);
    assert_eq!(good.code, 1, "{}{}", good.out, good.err);
    assert!(good.out.contains("tool joint OD is not known"), "{}", good.out);
    let mut words = vec!["assess", "A-001", ALL_METHODS];
    words.extend(SOUND);
    let whole = desk.run(&words);
    assert_eq!(whole.code, 0, "{}{}", whole.out, whole.err);
    let thin = desk.run(&["assess", "A-001", "wall=0.200 in", "methods=ut wall", "--json"]);
    assert_eq!(thin.code, 1, "{}{}", thin.out, thin.err);
    assert_eq!(
        desk.run(&["find", "wall is unknown", "--json"]).json()["joints"][0]["serial"],
        "A-001"
    );
    // A joint of no book.
    let foreign = desk.run(&[
        "assess",
        "--size",
        "5 in 19.50 lb/ft",
        "--grade",
        "G-105",
        "wall=0.300 in",
        "methods=ut wall",
    ]);
    assert!(foreign.out.contains("wear"), "{}{}", foreign.out, foreign.err);
    let err = desk.run(&["assess", "A-001", "wal=0.3 in"]).fails(2);
    assert!(err.contains("wall"), "{err}");
}

#[test]
fn limits_of_ones_own_change_new_verdicts_and_leave_old_ones() {
    let desk = rack(2);
    let enter = |serial: &str, date: &str| {
        let (serial, date) = (format!("serial={serial}"), format!("date={date}"));
        desk.run(&["enter", "inspection", &serial, &date, "methods=ut wall", "wall=0.300 in"]).ok();
    };
    enter("A-001", "2026-02-01");
    let shipped = desk.run(&["limits", "--example"]).ok();
    desk.write("shipped.csv", &shipped);
    desk.run(&["limits", "--check", "shipped.csv"]).ok();
    let class = |serial: &str| {
        let filter = format!("serial = \"{serial}\"");
        let json = desk.run(&["find", &filter, "--show", "class", "--json"]).json();
        json["joints"][0]["class"].as_str().map(str::to_owned)
    };
    // 0.300 in of 0.362 in is 83 %: above 80, below 85.
    let before = class("A-001");
    let own = shipped.replace("pipelore starting set", "yard set").replace(
        "wear_wall,drill_pipe;pup,premium,>=,80,",
        "wear_wall,drill_pipe;pup,premium,>=,85,",
    );
    assert_ne!(own, shipped);
    desk.write("own.csv", &own);
    let dry = desk.run(&["limits", "--use", "own.csv", "--from", "2026-03-01", "--dry-run"]).ok();
    assert!(dry.contains("dry run") || dry.contains("nothing was written"), "{dry}");
    desk.run(&["limits", "--use", "own.csv", "--from", "2026-03-01"]).ok();
    enter("A-002", "2026-04-01");
    assert_eq!(class("A-001"), before, "a verdict of before keeps its limits");
    let says = |date: &str| {
        let words = ["assess", "A-002", "wall=0.300 in", "methods=ut wall", date, "--json"];
        let told: serde_json::Value = serde_json::from_str(&desk.run(&words).out).unwrap();
        let margins = told["margins"].as_array().unwrap().clone();
        let wall = margins.iter().find(|m| m["criterion"] == "wear_wall").unwrap().clone();
        wall["says"].as_str().unwrap().to_owned()
    };
    assert_eq!(says("date=2026-02-15"), "Premium");
    assert_eq!(says("date=2026-04-15"), "Class 2");
    desk.write("bad.csv", own.replace(">=,85,", ">=,eighty,"));
    let err = desk.run(&["limits", "--check", "bad.csv"]).fails(3);
    assert!(err.contains("eighty"), "{err}");
    desk.run(&["verify"]).ok();
}

#[test]
fn a_question_mark_at_the_prompt_is_told_what_is_wanted() {
    let desk = rack(1);
    let typed = [
        "?", "", // date
        "?", "M. Tarn", // inspector
        "", "", "", "", // firm, report, standard, instrument
        "?", "ut wall", // methods
        "?", "A-001", // serial
        "?", "0.300", // wall
        "?", "", "", "", // findings
        "?", "", // class
        "?", "", // remark
        "?", "", // keep
        "", // no further joint
    ];
    let output =
        desk.command(&["enter", "inspection"]).write_stdin(typed.join("\n") + "\n").output();
    let output = output.unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(output.status.success(), "{said}");
    for wanted in [
        "like 2026-03-04",
        "it is written to every joint",
        "ultrasonic wall",
        "an empty line ends",
        "wall as read, in in or with its unit",
        "in the words of `pipelore findings`",
        "class 2",
        "any words",
        "'again' asks for it once more",
    ] {
        assert!(said.contains(wanted), "no '{wanted}' in\n{said}");
    }
    let json = desk.run(&["find", "--list", "inspections", "true", "--json"]).json();
    let records = json["records"].as_array().unwrap();
    assert_eq!(records.len(), 1, "{json}");
    let shown =
        ["find", "--list", "inspections", "true", "--show", "wall,inspector,class", "--json"];
    let text = desk.run(&shown).ok();
    assert!(text.contains("M. Tarn") && text.contains("82.8") && !text.contains('?'), "{text}");
}
