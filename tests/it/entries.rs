//! `entries`: what the ledger holds, against the bundle of the same book.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use super::cli::Desk;

fn entries(desk: &Desk, more: &[&str]) -> Vec<Value> {
    let words: Vec<&str> = ["entries", "--json"].iter().chain(more).copied().collect();
    let answer: Value = serde_json::from_str(&desk.run(&words).ok()).unwrap();
    answer["entries"].as_array().unwrap().clone()
}

fn names(entries: &[Value]) -> Vec<&str> {
    entries.iter().map(|e| e["entry"].as_str().unwrap()).collect()
}

#[test]
fn entries_are_those_that_a_bundle_carries() {
    let desk = Desk::demo_copy();
    desk.run(&["strike", "yard-132", "--reason", "wrong joint"]).ok();
    desk.run(&["bundle", "out", "all.jsonl", "--all-sites"]).ok();
    let bundle = std::fs::read_to_string(desk.path("all.jsonl")).unwrap();
    let sent: BTreeMap<String, Value> = bundle
        .lines()
        .map(|line| serde_json::from_str::<Value>(line).unwrap())
        .filter_map(|line| Some((line.get("entry")?.as_str()?.to_owned(), line)))
        .collect();
    let told = entries(&desk, &[]);
    assert!(told.len() > 100);
    assert_eq!(told.len(), sent.len());
    for entry in &told {
        let line = &sent[entry["entry"].as_str().unwrap()];
        for member in ["kind", "author", "program", "encoding", "body", "prev", "hash"] {
            assert_eq!(entry[member], line[member], "{member} of {}", line["entry"]);
        }
        assert_eq!(entry["when"], line["effective"]);
        // An absent member of a bundle reads as null.
        assert_eq!(entry["evidence"], line["evidence"]);
        let recorded = chrono::DateTime::parse_from_rfc3339(entry["recorded"].as_str().unwrap());
        let recorded = recorded.unwrap();
        assert_eq!(json!(recorded.timestamp_millis()), line["recorded_ms"]);
        assert_eq!(json!(recorded.offset().local_minus_utc() / 60), line["recorded_offset"]);
    }
}

#[test]
fn a_struck_entry_names_the_entry_by_which_it_fell() {
    let desk = Desk::with_book();
    desk.write(
        "joints.csv",
        "Serial,Component,New,OD [in],Received\nA-01,drill pipe,yes,5,2026-01-05\n",
    );
    desk.run(&["load", "joints.csv"]).ok();
    desk.run(&["enter", "note", "serial=A-01", "date=2026-02-01", "text=painted"]).ok();
    let note = names(&entries(&desk, &["--kind", "note"]))[0].to_owned();
    desk.run(&["strike", &note, "--reason", "of another joint"]).ok();
    let told = entries(&desk, &["--since", &note]);
    assert_eq!(told.len(), 1, "{told:?}");
    assert_eq!((&told[0]["kind"], &told[0]["about"]), (&json!("strike"), &json!(note)));
    let struck = &entries(&desk, &["--kind", "notes"])[0];
    assert_eq!(struck["struck"], "struck");
    assert_eq!(struck["struck_by"], told[0]["entry"]);
    assert_eq!(struck["about"], "A-01");

    // A line each, and nothing of the body.
    let text = desk.run(&["entries", "--kind", "note"]).ok();
    let line = text.lines().find(|l| l.starts_with(&note)).unwrap();
    for part in ["2026-02-01", "note", "A-01", "tester", told[0]["entry"].as_str().unwrap()] {
        assert!(line.contains(part), "{part} in {line}");
    }
    assert!(!text.contains("painted"), "{text}");
}

#[test]
fn strange_kinds_and_entries_are_errors() {
    let desk = Desk::with_book();
    for (words, says) in [
        (&["entries", "--kind", "inspektion"][..], "did you mean inspection?"),
        (&["entries", "--since", "yard-99"], "yard-99"),
        (&["entries", "--since", "somewhere"], "site-number"),
        (&["entries", "--as-of", "2026-01-01"], "only as it is"),
    ] {
        let refused = desk.run(words);
        assert_eq!(refused.code, 2, "{words:?}");
        assert!(refused.err.contains(says), "{words:?}: {}", refused.err);
    }
}
