//! Open data sets, where they are at hand.

use std::io::Write as _;
use std::path::PathBuf;

/// A folder of the open data sets that `PIPELORE_OPEN_DATA` names, or of the material beside them.
/// Where it is not at hand the test that asks says so.
pub fn folder(name: &str) -> Option<PathBuf> {
    let root = std::env::var_os("PIPELORE_OPEN_DATA").filter(|root| !root.is_empty());
    let found = root.map(|root| PathBuf::from(root).join(name)).filter(|folder| folder.is_dir());
    if found.is_none() {
        say_skipped(&format!("PIPELORE_OPEN_DATA has no folder '{name}'"));
    }
    found
}

/// Says that a test was skipped, past the harness, which keeps what a test prints to itself when it
/// passes.
pub fn say_skipped(why: &str) {
    let test = std::thread::current();
    let line = format!("skipped {}: {why}\n", test.name().unwrap_or("a test"));
    std::io::stderr().write_all(line.as_bytes()).unwrap();
}
