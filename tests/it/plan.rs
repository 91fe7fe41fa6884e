//! `load` of folders and of many files: looked at first, in any order, all of it or nothing.

use super::cli::Desk;

const JOINTS: &str = "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [m],Connection,TJ OD [in],TJ ID [in],Received\n\
A-1,drill pipe,yes,5,.362,19.50,G-105,9.5,NC50,6 5/8,3 1/4,2025-01-05\n\
A-2,drill pipe,yes,5,.362,19.50,G-105,9.6,NC50,6 5/8,3 1/4,2025-01-05\n";
const SURVEY: &str = "Well:,Larkfield 1H,\nDate:,2025-02-01,\nMD [m],Inc [deg],Azi [deg]\n0,0,0\n300,0,0\n600,10,45\n";
const TALLY: &str = "serial,component,part,count,length [m],od [mm],id [mm],air weight [kg/m]\n\
    ,bit,PDC,,0.3,,,\n,drill collar,,20,9.4,165.1,71.4,136\nA-1,,,,9.5,,,\nA-2,,,,9.6,,,\n";
const RUN: &str = "name = 'R1'\nwell = 'Larkfield 1H'\nstart = 2025-03-04\nend = 2025-03-05\ntally = 'tally.csv'\n\
    hours = '20 h'\nrotary_speed = '100 rpm'\ndepth_in = '350 m'\ndepth_out = '390 m'\n";
const INSPECTION: &str = "Serial,Date,Methods,Wall [in]\nA-1,2025-04-01,UT wall,0.350\n";

/// A folder of a rig: its files are named so that none comes first that others need.
fn folder() -> Desk {
    let desk = Desk::with_book();
    std::fs::create_dir_all(desk.path("in/runs")).unwrap();
    desk.write("in/a-inspection.csv", INSPECTION);
    desk.write("in/runs/b-run.toml", RUN);
    desk.write("in/runs/tally.csv", TALLY);
    desk.write("in/y-survey.csv", SURVEY);
    desk.write("in/z-joints.csv", JOINTS);
    desk.write("in/notes.pdf", "%PDF");
    desk
}

#[test]
fn a_folder_comes_in_in_the_order_in_which_its_files_need_each_other() {
    let desk = folder();
    let plan = desk.run(&["load", "in", "--plan"]).ok();
    for words in
        ["read with the run that names it", "its header names", "md [m]", "0, 300, 600", "dry run"]
    {
        assert!(plan.contains(words), "{words}: {plan}");
    }
    assert!(!plan.contains("notes.pdf"), "{plan}");
    let entries = || desk.run(&["entries", "--json"]).ok().matches("\"kind\"").count();
    let before = entries();
    desk.run(&["load", "in"]).ok();
    assert_eq!(entries(), before + 5);
    assert_eq!(desk.joints("hours >= 20 h").yes, ["A-1", "A-2"]);
    let again = desk.run(&["load", "in"]).ok();
    assert!(again.contains("taken in before"), "{again}");
    desk.run(&["due"]).ok();
}

#[test]
fn nothing_of_a_folder_is_written_when_one_file_is_refused() {
    let desk = folder();
    desk.write("in/bad.csv", "Serial,Date,Methods,Wall\nA-1,2025-04-01,UT wall,0.350\n");
    desk.write("in/worse.csv", "Serial,Date,Methods,Wall [in]\nA-9,2025-04-01,UT wall,0.350\n");
    let err = desk.run(&["load", "in"]).fails(3);
    assert!(err.contains("bad.csv") && err.contains("worse.csv") && err.contains("A-9"), "{err}");
    assert_eq!(desk.joints("component = drill_pipe").yes, Vec::<String>::new());
    // What no file says is said in a file of answers.
    desk.write(
        "answers.toml",
        "['bad.csv']\ncolumns = '\"Wall\" = wall [in]'\n['worse.csv']\nleave = true\n",
    );
    let out = desk.run(&["load", "in", "--answers", "answers.toml"]).ok();
    assert!(out.contains("left out, as it is said"), "{out}");
    desk.run(&["verify"]).ok();
}

#[test]
fn files_may_be_given_in_any_order() {
    let desk = folder();
    let files = ["in/a-inspection.csv", "in/runs/b-run.toml", "in/y-survey.csv", "in/z-joints.csv"];
    desk.run(&[&["load"], &files[..]].concat()).ok();
    let other = folder();
    let turned: Vec<&str> = files.iter().rev().copied().collect();
    other.run(&[&["load"], &turned[..]].concat()).ok();
    let said =
        |desk: &Desk| desk.run(&["find", "hours > 0 h", "--show", "serial, hours, wall"]).ok();
    assert_eq!(said(&desk), said(&other));
}

#[test]
fn a_part_that_no_run_names_is_left_out_and_said() {
    let desk = folder();
    desk.write(
        "in/lost.csv",
        "time,bit depth [m],hole depth [m],rpm\n2025-03-04T06:00:00Z,5,5,60\n",
    );
    let out = desk.run(&["load", "in"]).ok();
    assert!(out.contains("no run here names this log"), "{out}");
}

/// The samples are the yard of the demo, file by file: taken in together they say the same.
#[test]
fn the_folder_of_samples_comes_in_at_once() {
    let desk = Desk::with_book();
    let samples = concat!(env!("CARGO_MANIFEST_DIR"), "/samples");
    desk.run(&["load", samples]).ok();
    assert!(desk.joints("hours > 0 h").yes.len() > 100);
    let due = desk.run(&["due", "--json"]).ok();
    assert!(due.contains("K1-"), "{due}");
    desk.run(&["verify"]).ok();
}
