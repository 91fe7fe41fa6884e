//! What a joint was when a record was, the record before the latest, and records in a row: entered by
//! command, asked by command.

use super::order::{enter, holds, run, yard};

#[test]
fn a_joint_is_asked_what_it_was_when_a_run_began() {
    let desk = yard();
    enter(&desk, "move; serial=A-1; date=2024-01-20; location=Rig 9");
    enter(&desk, "inspection; serial=A-1; date=2024-03-01; methods=UT wall; wall=97 %");
    enter(&desk, "move; serial=A-1; date=2024-03-10; location=Rig 14; string=S2");
    enter(&desk, "inspection; serial=A-1; date=2024-03-20; methods=UT wall; wall=92 %");
    run(&desk, "R2", "2024-04-01T00:00:00Z", "2024-04-04T00:00:00Z");
    holds(
        &desk,
        &[
            "any run (location at that time = \"rig  9\" and name = \"R1\")",
            "any run (string at that time = \"S2\" and location at that time = \"Rig 14\")",
            "no run (location at that time = \"Yard\")",
            "any run (wall at that time < 93 %)",
            "any run (wall at that time is unknown)",
            "any inspection (joint.location at that time = \"Rig 9\" and wall > 95 %)",
            "location as of 2024-01-25 = \"Rig 9\" and wall as of 2024-03-05 > 96 %",
            "no run (open_findings at that time > 0)",
        ],
        // Nobody had read the wall when the first run began.
        &["no run (wall at that time > 98 %)", "every run (wall at that time < 93 %)"],
        &["any run (string at that time = \"S1\" and location at that time = \"Rig 14\")"],
    );
}

#[test]
fn what_a_move_in_conflict_said_is_not_known_at_that_time() {
    let desk = yard();
    enter(&desk, "hire-out; serial=A-1; date=2024-02-20; hire=H1; party=P; location=Rig 9");
    run(&desk, "R2", "2024-04-01T00:00:00Z", "2024-04-04T00:00:00Z");
    holds(&desk, &["any run (location at that time = \"Rig 9\")"], &[], &[]);
    // The second hire excludes the first: where the joint was in between nobody knows.
    enter(&desk, "hire-out; serial=A-1; date=2024-05-01; hire=H2; party=Q; location=Rig 14");
    holds(&desk, &[], &["any run (location at that time = \"Rig 9\")"], &[]);
}

#[test]
fn the_record_before_the_latest_is_asked_for() {
    let desk = yard();
    enter(&desk, "inspection; serial=A-1; date=2024-03-01; methods=UT wall; wall=97 %");
    holds(
        &desk,
        &[],
        &["wall of previous inspection > 90 %"],
        &["previous inspection (wall > 90 %)"],
    );
    enter(&desk, "inspection; serial=A-1; date=2024-03-20; methods=UT wall; wall=92 %");
    enter(&desk, "inspection; serial=A-1; date=2024-04-20; methods=visual tube");
    holds(
        &desk,
        &[
            "wall of previous inspection (wall is not unknown) = 97 %",
            "wall of inspection before last = 92 %",
            "previous inspection (wall < 93 %)",
            "wall of previous inspection (wall is not unknown) - wall of latest inspection \
             (wall is not unknown) > 4.9 %",
            "date of previous inspection since 2024-03-05 = 2024-03-20",
        ],
        &["wall of previous inspection since 2024-04-01 > 10 %"],
        &["previous inspection (wall > 95 %)"],
    );
}

#[test]
fn the_records_that_may_be_the_one_before_the_latest_are_told() {
    let desk = yard();
    run(&desk, "R2", "2024-04-01T00:00:00Z", "2024-04-04T00:00:00Z");
    run(&desk, "R3", "2024-05-01T00:00:00Z", "2024-05-04T00:00:00Z");
    let told = |filter: &str| {
        let why = desk.run(&["why", "A-1", filter, "--json"]).json();
        let shown = why["why"]["answers"]["shown"].as_array().unwrap();
        let names = shown.iter().map(|record| record["name"].as_str().unwrap().to_owned());
        (why["why"]["verdict"].as_str().unwrap().to_owned(), names.collect::<Vec<_>>())
    };
    let both = |verdict: &str, names: &[&str]| {
        (verdict.to_owned(), names.iter().map(|&name| name.to_owned()).collect::<Vec<_>>())
    };
    assert_eq!(told("previous run (name = \"R2\")"), both("true", &["R2"]));
    // It cannot have been handled at the yard while it was in the hole: the last run may not count.
    enter(&desk, "move; serial=A-1; date=2024-05-02; location=Yard");
    assert_eq!(told("previous run (name = \"R2\")"), both("unknown", &["R2", "R1"]));
    assert_eq!(told("latest run (name = \"R2\")"), both("unknown", &["R3", "R2"]));
    assert_eq!(told("first run (name = \"R1\")"), both("true", &["R1"]));
}

#[test]
fn records_in_a_row_have_none_of_their_kind_between_them() {
    let desk = yard();
    for (at, who) in
        [("03-01", "N"), ("03-10", "L"), ("03-20", "N"), ("03-28", "L"), ("04-20", "L")]
    {
        let entry =
            format!("inspection; serial=A-1; date=2024-{at}; methods=UT wall; inspector={who}");
        enter(&desk, &entry);
    }
    holds(
        &desk,
        &[
            "any two inspections in a row (inspector = \"L\")",
            "any 4 inspections in a row (date > 2024-03-05)",
            "no 3 inspections in a row (inspector = \"L\")",
            "no 2 inspections in a row (inspector = \"L\") before 2024-04-01",
        ],
        &[],
        &["any 2 inspections in a row (inspector = \"N\")", "any 2 runs in a row (hours > 1 h)"],
    );
    // Of a joint that nobody kept a book of for a while, nobody knows what lay in between.
    desk.write("gap.csv", "Serial,From,Until\nA-1,2024-04-01,2024-04-10\n");
    desk.run(&["load", "--as", "gap", "gap.csv"]).ok();
    holds(
        &desk,
        &["any 4 inspections in a row (date > 2024-03-05) before 2024-04-22 or hours >= 0 h"],
        &[
            "any two inspections in a row (inspector = \"L\")",
            "no 3 inspections in a row (inspector = \"L\")",
        ],
        &[],
    );
}

#[test]
fn a_window_may_end_before_a_record() {
    let desk = yard();
    run(&desk, "R2", "2024-04-01T00:00:00Z", "2024-04-04T00:00:00Z");
    enter(&desk, "event; serial=A-1; date=2024-03-01; event=jarring");
    enter(&desk, "inspection; serial=A-1; date=2024-03-01; methods=UT wall; wall=97 %");
    holds(
        &desk,
        &[
            "hours before last event (what = jarring) = 24 h",
            "count runs before last event = 1",
            "no inspection before last event",
            "any event before last inspection",
            "any inspection before last run",
            "count runs before last run = 1 and hours before first run = 0 h",
            "no repair before last failure",
        ],
        // It never failed: nobody can tell what was before that.
        &["any run before last failure", "hours before last failure > 10 h"],
        &["any run (name = \"R2\") before last event", "hours before last failure > 60 h"],
    );
    // An event within a run divides it; what a move in conflict would end, nobody knows.
    enter(&desk, "event; serial=A-1; date=2024-04-01T12:00:00Z; event=jarring");
    holds(
        &desk,
        &[
            "hours before last event between 35.9 h and 36.1 h",
            "hours before first event = 24 h",
            "max_dogleg of latest run before last event > 0.1 deg/100ft",
        ],
        &[],
        &["count runs before first event > 1"],
    );
}
