//! A day's work: what was entered, lists of what the book knows, one entry whole.

use std::collections::BTreeSet;

use pipelore::model::EntryKind;
use serde_json::Value;

use super::cli::Desk;

fn rows(answer: &Value, table: &str) -> Vec<Value> {
    answer[table].as_array().unwrap_or_else(|| panic!("{table}: {answer}")).clone()
}

/// A book in which two people wrote on two days.
fn two_days() -> Desk {
    let desk = Desk::with_book();
    let on = |now: &str, who: &str, words: &[&str]| {
        desk.run(&[&["--now", now, "--author", who, "enter"], words].concat()).ok();
    };
    let joint = ["component=drill pipe", "new=no", "od=5 in", "date=2026-06-01"];
    for serial in ["serial=A-1", "serial=A-2"] {
        on("2026-06-14T09:00:00+01:00", "Ada", &[&["joint", serial], &joint[..]].concat());
    }
    on("2026-06-14T17:00:00+01:00", "Bo", &["note", "serial=A-1", "text=seen at the rack"]);
    on("2026-06-15T00:30:00+01:00", "Bo", &["note", "serial=A-2", "text=seen at night"]);
    desk
}

/// Yesterday is that of the book's clock; who wrote is told, and what can be struck by its name.
#[test]
fn the_journal_says_what_was_entered_by_whom() {
    let desk = two_days();
    let told = desk.run(&["journal", "yesterday", "--json"]).json();
    let lines = rows(&told, "journal");
    let said: Vec<(&str, &str, i64)> = lines
        .iter()
        .map(|l| {
            let text = |name: &str| l[name].as_str().unwrap();
            (text("author"), text("kind"), l["entries"].as_i64().unwrap())
        })
        .collect();
    assert_eq!(said, [("Ada", "joint", 2), ("Bo", "note", 1)], "{told}");
    assert_eq!(lines[0]["about"], "A-1, A-2");
    assert_eq!(told["entries"], 3);
    let each = desk.run(&["journal", "yesterday", "--each", "--by", "ada", "--json"]).json();
    let names: Vec<String> =
        rows(&each, "journal").iter().map(|l| l["entry"].as_str().unwrap().to_owned()).collect();
    assert_eq!(names.len(), 2, "{each}");
    desk.run(&["strike", &names[1], "--reason", "typed twice"]).ok();
    let again = desk.run(&["journal", "2026-06-14", "--each", "--by", "Ada", "--json"]).json();
    assert_eq!(rows(&again, "journal")[1]["struck"], 1, "{again}");
    let both = desk.run(&["journal", "--since", "yesterday", "--json"]).json();
    assert!(both["entries"].as_i64() >= Some(5), "{both}");
    let none = desk.run(&["journal", "2026-06-13"]).ok();
    assert!(none.starts_with("nothing was entered on 2026-06-13"), "{none}");
    assert!(desk.run(&["journal", "someday"]).fails(2).contains("yesterday"));
    desk.run(&["journal", "2026-06-01", "--since", "2026-06-02"]).fails(2);
}

/// What came together is one line, and none is lost in it.
#[test]
fn a_load_is_one_line_of_the_journal() {
    let desk = Desk::demo();
    let lines = rows(&desk.run(&["journal", "--json"]).json(), "journal");
    let entries: i64 = lines.iter().map(|l| l["entries"].as_i64().unwrap()).sum();
    let all = rows(&desk.run(&["entries", "--json"]).json(), "entries");
    assert_eq!(entries as usize, all.len());
    assert!(lines.len() < 70, "{} lines", lines.len());
    let load = lines.iter().find(|l| l["file"] == "inspection-2025-10.csv").unwrap();
    assert_eq!(load["entries"], 163);
}

/// An entry says what it says, who wrote it, and what became of it.
#[test]
fn an_entry_is_shown_whole() {
    let desk = two_days();
    let joints = rows(&desk.run(&["entries", "--kind", "joint", "--json"]).json(), "entries");
    let name = joints[0]["entry"].as_str().unwrap();
    let amend = format!("entry={name}");
    desk.run(&["enter", "amend", &amend, "grade=S-135", "reason=misread"]).ok();
    let shown = desk.run(&["show", name]).ok();
    for part in ["A-1", "written by", "Ada", "5 in", "grade", "S-135", "misread"] {
        assert!(shown.contains(part), "{part}: {shown}");
    }
    let whole = rows(&desk.run(&["show", name, "--json"]).json(), "entries");
    assert_eq!(whole, joints[..1], "as the list has it");
    desk.run(&["strike", name, "--reason", "no such joint"]).ok();
    assert!(desk.run(&["show", name]).ok().contains("counts no more"));
    assert!(desk.run(&["show", "yard-999"]).fails(2).contains("yard-999"));
}

/// Nothing in the book is unlistable: each kind of entry is listed, and each entry can be shown.
#[test]
fn every_kind_of_entry_is_listed_and_shown() {
    let desk = Desk::demo();
    let all = rows(&desk.run(&["entries", "--json"]).json(), "entries");
    let mut held = BTreeSet::new();
    for kind in EntryKind::ALL {
        let listed = desk.run(&["entries", "--kind", kind.word(), "--json"]).json();
        let listed = rows(&listed, "entries");
        let of = all.iter().filter(|e| e["kind"] == kind.word()).count();
        assert_eq!(listed.len(), of, "{}", kind.word());
        if let Some(first) = listed.first() {
            held.insert(kind.word());
            let shown = desk.run(&["show", first["entry"].as_str().unwrap()]).ok();
            assert!(shown.contains(&kind.word().replace('_', " ")), "{shown}");
        }
    }
    assert!(held.len() > 14, "{held:?}");
}

/// What an entry names is in a list of such names.
#[test]
fn what_entries_name_is_listed() {
    let desk = Desk::demo();
    let all = rows(&desk.run(&["entries", "--json"]).json(), "entries");
    let list = |what: &str, table: &str, column: &str| -> BTreeSet<String> {
        let told = rows(&desk.run(&["list", what, "--json"]).json(), table);
        told.iter().map(|row| row[column].as_str().unwrap().to_owned()).collect()
    };
    let named = |kind: &str, field: &str| -> BTreeSet<String> {
        let of = all.iter().filter(|e| e["kind"] == kind);
        of.filter_map(|e| e["body"][field].as_str().map(str::to_owned)).collect()
    };
    assert_eq!(list("wells", "wells", "well"), named("run", "well"));
    assert_eq!(list("runs", "runs", "run"), named("run", "name"));
    assert_eq!(list("rigs", "rigs", "rig"), named("run", "rig"));
    assert_eq!(list("strings", "strings", "string"), named("joint", "string"));
    assert_eq!(list("hires", "hires", "hire"), named("hire_out", "hire"));
    let tags: BTreeSet<String> =
        named("instrument", "tag").union(&named("check", "tag")).cloned().collect();
    assert_eq!(list("instruments", "instruments", "tag"), tags);
    assert_eq!(list("sites", "sites", "site"), BTreeSet::from(["yard".to_owned()]));
    let places = rows(&desk.run(&["list", "places", "--json"]).json(), "places");
    let joints: i64 = places.iter().map(|p| p["joints"].as_i64().unwrap()).sum();
    let known = desk.joints("not (location is unknown)").yes.len();
    assert_eq!(joints as usize, known);
    assert!(desk.run(&["list", "layouts"]).ok().contains("no layout"));
    let err = desk.run(&["list", "wels"]).fails(2);
    assert!(err.contains("did you mean wells?"), "{err}");
}

/// A word that people try names the command that does it.
#[test]
fn a_word_that_is_tried_names_its_command() {
    let desk = Desk::demo();
    for (tried, command) in [("search", "find"), ("wells", "list wells"), ("undo", "strike")] {
        let err = desk.run(&[tried]).fails(2);
        assert!(err.contains(&format!("pipelore {command}")), "{err}");
        let told: Value = serde_json::from_str(&desk.run(&[tried, "--json"]).fails(2)).unwrap();
        assert_eq!(told["error"]["kind"], "usage");
    }
    assert!(desk.run(&["duee"]).fails(2).contains("'due'"));
    let help = desk.run(&["due", "--help"]).ok();
    let (own, every) = help.split_once("Every command:").unwrap();
    assert!(own.contains("--jobs") && !own.contains("--author") && every.contains("--author"));
}

/// A quotient has the unit of the trade, and a row a line is the table of the document.
#[test]
fn answers_are_fit_for_programs() {
    let desk = Desk::demo();
    let asked =
        ["find", "string = \"K1\"", "--show", "serial,revolutions / hours,cased_hours / hours"];
    let text = desk.run(&[&asked[..], &["--limit", "2"]].concat()).ok();
    assert!(text.contains("[rpm]") && text.contains("[%]"), "{text}");
    let lines = desk.run(&[&asked[..], &["--json-lines"]].concat()).ok();
    let each: Vec<Value> = lines.lines().map(|l| serde_json::from_str(l).unwrap()).collect();
    let whole = desk.run(&[&asked[..], &["--json"]].concat()).json();
    assert_eq!(each, rows(&whole, "joints"));
    let rpm = &each[0]["revolutions / hours"];
    assert_eq!(rpm["unit"], "rpm");
    let (turns, hours) = {
        let told = desk
            .run(&["find", "serial = \"K1-0401\"", "--show", "revolutions,hours", "--json"])
            .json();
        let row = rows(&told, "joints")[0].clone();
        (row["revolutions"].as_f64().unwrap(), row["hours"]["value"].as_f64().unwrap())
    };
    let k1 = each.iter().find(|r| r["serial"] == "K1-0401").unwrap();
    let speed = k1["revolutions / hours"]["value"].as_f64().unwrap();
    assert!((speed - turns / hours / 60.0).abs() < 0.01, "{speed} {turns} {hours}");
    // Make-ups in a time are no speed of rotation.
    let other = desk.run(&["find", "true", "--show", "pin_makeups / hours", "--limit", "1"]).ok();
    assert!(!other.contains("rpm"), "{other}");
    desk.run(&["completions", "bash", "--json-lines"]).ok();
}

/// A long answer goes through the reader's pager at a terminal, and only there.
#[test]
fn a_long_answer_goes_through_the_pager() {
    let desk = Desk::demo();
    if std::process::Command::new("script").arg("--version").output().is_err() {
        eprintln!("skipped: there is no `script` to make a terminal with");
        return;
    }
    let binary = env!("CARGO_BIN_EXE_pipelore");
    let at_a_terminal = |question: &str, pager: &str| {
        let line =
            format!("stty rows 12 cols 90; PAGER='{pager}' '{binary}' {question}; echo code $?");
        let mut shell = std::process::Command::new("script");
        shell.args(["-qec", &line, "/dev/null"]).current_dir(desk.path("."));
        shell.env("PIPELORE_BOOK", "demo.pipelore").env("PIPELORE_NOW", super::cli::NOW);
        shell.env_remove("COLUMNS").stdin(std::process::Stdio::null());
        String::from_utf8_lossy(&shell.output().unwrap().stdout).into_owned()
    };
    let paged = |out: &str| out.lines().filter(|l| l.starts_with("| ")).count();
    let long = at_a_terminal("find true", "sed \"s/^/| /\"");
    assert!(paged(&long) > 100 && long.contains("code 0"), "{long}");
    assert_eq!(paged(&at_a_terminal("list wells", "sed \"s/^/| /\"")), 0, "it fits the screen");
    assert_eq!(paged(&at_a_terminal("find true --no-pager", "sed \"s/^/| /\"")), 0);
    assert_eq!(paged(&at_a_terminal("find true --csv", "sed \"s/^/| /\"")), 0);
    // Who has seen enough ends it; who has no such program reads it all the same.
    assert!(at_a_terminal("find true", "head -1").contains("code 0"));
    let none = at_a_terminal("find true", "no-such-pager");
    assert!(none.contains("K1-0401") && none.contains("code 0"), "{none}");
    let piped = desk.command(&["find", "true"]).env("PAGER", "sed s/^/X/").output().unwrap();
    assert!(!String::from_utf8_lossy(&piped.stdout).contains("XK1"));
}
