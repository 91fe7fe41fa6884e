//! What is due, of whom one asks about, counted, and turned into jobs.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;

use super::cli::Desk;

fn rows(answer: &Value, table: &str) -> Vec<Value> {
    answer[table].as_array().unwrap_or_else(|| panic!("{table}: {answer}")).clone()
}

fn text<'v>(row: &'v Value, name: &str) -> &'v str {
    row[name].as_str().unwrap_or_else(|| panic!("{name}: {row}"))
}

/// The day on which the string of the demo came back from hire, and all of it waits to be looked at.
const BACK: &str = "2026-05-26";

/// What must not run comes first, that of the joint out on hire before those in the yard.
#[test]
fn what_can_hurt_first_stands_first() {
    let due = rows(&Desk::demo().run(&["due", "--as-of", BACK, "--json"]).json(), "due");
    assert_eq!((text(&due[0], "serial"), text(&due[0], "rule")), ("K1-0417", "failed_joint"));
    let calls: Vec<&str> = due.iter().map(|l| text(l, "call")).collect();
    let stops = |call: &&&str| ["quarantine", "retire"].contains(*call);
    let first = calls.iter().take_while(stops).count();
    assert!(first > 30 && calls.iter().skip(first).all(|c| !stops(&c)), "{calls:?}");
}

/// A string, a hire, serials and a filter choose joints; each as the filter that means the same.
#[test]
fn due_is_asked_of_some_joints() {
    let desk = Desk::demo();
    let due = |more: &[&str]| {
        let told = desk.run(&[&["due", "--within", "30 days", "--json"], more].concat()).json();
        rows(&told, "due")
    };
    let all = due(&[]);
    let of = |keep: &dyn Fn(&str) -> bool| -> Vec<Value> {
        all.iter().filter(|l| keep(text(l, "serial"))).cloned().collect()
    };
    assert_eq!(due(&["--string", "k1"]), of(&|serial| serial.starts_with("K1-")));
    assert_eq!(due(&["--serial", "K1-0417,DC-01"]), of(&|s| s == "K1-0417" || s == "DC-01"));
    let thin: BTreeSet<String> = desk.joints("wall < 85 %").yes.into_iter().collect();
    assert_eq!(due(&["wall < 85 %"]), of(&|serial| thin.contains(serial)));
    let both = due(&["wall < 85 %", "--string", "K1", "--hire", "H-36"]);
    assert!(!both.is_empty() && both.len() < due(&["wall < 85 %"]).len() + 1);
    // Of whom the filter cannot tell is said.
    let told = desk.run(&["due", "wall < 85 %"]).ok();
    let open = desk.joints("wall < 85 %").open.len();
    assert!(open > 0 && told.contains(&format!("of {open} joints it cannot be told")), "{told}");
    // Who does not exist is never "nothing due".
    for (words, known) in [
        (&["--string", "K9"][..], "K1"),
        (&["--hire", "H-99"], "H-36"),
        (&["--serial", "K1-0417x"], "K1-0417"),
    ] {
        let err = desk.run(&[&["due"], words].concat()).fails(2);
        assert!(err.contains(known), "{err}");
    }
    assert!(desk.run(&["due", "wal < 3"]).fails(2).contains("did you mean wall"));
}

/// A joint that was marked anew is found by either serial.
#[test]
fn an_earlier_serial_asks_about_its_joint() {
    let desk = Desk::with_book();
    let joint = ["component=drill pipe", "new=yes", "od=5 in", "date=2025-06-01"];
    desk.run(&[&["enter", "joint", "serial=A-1"], &joint[..]].concat()).ok();
    let marked =
        ["change=remark", "serial=A-1", "new_serial=B-1", "date=2025-07-01", "reason=worn"];
    desk.run(&[&["enter", "identity"], &marked[..]].concat()).ok();
    desk.run(&["enter", "event", "serial=B-1", "date=2025-08-01", "event=heat"]).ok();
    for serial in ["A-1", "B-1"] {
        let due = rows(&desk.run(&["due", "--serial", serial, "--json"]).json(), "due");
        assert!(
            due.iter().any(|l| l["rule"] == "heated" && l["serial"] == "B-1"),
            "{serial}: {due:?}"
        );
    }
}

/// Groups hold what the list holds: by reason each rule that speaks counts under its own.
#[test]
fn calls_are_counted_by_several_columns() {
    let desk = Desk::demo();
    let asked = ["due", "--string", "K1", "--within", "30 days", "--json"];
    let due = rows(&desk.run(&asked).json(), "due");
    let told = desk.run(&[&asked[..], &["--by", "location,call"]].concat()).json();
    let mut counts: BTreeMap<(String, String), i64> = BTreeMap::new();
    for line in &due {
        let key = (text(line, "location").to_owned(), text(line, "call").to_owned());
        *counts.entry(key).or_default() += 1;
    }
    for group in rows(&told, "counts") {
        let key = (text(&group, "location").to_owned(), text(&group, "call").to_owned());
        assert_eq!(counts.remove(&key), group["joints"].as_i64(), "{group}");
        let worst =
            due.iter().find(|l| l["location"] == group["location"] && l["call"] == group["call"]);
        assert_eq!(group["worst"], worst.unwrap()["serial"], "{group}");
    }
    assert!(counts.is_empty(), "{counts:?}");
    let told = rows(&desk.run(&[&asked[..], &["--by", "reason"]].concat()).json(), "counts");
    let back = told.iter().find(|g| text(g, "reason").starts_with("back from hire")).unwrap();
    let called = |l: &&Value| {
        l["rule"] == "back_from_hire"
            || l["also"].as_str().is_some_and(|a| a.contains("back_from_hire"))
    };
    assert_eq!(back["joints"].as_u64(), Some(due.iter().filter(called).count() as u64), "{back}");
    assert_eq!(back["call"], "inspection");
    desk.run(&["due", "--by", "colour"]).fails(2);
}

/// Every call stands in one job, and what is asked for is what its rules count from.
#[test]
fn every_call_is_in_one_job() {
    let desk = Desk::demo();
    let asked = ["due", "--within", "60 days", "--as-of", BACK, "--json"];
    let due = rows(&desk.run(&asked).json(), "due");
    let jobs = rows(&desk.run(&[&asked[..], &["--jobs"]].concat()).json(), "jobs");
    assert!(jobs.len() < due.len() / 8, "{} jobs of {} calls", jobs.len(), due.len());
    let mut called: Vec<(String, String)> =
        due.iter().map(|l| (text(l, "serial").to_owned(), text(l, "call").to_owned())).collect();
    let mut planned: Vec<(String, String)> = Vec::new();
    for job in &jobs {
        let serials: Vec<&str> = text(job, "serials").split(", ").collect();
        assert_eq!(job["joints"].as_u64(), Some(serials.len() as u64), "{job}");
        planned.extend(serials.iter().map(|s| ((*s).to_owned(), text(job, "call").to_owned())));
    }
    called.sort();
    planned.sort();
    assert_eq!(called, planned);
    let of = |rule: &str| jobs.iter().find(|j| text(j, "rules").starts_with(rule)).unwrap();
    assert_eq!(text(of("sour_service_threads"), "job"), "set aside; inspect pin cracks");
    assert!(text(of("sour_service "), "method") == "magnetic slip");
    // How many it leaves with nothing else to do is counted over all calls.
    let cleared: u64 = jobs.iter().map(|j| j["clears"].as_u64().unwrap()).sum();
    let alone = |serial: &str| due.iter().filter(|l| l["serial"] == serial).count() == 1;
    let serials: BTreeSet<&str> = due.iter().map(|l| text(l, "serial")).collect();
    assert_eq!(cleared, serials.iter().filter(|s| alone(s)).count() as u64);
    let some = rows(&desk.run(&["due", "--jobs", "--call", "repair", "--json"]).json(), "jobs");
    assert!(some.iter().all(|j| j["clears"].is_null()), "nobody counted the other calls");
}

/// A job that is done as it says answers its calls.
#[test]
fn a_job_that_is_done_is_called_for_no_more() {
    let desk = Desk::demo_copy();
    let jobs = || rows(&desk.run(&["due", "--jobs", "--json"]).json(), "jobs");
    let has = |jobs: &[Value], rule: &str| {
        let of = |j: &&Value| text(j, "rules").contains(rule);
        jobs.iter().filter(of).any(|j| text(j, "serials").split(", ").any(|s| s == "HW-24"))
    };
    let before = jobs();
    let rules = ["hours_since_heavy_weight_cracks", "sour_service_threads"];
    assert!(rules.iter().all(|rule| has(&before, rule)));
    let job = before.iter().find(|j| text(j, "rules").contains(rules[0])).unwrap();
    let method = format!("methods={}", text(job, "method").split(" or ").next().unwrap());
    desk.run(&["enter", "inspection", "serial=HW-24", "date=2026-06-10", &method]).ok();
    // What the rules count from was looked at; that it has no class is another call.
    let told = rows(&desk.run(&["due", "--serial", "HW-24", "--json"]).json(), "due");
    let told = Value::from(told).to_string();
    assert!(rules.iter().all(|rule| !told.contains(rule)), "{told}");
    assert!(told.contains("class_unknown"), "{told}");
}

/// A sum stands where values add up; a bend has a least and a most.
#[test]
fn find_counts_by_several_columns() {
    let desk = Desk::demo();
    let told = desk
        .run(&[
            "find",
            "string = \"K1\"",
            "--by",
            "location,class",
            "--show",
            "max_dogleg,hours,wall_age,owner",
        ])
        .ok();
    let head: Vec<&str> = told.lines().take_while(|l| !l.starts_with('─')).collect();
    let head = head.join(" ");
    for word in
        ["location", "class", "count", "least max_dogleg", "most max_dogleg", "sum of hours"]
    {
        assert!(head.contains(word), "{word}: {head}");
    }
    assert!(!head.contains("sum of max_dogleg") && !head.contains("owner"), "{head}");
    assert!(!told.contains("sum of wall_age"), "{told}");
    let json = desk.run(&["find", "string = \"K1\"", "--by", "location,class", "--json"]).json();
    let groups = rows(&json, "joints");
    let count: u64 = groups.iter().map(|g| g["count"].as_u64().unwrap()).sum();
    assert_eq!(count as usize, desk.joints("string = \"K1\"").yes.len());
    assert!(groups.iter().any(|g| g["location"] == "Rig 9" && g["count"] == 1), "{json}");
}
