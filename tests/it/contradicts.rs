//! Files that cannot mean what they say: refused with what is wrong, or said beside what was taken in.

use super::cli::Desk;
use super::ways_in::{JOINTS, RUN, TALLY, rig};

fn load(text: &str) -> (Desk, super::cli::Ran) {
    let desk = Desk::with_book();
    desk.write("f.csv", text);
    let ran = desk.run(&["load", "f.csv"]);
    (desk, ran)
}

/// What stands in the place of a log.
const SUMMARY: &str =
    "hours = '10 h'\nrotary_speed = '60 rpm'\ndepth_in = '500 m'\ndepth_out = '510 m'\n";

fn without_log() -> String {
    RUN.replace("log = 'log.csv'\n", SUMMARY)
}

const PIPE: &str = "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Length [m],TJ OD [in],TJ ID [in],Received\n";

/// A line of a list of pipe: serial, weight, outside diameter and bore of the tool joint.
fn pipe(serial: &str, weight: &str, tool_joint: &str) -> String {
    format!("{serial},drill pipe,yes,5,.362,{weight},9.5,{tool_joint},2025-01-05\n")
}

#[test]
fn a_serial_that_a_spreadsheet_rounded_is_no_serial() {
    let (desk, ran) = load(&(PIPE.to_owned() + &pipe("1.23E+05", "19.5", "6.625,3.25")));
    let err = ran.fails(3);
    assert!(
        err.contains("took for a number and rounded") && err.contains("formatted as text"),
        "{err}"
    );
    // Letters and signs of other serials are theirs.
    let rows = ["1E5", "E+05", "12E+05", "A1.2E+05"];
    let rows = rows.map(|serial| pipe(serial, "19.5", "6.625,3.25")).concat();
    desk.write("f.csv", format!("{PIPE}{rows}"));
    desk.run(&["load", "f.csv"]).ok();
}

#[test]
fn a_weight_that_no_tube_of_its_size_has_is_said() {
    // 19.5 lb/ft is 29.02 kg/m; a plain tube of 5 in and 0.362 in weighs 17.93 lb/ft.
    for (weight, share) in [
        ("29.02", Some("1.62 times")),
        ("13.1", Some("0.73 times")),
        ("19.5", None),
        ("23.5", None),
    ] {
        let (_, ran) = load(&(PIPE.to_owned() + &pipe("A-1", weight, "6.625,3.25")));
        let out = ran.ok();
        assert_eq!(share.is_some(), out.contains("that of a steel tube"), "{weight}: {out}");
        assert!(share.is_none_or(|s| out.contains(s)), "{weight}: {out}");
    }
}

#[test]
fn a_tool_joint_is_wider_than_its_bore() {
    let (_, ran) = load(&(PIPE.to_owned() + &pipe("A-1", "19.5", "3.25,6.625")));
    let err = ran.fails(3);
    assert!(
        err.contains("the bore of the tool joint is not under") && err.contains("wrong way round"),
        "{err}"
    );
}

#[test]
fn a_file_that_ends_within_a_number_is_said_to() {
    let desk = Desk::with_book();
    desk.write("joints.csv", JOINTS);
    desk.run(&["load", "joints.csv"]).ok();
    let said = |last: &str| {
        desk.write("i.csv", format!("Serial,Date,Wall [in]\nA-1,2025-04-01,0.351\nA-1,2025-04-02,0.350\nA-2,2025-04-01,{last}"));
        desk.run(&["load", "i.csv", "--dry-run"]).ok().contains("may be cut off there")
    };
    assert!(said("0.3") && said("0.34"));
    assert!(!said("0.345") && !said("0.34\n"));
}

#[test]
fn of_two_speeds_of_one_name_nobody_says_which_turned_the_pipe() {
    let desk = rig();
    let row = |n: usize| {
        let (h, m, s) = (6 + n / 360, n / 6 % 60, n % 6 * 10);
        format!("2025-03-04T{h:02}:{m:02}:{s:02}Z,500,500,0,60")
    };
    let rows = (0..361).map(row).collect::<Vec<_>>().join("\n");
    desk.write("log.csv", format!("time,bit depth [m],hole depth [m],RPM,rpm\n{rows}\n"));
    desk.write("run.toml", RUN);
    let err = desk.run(&["load", "run.toml"]).fails(3);
    assert!(err.contains("columns 4 and 5 are both called"), "{err}");
    desk.write(
        "run.toml",
        format!("{RUN}log_columns = \"time, bit_depth [m], depth [m], -, rpm [rpm]\"\n"),
    );
    desk.run(&["load", "run.toml"]).ok();
    assert_eq!(desk.shown("serial = \"A-1\"", "revolutions").join(""), "A-1 3600");
}

/// Rows of ten seconds of an hour, of bit and hole so much below the surface.
fn hour(head: &str, time: impl Fn(usize) -> String, (bit, hole): (f64, f64)) -> String {
    let row = |n: usize| {
        let more = n as f64 * 0.01;
        format!("{},{:.2},{:.2},60\n", time(n), bit + more, hole + more)
    };
    format!("{head},bit depth [m],hole depth [m],rpm\n")
        + &(0..361).map(row).collect::<Vec<_>>().concat()
}

#[test]
fn a_bit_below_the_bottom_of_its_hole_is_said() {
    let stamp =
        |n: usize| format!("2025-03-04T{:02}:{:02}:{:02}Z", 6 + n / 360, n / 6 % 60, n % 6 * 10);
    for (bit, hole, is_said) in [(523.0, 500.0, true), (500.0, 523.0, false), (501.0, 500.0, false)]
    {
        let desk = rig();
        desk.write("log.csv", hour("time", stamp, (bit, hole)));
        let out = desk.run(&["load", "run.toml"]).ok();
        let said = "the bit stands up to 23 m below the bottom of the hole, in 361 of 361 rows";
        assert_eq!(out.contains(said), is_said, "{bit} {hole}: {out}");
    }
}

#[test]
fn a_log_by_elapsed_time_that_covers_a_part_of_its_run_is_incomplete() {
    let desk = rig();
    desk.write("log.csv", hour("elapsed [s]", |n| (n * 10).to_string(), (500.0, 500.0)));
    desk.write("run.toml", RUN.replace("end = 2025-03-04", "end = 2025-03-06"));
    let out = desk.run(&["load", "run.toml"]).ok();
    assert!(
        out.contains("the log ends 1.0 h after the run began, and the run lasts 72.0 h"),
        "{out}"
    );
    assert_eq!(desk.shown("serial = \"A-1\"", "revolutions").join(""), "A-1 ≥ 3600");
    // Within a day nobody can say when it began.
    let desk = rig();
    desk.write("log.csv", hour("elapsed [s]", |n| (n * 10).to_string(), (500.0, 500.0)));
    desk.run(&["load", "run.toml"]).ok();
    assert_eq!(desk.shown("serial = \"A-1\"", "revolutions").join(""), "A-1 3600");
}

#[test]
fn a_hole_that_begins_at_a_slant_is_said_to() {
    let survey = |rows: &str| {
        let (_, ran) =
            load(&format!("Well:,Far 2,\nDate:,2025-02-01,\nMD [m],Inc [deg],Azi [deg]\n{rows}"));
        ran.ok()
    };
    let turned = survey("0,45,0\n300,45,0\n600,46,10\n");
    assert!(turned.contains("begins at an inclination of 45 deg"), "{turned}");
    for rows in ["0,0,45\n300,0,45\n600,10,46\n", "1500,45,10\n1530,46,11\n"] {
        assert!(!survey(rows).contains("begins at an inclination"), "{rows}");
    }
}

#[test]
fn whether_joints_that_were_laid_down_ran_is_asked_once() {
    let head = "Serial,Component,Length [m],OD [mm],ID [mm],Remark\n,bit,0.3,,,\n,drill collar,54,165.1,71.4,\nA-1,,9.5,,,\n";
    let tallies = [
        format!("{head}A-2,,9.6,,,laid down: bent\n"),
        format!("{head}Laid down,,,,,\nA-2,,9.6,,,\n"),
        format!("{}\n", head.replace("Remark", "Laid down") + "A-2,,9.6,,,x"),
    ];
    let run = without_log();
    for tally in tallies {
        let ran = |stated: &str| {
            let desk = rig();
            desk.write("tally.csv", &tally);
            desk.write("run.toml", format!("{run}\n{stated}"));
            let ran = desk.run(&["load", "run.toml"]);
            (desk, ran)
        };
        let err = ran("").1.fails(3);
        assert!(
            err.contains("laid down, as the tally has it: row")
                && err.contains("laid_down = \"out\""),
            "{err}"
        );
        let (desk, out) = ran("laid_down = \"out\"\n");
        assert!(out.ok().contains("not in the string, as the run states"));
        assert_eq!(desk.joints("any run (hours > 0 h)").yes, ["A-1"], "{tally}");
        let (desk, out) = ran("laid_down = \"in\"\n");
        assert!(out.ok().contains("counted in the string"));
        assert_eq!(desk.joints("any run (hours > 0 h)").yes, ["A-1", "A-2"], "{tally}");
        assert!(ran("laid_down = \"perhaps\"\n").1.fails(3).contains("does not say where"));
    }
}

#[test]
fn a_length_in_a_tally_is_held_against_the_certificate() {
    let said = |length: &str| {
        let desk = rig();
        desk.write("tally.csv", TALLY.replace("A-1,,,,9.5", &format!("A-1,,,,{length}")));
        desk.write("run.toml", without_log());
        desk.run(&["load", "run.toml"])
    };
    let err = said("28.5").fails(3);
    assert!(
        err.contains("A-1 is 28.5 m long here and 9.5 m by its certificate")
            && err.contains("stand"),
        "{err}"
    );
    assert!(said("10.4").ok().contains("A-1 is 10.4 m long here"));
    // Recut twice since.
    assert!(!said("9.2").ok().contains("long here"));
}

#[test]
fn a_torque_that_makes_up_no_tool_joint_is_in_another_unit() {
    let desk = Desk::with_book();
    desk.write("joints.csv", JOINTS);
    desk.run(&["load", "joints.csv"]).ok();
    desk.write("m.csv", "Date,Pin,Box,Torque [ft.lb]\n2025-03-01,A-1,A-2,40\n");
    let err = desk.run(&["load", "m.csv"]).fails(3);
    assert!(err.contains("no torque that makes a tool joint up"), "{err}");
    desk.write("m.csv", "Date,Pin,Box,Torque [kN.m]\n2025-03-01,A-1,A-2,40\n");
    desk.run(&["load", "m.csv"]).ok();
}

#[test]
fn more_metal_than_such_work_takes_is_said() {
    let desk = Desk::with_book();
    desk.write("joints.csv", JOINTS);
    desk.run(&["load", "joints.csv"]).ok();
    let said = |work: &str, removed: &str| {
        desk.write(
            "r.csv",
            format!("Serial,Date,Work,End,Removed [in]\nA-1,2025-03-01,{work},pin,{removed}\n"),
        );
        desk.run(&["load", "r.csv", "--dry-run"]).ok().contains("that takes")
    };
    assert!(said("recut", "25") && said("reface", "1.5"));
    assert!(!said("recut", "1.5") && !said("reface", "0.06") && !said("cut_back", "25"));
}

#[test]
fn a_list_of_runs_has_its_speed_in_turns_a_minute() {
    let desk = rig();
    desk.write(
        "runs.csv",
        "Run,Well,Tally,From,To,Hours,RPM,Depth in [m],Depth out [m]\n\
         R1,Larkfield 1H,tally.csv,2025-03-04,2025-03-04,10,60,500,520\n",
    );
    desk.run(&["load", "runs.csv"]).ok();
    assert_eq!(desk.joints("any run (run_revolutions = 36000)").yes, ["A-1", "A-2"]);
    let more = std::fs::read_to_string(desk.path("runs.csv")).unwrap();
    desk.write(
        "runs.csv",
        more.replace("R1", "R2").replace("03-04,10", "03-04,25").replace("03-04", "03-07"),
    );
    let err = desk.run(&["load", "runs.csv"]).fails(3);
    assert!(err.contains("25 h of rotation are more than there are from 2025-03-07"), "{err}");
}

#[test]
fn what_a_workbook_hides_or_rounds_is_said() {
    let desk = Desk::with_book();
    let workbook = |serial: f64, is_hidden: bool| {
        let mut book = rust_xlsxwriter::Workbook::new();
        let sheet = book.add_worksheet();
        let titles =
            ["Serial", "Component", "New", "OD [in]", "Wall [in]", "Length [m]", "Received"];
        for (at, title) in (0u16..).zip(titles) {
            sheet.write(0, at, title).unwrap();
        }
        sheet.write(1, 0, serial).unwrap().write(1, 1, "drill pipe").unwrap();
        sheet.write(1, 2, "yes").unwrap().write(1, 3, 5).unwrap().write(1, 4, 0.362).unwrap();
        sheet.write(1, 5, 9.5).unwrap().write(1, 6, "2025-01-05").unwrap();
        if is_hidden {
            sheet.set_column_hidden(4).unwrap();
        }
        book.save(desk.path("p.xlsx")).unwrap();
        desk.run(&["load", "p.xlsx"])
    };
    let err = workbook(12_345_678_901_234_567.0, false).fails(3);
    assert!(err.contains("took for a number and rounded"), "{err}");
    let out = workbook(123_456.0, true).ok();
    assert!(out.contains("hidden, and read like the others: column E"), "{out}");
    assert_eq!(desk.joints("nominal_wall = 0.362 in").yes, ["123456"]);
}
