//! Filters as people write them who know other languages, or none: each is read, or its error points
//! at the place and its advice, followed to the letter, gives what was meant.

use std::sync::atomic::{AtomicUsize, Ordering};

use serde_json::Value;

use super::cli::Desk;

/// Lines of four: what was typed, the column of the caret, the advice (none where the message says
/// it all), what was meant. An advice
/// of `-` says that it is read as it stands; `2:` before it, that the second of its changes is meant.
const TABLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/it/wrong_spellings.tsv");

struct Line {
    wrong: String,
    column: u64,
    advice: String,
    which: usize,
    right: String,
}

fn lines() -> Vec<Line> {
    let read = |line: &str| {
        let parts: Vec<&str> = line.split('\t').collect();
        let [wrong, column, advice, right] = parts[..] else { panic!("{line}") };
        let (which, advice) = match advice.split_once(": ") {
            Some(("2", advice)) => (1, advice),
            _ => (0, advice),
        };
        let [wrong, advice, right] = [wrong, advice, right].map(str::to_owned);
        Line { wrong, column: column.parse().unwrap(), advice, which, right }
    };
    std::fs::read_to_string(TABLE).unwrap().lines().map(read).collect()
}

/// The serials that a filter finds, or its errors as fields.
fn ask(desk: &Desk, filter: &str) -> Result<Vec<String>, Vec<Value>> {
    let ran = desk.run(&["find", filter, "--show", "serial", "--json"]);
    if ran.code == 0 {
        let answer: Value = serde_json::from_str(&ran.out).unwrap();
        let serial = |j: &Value| j["serial"].as_str().unwrap().to_owned();
        return Ok(answer["joints"].as_array().unwrap().iter().map(serial).collect());
    }
    assert_eq!(ran.code, 2, "{filter}: {}", ran.err);
    let error: Value = serde_json::from_str(&ran.err).unwrap();
    Err(error["error"]["errors"].as_array().unwrap().clone())
}

/// The text with the advice of all its errors followed.
fn followed(text: &str, errors: &[Value], which: usize) -> Option<String> {
    let number = |v: &Value| usize::try_from(v.as_u64().unwrap()).unwrap();
    let mut fixes: Vec<(usize, usize, &str)> = errors
        .iter()
        .filter_map(|e| {
            let fixes = e["fixes"].as_array().unwrap();
            let fix = fixes.get(which).or(fixes.first())?;
            let start = number(&fix["column"]) - 1;
            Some((start, number(&fix["length"]), fix["text"].as_str().unwrap()))
        })
        .collect();
    fixes.sort_unstable_by(|a, b| b.cmp(a));
    let mut chars: Vec<char> = text.chars().collect();
    let mut upto = chars.len();
    for (start, length, text) in &fixes {
        if start + length <= upto {
            chars.splice(*start..start + length, text.chars());
            upto = *start;
        }
    }
    (!fixes.is_empty()).then(|| chars.into_iter().collect())
}

/// What is amiss with a line of the table, if anything is.
fn amiss(desk: &Desk, line: &Line) -> Option<String> {
    let Line { wrong, column, advice, which, right } = line;
    let Ok(meant) = ask(desk, right) else { return Some(format!("{right} is wrong itself")) };
    if meant.is_empty() {
        return Some(format!("{right} finds no joint"));
    }
    let mut text = wrong.clone();
    for round in 0..4 {
        let errors = match ask(desk, &text) {
            Ok(found) if found == meant => {
                let read = advice == "-";
                return (read != (round == 0)).then(|| format!("{wrong}: read at once, or not"));
            }
            Ok(found) => {
                return Some(format!(
                    "{wrong} became {text}: {} joints, not {}",
                    found.len(),
                    meant.len()
                ));
            }
            Err(errors) => errors,
        };
        let first = &errors[0];
        if round == 0
            && (first["column"] != *column || first["hint"].as_str().unwrap_or_default() != advice)
        {
            return Some(format!("{wrong}: {} {}", first["column"], first["hint"]));
        }
        match followed(&text, &errors, *which) {
            Some(next) => text = next,
            None => return Some(format!("{text}: no advice: {errors:?}")),
        }
    }
    Some(format!("{wrong}: never right, at last {text}"))
}

#[test]
fn advice_followed_to_the_letter_gives_what_was_meant() {
    let desk = Desk::demo();
    let lines = lines();
    let advised = lines.iter().filter(|l| l.advice != "-").count();
    assert!(advised >= 120, "{advised}");
    let next = AtomicUsize::new(0);
    let work = || {
        let mut out = Vec::new();
        while let Some(line) = lines.get(next.fetch_add(1, Ordering::Relaxed)) {
            out.extend(amiss(&desk, line));
        }
        out
    };
    let misses: Vec<String> = std::thread::scope(|s| {
        let both = [s.spawn(work), s.spawn(work)];
        both.into_iter().flat_map(|t| t.join().unwrap()).collect()
    });
    assert!(misses.is_empty(), "{}", misses.join("\n"));
}

#[test]
fn a_long_message_is_said_once() {
    let desk = Desk::demo().wide(80);
    let filter = "sum rotating_hours over runs (well = \"Tern Moor 3\") > 100 kg";
    let err = desk.run(&["find", filter]).fails(2);
    assert_eq!(err.matches("100 kg is a mass").count(), 1, "{err}");
    assert!(err.starts_with("error: ") && err.contains('^'), "{err}");
}

#[test]
fn errors_are_fields() {
    let desk = Desk::demo();
    let json = |words: &[&str], code: i32| -> Value {
        serde_json::from_str(&desk.run(words).fails(code)).unwrap()
    };
    let error = json(&["find", "class == prem and hours > 300", "--json"], 2);
    let first = &error["error"]["errors"][0];
    assert_eq!(error["error"]["kind"], "usage");
    assert_eq!((&first["column"], &first["length"]), (&7.into(), &2.into()));
    assert_eq!(first["fixes"][0]["corrected"], "class = prem and hours > 300");
    let error = json(&["find", "hours > 300", "--json"], 2);
    assert_eq!(error["error"]["errors"][0]["fixes"][0]["corrected"], "hours > 300 h");
    // Words of the command line, too.
    let error = json(&["find", "true", "--limt", "3", "--json"], 2);
    assert!(error["error"]["message"].as_str().unwrap().contains("--limt"), "{error}");
    let desk = Desk::with_book();
    desk.write("bad.csv", "Serial,Component,OD [in],Received\nA-1,drill pipe,wide,2026-01-05\n");
    let error: Value =
        serde_json::from_str(&desk.run(&["load", "bad.csv", "--json"]).fails(3)).unwrap();
    let place = &error["error"]["errors"][0];
    assert_eq!((&place["row"], &place["column"]), (&2.into(), &3.into()), "{error}");
}

#[test]
fn a_comma_inside_a_column_belongs_to_it() {
    let desk = Desk::demo();
    let columns = "serial,count inspections (covers in (wall, slip_cracks)),hours";
    let answer = desk.run(&["find", "serial = \"K1-0417\"", "--show", columns, "--json"]).json();
    let joint = &answer["joints"][0];
    assert!(
        joint["count inspections (covers in (wall, slip_cracks))"].as_f64() > Some(0.0),
        "{joint}"
    );
    assert!(joint["hours"]["value"].as_f64() > Some(0.0), "{joint}");
}

#[test]
fn classes_have_an_order() {
    let desk = Desk::demo();
    let found = |filter: &str| ask(&desk, filter).unwrap_or_else(|e| panic!("{filter}: {e:?}"));
    for (ranked, listed) in [
        ("class worse than premium", "class in (class_2, class_3, scrap)"),
        ("class not worse than class_2", "class in (critical, premium, class_2)"),
        ("class better than \"Class 2\"", "class in (critical, premium)"),
        ("class worse than scrap", "false"),
        (
            "any inspection (class worse than class_before)",
            "any inspection (class_before = premium and class in (class_2, class_3, scrap) or class_before = critical and class in (premium, class_2, class_3, scrap) or class_before = class_2 and class in (class_3, scrap) or class_before = class_3 and class = scrap)",
        ),
    ] {
        assert_eq!(found(ranked), found(listed), "{ranked}");
    }
    assert!(!found("class worse than premium").is_empty());
    // A class that nobody knows is on neither side.
    let sides = desk
        .run(&["find", "class worse than premium or class not worse than premium", "--json"])
        .json();
    let unknown = found("class is unknown").len();
    assert_eq!(sides["undecided"], unknown);
    assert!(unknown > 0);
    // The evaluator behind `why` says the same as SQL, class by class.
    for serial in found("class in (premium, class_2, scrap)").iter().step_by(9) {
        let worse = found("class worse than premium").contains(serial);
        let why = desk.run(&["why", serial, "class worse than premium", "--json"]).json();
        assert_eq!(why["question"]["answer"], if worse { "yes" } else { "no" }, "{serial}");
    }
    let errors = ask(&desk, "hours worse than 5 h").unwrap_err();
    assert!(errors[0]["message"].as_str().unwrap().contains("only classes"), "{errors:?}");
}

#[test]
fn why_closes_its_parentheses() {
    let desk = Desk::demo();
    let why = desk.run(&["why", "K1-0418", "kin of \"K1-0417\" by (heat, neighbour)"]).ok();
    assert!(why.contains("by (heat, neighbour)"), "{why}");
}
