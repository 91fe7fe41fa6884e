//! What was lost in the middle of a chain: what follows is proven from an end that is trusted, the
//! lost comes back from another site, and nothing of it is passed over in silence.

use std::fs;
use std::path::{Path, PathBuf};

use super::support::{answer, copy_book, pipelore, with_suffix};
use crate::world::{World, draft, inspection, small_fleet};

/// The yard's book, and the rig's, which holds all that the yard wrote.
struct Sites {
    world: World,
    yard: PathBuf,
    rig: PathBuf,
}

/// Wall of the reading whose entry is damaged.
const LOST: &str = "0.307 in";

fn sites() -> Sites {
    let world = World::new();
    let mut yard = world.book("yard.pipelore");
    let joints = small_fleet(&world, &mut yard, 6);
    for (n, joint) in joints.iter().enumerate() {
        let wall = format!("0.30{} in", n + 3);
        world.append(&mut yard, &[draft("2025-02-20", inspection(joint, &wall))]);
    }
    let yard_path = yard.path().to_path_buf();
    yard.close().unwrap();
    let rig = world.book_of("rig.pipelore", "rig");
    let rig_path = rig.path().to_path_buf();
    rig.close().unwrap();
    let sites = Sites { world, yard: yard_path, rig: rig_path };
    sites.send(&sites.yard, "all.jsonl");
    sites.take(&sites.rig, "all.jsonl");
    sites
}

impl Sites {
    fn run(book: &Path, args: &[&str]) -> (i32, String, String) {
        let out = pipelore(book, args);
        let (code, said) = answer(&out);
        (code, String::from_utf8_lossy(&out.stdout).into_owned(), said)
    }

    fn send(&self, book: &Path, name: &str) {
        let (code, _, said) = Self::run(book, &["bundle", "out", name]);
        assert_eq!(code, 0, "{said}");
    }

    fn take(&self, book: &Path, name: &str) -> String {
        let (code, shown, said) = Self::run(book, &["bundle", "in", name]);
        assert_eq!(code, 0, "{said}");
        shown
    }

    /// Writes other bytes over all places of the yard's file where some stand.
    fn damage(&self, there: &str, over: &str) {
        let mut bytes = fs::read(&self.yard).unwrap();
        let mut count = 0;
        for at in 0..bytes.len() - there.len() {
            if bytes[at..].starts_with(there.as_bytes()) {
                bytes[at..at + over.len()].copy_from_slice(over.as_bytes());
                count += 1;
            }
        }
        assert!(count > 0);
        fs::write(&self.yard, bytes).unwrap();
    }

    fn salvage(&self, to: &str, more: &[&str]) -> (i32, serde_json::Value) {
        let damaged = self.yard.display().to_string();
        let mut args = vec!["salvage", &damaged, "-o", to, "--json"];
        args.extend(more);
        let (code, shown, said) = Self::run(&self.yard, &args);
        (code, serde_json::from_str(&shown).unwrap_or_else(|e| panic!("{e}: {shown}{said}")))
    }
}

fn readings(book: &Path) -> String {
    let (code, shown, said) =
        Sites::run(book, &["find", "any inspection", "--show", "serial, wall", "--csv"]);
    assert_eq!(code, 0, "{said}");
    shown
}

#[test]
fn what_follows_the_lost_is_kept_and_the_lost_comes_back() {
    let sites = sites();
    let before = readings(&sites.yard);
    sites.damage(LOST, "9.999");
    let (code, done) = sites.salvage("new.pipelore", &[]);
    assert_eq!(code, 1, "{done:#}");
    let chain = &done["chains"][0];
    assert_eq!((&chain["chain"], &chain["unproven"]), (&"yard".into(), &1.into()), "{done:#}");
    assert_eq!(chain["kept"], chain["seen"], "{done:#}");
    // What the damaged image says can be read, and is in no answer of the book.
    assert!(done["damaged"][0]["body"].to_string().contains("9.999 in"), "{done:#}");
    let new = sites.world.path("new.pipelore");
    assert!(!readings(&new).contains("9.999"));
    let (code, verified, said) = Sites::run(&new, &["verify"]);
    assert_eq!(code, 0, "{verified}{said}");
    assert!(verified.contains("was lost before a salvage and has not come back"), "{verified}");
    // All but the lost reading is there.
    assert_eq!(readings(&new).lines().count(), before.lines().count() - 1);

    // A new site takes in what there is, by what the salvaged book says of the rest.
    let other = sites.world.book_of("other.pipelore", "other");
    let other_path = other.path().to_path_buf();
    other.close().unwrap();
    sites.send(&new, "holed.jsonl");
    sites.take(&other_path, "holed.jsonl");
    assert_eq!(readings(&other_path), readings(&new));
    assert_eq!(Sites::run(&other_path, &["verify"]).0, 0);
    // Without the entry that says so it is refused.
    let text = fs::read_to_string(sites.world.path("holed.jsonl")).unwrap();
    assert!(text.starts_with("{\"pipelore_bundle\":2"), "{text}");

    // The rig has the lost entry.
    let (code, _, said) = Sites::run(&sites.rig, &["bundle", "out", "back.jsonl", "--all-sites"]);
    assert_eq!(code, 0, "{said}");
    for book in [&new, &other_path] {
        sites.take(book, "back.jsonl");
        assert_eq!(readings(book), before);
        let (code, verified, said) = Sites::run(book, &["verify"]);
        assert_eq!(code, 0, "{verified}{said}");
        assert!(!verified.contains("not come back"), "{verified}");
    }
    // And goes on: what came back is sent on with the rest.
    sites.send(&new, "whole.jsonl");
    let last = sites.world.book_of("last.pipelore", "last");
    let last_path = last.path().to_path_buf();
    last.close().unwrap();
    sites.take(&last_path, "whole.jsonl");
    assert_eq!(readings(&last_path), before);
    // Salvaged again it is whole.
    copy_book(&new, &sites.yard);
    let (code, done) = sites.salvage("again.pipelore", &[]);
    assert_eq!(code, 0, "{done:#}");
    assert_eq!(readings(&sites.world.path("again.pipelore")), before);
}

#[test]
fn without_a_trusted_end_what_follows_is_kept_by_decision_alone() {
    let sites = sites();
    sites.damage(LOST, "9.999");
    fs::remove_file(with_suffix(&sites.yard, ".head")).unwrap();
    let (code, done) = sites.salvage("proven.pipelore", &[]);
    assert_eq!(code, 1, "{done:#}");
    assert!(done["chains"][0]["unproven"].as_i64().unwrap() > 1, "{done:#}");
    let reason = "the inspector has his sheets";
    let (code, done) = sites.salvage("decided.pipelore", &["--unproven", "--reason", reason]);
    assert_eq!(code, 1, "{done:#}");
    assert_eq!(done["chains"][0]["unproven"], 1, "{done:#}");
    let decided = sites.world.path("decided.pipelore");
    let (code, verified, said) = Sites::run(&decided, &["verify"]);
    assert_eq!(code, 0, "{verified}{said}");
    assert!(verified.contains("no trusted head links back to them"), "{verified}");
    let (_, listed, _) = Sites::run(&decided, &["entries", "--json"]);
    assert!(listed.contains(reason));
    let walls = |name: &str| readings(&sites.world.path(name)).lines().count();
    assert!(walls("decided.pipelore") > walls("proven.pipelore"));
}

#[test]
fn a_lost_beginning_is_told_and_the_book_goes_on() {
    let sites = sites();
    // The first entry names the clock of the site.
    sites.damage("{\"clock\":", "{xxxxx");
    let (code, done) = sites.salvage("new.pipelore", &[]);
    assert_eq!(code, 1, "{done:#}");
    assert_eq!(done["chains"][0]["lost"], "1", "{done:#}");
    let new = sites.world.path("new.pipelore");
    assert_eq!(Sites::run(&new, &["verify"]).0, 0);
    sites.send(&sites.rig, "rig.jsonl");
    let (code, _, said) = Sites::run(&sites.rig, &["bundle", "out", "back.jsonl", "--all-sites"]);
    assert_eq!(code, 0, "{said}");
    sites.take(&new, "back.jsonl");
    let (code, verified, said) = Sites::run(&new, &["verify"]);
    assert_eq!(code, 0, "{verified}{said}");
    assert!(!verified.contains("not come back"), "{verified}");
}
