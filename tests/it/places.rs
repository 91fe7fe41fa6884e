//! Where on the joint: damage, bending and turns above the no-fatigue bend at pin end, middle and box
//! end, from files to answers; and what an open cut or pit does to them until it is repaired.

use super::cli::Desk;

pub const JOINTS: &str = "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [ft],\
Connection,TJ OD [in],TJ ID [in],Received,Location,String\n\
C-1,drill collar,yes,6.5,1.84375,,,30,NC46,6.5,2.8125,2026-01-05,Yard A,K1\n\
P-1,drill pipe,yes,5,.362,19.50,G-105,31.2,NC50,6 5/8,3 1/4,2026-01-05,Yard A,K1\n\
P-2,drill pipe,yes,5,.362,19.50,G-105,31.2,NC50,6 5/8,3 1/4,2026-01-05,Yard A,K1\n\
P-3,drill pipe,yes,5,.362,19.50,G-105,31.2,NC50,6 5/8,3 1/4,2026-01-05,Yard A,K1\n";

pub const SURVEY: &str = "Well,Larkfield 9\nDate,2026-02-01\nMD [ft],Inclination [deg],Azimuth [deg]\n\
0,0,0\n1000,0,0\n1100,16,0\n1300,48,0\n3000,48,0\n";

/// The pipe of the book in the bend, 4,000 ft of pipe that nobody named above the collars.
const TALLY: &str = "Position,Serial,Component,Length [ft],OD [in],ID [in],Weight [lb/ft],Count\n\
1,,bit,1,8.5,2,80,\n2,C-1,drill collar,30,6.5,2.8125,91,\n\
3,,drill pipe,31.2,5,4.276,20.9,30\n4,P-1,,,,,,\n5,P-2,,,,,,\n6,P-3,,,,,,\n";

const LOG: &str = "Activity,Bit from [ft],Bit to [ft],Hours [h],RPM,WOB [klbf]\n\
rotating on bottom,1900,2600,40,120,10\nrotating off bottom,2600,2600,3,100,0\n";

fn run(name: &str, month: u32) -> String {
    format!(
        "name = \"{name}\"\nwell = \"Larkfield 9\"\nstart = 2026-{month:02}-01T00:00:00+01:00\n\
         end = 2026-{month:02}-04T00:00:00+01:00\nmud_weight = \"9.6 ppg\"\n\
         hole_diameter = \"8 1/2 in\"\nenvironment = \"air\"\n\
         tally = \"tally.csv\"\nlog = \"log.csv\"\n"
    )
}

/// Two runs alike, in February and in April; what is entered between them comes before the second.
fn yard(between: &[&[&str]]) -> Desk {
    let desk = Desk::with_book();
    for (name, text) in [
        ("joints.csv", JOINTS),
        ("survey.csv", SURVEY),
        ("tally.csv", TALLY),
        ("log.csv", LOG),
        ("one.toml", &run("ONE", 2)),
        ("two.toml", &run("TWO", 4)),
    ] {
        desk.write(name, text);
    }
    desk.run(&["load", "joints.csv", "survey.csv", "one.toml"]).ok();
    for words in between {
        desk.run(&[&["enter"], *words].concat()).ok();
    }
    desk.run(&["load", "two.toml"]).ok();
    desk
}

/// A column of what a joint went through in the runs ONE and TWO.
fn in_runs(desk: &Desk, serial: &str, column: &str) -> [Option<f64>; 2] {
    let told = desk.run(&["exposure", serial, "--json"]).json();
    let runs = told["runs"].as_array().unwrap();
    ["ONE", "TWO"].map(|name| {
        let row = runs.iter().find(|r| r["run"] == name)?;
        row[column].as_f64().or_else(|| row[column]["value"].as_f64())
    })
}

fn ratio(desk: &Desk, serial: &str, column: &str) -> f64 {
    let [one, two] = in_runs(desk, serial, column).map(Option::unwrap);
    two / one
}

#[test]
fn a_place_is_asked_for_by_its_name() {
    let desk = yard(&[]);
    let of = |words: &str| desk.shown("serial = \"P-2\"", words);
    let value = |words: &str| of(words)[0].rsplit(' ').next().unwrap().replace(',', "");
    // What a window counts is the whole less what was before, and the worst place is the joint's.
    for what in ["damage", "over_limit"] {
        let at = |place: &str, window: &str| -> f64 {
            let shown = value(&format!("{what} at {place} {window}"));
            shown.parse().unwrap_or_else(|_| panic!("{what} at {place}: {shown}"))
        };
        let mut worst: f64 = 0.0;
        for place in ["pin end", "middle", "box end"] {
            let (all, second) = (at(place, ""), at(place, "since 2026-03-01"));
            assert!((all - 2.0 * second).abs() <= 0.02 * all, "{what} at {place}: {all} {second}");
            worst = worst.max(all);
        }
        assert!(worst > 0.0, "{what}");
        let whole: f64 = value(what).parse().unwrap();
        assert!((whole - worst).abs() < 1e-9, "{what}: {whole} is not the worst, {worst}");
    }
    assert_eq!(
        desk.joints("any run (max_bending at box end > 5 ksi) and damage at middle < damage").yes,
        ["P-1", "P-2", "P-3"]
    );
    let said = desk.run(&["find", "hours at pin end > 3 h"]).fails(2);
    assert!(said.contains("hours stands for the whole joint") && said.contains("damage"), "{said}");
    let said = desk.run(&["find", "damage at top > 1"]).fails(2);
    assert!(said.contains("pin end, middle or box end"), "{said}");
}

#[test]
fn the_body_of_a_collar_says_nothing_of_its_connections() {
    let desk = yard(&[]);
    for column in ["damage", "damage_pin", "damage_box", "over_limit", "max_bending"] {
        assert_eq!(in_runs(&desk, "C-1", column), [None; 2], "{column}");
    }
    assert!(in_runs(&desk, "C-1", "damage_middle")[0].is_some());
    let asked = desk.joints("damage > 0");
    assert_eq!(
        (asked.yes, asked.open),
        (vec!["P-1".into(), "P-2".into(), "P-3".into()], vec!["C-1".into()])
    );
    let text = desk.run(&["exposure", "--run", "ONE"]).ok();
    assert!(text.contains("connections of drill collars"), "{text}");
}

/// A tally and the certificate tell two lengths of the collar: its body has one figure all the same.
#[test]
fn the_body_of_a_collar_has_one_figure_whatever_its_length() {
    let desk = Desk::with_book();
    for (name, text) in [
        ("joints.csv", JOINTS),
        ("survey.csv", SURVEY),
        ("tally.csv", &TALLY.replace("2,C-1,drill collar,30,", "2,C-1,drill collar,29,")),
        ("log.csv", LOG),
        ("one.toml", &run("ONE", 2)),
    ] {
        desk.write(name, text);
    }
    desk.run(&["load", "joints.csv", "survey.csv", "one.toml"]).ok();
    let of_run = in_runs(&desk, "C-1", "damage_middle")[0].unwrap();
    let shown = desk.run(&["find", "serial = \"C-1\"", "--show", "damage_middle", "--json"]).json();
    assert_eq!(shown["joints"][0]["damage_middle"].as_f64(), Some(of_run), "{shown}");
    let asked = desk.joints("component = drill_collar and damage at middle < 1");
    assert_eq!((asked.yes, asked.open), (vec!["C-1".into()], vec![]));
    let asked = desk.joints("component = drill_collar and damage at pin end < 1");
    assert_eq!((asked.yes, asked.open), (vec![], vec!["C-1".into()]));
}

/// Peterson's factor of a cut 1 mm deep with a root of 0.5 mm in steel of 115 ksi (Kt 3.828, material
/// length 0.143 mm), worked out by hand.
const FACTOR: f64 = 3.200;

#[test]
fn a_slip_cut_counts_in_every_later_run() {
    let found: &[&str] = &[
        "inspection",
        "joint=P-1",
        "date=2026-03-10",
        "methods=visual",
        "finding=slip cut",
        "size=1 mm",
    ];
    let sound = yard(&[]);
    let cut = yard(&[found]);
    // The slopes of the curve are 4 and 5: so much more damage do 3.2 times the stress.
    let least = FACTOR.powi(4) * 0.99;
    let most = FACTOR.powi(5) * 1.01;
    let more = ratio(&cut, "P-1", "damage_box");
    assert!((least..most).contains(&more), "{more} is not between {least} and {most}");
    // Elsewhere on it, before it was found and on its neighbours nothing changes.
    assert_eq!(in_runs(&cut, "P-1", "damage_pin"), in_runs(&sound, "P-1", "damage_pin"));
    assert_eq!(in_runs(&cut, "P-1", "damage_box")[0], in_runs(&sound, "P-1", "damage_box")[0]);
    assert_eq!(in_runs(&cut, "P-2", "damage_box"), in_runs(&sound, "P-2", "damage_box"));
    // The nominal stress is that of the tube.
    assert_eq!(in_runs(&cut, "P-1", "bending_box"), in_runs(&sound, "P-1", "bending_box"));
    let rated = cut.run(&["rate", "joint", "P-1"]).ok();
    assert!(rated.contains("counts 3.20 times"), "{rated}");
    // Ground out it counts no more.
    let ground = &["repair", "joint=P-1", "date=2026-03-12", "work=grind", "shop=Yard A"];
    let repaired = yard(&[found, ground]);
    assert_eq!(in_runs(&repaired, "P-1", "damage_box"), in_runs(&sound, "P-1", "damage_box"));
}

#[test]
fn a_cut_found_during_a_run_counts_in_the_rest_of_it() {
    let look: &[&str] =
        &["inspection", "joint=P-1", "date=2026-04-01T06:00:00+01:00", "methods=visual"];
    let found = &[look, &["finding=slip cut", "size=1 mm"]].concat()[..];
    let (sound, cut) = (yard(&[look]), yard(&[found]));
    let of = |desk: &Desk, window: &str| -> f64 {
        let told = desk.shown("serial = \"P-1\"", &format!("damage at box end {window}"));
        told[0].rsplit(' ').next().unwrap().parse().unwrap()
    };
    let after = "since last inspection";
    let before = |desk: &Desk| of(desk, "") - of(desk, after);
    assert!((before(&sound) - before(&cut)).abs() < 2e-4, "{} {}", before(&sound), before(&cut));
    let more = of(&cut, after) / of(&sound, after);
    assert!((FACTOR.powi(4) * 0.99..FACTOR.powi(5) * 1.01).contains(&more), "{more}");
    // Entered after the run as before it.
    let late = yard(&[]);
    late.run(&[&["enter"], found].concat()).ok();
    assert_eq!(in_runs(&late, "P-1", "damage_box"), in_runs(&cut, "P-1", "damage_box"));
    late.run(&["verify"]).ok();
}

#[test]
fn a_cut_counts_where_it_lies_and_says_when_it_cannot() {
    let finding = |what: &'static str, more: &[&'static str]| -> Vec<&'static str> {
        let mut words = vec!["inspection", "joint=P-1", "date=2026-03-10", "methods=visual", what];
        words.extend(more);
        words
    };
    let changed = |words: Vec<&'static str>| {
        let desk = yard(&[&words]);
        ["damage_pin", "damage_middle", "damage_box"].map(|c| ratio(&desk, "P-1", c) > 2.0)
    };
    assert_eq!(changed(finding("finding=cut", &["size=1 mm", "at=2 ft"])), [true, false, false]);
    assert_eq!(changed(finding("finding=cut", &["size=1 mm", "at=15 ft"])), [false, true, false]);
    // Nobody wrote where: it may lie at any place.
    assert_eq!(changed(finding("finding=external pitting", &["size=1 mm"])), [true; 3]);
    // Along the tube it does not weaken it in bending.
    assert_eq!(changed(finding("finding=cut longitudinal", &["size=1 mm"])), [false; 3]);
    let unread = yard(&[&finding("finding=slip cut", &[])]);
    assert!((ratio(&unread, "P-1", "damage_box") - 1.0).abs() < 1e-9);
    let said = unread.run(&["exposure", "P-1"]).ok();
    assert!(said.contains("an open cut or pit without a depth is not counted"), "{said}");
}

/// On bottom the pipe next to the collar is pressed by some of the load on the bit; 60,000 lbf are
/// beyond what the low side of a hole at 48° holds (by Dawson and Paslay 44,000 lbf: 4EI/r = 2.0e8 N
/// with EI = 1.23e6 N·m², r = 0.0238 m, and 190 N/m), 20,000 are not.
const PRESSED: &str = "Activity,Bit from [ft],Bit to [ft],Hours [h],RPM,WOB [klbf]\n\
rotating on bottom,1900,2300,24,120,20\nrotating on bottom,2300,2600,16,120,60\n\
rotating off bottom,2600,2600,3,100,0\nsliding,2600,2610,5,0,60\n";

const NEXT_TO_THE_COLLAR: &str = "Position,Serial,Component,Length [ft],OD [in],ID [in],Weight [lb/ft],Count\n\
1,,bit,1,8.5,2,80,\n2,C-1,drill collar,30,6.5,2.8125,91,\n\
3,P-1,,,,,,\n4,P-2,,,,,,\n5,P-3,,,,,,\n6,,drill pipe,31.2,5,4.276,20.9,100\n";

/// A figure, with its unit or without.
fn number(value: &serde_json::Value) -> Option<f64> {
    value.as_f64().or_else(|| value["value"].as_f64())
}

fn pressed(hole: &str) -> Desk {
    let desk = Desk::with_book();
    let run = run("ONE", 2).replace("hole_diameter = \"8 1/2 in\"\n", hole);
    for (name, text) in [
        ("joints.csv", JOINTS),
        ("survey.csv", SURVEY),
        ("tally.csv", NEXT_TO_THE_COLLAR),
        ("log.csv", PRESSED),
        ("one.toml", &run),
    ] {
        desk.write(name, text);
    }
    desk.run(&["load", "joints.csv", "survey.csv", "one.toml"]).ok();
    desk
}

#[test]
fn hours_in_compression_on_the_wall_and_buckled_stand_at_places() {
    let desk = pressed("hole_diameter = \"8 1/2 in\"\n");
    let told = desk.run(&["exposure", "P-1", "--json"]).json();
    let run = &told["runs"][0];
    let hours = |column: &str| number(&run[column]).unwrap_or_else(|| panic!("{column}: {run}"));
    for column in ["compression_pin", "compression_middle", "compression_box", "compression_hours"]
    {
        assert!((hours(column) - 40.0).abs() < 1e-6, "{column}: {run}");
    }
    assert!((hours("buckled_hours") - 16.0).abs() < 1e-6, "{run}");
    // Nobody turned it where it touches: 20,000 lbf do not press it onto the wall of this hole.
    let on_the_wall = hours("contact_hours");
    for column in ["contact_pin", "contact_middle", "contact_box"] {
        assert!(hours(column) <= on_the_wall, "{column}: {run}");
    }
    // Of the collar nobody asks where its tube lies; that it is pressed is known.
    let collar = desk.run(&["exposure", "C-1", "--json"]).json();
    assert!(collar["runs"][0]["contact_hours"].is_null(), "{collar}");
    assert!(number(&collar["runs"][0]["compression_hours"]).unwrap() > 39.9, "{collar}");

    let found = |filter: &str| desk.joints(filter).yes;
    assert_eq!(found("compression_hours at box end > 39 h"), ["C-1", "P-1", "P-2", "P-3"]);
    assert_eq!(found("compression_hours since 2026-01-01 > 40.1 h"), Vec::<String>::new());
    assert_eq!(
        found("any run (buckled_hours > 15 h and compression_hours at pin end > 39 h)").len(),
        3
    );

    let traced = desk.run(&["trace", "P-1"]).ok();
    assert!(
        traced.contains("in compression 40.0 h, ") && traced.contains("buckled 16.0 h"),
        "{traced}"
    );
    let folder = desk.run(&["dossier", "P-1", "--json"]).json().to_string();
    assert!(folder.contains("compression_box") && folder.contains("contact_hours"), "{folder}");
}

#[test]
fn without_the_hole_nobody_knows_where_the_tube_lies() {
    let desk = pressed("");
    let told = desk.run(&["exposure", "P-1", "--json"]).json();
    let run = &told["runs"][0];
    assert!(run["buckled_hours"].is_null(), "{run}");
    assert!((number(&run["compression_hours"]).unwrap() - 40.0).abs() < 1e-6, "{run}");
    let open = desk.joints("buckled_hours > 1 h").open;
    assert!(["P-1", "P-2", "P-3"].iter().all(|p| open.iter().any(|o| o == p)), "{open:?}");
}

#[test]
fn damage_by_depth_stands_at_each_place() {
    let desk = yard(&[]);
    let told = desk.run(&["exposure", "P-1", "--depth", "--json"]).json();
    let joint = desk.run(&["exposure", "P-1", "--json"]).json();
    for place in ["damage_pin", "damage_middle", "damage_box"] {
        let sum = |table: &str| -> f64 {
            told[table].as_array().unwrap().iter().filter_map(|r| number(&r[place])).sum()
        };
        let runs = joint["runs"].as_array().unwrap();
        let whole: f64 = runs.iter().filter_map(|r| number(&r[place])).sum();
        assert!(whole > 0.0, "{place}");
        // Stretches with less than half a per cent of it are left out.
        let by_depth = sum("by_depth");
        assert!(by_depth > 0.9 * whole && by_depth <= whole * 1.000_001, "{place}: {by_depth}");
        assert!((sum("by_operation") - whole).abs() < 1e-6 * whole, "{place}");
    }
}
