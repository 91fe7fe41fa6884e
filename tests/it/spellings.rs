//! One word in the spellings of three yards: what is kept is the vocabulary's own, what is asked is
//! read in any, and a word that a field cannot hold is told so.

use std::collections::BTreeSet;

use pipelore::filter::registry::{Field, Kind, fields};

use super::cli::Desk;

const JOINTS: &str = "Serial,Component,New,OD [in],Wall [in],Grade,Length [ft],Connection,Range,Heat,\
    Received\n\
    A-1,drill pipe,yes,5,0.362,G-105,31,NC50,R2,H4417,2025-01-01\n\
    A-2,drill pipe,yes,5,0.362,G105,31,NC 50,2,h4417,2025-01-01\n\
    A-3,drill pipe,yes,5,0.362,g 105,31,nc50,range 2,H4417,2025-01-01\n\
    A-4,drill pipe,yes,5,0.362,S-135,31,4 1/2 IF,R2,H9,2025-01-01\n";

fn yard() -> Desk {
    let desk = Desk::with_book();
    desk.write("joints.csv", JOINTS);
    desk.run(&["load", "joints.csv"]).ok();
    desk
}

fn found(desk: &Desk, filter: &str) -> BTreeSet<String> {
    let json = desk.run(&["find", filter, "--show", "serial", "--json"]).json();
    let serial = |j: &serde_json::Value| j["serial"].as_str().unwrap().to_owned();
    json["joints"].as_array().unwrap().iter().map(serial).collect()
}

fn set(serials: &[&str]) -> BTreeSet<String> {
    serials.iter().map(|s| (*s).to_owned()).collect()
}

#[test]
fn three_spellings_of_a_word_are_one() {
    let desk = yard();
    let three = set(&["A-1", "A-2", "A-3"]);
    for filter in [
        "grade = G105",
        "grade = \"G-105\"",
        "grade = \"g 105\"",
        "grade in (G105, E75)",
        "heat = \"H4417\"",
        "heat = \"h4417\"",
        "kin of \"A-1\" by heat or serial = \"a-1\"",
    ] {
        assert_eq!(found(&desk, filter), three, "{filter}");
    }
    let all = set(&["A-1", "A-2", "A-3", "A-4"]);
    for filter in [
        "connection = NC50",
        "connection = \"nc 50\"",
        "connection = \"4 1/2 IF\"",
        "connection like \"NC*\"",
        "range = R2",
        "range = 2",
        "range = \"range 2\"",
    ] {
        assert_eq!(found(&desk, filter), all, "{filter}");
    }
    assert_eq!(found(&desk, "grade = S135"), set(&["A-4"]));
}

#[test]
fn a_word_that_a_field_cannot_hold_is_told_so() {
    let desk = yard();
    for (filter, meant) in [
        ("hardband = ruogh", "rough"),
        ("any finding (what = slip_crakc)", "slip_crack"),
        ("any finding (what = \"slip crakc\")", "slip_crack"),
        ("disposition = hld", "hold"),
        ("disposition = \"hld\"", "hold"),
        ("connection = NC51", "did you mean NC"),
        ("grade = G106", "G105"),
    ] {
        let error = desk.run(&["find", filter]).fails(2);
        assert!(error.contains(meant), "{filter}: {error}");
    }
}

#[test]
fn a_broader_word_means_all_below_it() {
    let desk = yard();
    desk.run(&[
        "enter",
        "inspection",
        "serial=A-1",
        "date=2026-02-01",
        "methods=magnetic_slip",
        "tube finding=slip crack",
    ])
    .ok();
    assert_eq!(found(&desk, "any finding (what = slip_crack)"), set(&["A-1"]));
    assert_eq!(found(&desk, "any finding (what = crack)"), set(&["A-1"]));
    assert!(found(&desk, "any finding (what = gouge)").is_empty());
}

/// One yard writes its names in three ways; it means one of each.
#[test]
fn names_are_one_in_every_spelling() {
    let desk = Desk::with_book();
    desk.write(
        "joints.csv",
        "Serial,Component,New,OD [in],Wall [in],Grade,Length [ft],Heat,Pin heat,Owner,Maker,\
         Location,String,Received\n\
         A-1,drill pipe,yes,5,0.362,G105,31,H  44,P 1,Tern Oil,Mühle,Rig  9,K 1,2025-01-01\n\
         A-2,drill pipe,yes,5,0.362,G105,31,h 44,p\u{a0}1,tern  oil,MÜHLE,rig 9,k  1,2025-01-01\n\
         A-3,drill pipe,yes,5,0.362,G105,31,H 44,P  1,TERN OIL,mühle,RIG\u{2003}9,K 1,2025-01-01\n\
         A-4,drill pipe,yes,5,0.362,G105,31,H44,P1,Tern,Mill,Rig9,K1,2025-01-01\n",
    );
    desk.write(
        "survey.csv",
        "Well,larkfield  2h\nDate,2025-02-01\nMD [ft],Inclination [deg],Azimuth [deg]\n0,0,0\n\
         1000,0,0\n1100,9,0\n1500,30,0\n3000,30,0\n",
    );
    desk.write("tally.csv", "Position,Serial\n1,a-1\n2,A-2\n");
    desk.write(
        "operations.csv",
        "Activity,Bit from [ft],Bit to [ft],Hours [h],RPM,WOB [klbf]\n\
         rotating on bottom,1000,1500,20,100,20\n",
    );
    desk.write(
        "run.toml",
        "name = \"K1-R01\"\nwell = \"Larkfield 2H\"\nrig = \"RIG 9\"\nstring = \"K  1\"\n\
         start = 2025-02-01T00:00:00Z\nend = 2025-02-04T00:00:00Z\nmud_weight = \"9.6 ppg\"\n\
         hole_diameter = \"8 1/2 in\"\ncasing_depth = \"1200 ft\"\ntally = \"tally.csv\"\n\
         log = \"operations.csv\"\n",
    );
    desk.write(
        "makeups.csv",
        "Date,Pin,Box,Torque [ft.lbf],Gauge\n2025-01-10,A-1,,31000,TG  9\n\
         2025-01-11,A-2,,31000,tg 9\n",
    );
    desk.write(
        "hire.csv",
        "Serial,Date,Hire,Party\nA-1,2025-03-05,H  31,Moor\nA-3,2025-03-05,h 31,MOOR\n",
    );
    desk.write("back.csv", "Serial,Returned,Hire\nA-1,2025-04-05,h 31\nA-3,2025-04-05,H 31\n");
    for file in ["joints.csv", "survey.csv", "run.toml", "makeups.csv", "hire.csv", "back.csv"] {
        desk.run(&["load", file]).ok();
    }
    let three = set(&["A-1", "A-2", "A-3"]);
    for filter in [
        "heat = \"H 44\"",
        "heat in (\"x\", \"h  44\")",
        "heat like \"h 4*\"",
        "not heat != \"H 44\"",
        "location = \"rig 9\"",
        "location like \"RIG  ?\"",
        "string = \"k 1\"",
        "owner = \"Tern oil\"",
        "maker = \"MÜHLE\"",
        "maker like \"mÜ*\"",
        "kin of \"A-1\" by heat or serial = \"A-1\"",
        "kin of \"A-1\" by tool_joint_heat or serial = \"A-1\"",
        "string as of 2025-02-01 = \"K 1\"",
    ] {
        assert_eq!(found(&desk, filter), three, "{filter}");
    }
    let two = set(&["A-1", "A-2"]);
    for filter in [
        "any run (well = \"LARKFIELD 2H\" and rig = \"rig 9\")",
        "any run (max_dogleg > 1 deg/100ft)",
        "any run (string = joint.string)",
        "kin of \"A-1\" by gauge or serial = \"A-1\"",
        "any makeup (gauge = \"TG 9\")",
    ] {
        assert_eq!(found(&desk, filter), two, "{filter}");
    }
    for filter in ["any hire (name = \"H 31\" and party = \"moor\")", "any hire (not still_out)"] {
        assert_eq!(found(&desk, filter), set(&["A-1", "A-3"]), "{filter}");
    }
    // What is counted by name is one group, in the spelling that came first.
    for question in [
        vec!["find", "true", "--by", "location", "--json"],
        vec!["stock", "--by", "location", "--json"],
        vec!["due", "--undecided", "--by", "location", "--json"],
    ] {
        let said = desk.run(&question).json().to_string();
        assert_eq!(said.matches("Rig 9").count(), 1, "{said}");
        assert!(!said.contains("rig 9") && !said.contains("RIG 9"), "{said}");
    }
    let kin = desk.run(&["kin", "A-1", "--json"]).json().to_string();
    assert!(kin.contains("heat H 44") && kin.contains("gauge TG 9"), "{kin}");
    let statement = desk.run(&["statement", "h  31"]).ok();
    assert!(statement.contains("A-1") && statement.contains("A-3"), "{statement}");
    // One place on one day, in two spellings, is no clash.
    desk.run(&["enter", "move", "serial=A-2", "date=2025-06-01", "location=Yard  1"]).ok();
    desk.run(&["enter", "move", "serial=A-2", "date=2025-06-01", "location=yard 1"]).ok();
    desk.run(&["enter", "move", "serial=A-2", "date=2025-06-01", "location=yard 2"]).fails(3);
    desk.run(&["verify"]).ok();
}

/// Signs that nobody sees, as they come with what is pasted from pages and sheets.
const UNSEEN: [(&str, &str); 6] = [
    ("\u{200b}", "without width"),
    ("\u{202e}", "turns the direction"),
    ("\u{200f}", "turns the direction"),
    ("\u{ad}", "soft hyphen"),
    ("\u{feff}", "byte order mark"),
    ("\u{1}", "control character"),
];

#[test]
fn what_nobody_sees_is_no_part_of_a_name() {
    let desk = yard();
    for (sign, kind) in UNSEEN {
        let code = format!("U+{:04X}", sign.chars().next().map_or(0, u32::from));
        for (file, text) in [
            (
                "serial.csv",
                format!("Serial,Component,New,Received\nB{sign}-1,drill pipe,yes,2025-01-01\n"),
            ),
            (
                "heat.csv",
                format!(
                    "Serial,Component,New,Heat,Received\nB-1,drill pipe,yes,H{sign}1,2025-01-01\n"
                ),
            ),
            (
                "owner.csv",
                format!(
                    "Serial,Component,New,Owner,Received\nB-1,drill pipe,yes,T{sign}n,2025-01-01\n"
                ),
            ),
            ("moves.csv", format!("Serial,Date,Location\nA-1,2025-05-01,R{sign}g 9\n")),
            (
                "survey.csv",
                format!(
                    "Well,W{sign}1\nDate,2025-02-01\nMD [ft],Inclination [deg],Azimuth [deg]\n0,0,0\n100,0,0\n"
                ),
            ),
        ] {
            desk.write(file, text);
            let said = desk.run(&["load", file]).fails(3);
            assert!(said.contains(kind) && said.contains(&code), "{file} {code}: {said}");
            assert!(said.contains("row 2") || file == "survey.csv", "{file}: {said}");
            assert!(!said.contains("is given") && !said.contains(sign), "{file}: {said}");
        }
        // A line cannot hold a control character as an argument, but all others.
        let place = format!("location=R{sign}g 9");
        let entered = ["enter", "move", "serial=A-1", "date=2025-05-01", &place];
        let said = desk.run(&entered).fails(2);
        assert!(said.contains(kind), "{said}");
    }
    // Blanks of any width are blanks, and what is told to people may hold anything.
    desk.run(&[
        "enter",
        "move",
        "serial=A-1",
        "date=2025-05-01",
        "location=Rig\u{a0}\u{2009}9",
        "remark=as told \u{200f}",
    ])
    .ok();
    assert_eq!(found(&desk, "location = \"rig 9\""), set(&["A-1"]));
}

/// Fields whose texts no vocabulary can know: names, and what one person tells another.
const NAMES: [&str; 34] = [
    "authority",
    "box_heat",
    "certificate",
    "coating",
    "compound",
    "contract",
    "equipment",
    "firm",
    "gauge",
    "hardband_alloy",
    "heat",
    "hire",
    "inspector",
    "introduced_by",
    "location",
    "maker",
    "mate",
    "mill_order",
    "name",
    "operation",
    "owner",
    "paint",
    "party",
    "pin_heat",
    "reason",
    "report",
    "rig",
    "serial",
    "shop",
    "standard",
    "string",
    "ticket",
    "weld_lot",
    "well",
];

#[test]
fn every_field_that_holds_a_text_is_a_name_or_has_a_vocabulary() {
    let desk = yard();
    let mut worded = 0;
    for field in fields() {
        let asked = |text: &str| match field.record {
            None => format!("{} = {text}", field.name),
            Some(record) => format!("any {record} ({} = {text})", field.name),
        };
        match field.kind {
            Kind::Text => assert!(NAMES.contains(&field.name), "{} has no vocabulary", field.name),
            Kind::Word(words) | Kind::Set(words) => {
                worded += 1;
                for strange in ["zzqx", "\"zzqx\"", "\"zz qx\""] {
                    desk.run(&["find", &asked(strange)]).fails(2);
                }
                let known = words.list()[0];
                desk.run(&["find", &asked(&format!("\"{known}\""))]).ok();
                near_misses_are_told(&desk, field, known, &asked);
            }
            _ => {}
        }
    }
    assert!(worded > 40, "{worded}");
}

/// A word with two letters the wrong way round gets the right one.
fn near_misses_are_told(desk: &Desk, field: &Field, known: &str, asked: &dyn Fn(&str) -> String) {
    let mut letters: Vec<char> = known.chars().collect();
    let n = letters.len();
    if n < 6 || letters[n - 2] == letters[n - 3] {
        return;
    }
    letters.swap(n - 2, n - 3);
    let miss: String = letters.into_iter().collect();
    let said = desk.run(&["find", &asked(&miss)]).fails(2);
    assert!(said.contains("did you mean"), "{}: {miss}: {said}", field.name);
}

#[test]
fn what_a_maker_calls_his_own_loads_with_a_remark_and_can_be_asked_for() {
    let desk = Desk::with_book();
    desk.write(
        "joints.csv",
        "Serial,Component,New,OD [in],Wall [in],Grade,Connection,Range,Received\n\
         B-1,drill pipe,yes,5,0.362,Z-9,XXYY,2,2025-01-05\n\
         B-2,drill pipe,yes,5,0.362,z-9,NC51,9,2025-01-05\n\
         B-3,drill pipe,yes,5,0.362,S 135,4 1/2 IF,2,2025-01-05\n",
    );
    let loaded = desk.run(&["load", "joints.csv", "--json"]).json();
    let notes = loaded["notes"].to_string();
    for part in [
        "Z-9 is no grade",
        "XXYY is no rotary shouldered connection",
        "NC51 is no rotary shouldered connection known here; did you mean NC50?",
        "9 is no length range",
    ] {
        assert_eq!(notes.matches(part).count(), 1, "{part}: {notes}");
    }
    assert!(!notes.contains("S 135") && !notes.contains("IF is no"), "{notes}");
    let shown = desk.shown("serial = \"B-1\"", "grade");
    assert_eq!(shown, ["B-1 Z-9"]);
    for (filter, serials) in [
        ("grade = \"Z-9\"", vec!["B-1", "B-2"]),
        ("grade = \"z-9\"", vec!["B-1", "B-2"]),
        ("grade = S135", vec!["B-3"]),
        ("connection = \"xxyy\"", vec!["B-1"]),
        ("connection = \"NC51\"", vec!["B-2"]),
        ("connection = NC50", vec!["B-3"]),
        ("range = \"9\"", vec!["B-2"]),
    ] {
        assert_eq!(found(&desk, filter), set(&serials), "{filter}");
    }
    for filter in ["grade = \"Z-8\"", "connection = \"NC52\"", "grade = Z"] {
        desk.run(&["find", filter]).fails(2);
    }
    let entered =
        ["enter", "joint", "serial=B-4", "component=dp", "new=yes", "grade=Q 7", "date=2025-01-05"];
    let said = desk.run(&entered);
    assert!(format!("{}{}", said.out, said.err).contains("Q 7 is no grade"), "{}", said.out);
    desk.run(&["verify"]).ok();
}

#[test]
fn a_field_of_several_words_is_each_of_them_and_as_it_is_printed() {
    let desk = yard();
    desk.write(
        "inspection.csv",
        "Date,2026-02-01\nMethod,visual tube; UT wall; visual connection; dimensional 1; hardband check\n\
         Serial,Wall [in],Pin OD [in],Box OD [in],Tube findings,Pin findings,Hardband findings\n\
         A-1,0.340,6.60,6.60,none,torn threads,none\nA-2,0.340,6.60,6.60,none,none,hardband rough\n\
         A-3,0.340,6.60,6.60,coating loss,none,hardband rough\n",
    );
    desk.run(&["load", "inspection.csv"]).ok();
    desk.run(&["enter", "failure", "serial=A-4", "date=2026-02-02", "failure=twist off"]).ok();
    let mut asked = 0;
    for field in ["restriction", "not_measured", "out_reason", "criterion", "disposition"] {
        for row in desk.shown(&format!("{field} is not unknown"), field) {
            let (serial, printed) = row.split_once(' ').unwrap();
            if printed.is_empty() {
                continue;
            }
            let words: Vec<&str> = printed.split([',', ':']).map(str::trim).collect();
            for said in std::iter::once(printed).chain(words) {
                let filter = format!("{field} = \"{said}\"");
                assert!(found(&desk, &filter).contains(serial), "{filter} {serial}");
                let not = format!("{field} != \"{said}\"");
                assert!(!found(&desk, &not).contains(serial), "{not} {serial}");
                asked += 1;
            }
        }
    }
    assert!(asked > 12, "{asked}");
    assert_eq!(found(&desk, "out_reason = twist_off"), set(&["A-4"]));
    assert_eq!(found(&desk, "restriction = protectors"), set(&["A-2", "A-3"]));
    let both = "restriction = \"corrosion_plan, open_hole_or_protectors\"";
    assert_eq!(found(&desk, both), set(&["A-3"]));
}
