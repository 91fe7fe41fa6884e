//! One word in the spellings of three yards: what is kept is the vocabulary's own, what is asked is
//! read in any, and a word that a field cannot hold is told so.

use std::collections::BTreeSet;

use super::cli::Desk;

const JOINTS: &str = "Serial,Component,New,OD [in],Wall [in],Grade,Length [ft],Connection,Range,Heat,\
    Received\n\
    A-1,drill pipe,yes,5,0.362,G-105,31,NC50,R2,H4417,2025-01-01\n\
    A-2,drill pipe,yes,5,0.362,G105,31,NC 50,2,h4417,2025-01-01\n\
    A-3,drill pipe,yes,5,0.362,g 105,31,nc50,range 2,H4417,2025-01-01\n\
    A-4,drill pipe,yes,5,0.362,S-135,31,4 1/2 IF,R2,H9,2025-01-01\n";

fn yard() -> Desk {
    let desk = Desk::with_book();
    desk.write("joints.csv", JOINTS);
    desk.run(&["load", "joints.csv"]).ok();
    desk
}

fn found(desk: &Desk, filter: &str) -> BTreeSet<String> {
    let json = desk.run(&["find", filter, "--show", "serial", "--json"]).json();
    let serial = |j: &serde_json::Value| j["serial"].as_str().unwrap().to_owned();
    json["joints"].as_array().unwrap().iter().map(serial).collect()
}

fn set(serials: &[&str]) -> BTreeSet<String> {
    serials.iter().map(|s| (*s).to_owned()).collect()
}

#[test]
fn three_spellings_of_a_word_are_one() {
    let desk = yard();
    let three = set(&["A-1", "A-2", "A-3"]);
    for filter in [
        "grade = G105",
        "grade = \"G-105\"",
        "grade = \"g 105\"",
        "grade in (G105, E75)",
        "heat = \"H4417\"",
        "heat = \"h4417\"",
        "kin of \"A-1\" by heat or serial = \"a-1\"",
    ] {
        assert_eq!(found(&desk, filter), three, "{filter}");
    }
    let all = set(&["A-1", "A-2", "A-3", "A-4"]);
    for filter in [
        "connection = NC50",
        "connection = \"nc 50\"",
        "connection = \"4 1/2 IF\"",
        "connection like \"NC*\"",
        "range = R2",
        "range = 2",
        "range = \"range 2\"",
    ] {
        assert_eq!(found(&desk, filter), all, "{filter}");
    }
    assert_eq!(found(&desk, "grade = S135"), set(&["A-4"]));
}

#[test]
fn a_word_that_a_field_cannot_hold_is_told_so() {
    let desk = yard();
    for (filter, meant) in [
        ("hardband = ruogh", "rough"),
        ("any finding (what = slip_crakc)", "slip_crack"),
        ("any finding (what = \"slip crakc\")", "slip_crack"),
        ("disposition = hld", "hold"),
        ("disposition = \"hld\"", "hold"),
        ("connection = NC51", "did you mean NC"),
        ("grade = G106", "G105"),
    ] {
        let error = desk.run(&["find", filter]).fails(2);
        assert!(error.contains(meant), "{filter}: {error}");
    }
}

#[test]
fn a_broader_word_means_all_below_it() {
    let desk = yard();
    desk.run(&[
        "enter",
        "inspection",
        "serial=A-1",
        "date=2026-02-01",
        "methods=magnetic_slip",
        "tube finding=slip crack",
    ])
    .ok();
    assert_eq!(found(&desk, "any finding (what = slip_crack)"), set(&["A-1"]));
    assert_eq!(found(&desk, "any finding (what = crack)"), set(&["A-1"]));
    assert!(found(&desk, "any finding (what = gouge)").is_empty());
}
