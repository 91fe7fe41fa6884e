//! Layouts: what is said once of how files under a header are read holds for the next ones under it, and
//! for no other.

use super::cli::Desk;
use super::ways_in::{RUN, rig};

const HEAD: &str = "Serial,Date,Methods,W,Crew\n";

/// The sheet of a shop that states no unit, and dates that read two ways.
fn sheet(serial: &str, date: &str, wall: &str) -> String {
    format!("{HEAD}{serial},{date},UT wall,{wall},Day\n")
}

const SAID: [&str; 4] = ["--columns", "W = wall [in]", "--date-order", "day-first"];

fn taught() -> Desk {
    let desk = rig();
    desk.write("march.csv", sheet("A-1", "4/3/2025", "0.350"));
    let out = desk.run(&[&["load", "march.csv"], &SAID[..]].concat()).ok();
    for words in ["are read so from now on", "'W' is wall [in]", "dates are day-first"] {
        assert!(out.contains(words), "{words}: {out}");
    }
    desk
}

/// Name of the one layout in force.
fn layout(desk: &Desk) -> String {
    let list = desk.run(&["layouts", "--json"]).ok();
    let list: serde_json::Value = serde_json::from_str(&list).unwrap();
    let rows = list["layouts"].as_array().unwrap();
    assert_eq!(rows.len(), 1, "{list}");
    rows[0]["entry"].as_str().unwrap().to_owned()
}

#[test]
fn the_next_file_under_the_same_header_just_loads_and_says_by_whose_layout() {
    let desk = taught();
    let name = layout(&desk);
    desk.write("april.csv", sheet("A-2", "5/4/2025", "0.340"));
    let plan = desk.run(&["load", "april.csv", "--plan"]).ok();
    assert!(plan.contains(&format!("by the layout {name} of")), "{plan}");
    assert!(plan.contains("wall [in]"), "{plan}");
    let out = desk.run(&["load", "april.csv"]).ok();
    assert!(out.contains(&format!("read by the layout {name} of")), "{out}");
    assert!(!out.contains("from now on"), "{out}");
    assert_eq!(desk.joints("wall < 0.345 in").yes, ["A-2"]);
    // The fifth of April.
    assert_eq!(
        desk.joints("any inspection (date >= 2025-04-05 and date < 2025-04-06)").yes,
        ["A-2"]
    );
    assert_eq!(layout(&desk), name);
    desk.run(&["verify"]).ok();
}

#[test]
fn a_layout_is_for_its_header_alone() {
    let desk = taught();
    for other in [
        "Serial,Date,Methods,W,Crew,Shop\nA-2,2025-04-05,UT wall,0.340,Day,x\n",
        "Serial,Date,Methods,Crew,W\nA-2,2025-04-05,UT wall,Day,0.340\n",
        "Serial,Date,Methods,w,Crew\nA-2,2025-04-05,UT wall,0.340,Day\n",
        "Serial,Date,Methods,W [mm],Crew\nA-2,2025-04-05,UT wall,0.340,Day\n",
        "Serial,Date,Methods,W,Crew\n,,,mm,\nA-2,2025-04-05,UT wall,0.340,Day\n",
    ] {
        desk.write("other.csv", other);
        let run = desk.run(&["load", "other.csv", "--dry-run"]);
        let said = format!("{}{}", run.out, run.err);
        assert!(!said.contains("by the layout"), "{other}: {said}");
        assert!(desk.joints("wall < 0.345 in").yes.is_empty());
    }
}

#[test]
fn what_is_said_with_a_load_stands_over_a_layout_and_is_the_next() {
    let desk = taught();
    desk.write("april.csv", sheet("A-2", "5/4/2025", "8.7"));
    let err = desk.run(&["load", "april.csv"]).fails(3);
    assert!(err.contains("8.7"), "{err}");
    desk.run(&["load", "april.csv", "--columns", "W = wall [mm]", "--once"]).ok();
    assert_eq!(desk.joints("wall < 0.343 in").yes, ["A-2"]);
    let before = layout(&desk);
    desk.write("may.csv", sheet("A-2", "5/5/2025", "8.6"));
    desk.run(&["load", "may.csv", "--columns", "W = wall [mm]"]).ok();
    assert_ne!(layout(&desk), before);
    desk.write("june.csv", sheet("A-2", "5/6/2025", "8.5"));
    let out = desk.run(&["load", "june.csv"]).ok();
    assert!(out.contains("'W' is wall [mm]"), "{out}");
}

#[test]
fn layouts_are_shown_changed_dropped_and_struck() {
    let desk = taught();
    let name = layout(&desk);
    let shown = desk.run(&["layouts", "show", &name]).ok();
    for words in ["wall", "day-first", "march.csv", "Crew", "not used", "said"] {
        assert!(shown.contains(words), "{words}: {shown}");
    }
    let change = |columns: &str| {
        desk.run(&["layouts", "change", &name, "--columns", columns, "--reason", "it is in mm"])
    };
    let err = change("W = wall [banana]").fails(2);
    assert!(err.contains("banana"), "{err}");
    let err = change("V = wall [mm]").fails(2);
    assert!(err.contains("'V'"), "{err}");
    assert_eq!(layout(&desk), name);
    change("W = wall [mm]").ok();
    let next = layout(&desk);
    desk.write("april.csv", sheet("A-2", "5/4/2025", "8.7"));
    desk.run(&["load", "april.csv"]).ok();
    assert_eq!(desk.joints("wall < 0.343 in").yes, ["A-2"]);
    // Struck, the one before it holds again.
    desk.run(&["strike", &next, "--reason", "no"]).ok();
    assert_eq!(layout(&desk), name);
    desk.run(&["layouts", "drop", &name, "--reason", "another sheet now"]).ok();
    assert!(desk.run(&["layouts"]).ok().contains("no layout"));
    desk.write("may.csv", sheet("A-2", "5/6/2025", "0.340"));
    let err = desk.run(&["load", "may.csv"]).fails(3);
    assert!(err.contains("which number is the day"), "{err}");
    desk.run(&["layouts", "show", &name]).fails(2);
}

#[test]
fn a_log_of_a_run_is_read_by_its_layout() {
    let desk = rig();
    let log = |hour: usize| {
        let mut out = "time,bit depth [m],hole depth [m],Surface turns\n".to_owned();
        for n in 0..361 {
            let (m, s) = (n / 6 % 60, n % 6 * 10);
            out += &format!("2025-03-04T{:02}:{m:02}:{s:02}Z,500,500,60\n", hour + n / 360);
        }
        out
    };
    desk.write("log.csv", log(6));
    let columns = "\"Surface turns\" = rpm [rpm]";
    let out = desk.run(&["load", "run.toml", "--columns", columns]).ok();
    assert!(out.contains("from now on"), "{out}");
    desk.write("log2.csv", log(9));
    desk.write("run2.toml", RUN.replace("R1", "R2").replace("log.csv", "log2.csv"));
    let out = desk.run(&["load", "run2.toml"]).ok();
    assert!(out.contains("read by the layout"), "{out}");
    assert_eq!(desk.shown("serial = \"A-1\"", "revolutions").join(""), "A-1 7200");
}

#[test]
fn a_bundle_carries_layouts() {
    let desk = taught();
    desk.run(&["bundle", "out", "yard.bundle"]).ok();
    let rig = ["--book", "rig.book"];
    desk.run(&["new", "rig.book", "--site", "rig-9"]).ok();
    desk.run(&[&["bundle", "in", "yard.bundle"], &rig[..]].concat()).ok();
    desk.write("april.csv", sheet("A-2", "5/4/2025", "0.340"));
    let out = desk.run(&[&["load", "april.csv"], &rig[..]].concat()).ok();
    assert!(out.contains("read by the layout yard-"), "{out}");
}
