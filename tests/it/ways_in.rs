//! Files as they come: each loads as it is, or says in its own terms what to do.

use std::fmt::Write as _;

use super::cli::Desk;

pub const JOINTS: &str = "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [m],Connection,TJ OD [in],TJ ID [in],Received\n\
A-1,drill pipe,yes,5,.362,19.50,G-105,9.5,NC50,6 5/8,3 1/4,2025-01-05\n\
A-2,drill pipe,yes,5,.362,19.50,G-105,9.6,NC50,6 5/8,3 1/4,2025-01-05\n";
pub const SURVEY: &str = "Well:,Larkfield 1H,\nDate:,2025-02-01,\nMD [m],Inc [deg],Azi [deg]\n0,0,0\n300,0,0\n600,10,45\n";
pub const TALLY: &str = "serial,component,part,count,length [m],od [mm],id [mm],air weight [kg/m]\n\
    ,bit,PDC,,0.3,,,\n,drill collar,,20,9.4,165.1,71.4,136\nA-1,,,,9.5,,,\nA-2,,,,9.6,,,\n\
    ,heavy weight,,40,9.4,127,76.2,73.4\n";
pub const RUN: &str = "name = 'R1'\nwell = 'Larkfield 1H'\nstart = 2025-03-04\nend = 2025-03-04\n\
    tally = 'tally.csv'\nlog = 'log.csv'\n";

pub fn rig() -> Desk {
    let desk = Desk::with_book();
    desk.write("joints.csv", JOINTS);
    desk.write("survey.csv", SURVEY);
    desk.write("tally.csv", TALLY);
    desk.write("run.toml", RUN);
    desk.run(&["load", "joints.csv", "survey.csv"]).ok();
    desk
}

/// Rows of ten seconds from 06:00 on, 60 turns a minute.
fn log(head: &str, from: usize, to: usize) -> String {
    let mut out = format!("{head}\n");
    for n in from..to {
        let (h, m, s) = (6 + n / 360, n / 6 % 60, n % 6 * 10);
        let depth = 500.0 + n as f64 * 0.05;
        writeln!(out, "2025-03-04T{h:02}:{m:02}:{s:02}Z,{depth:.2},{depth:.2},60").unwrap();
    }
    out
}

const HEAD: &str = "time,bit depth [m],hole depth [m],rpm";

fn turns(desk: &Desk) -> String {
    desk.shown("serial = \"A-1\"", "revolutions").join("")
}

#[test]
fn a_spreadsheet_of_runs_needs_no_header_of_each() {
    let desk = rig();
    desk.write("r1.csv", log(HEAD, 0, 361));
    desk.write("r2.csv", log(HEAD, 720, 1081));
    desk.write(
        "runs.csv",
        "Run,Well,String,Start,End,Mud [ppg],Hole [in],Shoe [m],Files\n\
         R1,Larkfield 1H,K1,2025-03-04T06:00:00Z,2025-03-04T07:00:00Z,10.2,8.5,250,tally.csv; r1.csv\n\
         R2,Larkfield 1H,K1,2025-03-04T08:00:00Z,2025-03-04T09:00:00Z,10.4,8.5,250,r2.csv; tally.csv\n",
    );
    let out = desk.run(&["load", "runs.csv"]).ok();
    assert!(out.contains("run"), "{out}");
    assert_eq!(turns(&desk), "A-1 7200");
    assert_eq!(desk.joints("any run (mud_weight > 10.3 ppg)").yes, ["A-1", "A-2"]);
    let again = desk.run(&["load", "runs.csv"]).ok();
    assert!(again.contains("taken in before"), "{again}");
}

#[test]
fn a_log_comes_in_parts_in_any_order() {
    let desk = rig();
    // The second begins with the last row of the first, and has its columns in another order.
    desk.write("a.csv", log(HEAD, 0, 181));
    let turned: Vec<String> = log(HEAD, 180, 361)
        .lines()
        .map(|l| l.split(',').rev().collect::<Vec<_>>().join(","))
        .collect();
    desk.write("b.csv", turned.join("\n"));
    desk.write("run.toml", RUN.replace("'log.csv'", "['b.csv', 'a.csv']"));
    let out = desk.run(&["load", "run.toml"]).ok();
    assert!(out.contains("put in order"), "{out}");
    assert!(out.contains("1 row tell") || out.contains("1 row"), "{out}");
    assert_eq!(turns(&desk), "A-1 3600");
}

#[test]
fn several_logs_of_one_document_are_one_log() {
    let desk = rig();
    let data = |from: usize, to: usize| {
        let rows: String = log(HEAD, from, to).lines().skip(1).fold(String::new(), |mut all, l| {
            let _ = writeln!(all, "<data>{l}</data>");
            all
        });
        format!(
            "<log><indexType>date time</indexType><indexCurve>T</indexCurve><logData>\
             <mnemonicList>T,DBTM,DMEA,RPMA</mnemonicList><unitList>,m,m,rpm</unitList>{rows}</logData></log>"
        )
    };
    desk.write("log.xml", format!("<logs>{}{}</logs>", data(0, 181), data(180, 361)));
    desk.write("run.toml", RUN.replace("log.csv", "log.xml"));
    let out = desk.run(&["load", "run.toml"]).ok();
    assert!(out.contains("holds another log"), "{out}");
    assert_eq!(turns(&desk), "A-1 3600");
}

#[test]
fn stated_columns_reach_the_log_of_a_run() {
    let desk = rig();
    desk.write("log.csv", log("time,bit depth [m],hole depth [m],Surface turns", 0, 361));
    let err = desk.run(&["load", "run.toml"]).fails(3);
    assert!(err.contains("--columns"), "{err}");
    desk.run(&["load", "run.toml", "--columns", "\"Surface turns\" = rpm [rpm]"]).ok();
    assert_eq!(turns(&desk), "A-1 3600");
}

#[test]
fn tools_stand_where_serials_do_and_lengths_are_in_feet_and_inches() {
    let desk = rig();
    desk.write("log.csv", log(HEAD, 0, 361));
    desk.write(
        "tally.csv",
        "No,Serial,Count,Length [ft],OD [in],ID [in],Wt (lb/ft)\n1,BIT,,0' 11\",,,\n2,MTR,,26' 3 1/2\",6.75,2.8,102\n\
         3,DC-1,,30-06,6.5,2.8125,91\n4,A-1,,31' 2\",,,\n5,A-2,,31 ft 6 in,,,\n6,JAR,,30.0,6.5,2.75,90\n",
    );
    desk.run(&["load", "run.toml"]).ok();
    let entries = desk.run(&["entries", "--json"]).ok();
    for words in [
        "\"bit\"",
        "\"motor\"",
        "drill_collar",
        "\"jar\"",
        "374 in",
        "315 1/2 in",
        "366 in",
        "102 lb/ft",
    ] {
        assert!(entries.contains(words), "{words}: {entries}");
    }
}

#[test]
fn a_least_value_is_no_time_in_minutes() {
    let desk = rig();
    desk.write(
        "log.csv",
        log("time,bit depth [m],hole depth [m],rpm,torque_min,wob_min [kN]", 0, 361)
            .replace(",60\n", ",60,5,6\n"),
    );
    let out = desk.run(&["load", "run.toml"]).ok();
    assert!(!out.contains("is in min"), "{out}");
}

#[test]
fn a_survey_may_have_no_header_or_be_a_las_file() {
    let desk = Desk::with_book();
    desk.write("s.txt", "0 0 0 0 0 0\n300 0 0 300 0 0\n600 10 45 598.5 18 18\n");
    let words = [
        "--columns",
        "md [m], inc [deg], azi [deg]",
        "--set",
        "well=Far 2",
        "--set",
        "date=2025-02-01",
    ];
    desk.run(&[&["load", "s.txt", "--as", "survey"], &words[..]].concat()).ok();
    desk.write(
        "s.las",
        "~V\n VERS. 2.0 : v\n WRAP. NO : w\n~W\n STRT.m 0 : s\n STOP.m 600 : e\n NULL. -999.25 : n\n\
         ~C\n DEPT.m : depth\n INCL.deg : inclination\n AZIM.deg : azimuth\n~A\n0 0 0\n300 1 10\n600 9 45\n",
    );
    desk.run(&["load", "s.las", "--set", "well=Far 3", "--set", "date=2025-02-01"]).ok();
    let entries = desk.run(&["entries", "--json"]).ok();
    assert!(entries.contains("Far 2") && entries.contains("Far 3"), "{entries}");
}

#[test]
fn a_template_is_filled_in_and_its_example_refused() {
    let desk = rig();
    let listed = desk.run(&["load", "--explain", "survey"]).ok();
    for words in ["md [m]", "measured_depth", "azimuth"] {
        assert!(listed.contains(words), "{words}: {listed}");
    }
    for kind in [
        "joint",
        "survey",
        "run",
        "tally",
        "inspection",
        "repair",
        "makeup",
        "move",
        "opening",
        "event",
    ] {
        let file = format!("{kind}.xlsx");
        desk.run(&["template", kind, "-o", &file]).ok();
        if !["tally"].contains(&kind) {
            desk.run(&["load", &file, "--as", kind]).fails(3);
        }
    }
    let err = desk.run(&["load", "opening.xlsx", "--as", "opening"]).fails(3);
    assert!(err.contains("shows how a template is filled in"), "{err}");
}

#[test]
fn a_document_of_many_rows_is_read_in_a_time_that_grows_with_them() {
    let desk = rig();
    let document = |rows: usize| {
        let mut text = String::from(
            "<logs><log><indexType>date time</indexType><indexCurve>T</indexCurve><logData>\
             <mnemonicList>T,DBTM,DMEA,RPMA</mnemonicList><unitList>,m,m,rpm</unitList>",
        );
        for n in 0..rows {
            let (h, m, s) = (n / 3600, n / 60 % 60, n % 60);
            let depth = 500.0 + n as f64 * 0.001;
            writeln!(
                text,
                "<data>2025-03-04T{h:02}:{m:02}:{s:02}Z,{depth:.3},{depth:.3},60</data>"
            )
            .unwrap();
        }
        text + "</logData></log></logs>"
    };
    desk.write("run.toml", RUN.replace("log.csv", "log.xml"));
    let time = |rows: usize| {
        desk.write("log.xml", document(rows));
        let begun = std::time::Instant::now();
        desk.run(&["load", "run.toml", "--dry-run"]).ok();
        begun.elapsed().as_secs_f64()
    };
    let (few, many) = (time(10_000), time(80_000));
    // Eight times the rows: where it grew with their square it took sixty times as long.
    assert!(many < 30.0 * few.max(0.05), "{few} s and {many} s");
}
