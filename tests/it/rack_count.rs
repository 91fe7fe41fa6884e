//! A list of what lies on a rack, held against the book.

use super::cli::Desk;

/// Four joints at the yard, one at the shop, one out on hire.
fn yard() -> Desk {
    let desk = Desk::with_book();
    let mut joints = "Serial,Component,New,OD [in],Wall [in],Grade,Length [ft],Connection,\
                      Received,Location\n"
        .to_owned();
    for (serial, place) in [
        ("K1-0401", "North rack"),
        ("K1-0402", "North rack"),
        ("K1-0403", "North rack"),
        ("K1-0411", "South rack"),
        ("K1-0421", "North rack"),
    ] {
        joints += &format!("{serial},drill pipe,yes,5,0.362,G-105,31,NC50,2025-01-01,{place}\n");
    }
    desk.write("joints.csv", joints);
    desk.run(&["load", "joints.csv"]).ok();
    let out = ["enter", "hire-out", "serial=K1-0421", "date=2026-01-01", "hire=H-1", "party=crew"];
    let more = ["location=Rig 9", "--insist=it is inspected there"];
    desk.run(&[&out[..], &more].concat()).ok();
    desk
}

fn serials(json: &serde_json::Value, table: &str, column: &str) -> Vec<String> {
    let rows = json[table].as_array().cloned().unwrap_or_default();
    rows.iter().map(|r| r[column].as_str().unwrap().to_owned()).collect()
}

#[test]
fn a_list_is_held_against_the_book() {
    let desk = yard();
    // 0402 lies there, 0411 by mistake, 0421 is back unsaid, 04O1 was read with a letter.
    desk.write("rack.txt", "K1-0402\nk1-0411\nK1-0421\nK1-04O1\nK1-0402\n");
    let ask = ["count", "rack.txt", "--at", "north  RACK"];
    let json = desk.run(&[&ask[..], &["--json"]].concat()).json();
    assert_eq!(serials(&json, "missing_joints", "serial"), ["K1-0401", "K1-0403"]);
    assert_eq!(serials(&json, "misplaced_joints", "serial"), ["K1-0411"]);
    assert_eq!(json["misplaced_joints"][0]["book_says"], "South rack");
    assert_eq!(serials(&json, "extra_joints", "serial"), ["K1-0421"]);
    assert_eq!(serials(&json, "unreadable_serials", "written"), ["K1-04O1"]);
    assert!(json["unreadable_serials"][0]["like"].as_str().unwrap().contains("K1-0401"));
    assert_eq!(serials(&json, "listed_twice", "serial"), ["K1-0402"]);
    assert_eq!(
        (json["count"]["found"].as_i64(), json["count"]["missing"].as_i64()),
        (Some(1), Some(2))
    );
    let text = desk.run(&ask).ok();
    assert!(text.contains("enter hire-in serial=K1-0421 hire=H-1"), "{text}");
    // Nothing was written.
    assert_eq!(desk.shown("serial = \"K1-0411\"", "location"), ["K1-0411 South rack"]);
}

#[test]
fn moves_settle_what_is_misplaced() {
    let desk = yard();
    desk.write(
        "racks.csv",
        "Serial,Location\nK1-0401,North rack\nK1-0402,South rack\nK1-0403,North rack\n\
         K1-0411,South rack\n",
    );
    let json = desk.run(&["count", "racks.csv", "--moves", "moves.csv", "--json"]).json();
    assert_eq!(serials(&json, "misplaced_joints", "serial"), ["K1-0402"]);
    let moves = std::fs::read_to_string(desk.path("moves.csv")).unwrap();
    assert!(moves.contains("K1-0402,") && moves.contains("South rack"), "{moves}");
    desk.run(&["load", "moves.csv", "--dry-run"]).ok();
    let dry = desk.run(&["count", "racks.csv", "--enter", "--dry-run"]).ok();
    assert!(dry.contains("dry run"), "{dry}");
    assert_eq!(desk.shown("serial = \"K1-0402\"", "location"), ["K1-0402 North rack"]);
    desk.run(&["count", "racks.csv", "--enter"]).ok();
    assert_eq!(desk.shown("serial = \"K1-0402\"", "location"), ["K1-0402 South rack"]);
    let text = desk.run(&["count", "racks.csv"]).ok();
    assert!(text.contains("the rack is as the book says"), "{text}");
    desk.run(&["verify"]).ok();
}

#[test]
fn a_count_needs_a_place_and_a_serial() {
    let desk = yard();
    desk.write("rack.txt", "K1-0402\n");
    let err = desk.run(&["count", "rack.txt"]).fails(2);
    assert!(err.contains("--at PLACE") && err.contains("South rack"), "{err}");
    desk.write("empty.txt", "\n");
    let err = desk.run(&["count", "empty.txt", "--at", "North rack"]).fails(3);
    assert!(err.contains("holds no serial"), "{err}");
}
