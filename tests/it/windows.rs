//! Windows over the life of a joint, from files and commands to answers: what lies in them for
//! certain and perhaps, and what is said where nobody can tell where they begin.

use std::collections::BTreeMap;

use super::cli::Desk;

/// A new joint, a used one of which nothing is stated, one with 1,000 hours, one with an estimate.
const JOINTS: &str = "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [ft],\
Connection,TJ OD [in],TJ ID [in],Received,Location,String,Hours [h],Basis\n\
N-1,drill pipe,yes,5,.362,19.50,G-105,31.2,NC50,6 5/8,3 1/4,2026-01-05,Yard A,K1,,\n\
U-1,drill pipe,no,5,.362,19.50,G-105,31.2,NC50,6 5/8,3 1/4,2026-01-05,Yard A,K1,,\n\
U-2,drill pipe,no,5,.362,19.50,G-105,31.2,NC50,6 5/8,3 1/4,2026-01-05,Yard A,K1,1000,known\n\
U-3,drill pipe,no,5,.362,19.50,G-105,31.2,NC50,6 5/8,3 1/4,2026-01-05,Yard A,K1,1000,estimated\n";

const SURVEY: &str = "Well,Larkfield 9\nDate,2026-02-01\nMD [ft],Inclination [deg],Azimuth [deg]\n\
0,0,0\n1000,0,0\n1100,9,0\n1500,30,0\n3000,30,0\n";

const TALLY: &str = "Position,Serial,Component,Length [ft],OD [in],ID [in],Weight [lb/ft],Count\n\
1,,bit,1,8.5,2,80,\n2,,drill collar,30,6.5,2.8125,90,3\n3,N-1,,,,,,\n4,U-1,,,,,,\n5,U-2,,,,,,\n\
6,U-3,,,,,,\n";

const LOG: &str = "Activity,Bit from [ft],Bit to [ft],Hours [h],RPM,WOB [klbf]\n\
rotating on bottom,1000,1300,10,100,20\nsliding,1300,1350,4,0,20\n\
rotating on bottom,1350,1500,10,120,20\nrotating off bottom,1500,1500,2,60,0\n";

/// Runs L (1 to 4 February, logged, 22 h) and S (1 to 4 March, 50 h told by a summary).
fn yard() -> Desk {
    let desk = Desk::with_book();
    desk.write("joints.csv", JOINTS);
    desk.write("survey.csv", SURVEY);
    desk.write("tally.csv", TALLY);
    desk.write("log.csv", LOG);
    desk.write(
        "l.toml",
        "name = \"L\"\nwell = \"Larkfield 9\"\nstart = 2026-02-01T00:00:00+01:00\n\
         end = 2026-02-04T00:00:00+01:00\nmud_weight = \"9.6 ppg\"\nhole_diameter = \"8 1/2 in\"\n\
         tally = \"tally.csv\"\nlog = \"log.csv\"\n",
    );
    desk.write(
        "s.toml",
        "name = \"S\"\nwell = \"Larkfield 9\"\nstart = 2026-03-01T00:00:00+01:00\n\
         end = 2026-03-04T00:00:00+01:00\nhours = \"50 h\"\nrotary_speed = \"100 rpm\"\n\
         depth_in = \"1500 ft\"\ndepth_out = \"2000 ft\"\ntally = \"tally.csv\"\n",
    );
    desk.run(&["load", "joints.csv", "survey.csv", "l.toml", "s.toml"]).ok();
    desk
}

#[track_caller]
fn enter(desk: &Desk, words: &[&str]) {
    desk.run(&[&["enter"], words].concat()).ok();
}

/// A number as it is shown: the least, and the most where there is one.
type Bounds = (f64, Option<f64>);

/// Values of all joints, by serial.
#[track_caller]
fn values(desk: &Desk, shown: &[&str], more: &[&str]) -> BTreeMap<String, Vec<serde_json::Value>> {
    let show = ["serial"].iter().chain(shown).copied().collect::<Vec<_>>().join(",");
    let words = [&["find", "true", "--show", &show, "--json"], more].concat();
    let answer = desk.run(&words).json();
    let joints = answer["joints"].as_array().unwrap();
    joints
        .iter()
        .map(|j| {
            let values = shown.iter().map(|s| j[*s].clone()).collect();
            (j["serial"].as_str().unwrap().to_owned(), values)
        })
        .collect()
}

fn bounds(value: &serde_json::Value) -> Bounds {
    if let Some(number) = value.as_f64() {
        return (number, Some(number));
    }
    let least = value["value"].as_f64().unwrap_or_else(|| panic!("{value}"));
    let open = value["bound"] == "at least";
    let most = value["at_most"].as_f64().or((!open).then_some(least));
    (least, most)
}

/// Bounds of numbers of one joint.
#[track_caller]
fn numbers(desk: &Desk, serial: &str, shown: &[&str]) -> Vec<Bounds> {
    values(desk, shown, &[])[serial].iter().map(bounds).collect()
}

/// Joints that match, and joints that nobody can decide.
#[track_caller]
fn asked(desk: &Desk, filter: &str) -> (Vec<String>, Vec<String>) {
    let of = |more: &[&str]| {
        let answer = desk.run(&[&["find", filter, "--json"], more].concat()).json();
        let joints = answer["joints"].as_array().unwrap().clone();
        joints.iter().map(|j| j["serial"].as_str().unwrap().to_owned()).collect()
    };
    (of(&[]), of(&["--undecided"]))
}

#[track_caller]
fn says(desk: &Desk, filter: &str, yes: &[&str], open: &[&str]) {
    let own = |list: &[&str]| list.iter().map(|s| (*s).to_owned()).collect::<Vec<_>>();
    assert_eq!(asked(desk, filter), (own(yes), own(open)), "{filter}");
}

#[test]
fn stated_hours_lie_anywhere_in_their_run() {
    let desk = yard();
    let day = 24.0;
    assert_eq!(
        numbers(
            &desk,
            "N-1",
            &[
                "hours",
                "hours since 2026-03-03",
                "hours since 2026-03-02",
                "hours before 2026-03-02",
                "hours from 2026-03-02 to 2026-03-02",
                "hours of latest run since 2026-03-03",
                "footage since 2026-03-02",
            ]
        ),
        [
            (72.0, Some(72.0)),
            // Of 50 h in 72 h, 24 h hold at least 2 and 48 h at least 26.
            (2.0, Some(day)),
            (26.0, Some(48.0)),
            // With the 22 h of the run before.
            (24.0, Some(46.0)),
            (2.0, Some(day)),
            (2.0, Some(day)),
            (0.0, Some(500.0)),
        ]
    );
    let turns =
        numbers(&desk, "N-1", &["revolutions since 2026-03-02", "revolutions of latest run"]);
    // At one speed they go with the hours.
    assert_eq!(turns[0], (turns[1].0 * 26.0 / 50.0, Some(turns[1].0 * 48.0 / 50.0)));
    // An inspection in the run cuts it as a date does.
    enter(&desk, &["inspection", "serial=N-1", "date=2026-03-02", "methods=UT wall", "wall=93 %"]);
    for since in ["since last inspection (covers = wall)", "since last inspection"] {
        let shown = ["hours", "revolutions", "max_dogleg"].map(|f| format!("{f} {since}"));
        let shown: Vec<&str> = shown.iter().map(String::as_str).collect();
        let found = numbers(&desk, "N-1", &shown);
        assert_eq!(found[..2], [(26.0, Some(48.0)), turns[0]]);
        assert_eq!(found[2].0, 0.0);
    }
    says(&desk, "serial = \"N-1\" and hours since 2026-03-03 > 25 h", &[], &[]);
    says(&desk, "serial = \"N-1\" and hours since 2026-03-03 > 10 h", &[], &["N-1"]);
}

#[test]
fn an_inspection_that_nobody_saw_may_have_been() {
    let desk = yard();
    let since = ["hours since last inspection (covers = wall)", "hours since last inspection"];
    for shown in since {
        assert_eq!(numbers(&desk, "U-2", &[shown]), [(72.0, Some(1072.0))], "{shown}");
        assert_eq!(numbers(&desk, "U-1", &[shown]), [(72.0, None)], "{shown}");
        assert_eq!(numbers(&desk, "N-1", &[shown]), [(72.0, Some(72.0))], "{shown}");
    }
    says(
        &desk,
        "hours since last inspection (covers = wall) > 1000 h",
        &[],
        &["U-1", "U-2", "U-3"],
    );
    enter(&desk, &["gap", "serial=N-1", "date=2026-02-10", "until=2026-02-20"]);
    enter(&desk, &["inspection", "serial=U-2", "date=2026-02-06", "methods=UT wall", "wall=93 %"]);
    enter(&desk, &["gap", "serial=U-2", "date=2026-02-10", "until=2026-02-20"]);
    for shown in since {
        assert_eq!(numbers(&desk, "N-1", &[shown]), [(50.0, None)], "{shown}");
        assert_eq!(numbers(&desk, "U-2", &[shown]), [(50.0, None)], "{shown}");
    }
    // As of a day before the gap it was not there yet.
    let as_of = values(&desk, &since[..1], &["--as-of", "2026-02-08"]);
    assert_eq!(bounds(&as_of["U-2"][0]), (0.0, Some(0.0)));
    assert_eq!(bounds(&as_of["N-1"][0]), (22.0, Some(22.0)));
    assert_eq!(bounds(&as_of["U-3"][0]), (22.0, None));
}

#[test]
fn no_unseen_run_was_at_the_time_of_a_run() {
    let desk = yard();
    enter(&desk, &["gap", "serial=N-1", "date=2026-01-20", "until=2026-02-10"]);
    // The run reaches over the limit of the window.
    for filter in [
        "first run (name = \"L\") since 2026-02-02",
        "latest run (name = \"L\") before 2026-02-02",
        "latest run (name = \"L\") before 2026-02-03T23:00",
        "name of first run since 2026-02-02 = \"L\"",
        "name of latest run before 2026-02-02 = \"L\"",
    ] {
        let found = desk.joints(&format!("serial = \"N-1\" and {filter}"));
        assert_eq!(found.yes, ["N-1"], "{filter}");
    }
    for filter in ["first run (name = \"L\")", "latest run (name = \"L\") before 2026-02-20"] {
        let found = desk.joints(&format!("serial = \"N-1\" and {filter}"));
        assert_eq!(found.open, ["N-1"], "{filter}");
    }
}

#[test]
fn hours_between_two_depths_are_all_none_or_bounds() {
    let desk = yard();
    // The middle of the lowest joint hangs 106.6 ft above the bit: 893.4 to 1393.4 ft in run L, on to
    // 1893.4 ft in run S.
    for (depths, hours) in [
        ("800 and 2000 ft", (72.0, Some(72.0))),
        ("240 and 610 m", (72.0, Some(72.0))),
        ("800 ft and 430 m", (22.0, Some(72.0))),
        ("900 and 1400 ft", (0.0, Some(72.0))),
        ("1900 and 3000 ft", (0.0, Some(0.0))),
        ("0 and 893 ft", (0.0, Some(0.0))),
    ] {
        let shown = format!("hours between {depths}");
        assert_eq!(numbers(&desk, "N-1", &[&shown]), [hours], "{depths}");
    }
    let shown = [
        "hours between 1900 and 3000 ft",
        "hours between 800 and 2000 ft",
        "sum hours between 800 and 1400 ft over runs (name = \"L\")",
        "hours between 800 and 1400 ft before 2026-02-03",
        "revolutions between 800 and 1400 ft of first run",
    ];
    // It brought 1,000 h from nobody knows which depth.
    assert_eq!(numbers(&desk, "U-2", &shown[..2]), [(0.0, Some(1000.0)), (72.0, Some(1072.0))]);
    let whole = "hours before 2026-02-03";
    assert_eq!(numbers(&desk, "N-1", &shown[3..4]), numbers(&desk, "N-1", &[whole]));
    assert_eq!(numbers(&desk, "N-1", &shown[2..3]), [(22.0, Some(22.0))]);
    let turns = numbers(&desk, "N-1", &[shown[4], "revolutions of first run"]);
    assert_eq!(turns[0], turns[1]);
    let all = ["N-1", "U-1", "U-2", "U-3"];
    // What a filter compares is shown beside the answers, windows and all.
    says(&desk, "any run (hours between 700 and 1400 ft > 20 h)", &all, &[]);
    says(&desk, "hours between 700 and 1400 ft since 2026-01-06 > 20 h", &all, &[]);
    says(&desk, "hours between 800 ft and 1400 of first run > 20 h", &["N-1"], &all[1..]);
    says(&desk, "hours between 0 and 9 deg/100ft since 2026-01-06 > 1 h", &all, &[]);
    says(&desk, "hours between 1900 and 3000 ft > 1 h", &[], &all[1..]);
    says(&desk, "every run (revolutions between 1300 ft and 5000 ft > 0)", &[], &all[..3]);
    // Since a look at the box: what the runs behind it did there.
    let look = ["inspection", "serial=N-1", "date=2026-02-10", "methods=visual connection"];
    enter(&desk, &look);
    let since = "hours between 800 and 2000 ft since last inspection (covers = box)";
    assert_eq!(numbers(&desk, "N-1", &[since]), [(50.0, Some(50.0))]);
    says(&desk, &format!("{since} < 60 h"), &["N-1"], &all[3..]);
    let why = desk.run(&["why", "N-1", "hours between 900 and 1400 ft > 60 h"]).ok();
    assert!(why.contains("a run tells its hours and between which depths they were"), "{why}");
    for (filter, says) in [
        ("hours between 1500 and 1000 ft > 1 h", "does not lie below"),
        ("hours between 1000 ft and 8 deg/100ft > 1 h", "1000 ft is a depth, 8 deg/100ft"),
        ("damage between 1000 and 1500 ft > 1", "is not kept by depth"),
        ("hours above 1000 ft > 1 h", "hours between 0 ft and 1000 ft"),
    ] {
        let err = desk.run(&["find", filter]).fails(2);
        assert!(err.contains(says), "{filter}: {err}");
    }
}

#[test]
fn what_a_joint_brought_counts_before_a_date() {
    let desk = yard();
    let whole = (1072.0, Some(1072.0));
    assert_eq!(
        numbers(
            &desk,
            "U-2",
            &[
                "hours",
                "hours before 2026-06-01",
                "hours as of 2026-06-01",
                "hours as of 2026-02-20",
                "hours from 2020-01-01 to 2026-06-01",
                "hours since 2020-01-01",
                "hours before 2020-01-01",
                "hours since 2026-01-05",
            ]
        ),
        [
            whole,
            whole,
            whole,
            (1022.0, Some(1022.0)),
            (72.0, whole.1),
            (72.0, whole.1),
            // Nobody knows when they were.
            (0.0, Some(1000.0)),
            (72.0, Some(72.0)),
        ]
    );
    enter(&desk, &["opening", "serial=U-1", "date=2026-01-05", "footage=900 ft", "damage=0.1"]);
    let found = numbers(
        &desk,
        "U-1",
        &[
            "footage as of 2026-02-20",
            "footage",
            "damage as of 2026-02-20",
            "hours as of 2026-02-20",
        ],
    );
    assert_eq!(found[0], (1400.0, Some(1400.0)));
    assert_eq!(found[1], (1900.0, Some(1900.0)));
    assert!(found[2].0 >= 0.1, "{found:?}");
    assert_eq!(found[3], (22.0, None));
    // A gap after the day is none before it.
    enter(&desk, &["gap", "serial=U-2", "date=2026-04-10"]);
    assert_eq!(
        numbers(&desk, "U-2", &["hours as of 2026-04-05", "hours before 2026-04-05", "hours"]),
        [whole, whole, (1072.0, None)]
    );
}

#[test]
fn a_field_as_of_a_day_is_what_the_book_says_as_of_it() {
    let desk = yard();
    enter(
        &desk,
        &[
            "hire-out",
            "--insist=it is inspected there",
            "serial=N-1",
            "date=2026-04-02",
            "hire=H1",
            "party=Tern",
            "location=Rig 9",
        ],
    );
    enter(&desk, &["move", "serial=U-1", "date=2026-04-03", "location=Shop B", "status=in repair"]);
    enter(
        &desk,
        &["decision", "serial=U-2", "date=2026-04-04", "ruling=quarantine", "reason=dropped"],
    );
    enter(&desk, &["inspection", "serial=N-1", "date=2026-03-20", "methods=UT wall", "wall=76 %"]);
    enter(&desk, &["hire-in", "serial=N-1", "date=2026-04-12", "hire=H1", "location=Yard A"]);
    enter(
        &desk,
        &[
            "decision",
            "serial=U-2",
            "date=2026-05-02",
            "ruling=class",
            "class=class 2",
            "reason=seen",
        ],
    );
    enter(&desk, &["failure", "serial=U-3", "date=2026-04-20", "failure=washout"]);
    let fields: Vec<&str> = pipelore::filter::registry::fields_of(None)
        .filter(|f| f.past.is_some())
        .map(|f| f.name)
        .collect();
    for name in ["status", "location", "string", "class", "tube_class", "pin_class", "box_class"] {
        assert!(fields.contains(&name), "{name}");
    }
    for day in
        ["01-05", "03-20", "04-02", "04-03", "04-05", "04-11", "04-12", "04-20", "05-02", "06-01"]
    {
        let day = format!("2026-{day}");
        let as_of: Vec<String> = fields.iter().map(|f| format!("{f} as of {day}")).collect();
        let as_of: Vec<&str> = as_of.iter().map(String::as_str).collect();
        assert_eq!(values(&desk, &as_of, &[]), values(&desk, &fields, &["--as-of", &day]), "{day}");
    }
    let all = ["N-1", "U-1", "U-2", "U-3"];
    says(&desk, "status as of 2026-04-01 = in_stock", &all, &[]);
    says(&desk, "status as of 2026-04-05 = on_hire", &["N-1"], &[]);
    says(&desk, "location as of 2026-04-05 = \"Rig 9\"", &["N-1"], &[]);
    says(&desk, "location as of 2026-04-15 = \"Yard A\"", &["N-1", "U-2", "U-3"], &[]);
    // Before it came into the book nobody knows.
    says(&desk, "status as of 2025-12-31 = in_stock", &[], &all);
    // A window as of a day looks for its records as of that day.
    enter(&desk, &["inspection", "serial=N-1", "date=2026-06-01", "methods=UT wall", "wall=75 %"]);
    assert_eq!(
        numbers(&desk, "N-1", &["hours since last inspection as of 2026-03-10"]),
        [(72.0, Some(72.0))]
    );
    assert_eq!(
        numbers(&desk, "N-1", &["hours since last inspection before 2026-03-10"]),
        [(0.0, Some(0.0))]
    );
}

#[test]
fn a_joint_never_inspected_counts_from_its_entry_and_the_answer_says_so() {
    let desk = yard();
    for joint in ["N-1", "U-1"] {
        // On the very day on which it came.
        enter(&desk, &["event", &format!("serial={joint}"), "date=2026-01-05", "event=drop"]);
    }
    says(&desk, "any event since last inspection", &["N-1", "U-1"], &["U-2", "U-3"]);
    says(&desk, "connection_shocked", &["N-1", "U-1"], &["U-2", "U-3"]);
    says(&desk, "count events since last inspection = 1", &["N-1"], &["U-1", "U-2", "U-3"]);
    let filter = "any run since last decision (ruling = retire)";
    let said = desk.run(&["find", filter]).ok();
    let note = "1 of these never had a decision (ruling = retire): counted from entry";
    assert!(said.contains(note), "{said}");
    let why = desk.run(&["why", "N-1", filter]).ok();
    let why = why.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(why.contains("entry: there never was a decision (ruling = retire)"), "{why}");
    enter(&desk, &["decision", "serial=N-1", "date=2026-06-01", "ruling=retire", "reason=worn"]);
    let said = desk.run(&["find", filter]).ok();
    assert!(!said.contains("never had"), "{said}");
}

#[test]
fn what_every_candidate_says_is_decided() {
    let desk = yard();
    enter(&desk, &["inspection", "serial=N-1", "date=2026-02-10", "methods=UT wall", "wall=80 %"]);
    enter(&desk, &["inspection", "serial=N-1", "date=2026-04-01", "methods=UT wall"]);
    let since = "since last inspection (wall < 90 %)";
    assert_eq!(numbers(&desk, "N-1", &[&format!("hours {since}")]), [(0.0, Some(50.0))]);
    // 50 h or none, whichever of the two it was.
    for (of, sure) in [
        ("hours SINCE != 20 h", true),
        ("hours SINCE not between 10 h and 40 h", true),
        ("hours SINCE > 20 h", false),
        // So is what is worked out of it, each of the two by itself.
        ("2 * hours SINCE != 40 h", true),
        ("hours SINCE - 10 h not between 0 h and 30 h", true),
        ("30 h + hours SINCE - hours SINCE != 40 h", true),
        ("hours SINCE - 10 h > 20 h", false),
        ("count runs SINCE < 2", true),
        ("no run (well = \"Tern Moor 3\") SINCE", true),
        ("any run SINCE", false),
    ] {
        let filter = format!("serial = \"N-1\" and {}", of.replace("SINCE", since));
        let (yes, open): (&[&str], &[&str]) = if sure { (&["N-1"], &[]) } else { (&[], &["N-1"]) };
        says(&desk, &filter, yes, open);
    }
    // Either event may be the latest with fewer than nine blows.
    enter(&desk, &["event", "serial=N-1", "date=2026-05-01", "event=stuck"]);
    enter(&desk, &["event", "serial=N-1", "date=2026-04-10", "event=drop", "blows=3"]);
    let picked = "what of latest event (blows < 9)";
    says(&desk, &format!("{picked} in (stuck, drop)"), &["N-1"], &["U-1", "U-2", "U-3"]);
    says(&desk, &format!("{picked} = drop"), &[], &["N-1", "U-1", "U-2", "U-3"]);
    says(&desk, &format!("serial = \"N-1\" and {picked} != heat"), &["N-1"], &[]);
    // A mean of what cannot be below nothing has a lower bound.
    enter(&desk, &["makeup", "pin=N-1", "box=U-1", "date=2026-05-02", "torque=20 kft.lbf"]);
    enter(&desk, &["makeup", "pin=N-1", "box=U-1", "date=2026-05-03"]);
    says(&desk, "mean torque over makeups > 5 kft.lbf", &["N-1"], &["U-1", "U-2", "U-3"]);
    says(&desk, "serial = \"N-1\" and mean torque over makeups > 11 kft.lbf", &[], &["N-1"]);
}

#[test]
fn a_generation_that_began_after_a_gap_is_counted_whole() {
    let desk = yard();
    enter(&desk, &["gap", "serial=N-1", "date=2026-02-10", "until=2026-02-20"]);
    enter(
        &desk,
        &["repair", "serial=N-1", "date=2026-04-01", "work=recut", "end=pin", "removed=1 in"],
    );
    enter(&desk, &["makeup", "pin=N-1", "box=U-1", "date=2026-05-01"]);
    let once = (1.0, Some(1.0));
    let windows = ["", " since 2026-02-01", " since first run", " since last repair"];
    for window in windows {
        let found = numbers(&desk, "N-1", &[&format!("pin_makeups{window}")]);
        assert_eq!(found, [once], "{window}");
    }
    // No run can have been before another that had begun.
    let desk = yard();
    enter(&desk, &["gap", "serial=N-1", "date=2026-02-02", "until=2026-02-10"]);
    says(&desk, "name of first run = \"L\"", &["N-1"], &["U-1", "U-2", "U-3"]);
}

#[test]
fn a_window_since_a_run_begins_at_its_end() {
    let desk = yard();
    let since = ["first run", "last run (name = \"L\")", "first run (name = \"L\")"];
    for run in since {
        let found = numbers(&desk, "N-1", &[&format!("hours since {run}")]);
        assert_eq!(found, [(50.0, Some(50.0))], "{run}");
    }
    assert_eq!(numbers(&desk, "N-1", &["hours since last run"]), [(0.0, Some(0.0))]);
}

#[test]
fn kin_are_asked_of_one_joint_of_several_with_a_serial() {
    let desk = yard();
    let answer = desk.run(&["find", "serial = \"N-1\"", "--show", "introduced_by", "--json"]);
    let entry = match answer.code {
        0 => answer.json()["joints"][0]["introduced_by"].as_str().unwrap().to_owned(),
        _ => {
            let trace = desk.run(&["trace", "N-1", "--json"]).json();
            trace["timeline"][0]["entry"].as_str().unwrap().to_owned()
        }
    };
    let kin = ["U-1", "U-2", "U-3"];
    says(&desk, &format!("kin of \"N-1@{entry}\""), &kin, &[]);
    says(&desk, "kin of \"N-1\"", &kin, &[]);
    let wrong = desk.run(&["find", "kin of \"N-1@yard-9999\""]).fails(2);
    assert!(wrong.contains("no joint answers to N-1@yard-9999"), "{wrong}");
}

#[test]
fn wider_windows_hold_no_less_and_parts_make_the_whole() {
    let desk = yard();
    enter(&desk, &["inspection", "serial=N-1", "date=2026-02-02", "methods=UT wall", "wall=93 %"]);
    enter(&desk, &["gap", "serial=U-3", "date=2026-02-10", "until=2026-02-20"]);
    let days: Vec<String> =
        ["01-05", "02-01", "02-02", "02-03", "02-15", "03-02", "03-03", "04-01"]
            .iter()
            .map(|d| format!("2026-{d}"))
            .collect();
    let counters =
        ["hours", "revolutions", "footage", "max_dogleg", "cased_hours", "hours above 3 deg/30m"];
    for counter in counters {
        let whole: Vec<String> =
            [counter.to_owned(), format!("{counter} since 2000-01-01")]
                .into_iter()
                .chain(days.iter().flat_map(|d| {
                    [format!("{counter} before {d}"), format!("{counter} since {d}")]
                }))
                .collect();
        let whole: Vec<&str> = whole.iter().map(String::as_str).collect();
        for (serial, found) in values(&desk, &whole, &[]) {
            let found: Vec<Bounds> = found.iter().map(bounds).collect();
            let (all, since_ever) = (found[0], found[1]);
            if serial == "N-1" {
                assert_eq!(all, since_ever, "{serial} {counter}");
            }
            let no_less = |small: Bounds, large: Bounds| {
                small.0 <= large.0 + 1e-9
                    && large.1.is_none_or(|l| small.1.is_some_and(|s| s <= l + 1e-9))
            };
            let (mut before, mut since) = ((0.0, Some(0.0)), all);
            for (n, pair) in found[2..].chunks(2).enumerate() {
                let at = format!("{serial} {counter} {}: {found:?}", days[n]);
                if serial == "N-1" || n > 0 {
                    assert!(no_less(before, pair[0]), "{at}");
                }
                assert!(no_less(pair[1], since), "{at}");
                if let ((a, Some(b)), (c, Some(d))) = (pair[0], pair[1])
                    && (a, c) == (b, d)
                    && counter != "max_dogleg"
                {
                    let sum = a + c;
                    assert!((sum - all.0).abs() < 1e-3 * (1.0 + sum), "{at}");
                }
                (before, since) = (pair[0], pair[1]);
            }
        }
    }
    // What a joint did above a bend is what its runs did.
    for above in
        ["hours above 3.3 deg/30m", "revolutions above 5.9 deg/30m", "hours above 9.13 deg/30m"]
    {
        let sum = format!("sum {above} over runs");
        for (serial, found) in values(&desk, &[above, &sum], &[]) {
            if serial == "N-1" {
                assert_eq!(found[0], found[1], "{above}");
            }
        }
    }
}

/// Of joints that came new and whose wall nobody read, what came since a reading of it is all they did: run
/// by run, each up to its own sharpest bend.
#[test]
fn what_was_above_a_bend_since_a_look_is_what_its_runs_say() {
    let desk = Desk::demo();
    for above in ["hours above 0.47 deg/100ft", "revolutions above 0.47 deg/100ft"] {
        let since = format!("{above} since last inspection (covers = wall)");
        let never = "serial like \"HW-0*\" and no inspection (covers = wall)";
        let then = ["--as-of", "2026-05-26"];
        let found = desk.shown_with(never, &since, &then);
        assert!(found.len() > 5, "{found:?}");
        assert_eq!(found, desk.shown_with(never, above, &then));
    }
}

/// A gap that ends during run L leaves the rest of it: a move in the gap that nobody saw was before that.
#[test]
fn a_gap_that_ends_in_a_run_divides_it() {
    let desk = yard();
    let gap = ["gap", "serial=N-1", "date=2026-01-10", "until=2026-02-01T12:00:00+01:00"];
    enter(&desk, &gap);
    // After noon of the first day: 12 h of run L, and the 50 h of run S.
    for shown in ["hours since last move", "hours since last inspection (covers = wall)"] {
        assert_eq!(numbers(&desk, "N-1", &[shown]), [(62.0, None)], "{shown}");
    }
    says(&desk, "serial = \"N-1\" and hours since last move > 61 h", &["N-1"], &[]);
    says(&desk, "serial = \"N-1\" and hours since last move > 63 h", &[], &["N-1"]);
}

/// A gap that ends with run L: a move in it that nobody saw was before the end of L.
#[test]
fn what_a_gap_hides_was_before_the_end_of_it() {
    let desk = yard();
    enter(&desk, &["gap", "serial=N-1", "date=2026-01-10", "until=2026-02-04T00:00:00+01:00"]);
    for asked in [
        "count run since last move >= 2",
        "count run since last move before 2026-02-04T00:00:00+01:00 >= 1",
        "previous run (well = \"Larkfield 9\" and name = \"L\") since last move",
    ] {
        says(&desk, &format!("serial = \"N-1\" and {asked}"), &["N-1"], &[]);
    }
    // Of a gap that ends later L may have been before all of it.
    enter(&desk, &["gap", "serial=N-1", "date=2026-02-03", "until=2026-02-06"]);
    says(&desk, "serial = \"N-1\" and count run since last move >= 2", &[], &["N-1"]);
}

/// A joint is in one run at a time: what a stretch hides within its first run that is known was no earlier
/// run.
#[test]
fn no_run_hides_within_another() {
    let desk = yard();
    enter(&desk, &["event", "serial=N-1", "date=2026-01-20", "event=drop"]);
    let asked = "serial = \"N-1\" and any event since first run";
    enter(&desk, &["gap", "serial=N-1", "date=2026-02-02", "until=2026-02-03"]);
    says(&desk, asked, &[], &[]);
    // One that begins before it may.
    enter(&desk, &["gap", "serial=N-1", "date=2026-01-15", "until=2026-02-02"]);
    says(&desk, asked, &[], &["N-1"]);
}

/// Hours that somebody else tells of a stretch count in a window as far as the stretch has no room for
/// them outside it; where only its end is told nobody knows when they were.
#[test]
fn hours_told_of_a_stretch_count_in_windows() {
    let desk = yard();
    desk.write(
        "told.csv",
        "Serial,Rot hours [h],Run,From,Date\nN-1,200,A,2026-05-01,2026-05-10\n\
         U-2,5,B,,2026-06-01\n",
    );
    desk.run(&["load", "told.csv"]).ok();
    let shown = [
        "hours",
        "hours since 2026-05-05",
        "hours before 2026-05-05",
        "hours since 2026-05-01",
        "hours since 2026-05-11",
        "hours from 2026-05-03 to 2026-05-09",
    ];
    let least: Vec<f64> = numbers(&desk, "N-1", &shown).iter().map(|b| b.0).collect();
    // Of ten days four lie before 5 May: of 200 h they hold 96 at most, and 56 at least.
    assert_eq!(least, [272.0, 104.0, 128.0, 200.0, 0.0, 128.0]);
    enter(&desk, &["inspection", "serial=N-1", "date=2026-05-05", "methods=UT wall", "wall=93 %"]);
    enter(&desk, &["repair", "serial=N-1", "date=2026-05-05", "work=dress"]);
    // An inspection or repair in the stretch that nobody saw may have been at its very end.
    for since in ["hours since last inspection (covers = wall)", "hours since last repair"] {
        assert_eq!(numbers(&desk, "N-1", &[since]), [(0.0, None)], "{since}");
    }
    // One after it leaves nothing open: not even what was told of the stretch.
    enter(&desk, &["inspection", "serial=N-1", "date=2026-05-20", "methods=UT wall", "wall=93 %"]);
    let since = "hours since last inspection (covers = wall)";
    says(&desk, &format!("serial = \"N-1\" and {since} < 1 h"), &["N-1"], &[]);
    // All of its life held them; since a day, perhaps none of them.
    let brought =
        numbers(&desk, "U-2", &["hours", "hours since 2026-06-01", "hours since 2026-03-10"]);
    let least: Vec<f64> = brought.iter().map(|b| b.0).collect();
    assert_eq!(least, [1077.0, 0.0, 0.0]);
    says(&desk, "serial = \"U-2\" and hours since 2026-06-01 > 4 h", &[], &["U-2"]);
    desk.run(&["verify"]).ok();
}

/// Hours told of a clock time, of more than there is room for: a repair may have been in that time.
#[test]
fn hours_told_of_their_end_alone_reach_back() {
    let desk = yard();
    desk.write("told.csv", "Serial,Rot hours [h],Run,Date\nN-1,50,A,2026-05-10T12:00:00+01:00\n");
    desk.run(&["load", "told.csv"]).ok();
    // 50 h before noon of the 10th is the 8th, 10 o'clock.
    says(&desk, "serial = \"N-1\" and any repair since 2026-05-09", &[], &["N-1"]);
    says(&desk, "serial = \"N-1\" and any repair from 2026-05-08 to 2026-05-08", &[], &["N-1"]);
    says(&desk, "serial = \"N-1\" and no repair since 2026-05-11", &["N-1"], &[]);
}

/// A percentile lies between those of the joints that may count.
#[test]
fn a_percentile_over_joints_that_may_count_has_bounds() {
    let desk = yard();
    for (serial, wall, pin) in [
        ("N-1", "90 %", true),
        ("U-1", "80 %", true),
        ("U-2", "70 %", false),
        ("U-3", "95 %", false),
    ] {
        let (serial, wall) = (format!("serial={serial}"), format!("wall={wall}"));
        let mut words = vec!["inspection", &serial, "date=2026-05-05", "methods=UT wall", &wall];
        if pin {
            words.push("pin_od=6.5 in");
        }
        enter(&desk, &words);
    }
    // Of 80 and 90 %, perhaps 70 %, perhaps 95 %: from 80 to 90 %.
    let half = "percentile 50 of wall over joints (pin_od > 6 in)";
    says(&desk, &format!("wall < {half}"), &["U-2"], &["U-1"]);
    says(&desk, &format!("wall > {half}"), &["U-3"], &["N-1"]);
    says(&desk, &format!("wall between 79 % and {half}"), &["U-1"], &["N-1"]);
    // The least of four is that of N-1, of however many hours the used ones may be.
    says(&desk, "hours < percentile 10 of hours over joints", &[], &[]);
}

/// So much of a value of which one bound is missing has the other bound.
#[test]
fn a_part_of_a_value_has_the_bound_that_is_known() {
    let desk = yard();
    for (serial, date) in [("N-1", "2026-05-05"), ("U-1", "2026-04-05")] {
        let (serial, date) = (format!("serial={serial}"), format!("date={date}"));
        enter(&desk, &["inspection", &serial, &date, "methods=UT wall", "wall=90 %"]);
    }
    // Of the other two no wall was read: the least age is at most that of N-1.
    let least = "min wall_age over joints";
    for part in [format!("0.5 * {least}"), format!("{least} * 0.5"), format!("{least} / 2")] {
        says(&desk, &format!("wall_age >= {part}"), &["N-1", "U-1"], &["U-2", "U-3"]);
    }
}

/// A limit is put on the scale of what is stored, with however many digits it is written.
#[test]
fn a_limit_of_many_digits_is_what_would_be_stored() {
    let desk = yard();
    let all = ["N-1", "U-1", "U-2", "U-3"];
    // 9.6 ppg in another unit, to the last digit that a computer has for it.
    for limit in ["9.6 ppg", "1150.333702242208 kg/m3"] {
        says(&desk, &format!("any run (mud_weight between {limit} and 9.7 ppg)"), &all, &[]);
        says(&desk, &format!("any run (mud_weight > {limit})"), &[], &all);
    }
}

/// A name is found in any capitals, of whatever letters, and by the sign for Kelvin that looks like one.
#[test]
fn a_name_is_found_in_any_spelling() {
    let desk = Desk::with_book();
    desk.write(
        "joints.csv",
        "Serial,String,Component,OD,Weight,Date\n\
         A-1,Ölfeld  7,drill_pipe,5 in,19.5 lb/ft,2026-01-01\n\
         A-2,K7,drill_pipe,5 in,19.5 lb/ft,2026-01-01\n\
         A-3,\u{212a}7,drill_pipe,5 in,19.5 lb/ft,2026-01-01\n",
    );
    desk.run(&["load", "joints.csv"]).ok();
    for (name, found) in [
        ("ÖLFELD 7", &["A-1"][..]),
        ("ölfeld 7", &["A-1"]),
        ("k7", &["A-2", "A-3"]),
        ("\u{212a}7", &["A-2", "A-3"]),
    ] {
        says(&desk, &format!("string = \"{name}\""), found, &[]);
    }
    says(&desk, "string in (\"k7\", \"ÖLFELD 7\")", &["A-1", "A-2", "A-3"], &[]);
    says(&desk, "string != \"k7\"", &["A-1"], &[]);
}
