//! Habits of real yards and rigs in the files that they keep: each loads as it is meant, or is refused with
//! words that, followed to the letter, load it.

use std::fmt::Write as _;

use rust_xlsxwriter::{Format, Workbook, Worksheet};

use super::cli::Desk;
use super::messy::{book, fill};
use super::ways_in::{RUN, rig};

fn yard() -> Desk {
    let desk = Desk::with_book();
    let mut joints = "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [m],Connection,TJ OD [in],TJ ID [in],Received\n".to_owned();
    for serial in ["A-1", "A-2", "A-3", "00123"] {
        writeln!(
            joints,
            "{serial},drill pipe,yes,5,.362,19.5,G-105,9.5,NC50,6 5/8,3 1/4,2025-01-05"
        )
        .unwrap();
    }
    desk.write("joints.csv", joints);
    desk.run(&["load", "joints.csv"]).ok();
    desk
}

/// Loads a text as it is.
fn load(desk: &Desk, text: &str) -> super::cli::Ran {
    desk.write("f.csv", text);
    desk.run(&["load", "f.csv"])
}

/// Merges cells of a column over rows, with a text; rows and columns from 0.
fn merge(sheet: &mut Worksheet, column: u16, rows: (u32, u32), text: &str) {
    sheet.merge_range(rows.0, column, rows.1, column, text, &Format::new()).unwrap();
}

#[test]
fn a_serial_merged_over_the_rows_of_its_ends_is_that_of_each() {
    let desk = yard();
    let rows: [&[&str]; 5] = [
        &["Serial", "Date", "End", "TJ OD [in]", "Wall [in]"],
        &["", "", "pin", "6.6", ""],
        &["", "", "box", "6.5", ""],
        &["", "", "pin", "6.6", ""],
        &["", "", "box", "6.4", ""],
    ];
    book(&desk, "i.xlsx", &rows, |sheet| {
        merge(sheet, 0, (1, 2), "A-1");
        merge(sheet, 0, (3, 4), "A-2");
        merge(sheet, 1, (1, 4), "2025-04-01");
        // Of the joint, not of each of its ends.
        merge(sheet, 4, (1, 2), "0.35 in");
    });
    let out = desk.run(&["load", "i.xlsx"]).ok();
    assert!(
        out.contains("'Serial' is what stands above (merged with it, or ditto) in rows 3, 5"),
        "{out}"
    );
    assert_eq!(desk.joints("box_od < 6.45 in and pin_od > 6.55 in").yes, ["A-2"]);
    assert_eq!(desk.shown("wall > 0 %", "wall"), ["A-1 96.6850828"]);
}

#[test]
fn a_number_merged_over_rows_of_several_joints_is_nobodys() {
    let desk = yard();
    let rows: [&[&str]; 4] = [&["Serial", "Date", "Run", "Hours"], &["A-1"], &["A-2"], &["A-3"]];
    let sheet = |hours: bool| {
        book(&desk, "h.xlsx", &rows, |sheet| {
            merge(sheet, 1, (1, 3), "2025-04-01");
            merge(sheet, 2, (1, 3), "R9");
            if hours {
                merge(sheet, 3, (1, 3), "36");
            } else {
                for row in 1..4 {
                    sheet.write(row, 3, f64::from(row)).unwrap();
                }
            }
        });
    };
    sheet(true);
    let err = desk.run(&["load", "h.xlsx"]).fails(3);
    assert!(err.contains("nobody says whether '36' is of each or of all together"), "{err}");
    assert!(desk.run(&["load", "h.xlsx", "--partial"]).code != 0, "none of the rows has hours");
    sheet(false);
    desk.run(&["load", "h.xlsx"]).ok();
    assert_eq!(desk.joints("hours >= 2 h").yes, ["A-2", "A-3"]);
}

#[test]
fn an_empty_cell_repeats_nothing_and_ditto_says_that_it_does() {
    let desk = yard();
    let err =
        load(&desk, "Serial,Date,End,TJ OD [in]\nA-1,2025-04-01,pin,6.6\n,,box,6.5\n").fails(3);
    assert!(err.contains("an empty cell does not repeat the one above it"), "{err}");
    load(&desk, "Serial,Date,End,TJ OD [in]\nA-1,2025-04-01,pin,6.6\nditto,\"\"\"\",box,6.5\n")
        .ok();
    assert_eq!(desk.joints("box_od < 6.55 in").yes, ["A-1"]);
    let err = load(&desk, "Serial,Date,Wall [in]\nditto,2025-04-01,.35\n").fails(3);
    assert!(err.contains("'ditto' stands for what is above it, and nothing is there"), "{err}");
}

#[test]
fn a_table_of_hires_tells_what_came_back() {
    for table in [
        "Serial,Hire,Customer,Date out,Date back,Returned to\nA-1,H1,Nor,2025-02-01,2025-03-01,Yard\nA-2,H1,Nor,2025-02-01,still out,\n",
        "Date,In/Out,Serial,Rental no,Client,Back to\n2025-02-01,out,A-1; A-2,H1,Nor,\n2025-03-01,in,A-1,H1,,Yard\n",
    ] {
        let desk = yard();
        let out = load(&desk, table).ok();
        assert!(out.contains("rows that tell of a return: 1"), "{out}");
        assert_eq!(desk.joints("status = on_hire").yes, ["A-2"], "{table}");
        assert_eq!(desk.joints("location = \"Yard\"").yes, ["A-1"], "{table}");
    }
    // Returns by themselves, under the titles of the table of hires.
    let desk = yard();
    load(&desk, "Serial,Hire,Party,Out\nA-1,H1,Nor,2025-02-01\nA-2,H1,Nor,2025-02-01\n").ok();
    load(&desk, "Serial,Hire,Customer,Returned\nA-1,H1,Nor,2025-03-01\n").ok();
    assert_eq!(desk.joints("status = on_hire").yes, ["A-2"]);
    let err =
        load(&desk, "Serial,Hire,Customer,Date out,Date back\nA-3,H2,Nor,2025-03-01,2025-02-01\n");
    assert!(err.fails(3).contains("come back on 2025-02-01, before they go out"));
    let err = load(&desk, "Date,In/Out,Serial,Rental no\n2025-04-01,out,A-3,H3\n").fails(3);
    assert!(err.contains("went out") && err.contains("--as hire_out --set party="), "{err}");
}

#[test]
fn a_column_of_status_says_which_joints_of_a_tally_ran() {
    let tally = |status: [&str; 3]| {
        let [one, two, bit] = status;
        format!(
            "Serial,Component,Length [m],OD [mm],ID [mm],Status\n,bit,0.3,,,{bit}\n,drill collar,480,165.1,71.4,{bit}\n\
             A-1,,9.5,,,{one}\nA-2,,9.6,,,{two}\n"
        )
    };
    let log = "hours = '10 h'\nrotary_speed = '60 rpm'\ndepth_in = '500 m'\ndepth_out = '510 m'\n";
    let ran = |status, stated: &str| {
        let desk = rig();
        desk.write("tally.csv", tally(status));
        desk.write("run.toml", format!("{}{stated}", RUN.replace("log = 'log.csv'\n", log)));
        let ran = desk.run(&["load", "run.toml"]);
        (desk, ran)
    };
    let turned = |desk: &Desk| desk.joints("any run (hours > 0 h)").yes;
    for never in ["not run", "spare", "not in hole"] {
        let (desk, out) = ran(["in hole", never, "in hole"], "");
        let out = out.ok();
        assert!(out.contains("never in the hole by the column of status"), "{out}");
        assert!(!out.contains("columns not used: Status"), "{out}");
        assert_eq!(turned(&desk), ["A-1"], "{never}");
    }
    for laid in ["LD", "laid down", "L/D"] {
        assert!(ran(["in hole", laid, "in hole"], "").1.fails(3).contains("laid_down = \"out\""));
        assert_eq!(turned(&ran(["in hole", laid, "in hole"], "laid_down = 'out'\n").0), ["A-1"]);
        assert_eq!(turned(&ran(["", laid, ""], "laid_down = 'in'\n").0), ["A-1", "A-2"]);
    }
    // Words about something else are named as before; beside words about the hole they are asked for.
    assert!(ran(["ok", "new", ""], "").1.ok().contains("columns not used: Status"));
    for odd in ["bent", ""] {
        let err = ran(["in hole", odd, "in hole"], "").1.fails(3);
        assert!(err.contains("whether the part was in the hole is not told"), "{err}");
    }
    let (desk, out) = ran(["in hole", "bent", "in hole"], "tally_columns = '\"Status\" = -'\n");
    out.ok();
    assert_eq!(turned(&desk), ["A-1", "A-2"]);
}

/// An hour of rows of ten seconds, with the bit at a depth.
fn hour(head: &str, time: impl Fn(usize) -> String, depth: &str) -> String {
    let rows = (0..361).map(|n| format!("{},{depth},{depth},60\n", time(n)));
    format!("{head}\n{}", rows.collect::<String>())
}

fn clock(n: usize) -> String {
    format!("{:02}:{:02}:{:02}", 6 + n / 360, n / 6 % 60, n % 6 * 10)
}

const HEAD: &str = "time,bit depth [m],hole depth [m],rpm";

#[test]
fn the_format_of_dates_that_a_las_file_states_decides_day_and_month() {
    let las = |unit: &str, format: &str, date: &str| {
        let head = format!(
            "~Version\nVERS. 3.0 : CWLS LOG ASCII STANDARD\nWRAP. NO :\nDLM. COMMA :\n~Log_Definition\n\
             DATE.{unit} : day {format}\nTIME. : time {{hh:mm:ss}}\nDBTM.m : bit {{F}}\nDMEA.m : hole {{F}}\n\
             RPM.rpm : speed {{F}}\n~Log_Data | Log_Definition"
        );
        hour(&head, |n| format!("{date},{}", clock(n)), "500")
    };
    let ran = |unit: &str, format: &str, date: &str| {
        let desk = rig();
        desk.write("log.las", las(unit, format, date));
        desk.write("run.toml", RUN.replace("log.csv", "log.las"));
        let ran = desk.run(&["load", "run.toml"]);
        (desk, ran)
    };
    for (unit, format, date) in [
        ("", "{DD/MM/YYYY}", "04/03/2025"),
        ("", "{MM/DD/YYYY}", "03/04/2025"),
        ("DD/MM/YYYY", "", "04/03/2025"),
        ("", "{YYYY-MM-DD}", "2025-03-04"),
    ] {
        let (desk, out) = ran(unit, format, date);
        out.ok();
        assert_eq!(desk.shown("serial = \"A-1\"", "revolutions"), ["A-1 3600"], "{unit}{format}");
    }
    assert!(
        ran("", "{S}", "04/03/2025").1.fails(3).contains("does not say which number is the day")
    );
    assert!(ran("", "{YYYY-DD-MM}", "2025-04-03").1.fails(3).contains("between year and month"));
}

#[test]
fn a_time_that_counts_since_1970_is_read_and_said() {
    // 2025-03-04T06:00:00Z.
    let from = 1_741_068_000;
    for (head, scale, word) in [
        (HEAD.to_owned(), 1, "counts seconds since 1970"),
        (HEAD.replace("time", "time [s]"), 1, "counts seconds since 1970"),
        (HEAD.replace("time", "timestamp [ms]"), 1000, "counts milliseconds since 1970"),
    ] {
        let desk = rig();
        desk.write("log.csv", hour(&head, |n| ((from + 10 * n) * scale).to_string(), "500"));
        let out = desk.run(&["load", "run.toml"]).ok();
        assert!(out.contains(word) && out.contains("it begins 2025-03-04T06:00:00Z"), "{out}");
        assert_eq!(desk.shown("serial = \"A-1\"", "revolutions"), ["A-1 3600"]);
    }
    let desk = yard();
    let err = load(&desk, "Serial,Date,Wall [in]\nA-1,1741068000,.35\n").fails(3);
    assert!(
        err.contains("as seconds since 1970-01-01T00:00:00Z it is 2025-03-04T06:00:00Z"),
        "{err}"
    );
}

#[test]
fn a_log_deeper_than_any_hole_says_in_which_unit_it_may_be() {
    let desk = rig();
    let time = |n| format!("2025-03-04T{}Z", clock(n));
    desk.write("log.csv", hour(HEAD, time, "500000"));
    let err = desk.run(&["load", "run.toml"]).fails(3);
    assert!(err.contains("no hole is so deep"), "{err}");
    let advice = "'\"bit depth [m]\" = bit_depth [mm]' for 500 m";
    assert!(err.contains(advice), "{err}");
    let both = "\"bit depth [m]\" = bit_depth [mm], \"hole depth [m]\" = depth [mm]";
    desk.run(&["load", "run.toml", "--columns", both]).ok();
    assert_eq!(desk.shown("serial = \"A-1\"", "revolutions"), ["A-1 3600"]);
}

#[test]
fn advice_that_is_followed_to_the_letter_loads_the_file() {
    let desk = yard();
    // A share of one under a title in percent.
    let text = "Serial,Date,Wall %\nA-1,2025-04-01,0.88\nA-2,2025-04-01,0.91\n";
    let err = load(&desk, text).fails(3);
    assert!(err.contains("--columns '\"Wall %\" = wall [1]'"), "{err}");
    desk.run(&["load", "f.csv", "--columns", "\"Wall %\" = wall [1]", "--once"]).ok();
    assert_eq!(desk.shown("wall < 90 %", "wall"), ["A-1 88"]);
    load(&desk, "Serial,Date,Wall %\nA-3,2025-04-01,85\n").ok();
    assert_eq!(desk.shown("wall < 86 %", "wall"), ["A-3 85"]);
    // Ranges, bounds, marks.
    let err = load(&desk, "Serial,Date,Wall [in]\nA-1,2025-05-01,0.33-0.35\n").fails(3);
    assert!(err.contains("is a range") && err.contains("the least, 0.33;"), "{err}");
    let err =
        load(&desk, "Serial,Date,Wall [in]\nA-1,2025-05-01,<.35\nA-2,2025-05-01,.35*\n").fails(3);
    assert!(
        err.contains("a bound is no value") && err.contains("belongs into the remark"),
        "{err}"
    );
    // The outside diameter in the row of an end.
    let text = "Serial,Date,End,OD [in]\nA-1,2025-05-01,pin,6.6\nA-1,2025-05-01,box,6.5\n";
    let err = load(&desk, text).fails(3);
    assert!(err.contains("--columns '\"OD [in]\" = tj_od [in]'"), "{err}");
    desk.run(&["load", "f.csv", "--columns", "\"OD [in]\" = tj_od [in]", "--once"]).ok();
    assert_eq!(desk.joints("box_od < 6.55 in").yes, ["A-1"]);
    // Two columns of one quantity that differ.
    let err = load(&desk, "Serial,Date,Wall [in],Wall [mm]\nA-2,2025-05-01,.32,9.9\n").fails(3);
    assert!(err.contains("--columns '\"Wall [mm]\" = -'"), "{err}");
    desk.run(&["load", "f.csv", "--columns", "\"Wall [mm]\" = -", "--once"]).ok();
    // What was decided is no value of a reading.
    let text = "Serial,Date,Wall [in],Result\nA-3,2025-05-01,.30,Accept\n";
    assert!(load(&desk, text).fails(3).contains("--columns '\"Result\" = -'"));
    desk.run(&["load", "f.csv", "--columns", "\"Result\" = -", "--once"]).ok();
    // Serials: zeros that were dropped, several in a cell.
    let err = load(&desk, "Serial,Date,Wall [in]\n123,2025-05-01,.35\n").fails(3);
    assert!(err.contains("the book has 00123"), "{err}");
    let err = load(&desk, "Serial,Date,Location\n\"A-1, A-2\",2025-05-02,Yard\n").fails(3);
    assert!(err.contains("divided by semicolons: A-1; A-2"), "{err}");
    let err = load(&desk, "Serial,Date,Location\nA-1 to A-3,2025-05-02,Yard\n").fails(3);
    assert!(err.contains("which are between the two no file says"), "{err}");
}

#[test]
fn a_title_that_nobody_knows_can_be_said_to_be_one_that_is_known() {
    let desk = yard();
    let text = "Seriennummer;Datum;Restwandstärke [mm]\nA-1;01.04.2025;8,9\n";
    let err = load(&desk, text).fails(3);
    assert!(err.contains("its titles are Seriennummer, Datum, Restwandstärke [mm]"), "{err}");
    let columns =
        "\"Seriennummer\" = serial, \"Datum\" = date, \"Restwandstärke [mm]\" = wall [mm]";
    desk.run(&["load", "f.csv", "--as", "inspection", "--columns", columns]).ok();
    assert_eq!(desk.shown("wall > 0 %", "wall"), ["A-1 96.7938399"]);
    let err = load(&desk, "Serial,Date,Turning [min],Run\nA-1,2025-05-01,600,R7\n").fails(3);
    assert!(err.contains("--columns '\"TITLE\" = ") && err.contains("'Turning [min]'"), "{err}");
    let err =
        load(&desk, "Serial,A-1,A-2\nDate,2025-04-01,2025-04-01\nWall [in],.35,.34\n").fails(3);
    assert!(err.contains("paste it transposed"), "{err}");
    desk.write("Larkfield 1H.csv", "MD [m],Inc [deg],Azi [deg]\n0,0,0\n300,1,10\n");
    let err = desk.run(&["load", "Larkfield 1H.csv"]).fails(3);
    assert!(err.contains("--set well=\"NAME\" (the file is called 'Larkfield 1H')"), "{err}");
    assert!(err.contains("--set date=2026-03-04"), "{err}");
}

#[test]
fn a_report_with_its_head_beside_it_and_lines_to_sign() {
    let desk = yard();
    let rows: [&[&str]; 9] = [
        &["NORTH INSPECTION", "", "", "Report No:", "NI-114"],
        &["Customer:", "Harrow", "", "Date:", "2025-04-01"],
        &["Inspector:", "J. Reader", "", "Approved by:", ""],
        &["Item", "Serial No", "Tube Wall", "Pin OD", "Box OD"],
        &["", "", "inch", "inch", "inch"],
        &["1", "A-1", ".351", "6.6", "6.5"],
        &["2", "A-2", ".349", "6.6", "6.4"],
        &["Inspected by:", "____", "", "Approved by:", "____"],
        &["Signature", "", "", "Date", ""],
    ];
    book(&desk, "r.xlsx", &rows, |_| {});
    desk.run(&["load", "r.xlsx"]).ok();
    assert_eq!(desk.joints("wall > 96.5 %").yes, ["A-1"]);
    assert_eq!(desk.joints("box_od < 6.45 in").yes, ["A-2"]);
    assert_eq!(desk.joints("any inspection (date = 2025-04-01)").yes, ["A-1", "A-2"]);
}

#[test]
fn two_tables_beside_each_other_are_told_apart() {
    let desk = yard();
    let rows: [&[&str]; 2] = [
        &["Serial", "Date", "Wall [in]", "", "Serial", "Date", "Location"],
        &["A-1", "2025-04-01", ".351", "", "A-3", "2025-04-02", "Yard 9"],
    ];
    book(&desk, "t.xlsx", &rows, |_| {});
    let err = desk.run(&["load", "t.xlsx"]).fails(3);
    assert!(err.contains("two tables stand side by side"), "{err}");
    let skip = "#5 = -, #6 = -, #7 = -";
    assert!(err.contains(&format!("--columns '{skip}'")), "{err}");
    desk.run(&["load", "t.xlsx", "--columns", skip]).ok();
    assert_eq!(desk.joints("wall > 0 %").yes, ["A-1"]);
    assert_eq!(desk.joints("location = \"Yard 9\"").yes, Vec::<String>::new());
}

#[test]
fn a_copy_of_a_sheet_does_not_count_twice() {
    let desk = yard();
    let save = |second: &[&[&str]], hidden: bool| {
        let mut book = Workbook::new();
        let sheet = book.add_worksheet();
        fill(sheet, &[&["Serial", "Date", "Run", "Hours"], &["A-1", "2025-04-01", "R9", "12"]]);
        let copy = book.add_worksheet();
        fill(copy, second);
        copy.set_hidden(hidden);
        book.save(desk.path("h.xlsx")).unwrap();
    };
    let copy: [&[&str]; 2] =
        [&["Serial", "Date", "Run", "Hours"], &["A-1", "2025-04-01", "R9", "13"]];
    save(&copy, false);
    let err = desk.run(&["load", "h.xlsx"]).fails(3);
    assert!(err.contains("1 fact that sheet 'Sheet1' tells too"), "{err}");
    save(&copy, true);
    desk.run(&["load", "h.xlsx"]).ok();
    assert_eq!(desk.joints("hours >= 12.5 h").yes, Vec::<String>::new());
    // Two sheets about one joint on one day that tell different things of it are two parts of one report.
    let mut book = Workbook::new();
    fill(book.add_worksheet(), &[&["Serial", "Date", "Wall [in]"], &["A-2", "2025-04-01", ".35"]]);
    fill(
        book.add_worksheet(),
        &[&["Serial", "Date", "Pin OD [in]"], &["A-2", "2025-04-01", "6.6"]],
    );
    book.save(desk.path("i.xlsx")).unwrap();
    desk.run(&["load", "i.xlsx"]).ok();
    assert_eq!(desk.joints("wall > 0 % and pin_od > 0 in").yes, ["A-2"]);
}

#[test]
fn spans_in_hours_and_minutes_are_hours() {
    let desk = yard();
    let head = ["Serial", "Date", "Run", "Rot hrs"];
    let rows = "A-1,2025-04-01,R9,12:30\nA-2,2025-04-01,R9,7:05\n";
    load(&desk, &format!("{}\n{rows}", head.join(","))).ok();
    book(&desk, "h.xlsx", &[&head, &["A-3", "2025-04-01", "R9"]], |sheet| {
        let span = Format::new().set_num_format("[h]:mm");
        sheet.write_with_format(1, 3, 12.5 / 24.0, &span).unwrap();
    });
    desk.run(&["load", "h.xlsx"]).ok();
    assert_eq!(desk.joints("hours >= 12.4 h").yes, ["A-1", "A-3"]);
    load(&desk, "Serial,Date,Run,Rot time [min]\n00123,2025-04-01,R9,744\n").ok();
    assert_eq!(desk.joints("hours >= 12.3 h").yes, ["00123", "A-1", "A-3"]);
    assert_eq!(desk.joints("hours >= 12.45 h").yes, ["A-1", "A-3"]);
}

#[test]
fn a_title_that_states_the_zone_of_its_times_is_believed() {
    let turns = |desk: &Desk| desk.shown("serial = \"A-1\"", "revolutions");
    let run = RUN
        .replace("start = 2025-03-04", "start = 2025-03-04T06:00:00Z")
        .replace("end = 2025-03-04", "end = 2025-03-04T07:00:00Z");
    for (title, from) in
        [("Time (UTC)", 6), ("utc_time", 6), ("Time (UTC+2)", 8), ("Time [GMT-03:30]", 2)]
    {
        let desk = rig();
        let shift = |n: usize| {
            let (from, half) = if title.contains(":30") { (from, 30) } else { (from, 0) };
            let s = from * 3600 + half * 60 + 10 * n;
            format!("2025-03-04 {:02}:{:02}:{:02}", s / 3600, s / 60 % 60, s % 60)
        };
        desk.write("log.csv", hour(&HEAD.replace("time", title), shift, "500"));
        desk.write("run.toml", &run);
        desk.run(&["load", "run.toml"]).ok();
        assert_eq!(turns(&desk), ["A-1 3600"], "{title}");
    }
}

#[test]
fn a_log_of_two_wells_or_of_two_units_is_none() {
    let desk = rig();
    let time = |n: usize| format!("2025-03-04T{}Z", clock(n));
    let mut text = hour(
        &HEAD.replace("time", "Well,time"),
        |n| format!("{},{}", if n < 200 { "L1" } else { "L2" }, time(n)),
        "500",
    );
    desk.write("log.csv", &text);
    let err = desk.run(&["load", "run.toml"]).fails(3);
    assert!(err.contains("of two wells: 'L1', and from line 202 on 'L2'"), "{err}");
    text = hour(&HEAD.replace("bit depth [m]", "bit depth [ft]"), time, "500");
    desk.write("log.csv", &text);
    let err = desk.run(&["load", "run.toml"]).fails(3);
    assert!(err.contains("have the same figures and two units"), "{err}");
    assert!(err.contains("'\"hole depth [m]\" = depth [ft]'"), "{err}");
    desk.run(&["load", "run.toml", "--columns", "\"hole depth [m]\" = depth [ft]"]).ok();
    // Of a clock time alone nobody knows the day; and a radian is no part of a turn that has figures.
    for (head, row, words) in [
        (HEAD.to_owned(), "06:00:00", "nothing says of which day"),
        (HEAD.replace("rpm", "rpm [rad/s]"), "2025-03-04T06:00:00Z", "1 rad/s is 9.549297 rpm"),
    ] {
        let desk = rig();
        desk.write("log.csv", hour(&head, |_| row.to_owned(), "500"));
        let err = desk.run(&["load", "run.toml"]).fails(3);
        assert!(err.contains(words), "{err}");
    }
}

#[test]
fn a_survey_says_what_its_angles_and_its_wells_are() {
    let desk = Desk::with_book();
    let head = "Well:,W,\nDate:,2025-02-01,\n";
    let columns = "MD [m],Inc [deg],Azi [deg]";
    let err = load(&desk, &format!("{head}{columns}\n0,0,N0E\n300,4,S10W\n")).fails(3);
    assert!(err.contains("write its azimuth: 190"), "{err}");
    let err = load(&desk, &format!("{head}{columns}\n0,0,0\n300,4\u{b0}30',45\n")).fails(3);
    assert!(err.contains("write it in degrees: 4.5000"), "{err}");
    let out = load(&desk, &format!("{head}{columns}\n0,0,0\n300,.1,.7\n600,.3,.8\n")).ok();
    assert!(out.contains("are the angles in radians?"), "{out}");
    let out = load(&desk, &format!("Well plan rev 3,,\n{head}{columns}\n0,0,0\n300,4,45\n")).ok();
    assert!(out.contains("'Well plan rev 3' says that this is a plan"), "{out}");
    // A column may say what the head does not, once.
    let wells = |second: &str| {
        format!(
            "Well,Date,MD [m],Inc [deg],Azimuth (magnetic) [deg]\nV,2025-02-01,0,0,0\n{second},2025-02-01,300,4,45\n"
        )
    };
    let err = load(&desk, &wells("W")).fails(3);
    assert!(err.contains("has stations of 2 wells: V, W"), "{err}");
    load(&desk, &wells("V")).ok();
    assert!(desk.run(&["survey", "V"]).ok().contains("magnetic"));
}

#[test]
fn a_folder_with_prose_in_it_and_a_tally_that_describes_its_parts() {
    let desk = rig();
    std::fs::create_dir(desk.path("K1")).unwrap();
    desk.write("K1/readme.txt", "Files of string K1, from the rig.\nAsk the office.\n");
    desk.write("K1/log.csv", hour(HEAD, |n| format!("2025-03-04T{}Z", clock(n)), "500"));
    desk.write("K1/run.toml", RUN);
    desk.write(
        "K1/tally.csv",
        "#,Serial,Description,Length [m],OD [mm],ID [mm],Weight [kg/m]\n1,,8 1/2 in PDC bit,0.3,,,\n\
         2,,Bit sub,1,165,71,130\n3,,Drill collar,54,165.1,71.4,136\n4,,5 in HWDP,110,127,76.2,73.4\n\
         5,A-1,Drill pipe,9.5,,,\n",
    );
    let out = desk.run(&["load", "K1"]).ok();
    assert!(out.contains("words alone, and no table"), "{out}");
    assert_eq!(desk.shown("serial = \"A-1\"", "revolutions"), ["A-1 3600"]);
}

#[test]
fn dates_with_the_day_of_the_week_and_titles_over_two_lines() {
    let desk = yard();
    let text = "\"Serial\nNo\",\"Date of\ninspection\",\"Min. wall\n[in]\"\n\
        A-1,\"Tuesday, 1 April 2025\",.35\nA-2,Tue 01-Apr-2025,.34\n\u{a0}A-3\u{a0},2025\u{2011}04\u{2011}01,.33\n";
    load(&desk, text).ok();
    assert_eq!(desk.joints("any inspection (date = 2025-04-01)").yes, ["A-1", "A-2", "A-3"]);
    let err =
        load(&desk, "SERIAL #,INSP. DATE,REM. WALL (INCH)\nA-1,Mon 01-Apr-2025,.35\n").fails(3);
    assert!(err.contains("is on another day of the week"), "{err}");
}

/// A template filled in: its titles, and below them values by title without the unit.
fn filled(desk: &Desk, kind: &str, rows: &[&[(&str, &str)]]) -> String {
    use calamine::Reader as _;
    let (empty, file) = (format!("{kind}-empty.xlsx"), format!("{kind}.xlsx"));
    desk.run(&["template", kind, "-o", &empty]).ok();
    let mut template: calamine::Xlsx<_> = calamine::open_workbook(desk.path(&empty)).unwrap();
    let range = template.worksheet_range_at(0).unwrap().unwrap();
    let titles: Vec<String> =
        range.rows().next().unwrap().iter().map(ToString::to_string).collect();
    let bare = |title: &str| title.split(" [").next().unwrap().to_owned();
    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    for (at, title) in titles.iter().enumerate() {
        let at = u16::try_from(at).unwrap();
        sheet.write(0, at, title).unwrap();
        for (row, values) in rows.iter().enumerate() {
            if let Some((_, value)) = values.iter().find(|(key, _)| *key == bare(title)) {
                let row = u32::try_from(row).unwrap() + 1;
                match value.parse::<f64>() {
                    Ok(number) => sheet.write(row, at, number).unwrap(),
                    Err(_) => sheet.write(row, at, *value).unwrap(),
                };
            }
        }
    }
    for (key, _) in rows.iter().flat_map(|r| *r) {
        assert!(titles.iter().any(|t| bare(t) == *key), "{kind} has no column {key}: {titles:?}");
    }
    book.save(desk.path(&file)).unwrap();
    file
}

#[test]
#[rustfmt::skip]
fn the_template_of_every_kind_is_filled_in_and_loads() {
    let desk = yard();
    let at = ("date", "2025-06-01");
    let of = |desk: &Desk, kind: &str, values: &[(&str, &str)]| {
        let file = filled(desk, kind, &[values]);
        desk.run(&["load", &file]).ok();
    };
    of(&desk, "joint", &[("serial", "B-1"), ("component", "drill_pipe"), ("new", "no"), ("od", "5"), ("wall", ".362"), ("weight", "19.5"), ("grade", "S-135"), ("length", "9.4"), ("connection", "NC50"), ("tj od", "6.625"), ("tj id", "3.25"), ("date", "2025-01-05")]);
    of(&desk, "opening", &[("serial", "B-1"), ("date", "2025-01-06"), ("hours", "120"), ("revolutions", "500000")]);
    of(&desk, "survey", &[("md", "0"), ("inc", "0"), ("azi", "0"), ("well", "W1"), at]);
    of(&desk, "inspection", &[("serial", "A-1"), at, ("wall", ".34"), ("pin tj od", "6.6"), ("box tj od", "6.5"), ("methods", "visual_tube"), ("slip area finding", "none")]);
    assert_eq!(desk.joints("wall < 95 % and pin_od > 6.5 in and box_od < 6.55 in").yes, ["A-1"]);
    of(&desk, "repair", &[("serial", "A-1"), ("date", "2025-06-02"), ("work", "dress"), ("end", "pin"), ("removed", ".05")]);
    of(&desk, "makeup", &[at, ("pin", "A-1"), ("box", "A-2"), ("torque", "30000")]);
    of(&desk, "move", &[("serial", "A-2"), at, ("location", "Yard"), ("status", "in_stock")]);
    of(&desk, "gap", &[("serial", "A-2"), at, ("until", "2025-06-02"), ("reason", "no records")]);
    of(&desk, "hours", &[("serial", "A-2"), ("date", "2025-06-05"), ("hours", "5"), ("run", "R1"), ("from", "2025-06-04")]);
    of(&desk, "hire_out", &[("serial", "A-2"), ("date", "2025-07-01"), ("hire", "H1"), ("party", "Nor"), ("location", "Rig")]);
    of(&desk, "hire_in", &[("serial", "A-2"), ("date", "2025-07-10"), ("hire", "H1"), ("location", "Yard")]);
    of(&desk, "event", &[at, ("event", "dropped"), ("serial", "A-3")]);
    of(&desk, "failure", &[("date", "2025-08-01"), ("serial", "A-3"), ("failure", "washout"), ("place", "body"), ("mechanism", "fatigue")]);
    of(&desk, "instrument", &[("tag", "G-1"), at, ("instrument", "ultrasonic_gauge"), ("tolerance", "2 %")]);
    of(&desk, "check", &[("tag", "G-1"), at, ("how", "calibration"), ("passed", "yes")]);
    of(&desk, "decision", &[("date", "2025-08-02"), ("serial", "A-3"), ("ruling", "scrap"), ("reason", "washed out")]);
    of(&desk, "note", &[at, ("serial", "A-1"), ("note", "seen")]);
    of(&desk, "identity", &[("serial", "B-1"), ("change", "remark"), ("new serial", "A-9"), ("reason", "marked anew"), at]);
    of(&desk, "run", &[("name", "R7"), ("well", "W1"), ("start", "2025-09-01"), ("end", "2025-09-02"), ("tally", "tally.xlsx"), ("hours", "10"), ("rotary speed", "60"), ("depth in", "20"), ("depth out", "25")].map(|v| v)
        .iter().copied().chain(tally(&desk)).collect::<Vec<_>>());
    assert_eq!(desk.joints("any run (name = \"R7\" and hours > 9 h)").yes, ["A-1"]);
    let rows = [[("time", "0")], [("time", "1")]].map(|r| [r[0], ("depth", "25"), ("bit depth", "25"), ("rpm", "60"), ("wob", "50"), ("torque", "8")]);
    filled(&desk, "log", &[&rows[0], &rows[1]]);
    filled(&desk, "operations", &[&[("activity", "drilling"), ("bit from", "20"), ("bit to", "25"), ("hours", "5"), ("rpm", "60")]]);
    for (name, day, log) in [("R8", "2025-09-11", "log.xlsx"), ("R9", "2025-09-21", "operations.xlsx")] {
        desk.write("run.toml", format!("name = '{name}'\nwell = 'W1'\nstart = {day}\nend = {day}\ntally = 'tally.xlsx'\nlog = '{log}'\ncut = 'gap_ms=7200000'\n"));
        desk.run(&["load", "run.toml"]).ok();
    }
}

/// The template of a tally, filled in; nothing of it stands in the row of the run.
fn tally(desk: &Desk) -> Vec<(&'static str, &'static str)> {
    let bit: &[(&str, &str)] = &[("position", "1"), ("component", "bit"), ("length", "0.3")];
    let collar: &[(&str, &str)] = &[
        ("position", "2"),
        ("component", "drill_collar"),
        ("length", "9"),
        ("od", "6.5"),
        ("id", "2.8"),
        ("air weight", "92"),
    ];
    let pipe: &[(&str, &str)] = &[("position", "3"), ("serial", "A-1"), ("length", "9.5")];
    filled(desk, "tally", &[bit, collar, pipe]);
    Vec::new()
}

#[test]
fn comments_and_colours_of_a_sheet_are_said_not_to_be_read() {
    let desk = yard();
    let rows: [&[&str]; 4] = [
        &["Serial", "Date", "Wall [in]"],
        &["A-1", "2025-04-01", ".35"],
        &["A-2", "2025-04-01", ".34"],
        &["A-3", "2025-04-01", ".33"],
    ];
    book(&desk, "i.xlsx", &rows, |sheet| {
        let red = Format::new().set_background_color(rust_xlsxwriter::Color::Red);
        sheet.write_with_format(2, 2, 0.34, &red).unwrap();
        sheet.insert_note(1, 2, &rust_xlsxwriter::Note::new("read again: .33")).unwrap();
    });
    let out = desk.run(&["load", "i.xlsx"]).ok();
    assert!(out.contains("comments on cells are not read: C2"), "{out}");
    assert!(out.contains("coloured, and read like the others: row 3"), "{out}");
    assert_eq!(desk.joints("wall > 0 %").yes, ["A-1", "A-2", "A-3"]);
}
