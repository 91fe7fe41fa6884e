//! What a joint will be called for next, and what a recorded run asks of it: through the binary.

use serde_json::Value;

use super::cli::Desk;
use super::fitness::{answer, fit_joint, inspect, runs, yard};

fn next_of(desk: &Desk, words: &[&str]) -> Vec<Value> {
    let ran = desk.run(&[words, &["--json"]].concat());
    let told: Value = serde_json::from_str(&ran.out).unwrap_or_else(|e| panic!("{e}: {}", ran.err));
    told["next_call"].as_array().unwrap_or_else(|| panic!("{words:?}: {told}")).clone()
}

const DOORS: [&[&str]; 4] =
    [&["assess", "A-1"], &["trace", "A-1"], &["dossier", "A-1"], &["rate", "joint", "A-1"]];

const YEARLY: &str = "name = \"mine\"\n[[rule]]\nname = \"yearly\"\ncall = \"inspection\"\n\
    filter = \"no inspection (covers = slip_cracks) in last 365 days\"\nreason = \"a year\"\n\
    source = \"contract\"\n\n[[rule]]\nname = \"span\"\ncall = \"repair\"\n\
    value = \"today - entered\"\nabove = \"900 days\"\nmoved_by = \"time\"\n\
    reason = \"long here\"\nsource = \"contract\"\n\n[[rule]]\nname = \"worn\"\n\
    call = \"retire\"\nvalue = \"rotating_hours\"\nabove = \"10000 h\"\nmoved_by = \"hours\"\n\
    reason = \"used up\"\nsource = \"contract\"\n";

#[test]
fn the_next_call_is_one_line_with_its_day_and_rule() {
    let desk = fit_joint();
    desk.write("mine.toml", YEARLY);
    desk.run(&["rules", "--use", "mine.toml", "--from", "2026-06-01"]).ok();
    for door in DOORS {
        let calls = next_of(&desk, door);
        assert_eq!(calls.len(), 1, "{door:?}: {calls:?}");
        let next = &calls[0];
        assert_eq!((&next["call"], &next["rule"]), (&"inspection".into(), &"yearly".into()));
        assert!(["2027-06-01", "2027-06-02"].contains(&next["due_on"].as_str().unwrap()), "{next}");
        assert_eq!(next["moved_by"], "the calendar");
        if door[0] == "dossier" {
            continue;
        }
        let text = desk.run(door).out;
        let line = text.lines().find(|l| l.contains("yearly") && l.contains("2027-06-0"));
        assert!(line.is_some_and(|l| l.contains("inspection")), "{door:?}: {text}");
        // Of what no day can be foreseen that is said.
        assert!(text.contains("worn (not used of late)"), "{door:?}: {text}");
    }
    // Once it is made it is the first line, and what comes then the second.
    let ran = desk.run(&["--now", "2027-07-01", "assess", "A-1", "--json"]);
    let told: Value = serde_json::from_str(&ran.out).unwrap();
    let calls = told["next_call"].as_array().unwrap();
    assert_eq!((&calls[0]["rule"], &calls[0]["due_on"]), (&"yearly".into(), &"now".into()));
    assert_eq!((&calls[1]["rule"], &calls[1]["call"]), (&"span".into(), &"repair".into()));
    assert_eq!(calls[1]["due_on"], "2028-06-23", "{calls:?}");
}

#[test]
fn use_moves_the_next_call_with_the_days_around_it() {
    let desk = Desk::demo();
    let calls = next_of(&desk, &["assess", "K1-0556"]);
    assert_eq!(calls[0]["due_on"], "now", "{calls:?}");
    // What `due` foresees first of a joint is what the joint itself is told.
    let told = desk.run(&["due", "--within", "3650 days", "--json"]).json();
    let lines = told["due"].as_array().unwrap();
    let soon = lines.iter().filter(|l| l["serial"] == "K1-0556" && l["due_on"] != "now");
    let first = soon.min_by_key(|l| l["due_on"].as_str().unwrap().to_owned());
    match first {
        Some(first) => {
            for field in ["rule", "call", "due_on", "earliest", "latest"] {
                assert_eq!(calls[1][field], first[field], "{field}: {calls:?} {first}");
            }
        }
        None => assert_eq!(calls.len(), 1, "{calls:?}"),
    }
}

#[test]
fn where_no_rule_calls_that_is_said() {
    let desk = fit_joint();
    let none = "name = \"none\"\n[[rule]]\nname = \"never\"\ncall = \"retire\"\n\
                filter = \"serial = \\\"X\\\"\"\nreason = \"x\"\nsource = \"contract\"\n";
    desk.write("none.toml", none);
    desk.run(&["rules", "--use", "none.toml", "--from", "2026-06-01"]).ok();
    assert!(next_of(&desk, &["assess", "A-1"]).is_empty());
    let text = desk.run(&["assess", "A-1"]).out;
    assert!(text.contains("no call is foreseen within 10 years"), "{text}");
}

fn asked(told: &Value, what: &str) -> Value {
    let rows = told["demands"].as_array().unwrap_or_else(|| panic!("{told}"));
    rows.iter().find(|r| r["what"] == what).unwrap_or_else(|| panic!("{rows:?}")).clone()
}

fn says(told: &Value, text: &str) -> bool {
    told["reasons"].as_array().into_iter().flatten().any(|r| r["says"].to_string().contains(text))
}

#[test]
fn a_recorded_run_asks_what_the_book_knows_of_it_and_the_rest_is_said() {
    let desk = yard(1);
    runs(&desk, 1);
    inspect(&desk, "A-1", "2026-06-04", &[]);
    let told = answer(&desk, &["--run", "R1"]);
    assert_eq!(told.fit, "cannot be said", "{:?}", told.json["reasons"]);
    assert!(told.grounds.iter().all(|g| g == "demand_open"), "{:?}", told.grounds);
    let pull = asked(&told.json, "pull");
    assert!(pull["asked"]["value"].as_f64().unwrap() > 1.0, "{pull}");
    for what in ["torque", "hydrogen sulphide", "turns in casing"] {
        assert!(asked(&told.json, what)["asked"].is_null(), "{what}");
    }
    for says_of in ["hardest torque of R1", "hydrogen sulphide", "how deep its casing"] {
        assert!(says(&told.json, says_of), "{says_of}: {:?}", told.json["reasons"]);
    }
    // That there is no riser says nothing of casing.
    let entries = desk.run(&["entries", "--csv"]).ok();
    let of_run = entries.lines().find(|l| l.contains(",run,")).unwrap().split(',').next().unwrap();
    let riser =
        ["enter", "amend", &format!("entry={of_run}"), "riser_depth=0 ft", "reason=a land rig"];
    desk.run(&riser).ok();
    assert!(asked(&answer(&desk, &["--run", "R1"]).json, "turns in casing")["asked"].is_null());
    // What is said beside it, and what the entry is amended to say, closes them.
    let all = desk.run(&["entries", "--csv"]).ok();
    let run = all.lines().find(|l| l.contains(",run,")).unwrap().split(',').next().unwrap();
    let entry = format!("entry={run}");
    let amend = ["enter", "amend", &entry, "sour=no", "casing_depth=900 ft", "protectors=yes"];
    desk.run(&[&amend[..], &["reason=not in the file"]].concat()).ok();
    let torque = ["--run", "R1", "--torque", "10 kft-lb"];
    assert_eq!(answer(&desk, &torque).fit, "fit", "{:?}", answer(&desk, &torque).json["reasons"]);
    // The harder of what is said and what is recorded holds.
    let hard = [&torque[..], &["--pull", "900 klbf"]].concat();
    assert!(answer(&desk, &hard).grounds.contains(&"demand".to_owned()));
    assert_eq!(answer(&desk, &[&torque[..], &["--pull", "1 lbf"]].concat()).fit, "fit");
    desk.run(&["enter", "amend", &entry, "sour=yes", "reason=it was met"]).ok();
    assert!(says(&answer(&desk, &torque).json, "hydrogen sulphide: G-105"));
}

#[test]
fn what_happened_in_a_run_is_asked_too() {
    let desk = yard(1);
    runs(&desk, 1);
    inspect(&desk, "A-1", "2026-06-04", &[]);
    let event = ["enter", "event", "serial=A-1", "what=overpull", "date=2026-06-01T12:00:00Z"];
    desk.run(&[&event[..], &["run=R1", "pull=900 klbf", "torque=70 kft-lb"]].concat()).ok();
    let told = answer(&desk, &["--run", "R1"]).json;
    assert!((asked(&told, "pull")["asked"]["value"].as_f64().unwrap() - 900.0).abs() < 0.5);
    assert!(
        says(&told, "900 klbf asked") || says(&told, "900.0 klbf asked"),
        "{}",
        told["reasons"]
    );
    assert!(!says(&told, "hardest torque of R1"), "{}", told["reasons"]);
    let said = desk.run(&["assess", "A-1", "--run", "R9"]).fails(2);
    assert!(said.contains("no run R9"), "{said}");
    let said = desk
        .run(&[
            "assess",
            "--size",
            "5 in 19.50 lb/ft",
            "--grade",
            "G-105",
            "wall=0.35 in",
            "--run",
            "R1",
        ])
        .out;
    assert!(said.contains("asked by R1"), "{said}");
}
