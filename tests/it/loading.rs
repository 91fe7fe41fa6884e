//! What `load` says of a file is so: read again, read otherwise, in parts, by a table, by cumulative
//! lengths, with answers.

use std::fmt::Write as _;

use super::cli::Desk;
use super::ways_in::{JOINTS, RUN, TALLY, rig};

const HEAD: &str = "time,bit depth [m],hole depth [m],rpm";

/// Rows of ten seconds from 06:00 on, 60 turns a minute.
fn log(rows: impl Iterator<Item = usize>) -> String {
    let mut out = format!("{HEAD}\n");
    for n in rows {
        let (h, m, s) = (6 + n / 360, n / 6 % 60, n % 6 * 10);
        let depth = 500.0 + n as f64 * 0.05;
        writeln!(out, "2025-03-04T{h:02}:{m:02}:{s:02}Z,{depth:.2},{depth:.2},60").unwrap();
    }
    out
}

fn turns(desk: &Desk) -> String {
    desk.shown("serial = \"A-1\"", "revolutions").join("")
}

#[test]
fn a_file_that_is_refused_is_not_one_that_was_taken_in_before() {
    let desk = rig();
    desk.write("i.csv", "Serial,Date,Methods,W\nA-1,2025-04-01,UT wall,0.350\n");
    let load = |unit: &str, more: &[&str]| {
        let columns = format!("W = wall [{unit}]");
        desk.run(&[&["load", "i.csv", "--columns", &columns], more].concat())
    };
    load("in", &[]).ok();
    for more in [&[][..], &["--correct", "millimetres"]] {
        let err = load("mm", more).fails(3);
        assert!(err.contains("which stands") && !err.contains("nothing was added"), "{err}");
    }
    load("in", &[]).ok();
}

#[test]
fn what_a_correction_adds_passes_the_gates_of_a_load() {
    let desk = rig();
    desk.write("i1.csv", "Serial,Date,Methods,Wall [in]\nA-2,2025-04-01,UT wall,0.350\n");
    desk.run(&["load", "i1.csv"]).ok();
    // Of A-2 nothing is entered while the column is not read: it was not looked at.
    desk.write(
        "i2.csv",
        "Serial,Date,Methods,Remaining\nA-1,2025-05-01,UT wall,0.355\nA-2,2025-05-01,,0.361\n",
    );
    let load = |name: &str, more: &[&str]| {
        let columns = format!("Remaining = {name}");
        desk.run(&[&["load", "i2.csv", "--columns", &columns], more].concat())
    };
    load("-", &[]).ok();
    let err = load("wall [in]", &["--correct", "the column is the wall"]).fails(3);
    assert!(err.contains("A-2") && err.contains("--insist"), "{err}");
    assert_eq!(desk.joints("wall < 0.356 in").yes, ["A-2"]);
    let more = ["--correct", "the column is the wall", "--insist", "read twice"];
    load("wall [in]", &more).ok();
    assert_eq!(desk.joints("wall < 0.356 in").yes, ["A-1", "A-2"]);
    desk.run(&["verify"]).ok();
}

#[test]
fn a_balance_that_a_correction_adds_belongs_to_its_joint() {
    let desk = Desk::with_book();
    let used = JOINTS.replace(",yes,", ",no,").replace("Received\n", "Received,Behind it [h]\n");
    let used: String = used
        .lines()
        .map(|l| if l.starts_with("A-") { format!("{l},250\n") } else { format!("{l}\n") })
        .collect();
    desk.write("used.csv", used);
    let load = |field: &str, more: &[&str]| {
        let columns = format!("\"Behind it [h]\" = {field}");
        desk.run(&[&["load", "used.csv", "--columns", &columns], more].concat())
    };
    load("-", &[]).ok();
    load("hours [h]", &["--correct", "hours before the book"]).ok();
    assert_eq!(desk.joints("hours >= 250 h").yes, ["A-1", "A-2"]);
    let again = load("hours [h]", &[]).ok();
    assert!(again.contains("taken in before"), "{again}");
    desk.run(&["verify"]).ok();
}

#[test]
fn a_run_whose_tally_changed_is_no_repetition() {
    let desk = rig();
    desk.write("log.csv", log(0..361));
    desk.run(&["load", "run.toml"]).ok();
    assert!(desk.run(&["load", "run.toml"]).ok().contains("taken in before"));
    desk.write("tally.csv", TALLY.replace("A-2,,,,9.6,,,\n", ""));
    let err = desk.run(&["load", "run.toml"]).fails(2);
    assert!(err.contains("tally differ") && err.contains("strike yard-"), "{err}");
    assert_eq!(desk.joints("any run (name = \"R1\")").yes, ["A-1", "A-2"]);
}

/// What the answer to a load says of the length of the string.
fn length(desk: &Desk) -> String {
    let out = desk.run(&["load", "run.toml", "--dry-run"]).ok();
    let said = out.split("the string is ").nth(1).unwrap_or_else(|| panic!("{out}"));
    said.split(" m long").next().unwrap().to_owned()
}

#[test]
fn cumulative_lengths_give_each_line_its_own() {
    let desk = rig();
    desk.write("log.csv", log(0..361));
    let sized = "OD [mm],ID [mm],Air weight [kg/m]";
    // Blocks side by side share their rows.
    desk.write(
        "tally.csv",
        "No,Serial,Component,Cum [m],,No,Serial,Component,Cum [m]\n\
         1,,bit,0.3,,3,A-1,,19.2\n2,,drill collar,9.7,,4,A-2,,28.8\n",
    );
    assert_eq!(length(&desk), "28.8");
    // A line stands for several.
    desk.write(
        "tally.csv",
        format!("No,Serial,Component,Count,Cum [m],{sized}\n1,,bit,,0.3,,,\n2,,drill collar,20,188.3,165.1,71.4,136\n3,A-1,,,197.8,,,\n"),
    );
    assert_eq!(length(&desk), "197.8");
    // Where a sum is missing nobody knows the length of the line, nor of the next.
    let blank = |collar: &str| {
        desk.write(
            "tally.csv",
            format!("No,Serial,Component,Cum [m],{sized}\n1,,bit,0.3,,,\n2,,drill collar,{collar},165.1,71.4,136\n3,A-1,,19.2,,,\n"),
        );
    };
    blank("");
    let err = desk.run(&["load", "run.toml", "--dry-run"]).fails(3);
    assert!(err.contains("needs its length"), "{err}");
    blank("9.7");
    assert_eq!(length(&desk), "19.2");
    // A line without a sum is part of what the next sum grows by.
    desk.write(
        "tally.csv",
        format!("No,Serial,Component,Length [m],Cum [m],{sized}\n1,,bit,0.3,0.3,,,\n2,,drill collar,9.4,,165.1,71.4,136\n3,A-1,,9.5,19.2,,,\n"),
    );
    assert_eq!(length(&desk), "19.2");
}

#[test]
fn words_are_offered_for_what_they_say() {
    let desk = rig();
    let columns = desk.run(&["load", "--explain", "run", "--json"]).json();
    let words = |name: &str| {
        let rows = columns["columns"].as_array().unwrap();
        let row = rows.iter().find(|r| r["column"] == name).unwrap();
        row["words"].as_str().unwrap_or_default().to_owned()
    };
    assert_eq!(words("end"), "");
    assert!(words("grade").contains("incomplete"), "{}", words("grade"));
    for word in ["air", "protected", "corrosive"] {
        assert!(words("environment").contains(word), "{}", words("environment"));
    }
}

#[test]
fn a_table_of_runs_reads_its_cut_and_says_what_it_does_not_read() {
    let desk = rig();
    desk.write("log.csv", log((0..60).chain(70..361)));
    let table = |cut: &str| {
        desk.write(
            "runs.csv",
            format!(
                "Run,Well,Start,End,Mud wieght [ppg],Crew,Cut,Files\n\
                 R1,Larkfield 1H,2025-03-04,2025-03-04,10.2,Day,{cut},tally.csv; log.csv\n"
            ),
        );
        desk.run(&["load", "runs.csv"])
    };
    let err = table("gap=1").fails(3);
    assert!(err.contains("is no setting of a cut"), "{err}");
    let out = table("gap_ms=30000").ok();
    for words in ["columns not used: Mud wieght [ppg], Crew", "did you mean mud_weight?"] {
        assert!(out.contains(words), "{words}: {out}");
    }
    // A step of 110 s is a gap by the cut of the run.
    assert_eq!(turns(&desk), "A-1 ≥ 3490");
}

#[test]
fn what_one_part_of_a_log_lacks_another_tells() {
    for parts in ["['a.csv', 'b.csv']", "['b.csv', 'a.csv']"] {
        let desk = rig();
        desk.write("a.csv", log((0..61).chain(120..181)));
        desk.write("b.csv", log(50..131));
        desk.write("run.toml", RUN.replace("'log.csv'", parts));
        let out = desk.run(&["load", "run.toml"]).ok();
        assert!(out.contains("22 rows tell what a part before told already"), "{out}");
        assert_eq!(turns(&desk), "A-1 1800", "{parts}");
    }
}

#[test]
fn parts_that_tell_one_time_in_two_ways_are_said() {
    for parts in ["['a.csv', 'b.csv']", "['b.csv', 'a.csv']"] {
        let desk = rig();
        desk.write("run.toml", RUN.replace("'log.csv'", parts));
        desk.write("a.csv", log(0..181));
        desk.write("b.csv", log(90..271).replace(",60\n", ",100\n"));
        let out = desk.run(&["load", "run.toml"]).ok();
        // In the last minute all but one of the rows that count are the other part's.
        let words =
            "parts of the log tell one time they differ, in 15 of 16 minutes; at 2025-03-04";
        assert!(out.contains(words), "{parts}: {out}");
        assert!(out.contains("one has 60 rpm and the bit at 504.6"), "{parts}: {out}");
        assert!(out.contains("the other 100 rpm and 504.6"), "{parts}: {out}");
    }
    // Two exports of one log, one of them with every third row.
    let desk = rig();
    desk.write("run.toml", RUN.replace("'log.csv'", "['a.csv', 'b.csv']"));
    desk.write("a.csv", log(0..181));
    desk.write("b.csv", log((90..271).step_by(3)));
    let out = desk.run(&["load", "run.toml"]).ok();
    assert!(!out.contains("they differ"), "{out}");
}

#[test]
fn answers_are_for_files_that_are_there() {
    let desk = rig();
    desk.write("log.csv", log(0..361));
    let answers = |text: &str| {
        desk.write("answers.toml", text);
        desk.run(&["load", "run.toml", "tally.csv", "log.csv", "--answers", "answers.toml"])
    };
    let err = answers("['runs.toml']\ndecimal = 'point'\n").fails(2);
    assert!(err.contains("'runs.toml'") && err.contains("run.toml"), "{err}");
    let err = answers("['log.csv']\ncolumns = 'rpm = -'\n").fails(2);
    assert!(err.contains("log.csv, which is read with its run"), "{err}");
    let err = answers("['tally.csv']\nleave = true\n").fails(2);
    assert!(err.contains("a run names it"), "{err}");
}

#[test]
fn the_example_of_a_template_is_no_part_of_a_string() {
    let desk = rig();
    desk.write("log.csv", log(0..361));
    desk.run(&["template", "tally", "-o", "tally.xlsx"]).ok();
    desk.write("run.toml", RUN.replace("tally.csv", "tally.xlsx"));
    let err = desk.run(&["load", "run.toml"]).fails(3);
    assert!(err.contains("shows how a template is filled in"), "{err}");
}

#[test]
fn stated_columns_reach_a_summary_of_operations() {
    let desk = rig();
    desk.write(
        "log.csv",
        "Activity,From [m],To [m],Turning for,rpm\nreaming up,600,500,1.5,60\ndrilling rotating,500,518,2,100\n",
    );
    desk.write("run.toml", RUN.replace("end = 2025-03-04", "end = 2025-03-05"));
    desk.run(&["load", "run.toml", "--columns", "\"Turning for\" = hours [h]"]).ok();
    assert_eq!(turns(&desk), "A-1 17400");
}

/// A column of stands beside the joints: what names a part is data, whatever its first word.
#[test]
fn a_row_that_begins_with_a_stand_and_names_a_joint_is_no_heading() {
    let desk = rig();
    let tally = "stand,serial,component,part,count,length [m],od [mm],id [mm],air weight [kg/m],remark\n\
                 ,,bit,PDC,,0.3,,,,\nStand 1,A-1,,,,9.5,,,,\nStand 2,A-2,,,,9.6,,,,\n";
    desk.write("tally.csv", tally);
    desk.write("log.csv", log(0..360));
    desk.run(&["load", "run.toml"]).ok();
    let found = desk.run(&["find", "any run (name = \"R1\")", "--csv"]).ok();
    assert!(found.contains("A-1") && found.contains("A-2"), "{found}");
}

#[test]
fn what_is_left_out_of_a_sheet_with_a_log_is_said() {
    let desk = rig();
    let mut book = rust_xlsxwriter::Workbook::new();
    let sheet = book.add_worksheet();
    let struck = rust_xlsxwriter::Format::new().set_font_strikethrough();
    for (n, line) in log(0..361).lines().enumerate() {
        for (at, cell) in line.split(',').enumerate() {
            let (row, at) = (n as u32, at as u16);
            match n {
                90 => sheet.write_string_with_format(row, at, cell, &struck).unwrap(),
                _ => sheet.write_string(row, at, cell).unwrap(),
            };
        }
    }
    book.save(desk.path("log.xlsx")).unwrap();
    desk.write("run.toml", RUN.replace("log.csv", "log.xlsx"));
    let out = desk.run(&["load", "run.toml"]).ok();
    assert!(out.contains("struck through and left out: row 91"), "{out}");
}

/// Many parts, each with its own rows: put together in a time that grows with the rows.
#[test]
fn many_parts_in_disorder_are_one_log() {
    let desk = rig();
    let parts: Vec<String> = (0..40).rev().map(|n| format!("p{n}.csv")).collect();
    for (n, name) in parts.iter().rev().enumerate() {
        desk.write(name, log(n * 9..n * 9 + 10));
    }
    desk.write("run.toml", RUN.replace("'log.csv'", &format!("{parts:?}")));
    let out = desk.run(&["load", "run.toml"]).ok();
    assert!(out.contains("39 rows tell what a part before told already"), "{out}");
    assert_eq!(turns(&desk), "A-1 3600");
}

/// A file of the newer version is refused once, with what makes it one that is read.
/// A file of LAS 3.0 with tables of other things before, between and behind those of drilling, an hour
/// of rows of ten seconds in two of them.
fn tables_of_las(delimiter: (&str, &str)) -> String {
    let (word, sign) = delimiter;
    let row = |n: usize| {
        let (h, m, s) = (6 + n / 360, n / 6 % 60, n % 6 * 10);
        let bit = if n == 100 && sign == "," { "" } else { "500" };
        format!(
            "2025-03-04T{h:02}:{m:02}:{s:02}Z{sign}{bit}{sign}500{sign}60{sign}\"Drilling{sign}on\"\n"
        )
    };
    let rows = |of: std::ops::Range<usize>| of.map(row).collect::<Vec<_>>().concat();
    let gamma = (0..9_000).map(|n| format!("{n}{sign}55.5\n")).collect::<Vec<_>>().concat();
    format!(
        "# made by hand\n~Version\n VERS.   3.0 : CWLS LOG ASCII STANDARD - VERSION 3.0\n WRAP.    NO : one line a step\n \
         DLM. {word} : delimiter\n~Well\n STRT.m 0 : s\n STOP.m 8999 : e\n STEP.m 1 : d\n NULL. -999.25 : n\n\
         ~Parameter\n MATR. SAND : matrix {{S}}\n~Curve\n DEPT.m : depth {{F}}\n GR.gapi : gamma {{F}}\n\
         ~ASCII | CURVE\n{gamma}~Drilling_Parameter\n RIG. One : rig: the first {{S}}\n\
         ~Drilling_Definition\n TIME . : time {{YYYY-MM-DDThh:mm:ssZ}}\n DBTM.m : bit depth {{F}}\n DMEA .m : hole depth {{F}}\n \
         RPMA.rpm : speed {{F}}\n OPER. : what the rig did {{S}}\n\
         ~Drilling_Data[1] | Drilling_Definition\n{}# half of it\n~Tops_Definition\n TOPN. : name {{S}}\n TOPT.m : depth {{F}}\n\
         ~Tops_Data | Tops_Definition\n\"Upper{sign}sand\"{sign}440\n~DRILLING_DATA[2] | DRILLING_DEFINITION\n{}\
         ~Core_Definition\n CORT.m : top {{F}}\n~Core_Data | Core_Definition\n13178\n",
        rows(0..181),
        rows(181..361)
    )
}

#[test]
fn drilling_tables_of_las_3_are_one_log_and_what_is_left_is_said() {
    for delimiter in [("COMMA", ","), ("TAB", "\t"), ("SPACE", " ")] {
        let desk = rig();
        desk.write("run.toml", RUN.replace("log.csv", "log.las"));
        desk.write("log.las", tables_of_las(delimiter));
        let out = desk.run(&["load", "run.toml"]).ok();
        assert!(out.contains("read of its tables is ~Drilling_Data[1]"), "{delimiter:?}: {out}");
        assert!(out.contains("not: ~ASCII, ~Tops_Data, ~Core_Data"), "{out}");
        // A row without a bit depth goes by the one before it; an hour at 60 a minute all the same.
        assert!(turns(&desk).contains("3600") || delimiter.1 == ",", "{}", turns(&desk));
        assert!(!out.contains("cut off"), "{out}");
    }
}

#[test]
fn a_table_of_las_3_by_depth_counts_by_its_rate() {
    let desk = rig();
    // 20 m at 20 m/h and 60 a minute: an hour, 3,600 turns.
    let rows = (0..=20).map(|n| format!(" {} 20 60\n", 500 + n)).collect::<Vec<_>>().concat();
    let las = |stop: &str| {
        format!(
            "~Version\n VERS. 3.0 :\n WRAP. NO :\n DLM. SPACE :\n~Well\n STRT.m 500 :\n STOP.m {stop} :\n \
             STEP.m 1 :\n NULL. -999.25 :\n~Log_Definition\n DEPT.m : depth\n ROP.m/hr : rate\n RPM.rpm : speed\n\
             ~Log_Data | Log_Definition\n{rows}"
        )
    };
    desk.write("run.toml", RUN.replace("log.csv", "log.las").replace("T07", "T09"));
    desk.write("log.las", las("700"));
    let out = desk.run(&["load", "run.toml", "--dry-run"]).ok();
    assert!(out.contains("ends at 520 and the header says 700"), "{out}");
    desk.write("log.las", las("520"));
    let out = desk.run(&["load", "run.toml"]).ok();
    assert!(!out.contains("cut off") && turns(&desk).contains("3600"), "{out} {}", turns(&desk));
}

#[test]
fn stations_of_las_3_are_a_survey() {
    let desk = rig();
    let las = "~Version\n VERS. 3.0 :\n WRAP. NO :\n DLM. COMMA :\n~Well\n NULL. -999.25 :\n\
        ~Inclinometry_Definition\n MD.m : depth {F}\n DEVI.deg : inclination {F}\n AZIM.deg : azimuth {F}\n\
        ~Inclinometry_Data | Inclinometry_Definition\n0,0,0\n300,0,0\n330,3,40\n360,-999.25,40\n~Core_Data\n1,2,3\n";
    desk.write("s.las", las);
    let given = ["load", "s.las", "--set", "well=Far 2", "--set", "date=2025-02-01"];
    let err = desk.run(&given).fails(3);
    assert!(err.contains("row 15") && err.contains("the station has no inc"), "{err}");
    desk.write("s.las", las.replace("360,-999.25,40\n", ""));
    desk.run(&given).ok();
    let out = desk.run(&["survey", "Far 2", "--units=metric"]).ok();
    assert!(out.contains("330.00") && out.contains("329.99") && !out.contains("360.00"), "{out}");
}
