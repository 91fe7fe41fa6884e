//! A joint is in one place, in one string, with one holder: what says otherwise is refused with the
//! entry that it clashes with, and kept as a conflict where asked.

use crate::cli::Desk;

fn desk() -> Desk {
    let desk = Desk::with_book();
    desk.run(&[
        "enter",
        "joint",
        "serial=A-1",
        "component=drill pipe",
        "new=yes",
        "date=2025-01-01",
        "od=5 in",
        "wall=0.362 in",
        "length=9.45 m",
        "location=Harrow Yard",
    ])
    .ok();
    desk
}

fn refused(desk: &Desk, words: &[&str], says: &str, entry: &str) {
    let err = desk.run(words).fails(3);
    assert!(err.contains(says) && err.contains(entry), "{err}");
    let kept = [words, &["--keep-conflicts"]].concat();
    desk.run(&kept).ok();
    let flagged = desk.run(&["find", "conflicted = true", "--json"]).json();
    assert_eq!(flagged["joints"].as_array().unwrap().len(), 1, "{flagged}");
}

#[test]
fn two_places_at_once() {
    let desk = desk();
    desk.run(&["enter", "move", "serial=A-1", "date=2025-02-01", "location=Rig 14"]).ok();
    let words = ["enter", "move", "serial=A-1", "date=2025-02-01", "location=Rig 9"];
    refused(&desk, &words, "moved to two places at once", "yard-4");
}

#[test]
fn the_next_day_is_no_clash() {
    let desk = desk();
    desk.run(&["enter", "move", "serial=A-1", "date=2025-02-01", "location=Rig 14"]).ok();
    desk.run(&["enter", "move", "serial=A-1", "date=2025-02-02", "location=Rig 9"]).ok();
    desk.run(&["enter", "move", "serial=A-1", "date=2025-02-02", "string=K1"]).ok();
}

#[test]
fn two_strings_at_once() {
    let desk = desk();
    desk.run(&["enter", "move", "serial=A-1", "date=2025-02-01", "string=K1"]).ok();
    let words = ["enter", "move", "serial=A-1", "date=2025-02-01", "string=K2"];
    refused(&desk, &words, "put into two strings at once", "yard-4");
}

#[test]
fn in_stock_while_on_hire() {
    let desk = desk();
    desk.run(&[
        "enter",
        "hire-out",
        "--insist=it is inspected there",
        "serial=A-1",
        "date=2025-02-01",
        "hire=H-1",
        "party=Rig 14 crew",
    ])
    .ok();
    let words = ["enter", "move", "serial=A-1", "date=2025-02-10", "status=in stock"];
    refused(&desk, &words, "while on hire", "yard-4");
}

#[test]
fn hired_twice_and_back_from_a_hire_it_was_not_on() {
    let desk = desk();
    desk.run(&[
        "enter",
        "hire-out",
        "--insist=it is inspected there",
        "serial=A-1",
        "date=2025-02-01",
        "hire=H-1",
        "party=Rig 14 crew",
    ])
    .ok();
    let err = desk
        .run(&[
            "enter",
            "hire-out",
            "--insist=it is inspected there",
            "serial=A-1",
            "date=2025-02-05",
            "hire=H-2",
            "party=Rig 9 crew",
        ])
        .fails(3);
    assert!(err.contains("hired out while already on hire") && err.contains("yard-4"), "{err}");
    let err = desk.run(&["enter", "hire-in", "serial=A-1", "date=2025-02-06", "hire=H-7"]).fails(3);
    assert!(err.contains("taken back from a hire that it was not out on"), "{err}");
    desk.run(&[
        "enter",
        "hire-in",
        "serial=A-1",
        "date=2025-02-06",
        "hire=H-7",
        "--keep-conflicts",
    ])
    .ok();
    // The statement of the hire says so.
    desk.run(&["enter", "hire-in", "serial=A-1", "date=2025-02-20", "hire=H-1"]).ok();
    let json = desk.run(&["statement", "H-1", "--json"]).json();
    assert_eq!(json["hire"]["joints_back"], 1);
    assert_eq!(json["joints"][0]["days"], 19);
}

#[test]
fn moves_of_two_sites_that_clash_are_kept_flagged_and_settled() {
    let yard = desk();
    let rig = Desk::new();
    rig.run(&["new", "--site", "Rig 14"]).ok();
    yard.send(&rig, "yard.jsonl");
    let moved = |desk: &Desk, place: &str| {
        let to = format!("location={place}");
        desk.run(&["enter", "move", "serial=A-1", "date=2025-02-01", &to]).ok();
    };
    moved(&yard, "Rig 9");
    moved(&rig, "Rig 14");
    let taken = rig.send(&yard, "rig.jsonl");
    assert!(taken["notes"].to_string().contains("moved to two places at once"), "{taken}");
    let flagged = || {
        let found = yard.run(&["find", "conflicted = true", "--json"]).json();
        found["joints"].as_array().unwrap().len()
    };
    assert_eq!(flagged(), 1);
    let due = yard.run(&["due", "--call", "quarantine", "--json"]).json();
    assert_eq!(due["due"][0]["rule"], "facts_in_conflict", "{due}");
    let moves = yard.run(&["trace", "A-1", "--only", "moves", "--json"]).json();
    let entry = |place: &str| {
        let lines = moves["timeline"].as_array().unwrap();
        let line = lines.iter().find(|l| l["detail"].as_str().unwrap().contains(place));
        line.unwrap_or_else(|| panic!("{moves}"))["entry"].as_str().unwrap().to_owned()
    };
    yard.run(&[
        "enter",
        "decision",
        "date=2025-02-03",
        "ruling=settle",
        &format!("stands={}", entry("Rig 14")),
        &format!("falls={}", entry("Rig 9")),
        "reason=counted on the rack of Rig 14",
    ])
    .ok();
    assert_eq!(flagged(), 0);
    // Both sites come to the same.
    yard.send(&rig, "yard2.jsonl");
    for desk in [&yard, &rig] {
        let found = desk.run(&["find", "location = \"Rig 14\"", "--json"]).json();
        assert_eq!(found["joints"][0]["serial"], "A-1", "{found}");
        desk.run(&["verify"]).ok();
    }
}

/// Two moves of a day agree with each other and not with a third: none of the three is sure.
#[test]
fn of_three_moves_at_once_each_that_says_otherwise_is_in_conflict() {
    let desk = desk();
    for said in [["string=K1"].as_slice(), &["string=K2"], &["string=K2", "status=in stock"]] {
        let words = ["enter", "move", "serial=A-1", "date=2025-02-01", "--keep-conflicts"];
        desk.run(&[&words, said].concat()).ok();
    }
    assert_eq!(desk.joints("count moves >= 1").open, ["A-1"]);
    assert_eq!(desk.joints("count moves <= 3").yes, ["A-1"]);
}

/// What a hire said of a joint is not known from the day on which another hire contradicts it, also
/// where a move of between took it over.
#[test]
fn what_a_move_took_over_from_a_fact_in_conflict_is_not_known() {
    let desk = desk();
    let hired = |hire: &str, date: &str| {
        let words = ["enter", "hire-out", "--insist=it is inspected there", "serial=A-1"];
        let (hire, date) = (format!("hire={hire}"), format!("date={date}"));
        let more = ["party=Rig 14 crew", &hire, &date, "--keep-conflicts"];
        desk.run(&[words, more].concat()).ok();
    };
    hired("H-1", "2025-05-01");
    desk.run(&["enter", "move", "serial=A-1", "date=2025-05-02", "string=K1"]).ok();
    let out = "latest move (status = on_hire)";
    assert_eq!(desk.joints(out).yes, ["A-1"]);
    hired("H-2", "2025-06-01");
    assert_eq!(desk.joints(out).open, ["A-1"]);
    // Its own words, and what the joint's own entry says, stand.
    let told = "latest move (string = \"K1\" and location = \"Harrow Yard\")";
    assert_eq!(desk.joints(told).yes, ["A-1"]);
    let why = desk.run(&["why", "A-1", out]).ok();
    assert!(why.contains("the entry that set status excludes another fact"), "{why}");
    // Seen from a day before the second hire nothing contradicts the first.
    let before =
        desk.run(&["find", out, "--as-of", "2025-05-20", "--show", "serial", "--csv"]).ok();
    assert!(before.contains("A-1"), "{before}");
}
