//! Ended with SIGKILL at random moments, in the middle of every kind of work.

use std::collections::BTreeSet;
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use pipelore::store::{Access, Book, BundleIn, BundleOut, HeadMark, Since};

use super::child::{acknowledged, start};
use super::support::{Chance, copy_book, soak, with_suffix};
use crate::world::{World, draft, joint, run, small_fleet};

/// Starts a child, ends it after a while, and says what it had acknowledged and whether it had
/// come to its end by itself.
fn work_and_kill(work: &str, path: &Path, after: Duration) -> (Vec<HeadMark>, usize, bool) {
    let mut child = start(work, path);
    let mut stdout = child.stdout.take().unwrap();
    let reader = std::thread::spawn(move || {
        let mut all = Vec::new();
        let _ = stdout.read_to_end(&mut all);
        all
    });
    std::thread::sleep(after);
    let by_itself = child.try_wait().unwrap().is_some();
    let _ = child.kill();
    let status = child.wait().unwrap();
    let said = reader.join().unwrap();
    let mut complaint = String::new();
    let _ = child.stderr.take().unwrap().read_to_string(&mut complaint);
    assert!(!complaint.contains("panicked"), "{work}: {complaint}");
    assert!(!by_itself || status.success(), "{work}: {complaint}");
    let text = String::from_utf8_lossy(&said).into_owned();
    (acknowledged(&said), text.matches("rebuilt").count(), by_itself)
}

/// The book opens, proves sound, and holds everything that was acknowledged.
fn check(path: &Path, acknowledged: &[HeadMark], what: &str) -> Book {
    let book = Book::open(path, Access::Write).unwrap_or_else(|e| panic!("{what}: {e}"));
    let verified = book.verify(None, None).unwrap();
    assert!(verified.sound(), "{what}: {verified:#?}");
    for head in acknowledged {
        let stored = book.entry(&head.entry).unwrap_or_else(|e| panic!("{what}: {e}"));
        assert_eq!(stored.hash, head.hash, "{what}");
    }
    book
}

#[derive(Default, Debug)]
struct Tally {
    kills: usize,
    acknowledged: usize,
    /// Entries found beyond the last that was acknowledged: written, but not said yet.
    unsaid: u64,
}

fn campaign(
    work: &str,
    rounds: u64,
    longest: Duration,
    chance: &mut Chance,
    mut fresh: impl FnMut(u64) -> Option<PathBuf>,
) -> Tally {
    let mut tally = Tally::default();
    let mut path = fresh(0).unwrap();
    for round in 0..rounds {
        if let Some(other) = fresh(round) {
            path = other;
        }
        let before = Book::open(&path, Access::Read).ok().and_then(|b| b.head().unwrap());
        let after = chance.within(longest);
        let (mut heads, _, _) = work_and_kill(work, &path, after);
        tally.kills += 1;
        tally.acknowledged += heads.len();
        heads.extend(before);
        let book = check(&path, &heads, &format!("{work}, round {round}, after {after:?}"));
        let said = heads.iter().map(|h| h.entry.number).max().unwrap_or(0);
        tally.unsaid += book.head().unwrap().unwrap().entry.number.saturating_sub(said);
        book.close().unwrap();
    }
    println!("killed in {work}: {tally:?}");
    tally
}

/// How long a child takes to come to its work.
fn startup(path: &Path) -> Duration {
    let begun = Instant::now();
    let mut child = start("open", path);
    child.wait().unwrap();
    begun.elapsed()
}

#[test]
fn in_appending_and_striking() {
    let mut chance = Chance::new("kill in appending and striking");
    let world = World::new();
    let mut book = world.book("base.pipelore");
    let joints = small_fleet(&world, &mut book, 4);
    world.append(
        &mut book,
        &[draft("2025-02-06", run("R1", "Larkfield 1H", "2025-02-01", &joints))],
    );
    let base = book.path().to_path_buf();
    book.close().unwrap();
    let longest = startup(&base) + Duration::from_millis(120);
    for work in ["append", "strike"] {
        // The same book goes on through several crashes; then a fresh one, for speed.
        let tally = campaign(work, 24 * soak(), longest, &mut chance, |round| {
            (round % 8 == 0).then(|| {
                let path = world.path(&format!("{work}.pipelore"));
                copy_book(&base, &path);
                path
            })
        });
        assert!(tally.acknowledged > 0, "{work}: nothing was done");
    }
}

#[test]
fn in_rebuilding() {
    let mut chance = Chance::new("kill in rebuilding");
    let world = World::new();
    let mut book = world.book("a.pipelore");
    let joints = small_fleet(&world, &mut book, 6);
    world.append(
        &mut book,
        &[draft("2025-02-06", run("R1", "Larkfield 1H", "2025-02-01", &joints))],
    );
    let path = book.path().to_path_buf();
    book.close().unwrap();
    let longest = startup(&path) + Duration::from_millis(80);
    campaign("rebuild", 16 * soak(), longest, &mut chance, |r| (r == 0).then(|| path.clone()));
}

#[test]
fn in_taking_bundles_in() {
    let mut chance = Chance::new("kill in taking bundles in");
    let world = World::new();
    // Another site's bundles, each with some twenty entries.
    let mut yard = world.book_of("yard.pipelore", "yard");
    let base = world.path("rig.pipelore");
    world.book_of("rig.pipelore", "rig").close().unwrap();
    let (mut bundles, mut next) = (Vec::new(), 1);
    for n in 0..40 {
        let drafts: Vec<_> =
            (0..20).map(|i| draft("2025-01-10", joint(&format!("B{n}-{i}"), true))).collect();
        world.append(&mut yard, &drafts);
        let since = Some(Since::Entry(format!("yard-{next}").parse().unwrap()));
        let what = BundleOut { since, ..BundleOut::default() };
        let path = world.path(&format!("{n}.bundle"));
        let sent = yard.bundle_out(&path, &what, &world.stamp()).unwrap();
        next = sent.chains[0].to + 1;
        bundles.push(path);
    }
    let longest = startup(&base) + Duration::from_millis(200);
    let mut seen = BTreeSet::new();
    let tally = campaign("take", 20 * soak(), longest, &mut chance, |round| {
        (round % 4 == 0).then(|| {
            let path = world.path("taking.pipelore");
            copy_book(&base, &path);
            for (n, bundle) in bundles.iter().enumerate() {
                let to = path.with_extension(format!("{n}.jsonl"));
                if !to.exists() {
                    fs::copy(bundle, to).unwrap();
                }
            }
            seen.insert(round);
            path
        })
    });
    assert!(tally.acknowledged > 0, "nothing was taken in");
    // Whatever was left out comes in now.
    let mut book = Book::open(&world.path("taking.pipelore"), Access::Write).unwrap();
    for bundle in &bundles {
        book.bundle_in(bundle, &BundleIn::default(), &world.stamp()).unwrap();
    }
    let verified = book.verify(None, None).unwrap();
    assert!(verified.sound(), "{verified:#?}");
    assert_eq!(
        book.rows(&pipelore::schema::Rows::<pipelore::schema::JointRow>::all()).unwrap().len(),
        800
    );
}

#[test]
fn in_backing_up() {
    let mut chance = Chance::new("kill in backing up");
    let world = World::new();
    let mut book = world.book("a.pipelore");
    small_fleet(&world, &mut book, 40);
    let path = book.path().to_path_buf();
    book.close().unwrap();
    let longest = startup(&path) + Duration::from_millis(60);
    campaign("backup", 8 * soak(), longest, &mut chance, |r| (r == 0).then(|| path.clone()));
    // A copy has its name only when it is whole.
    let mut copies = 0;
    for entry in fs::read_dir(path.parent().unwrap()).unwrap() {
        let copy = entry.unwrap().path();
        let name = copy.file_name().unwrap().to_string_lossy().into_owned();
        let unfinished = [".new", ".head", "-wal", "-shm"].iter().any(|s| name.contains(s));
        if name.contains(".copy-") && !unfinished {
            copies += 1;
            let copy = Book::open(&copy, Access::Read).unwrap();
            assert!(copy.verify(None, None).unwrap().sound());
        }
    }
    println!("killed in backing up: {copies} whole copies stand");
}

/// A book as the first layout left it: the ledger of 0001 and nothing derived.
pub fn of_first_layout(modern: &Path, to: &Path) {
    let conn = rusqlite::Connection::open(to).unwrap();
    let first = include_str!("../../../migrations/0001_ledger.sql");
    conn.execute_batch(first).unwrap();
    conn.execute_batch(
        "CREATE TABLE IF NOT EXISTS schema_migration (
            number      INTEGER PRIMARY KEY,
            name        TEXT NOT NULL,
            sha256      TEXT NOT NULL,
            applied_ms  INTEGER NOT NULL
        ) STRICT",
    )
    .unwrap();
    let digest = pipelore::ledger::digest(first.as_bytes());
    conn.execute("INSERT INTO schema_migration VALUES (1, '0001_ledger', ?1, 0)", [digest])
        .unwrap();
    conn.execute("ATTACH ?1 AS modern", [modern.to_str().unwrap()]).unwrap();
    conn.execute_batch(
        "INSERT INTO main.book SELECT * FROM modern.book;
         INSERT INTO main.entry SELECT * FROM modern.entry ORDER BY position;
         DETACH modern;
         PRAGMA application_id = 0x706c6f72; PRAGMA user_version = 1; PRAGMA journal_mode = WAL;",
    )
    .unwrap();
    conn.close().unwrap();
    let note = with_suffix(modern, ".head");
    if note.exists() {
        fs::copy(note, with_suffix(to, ".head")).unwrap();
    }
}

#[test]
fn in_migrating() {
    let mut chance = Chance::new("kill in migrating");
    let world = World::new();
    let mut book = world.book("modern.pipelore");
    let joints = small_fleet(&world, &mut book, 30);
    world.append(
        &mut book,
        &[draft("2025-02-06", run("R1", "Larkfield 1H", "2025-02-01", &joints))],
    );
    let head = book.head().unwrap().unwrap();
    let (modern, old) = (book.path().to_path_buf(), world.path("old.pipelore"));
    book.close().unwrap();
    of_first_layout(&modern, &old);
    let path = world.path("migrating.pipelore");
    copy_book(&old, &path);
    let longest = startup(&path) + Duration::from_millis(20);
    let (mut ended, mut old_still) = (0, 0);
    let rounds = 20 * soak();
    for round in 0..rounds {
        copy_book(&old, &path);
        let after = chance.within(longest);
        let (heads, _, by_itself) = work_and_kill("open", &path, after);
        ended += usize::from(by_itself);
        let version: i64 = rusqlite::Connection::open(&path)
            .unwrap()
            .pragma_query_value(None, "user_version", |r| r.get(0))
            .unwrap();
        assert!(version == 1 || version == 3, "round {round}: version {version}");
        assert!(heads.is_empty() || version == 3, "round {round}");
        old_still += usize::from(version == 1);
        check(
            &path,
            std::slice::from_ref(&head),
            &format!("migrating, round {round}, after {after:?}"),
        )
        .close()
        .unwrap();
    }
    println!(
        "killed in migrating: {rounds} rounds, {ended} came to their end, {old_still} left as they were"
    );
}
