//! Bundles carry entries between books: whole or not at all, in any order, any number of times.

use std::io::Write;
use std::path::Path;

use pipelore::ledger::{BundleError, KnownKeys, SealError, Sealer, SecretKey};
use pipelore::model::{Body, Chain, EntryId, MoveBody, NoteBody, Site, StrikeBody};
use pipelore::schema::{JointRow, Rows};
use pipelore::store::{
    Access, Book, BundleIn, BundleOut, BundleWritten, LookBack, Since, Sites, StoreError, TakenIn,
};

use crate::world::first_fault;
use crate::world::{World, day, draft, inspection, run, small_fleet};

pub fn send(world: &World, book: &Book, name: &str, what: &BundleOut<'_>) -> BundleWritten {
    book.bundle_out(&world.path(name), what, &world.stamp()).unwrap()
}

pub fn take(world: &World, book: &mut Book, name: &str) -> Result<TakenIn, StoreError> {
    book.bundle_in(&world.path(name), &BundleIn::default(), &world.stamp())
}

fn everything() -> BundleOut<'static> {
    BundleOut { sites: Sites::All, ..BundleOut::default() }
}

fn note(text: &str) -> Body {
    Body::Note(NoteBody { joints: Vec::new(), about: None, text: text.to_owned() })
}

fn refusal(result: Result<TakenIn, StoreError>) -> BundleError {
    match result.unwrap_err() {
        StoreError::Bundle(e) => e,
        other => panic!("{other}"),
    }
}

/// A yard with joints and a rig with none yet.
fn two_sites(world: &World) -> (Book, Book, Vec<pipelore::model::JointRef>) {
    let mut yard = world.book_of("yard.pipelore", "yard");
    let joints = small_fleet(world, &mut yard, 12);
    let rig = world.book_of("rig.pipelore", "rig_14");
    (yard, rig, joints)
}

#[test]
fn a_bundle_carries_a_site_to_another_book_and_back() {
    let world = World::new();
    let (mut yard, mut rig, joints) = two_sites(&world);
    send(&world, &yard, "1.jsonl", &BundleOut::default());
    let taken = take(&world, &mut rig, "1.jsonl").unwrap();
    assert_eq!(taken.chains.len(), 1);
    assert_eq!(taken.chains[0].new, [(1, 15)]);
    assert_eq!(taken.arrival.unwrap().to_string(), "rig_14-3");
    assert!(taken.awaited.is_empty());
    world
        .append(&mut rig, &[draft("2025-02-06", run("R1", "Larkfield 1H", "2025-02-01", &joints))]);
    let sent = send(&world, &rig, "2.jsonl", &BundleOut::default());
    assert_eq!(sent.chains[0].chain.to_string(), "rig_14");
    take(&world, &mut yard, "2.jsonl").unwrap();
    let rows = |b: &Book| -> Vec<(String, i64, i64)> {
        b.rows(&Rows::<JointRow>::all().by(JointRow::serial()))
            .unwrap()
            .into_iter()
            .map(|r| (r.serial, r.totals.hours.lo, r.totals.damage.lo))
            .collect()
    };
    assert_eq!(rows(&yard), rows(&rig));
    assert!(rows(&yard).iter().all(|r| r.1 == 360_000_000));
    for book in [&yard, &rig] {
        let verified = book.verify(None, None).unwrap();
        assert!(verified.sound(), "{verified:#?}");
    }
}

#[test]
fn twice_changes_nothing() {
    let world = World::new();
    let (yard, mut rig, _) = two_sites(&world);
    send(&world, &yard, "1.jsonl", &BundleOut::default());
    take(&world, &mut rig, "1.jsonl").unwrap();
    let (length, head) = (rig.length().unwrap(), rig.head().unwrap());
    let again = take(&world, &mut rig, "1.jsonl").unwrap();
    assert_eq!((again.arrival, again.chains[0].new.len()), (None, 0));
    assert_eq!((rig.length().unwrap(), rig.head().unwrap()), (length, head));
}

#[test]
fn packed_is_the_same_bundle() {
    let world = World::new();
    let (yard, mut rig, _) = two_sites(&world);
    let plain = send(&world, &yard, "1.jsonl", &BundleOut::default());
    let packed = BundleOut { packed: true, ..BundleOut::default() };
    send(&world, &yard, "1.jsonl.gz", &packed);
    let size = |n: &str| std::fs::metadata(world.path(n)).unwrap().len();
    assert!(size("1.jsonl.gz") * 3 < size("1.jsonl"));
    let taken = take(&world, &mut rig, "1.jsonl.gz").unwrap();
    assert_eq!(taken.chains[0].new, [(1, plain.entries)]);
}

#[test]
fn a_dry_run_tells_and_leaves_no_trace() {
    let world = World::new();
    let (yard, mut rig, _) = two_sites(&world);
    send(&world, &yard, "1.jsonl", &BundleOut::default());
    let head = rig.head().unwrap();
    let how = BundleIn { dry_run: true, ..BundleIn::default() };
    let told = rig.bundle_in(&world.path("1.jsonl"), &how, &world.stamp()).unwrap();
    assert_eq!(told.chains[0].new, [(1, 15)]);
    assert_eq!((rig.length().unwrap(), rig.head().unwrap()), (2, head));
}

#[test]
fn what_came_since_is_enough() {
    let world = World::new();
    let (mut yard, mut rig, joints) = two_sites(&world);
    send(&world, &yard, "1.jsonl", &BundleOut::default());
    take(&world, &mut rig, "1.jsonl").unwrap();
    let done = world.append(&mut yard, &[draft("2025-02-15", inspection(&joints[0], "0.350 in"))]);
    let since = Some(Since::Entry(done.entries[0].clone()));
    let sent = send(&world, &yard, "2.jsonl", &BundleOut { since, ..BundleOut::default() });
    assert_eq!((sent.entries, sent.chains[0].from), (1, 16));
    take(&world, &mut rig, "2.jsonl").unwrap();
    // By the clock of the book: the second before the inspection was written.
    let at = world.stamp().now.at;
    world.append(&mut yard, &[draft("2025-02-16", note("later"))]);
    let since = Some(Since::Instant(at));
    let sent = send(&world, &yard, "3.jsonl", &BundleOut { since, ..BundleOut::default() });
    assert_eq!((sent.entries, sent.chains[0].from), (1, 17));
    take(&world, &mut rig, "3.jsonl").unwrap();
    let nothing = BundleOut {
        since: Some(Since::Instant(pipelore::model::Instant(i64::MAX))),
        ..BundleOut::default()
    };
    let refused = yard.bundle_out(&world.path("4.jsonl"), &nothing, &world.stamp()).unwrap_err();
    assert!(matches!(refused, StoreError::NothingToSend), "{refused}");
    assert!(!world.path("4.jsonl").exists());
}

#[test]
fn what_another_site_sent_is_passed_on_by_arrival() {
    let world = World::new();
    let (mut yard, mut rig, _) = two_sites(&world);
    world.append(&mut rig, &[draft("2025-01-20", note("old news"))]);
    // The yard hears of it much later; "since" counts when it heard.
    let before = world.stamp().now.at;
    send(&world, &rig, "1.jsonl", &BundleOut::default());
    take(&world, &mut yard, "1.jsonl").unwrap();
    let what = BundleOut {
        sites: Sites::All,
        since: Some(Since::Instant(before)),
        ..BundleOut::default()
    };
    let sent = send(&world, &yard, "2.jsonl", &what);
    let names: Vec<String> =
        sent.chains.iter().map(|s| format!("{} {}..{}", s.chain, s.from, s.to)).collect();
    assert_eq!(names, ["rig_14 1..3", "yard 16..16"]);
}

#[test]
fn entries_wait_for_those_that_they_name() {
    let world = World::new();
    let (mut yard, mut rig, joints) = two_sites(&world);
    send(&world, &yard, "yard.jsonl", &BundleOut::default());
    take(&world, &mut rig, "yard.jsonl").unwrap();
    let done = world
        .append(&mut rig, &[draft("2025-02-06", run("R1", "Larkfield 1H", "2025-02-01", &joints))]);
    let strike = draft(
        "2025-02-07",
        Body::Strike(StrikeBody {
            entry: done.entries[0].clone(),
            reason: "wrong string".to_owned(),
            instead: Vec::new(),
            decision: Some("the yard answers for the string".to_owned()),
        }),
    );
    send(&world, &rig, "rig.jsonl", &BundleOut::default());
    // A third book gets the rig's run before the yard's joints, and the yard's strike of it last.
    let mut office = world.book_of("office.pipelore", "office");
    let taken = take(&world, &mut office, "rig.jsonl").unwrap();
    assert_eq!(taken.awaited.len(), 12);
    let verified = office.verify(None, None).unwrap();
    assert!(verified.sound(), "{verified:#?}");
    assert!(verified.checks.iter().any(|c| c.notes.iter().any(|n| n.contains("not arrived"))));
    let taken = take(&world, &mut office, "yard.jsonl").unwrap();
    assert!(taken.awaited.is_empty());
    let hours = |b: &Book| -> i64 {
        b.rows::<JointRow>(&Rows::all()).unwrap().iter().map(|r| r.totals.hours.lo).sum()
    };
    assert_eq!(hours(&office), 12 * 360_000_000);
    assert!(office.verify(None, None).unwrap().sound());
    take(&world, &mut yard, "rig.jsonl").unwrap();
    world.append(&mut yard, &[strike]);
    send(&world, &yard, "yard2.jsonl", &BundleOut::default());
    take(&world, &mut office, "yard2.jsonl").unwrap();
    assert_eq!(hours(&office), 0);
    assert!(office.verify(None, None).unwrap().sound());
}

#[test]
fn a_conflict_from_elsewhere_is_kept_and_flagged() {
    let world = World::new();
    let (mut yard, mut rig, joints) = two_sites(&world);
    send(&world, &yard, "1.jsonl", &BundleOut::default());
    take(&world, &mut rig, "1.jsonl").unwrap();
    let of = |name, start| draft("2025-02-06", run(name, "Larkfield 1H", start, &joints[..3]));
    world.append(&mut yard, &[of("R1", "2025-02-01")]);
    world.append(&mut rig, &[of("R2", "2025-02-02")]);
    send(&world, &rig, "2.jsonl", &BundleOut::default());
    let taken = take(&world, &mut yard, "2.jsonl").unwrap();
    assert_eq!(taken.clashes.len(), 3);
    assert_eq!(taken.clashes[0].what, "in two runs at once");
    assert!(yard.verify(None, None).unwrap().sound());
}

/// Writes a bundle again with its lines changed and the digest right.
fn tamper(from: &Path, to: &Path, change: impl FnOnce(&mut Vec<String>)) {
    let text = std::fs::read_to_string(from).unwrap();
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    lines.pop();
    change(&mut lines);
    let mut out = lines.join("\n");
    out.push('\n');
    let digest = pipelore::ledger::digest(out.as_bytes());
    let entries = lines.iter().filter(|l| l.starts_with("{\"entry\"")).count();
    let footer = format!("{{\"entries\":{entries},\"sha256\":\"{digest}\"}}\n");
    std::fs::write(to, out + &footer).unwrap();
}

#[test]
fn what_does_not_fit_is_refused_whole_with_the_first_bad_entry_named() {
    let world = World::new();
    let (mut yard, mut rig, joints) = two_sites(&world);
    world.append(&mut yard, &[draft("2025-02-15", inspection(&joints[0], "0.350 in"))]);
    send(&world, &yard, "good.jsonl", &everything());
    let length = rig.length().unwrap();
    let mut refuse = |change: &dyn Fn(&mut Vec<String>)| {
        tamper(&world.path("good.jsonl"), &world.path("bad.jsonl"), change);
        let refused = refusal(take(&world, &mut rig, "bad.jsonl"));
        assert_eq!(rig.length().unwrap(), length);
        refused.to_string()
    };
    assert_eq!(
        refuse(&|l| l[6] = l[6].replace("H4417", "H4418")),
        "line 7: yard-6 does not give its own hash: its content was altered"
    );
    assert_eq!(
        refuse(&|l| drop(l.remove(7))),
        "line 8: yard-8 follows number 6 of its chain: entries are missing or out of order"
    );
    assert_eq!(
        refuse(&|l| l.swap(3, 4)),
        "line 4: yard-4 follows number 2 of its chain: entries are missing or out of order"
    );
    assert!(
        refuse(&|l| l[0] = l[0].replace("\"to\":16", "\"to\":17"))
            .starts_with("line 18: the entries of yard end")
    );
    assert!(refuse(&|l| l[0] = l[0].replace("_bundle\":1", "_bundle\":3")).contains("format 3"));
    assert!(
        refuse(&|l| l[2] = l[2].replace("\"encoding\":1", "\"encoding\":9")).contains("encoding 9")
    );
    assert!(refuse(&|l| l.truncate(9)).starts_with("line 10: the entries of yard end before"));
    // As it stands it is taken in.
    take(&world, &mut rig, "good.jsonl").unwrap();
}

/// A bundle that a forger hashed and linked rightly: entries of one chain, each a kind, an effective
/// time and a body.
fn forged(site: &str, epoch: u32, bodies: &[(&str, &str, &str)]) -> String {
    use pipelore::ledger::{
        BUNDLE_FORMAT, BundleHeader, BundleWriter, ENCODING, Hash, Linked, RawEntry, Stretch,
    };
    let (mut prev, mut scratch) = (Hash::NONE, Vec::new());
    let linked: Vec<Linked> = (1u64..)
        .zip(bodies)
        .map(|(number, (kind, effective, body))| {
            let raw = RawEntry {
                site: site.to_owned(),
                epoch,
                number,
                kind: (*kind).to_owned(),
                effective: (*effective).to_owned(),
                recorded_ms: 1_772_600_000_000,
                recorded_offset: 0,
                author: "forger".to_owned(),
                program: "pipelore 0.1.0".to_owned(),
                evidence: None,
                body: (*body).to_owned(),
                encoding: ENCODING,
            };
            let hash = Hash::of_entry(&prev, &raw, &mut scratch);
            let linked = Linked { raw, prev, hash };
            prev = hash;
            linked
        })
        .collect();
    let mut writer = BundleWriter::new();
    let chain = Chain { site: Site::parse(site).unwrap(), epoch };
    let stretch =
        Stretch { chain, from: 1, to: linked.len() as u64, before: Hash::NONE, head: prev };
    let header = BundleHeader {
        pipelore_bundle: BUNDLE_FORMAT,
        lost: Vec::new(),
        made: "2026-03-05T00:00:00Z".to_owned(),
        author: "forger".to_owned(),
        program: "pipelore 0.1.0".to_owned(),
        chains: vec![stretch],
    };
    let mut text = writer.header(&header).unwrap();
    linked.iter().for_each(|l| text.push_str(&writer.entry(l).unwrap()));
    text.push_str(&writer.footer().unwrap().0);
    text
}

#[test]
fn an_epoch_from_nowhere_is_refused_and_uses_none_up() {
    let world = World::new();
    let mut yard = world.book("yard.pipelore");
    let mut take = |epoch: u32| {
        let begins = ("epoch", "2026-03-04", r#"{"site":"yard","units":"us"}"#);
        let text = forged("yard", epoch, &[begins]);
        yard.read_bundle(&mut text.as_bytes(), &BundleIn::default(), &world.stamp())
    };
    for epoch in [u32::MAX, 1_002] {
        let refused = refusal(take(epoch));
        assert!(matches!(&refused, BundleError::EpochAhead { most: 1_001, .. }), "{refused}");
    }
    take(1_001).unwrap();
    yard.close().unwrap();
    let path = world.path("yard.pipelore");
    let refused = Book::resume(&path, "far", Some(u32::MAX), &world.stamp()).unwrap_err();
    assert!(
        matches!(&refused, StoreError::EpochAhead { least: 1_002, most: 2_001, .. }),
        "{refused}"
    );
    let resumed = Book::resume(&path, "near", None, &world.stamp()).unwrap();
    assert_eq!(resumed.head.entry.to_string(), "yard/1002-1");
}

/// An entry that a forger hashed and linked rightly must still be one that this program writes.
#[test]
fn rightly_hashed_nonsense_is_refused() {
    let world = World::new();
    let mut yard = world.book("yard.pipelore");
    let forge = |bodies: &[(&str, &str, &str)]| forged("rig", 1, bodies);
    let epoch = ("epoch", "2026-03-04", r#"{"site":"Rig","units":"us"}"#);
    let mut say = |bodies: &[(&str, &str, &str)]| {
        let text = forge(bodies);
        let result = yard.read_bundle(&mut text.as_bytes(), &BundleIn::default(), &world.stamp());
        result.map(|_| ()).map_err(|e| {
            let mut text = e.to_string();
            let mut cause = std::error::Error::source(&e);
            while let Some(c) = cause {
                text = format!("{text}: {c}");
                cause = c.source();
            }
            text
        })
    };
    let day = "2026-03-04";
    for (bodies, part) in [
        (vec![("note", day, r#"{"text":"x"}"#)], "rig-1: note cannot stand here"),
        (vec![epoch, epoch], "rig-2: epoch cannot stand here"),
        (vec![("epoch", day, r#"{"site":"yard","units":"us"}"#)], "rig-1: epoch cannot stand here"),
        (vec![epoch, ("omen", day, "{}")], "'omen' is not known"),
        (vec![epoch, ("note", day, r#"{ "text":"x"}"#)], "rig-2: its body is not in canonical"),
        (vec![epoch, ("note", day, r#"{"text":"x","about":null}"#)], "rig-2: its body is not in"),
        (vec![epoch, ("note", "2026-3-04", r#"{"text":"x"}"#)], "rig-2"),
        (vec![epoch, ("note", "2026-03-04 06:30+0200", r#"{"text":"x"}"#)], "effective time"),
        (vec![epoch, ("note", day, r#"{"text":"x","more":1}"#)], "unknown field"),
    ] {
        let told = say(&bodies).unwrap_err();
        assert!(told.contains(part), "{told}");
    }
    say(&[epoch, ("note", day, r#"{"text":"x"}"#)]).unwrap();
}

#[test]
fn gaps_forks_and_own_chains_are_told_apart() {
    let world = World::new();
    let (mut yard, mut rig, joints) = two_sites(&world);
    send(&world, &yard, "1.jsonl", &BundleOut::default());
    take(&world, &mut rig, "1.jsonl").unwrap();
    let copy = world.path("copy.pipelore");
    yard.backup(&copy).unwrap();
    let done = world.append(&mut yard, &[draft("2025-02-15", inspection(&joints[0], "0.350 in"))]);
    world.append(&mut yard, &[draft("2025-02-16", inspection(&joints[0], "0.340 in"))]);
    let second: EntryId = "yard-17".parse().unwrap();
    send(
        &world,
        &yard,
        "gap.jsonl",
        &BundleOut { since: Some(Since::Entry(second)), ..BundleOut::default() },
    );
    let refused = refusal(take(&world, &mut rig, "gap.jsonl"));
    assert_eq!(
        refused.to_string(),
        "yard-17 does not follow: the book holds yard up to yard-15; entries are missing"
    );
    // A copy of the yard's book that goes on writing as the yard.
    let mut twin = Book::open(&copy, Access::Write).unwrap();
    world.append(&mut twin, &[draft("2025-02-15", note("written twice"))]);
    send(&world, &twin, "twin.jsonl", &BundleOut::default());
    send(&world, &yard, "2.jsonl", &BundleOut::default());
    take(&world, &mut rig, "2.jsonl").unwrap();
    let refused = refusal(take(&world, &mut rig, "twin.jsonl"));
    assert!(
        matches!(&refused, BundleError::Fork { entry } if *entry == done.entries[0].to_string())
    );
    // The twin hears that its own chain goes on elsewhere.
    let refused = refusal(take(&world, &mut twin, "2.jsonl"));
    assert!(matches!(&refused, BundleError::Fork { entry } if entry == "yard-16"), "{refused}");
    drop(twin);
    std::fs::remove_file(&copy).unwrap();
    let _ = std::fs::remove_file(world.path("copy.pipelore.head"));
}

#[test]
fn what_a_restore_lost_comes_back_by_bundle() {
    let world = World::new();
    let (mut yard, mut rig, joints) = two_sites(&world);
    let copy = world.path("copy.pipelore");
    yard.backup(&copy).unwrap();
    world.append(&mut yard, &[draft("2025-02-15", inspection(&joints[0], "0.350 in"))]);
    send(&world, &yard, "1.jsonl", &BundleOut::default());
    take(&world, &mut rig, "1.jsonl").unwrap();
    world.append(&mut rig, &[draft("2025-02-16", inspection(&joints[1], "0.340 in"))]);
    send(&world, &rig, "rig.jsonl", &everything());
    let whole = yard.head().unwrap();
    let path = yard.path().to_path_buf();
    yard.close().unwrap();
    // The disk dies; the copy is put in its place, the note of the head stays.
    for suffix in ["", "-wal", "-shm"] {
        let _ = std::fs::remove_file(format!("{}{suffix}", path.display()));
    }
    std::fs::copy(&copy, &path).unwrap();
    let refused = Book::open(&path, Access::Write).unwrap_err();
    assert!(matches!(&refused, StoreError::TailLost { anchored, .. } if anchored == "yard-16"));
    let looked = Book::open_to_examine(&path).unwrap().verify(None, None).unwrap();
    assert!(first_fault(&looked).unwrap().contains("yard-16"));
    let done = Book::resume(&path, "disk failed", None, &world.stamp()).unwrap();
    assert_eq!(done.head.entry.to_string(), "yard/2-1");
    assert_eq!(done.lost.unwrap(), whole.unwrap());
    let mut yard = done.book;
    world.append(&mut yard, &[draft("2025-03-01", note("after the restore"))]);
    let (held, at) = (yard.length().unwrap(), world.stamp().now.at);
    let taken = take(&world, &mut yard, "rig.jsonl").unwrap();
    assert_eq!(
        taken.chains.iter().find(|c| c.chain.to_string() == "yard").unwrap().new,
        [(16, 16)]
    );
    // What came back counts from its return, though it was written before the loss.
    let lost: EntryId = "yard-16".parse().unwrap();
    assert_eq!(yard.place_before(at, pipelore::model::Instant(i64::MAX)).unwrap(), Some(held));
    assert_eq!(yard.place_with(&lost).unwrap(), yard.length().unwrap());
    let asked = LookBack { known_to: Some(held), before: None };
    let then = yard.look_back(&asked).unwrap();
    assert_eq!(then.head.unwrap().entry.to_string(), "yard/2-2");
    assert!(then.book.rows(&Rows::<JointRow>::all().known(JointRow::wall())).unwrap().is_empty());
    let asked = LookBack { known_to: Some(15), before: None };
    let then = yard.look_back(&asked).unwrap();
    assert_eq!(then.head.unwrap().entry.to_string(), "yard-15");
    assert_eq!(then.book.identity().chain.to_string(), "yard");
    let verified = yard.verify(None, None).unwrap();
    assert!(verified.sound(), "{verified:#?}");
    let rows: Vec<JointRow> = yard.rows(&Rows::all().known(JointRow::wall_thickness())).unwrap();
    assert_eq!(rows.len(), 2);
    // The rig learns of the new epoch.
    send(&world, &yard, "2.jsonl", &BundleOut::default());
    let taken = take(&world, &mut rig, "2.jsonl").unwrap();
    assert_eq!(taken.chains.len(), 2);
    assert!(rig.verify(None, None).unwrap().sound());
    assert_eq!(yard.identity().chain.to_string(), "yard/2");
    yard.close().unwrap();
    let yard = Book::open(&path, Access::Read).unwrap();
    assert_eq!(yard.identity().chain.to_string(), "yard/2");
}

#[test]
fn a_book_that_was_restored_unawares_is_told() {
    let world = World::new();
    let (mut yard, mut rig, joints) = two_sites(&world);
    let copy = world.path("copy.pipelore");
    yard.backup(&copy).unwrap();
    world.append(&mut yard, &[draft("2025-02-15", inspection(&joints[0], "0.350 in"))]);
    send(&world, &yard, "1.jsonl", &BundleOut::default());
    take(&world, &mut rig, "1.jsonl").unwrap();
    drop(yard);
    let mut restored = Book::open(&copy, Access::Write).unwrap();
    let refused = refusal(take(&world, &mut restored, "1.jsonl"));
    assert_eq!(refused.to_string(), "yard-16 is of this book's own chain, which ends at yard-15");
    drop(restored);
    let mut restored = Book::resume(&copy, "restored", None, &world.stamp()).unwrap().book;
    take(&world, &mut restored, "1.jsonl").unwrap();
    assert!(restored.verify(None, None).unwrap().sound());
    // Restored once more from the same copy, under a number that others know already.
    drop(restored);
    let refused = Book::resume(&copy, "again", Some(2), &world.stamp()).unwrap_err();
    assert_eq!(refused.to_string(), "epoch 2 is taken; the next one free is 3");
    let third = Book::resume(&copy, "again", Some(7), &world.stamp()).unwrap();
    assert_eq!(third.head.entry.to_string(), "yard/7-1");
    assert_eq!(third.parent.entry.to_string(), "yard/2-2");
    assert!(third.book.verify(None, None).unwrap().sound());
}

#[test]
fn an_epoch_that_continues_another_past_is_refused() {
    let world = World::new();
    let (mut yard, mut rig, _) = two_sites(&world);
    let copy = world.path("copy.pipelore");
    yard.backup(&copy).unwrap();
    // Both write a yard-16; the copy then goes on as an epoch after its own.
    world.append(&mut yard, &[draft("2025-02-15", note("the yard's"))]);
    let mut twin = Book::open(&copy, Access::Write).unwrap();
    world.append(&mut twin, &[draft("2025-02-15", note("the copy's"))]);
    twin.close().unwrap();
    let twin = Book::resume(&copy, "copied", None, &world.stamp()).unwrap().book;
    send(&world, &yard, "yard.jsonl", &BundleOut::default());
    take(&world, &mut rig, "yard.jsonl").unwrap();
    let second: EntryId = "yard/2-1".parse().unwrap();
    send(
        &world,
        &twin,
        "twin.jsonl",
        &BundleOut { since: Some(Since::Entry(second)), ..BundleOut::default() },
    );
    let refused = refusal(take(&world, &mut rig, "twin.jsonl"));
    assert!(
        matches!(&refused, BundleError::Parent { epoch, parent } if epoch == "yard/2-1" && parent == "yard-16"),
        "{refused}"
    );
    // The other way about: the epoch first, its parent's chain with the other hash after it.
    let mut office = world.book_of("office.pipelore", "office");
    take(&world, &mut office, "twin.jsonl").unwrap();
    assert!(office.verify(None, None).unwrap().sound());
    let refused = refusal(take(&world, &mut office, "yard.jsonl"));
    assert!(matches!(&refused, BundleError::Parent { .. }), "{refused}");
}

#[test]
fn seals_are_checked_on_the_way_in() {
    let world = World::new();
    let (yard, mut rig, _) = two_sites(&world);
    let secret = SecretKey::from_seed(yard.identity().chain.site.clone(), &[5; 32]);
    let known = KnownKeys::parse(&secret.public("Harrow Yard office").to_text()).unwrap();
    let sealed = BundleOut { seal: Some(&secret), ..BundleOut::default() };
    send(&world, &yard, "sealed.jsonl", &sealed);
    send(&world, &yard, "bare.jsonl", &BundleOut::default());
    let how = |known: &KnownKeys, require_seal, dry_run| BundleIn {
        known: known.clone(),
        require_seal,
        dry_run,
        ..BundleIn::default()
    };
    let mut try_in =
        |name: &str, how: &BundleIn| rig.bundle_in(&world.path(name), how, &world.stamp());
    let none = KnownKeys::default();
    for (name, known) in [("bare.jsonl", &known), ("sealed.jsonl", &none)] {
        let refused = refusal(try_in(name, &how(known, true, false)));
        assert!(
            matches!(&refused, BundleError::Unsealed { chain } if chain == "yard"),
            "{refused}"
        );
    }
    let told = try_in("sealed.jsonl", &how(&none, false, true)).unwrap();
    assert!(matches!(told.chains[0].seal, Some((Sealer::Unknown, _))));
    let told = try_in("bare.jsonl", &how(&known, false, true)).unwrap();
    assert_eq!(told.chains[0].seal, None);
    // A seal of another head, or with a digit changed.
    for (from, to) in
        [("yard-15\",\"hash\"", "yard-14\",\"hash\""), ("\"signature\":\"", "\"signature\":\"0")]
    {
        tamper(&world.path("sealed.jsonl"), &world.path("forged.jsonl"), |l| {
            let seal = l.last_mut().unwrap();
            *seal = seal.replace(from, to);
        });
        let refused = refusal(try_in("forged.jsonl", &how(&known, false, false)));
        assert!(matches!(refused, BundleError::Seal(SealError::Signature { .. })), "{refused}");
    }
    let taken = try_in("sealed.jsonl", &how(&known, true, false)).unwrap();
    assert_eq!(
        taken.chains[0].seal.as_ref().unwrap().0,
        Sealer::Known("Harrow Yard office".to_owned())
    );
    let arrival = rig.entry(&taken.arrival.unwrap()).unwrap();
    assert!(arrival.raw.body.contains("\"seal_known\":true"), "{}", arrival.raw.body);
}

#[test]
fn bombs_are_refused_before_they_fill_anything() {
    let world = World::new();
    let mut yard = world.book("yard.pipelore");
    let pack = |name: &str, begin: &[u8], fill: u8, size: usize| {
        let file = std::fs::File::create(world.path(name)).unwrap();
        let mut out = flate2::write::GzEncoder::new(file, flate2::Compression::best());
        out.write_all(begin).unwrap();
        let block = vec![fill; 1 << 16];
        for _ in 0..size >> 16 {
            out.write_all(&block).unwrap();
        }
        out.finish().unwrap();
    };
    // A quarter of a gigabyte of blanks in one line; of empty lines; after a sound header.
    pack("line.gz", b"{\"pipelore_bundle\":1", b' ', 256 << 20);
    pack("lines.gz", b"", b'\n', 256 << 20);
    let refused = refusal(take(&world, &mut yard, "line.gz"));
    assert!(matches!(refused, BundleError::TooLarge { line: 1, .. }), "{refused}");
    let refused = refusal(take(&world, &mut yard, "lines.gz"));
    assert!(matches!(refused, BundleError::NotABundle { .. }), "{refused}");
    let rig = world.book_of("rig.pipelore", "rig");
    send(&world, &rig, "good.jsonl", &BundleOut::default());
    let small = pipelore::ledger::BundleLimits { bytes: 500, ..Default::default() };
    let how = BundleIn { limits: small, ..BundleIn::default() };
    let refused = refusal(yard.bundle_in(&world.path("good.jsonl"), &how, &world.stamp()));
    assert!(matches!(refused, BundleError::TooLarge { .. }), "{refused}");
    // Cut packing, and bytes after the end.
    send(&world, &rig, "good.gz", &BundleOut { packed: true, ..BundleOut::default() });
    let whole = std::fs::read(world.path("good.gz")).unwrap();
    std::fs::write(world.path("cut.gz"), &whole[..whole.len() / 2]).unwrap();
    let refused = refusal(take(&world, &mut yard, "cut.gz"));
    assert!(
        matches!(refused, BundleError::Unreadable { .. } | BundleError::Cut { .. }),
        "{refused}"
    );
    std::fs::write(world.path("more.gz"), [&whole[..], b"more"].concat()).unwrap();
    let refused = refusal(take(&world, &mut yard, "more.gz"));
    assert!(matches!(refused, BundleError::Unreadable { .. }), "{refused}");
    assert_eq!(yard.length().unwrap(), 2);
    let _ = day("2025-01-01");
}

#[test]
fn names_that_nobody_sees_whole_are_said() {
    let world = World::new();
    let (mut yard, mut rig, joints) = two_sites(&world);
    // As an older program, which did not refuse such names, would have written it.
    let place = Some("Rig\u{200b} 9".to_owned());
    let body = MoveBody {
        joints: joints[..1].to_vec(),
        location: place,
        string: None,
        status: None,
        remark: None,
    };
    world.append(&mut yard, &[draft("2025-02-06", Body::Move(body))]);
    send(&world, &yard, "1.jsonl", &BundleOut::default());
    let taken = take(&world, &mut rig, "1.jsonl").unwrap();
    let said = "yard-16: the location holds a sign without width (U+200B): it looks like another \
                name and is none";
    assert_eq!(taken.unseen, [said]);
    for book in [&yard, &rig] {
        let verified = book.verify(None, None).unwrap();
        assert!(verified.sound(), "{verified:#?}");
        assert!(verified.checks.iter().any(|c| c.notes.iter().any(|n| n == said)), "{verified:#?}");
    }
    assert!(take(&world, &mut rig, "1.jsonl").unwrap().unseen.is_empty());
}
