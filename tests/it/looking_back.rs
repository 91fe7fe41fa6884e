//! What was true on a date, and what the book said on a date, from the command line.

use std::collections::BTreeMap;

use super::cli::Desk;

const JOINTS: &str = "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [ft],Connection,TJ OD [in],TJ ID [in],Received\n\
A-1,drill pipe,yes,5,.362,19.50,G-105,31.2,NC50,6 5/8,3 1/4,2026-01-05\n\
A-2,drill pipe,yes,5,.362,19.50,G-105,31.4,NC50,6 5/8,3 1/4,2026-01-05\n";

/// Runs a command on a day of 2026.
fn on(desk: &Desk, day: &str, words: &[&str]) -> super::cli::Ran {
    let mut all = vec!["--now".to_owned(), format!("2026-{day}T12:00:00+01:00")];
    all.extend(words.iter().map(|w| (*w).to_owned()));
    let all: Vec<&str> = all.iter().map(String::as_str).collect();
    desk.run(&all)
}

/// A yard that began on 6 January, read two walls, one of them wrongly, and struck it later.
fn yard() -> (Desk, String) {
    let desk = Desk::new();
    on(&desk, "01-06", &["new", "--site", "yard"]).ok();
    desk.write("joints.csv", JOINTS);
    on(&desk, "01-06", &["load", "joints.csv"]).ok();
    let looked = |day: &str, date: &str, serial: &str, wall: &str| {
        let words =
            ["enter", "inspection", serial, date, "methods=UT wall", wall].map(str::to_owned);
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        on(&desk, day, &words).ok();
    };
    looked("02-02", "date=2026-02-01", "serial=A-1", "wall=0.340 in");
    looked("02-02", "date=2026-02-01", "serial=A-2", "wall=0.250 in");
    let trace = on(&desk, "02-03", &["trace", "A-2", "--json"]).json();
    let entry = trace["timeline"]
        .as_array()
        .unwrap()
        .iter()
        .find(|l| l["what"] == "inspection")
        .map(|l| l["entry"].as_str().unwrap().to_owned())
        .unwrap();
    on(&desk, "03-01", &["strike", &entry, "--reason", "read on another joint"]).ok();
    // Found in a drawer in April, made in January.
    looked("04-10", "date=2026-01-20", "serial=A-2", "wall=0.355 in");
    looked("05-01", "date=2026-05-01", "serial=A-1", "wall=0.300 in");
    (desk, entry)
}

fn walls(answer: &serde_json::Value) -> BTreeMap<String, Option<f64>> {
    let joints = answer["joints"].as_array().unwrap();
    joints
        .iter()
        .map(|j| {
            let wall = j["wall"]["value"].as_f64();
            (j["serial"].as_str().unwrap().to_owned(), wall.map(|w| (w * 10.0).round() / 10.0))
        })
        .collect()
}

fn asked(desk: &Desk, more: &[&str]) -> BTreeMap<String, Option<f64>> {
    let mut words = vec!["find", "true", "--show", "serial,wall", "--json"];
    words.extend(more);
    walls(&on(desk, "06-15", &words).json())
}

fn two(a: Option<f64>, b: Option<f64>) -> BTreeMap<String, Option<f64>> {
    [("A-1".to_owned(), a), ("A-2".to_owned(), b)].into()
}

#[test]
fn the_two_times_are_two_questions() {
    let (desk, _) = yard();
    // 0.300, 0.340, 0.355 and 0.250 in of 0.362 in.
    let (worn, good, drawer, wrong) = (Some(82.9), Some(93.9), Some(98.1), Some(69.1));
    assert_eq!(asked(&desk, &[]), two(worn, drawer));
    // What was true, by what is known now: the strike and the drawer count.
    assert_eq!(asked(&desk, &["--as-of", "2026-02-01"]), two(good, drawer));
    assert_eq!(asked(&desk, &["--as-of", "2026-01-20"]), two(None, drawer));
    assert_eq!(asked(&desk, &["--as-of", "2026-01-19"]), two(None, None));
    assert_eq!(asked(&desk, &["--as-of", "2026-01-04"]), BTreeMap::new());
    // What the book said: neither, before they were written.
    assert_eq!(asked(&desk, &["--known-on", "2026-02-01"]), two(None, None));
    assert_eq!(asked(&desk, &["--known-on", "2026-02-02"]), two(good, wrong));
    assert_eq!(asked(&desk, &["--known-on", "2026-02-02T11:59:59+01:00"]), two(None, None));
    assert_eq!(asked(&desk, &["--known-on", "2026-03-01"]), two(good, None));
    assert_eq!(asked(&desk, &["--known-on", "2026-05-01"]), two(worn, drawer));
    // What it said in March of January.
    let both = ["--known-on", "2026-02-20", "--as-of", "2026-01-31"];
    assert_eq!(asked(&desk, &both), two(None, None));
    // The present is as it was.
    assert_eq!(asked(&desk, &[]), two(worn, drawer));
    on(&desk, "06-15", &["verify"]).ok();
}

#[test]
fn a_view_equals_a_copy_made_then() {
    let desk = Desk::new();
    on(&desk, "01-06", &["new", "--site", "yard"]).ok();
    desk.write("joints.csv", JOINTS);
    on(&desk, "01-06", &["load", "joints.csv"]).ok();
    on(&desk, "01-07", &["backup", "then.pipelore"]).ok();
    let words = ["enter", "inspection", "serial=A-1", "methods=UT wall", "wall=0.250 in"];
    on(&desk, "02-02", &words).ok();
    for words in [
        &["find", "true", "--show", "serial,class,wall,wall_age", "--csv"][..],
        &["due", "--csv"],
        &["trace", "A-1", "--csv"],
        &["due", "--by", "rule", "--csv"],
        &["assess", "A-1", "--csv"],
    ] {
        let copy = [&["--book", "then.pipelore"], words].concat();
        let view = [words, &["--known-on", "2026-01-07"]].concat();
        let then = desk.run(&[&["--now", "2026-01-07T23:59:59.999+01:00"], &copy[..]].concat());
        let seen = on(&desk, "06-15", &view);
        assert_eq!((then.code, then.out), (seen.code, seen.out), "{words:?}");
    }
}

#[test]
fn what_was_struck_later_stands_in_the_book_of_that_day() {
    let (desk, entry) = yard();
    let inspection = |more: &[&str]| {
        let mut words = vec!["trace", "A-2", "--json"];
        words.extend(more);
        let answer = on(&desk, "06-15", &words).json();
        let lines = answer["timeline"].as_array().unwrap().clone();
        lines.into_iter().find(|l| l["entry"] == entry.as_str())
    };
    assert_eq!(inspection(&[]).unwrap()["struck"], true);
    assert_eq!(inspection(&["--as-of", "2026-02-01"]).unwrap()["struck"], true);
    assert_eq!(inspection(&["--as-of", "2026-01-31"]), None);
    assert_eq!(
        inspection(&["--known-on", "2026-02-20"]).unwrap()["struck"],
        serde_json::Value::Null
    );
    // As the book was when it held that very entry, which was the last of its day.
    assert_eq!(inspection(&["--known-on", &entry]).unwrap()["struck"], serde_json::Value::Null);
    assert_eq!(inspection(&["--known-on", "2026-01-31"]), None);
    // Who wrote it, with what, and when at the clock of the place.
    let line = inspection(&[]).unwrap();
    assert_eq!(line["author"], "tester");
    assert!(line["program"].as_str().unwrap().starts_with("pipelore "));
    assert_eq!(line["recorded"], "2026-02-02T12:00:00+01:00");
}

#[test]
fn a_view_says_what_it_is() {
    let (desk, entry) = yard();
    let answer = on(&desk, "06-15", &["find", "true", "--known-on", "2026-02-02", "--json"]).json();
    let view = &answer["view"];
    assert_eq!((&view["known_on"], &view["place"]), (&"2026-02-02".into(), &6.into()));
    assert!(view["head"].as_str().unwrap().starts_with(&entry), "{view}");
    for part in ["limits", "rules", "method"] {
        assert!(view[part].is_string(), "{view}");
    }
    // The head that it names is one that the book proves.
    let head = view["head"].as_str().unwrap().split_whitespace().last().unwrap().to_owned();
    on(&desk, "06-15", &["verify", "--head", &head]).ok();
    let text = on(&desk, "06-15", &["find", "true", "--as-of", "2026-02-02"]).ok();
    assert!(text.contains("by what the book knows now"), "{text}");
    // A table for a machine stays one; what it is a view of stands beside it.
    let csv = on(&desk, "06-15", &["find", "true", "--as-of", "2026-02-02", "--csv"]);
    assert!(csv.err.contains("as of") && csv.err.contains("2026-02-02"), "{}", csv.err);
    assert!(csv.err.contains("by what the book knows now"), "{}", csv.err);
    let csv = csv.ok();
    assert!(csv.starts_with("serial,") && csv.lines().count() == 3, "{csv}");
    assert_eq!(on(&desk, "06-15", &["find", "true", "--csv"]).err, "");
    assert!(on(&desk, "06-15", &["find", "true", "--json"]).json()["view"].is_null());
}

#[test]
fn rules_and_limits_are_those_of_the_time() {
    let (desk, _) = yard();
    let mine = "name = \"yard, edition 1\"\n\n[[rule]]\nname = \"thin\"\ncall = \"downgrade\"\n\
                value = \"wall\"\nbelow = \"95 %\"\nreason = \"thin\"\nsource = \"contract\"\n";
    desk.write("mine.toml", mine);
    on(&desk, "05-20", &["rules", "--use", "mine.toml", "--from", "2026-04-01"]).ok();
    let due = |more: &[&str]| {
        let mut words = vec!["due", "--json"];
        words.extend(more);
        let answer = on(&desk, "06-15", &words).json();
        let called: Vec<String> = answer["due"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|l| l["rule"] == "thin")
            .map(|l| l["serial"].as_str().unwrap().to_owned())
            .collect();
        (called, answer["view"]["rules"].as_str().map(str::to_owned))
    };
    let thin = vec!["A-1".to_owned()];
    let ours = Some("yard, edition 1".to_owned());
    assert_eq!(due(&[]).0, thin);
    // In force from April, by what is known now; the book said so from 20 May on.
    assert_eq!(due(&["--as-of", "2026-04-02"]), (thin.clone(), ours.clone()));
    assert_ne!(due(&["--as-of", "2026-03-20"]).1, ours);
    assert_ne!(due(&["--known-on", "2026-05-19"]).1, ours);
    assert!(due(&["--known-on", "2026-05-19"]).0.is_empty());
    assert_eq!(due(&["--known-on", "2026-05-20"]), (thin, ours));
}

#[test]
fn rules_from_a_later_day_wait_for_it() {
    let (desk, _) = yard();
    let set = |name: &str, below: &str| {
        format!(
            "name = \"yard, edition {name}\"\n\n[[rule]]\nname = \"thin\"\ncall = \"downgrade\"\n\
             value = \"wall\"\nbelow = \"{below}\"\nreason = \"thin\"\nsource = \"contract\"\n"
        )
    };
    desk.write("one.toml", set("1", "80 %"));
    desk.write("two.toml", set("2", "95 %"));
    on(&desk, "06-01", &["rules", "--use", "one.toml"]).ok();
    let said = on(&desk, "06-01", &["rules", "--use", "two.toml", "--from", "2026-07-01"]).ok();
    assert!(said.contains("until then 'yard, edition 1' stays in force"), "{said}");
    let due = |day: &str, more: &[&str]| {
        let words = [&["due", "--json"], more].concat();
        let answer = on(&desk, day, &words).json();
        let lines = answer["due"].as_array().unwrap().clone();
        lines.into_iter().filter(|l| l["rule"] == "thin").count()
    };
    // Not a moment before the day begins at the clock of the place; then at once.
    assert_eq!(due("06-15", &[]), 0);
    let midnight = |time: &str| {
        desk.run(&["--now", time, "find", "thin", "--json"]).json()["joints"]
            .as_array()
            .unwrap()
            .len()
    };
    assert_eq!(midnight("2026-06-30T23:59:59.999+01:00"), 0);
    assert_eq!(midnight("2026-07-01T00:00:00+01:00"), 1);
    assert_eq!(due("07-01", &[]), 1);
    // Of a date that lies ahead as of one that lies behind.
    assert_eq!(due("06-15", &["--as-of", "2026-07-01"]), 1);
    assert_eq!(due("07-15", &["--as-of", "2026-06-30"]), 0);
    assert_eq!(due("07-15", &["--known-on", "2026-06-15"]), 0);
    assert_eq!(due("07-15", &["--known-on", "2026-07-02"]), 1);
    for (more, rules) in [("06-15", "yard, edition 1"), ("07-01", "yard, edition 2")] {
        let view =
            on(&desk, "07-15", &["find", "true", "--known-on", &format!("2026-{more}"), "--json"]);
        assert_eq!(view.json()["view"]["rules"], rules);
    }
    // Every other question asks with the set of its day.
    for (day, holds) in [("06-15", false), ("07-01", true)] {
        let why = on(&desk, day, &["why", "A-1", "thin", "--json"]).json();
        assert_eq!(why["question"]["answer"], if holds { "yes" } else { "no" }, "{why}");
        let stock = on(&desk, day, &["stock", "thin", "--json"]).json();
        assert_eq!(!stock["stock"].as_array().unwrap().is_empty(), holds, "{stock}");
        let text = on(&desk, day, &["rules", "--text"]).ok();
        assert_eq!(text.contains("95 %"), holds, "{text}");
        let sheet = format!("thin-{day}.xlsx");
        let sheet = on(&desk, day, &["sheet", "inspection", "--where", "thin", "-o", &sheet]);
        assert_eq!(sheet.code == 0, holds, "{}{}", sheet.out, sheet.err);
    }
    // `rules` names the one in force and the one that comes, and all that there were.
    let shown = on(&desk, "06-15", &["rules", "--json"]).json();
    assert_eq!(shown["set"]["set"], "yard, edition 1");
    assert_eq!(shown["set"]["next"], "yard, edition 2");
    assert_eq!(shown["set"]["next_from"], "2026-07-01");
    assert_eq!(shown["rules"].as_array().unwrap().len(), 1);
    assert_eq!(shown["adoptions"].as_array().unwrap().len(), 3);
    let shown = on(&desk, "07-01", &["rules", "--json"]).json();
    assert_eq!(shown["set"]["set"], "yard, edition 2");
    assert_eq!(shown["set"]["from"], "2026-07-01");
    assert!(shown["set"]["next"].is_null(), "{shown}");
    // A forecast that reaches beyond the change says so.
    let forecast = |day: &str| on(&desk, day, &["forecast", "--months", "1"]).ok();
    assert!(forecast("06-15").contains("'yard, edition 2' comes into force on 2026-07-01"));
    assert!(!forecast("07-02").contains("comes into force"));
    let ahead = |within: &str| on(&desk, "06-15", &["due", "--within", within]).ok();
    assert!(ahead("30 days").contains("'yard, edition 2' comes into force on 2026-07-01"));
    assert!(!ahead("10 days").contains("comes into force"));
    assert!(!on(&desk, "05-15", &["forecast", "--months", "1"]).ok().contains("edition 2"));
    // Struck before its day, it never comes.
    let entry = on(&desk, "06-15", &["rules", "--json"]).json();
    let entry = entry["set"]["next_entry"].as_str().unwrap().to_owned();
    on(&desk, "06-20", &["strike", &entry, "--reason", "agreed otherwise"]).ok();
    assert_eq!(due("07-15", &[]), 0);
    on(&desk, "07-15", &["verify"]).ok();
}

#[test]
fn a_bundle_counts_from_its_arrival() {
    let (yard, _) = yard();
    let rig = Desk::new();
    on(&rig, "01-08", &["new", "--site", "Rig 14"]).ok();
    let file = yard.path("yard.jsonl").to_str().unwrap().to_owned();
    on(&yard, "01-08", &["bundle", "out", &file]).ok();
    on(&rig, "01-09", &["bundle", "in", &file]).ok();
    let words = ["enter", "event", "serial=A-2", "date=2026-02-10", "what=jarring"];
    on(&rig, "02-10", &words).ok();
    let file = yard.path("rig.jsonl").to_str().unwrap().to_owned();
    on(&rig, "02-11", &["bundle", "out", &file]).ok();
    on(&yard, "06-01", &["bundle", "in", &file]).ok();
    let jarred = |more: &[&str]| {
        let mut words = vec!["find", "any event (what = jarring)", "--json"];
        words.extend(more);
        on(&yard, "06-15", &words).json()["joints"].as_array().unwrap().len()
    };
    assert_eq!(jarred(&[]), 1);
    assert_eq!(jarred(&["--as-of", "2026-02-10"]), 1);
    assert_eq!(jarred(&["--as-of", "2026-02-09"]), 0);
    assert_eq!(jarred(&["--known-on", "2026-02-20"]), 0);
    assert_eq!(jarred(&["--known-on", "2026-05-31"]), 0);
    assert_eq!(jarred(&["--known-on", "2026-06-01"]), 1);
    // By the rig's entry: when the yard held it, it held the whole bundle.
    let trace = on(&yard, "06-15", &["trace", "A-2", "--only", "events", "--json"]).json();
    let entry = trace["timeline"][0]["entry"].as_str().unwrap().to_owned();
    assert!(entry.starts_with("rig_14-"), "{entry}");
    assert_eq!(jarred(&["--known-on", &entry]), 1);
    let answer = on(&yard, "06-15", &["find", "true", "--known-on", &entry, "--json"]).json();
    assert!(answer["view"]["head"].as_str().unwrap().starts_with("yard-"), "{answer}");
}

#[test]
fn the_past_cannot_be_written_and_the_time_before_the_book_is_none() {
    let (desk, entry) = yard();
    let before = on(&desk, "06-15", &["verify", "--json"]).ok();
    for words in [
        &["load", "joints.csv"][..],
        &["enter", "note", "serial=A-1", "text=x"],
        &["strike", &entry, "--reason", "x"],
        &["rebuild"],
        &["backup", "x.pipelore"],
        &["bundle", "out", "x.jsonl"],
        &["verify"],
    ] {
        for past in [["--as-of", "2026-02-01"], ["--known-on", "2026-02-01"]] {
            let err = on(&desk, "06-15", &[words, &past[..]].concat()).fails(2);
            assert!(err.contains("--as-of and --known-on go with questions"), "{err}");
        }
    }
    assert_eq!(before, on(&desk, "06-15", &["verify", "--json"]).ok());
    let err = on(&desk, "06-15", &["find", "true", "--known-on", "2026-01-05"]).fails(2);
    assert!(err.contains("begun at 2026-01-06T12:00:00"), "{err}");
    let err = on(&desk, "06-15", &["find", "true", "--known-on", "yesterday"]).fails(2);
    assert!(err.contains("neither a date"), "{err}");
    on(&desk, "06-15", &["find", "true", "--known-on", "yard-900"]).fails(2);
    on(&desk, "06-15", &["find", "true", "--as-of", "05/06/26"]).fails(2);
}

#[test]
fn as_of_agrees_with_the_language_in_the_middle_of_a_run() {
    let desk = Desk::demo();
    // In the fifth run of the string, and on a quiet day.
    for date in ["2025-08-23", "2025-12-01"] {
        let now = desk
            .run(&["find", "true", "--show", &format!("serial,hours as of {date}"), "--json"])
            .json();
        let then =
            desk.run(&["find", "true", "--show", "serial,hours", "--as-of", date, "--json"]).json();
        let figures = |answer: &serde_json::Value| -> BTreeMap<String, serde_json::Value> {
            let joints = answer["joints"].as_array().unwrap();
            joints
                .iter()
                .map(|j| {
                    let other = j.as_object().unwrap().iter().find(|(k, _)| k.starts_with("hours"));
                    (j["serial"].as_str().unwrap().to_owned(), other.unwrap().1.clone())
                })
                .collect()
        };
        let (now, then) = (figures(&now), figures(&then));
        assert!(then.len() > 100);
        let mut apart = 0;
        for (serial, value) in &then {
            // Where the date cuts a segment, the bit stands at a whole millimetre: a second's drilling.
            let hours = |v: Option<&serde_json::Value>| v.and_then(|v| v["value"].as_f64());
            let near = hours(now.get(serial))
                .zip(hours(Some(value)))
                .is_some_and(|(a, b)| (a - b).abs() < 1.0 / 3600.0);
            if !near {
                apart += 1;
                println!("{serial}: {value} as of {date}, {:?} by the language", now.get(serial));
            }
        }
        assert_eq!(apart, 0);
    }
}

#[test]
fn a_view_takes_no_longer_than_a_question_may() {
    let desk = Desk::demo();
    let words = ["find", "tube_class = premium", "--as-of", "2025-08-23", "--time-limit"];
    let err = desk.run(&[&words[..], &["0.000001"]].concat()).fails(5);
    assert!(err.contains("took longer"), "{err}");
    desk.run(&[&words[..], &["60"]].concat()).ok();
}
