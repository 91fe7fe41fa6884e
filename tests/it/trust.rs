//! Keys of sites as entries: once a key is told, what comes of its site needs its seal, at first
//! hand and passed on.

use std::fs;
use std::path::{Path, PathBuf};

use crate::faults::support::{answer, pipelore};
use crate::world::World;

struct Sites(World);

impl Sites {
    /// A book with an entry of its own, and a key to seal with.
    fn site(&self, name: &str, site: &str) -> PathBuf {
        let path = self.0.path(name);
        let book = self.0.book_of(name, site);
        book.close().unwrap();
        done(&path, &["seal", "key", &format!("{name}.key"), "--holder", "the office"]);
        path
    }
}

fn done(book: &Path, args: &[&str]) -> String {
    let out = pipelore(book, args);
    let (code, said) = answer(&out);
    assert_eq!(code, 0, "{args:?}: {said}");
    String::from_utf8_lossy(&out.stdout).into_owned()
}

fn refused(book: &Path, args: &[&str]) -> String {
    let (code, said) = answer(&pipelore(book, args));
    assert_eq!(code, 3, "{args:?}: {said}");
    said
}

fn write(book: &Path, text: &str) {
    done(book, &["enter", "note", &format!("text={text}")]);
}

#[test]
fn a_site_whose_key_is_entered_is_heard_under_its_seal_alone() {
    let sites = Sites(World::new());
    let (yard, rig) = (sites.site("yard", "yard"), sites.site("rig", "rig"));
    let third = sites.site("third", "third");
    write(&rig, "one");
    done(&rig, &["bundle", "out", "open.jsonl"]);
    done(&yard, &["seal", "trust", "rig.key.pub", "--reason", "handed over"]);
    assert!(done(&yard, &["seal", "keys"]).contains("the office"));
    let said = refused(&yard, &["bundle", "in", "open.jsonl"]);
    assert!(said.contains("without the seal of its site") && said.contains("yard-3"), "{said}");
    // Another that calls itself by the name of the rig, with a key of its own.
    let false_rig = sites.site("false", "rig");
    write(&false_rig, "a lie");
    done(&false_rig, &["bundle", "out", "false.jsonl", "--seal", "false.key"]);
    assert!(refused(&yard, &["bundle", "in", "false.jsonl"]).contains("without the seal"));
    done(&rig, &["bundle", "out", "sealed.jsonl", "--seal", "rig.key"]);
    done(&yard, &["bundle", "in", "sealed.jsonl"]);
    // Passed on it is still the rig's seal.
    done(&yard, &["bundle", "out", "on.jsonl", "--all-sites"]);
    done(&third, &["seal", "trust", "rig.key.pub", "--reason", "known to the yard"]);
    done(&third, &["bundle", "in", "on.jsonl"]);
    assert!(done(&third, &["entries", "--json"]).contains("\"one\""));
    // A sound book says what it proves, and what only a head kept elsewhere can.
    let verified = done(&third, &["verify"]);
    assert!(verified.contains("only a head kept elsewhere"), "{verified}");
    // With the time in it altered the seal does not hold.
    let text = fs::read_to_string(sites.0.path("sealed.jsonl")).unwrap();
    assert!(text.contains("\"at\":\"2"), "{text}");
    // Withdrawn, the key is asked for no more.
    write(&rig, "two");
    done(&rig, &["bundle", "out", "more.jsonl"]);
    refused(&yard, &["bundle", "in", "more.jsonl"]);
    done(&yard, &["seal", "trust", "rig.key.pub", "--withdraw", "--reason", "lost"]);
    done(&yard, &["bundle", "in", "more.jsonl"]);
}

#[test]
fn a_site_that_tells_its_own_key_is_held_to_it() {
    let sites = Sites(World::new());
    let (yard, rig) = (sites.site("yard", "yard"), sites.site("rig", "rig"));
    done(&rig, &["seal", "trust", "rig.key.pub", "--reason", "our own"]);
    done(&rig, &["bundle", "out", "open.jsonl"]);
    refused(&yard, &["bundle", "in", "open.jsonl"]);
    done(&rig, &["bundle", "out", "sealed.jsonl", "--seal", "rig.key"]);
    done(&yard, &["bundle", "in", "sealed.jsonl"]);
    write(&rig, "one");
    done(&rig, &["bundle", "out", "open2.jsonl"]);
    refused(&yard, &["bundle", "in", "open2.jsonl"]);
}

#[test]
fn what_a_stranger_wrote_under_a_sites_name_is_set_aside_by_decision() {
    let sites = Sites(World::new());
    let (yard, rig) = (sites.site("yard", "yard"), sites.site("rig", "rig"));
    write(&rig, "one");
    done(&rig, &["bundle", "out", "one.jsonl"]);
    done(&yard, &["bundle", "in", "one.jsonl"]);
    // A copy of the rig's book goes on in other hands.
    fs::copy(&rig, sites.0.path("copy")).unwrap();
    let copy = sites.0.path("copy");
    done(&copy, &["verify", "--note-head"]);
    write(&copy, "a lie");
    done(&copy, &["bundle", "out", "lie.jsonl"]);
    done(&yard, &["bundle", "in", "lie.jsonl"]);
    write(&rig, "two");
    done(&rig, &["bundle", "out", "two.jsonl"]);
    let said = refused(&yard, &["bundle", "in", "two.jsonl"]);
    assert!(said.contains("rig-4 differs"), "{said}");
    let path = yard.display().to_string();
    let salvage = ["salvage", &path, "-o", "new", "--set-aside", "rig-4", "--reason", "a thief"];
    done(&yard, &salvage);
    let new = sites.0.path("new");
    assert!(!done(&new, &["entries", "--json"]).contains("a lie"));
    done(&new, &["bundle", "in", "two.jsonl"]);
    let entries = done(&new, &["entries", "--json"]);
    assert!(entries.contains("\"two\"") && entries.contains("rig-4 and what follows it"));
    done(&new, &["verify"]);
}

#[test]
fn what_may_never_end_is_no_file() {
    let sites = Sites(World::new());
    let yard = sites.site("yard", "yard");
    for args in [
        &["rules", "--use", "/dev/zero"][..],
        &["edition", "--use", "/dev/zero"],
        &["limits", "--use", "/dev/zero"],
        &["seal", "check", "/dev/zero"],
        &["seal", "trust", "/dev/zero", "--reason", "x"],
        &["load", "/dev/zero"],
        &["bundle", "in", "/dev/zero"],
    ] {
        let said = refused(&yard, args);
        assert!(said.contains("no plain file"), "{args:?}: {said}");
    }
}

#[test]
fn a_name_that_reads_as_an_address_is_a_name() {
    let sites = Sites(World::new());
    let yard = sites.site("yard", "yard");
    done(&yard, &["new", "file:x.pipelore", "--site", "other"]);
    done(&yard, &["--book", "file:x.pipelore", "verify"]);
}

#[test]
fn of_a_fork_both_tails_are_kept_one_of_them_taken_in_again() {
    let sites = Sites(World::new());
    let (yard, rig) = (sites.site("yard", "yard"), sites.site("rig", "rig"));
    write(&yard, "common");
    // A copy put back by hand goes on beside the book that had sent its own tail already.
    fs::copy(&yard, sites.0.path("copy")).unwrap();
    let copy = sites.0.path("copy");
    write(&yard, "the tail that was sent");
    done(&yard, &["bundle", "out", "sent.jsonl"]);
    done(&rig, &["bundle", "in", "sent.jsonl"]);
    done(&copy, &["verify", "--note-head"]);
    let joint = ["serial=A-9", "component=drill pipe", "new=yes", "date=2026-01-05"];
    let sized =
        ["od=5 in", "wall=0.362 in", "weight=19.50 lb/ft", "grade=G-105", "connection=NC50"];
    done(&copy, &[&["enter", "joint"][..], &joint, &sized].concat());
    done(&copy, &["enter", "event", "serial=A-9", "date=2026-02-01", "event=drop"]);
    done(&copy, &["bundle", "out", "other.jsonl"]);
    assert!(refused(&rig, &["bundle", "in", "other.jsonl"]).contains("yard-4 differs"));
    let path = copy.display().to_string();
    let said = done(
        &copy,
        &["salvage", &path, "-o", "both", "--set-aside", "yard-4", "--take-again", "--reason", "x"],
    );
    assert!(said.contains("yard-4 is yard/2-2") && said.contains("yard-5 is yard/2-3"), "{said}");
    let both = sites.0.path("both");
    done(&both, &["bundle", "in", "sent.jsonl"]);
    let entries = done(&both, &["entries", "--json"]);
    assert!(entries.contains("the tail that was sent"), "{entries}");
    let trace = done(&both, &["trace", "A-9"]);
    assert!(trace.contains("first written as yard-5 by tester"), "{trace}");
    done(&both, &["bundle", "out", "both.jsonl"]);
    done(&rig, &["bundle", "in", "both.jsonl"]);
    assert!(done(&rig, &["trace", "A-9"]).contains("first written as yard-5"));
    done(&both, &["verify"]);
    done(&rig, &["verify"]);
}

#[test]
fn what_names_a_fact_that_was_set_aside_is_told() {
    let sites = Sites(World::new());
    let (yard, rig) = (sites.site("yard", "yard"), sites.site("rig", "rig"));
    write(&rig, "a lie");
    done(&rig, &["bundle", "out", "rig.jsonl"]);
    done(&yard, &["bundle", "in", "rig.jsonl"]);
    done(&yard, &["enter", "note", "about=rig-3", "text=seen"]);
    let path = yard.display().to_string();
    let said = done(
        &yard,
        &["salvage", &path, "-o", "new", "--set-aside", "rig-3", "--reason", "no such rig"],
    );
    assert!(said.contains("name what was set aside") && said.contains("yard-4"), "{said}");
}
