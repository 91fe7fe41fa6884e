//! One order of facts, whatever the order of arrival: effective time, kind, name of the entry. Facts
//! that exclude each other decide nothing until someone settles them.

use std::collections::BTreeMap;

use crate::cli::{Desk, NOW};
use crate::clock::At;

const JOINTS: &str = "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [ft],\
                      Connection,TJ OD [in],TJ ID [in],Received,Location,String\n";

/// A yard with three new joints, a survey and a run of 24 h of rotation in February.
pub fn yard() -> Desk {
    let desk = Desk::with_book();
    let joint = |serial: &str| {
        format!(
            "{serial},drill pipe,yes,5,.362,19.50,G-105,31.2,NC50,6 5/8,3 1/4,2024-01-05,Yard,S1\n"
        )
    };
    desk.write("joints.csv", format!("{JOINTS}{}{}{}", joint("A-1"), joint("A-2"), joint("A-3")));
    desk.write(
        "survey.csv",
        "Well,W1\nDate,2024-02-01\nMD [ft],Inclination [deg],Azimuth [deg]\n0,0,0\n1000,0,0\n\
         1100,9,0\n1500,30,0\n3000,30,0\n",
    );
    desk.write(
        "tally.csv",
        "Position,Serial,Component,Length [ft],OD [in],ID [in],Weight [lb/ft],Count\n1,,bit,1,8.5,2,80,\n\
         2,,drill collar,30,6.5,2.8125,90,3\n3,A-1,,,,,,\n4,A-2,,,,,,\n5,A-3,,,,,,\n\
         6,,drill pipe,31,5,4.276,19.5,40\n",
    );
    desk.write(
        "log.csv",
        "Activity,Bit from [ft],Bit to [ft],Hours [h],RPM,WOB [klbf]\n\
         rotating on bottom,1200,1700,24,100,20\n",
    );
    desk.run(&["load", "joints.csv", "survey.csv"]).ok();
    run(&desk, "R1", "2024-02-01T00:00:00Z", "2024-02-04T00:00:00Z");
    desk
}

pub fn run(desk: &Desk, name: &str, start: &str, end: &str) {
    let file = format!("{name}.toml");
    desk.write(
        &file,
        format!(
            "name = \"{name}\"\nwell = \"W1\"\nrig = \"Rig 1\"\nstring = \"S1\"\nstart = {start}\n\
             end = {end}\nmud_weight = \"9.6 ppg\"\nhole_diameter = \"8 1/2 in\"\ntally = \"tally.csv\"\n\
             log = \"log.csv\"\n"
        ),
    );
    desk.run(&["load", "--keep-conflicts", &file]).ok();
}

pub fn enter(desk: &Desk, words: &str) {
    let mut all = vec!["enter", "--keep-conflicts", "--insist=it is inspected there"];
    all.extend(words.split("; "));
    desk.run(&all).ok();
}

fn serials(desk: &Desk, words: &[&str]) -> Vec<String> {
    let json = desk.run(words).json();
    let joints = json["joints"].as_array().unwrap().iter();
    joints.map(|j| j["serial"].as_str().unwrap().to_owned()).collect()
}

/// What a filter says of A-1.
fn says(desk: &Desk, filter: &str) -> Option<bool> {
    let of = |more: &[&str]| {
        let words = [&["find", filter, "--json", "--show", "serial"], more].concat();
        serials(desk, &words).contains(&"A-1".to_owned())
    };
    match (of(&[]), of(&["--undecided"])) {
        (true, false) => Some(true),
        (false, false) => Some(false),
        (false, true) => None,
        both => panic!("{filter}: {both:?}"),
    }
}

#[track_caller]
pub fn holds(desk: &Desk, yes: &[&str], open: &[&str], no: &[&str]) {
    for (filters, truth) in [(yes, Some(true)), (open, None), (no, Some(false))] {
        for filter in filters {
            assert_eq!(says(desk, filter), truth, "{filter}");
            let why = desk.run(&["why", "A-1", filter, "--json"]).json();
            let word = match truth {
                Some(true) => "true",
                Some(false) => "false",
                None => "unknown",
            };
            assert!(why.to_string().contains(&format!("\"{word}\"")), "{filter}: {why}");
        }
    }
}

#[test]
fn the_worse_of_two_inspections_of_a_day_stands_until_settled() {
    for order in [["93 %", "77 %"], ["77 %", "93 %"]] {
        let desk = yard();
        for (n, wall) in order.into_iter().enumerate() {
            enter(
                &desk,
                &format!(
                    "inspection; serial=A-1; date=2024-04-01; methods=UT wall; wall={wall}; report={n}"
                ),
            );
        }
        let both = ["wall < 80 %", "latest inspection (wall < 80 %)", "conflicted = true"];
        holds(&desk, &both, &[], &["wall > 80 %"]);
        assert_eq!(serials(&desk, &["find", "conflicted = true", "--json"]), ["A-1"]);
        let trace = desk.run(&["trace", "A-1"]).ok();
        assert!(trace.contains("read differently on one day: wall"), "{trace}");
        assert!(trace.contains("the worse reading stands"), "{trace}");
        let due = desk.run(&["due", "--json"]).ok();
        assert!(due.contains("facts_in_conflict"), "{due}");
        let (stands, falls) = if order[0] == "93 %" { (8, 9) } else { (9, 8) };
        enter(
            &desk,
            &format!(
                "decision; date=2024-04-02; ruling=settle; stands=yard-{stands}; falls=yard-{falls}; \
                 reason=read again"
            ),
        );
        holds(
            &desk,
            &["wall > 90 %", "latest inspection (wall > 90 %)"],
            &[],
            &["conflicted = true"],
        );
    }
}

#[test]
fn readings_as_far_apart_as_instruments_repeat_are_no_conflict() {
    let desk = yard();
    for (report, wall, od) in [(1, "0.340 in", "6.600 in"), (2, "0.346 in", "6.580 in")] {
        let words = format!(
            "inspection; serial=A-1; date=2024-04-01; methods=UT wall, dimensional 2; wall={wall}; \
             box od={od}; report={report}"
        );
        let mut all = vec!["enter"];
        all.extend(words.split("; "));
        desk.run(&all).ok();
    }
    holds(
        &desk,
        &["wall = 0.340 in", "latest inspection (wall = 0.340 in)", "box_od = 6.580 in"],
        &[],
        &["conflicted = true"],
    );
}

#[test]
fn of_two_facts_of_a_day_the_later_entry_is_after_the_other() {
    let desk = yard();
    for what in ["heat", "drop"] {
        enter(&desk, &format!("event; serial=A-1; date=2024-05-01; event={what}"));
    }
    enter(&desk, "makeup; date=2024-05-01; pin=A-1; box=A-2");
    enter(&desk, "makeup; date=2024-05-01; pin=A-3; box=A-1");
    holds(
        &desk,
        &[
            "latest event (what = drop)",
            "any event (what = drop) since last event (what = heat)",
            "count makeups since last makeup (end = pin) = 1",
            "count makeups since last makeup (end = box) = 0",
            "any makeup since last event",
        ],
        &[],
        &[
            "any event (what = heat) since last event (what = drop)",
            "any event since last makeup",
            "any event (what = heat) since last event (what = heat)",
        ],
    );
}

#[test]
fn two_moves_of_a_day_to_two_places_say_nothing_until_a_sure_one() {
    let desk = yard();
    enter(&desk, "move; serial=A-1; date=2024-05-01; location=RigX");
    enter(&desk, "move; serial=A-1; date=2024-05-01; location=RigY; string=S2");
    holds(
        &desk,
        &["location is unknown", "string is unknown", "status = in_stock"],
        &[
            "location = \"RigX\"",
            "location = \"RigY\"",
            "any move (location = \"RigX\")",
            "count moves = 2",
            "string = none",
            "string = \"S2\"",
        ],
        &["no move (location = \"Elsewhere\") and count moves > 2"],
    );
    enter(&desk, "move; serial=A-1; date=2024-05-02; location=RigY; string=-");
    holds(
        &desk,
        &["location = \"RigY\"", "string = none"],
        &["count moves = 3"],
        &["location = \"RigX\""],
    );
}

#[test]
fn hired_twice_or_from_quarantine_is_not_known_to_be_out() {
    let desk = yard();
    enter(&desk, "hire-out; serial=A-1; date=2024-05-02; hire=H1; party=P; location=RigZ");
    enter(&desk, "hire-out; serial=A-1; date=2024-05-03; hire=H2; party=P; location=RigQ");
    holds(
        &desk,
        &["hire is unknown", "on_hire is unknown", "status is unknown"],
        &[
            "hire = \"H2\"",
            "on_hire = true",
            "status = on_hire",
            "location = \"RigQ\"",
            "count hires = 2",
        ],
        &[],
    );
    // What nobody can tell is still in service.
    assert!(desk.run(&["due", "--json"]).ok().contains("\"A-1\""));
    enter(&desk, "hire-in; serial=A-1; date=2024-05-20; hire=H1");
    holds(&desk, &["on_hire is unknown"], &["hire = none"], &[]);
    enter(&desk, "hire-in; serial=A-1; date=2024-05-21; hire=H2; location=Yard");
    holds(
        &desk,
        &["on_hire = false", "hire = none", "status = in_stock", "location = \"Yard\""],
        &[],
        &[],
    );

    let desk = yard();
    enter(&desk, "decision; serial=A-1; date=2024-05-01; ruling=quarantine; reason=x");
    enter(&desk, "hire-out; serial=A-1; date=2024-05-03; hire=H; party=P");
    holds(
        &desk,
        &["on_hire is unknown"],
        &["status = quarantine", "any decision (ruling = quarantine)"],
        &[],
    );
    enter(&desk, "hire-in; serial=A-1; date=2024-05-05; hire=H");
    holds(&desk, &["on_hire = false", "hire = none"], &["status = on_hire"], &[]);
}

#[test]
fn a_move_while_in_the_hole_leaves_both_open() {
    let desk = yard();
    enter(&desk, "move; serial=A-1; date=2024-02-03; location=RigX");
    holds(
        &desk,
        &["hours <= 24 h", "any run (conflicting = true)", "no run (conflicting = false)"],
        &["hours > 20 h", "count runs = 1", "any run", "location = \"RigX\""],
        &["hours > 25 h", "count runs > 1"],
    );
}

#[test]
fn of_runs_at_once_sums_are_between_bounds() {
    let desk = yard();
    run(&desk, "R3", "2024-02-03T00:00:00Z", "2024-02-05T06:00:00Z");
    run(&desk, "R4", "2024-08-01T00:00:00Z", "2024-08-03T00:00:00Z");
    desk.write("trips.csv", "Date,Run,Trips,Stand\n2024-02-05,R3,2,1\n");
    desk.run(&["load", "trips.csv"]).ok();
    enter(&desk, "inspection; serial=A-1; date=2024-01-20; methods=UT wall; wall=98 %");
    holds(
        &desk,
        &[
            "hours between 24 h and 72 h",
            "sum hours over runs between 24 h and 72 h",
            "hours since last inspection (covers = wall) between 24 h and 72 h",
            "hours above 3 deg/100ft <= 72 h",
            "damage > 0",
            "box_makeups <= 2",
            "any run (conflicting = true and hours = 24 h)",
            "count runs (conflicting = true) = 2",
            "count runs (conflicting is not unknown) > 2",
        ],
        &[
            "hours > 30 h",
            "hours > 71 h",
            "hours since last inspection (covers = wall) > 30 h",
            "count makeups (end = box) = 2",
            "box_makeups > 0",
            "revolutions > 200000",
        ],
        &["hours < 24 h", "hours > 72 h", "hours above 3 deg/100ft > 72 h", "box_makeups > 2"],
    );
}

#[test]
fn lost_is_lost_and_a_failed_joint_is_not_in_stock() {
    let desk = yard();
    enter(&desk, "failure; serial=A-1; date=2024-04-01; failure=washout");
    enter(&desk, "move; serial=A-1; date=2024-05-01; location=Rig9");
    holds(
        &desk,
        &["status = quarantine", "status of latest move = quarantine"],
        &[],
        &["status of latest move = in_stock"],
    );
    let desk = yard();
    enter(&desk, "hire-out; serial=A-1; date=2024-05-02; hire=H1; party=P");
    enter(&desk, "failure; serial=A-1; date=2024-05-10; failure=lost");
    holds(&desk, &["status = lost", "on_hire = true"], &[], &[]);
}

/// What each site tells too: how it reads a header of its own, hours of a run that it did not make, and a
/// log by time from which starts of turning are counted.
fn tell_more(desk: &Desk, place: &str) {
    let day = 4 + place.len();
    let sheet = format!("Serial,Date,Methods,W of {place}\nA-3,2024-07-01,UT wall,0.33\n");
    desk.write("sheet.csv", sheet);
    let reads = format!("W of {place} = wall [in]");
    desk.run(&["load", "sheet.csv", "--columns", &reads]).ok();
    let told = format!(
        "Serial,Rot hours [h],Run,From,Date\nA-3,40,Far {place},2024-09-01,2024-09-{day:02}\n"
    );
    desk.write("told.csv", told);
    desk.run(&["load", "told.csv"]).ok();
    let mut log = "time,bit depth [m],hole depth [m],rpm,torque [kN.m]\n".to_owned();
    for minute in 0..80 {
        let (hour, rest, rpm) = (6 + minute / 60, minute % 60, 60 * (1 - minute / 20 % 2));
        log += &format!("2024-10-{day:02}T{hour:02}:{rest:02}:00Z,450,450,{rpm},{}\n", 3 + rpm / 5);
    }
    desk.write("turns.csv", log);
    let tally = std::fs::read_to_string(desk.path("tally.csv")).unwrap();
    desk.write("own.csv", tally.replace("3,A-1,,,,,,\n4,A-2,,,,,,\n5,A-3,", "3,A-3,"));
    desk.write(
        "turns.toml",
        format!(
            "name = \"T-{place}\"\nwell = \"W1\"\nstart = 2024-10-{day:02}\nend = 2024-10-{day:02}\n\
             tally = \"own.csv\"\nlog = \"turns.csv\"\n"
        ),
    );
    desk.run(&["load", "turns.toml"]).ok();
    let told = desk.run(&["exposure", "A-3"]).ok();
    assert!(told.contains("torque cycles"), "{told}");
}

/// The entries of three sites come to an office in every order, wherever its machine stands: it answers
/// alike to the byte.
#[test]
fn answers_do_not_depend_on_the_order_of_arrival() {
    let yard = yard();
    let (rig, shop) = (Desk::new(), Desk::new());
    for (desk, site) in [(&rig, "rig 14"), (&shop, "shop")] {
        desk.run(&["new", "--site", site]).ok();
        yard.send(desk, &format!("to {site}.jsonl"));
        for file in ["tally.csv", "log.csv"] {
            std::fs::copy(yard.path(file), desk.path(file)).unwrap();
        }
    }
    for (desk, wall, place, event) in [
        (&yard, "93 %", "Rig 9", "drop"),
        (&rig, "77 %", "Rig 14", "heat"),
        (&shop, "85 %", "Shop", "jarring"),
    ] {
        for serial in ["A-1", "A-2"] {
            enter(
                desk,
                &format!(
                    "inspection; serial={serial}; date=2024-04-01; methods=UT wall; wall={wall}"
                ),
            );
            enter(desk, &format!("move; serial={serial}; date=2024-05-01; location={place}"));
            enter(desk, &format!("event; serial={serial}; date=2024-05-01; event={event}"));
        }
        enter(desk, "makeup; date=2024-05-01; pin=A-1; box=A-2");
        enter(desk, "hire-out; serial=A-3; date=2024-06-01; hire=H1; party=P");
        let run_name = format!("R-{place}");
        run(desk, &run_name, "2024-08-01T00:00:00Z", "2024-08-03T00:00:00Z");
        // Two joints of one serial, each of another site.
        desk.write(
            "more.csv",
            format!(
                "{JOINTS}B-1,drill pipe,yes,5,.362,19.50,G-105,31.2,NC50,6 5/8,3 1/4,2024-01-05,{place},S1\n"
            ),
        );
        desk.run(&["load", "more.csv"]).ok();
        tell_more(desk, place);
    }
    for (desk, file) in [(&yard, "1.jsonl"), (&rig, "2.jsonl"), (&shop, "3.jsonl")] {
        desk.run(&["bundle", "out", file]).ok();
    }
    let bundles = [yard.path("1.jsonl"), rig.path("2.jsonl"), shop.path("3.jsonl")];
    let mut questions: Vec<Vec<String>> = Vec::new();
    let mut ask = |words: &[&str]| {
        for form in ["--json", "--csv", ""] {
            let mut all: Vec<String> = words.iter().map(|w| (*w).to_owned()).collect();
            all.extend((!form.is_empty()).then(|| form.to_owned()));
            questions.push(all);
        }
    };
    for filter in ["wall < 80 %", "location is unknown", "true", "hours > 1 h", "status is unknown"]
    {
        ask(&["find", filter]);
    }
    ask(&["find", "true", "--limit", "2"]);
    ask(&["find", "true", "--undecided", "--show", "serial,wall,location"]);
    ask(&[
        "find",
        "true",
        "--sort",
        "component",
        "--show",
        "serial,introduced_by,what of latest event",
    ]);
    for (record, show) in [
        ("run", "serial,name,hours,conflicting"),
        ("inspection", "serial,date,wall"),
        ("event", "serial,what"),
        ("move", "serial,location"),
        ("makeup", "serial,end,times,mate"),
        ("hire", "serial,name,party"),
    ] {
        ask(&["find", "true", "--list", record, "--show", show]);
    }
    for serial in ["A-1", "A-2", "A-3"] {
        ask(&["trace", serial]);
    }
    ask(&["due"]);
    ask(&["due", "--undecided"]);
    ask(&["kin", "A-1"]);
    ask(&["exposure", "A-1"]);
    ask(&["exposure", "--run", "R1"]);
    ask(&["stock"]);
    ask(&["layouts"]);
    ask(&["exposure", "A-3"]);
    ask(&["find", "hours since 2024-09-05 > 1 h", "--show", "serial,hours,hours since 2024-09-05"]);
    ask(&["find", "true", "--as-of", "2024-05-02"]);
    for serial in ["A-1", "A-3"] {
        questions.push(["dossier", serial, "--json"].map(str::to_owned).to_vec());
    }
    questions.push(["why", "A-1", "wall < 80 % or due for inspection"].map(str::to_owned).to_vec());
    let mut pages: BTreeMap<&str, String> = BTreeMap::new();
    let mut first: Option<Vec<String>> = None;
    for (order, zone) in [
        ([0, 1, 2], "UTC"),
        ([0, 2, 1], "Asia/Tokyo"),
        ([1, 0, 2], "America/Los_Angeles"),
        ([1, 2, 0], "Pacific/Apia"),
        ([2, 0, 1], "Europe/Oslo"),
        ([2, 1, 0], "Nowhere/At_All"),
    ] {
        let office = Desk::new();
        office.run(&["new", "--site", "office", "--clock", "America/St_Johns"]).ok();
        for n in order {
            office.run(&["bundle", "in", bundles[n].to_str().unwrap()]).ok();
        }
        let answers: Vec<String> = questions
            .iter()
            .map(|words| {
                let words: Vec<&str> = words.iter().map(String::as_str).collect();
                let out = At { desk: &office, now: NOW, zone }.run(&words);
                assert_eq!(out.code, 0, "{words:?}: {}", out.err);
                // The head is of this book, which took them in as they came.
                let own = ["hash", "head", "office-"];
                let head = |line: &&str| !own.iter().any(|own| line.contains(own));
                out.out.lines().chain(out.err.lines()).filter(head).collect::<Vec<_>>().join("\n")
            })
            .collect();
        match &first {
            None => first = Some(answers),
            Some(first) => {
                for ((words, a), b) in questions.iter().zip(first).zip(&answers) {
                    for (a, b) in a.lines().zip(b.lines()) {
                        assert_eq!(a, b, "{words:?} in the order {order:?}");
                    }
                    assert_eq!(a.len(), b.len(), "{words:?} in the order {order:?}");
                }
            }
        }
        // A page for people, without what names this book alone.
        for serial in ["A-1", "A-3"] {
            let file = format!("{serial}.html");
            At { desk: &office, now: NOW, zone }.run(&["dossier", serial, "-o", &file]).ok();
            let page = std::fs::read_to_string(office.path(&file)).unwrap();
            let own = ["office-", "its hash", "verify --head"];
            let lines = page.lines().filter(|line| !own.iter().any(|own| line.contains(own)));
            let page = lines.collect::<Vec<_>>().join(
                "
",
            );
            let first = pages.entry(serial).or_insert_with(|| page.clone());
            for (a, b) in first.lines().zip(page.lines()) {
                assert_eq!(a, b, "dossier of {serial} in the order {order:?}");
            }
            assert_eq!(first.len(), page.len(), "dossier of {serial} in the order {order:?}");
        }
        office.run(&["rebuild"]).ok();
        let again = office.run(&["find", "true", "--csv"]).ok();
        assert_eq!(Some(again), first.as_ref().map(|f| f[7].clone() + "\n"), "rebuilt");
    }
}
