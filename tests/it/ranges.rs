//! How far a damage may be from its figure: what the hole does between its stations, scatter of the
//! curve, what was assumed; the figure itself stays that of the survey.

use super::cli::Desk;
use serde_json::Value;

const HEAD: &str = "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [ft],\
Connection,TJ OD [in],TJ ID [in],Received,Location,String";

/// P-1 stands 940 ft above the bit, and goes through the curve while the bit drills ahead.
fn joints(air_weight: bool) -> String {
    let (column, value) = if air_weight { (",Air weight [lb/ft]", ",21.5") } else { ("", "") };
    let joint = |serial: &str| {
        format!(
            "{serial},drill pipe,yes,5,.362,19.50,G-105,31.2,NC50,6 5/8,3 1/4,2026-01-05,Yard A,\
             K1{value}\n"
        )
    };
    format!("{HEAD}{column}\n{}{}", joint("P-1"), joint("P-2"))
}

/// 8 deg/100 ft from 1,000 to 1,300 ft.
const SURVEY: &str = "Well,Larkfield 9\nDate,2026-02-01\nMD [ft],Inclination [deg],Azimuth [deg]\n\
0,0,0\n1000,0,0\n1100,8,0\n1200,16,0\n1300,24,0\n3000,24,0\n";

const TALLY: &str = "Position,Serial,Component,Length [ft],OD [in],ID [in],Weight [lb/ft],Count\n\
1,,bit,1,8.5,2,80,\n2,,drill collar,30,6.5,2.8125,91,3\n3,,drill pipe,31.2,5,4.276,20.9,27\n\
4,P-1,,,,,,\n5,P-2,,,,,,\n";

const BEFORE: &str = "Position,Serial,Component,Length [ft],OD [in],ID [in],Weight [lb/ft],Count\n\
1,,bit,1,8.5,2,80,\n2,,drill collar,30,6.5,2.8125,91,3\n3,,drill pipe,31.2,5,4.276,20.9,60\n";

const AHEAD: &str = "Activity,Bit from [ft],Bit to [ft],Hours [h],RPM,WOB [klbf]\n\
rotating on bottom,1300,2600,60,120,0\n";

/// The curve drilled with every other fifty feet slid, or all of it rotated.
fn curve(slid: bool) -> String {
    let mut rows = "Activity,Bit from [ft],Bit to [ft],Hours [h],RPM,WOB [klbf]\n\
                    rotating on bottom,900,1000,2,120,10\n"
        .to_owned();
    for from in (1000..1300).step_by(100) {
        let (how, rpm) = if slid { ("sliding", 0) } else { ("rotating on bottom", 100) };
        rows += &format!("{how},{from},{},2,{rpm},10\n", from + 50);
        rows += &format!("rotating on bottom,{},{},1,100,10\n", from + 50, from + 100);
    }
    rows
}

fn run(name: &str, month: u32, files: (&str, &str), more: &str) -> String {
    format!(
        "name = \"{name}\"\nwell = \"Larkfield 9\"\nstart = 2026-{month:02}-01T00:00:00+01:00\n\
         end = 2026-{month:02}-06T00:00:00+01:00\nmud_weight = \"9.6 ppg\"\n\
         hole_diameter = \"8 1/2 in\"\n{more}tally = \"{}\"\nlog = \"{}\"\n",
        files.0, files.1
    )
}

fn yard(slid: bool, air_weight: bool, environment: &str) -> Desk {
    let desk = Desk::with_book();
    for (name, text) in [
        ("joints.csv", joints(air_weight)),
        ("survey.csv", SURVEY.to_owned()),
        // Without a weight the pipe below weighs what its plain section does.
        ("tally.csv", if air_weight { TALLY.to_owned() } else { TALLY.replace("20.9,27", ",27") }),
        ("before.csv", BEFORE.to_owned()),
        ("curve.csv", curve(slid)),
        ("ahead.csv", AHEAD.to_owned()),
        ("one.toml", run("ONE", 2, ("before.csv", "curve.csv"), environment)),
        ("two.toml", run("TWO", 3, ("tally.csv", "ahead.csv"), environment)),
    ] {
        desk.write(name, text);
    }
    desk.run(&["load", "joints.csv", "survey.csv", "one.toml", "two.toml"]).ok();
    desk
}

const AIR: &str = "environment = \"air\"\n";

/// A figure, with its unit or without; the lower bound of one that is not exact.
fn number(value: &Value) -> Option<f64> {
    value.as_f64().or_else(|| value["value"].as_f64()).or_else(|| value["at_least"].as_f64())
}

fn told(desk: &Desk) -> Value {
    desk.run(&["exposure", "P-1", "--json"]).json()
}

/// Factors of the figure that a doubt leaves open; none where it does not arise.
fn factors(told: &Value, doubt: &str) -> Option<(f64, f64)> {
    let rows = told["range"].as_array().unwrap();
    let row = rows.iter().find(|r| r["doubt"] == doubt)?;
    Some((number(&row["from"]).unwrap(), number(&row["to"]).unwrap()))
}

#[test]
fn turning_between_stations_belongs_to_what_was_slid() {
    let (slid, rotated) = (told(&yard(true, true, AIR)), told(&yard(false, true, AIR)));
    let damage = |told: &Value, column: &str| number(&told["runs"][0][column]).unwrap();
    // The figure is that of the survey, whatever the logs tell.
    assert!(damage(&slid, "damage") > 0.0, "{slid}");
    assert_eq!(damage(&slid, "damage"), damage(&rotated, "damage"));
    // Half of the curve bends twice as much and the other half not at all: with slopes of 4 and 5
    // half of 2⁴ to half of 2⁵ times the damage.
    let (from, to) = factors(&slid, "slides").unwrap();
    assert!((from - 1.0).abs() < 1e-9 && (7.9..16.1).contains(&to), "{from} to {to}");
    assert_eq!(factors(&slid, "stations"), None);
    // Where nothing was slid an allowance stands for what the survey does not see.
    assert_eq!(factors(&rotated, "slides"), None);
    let (_, allowed) = factors(&rotated, "stations").unwrap();
    assert!(allowed > 1.1 && allowed < 2.0, "{allowed}");
    // Design curve, 0.2 of log N: four standard deviations below it.
    for told in [&slid, &rotated] {
        let (from, to) = factors(told, "curve").unwrap();
        assert!((from - 10f64.powf(-0.8)).abs() < 1e-9 && (to - 1.0).abs() < 1e-9, "{from} {to}");
        assert!(factors(told, "environment").is_none() && factors(told, "weight").is_none());
    }
    let ends = (damage(&slid, "damage_least"), damage(&slid, "damage_most"));
    let figure = damage(&slid, "damage");
    assert!((ends.1 / figure - to).abs() < 1e-3 * to, "{ends:?} of {figure}");
    assert!((ends.0 / figure - 10f64.powf(-0.8)).abs() < 1e-3, "{ends:?} of {figure}");
}

#[test]
fn what_was_assumed_is_in_the_range() {
    let told = told(&yard(false, false, ""));
    let (_, heavier) = factors(&told, "weight").unwrap();
    assert!(heavier > 1.02 && heavier < 1.6, "{heavier}");
    let (_, other_mud) = factors(&told, "environment").unwrap();
    assert!(other_mud > 2.0, "{other_mud}");
    let life = &told["life_range"];
    let of = |name: &str| number(&life[name]).unwrap();
    let figure = number(&told["life"]["damage"]).unwrap();
    assert!(of("damage_least") < figure && of("damage_most") > 2.0 * figure, "{told}");
}

#[test]
fn joints_that_may_change_places_are_told() {
    let desk = yard(true, true, AIR);
    let told = desk.run(&["exposure", "--run", "TWO", "--json"]).json();
    let joints = told["joints"].as_array().unwrap();
    assert_eq!(joints.len(), 2);
    for joint in joints {
        // Neighbours went through the same hole: nobody can tell them apart.
        assert_eq!(joint["may_stand"], "1 to 2", "{joint}");
        assert!(number(&joint["damage_most"]).unwrap() > number(&joint["damage"]).unwrap());
    }
    let text = desk.run(&["dossier", "P-1", "--json"]).json().to_string();
    assert!(text.contains("damage_most"), "{text}");
}

/// The crack grows by the joint's own turns since it was searched, and no others.
#[test]
fn a_crack_grows_by_what_its_joint_went_through() {
    let desk = yard(true, true, AIR);
    let crack = |more: &[&str]| {
        let words = ["rate", "crack", "--joint", "P-1", "--depth", "2 mm", "--json"];
        desk.run(&[&words[..], more].concat()).json()
    };
    let law = |told: &Value, name: &str| {
        let rows = told["growth"].as_array().unwrap();
        rows.iter().find(|r| r["law"] == name).unwrap_or_else(|| panic!("{told}")).clone()
    };
    let whole = crack(&["--at", "box end"]);
    assert_eq!(whole["crack"]["runs"], 1, "{whole}");
    assert!(whole["crack"]["since"].is_null(), "{whole}");
    // 60 h at 120 rpm over 1,300 ft, of which the 300 ft of the curve bend it: 99,700 turns.
    let turns = number(&whole["crack"]["turns"]).unwrap();
    assert!((turns - 60.0 * 60.0 * 120.0 * 300.0 / 1300.0).abs() < 2.0, "{turns}");
    let grown = law(&whole, "simplified, air");
    let depth = |row: &Value| number(&row["depth_now"]).unwrap();
    let start = number(&whole["crack"]["depth"]).unwrap();
    assert!(depth(&grown) > start, "{grown}");
    // One law and one range: with all turns at the largest range it would have grown further, and
    // the closed form of the same law says how far.
    let range = number(&whole["crack"]["range"]).unwrap();
    assert!(range > 0.0 && number(&grown["turns"]).unwrap() > 0.0, "{whole}");
    // Searched afterwards it has not grown.
    desk.run(&[
        "enter",
        "inspection",
        "joint=P-1",
        "date=2026-04-01",
        "methods=mpi_slip",
        "covers=slip_cracks",
    ])
    .ok();
    let after = crack(&["--at", "box end"]);
    assert_eq!(after["crack"]["runs"], 0, "{after}");
    assert_eq!(depth(&law(&after, "simplified, air")), start, "{after}");
    // By request all of it counts, or what came after a day inside the run.
    let asked = crack(&["--at", "box end", "--since", "2026-01-01"]);
    assert_eq!(depth(&law(&asked, "simplified, air")), depth(&grown));
    // From within the run on only what came after counts, turns and hours alike: their rate is even.
    let cut = crack(&["--at", "box end", "--since", "2026-03-02T12:00:00+01:00"]);
    let rate = |told: &Value| {
        let row = law(told, "simplified, air");
        number(&row["hours"]).unwrap() / number(&row["turns"]).unwrap()
    };
    let later = number(&cut["crack"]["turns"]).unwrap();
    assert!(later > 0.0 && later < turns, "{cut}");
    let hours = |told: &Value, turns: f64| rate(told) * turns;
    assert!(hours(&cut, later) < 0.9 * hours(&asked, turns), "{cut}");
    // Where it did not turn nothing is said of growth.
    assert_eq!(law(&after, "simplified, air")["says"], "no turn in a bend since", "{after}");
    let said = desk.run(&["rate", "crack", "--joint", "P-1", "--depth", "20 mm"]).fails(2);
    assert!(said.contains("shallower than the wall"), "{said}");
}

#[test]
fn an_order_by_damage_says_which_joints_may_change_places() {
    let desk = yard(true, true, AIR);
    let words = ["find", "damage > 0", "--show", "serial,damage", "--sort", "-damage"];
    let text = desk.run(&words).ok();
    let said = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("P-1 1 to 2") && said.contains("P-2 1 to 2"), "{said}");
    let by_serial = desk.run(&["find", "damage > 0", "--sort", "serial"]).ok();
    assert!(!by_serial.contains("1 to 2"), "{by_serial}");
}
