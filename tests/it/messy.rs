//! Sheets as people keep them, no two alike, each with one habit: all load in one sitting, in two
//! commands at most. And one list of pipe, written in whatever way, is one list of pipe.

use std::fmt::Write as _;

use proptest::prelude::*;
use rust_xlsxwriter::{Format, Workbook, Worksheet};

use super::cli::Desk;

const JOINTS: &str = "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [m],Connection,TJ OD [in],TJ ID [in],Received\n\
A-1,drill pipe,yes,5,.362,19.50,G-105,9.5,NC50,6 5/8,3 1/4,2025-01-05\n\
A-2,drill pipe,yes,5,.362,19.50,G-105,9.6,NC50,6 5/8,3 1/4,2025-01-05\n\
A-3,drill pipe,yes,5,.362,19.50,G-105,9.4,NC50,6 5/8,3 1/4,2025-01-05\n";
const SURVEY: &str = "Well:,Larkfield 1H,\nDate:,2025-02-01,\nMD [m],Inc [deg],Azi [deg]\n0,0,0\n300,0,0\n600,10,45\n";
const RUN: &str = "name = 'R1'\nwell = 'Larkfield 1H'\nstart = 2025-03-04\nend = 2025-03-04\n";
const SUMMARY: &str =
    "hours = '10 h'\nrotary_speed = '60 rpm'\ndepth_in = '890 m'\ndepth_out = '900 m'\n";
const TALLY: &str = "serial,component,part,count,length [m],od [mm],id [mm],air weight [kg/m]\n\
    ,bit,PDC,,0.3,,,\n,drill collar,,20,9.4,165.1,71.4,136\nA-1,,,,9.5,,,\nA-2,,,,9.6,,,\n\
    ,heavy weight,,40,9.4,127,76.2,73.4\n";

fn yard() -> Desk {
    let desk = Desk::with_book();
    desk.write("joints.csv", JOINTS);
    desk.write("survey.csv", SURVEY);
    desk.write("tally.csv", TALLY);
    desk.run(&["load", "joints.csv", "survey.csv"]).ok();
    desk
}

/// Rows of a sheet.
pub fn fill(sheet: &mut Worksheet, rows: &[&[&str]]) {
    for (row, cells) in rows.iter().enumerate() {
        for (at, cell) in cells.iter().enumerate() {
            let (row, at) = (u32::try_from(row).unwrap(), u16::try_from(at).unwrap());
            match cell.parse::<f64>() {
                Ok(number) => sheet.write(row, at, number).unwrap(),
                Err(_) => sheet.write(row, at, *cell).unwrap(),
            };
        }
    }
}

/// A workbook of one sheet.
pub fn book(desk: &Desk, name: &str, rows: &[&[&str]], change: impl FnOnce(&mut Worksheet)) {
    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    fill(sheet, rows);
    change(sheet);
    book.save(desk.path(name)).unwrap();
}

/// A run of the string in a tally, and the length of that string.
fn length_of(desk: &Desk, tally: &str) -> String {
    desk.write("run.toml", format!("{RUN}{SUMMARY}tally = '{tally}'\n"));
    let out = desk.run(&["load", "run.toml"]).ok();
    let said = out.split("the string is ").nth(1).unwrap_or_else(|| panic!("{out}"));
    said.split(" m long").next().unwrap().to_owned()
}

#[test]
fn titles_of_merged_cells_in_two_rows() {
    let desk = yard();
    let rows: [&[&str]; 5] = [
        &["Inspection report", "", "", "", "", ""],
        &["Joint", "Report", "Tube", "Pin", "", "Box"],
        &["Serial No.", "Date", "Wall [in]", "OD [in]", "Bevel [in]", "OD [in]"],
        &["A-1", "2025-04-01", "0.350", "6.6", "6.1", "6.5"],
        &["A-2", "2025-04-01", "0.340", "6.6", "6.1", "6.4"],
    ];
    book(&desk, "i.xlsx", &rows, |sheet| {
        sheet.merge_range(1, 3, 1, 4, "Pin", &Format::new()).unwrap();
    });
    let out = desk.run(&["load", "i.xlsx"]).ok();
    assert!(out.contains("titles stand in two rows"), "{out}");
    assert_eq!(desk.joints("wall < 0.345 in").yes, ["A-2"]);
    assert_eq!(desk.joints("box_od < 6.45 in and pin_od > 6.55 in").yes, ["A-2"]);
}

#[test]
fn headings_of_stands_sums_and_pages_between_the_lines() {
    let desk = yard();
    let rows: [&[&str]; 13] = [
        &["Tally of the night", "", "", "", "", "", ""],
        &["No", "Serial", "Component", "Length [m]", "OD [mm]", "ID [mm]", "Air weight [kg/m]"],
        &["1", "", "bit", "0.3", "", "", ""],
        &["Stand 1", "", "", "", "", "", ""],
        &["2", "", "drill collar", "9.4", "165.1", "71.4", "136"],
        &["3", "A-1", "", "9.5", "", "", ""],
        &["Subtotal", "", "", "19.2", "", "", ""],
        &["Page 1 of 2", "", "", "", "", "", ""],
        &["No", "Serial", "Component", "Length [m]", "OD [mm]", "ID [mm]", "Air weight [kg/m]"],
        &["Stand 2", "", "", "", "", "", ""],
        &["4", "A-2", "", "9.6", "", "", ""],
        &["5", "A-3", "", "9.4", "", "", ""],
        &["Total", "", "", "38.2", "", "", ""],
    ];
    book(&desk, "tally.xlsx", &rows, |_| {});
    assert_eq!(length_of(&desk, "tally.xlsx"), "38.2");
    assert_eq!(desk.joints("any run (name = \"R1\")").yes, ["A-1", "A-2", "A-3"]);
}

#[test]
fn a_sub_in_the_string_is_no_sum() {
    let desk = yard();
    let rows: [&[&str]; 4] = [
        &["Component", "Serial", "Length [m]", "OD [mm]", "ID [mm]", "Air weight [kg/m]"],
        &["bit", "", "0.3", "", "", ""],
        &["sub", "", "1.2", "", "", ""],
        &["drill pipe", "A-1", "9.5", "", "", ""],
    ];
    book(&desk, "tally.xlsx", &rows, |_| {});
    assert_eq!(length_of(&desk, "tally.xlsx"), "11.0");
}

#[test]
fn three_blocks_with_sums_of_lengths_alone() {
    let desk = yard();
    let rows: [&[&str]; 3] = [
        &[
            "No",
            "Serial",
            "Component",
            "Cum [m]",
            "",
            "No",
            "Serial",
            "Component",
            "Cum [m]",
            "",
            "No",
            "Serial",
            "Component",
            "Cum [m]",
        ],
        &["1", "", "bit", "0.3", "", "3", "A-1", "", "19.2", "", "5", "A-3", "", "38.2"],
        &["2", "", "drill collar", "9.7", "", "4", "A-2", "", "28.8", "", "", "", "", ""],
    ];
    book(&desk, "tally.xlsx", &rows, |_| {});
    assert_eq!(length_of(&desk, "tally.xlsx"), "38.2");
}

#[test]
fn lengths_in_feet_and_inches() {
    for (length, inches) in [("31' 2 1/2\"", 374.5), ("31 ft 2 1/2 in", 374.5), ("31-03", 375.0)] {
        let desk = yard();
        let rows: [&[&str]; 4] = [
            &["Serial", "Component", "Length (ft)"],
            &["", "bit", "1"],
            &["DC-1", "", length],
            &["A-1", "", length],
        ];
        book(&desk, "tally.xlsx", &rows, |_| {});
        let metres = (12.0 + 2.0 * inches) * 0.0254;
        assert_eq!(length_of(&desk, "tally.xlsx"), format!("{metres:.1}"), "{length}");
    }
}

#[test]
fn tools_named_where_serials_stand() {
    let desk = yard();
    let rows: [&[&str]; 6] = [
        &["Item", "Serial #", "Length m"],
        &["1", "BIT", "0.3"],
        &["2", "MTR", "8"],
        &["3", "DC-1", "9.4"],
        &["4", "A-1", "9.5"],
        &["5", "A-2", "9.6"],
    ];
    book(&desk, "tally.xlsx", &rows, |_| {});
    assert_eq!(length_of(&desk, "tally.xlsx"), "36.8");
}

#[test]
fn a_weight_that_is_called_wt() {
    let desk = Desk::with_book();
    let rows: [&[&str]; 2] = [
        &[
            "S/N",
            "Type",
            "New",
            "OD (in)",
            "Wall (in)",
            "Wt (lb/ft)",
            "Grade",
            "Len (ft)",
            "Conn",
            "Date",
        ],
        &["B-1", "drill pipe", "yes", "5", "0.362", "19.5", "S-135", "31.2", "NC50", "2025-01-05"],
    ];
    book(&desk, "pipe.xlsx", &rows, |_| {});
    desk.run(&["load", "pipe.xlsx"]).ok();
    assert_eq!(desk.joints("weight > 19 lb/ft and grade = S135").yes, ["B-1"]);
}

#[test]
fn decimal_commas_titles_above_a_signature_below() {
    let desk = Desk::with_book();
    desk.write(
        "pipe.csv",
        "\u{feff}Rohre am Lager;;;;;;\n;;;;;;\nSerial;Component;New;OD [in];Wall [mm];Length [m];Date\n\
         B-1;drill pipe;yes;5;9,19;9,51;05.01.2025\nB-2;drill pipe;yes;5;9,19;9,48;25.01.2025\n\
         ;;;;;;\nChecked by;A. Reader;;;;;\n",
    );
    let out = desk.run(&["load", "pipe.csv", "--date-order", "day-first"]).ok();
    assert!(out.contains("decimal comma"), "{out}");
    assert_eq!(desk.joints("length < 9.5 m").yes, ["B-2"]);
}

#[test]
fn sheets_of_other_things_in_the_workbook() {
    let desk = yard();
    let mut book = Workbook::new();
    let cover = book.add_worksheet();
    cover.set_name("Cover").unwrap();
    fill(cover, &[&["Yard of the north"], &["Revision", "B"], &["see sheet 2"]]);
    let data = book.add_worksheet();
    data.set_name("Readings").unwrap();
    fill(data, &[&["Serial", "Date", "Wall [in]"], &["A-1", "2025-04-01", "0.340"]]);
    let prices = book.add_worksheet();
    prices.set_name("Prices").unwrap();
    fill(prices, &[&["Item", "Euro"], &["Bevel", "12"]]);
    book.add_worksheet().set_name("Empty").unwrap();
    book.save(desk.path("yard.xlsx")).unwrap();
    let out = desk.run(&["load", "yard.xlsx"]).ok();
    assert!(out.contains("sheet 'Prices' was not read"), "{out}");
    assert_eq!(desk.joints("wall < 0.345 in").yes, ["A-1"]);
}

#[test]
fn rows_that_are_hidden_are_asked_for_once() {
    let desk = yard();
    let rows: [&[&str]; 3] = [
        &["Serial", "Date", "Wall [in]"],
        &["A-1", "2025-04-01", "0.340"],
        &["A-2", "2025-04-01", "0.341"],
    ];
    book(&desk, "i.xlsx", &rows, |sheet| {
        sheet.set_row_hidden(2).unwrap();
    });
    let err = desk.run(&["load", "i.xlsx"]).fails(3);
    assert!(err.contains("--hidden leave"), "{err}");
    desk.run(&["load", "i.xlsx", "--hidden", "leave"]).ok();
    assert_eq!(desk.joints("wall < 0.345 in").yes, ["A-1"]);
}

#[test]
fn a_row_with_a_line_through_it() {
    let desk = yard();
    let rows: [&[&str]; 2] = [&["Serial", "Date", "Wall [in]"], &["A-1", "2025-04-01", "0.340"]];
    let struck = Format::new().set_font_strikethrough();
    book(&desk, "i.xlsx", &rows, |sheet| {
        for (at, cell) in ["A-2", "2025-04-01", "0.341"].iter().enumerate() {
            sheet.write_with_format(2, u16::try_from(at).unwrap(), *cell, &struck).unwrap();
        }
    });
    desk.run(&["load", "i.xlsx"]).ok();
    assert_eq!(desk.joints("wall < 0.345 in").yes, ["A-1"]);
}

#[test]
fn a_survey_that_is_projected_to_its_end() {
    let desk = yard();
    let rows: [&[&str]; 7] = [
        &["Well:", "Far 2", "", ""],
        &["Date:", "2025-02-01", "", ""],
        &["Measured depth", "Inclination", "Azimuth", "Remarks"],
        &["(m)", "(deg)", "(deg)", ""],
        &["0", "0", "0", "tie in"],
        &["300", "10", "40", ""],
        &["330", "11", "41", "projected to TD"],
    ];
    book(&desk, "s.xlsx", &rows, |_| {});
    let out = desk.run(&["load", "s.xlsx"]).ok();
    assert!(out.contains("projected"), "{out}");
    let told = desk.run(&["survey", "Far 2", "--json"]).json();
    assert_eq!(told["stations"].as_array().unwrap().len(), 2);
}

#[test]
fn a_survey_in_two_byte_signs_with_units_below() {
    let desk = yard();
    let text = "Well\tFar 3\t\r\nDate\t2025-02-01\t\r\nMD\tIncl\tAzim\r\nft\tdeg\tdeg\r\n0\t0\t0\r\n1000\t5\t30\r\n";
    let mut bytes = vec![0xff, 0xfe];
    bytes.extend(text.encode_utf16().flat_map(u16::to_le_bytes));
    desk.write("s.txt", bytes);
    desk.run(&["load", "s.txt"]).ok();
    let told = desk.run(&["survey", "Far 3", "--units", "us", "--json"]).json();
    assert_eq!(told["stations"][1]["md"]["value"], 1000.0);
}

/// Rows of ten seconds from 06:00 on, 60 turns a minute.
fn log(
    head: &str,
    rows: impl Iterator<Item = usize>,
    line: impl Fn(&str, &str) -> String,
) -> String {
    let mut out = format!("{head}\n");
    for n in rows {
        let (h, m, s) = (6 + n / 360, n / 6 % 60, n % 6 * 10);
        let depth = format!("{:.2}", 500.0 + n as f64 * 0.05);
        writeln!(out, "{}", line(&format!("{h:02}:{m:02}:{s:02}"), &depth)).unwrap();
    }
    out
}

fn turns_of(desk: &Desk, more: &str) -> String {
    desk.write("run.toml", format!("{RUN}tally = 'tally.csv'\n{more}"));
    desk.run(&["load", "run.toml"]).ok();
    desk.shown("serial = \"A-1\"", "revolutions").join("")
}

#[test]
fn a_log_with_day_and_time_apart_newest_row_first() {
    let desk = yard();
    let head = "Date,Time,Bit Depth (m),Hole Depth (m),RPM";
    desk.write("log.csv", log(head, (0..361).rev(), |t, d| format!("2025-03-04,{t},{d},{d},60")));
    assert_eq!(turns_of(&desk, "log = 'log.csv'\n"), "A-1 3600");
}

#[test]
fn a_log_in_a_workbook_with_a_cover() {
    let desk = yard();
    let mut book = Workbook::new();
    let cover = book.add_worksheet();
    cover.set_name("Cover").unwrap();
    fill(cover, &[&["Log of the night"], &["Crew", "B"]]);
    let data = book.add_worksheet();
    data.set_name("Log").unwrap();
    let head = ["Time", "Bit Depth (m)", "Hole Depth (m)", "RPM"];
    fill(data, &[&head]);
    let stamp = Format::new().set_num_format("yyyy-mm-dd hh:mm:ss");
    for n in 0..361u32 {
        let (h, m, s) = (6 + n / 360, n / 6 % 60, n % 6 * 10);
        let text = format!("2025-03-04T{h:02}:{m:02}:{s:02}");
        let time = rust_xlsxwriter::ExcelDateTime::parse_from_str(&text).unwrap();
        data.write_with_format(n + 1, 0, &time, &stamp).unwrap();
        let depth = 500.0 + f64::from(n) * 0.05;
        data.write(n + 1, 1, depth).unwrap();
        data.write(n + 1, 2, depth).unwrap();
        data.write(n + 1, 3, 60.0).unwrap();
    }
    book.save(desk.path("log.xlsx")).unwrap();
    assert_eq!(turns_of(&desk, "log = 'log.xlsx'\n"), "A-1 3600");
}

#[test]
fn a_log_in_parts_whose_header_comes_again() {
    let desk = yard();
    let head = "Timestamp,BITDEP [m],DMEA [m],RPMA [c/s]";
    let line = |t: &str, d: &str| format!("2025-03-04T{t}Z,{d},{d},1");
    let first = log(head, 0..100, line) + &log(head, 100..200, line);
    desk.write("1.csv", first);
    desk.write("2.csv", log(head, 190..361, line).replace(',', ";"));
    assert_eq!(turns_of(&desk, "log = ['2.csv', '1.csv']\n"), "A-1 3600");
}

#[test]
fn a_log_by_depth_without_a_rotary_speed() {
    let desk = yard();
    let mut text = String::from("Depth [m],ROP [m/h]\n");
    (0..=20).for_each(|n| writeln!(text, "{},10", 500 + n).unwrap());
    desk.write("log.csv", text);
    desk.write("run.toml", format!("{RUN}tally = 'tally.csv'\nlog = 'log.csv'\n"));
    let err = desk.run(&["load", "run.toml"]).fails(3);
    assert!(err.contains("no rotary speed") && err.contains("rotary_speed ="), "{err}");
    // 20 m at 10 m/h, 60 turns a minute: no more than an estimate.
    let turns = turns_of(&desk, "log = 'log.csv'\nrotary_speed = '60 rpm'\n");
    assert_eq!(turns, "A-1 ≥ 7200");
    let told =
        desk.run(&["find", "grade = estimated", "--list", "runs", "--show", "name", "--csv"]).ok();
    assert!(told.contains("R1"), "{told}");
}

#[test]
fn a_document_with_tabs_in_its_names() {
    let desk = yard();
    let data: String = log("", 0..361, |t, d| format!("<data>2025-03-04T{t}Z,{d},{d},1</data>"));
    desk.write(
        "log.xml",
        format!(
            "<logs><log><nameWell>Larkfield\t1H</nameWell><name>t\n</name><indexType>date time</indexType>\
             <indexCurve>T</indexCurve><logData><mnemonicList>T,DBTM,DMEA,SURF_RPM</mnemonicList>\
             <unitList>s,m,m,c/s</unitList>{data}</logData></log></logs>"
        ),
    );
    assert_eq!(turns_of(&desk, "log = 'log.xml'\n"), "A-1 3600");
}

#[test]
fn a_list_of_runs_with_their_files() {
    let desk = yard();
    let line = |t: &str, d: &str| format!("2025-03-04T{t}Z,{d},{d},60");
    desk.write("r1.csv", log("time,bit depth [m],hole depth [m],rpm", 0..361, line));
    let rows: [&[&str]; 4] = [
        &["Runs of the rig", "", "", "", "", ""],
        &["Run No", "Well", "From", "To", "Mud (ppg)", "Files"],
        &["1", "Larkfield 1H", "2025-03-04", "2025-03-04", "10.2", "tally.csv; r1.csv"],
        &["Total", "", "", "", "", ""],
    ];
    book(&desk, "runs.xlsx", &rows, |_| {});
    desk.run(&["load", "runs.xlsx"]).ok();
    assert_eq!(desk.shown("serial = \"A-1\"", "revolutions").join(""), "A-1 3600");
}

#[test]
fn a_balance_that_is_an_estimate() {
    let desk = Desk::with_book();
    desk.write("joints.csv", JOINTS.replace(",yes,", ",no,"));
    desk.run(&["load", "joints.csv"]).ok();
    let rows: [&[&str]; 4] = [
        &["Pipe Serial", "Hrs", "Revs", "Date"],
        &["A-1", "~250", "n/a", "2025-01-05"],
        &["A-2", "300", "1000000", "2025-01-05"],
        &["Average", "275", "", ""],
    ];
    book(&desk, "o.xlsx", &rows, |_| {});
    desk.run(&["load", "o.xlsx"]).ok();
    assert_eq!(desk.shown("serial = \"A-1\"", "hours").join(""), "A-1 ≥ 250");
    assert_eq!(desk.shown("serial = \"A-2\"", "hours").join(""), "A-2 300");
}

#[test]
fn a_title_of_two_kinds_is_told_by_the_words_below_it() {
    let list = "Serial,Type,OD [mm],Wall [mm],Length [m],Date\n";
    let desk = Desk::with_book();
    desk.write("pipe.csv", format!("{list}P-1,drill pipe,127,9.19,9.45,2025-01-08\n"));
    desk.write("work.csv", format!("{list}P-1,straighten,127,9.19,9.45,2025-02-08\n"));
    desk.run(&["load", "pipe.csv", "--set", "new=yes"]).ok();
    assert!(desk.run(&["load", "work.csv"]).ok().contains("repair"));
    // Where no word tells, it is asked for.
    desk.write("none.csv", format!("{list}P-2,unheard of,127,9.19,9.45,2025-01-08\n"));
    let refused = desk.run(&["load", "none.csv"]).fails(3);
    assert!(refused.contains("equally well"), "{refused}");
}

/// How a list of pipe is written.
#[derive(Clone, Debug)]
struct Written {
    /// Order of the columns.
    order: Vec<usize>,
    /// Inches or millimetres, feet or metres.
    units: [bool; 3],
    /// Units in the title, in a row below, or beside each value.
    place: u8,
    /// Which of its titles each column has.
    titles: [usize; 6],
    dates: u8,
    comma: bool,
    blocks: usize,
    above: usize,
    below: bool,
}

fn written() -> impl Strategy<Value = Written> {
    let order = Just((0..6).collect::<Vec<usize>>()).prop_shuffle();
    let parts = (any::<[bool; 3]>(), 0..3u8, any::<[u8; 6]>(), 0..3u8);
    let rest = (any::<bool>(), 1..4usize, 0..3usize, any::<bool>());
    (order, parts, rest).prop_map(
        |(order, (units, place, titles, dates), (comma, blocks, above, below))| {
            let titles = titles.map(|n| usize::from(n) % 3);
            Written { order, units, place, titles, dates, comma, blocks, above, below }
        },
    )
}

const TITLES: [[&str; 3]; 6] = [
    ["Serial", "Serial No.", "S/N"],
    ["Component", "Type", "Description"],
    ["OD", "Outside Diameter", "Pipe OD"],
    ["Wall", "Wall thickness", "Nominal wall"],
    ["Length", "Joint Length", "Len"],
    ["Received", "Date", "Date received"],
];

/// Serial, outside diameter and wall in thousandths of an inch, length in hundredths of a foot, day.
type Pipe = (usize, i64, i64, i64, u32);

fn decimal(value: i64, places: usize, comma: bool) -> String {
    let text = format!("{:0>width$}", value, width = places + 1);
    let (whole, part) = text.split_at(text.len() - places);
    format!("{whole}{}{part}", if comma { ',' } else { '.' })
}

impl Written {
    fn cell(&self, pipe: &Pipe, column: usize) -> String {
        let (n, od, wall, length, day) = *pipe;
        let unit = |at: usize, [a, b]: [&str; 2]| {
            let unit = if self.units[at] { a } else { b };
            if self.place == 2 { format!(" {unit}") } else { String::new() }
        };
        match column {
            0 => format!("P-{n}"),
            1 => "drill pipe".to_owned(),
            // 25.4 mm are an inch, 0.3048 m a foot: exactly.
            2 if self.units[0] => decimal(od, 3, self.comma) + &unit(0, ["in", "mm"]),
            2 => decimal(od * 254, 4, self.comma) + &unit(0, ["in", "mm"]),
            3 if self.units[1] => decimal(wall, 3, self.comma) + &unit(1, ["in", "mm"]),
            3 => decimal(wall * 254, 4, self.comma) + &unit(1, ["in", "mm"]),
            4 if self.units[2] => decimal(length, 2, self.comma) + &unit(2, ["ft", "m"]),
            4 => decimal(length * 3048, 6, self.comma) + &unit(2, ["ft", "m"]),
            _ => match self.dates {
                0 => format!("2025-01-{day:02}"),
                1 => format!("{day} Jan 2025"),
                _ => format!("{day:02}-Jan-2025"),
            },
        }
    }

    fn unit(&self, column: usize) -> &'static str {
        match (column, column.checked_sub(2).and_then(|at| self.units.get(at))) {
            (2 | 3, Some(true)) => "in",
            (2 | 3, Some(false)) => "mm",
            (4, Some(true)) => "ft",
            (4, Some(false)) => "m",
            _ => "",
        }
    }

    fn text(&self, pipes: &[Pipe]) -> String {
        let sign = if self.comma { ";" } else { "," };
        let title = |column: usize| {
            let title = TITLES[column][self.titles[column]].to_owned();
            match (self.place, self.unit(column)) {
                (0, unit) if !unit.is_empty() => format!("{title} [{unit}]"),
                _ => title,
            }
        };
        let line = |of: &dyn Fn(usize) -> String| {
            self.order.iter().map(|c| of(*c)).collect::<Vec<_>>().join(sign)
        };
        let per = pipes.len().div_ceil(self.blocks);
        let blocks: Vec<&[Pipe]> = pipes.chunks(per).collect();
        let beside = |cells: Vec<String>| cells.join(&format!("{sign}{sign}"));
        let mut out = String::new();
        let width = 6 * blocks.len() + blocks.len() - 1;
        let alone = |text: &str| format!("{text}{}\n", sign.repeat(width - 1));
        for n in 0..self.above {
            out += &alone(["Pipe of the yard", "second sheet of two"][n]);
        }
        out += &(beside(vec![line(&title); blocks.len()]) + "\n");
        if self.place == 1 {
            out += &(beside(vec![line(&|c| self.unit(c).to_owned()); blocks.len()]) + "\n");
        }
        for row in 0..per {
            let cells = blocks.iter().map(|b| match b.get(row) {
                Some(pipe) => line(&|c| self.cell(pipe, c)),
                None => line(&|_| String::new()),
            });
            out += &(beside(cells.collect()) + "\n");
        }
        if self.below {
            out += &alone("Total of the list");
        }
        out
    }
}

fn answer(text: &str) -> String {
    let desk = Desk::with_book();
    desk.write("pipe.csv", text);
    desk.run(&["load", "pipe.csv", "--set", "new=yes"]).ok();
    desk.run(&[
        "find",
        "component = drill_pipe",
        "--show",
        "serial, od, nominal_wall, length, entered",
        "--csv",
    ])
    .ok()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, max_shrink_iters: 30, ..ProptestConfig::default() })]

    #[test]
    fn a_list_of_pipe_is_one_list_however_it_is_written(
        written in written(),
        sizes in prop::collection::vec((3500..6625i64, 250..500i64, 2500..3300i64, 1..29u32), 3..8),
    ) {
        let pipes: Vec<Pipe> =
            sizes.iter().enumerate().map(|(n, s)| (n + 1, s.0, s.1, s.2, s.3)).collect();
        let plain = Written {
            order: (0..6).collect(),
            units: [true; 3],
            place: 0,
            titles: [0; 6],
            dates: 0,
            comma: false,
            blocks: 1,
            above: 0,
            below: false,
        };
        prop_assert_eq!(answer(&plain.text(&pipes)), answer(&written.text(&pipes)), "{}", written.text(&pipes));
    }
}
