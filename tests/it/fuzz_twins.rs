//! Every fuzz target over its corpus, and over mutations of it, in the ordinary run.

#[path = "../fuzz/src/lib.rs"]
mod targets;

use std::fs;
use std::path::Path;

use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};

use crate::histories::soak;

type Target = fn(&[u8]);

const TARGETS: [(&str, Target); 5] = [
    ("entry", targets::entry),
    ("bundle", targets::bundle),
    ("histogram", targets::histogram),
    ("reader", targets::reader),
    ("filter", targets::filter),
];

fn corpus(target: &str) -> Vec<(String, Vec<u8>)> {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/corpus/fuzz").join(target);
    let mut out: Vec<_> = fs::read_dir(&dir)
        .unwrap_or_else(|e| panic!("{}: {e}", dir.display()))
        .map(|f| f.unwrap().path())
        .map(|p| (p.file_name().unwrap().to_string_lossy().into_owned(), fs::read(&p).unwrap()))
        .collect();
    out.sort();
    out
}

/// A change of some bytes: positions are parts of the length.
#[derive(Clone, Debug)]
enum Change {
    Flip(prop::sample::Index, u8),
    Cut(prop::sample::Index, u8),
    Put(prop::sample::Index, Vec<u8>),
    Double(prop::sample::Index, u8),
    Number(prop::sample::Index, i64),
}

fn change() -> impl Strategy<Value = Change> {
    let at = any::<prop::sample::Index>;
    let edge = prop_oneof![
        Just(0i64),
        Just(-1),
        Just(i64::MAX),
        Just(i64::MIN),
        Just(4_294_967_295),
        any::<i64>(),
    ];
    prop_oneof![
        (at(), any::<u8>()).prop_map(|(a, b)| Change::Flip(a, b)),
        (at(), any::<u8>()).prop_map(|(a, n)| Change::Cut(a, n)),
        (at(), prop::collection::vec(any::<u8>(), 1..8)).prop_map(|(a, v)| Change::Put(a, v)),
        (at(), any::<u8>()).prop_map(|(a, n)| Change::Double(a, n)),
        (at(), edge).prop_map(|(a, n)| Change::Number(a, n)),
    ]
}

fn mutate(bytes: &mut Vec<u8>, change: &Change) {
    if bytes.is_empty() {
        return;
    }
    let length = bytes.len();
    match change {
        Change::Flip(at, mask) => bytes[at.index(length)] ^= mask,
        Change::Cut(at, n) => {
            let from = at.index(length);
            bytes.drain(from..(from + usize::from(*n)).min(length));
        }
        Change::Put(at, more) => {
            let at = at.index(length);
            bytes.splice(at..at, more.iter().copied());
        }
        Change::Double(at, n) => {
            let from = at.index(length);
            let part = bytes[from..(from + usize::from(*n)).min(length)].to_vec();
            bytes.splice(from..from, part);
        }
        Change::Number(at, n) => {
            // The next run of digits becomes another number.
            let from = at.index(length);
            let digit = |b: &u8| b.is_ascii_digit();
            let Some(begin) = bytes[from..].iter().position(digit) else { return };
            let begin = from + begin;
            let end = begin + bytes[begin..].iter().take_while(|b| digit(b)).count();
            bytes.splice(begin..end, n.to_string().into_bytes());
        }
    }
}

#[test]
fn every_corpus_is_run_through_its_target() {
    for (name, target) in TARGETS {
        let files = corpus(name);
        assert!(!files.is_empty(), "{name} has no corpus");
        for (_, bytes) in &files {
            target(bytes);
        }
        println!("fuzz corpus of {name}: {} files", files.len());
    }
}

#[test]
fn mutations_of_the_corpus_keep_the_laws() {
    for (name, target) in TARGETS {
        let files = corpus(name);
        let cases = 1_500 * soak();
        let config = Config { cases, failure_persistence: None, ..Config::default() };
        let strategy = (prop::sample::select(files), prop::collection::vec(change(), 1..6));
        TestRunner::new(config)
            .run(&strategy, |((_, bytes), changes)| {
                let mut bytes = bytes;
                changes.iter().for_each(|c| mutate(&mut bytes, c));
                target(&bytes);
                Ok(())
            })
            .unwrap_or_else(|e| panic!("{name}: {e}"));
        println!("mutations of {name}: {cases}");
    }
}

/// The fuzz crate names every target, and every target has its corpus and its twin here.
#[test]
fn every_target_is_built_and_has_a_twin() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let manifest = fs::read_to_string(root.join("tests/fuzz/Cargo.toml")).unwrap();
    for file in fs::read_dir(root.join("tests/fuzz/fuzz_targets")).unwrap() {
        let file = file.unwrap().file_name().into_string().unwrap();
        let name = file.strip_suffix(".rs").unwrap();
        assert!(manifest.contains(&format!("fuzz_targets/{file}")), "{file} is never built");
        let known = TARGETS.iter().any(|(n, _)| *n == name);
        assert!(known || root.join("tests/corpus/fuzz").join(name).is_dir(), "{name} has no twin");
    }
}
