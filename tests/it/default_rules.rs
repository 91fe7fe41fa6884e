//! Every rule that ships, in by files as a yard would write them and out by `due` and `find`, in the
//! spellings of three yards: one joint on which the rule speaks, and one just short of it. The files
//! stand in `tests/rules/`; where the yards spell a word differently they say `{one|other|third}`.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

use super::cli::Desk;
use super::world::rules;

const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/rules");

/// The files in the order in which they came to the yard.
const FILES: [&str; 34] = [
    "joints.csv",
    "survey.csv",
    "survey-sharp.csv",
    "instruments.csv",
    "inspection-2025-05.csv",
    "inspection-2025-09.csv",
    "inspection-doubtful.csv",
    "long.toml",
    "short.toml",
    "deep-1.toml",
    "deep-2.toml",
    "deep-3.toml",
    "heavy.toml",
    "heavy-less.toml",
    "collars.toml",
    "collars-less.toml",
    "bend.toml",
    "easy.toml",
    "bushing.toml",
    "bushing-good.toml",
    "cased.toml",
    "protected.toml",
    "sour.toml",
    "sour-before.toml",
    "makeups.csv",
    "checks.csv",
    "events.csv",
    "decisions.csv",
    "hire-out.csv",
    "hire-in.csv",
    "failures.csv",
    "moves.csv",
    "moves-again.csv",
    "inspection-2026-04.csv",
];

/// A text in the spelling of one yard.
fn spelled(text: &str, yard: usize) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, behind)) = rest.split_once('{') {
        let (words, after) = behind.split_once('}').unwrap();
        out += before;
        out += words.split('|').nth(yard).unwrap();
        rest = after;
    }
    out + rest
}

/// The book of one yard.
fn yard(yard: usize) -> Desk {
    let desk = Desk::with_book();
    for file in fs::read_dir(FOLDER).unwrap() {
        let path = file.unwrap().path();
        let name = path.file_name().and_then(|n| n.to_str()).unwrap();
        desk.write(name, spelled(&fs::read_to_string(&path).unwrap(), yard));
    }
    for file in FILES {
        // Two places at once are kept, for somebody to settle.
        desk.run(&["load", file, "--keep-conflicts", "--insist=it is so"]).ok();
    }
    desk
}

/// Joints on which each rule speaks, as `due` lists them.
fn due(desk: &Desk) -> BTreeMap<String, BTreeSet<String>> {
    let json = desk.run(&["due", "--json"]).json();
    let mut out: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for line in json["due"].as_array().unwrap() {
        let text = |key: &str| line[key].as_str().unwrap_or_default().to_owned();
        let rules = format!("{}, {}", text("rule"), text("also"));
        for rule in rules.split(", ").filter(|rule| !rule.is_empty()) {
            out.entry(rule.to_owned()).or_default().insert(text("serial"));
        }
    }
    out
}

/// The rules, each with the stem of its joints' serials.
fn cases() -> Vec<(String, String)> {
    let text = fs::read_to_string(Path::new(FOLDER).join("cases.csv")).unwrap();
    let case = |line: &str| line.split_once(',').map(|(r, j)| (r.to_owned(), j.to_owned()));
    text.lines().skip(1).map(|line| case(line).unwrap()).collect()
}

fn each_rule_speaks_where_it_should(n: usize) {
    let desk = yard(n);
    let due = due(&desk);
    let none = BTreeSet::new();
    let mut wrong = Vec::new();
    for (rule, stem) in cases() {
        let called = due.get(&rule).unwrap_or(&none);
        let (yes, no) = (format!("{stem}-1"), format!("{stem}-0"));
        if !called.contains(&yes) || called.contains(&no) {
            wrong.push(format!("{rule}: {called:?}"));
        }
    }
    assert!(wrong.is_empty(), "yard {n}: {wrong:#?}");
    // On a joint that ran a little, and was looked at before, none speaks.
    let sound: Vec<_> = due.iter().filter(|(_, joints)| joints.contains("SND-1")).collect();
    assert!(sound.is_empty(), "yard {n}: {sound:?}");
    desk.run(&["verify"]).ok();
}

#[test]
fn every_rule_speaks_in_the_first_yard() {
    each_rule_speaks_where_it_should(0);
}

#[test]
fn every_rule_speaks_in_the_second_yard() {
    each_rule_speaks_where_it_should(1);
}

#[test]
fn every_rule_speaks_in_the_third_yard() {
    each_rule_speaks_where_it_should(2);
}

#[test]
fn every_rule_has_its_joints() {
    let tried: BTreeSet<String> = cases().into_iter().map(|(rule, _)| rule).collect();
    let shipped: BTreeSet<String> = rules().rules.into_iter().map(|rule| rule.name).collect();
    assert_eq!(tried, shipped);
}

#[test]
fn find_and_due_agree_and_a_missing_reading_decides_nothing() {
    let desk = yard(0);
    let due = due(&desk);
    for rule in rules().rules {
        let found: BTreeSet<String> = desk.joints(&rule.name).yes.into_iter().collect();
        // `find` asks a rule by its condition alone; `due` for the joints that it is for.
        let called = due.get(&rule.name).cloned().unwrap_or_default();
        assert!(called.is_subset(&found), "{}: {called:?} of {found:?}", rule.name);
    }
    // Never looked at, and with a life before the book.
    let open = desk.run(&["due", "--undecided", "--json"]).json();
    let open: BTreeSet<(&str, &str)> = open["undecided"]
        .as_array()
        .unwrap()
        .iter()
        .map(|line| (line["rule"].as_str().unwrap(), line["serial"].as_str().unwrap()))
        .collect();
    for (rule, serial) in [
        ("wall_below_premium", "MIS-1"),
        ("box_od_below_premium_g105", "MIS-1"),
        ("pin_stretched", "MIS-1"),
        ("pin_tong_short", "MIS-1"),
        ("hardband_worn", "MIS-1"),
        ("scrap_class", "MIS-1"),
        ("hours_since_wall", "USD-1"),
    ] {
        assert!(open.contains(&(rule, serial)), "{rule} {serial}: {open:?}");
        assert!(due.get(rule).is_none_or(|called| !called.contains(serial)), "{rule} {serial}");
    }
}

#[test]
fn every_rule_has_its_source_and_says_what_it_stands_on() {
    let set = rules();
    for rule in &set.rules {
        let practice = rule.provenance == pipelore::model::Provenance::CommonPractice;
        // What has no source says so in words.
        assert!(
            !practice || rule.source.contains("common practice") || rule.source.contains("finding"),
            "{}: {}",
            rule.name,
            rule.source
        );
        assert!(rule.reason.chars().next().is_some_and(char::is_lowercase), "{}", rule.name);
    }
}
