//! Nothing loads silently wrong: what a file leaves out, contradicts or cannot mean is refused, or loaded
//! right and said.

use std::fmt::Write as _;

use super::cli::Desk;

/// Two joints and a survey.
fn yard() -> Desk {
    let desk = Desk::with_book();
    desk.write(
        "joints.csv",
        "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [m],Connection,TJ OD [in],TJ ID [in],Received\n\
         A-1,drill pipe,yes,5,.362,19.50,G-105,9.5,NC50,6 5/8,3 1/4,2025-01-05\n\
         A-2,drill pipe,yes,5,.362,19.50,G-105,9.6,NC50,6 5/8,3 1/4,2025-01-05\n",
    );
    desk.write("survey.csv", SURVEY);
    desk.run(&["load", "joints.csv", "survey.csv"]).ok();
    desk
}

const SURVEY: &str = "Well:,Larkfield 1H,\nDate:,2025-02-01,\nMD [m],Inc [deg],Azi [deg]\n0,0,0\n300,0,0\n600,10,45\n";

const TALLY: &str = "serial,component,part,count,length [m],od [mm],id [mm],air weight [kg/m]\n\
    ,bit,PDC,,0.3,,,\n,drill collar,,40,9.4,165.1,71.4,136\nA-1,,,,9.5,,,\nA-2,,,,9.6,,,\n\
    ,heavy weight,,14,9.4,127,76.2,73.4\n";

/// Rows of ten seconds at 60 rpm, hole growing: a turn each second.
fn log(from: &str, rows: usize) -> String {
    let mut out = String::from("time,bit depth [m],hole depth [m],rpm\n");
    let start = chrono::DateTime::parse_from_rfc3339(from).unwrap();
    for n in 0..rows {
        let at = start + chrono::Duration::seconds(10 * n as i64);
        let depth = 500.0 + n as f64 * 0.05;
        writeln!(out, "{},{depth:.2},{depth:.2},60", at.to_rfc3339()).unwrap();
    }
    out
}

fn run(name: &str, start: &str, end: &str, log: &str) -> String {
    format!(
        "name = \"{name}\"\nwell = \"Larkfield 1H\"\nstart = {start}\nend = {end}\ntally = \"tally.csv\"\n\
         log = {log}\n"
    )
}

/// A yard with a tally and a log of an hour: 360 turns … at 60 a minute.
fn rig() -> Desk {
    let desk = yard();
    desk.write("tally.csv", TALLY);
    desk.write("log.csv", log("2025-03-04T06:00:00Z", 361));
    desk
}

fn turns(desk: &Desk) -> String {
    desk.shown("serial = \"A-1\"", "revolutions").join("")
}

#[test]
fn rows_decide_whether_runs_overlap() {
    let desk = rig();
    desk.write("r1.toml", run("R1", "2025-03-04", "2025-03-04", "\"log.csv\""));
    desk.write("r2.toml", run("R2", "2025-03-03", "2025-03-04", "\"log.csv\""));
    desk.run(&["load", "r1.toml"]).ok();
    assert_eq!(turns(&desk), "A-1 3600");
    let err = desk.run(&["load", "r2.toml"]).fails(3);
    assert!(err.contains("is in run 'R1' too") && err.contains("state the times"), "{err}");
    assert_eq!(turns(&desk), "A-1 3600");
    // The day is shared, the rows are not.
    desk.write("more.csv", log("2025-03-04T12:00:00Z", 181));
    desk.write("r3.toml", run("R3", "2025-03-04", "2025-03-04", "\"more.csv\""));
    desk.run(&["load", "r3.toml"]).ok();
    assert_eq!(turns(&desk), "A-1 5400");
}

#[test]
fn what_a_log_leaves_out_is_said_and_makes_figures_bounds() {
    let desk = rig();
    let whole = log("2025-03-04T06:00:00Z", 361);
    let broken: Vec<String> = whole
        .lines()
        .enumerate()
        .map(|(n, l)| if (100..250).contains(&n) { format!("x{l}") } else { l.to_owned() })
        .collect();
    desk.write("log.csv", broken.join("\n"));
    desk.write("r.toml", run("R1", "2025-03-04", "2025-03-04", "\"log.csv\""));
    let out = desk.run(&["load", "r.toml"]).ok();
    assert!(out.contains("150 rows have no readable time or depth (first: row 101)"), "{out}");
    assert!(out.contains("211 of 361 rows were used") && out.contains("1 gaps of 0.42 h"), "{out}");
    assert_eq!(turns(&desk), "A-1 ≥ 2090");
    let why = desk.run(&["why", "A-1", "revolutions > 100000"]).ok();
    assert!(why.contains("the log of a run lacks some of what the rig did"), "{why}");
    let found = desk.run(&["find", "any run (grade = incomplete)", "--json"]).json();
    assert_eq!(found["joints"].as_array().unwrap().len(), 2, "{found}");
    // Rows that are cut off are lost too, whoever calls the run logged.
    let cut: Vec<String> = whole
        .lines()
        .enumerate()
        .map(|(n, l)| if n % 50 == 7 { l[..l.len() - 20].to_owned() } else { l.to_owned() })
        .collect();
    desk.write("cut.csv", cut.join("\n").replace("2025-03-04", "2025-03-08"));
    let stated = run("R2", "2025-03-08", "2025-03-08", "\"cut.csv\"") + "grade = \"logged\"\n";
    desk.write("r2.toml", stated);
    let out = desk.run(&["load", "r2.toml"]).ok();
    assert!(out.contains("8 rows") && out.contains("counts as incomplete"), "{out}");
}

#[test]
fn metres_that_a_log_by_depth_lacks_are_said() {
    let desk = rig();
    let mut text = String::from("depth [m],rop [m/h],rpm\n");
    for m in (0..100).chain(400..500) {
        writeln!(text, "{},20,60", 300 + m).unwrap();
    }
    desk.write("depth.csv", text);
    let stated = "depth_in = \"300 m\"\ndepth_out = \"850 m\"\n";
    desk.write("r.toml", run("R1", "2025-03-04", "2025-03-09", "\"depth.csv\"") + stated);
    let out = desk.run(&["load", "r.toml"]).ok();
    assert!(out.contains("1 gaps of 301 m in all, of 499 m"), "{out}");
    assert!(out.contains("51 m of the 550 m of the run are not in it"), "{out}");
    assert!(turns(&desk).contains('≥'), "{}", turns(&desk));
}

#[test]
fn curves_of_a_las_file_begin_where_its_header_says() {
    let las = |rows: &str, stop: &str| {
        format!(
            "~V\n VERS. 2.0 : v\n WRAP. NO : w\n~W\n STRT.m 500 : s\n STOP.m {stop} : e\n STEP.m 0.5 : d\n \
             NULL. -999.25 : n\n~C\n DEPT.m : depth\n CALI.in : caliper\n ROPA.m/h : rop\n RPMA.rpm : rpm\n~A\n{rows}"
        )
    };
    let rows = |turned: bool| {
        (0..40).fold(String::new(), |mut text, n| {
            let depth = format!("{:.1}", 500.0 + f64::from(n) * 0.5);
            let (first, second) = if turned { ("8.5", &*depth) } else { (&*depth, "8.5") };
            writeln!(text, "{first} {second} 20 60").unwrap();
            text
        })
    };
    let (right, wrong) = (rows(false), rows(true));
    let desk = rig();
    desk.write("r.toml", run("R1", "2025-03-04", "2025-03-05", "\"log.las\""));
    desk.write("log.las", las(&wrong, "519.5"));
    let err = desk.run(&["load", "r.toml"]).fails(3);
    assert!(
        err.contains("'DEPT' begins at 8.5") && err.contains("500 to 519.5 (STRT, STOP)"),
        "{err}"
    );
    desk.write("log.las", las(&right, "560"));
    let out = desk.run(&["load", "r.toml", "--dry-run"]).ok();
    assert!(out.contains("ends at 519.5 and the header says 560"), "{out}");
    desk.write("log.las", las(&right, "519.5"));
    desk.run(&["load", "r.toml"]).ok();
    // 19.5 m at 20 m/h and 60 rpm.
    assert_eq!(turns(&desk), "A-1 ≥ 3510");
}

#[test]
fn a_second_header_in_another_order_is_read_by_its_own_names() {
    let desk = rig();
    let first = log("2025-03-04T06:00:00Z", 181);
    let second = log("2025-03-04T06:30:10Z", 180);
    let turned: Vec<String> = second
        .lines()
        .map(|l| {
            let c: Vec<&str> = l.split(',').collect();
            format!("{},{},{},{}", c[0], c[3], c[2], c[1])
        })
        .collect();
    desk.write("log.csv", format!("{first}{}\n", turned.join("\n")));
    desk.write("r.toml", run("R1", "2025-03-04", "2025-03-04", "\"log.csv\""));
    let out = desk.run(&["load", "r.toml"]).ok();
    assert!(out.contains("from line 183 on it has columns of another header"), "{out}");
    assert_eq!(turns(&desk), "A-1 3600");
}

#[test]
fn a_file_that_is_read_otherwise_than_before_is_no_repetition() {
    let desk = yard();
    desk.write("other.csv", "MD,Inc [deg],Azi [deg]\n0,0,0\n1000,5,10\n2000,12,30\n");
    let load = |unit: &str, more: &[&str]| {
        let columns = format!("MD = md [{unit}]");
        let words = ["load", "other.csv", "--columns", &columns, "--set", "well=Far 2"];
        desk.run(&[&words[..], &["--set", "date=2025-03-01"], more].concat())
    };
    load("ft", &[]).ok();
    let again = load("ft", &[]).ok();
    assert!(again.contains("taken in before"), "{again}");
    let err = load("m", &[]).fails(2);
    assert!(
        err.contains("is read otherwise now: yard-") && err.contains("depth unit m, was ft"),
        "{err}"
    );
    assert!(err.contains("--correct"), "{err}");
    let out = load("m", &["--correct", "feet, no: metres"]).ok();
    assert!(!out.contains("taken in before"), "{out}");
    let again = load("m", &[]).ok();
    assert!(again.contains("taken in before"), "{again}");
    desk.run(&["verify"]).ok();
}

#[test]
fn components_of_either_version_of_the_standard_are_known() {
    for (component, what) in [("typeTubularComp", "1.4.1.1"), ("TypeTubularComponent", "2.x")] {
        let desk = rig();
        let part = |n: usize, word: &str, len: &str| {
            format!(
                "<TubularComponent><{component}>{word}</{component}><Sequence>{n}</Sequence>\
                 <Id uom=\"in\">2.5</Id><Od uom=\"in\">6.5</Od><Len uom=\"m\">{len}</Len></TubularComponent>"
            )
        };
        let parts: String = [
            ("bit PDC fixed cutter", "0.3"),
            ("reamer", "1.5"),
            ("stabilizer", "1.8"),
            ("motor", "8"),
            ("sub-bent", "1"),
            ("logging while drilling tool", "9"),
            ("jar", "9"),
            ("drill collar", "540"),
        ]
        .iter()
        .enumerate()
        .map(|(n, (word, len))| part(n + 1, word, len))
        .collect();
        desk.write("tally.xml", format!("<Tubular>{parts}</Tubular>"));
        let text = run("R1", "2025-03-04", "2025-03-04", "\"log.csv\"");
        desk.write("r.toml", text.replace("tally.csv", "tally.xml"));
        desk.run(&["load", "r.toml"]).ok();
        let entries = desk.run(&["entries", "--json"]).ok();
        for word in ["\"bit\"", "stabilizer", "motor", "\"sub\"", "measuring_tool", "\"jar\""] {
            assert!(entries.contains(word), "{what}: {word}");
        }
        assert!(!entries.contains("\"other\""), "{what}");
    }
}

#[test]
fn a_string_that_does_not_reach_the_bit_is_said_to() {
    let desk = rig();
    // Without a length of its own a joint has that of its certificate.
    desk.write("tally.csv", TALLY.replace(",40,9.4", ",20,9.4").replace("9.5,,,", ",,,"));
    desk.write("r.toml", run("R1", "2025-03-04", "2025-03-04", "\"log.csv\""));
    let out = desk.run(&["load", "r.toml"]).ok();
    assert!(
        out.contains("the bit goes to 518.0 m and the string is 339.0 m long: 179.0 m"),
        "{out}"
    );
}

#[test]
fn a_well_that_nobody_surveyed_is_said_and_the_near_name_offered() {
    let desk = rig();
    let text = run("R1", "2025-03-04", "2025-03-04", "\"log.csv\"");
    desk.write("r.toml", text.replace("Larkfield 1H", "NO Larkfield 1H"));
    let out = desk.run(&["load", "r.toml", "--dry-run"]).ok();
    assert!(out.contains("no survey of 'NO Larkfield 1H'"), "{out}");
    assert!(out.contains("write well = \"Larkfield 1H\""), "{out}");
    desk.write("r.toml", text);
    let out = desk.run(&["load", "r.toml"]).ok();
    assert!(!out.contains("no survey"), "{out}");
}

#[test]
fn results_in_a_survey_are_held_against_its_stations() {
    let desk = Desk::with_book();
    let head =
        "Well:,Far 2,,,\nDate:,2025-02-01,,,\nMD [m],Inc [deg],Azi [deg],TVD [m],DLS [deg/30m]\n";
    // 30 m at a build of 3 deg/30 m from the vertical; minimum curvature.
    let load = |name: &str, rows: &str| {
        desk.write(name, format!("{head}{rows}"));
        desk.run(&["load", name])
    };
    let out =
        load("right.csv", "0,0,0,0,0\n300,0,0,300,0\n330,3,40,329.99,3\n600,30,40,587.8,3\n").ok();
    assert!(!out.contains("contradict"), "{out}");
    // The inclination column is in fact something else.
    let err = load("wrong.csv", "0,0,0,0,0\n300,0,0,300,0\n330,3,40,329.99,3\n600,30,40,480.0,3\n")
        .fails(3);
    assert!(err.contains("true vertical depths contradict") && err.contains("106.5 m"), "{err}");
    let out =
        load("dls.csv", "0,0,0,0,0\n300,0,0,300,0\n330,3,40,329.99,3\n600,30,40,587.8,9\n").ok();
    assert!(out.contains("9.00 deg/30 m by the file and 3.00 by its stations"), "{out}");
}

#[test]
fn a_station_that_is_projected_is_no_measurement() {
    let desk = Desk::with_book();
    desk.write(
        "s.csv",
        "Well:,Far 2,,\nDate:,2025-02-01,,\nMD [m],Inc [deg],Azi [deg],Type\n0,0,0,MWD\n300,2,0,MWD\n\
         330,3,40,projected to TD\n",
    );
    let out = desk.run(&["load", "s.csv"]).ok();
    assert!(out.contains("projected, not measured, and left out: row 6"), "{out}");
    let entries = desk.run(&["entries", "--json"]).ok();
    assert!(entries.contains("\"300\"") && !entries.contains("\"330\""), "{entries}");
}

/// A workbook of one sheet of hours of openings.
fn workbook(desk: &Desk, name: &str, change: impl FnOnce(&mut rust_xlsxwriter::Worksheet)) {
    let mut book = rust_xlsxwriter::Workbook::new();
    let sheet = book.add_worksheet();
    for (row, cells) in [
        ["Serial", "Wall [in]", "Date"],
        ["A-1", "0.35", "2025-02-01"],
        ["A-2", "0.34", "2025-02-01"],
    ]
    .iter()
    .enumerate()
    {
        for (at, cell) in cells.iter().enumerate() {
            sheet.write(u32::try_from(row).unwrap(), u16::try_from(at).unwrap(), *cell).unwrap();
        }
    }
    change(sheet);
    book.save(desk.path(name)).unwrap();
}

#[test]
fn rows_that_a_sheet_hides_or_strikes_are_asked_for_or_left_out() {
    let desk = yard();
    workbook(&desk, "hidden.xlsx", |s| {
        s.set_row_hidden(2).unwrap();
    });
    let err = desk.run(&["load", "hidden.xlsx"]).fails(3);
    assert!(err.contains("hidden and not empty: row 3") && err.contains("--hidden take"), "{err}");
    let struck = rust_xlsxwriter::Format::new().set_font_strikethrough();
    workbook(&desk, "struck.xlsx", |s| {
        for (at, cell) in ["A-2", "0.34", "2025-02-01"].iter().enumerate() {
            s.write_with_format(2, u16::try_from(at).unwrap(), *cell, &struck).unwrap();
        }
    });
    let out = desk.run(&["load", "struck.xlsx"]).ok();
    assert!(out.contains("struck through and left out: row 3"), "{out}");
    workbook(&desk, "one.xlsx", |s| {
        s.write_with_format(2, 1, "0.34", &struck).unwrap();
    });
    let err = desk.run(&["load", "one.xlsx"]).fails(3);
    assert!(err.contains("Sheet1!B3 is struck through"), "{err}");
    let out = desk.run(&["load", "hidden.xlsx", "--hidden", "leave"]).ok();
    assert!(out.contains("taken in") || !out.contains("A-2"), "{out}");
}

#[test]
fn a_formula_that_nobody_calculated_has_no_value() {
    use std::io::{Read as _, Write as _};
    let desk = yard();
    workbook(&desk, "f.xlsx", |s| {
        s.write(2, 1, rust_xlsxwriter::Formula::new("B2-0.01").set_result("0.34")).unwrap();
    });
    let whole = std::fs::read(desk.path("f.xlsx")).unwrap();
    let mut parts = zip::ZipArchive::new(std::io::Cursor::new(whole)).unwrap();
    let mut out = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    for n in 0..parts.len() {
        let mut part = parts.by_index(n).unwrap();
        let mut text = String::new();
        part.read_to_string(&mut text).unwrap();
        out.start_file(part.name().unwrap(), zip::write::SimpleFileOptions::default()).unwrap();
        out.write_all(text.replace("<v>0.34</v>", "").as_bytes()).unwrap();
    }
    desk.write("empty.xlsx", out.finish().unwrap().into_inner());
    let err = desk.run(&["load", "empty.xlsx"]).fails(3);
    assert!(err.contains("Sheet1!B3 holds a formula without a value"), "{err}");
    desk.run(&["load", "f.xlsx"]).ok();
}

#[test]
fn cumulative_lengths_prove_and_give_lengths() {
    let desk = rig();
    desk.write("r.toml", run("R1", "2025-03-04", "2025-03-04", "\"log.csv\""));
    let tally = |rows: &str, head: &str| {
        desk.write("tally.csv", format!("no,serial,component,{head}\n{rows}"));
        desk.run(&["load", "r.toml", "--dry-run"])
    };
    let err = tally(
        "1,,bit,0.3,0.3\n2,A-1,,9.5,9.8\n3,A-2,,9.6,28.9\n",
        "length [m],cumulative length [m]",
    )
    .fails(3);
    assert!(err.contains("grows by 19.10 m") && err.contains("9.60 m long"), "{err}");
    tally("1,,bit,0.3,0.3\n2,A-1,,9.5,9.8\n3,A-2,,9.6,19.4\n", "length [m],cumulative length [m]")
        .ok();
    let out = tally("1,,bit,0.3\n2,A-1,,9.8\n3,A-2,,19.4\n", "cumulative length [m]").ok();
    assert!(out.contains("the string is 19.4 m long"), "{out}");
}

#[test]
fn blocks_side_by_side_are_all_read() {
    let desk = rig();
    desk.write("r.toml", run("R1", "2025-03-04", "2025-03-04", "\"log.csv\""));
    desk.write(
        "tally.csv",
        "No,Serial,Component,Length [m],,No,Serial,Component,Length [m],,No,Serial,Component,Length [m]\n\
         1,,bit,0.3,,3,A-1,,9.5,,4,A-2,,9.6\n2,,drill collar,560,,,,,,,,,,\n"
            .replace("560", "56"),
    );
    let out = desk.run(&["load", "r.toml"]).ok();
    assert!(out.contains("3 blocks stand side by side"), "{out}");
    assert_eq!(desk.joints("any run (name = \"R1\")").yes, ["A-1", "A-2"]);
}

#[test]
fn hours_of_runs_are_no_opening_balance() {
    let desk = yard();
    desk.write(
        "hours.csv",
        "Serial,Rot hours [h],Run,Date\nA-1,25,7,2025-03-01\nA-2,25,7,2025-03-01\n",
    );
    let out = desk.run(&["load", "hours.csv"]).ok();
    assert!(out.contains("nobody tells more than the hours"), "{out}");
    // More may have happened in that run: its hours are a lower bound, and nobody knows the turns.
    assert_eq!(desk.joints("hours >= 25 h").yes, ["A-1", "A-2"]);
    assert_eq!(desk.joints("hours < 30 h").open, ["A-1", "A-2"]);
    assert_eq!(desk.joints("revolutions < 1").open, ["A-1", "A-2"]);
    let trace = desk.run(&["trace", "A-1"]).ok();
    assert!(trace.contains("25 h turned in run 7, no more is known"), "{trace}");
    let as_of = |date: &str| {
        let show = ["find", "serial = \"A-1\"", "--show", "hours", "--csv", "--as-of", date];
        desk.run(&show).ok().lines().last().unwrap_or_default().to_owned()
    };
    assert_eq!(as_of("2025-02-28"), "0,,true");
    assert!(as_of("2025-03-02").starts_with("25,"), "{}", as_of("2025-03-02"));
    // The same again adds nothing, and what cannot be is refused.
    assert!(desk.run(&["load", "hours.csv"]).ok().contains("nothing was added"));
    for (rows, words) in [
        (
            "A-1,25,8,2025-03-02\nA-1,25,8,2025-03-02\n",
            "row 2 tells hours of this joint in this run",
        ),
        ("A-1,5,,2025-03-02\n", "which run"),
    ] {
        desk.write("more.csv", format!("Serial,Rot hours,Run,Date\n{rows}"));
        let err = desk.run(&["load", "more.csv"]).fails(3);
        assert!(err.contains(words), "{words}: {err}");
    }
    let spanned = |to: &str| {
        desk.write("more.csv", format!("Serial,Rot hrs,Run,From,To\nA-1,30,8,2025-03-02,{to}\n"));
    };
    spanned("2025-03-02");
    let err = desk.run(&["load", "more.csv"]).fails(3);
    assert!(err.contains("more than there are"), "{err}");
    spanned("2025-03-05");
    desk.run(&["load", "more.csv"]).ok();
    assert_eq!(desk.joints("hours >= 55 h").yes, ["A-1"]);
    desk.run(&["verify"]).ok();
    // A sheet that may tell more of the joints is asked for.
    desk.write("more.csv", "Serial,Rot hours,Run,Date,Methods\nA-1,5,9,2025-03-12,UT wall\n");
    let err = desk.run(&["load", "more.csv"]).fails(3);
    assert!(err.contains("hours and inspection"), "{err}");
    desk.write("hours.csv", "Serial,Rot hours [h],Well\nA-1,25,Far 2\nA-2,25,Far 2\n");
    let err = desk.run(&["load", "hours.csv", "--set", "date=2025-04-01"]).fails(3);
    assert!(err.contains("tells hours by 'Well'") && err.contains("--as opening"), "{err}");
    assert!(err.contains("--as hours --columns '\"Well\" = run'"), "{err}");
    desk.write(
        "hours.csv",
        "Serial,Rot hours [h],Run,Date\nA-1,25,7,2025-03-01\nA-2,25,7,2025-03-01\n",
    );
    // The joints were new when they came in: a balance of theirs would count for nothing.
    let err = desk.run(&["load", "hours.csv", "--as", "opening"]).fails(3);
    assert!(err.contains("A-1 was new") && err.contains("come in with the runs"), "{err}");
    desk.write(
        "joints.csv",
        "Serial,Component,New,OD [in],Wall [in],Received\nB-1,drill pipe,no,5,.362,2025-01-05\n",
    );
    desk.run(&["load", "joints.csv"]).ok();
    desk.write("hours.csv", "Serial,Hours [h],Date\nB-1,25,2025-01-05\nB-1,40,2025-01-05\n");
    let err = desk.run(&["load", "hours.csv"]).fails(3);
    assert!(err.contains("row 2 tells a balance of this joint too"), "{err}");
    desk.write("hours.csv", "Serial,Hours [h],Date\nB-1,25,2025-01-05\n");
    desk.run(&["load", "hours.csv"]).ok();
    assert_eq!(desk.joints("hours >= 25 h").yes, ["A-1", "A-2", "B-1"]);
}

/// Hours of run 7 told of and of the third, which was not in the string.
const TOLD: &str = "Serial,Rot hours [h],Run,Date\nA-1,1.2,7,2025-03-04\nA-2,1.2,7,2025-03-04\nA-3,1.2,7,2025-03-04\n";

#[test]
fn hours_of_a_run_count_once_whichever_comes_first() {
    let hours = |desk: &Desk| desk.shown("component = drill_pipe", "hours").join("; ");
    let rig = || {
        let desk = rig();
        let joints = std::fs::read_to_string(desk.path("joints.csv")).unwrap();
        let third = joints.lines().last().unwrap().replace("A-2", "A-3");
        desk.write("third.csv", format!("{}\n{third}\n", joints.lines().next().unwrap()));
        desk.run(&["load", "third.csv"]).ok();
        desk.write("told.csv", TOLD);
        desk.write("r.toml", run("7", "2025-03-04", "2025-03-04", "\"log.csv\""));
        desk
    };
    let mut seen = Vec::new();
    for order in [["told.csv", "r.toml"], ["r.toml", "told.csv"]] {
        let desk = rig();
        desk.run(&["load", order[0]]).ok();
        let out = desk.run(&["load", order[1]]).ok();
        assert!(out.contains("hours told of run 7"), "{order:?}: {out}");
        assert!(out.contains("not counted for 2 joints: the book has that run"), "{out}");
        // By the log one hour, exactly; the third was not in it, and nobody tells more of it.
        assert_eq!(hours(&desk), "A-1 1; A-2 1; A-3 ≥ 1.2", "{order:?}");
        assert_eq!(desk.joints("revolutions = 3600").yes, ["A-1", "A-2"]);
        let trace = desk.run(&["trace", "A-1"]).ok();
        assert!(trace.contains("counted by the run itself"), "{trace}");
        let trace = desk.run(&["trace", "A-3"]).ok();
        assert!(!trace.contains("counted by the run itself") && trace.contains("≥ 1.2"), "{trace}");
        let before =
            ["find", "hours > 0 h", "--show", "hours", "--csv", "--as-of", "2025-03-04T06:30:00Z"];
        seen.push(desk.run(&before).ok());
        desk.run(&["verify"]).ok();
        desk.run(&["rebuild"]).ok();
        assert_eq!(hours(&desk), "A-1 1; A-2 1; A-3 ≥ 1.2", "{order:?}");
    }
    assert_eq!(seen[0], seen[1]);
    // Of a log that lacks rows the hours are at least so many, and what is told beyond them counts.
    let desk = rig();
    let rows = std::fs::read_to_string(desk.path("log.csv")).unwrap();
    let half: Vec<&str> = rows.lines().take(181).collect();
    desk.write("log.csv", half.join("\n") + "\n");
    desk.write("r.toml", run("7", "2025-03-03", "2025-03-05", "\"log.csv\""));
    desk.run(&["load", "r.toml", "told.csv"]).ok();
    assert_eq!(hours(&desk), "A-1 ≥ 1.2; A-2 ≥ 1.2; A-3 ≥ 1.2");
    desk.run(&["verify"]).ok();
    // A run of that name of another year is another run.
    let desk = rig();
    desk.run(&["load", "r.toml"]).ok();
    desk.write("told.csv", "Serial,Rot hours [h],Run,From,Date\nA-1,5,7,2025-09-03,2025-09-04\n");
    let out = desk.run(&["load", "told.csv"]).ok();
    assert!(!out.contains("not counted") && !out.contains("may be those"), "{out}");
    assert_eq!(hours(&desk), "A-1 ≥ 6; A-2 1; A-3 0");
    // Where nobody says when it began it may be that run; so may one of another name at that time.
    for (row, least) in [
        ("Serial,Rot hours [h],Run,Date\nA-1,5,7,2025-09-04\n", "A-1 ≥ 1"),
        ("Serial,Rot hours [h],Run,From,Date\nA-1,5,B,2025-03-03,2025-03-05\n", "A-1 ≥ 5"),
    ] {
        let desk = rig();
        desk.run(&["load", "r.toml"]).ok();
        desk.write("told.csv", row);
        let out = desk.run(&["load", "told.csv"]).ok();
        assert!(out.contains("may be those of a run that counts by itself for 1 joint"), "{out}");
        assert_eq!(desk.shown("serial = \"A-1\"", "hours").join(""), least, "{row}");
        desk.run(&["verify"]).ok();
    }
}
