//! Entries that a forger hashed and linked rightly, with figures and words at the edge of what can
//! be written: taken in or refused, and never a panic or a book that does not prove.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use pipelore::ledger::{ENCODING, Hash, Linked, RawEntry, canonical_json};
use pipelore::model::Body;
use pipelore::store::{BundleIn, StoreError};
use serde_json::Value;

use super::support::{Chance, soak};
use crate::histories::bundle;
use crate::world::World;
use crate::world::first_fault;

/// Texts and numbers that have broken programs.
const WORDS: [&str; 12] = [
    "",
    "-",
    "\u{1b}[2J",
    "\u{202e}abc",
    "../../etc/passwd",
    "=1+1",
    "1e999 m",
    "-1 m",
    "99999999999999999999 m",
    "0 m",
    "1/0 in",
    "9999-12-31",
];
const NUMBERS: [i64; 8] =
    [0, 1, -1, i64::MAX, i64::MIN, 4_294_967_295, 1_000_000_000_000_000_000, 86_400_000];

/// All leaves of a value, by path.
fn leaves(value: &Value, path: &str, out: &mut Vec<String>) {
    match value {
        Value::Array(items) => {
            items.iter().enumerate().for_each(|(i, v)| leaves(v, &format!("{path}/{i}"), out));
        }
        Value::Object(members) => {
            members.iter().for_each(|(k, v)| leaves(v, &format!("{path}/{k}"), out));
        }
        _ => out.push(path.to_owned()),
    }
}

fn twist(value: &mut Value, chance: &mut Chance) {
    let mut paths = Vec::new();
    leaves(value, "", &mut paths);
    let Some(path) = paths.get(chance.pick(paths.len())) else { return };
    let Some(leaf) = value.pointer_mut(path) else { return };
    *leaf = match leaf {
        Value::Number(_) => NUMBERS[chance.pick(8)].into(),
        Value::String(s) => {
            let word = WORDS[chance.pick(12)];
            // Half of them a quantity of its own unit, far out.
            match (chance.below(3), s.rsplit_once(' ')) {
                (0, Some((_, unit))) => format!("{} {unit}", NUMBERS[chance.pick(8)]).into(),
                (1, Some((_, unit))) => format!("{} {unit}", chance.below(100_000)).into(),
                _ => word.into(),
            }
        }
        Value::Bool(b) => (!*b).into(),
        _ => Value::Null,
    };
}

#[test]
fn entries_at_the_edge_are_taken_in_or_refused() {
    let mut chance = Chance::new("hostile entries");
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/corpus/fuzz/entry");
    let mut seeds: Vec<(String, Value)> = fs::read_dir(dir)
        .unwrap()
        .filter_map(|f| {
            let text = fs::read_to_string(f.unwrap().path()).unwrap();
            let (kind, body) = text.split_once('\n')?;
            Some((kind.to_owned(), serde_json::from_str(body).ok()?))
        })
        .filter(|(kind, _)| !["epoch", "arrival"].contains(&kind.as_str()))
        .collect();
    seeds.sort_by(|a, b| a.0.cmp(&b.0));
    let world = World::new();
    let mut counts = BTreeMap::<&str, usize>::new();
    for round in 0..60 * soak() {
        let mut book = world.book_of(&format!("{round}.pipelore"), "reader");
        let (mut prev, mut number) = (Hash::NONE, 0u64);
        let mut scratch = Vec::new();
        let mut try_in = |kind: &str, body: &str, counts: &mut BTreeMap<&str, usize>| {
            let raw = RawEntry {
                site: "yard".to_owned(),
                epoch: 1,
                number: number + 1,
                kind: kind.to_owned(),
                effective: "2025-02-06".to_owned(),
                recorded_ms: 1_740_000_000_000,
                recorded_offset: 60,
                author: "\u{1b}]0;forger\u{7}".to_owned(),
                program: "pipelore 0.1.0".to_owned(),
                evidence: None,
                body: body.to_owned(),
                encoding: ENCODING,
            };
            let hash = Hash::of_entry(&prev, &raw, &mut scratch);
            let text = bundle(&[&[Linked { raw, prev, hash }]]);
            match book.read_bundle(&mut text.as_bytes(), &BundleIn::default(), &world.stamp()) {
                Ok(_) => {
                    (prev, number) = (hash, number + 1);
                    *counts.entry("taken in").or_default() += 1;
                }
                Err(StoreError::Bundle(_)) => *counts.entry("refused").or_default() += 1,
                Err(e) => panic!("{kind}: {e}\n{body}"),
            }
            number
        };
        try_in("epoch", r#"{"site":"yard","units":"us"}"#, &mut counts);
        let mut tried = Vec::new();
        for step in 0..60 {
            // A few joints that the others may name, then whatever comes.
            let at = if step < 4 {
                seeds.iter().position(|s| s.0 == "joint").unwrap()
            } else {
                chance.pick(seeds.len())
            };
            let (kind, mut body) = seeds[at].clone();
            let joint = format!("yard-{}", 2 + chance.below(4));
            retarget(&mut body, &joint, &format!("yard-{}", 2 + chance.below(50)));
            for _ in 0..chance.below(3) {
                twist(&mut body, &mut chance);
            }
            let canonical = canonical_json(&body).unwrap();
            // What does not decode is refused at once; that is another test's.
            if Body::from_json(&kind, &canonical).is_ok() {
                try_in(&kind, &canonical, &mut counts);
                tried.push(format!("{kind} {canonical}"));
            }
        }
        let verified = book.verify(None, None).unwrap();
        if let Some(fault) = first_fault(&verified) {
            panic!("round {round}: {fault}\n{}", tried.join("\n"));
        }
    }
    println!("hostile entries: {counts:?}");
}

/// Names of joints and entries become ones of this chain.
fn retarget(value: &mut Value, joint: &str, entry: &str) {
    match value {
        Value::String(s) => {
            if let Some((serial, _)) = s.rsplit_once('@') {
                *s = format!("{serial}@{joint}");
            } else if s.parse::<pipelore::model::EntryId>().is_ok() {
                entry.clone_into(s);
            }
        }
        Value::Array(items) => items.iter_mut().for_each(|v| retarget(v, joint, entry)),
        Value::Object(members) => members.values_mut().for_each(|v| retarget(v, joint, entry)),
        _ => {}
    }
}
