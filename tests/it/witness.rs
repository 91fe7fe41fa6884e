//! Filters against the second witness: an evaluator in another language that reads only entries
//! (`tests/witness`). Books and filters are made up from a seed; `PIPELORE_SOAK` asks so many times
//! more of them, `PIPELORE_SEED` begins with another seed.

use std::path::Path;
use std::process::Command;

use super::open_data::say_skipped;

/// A whole number that the environment may name.
fn number(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).ok().and_then(|n| n.parse().ok()).unwrap_or(otherwise)
}

#[test]
fn the_second_witness_agrees() {
    if !Command::new("python3").arg("--version").output().is_ok_and(|o| o.status.success()) {
        say_skipped("no python3 to run the second witness with");
        return;
    }
    let soak = number("PIPELORE_SOAK", 1);
    let (books, filters) = (3 * soak, 1000 * soak);
    let asked = Command::new("python3")
        .arg("-B")
        .arg(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/witness/witness.py"))
        .arg(env!("CARGO_BIN_EXE_pipelore"))
        .args(["--books", &books.to_string(), "--filters", &filters.to_string()])
        .args(["--seed", &number("PIPELORE_SEED", 1).to_string()])
        .output()
        .unwrap();
    let out = String::from_utf8_lossy(&asked.stdout);
    let err = String::from_utf8_lossy(&asked.stderr);
    assert!(asked.status.success(), "{out}{err}");
    assert_eq!(out.lines().filter(|l| l.starts_with("book of seed")).count() as u64, books);
}
