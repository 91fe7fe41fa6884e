//! Flipped bits: in pages of every kind, in the log, in the note of the head.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use pipelore::store::{Access, Book, SalvageDecision, Salvaged, StoreError, StoredEntry};

use super::support::{Chance, Fate, bytes_of, copy_book, fate, soak, varied_book, with_suffix};
use crate::histories::dump::dump;
use crate::world::{World, draft, inspection, small_fleet};

const PAGE: usize = 8192;

/// What a page is, by its first byte and its place.
fn kind(bytes: &[u8], page: usize) -> &'static str {
    let at = page * PAGE + if page == 0 { 100 } else { 0 };
    match (page, bytes[at]) {
        (0, _) => "first page",
        (_, 0x02) => "inner index page",
        (_, 0x05) => "inner table page",
        (_, 0x0a) => "index leaf",
        (_, 0x0d) => "table leaf",
        _ => "overflow or free page",
    }
}

/// Holds that the new book has, of what was there, what the salvage says it kept, as it was and in
/// its order; and that it is called complete when nothing is missing.
fn keeps_what_it_says(book: &Book, done: &Salvaged, held: &[StoredEntry], what: &str) -> usize {
    let kept = entries(book);
    let count = usize::try_from(done.kept).unwrap();
    let content = |e: &StoredEntry| (e.raw.clone(), e.prev, e.hash);
    let mut rest = held.iter().map(content);
    for entry in &kept[..count] {
        assert!(
            rest.any(|h| h == content(entry)),
            "{what}: {} is not as it was",
            entry.raw.label()
        );
    }
    assert_eq!(done.complete(), count == held.len(), "{what}: {done:#?}");
    count
}

/// A book with pages of every kind, closed: its file, its entries and its bytes.
fn on_disk(world: &World) -> (PathBuf, Vec<StoredEntry>, Vec<u8>) {
    let book = varied_book(world, "a.pipelore");
    let path = book.path().to_path_buf();
    let held = entries(&book);
    book.close().unwrap();
    let whole = fs::read(&path).unwrap();
    (path, held, whole)
}

fn entries(book: &Book) -> Vec<StoredEntry> {
    let mut out = Vec::new();
    book.each_entry(|e| {
        out.push(e);
        Ok(())
    })
    .unwrap();
    out
}

#[test]
fn in_pages_of_every_kind() {
    let mut chance = Chance::new("flipped bits in the file");
    let world = World::new();
    let book = varied_book(&world, "a.pipelore");
    let path = book.path().to_path_buf();
    let (held, derived) = (entries(&book), dump(&book));
    book.close().unwrap();
    let whole = fs::read(&path).unwrap();
    let mut pages: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for page in 0..whole.len() / PAGE {
        pages.entry(kind(&whole, page)).or_default().push(page);
    }
    let flipped = world.path("flipped.pipelore");
    let mut all = BTreeMap::<&str, BTreeMap<String, usize>>::new();
    for (kind, pages) in &pages {
        for _ in 0..24 * soak() {
            let page = pages[chance.pick(pages.len())];
            let bit = chance.pick(8 * PAGE);
            let mut at = page * PAGE + bit / 8;
            // Half of them where something is written, for much of a page may be blank.
            if chance.below(2) == 0 {
                let used: Vec<usize> =
                    (page * PAGE..(page + 1) * PAGE).filter(|a| whole[*a] != 0).collect();
                at = used.get(chance.pick(used.len())).copied().unwrap_or(at);
            }
            let mut bytes = whole.clone();
            bytes[at] ^= 1 << (bit % 8);
            copy_book(&path, &flipped);
            fs::write(&flipped, &bytes).unwrap();
            let what = format!("{kind}, byte {at}, bit {}", bit % 8);
            let fate = fate(&flipped, &what, |book| entries(book) == held && dump(book) == derived);
            *all.entry(kind).or_default().entry(format!("{fate:?}")).or_default() += 1;
        }
    }
    for (kind, fates) in &all {
        println!("flipped bits, {kind}: {fates:?}");
    }
    assert!(all.len() >= 5, "the book has no pages of some kinds: {:?}", all.keys());
}

/// A book with its log still beside it, as after a crash.
fn with_log(world: &World, to: &Path) -> Vec<StoredEntry> {
    let mut book = world.book("logged.pipelore");
    let joints = small_fleet(world, &mut book, 6);
    for n in 0..30 {
        // A joint is read once a day: readings of one day that disagree are refused.
        let (day, wall) = (format!("2025-02-{}", 15 + n / 6), format!("0.{} in", 300 + n));
        world.append(&mut book, &[draft(&day, inspection(&joints[n % 6], &wall))]);
    }
    copy_book(book.path(), to);
    let held = entries(&book);
    assert!(fs::metadata(with_suffix(to, "-wal")).unwrap().len() > 100_000);
    held
}

#[test]
fn in_the_log_the_lost_tail_is_told_and_can_be_read_back() {
    let mut chance = Chance::new("flipped bits in the log");
    let world = World::new();
    let original = world.path("original.pipelore");
    let held = with_log(&world, &original);
    let log = fs::read(with_suffix(&original, "-wal")).unwrap();
    let path = world.path("a.pipelore");
    let (mut told, mut whole, mut salvaged) = (0, 0, 0);
    for round in 0..60 * soak() {
        let bit = chance.pick(8 * log.len());
        let mut bytes = log.clone();
        bytes[bit / 8] ^= 1 << (bit % 8);
        copy_book(&original, &path);
        fs::write(with_suffix(&path, "-wal"), &bytes).unwrap();
        let what = format!("round {round}: byte {}, bit {}", bit / 8, bit % 8);
        let before = bytes_of(&path);
        match Book::open(&path, Access::Write) {
            Ok(book) => {
                assert_eq!(entries(&book), held, "{what}");
                assert!(book.verify(None, None).unwrap().sound(), "{what}");
                whole += 1;
            }
            Err(StoreError::TailLost { .. }) => {
                told += 1;
                // What is left of the tail was not folded in and thrown away.
                assert_eq!(bytes_of(&path), before, "{what}");
                let rescued = world.path(&format!("rescued{round}.pipelore"));
                let done =
                    Book::salvage(&path, &rescued, &SalvageDecision::default(), &world.stamp());
                assert_eq!(bytes_of(&path), before, "{what}");
                let done = done.unwrap_or_else(|e| panic!("{what}: {e}"));
                let book = Book::open(&rescued, Access::Read).unwrap();
                let verified = book.verify(None, None).unwrap();
                assert!(verified.sound(), "{what}: {verified:#?}");
                keeps_what_it_says(&book, &done, &held, &what);
                salvaged += usize::from(done.complete());
            }
            Err(e) => panic!("{what}: {e}"),
        }
    }
    println!(
        "flipped bits in the log: {told} told as a lost tail, of these {salvaged} salvaged whole; \
         {whole} without effect"
    );
    assert!(told > 0 && salvaged > 0);
}

/// The header of a record says how long its columns are, and the first of them is the site: with
/// any bit of these wrong, the bytes read as an entry of nobody's.
#[test]
fn a_damaged_record_is_no_entry_of_another_site() {
    let world = World::new();
    let original = world.path("original.pipelore");
    let held = with_log(&world, &original);
    let log = fs::read(with_suffix(&original, "-wal")).unwrap();
    let path = world.path("a.pipelore");
    // Frames behind those of the present generation are left from an earlier one. Entries of a page
    // stand in it from its end on; the header of each ends with the types of two hashes, and its
    // site follows.
    let present = |frame: &[u8]| frame[8..16] == log[16..24];
    let frames = log[32..].chunks_exact(24 + PAGE).take_while(|frame| present(frame));
    let of_entry = |page: &[u8]| page.windows(6).position(|w| w == b"LLyard");
    let newest = frames.enumerate().filter_map(|(n, f)| Some((n, of_entry(f)?))).last().unwrap();
    let header_end = 32 + newest.0 * (24 + PAGE) + newest.1 + 2;
    let mut mended = 0;
    for at in header_end - 18..header_end + 4 {
        for bit in 0..8 {
            let mut bytes = log.clone();
            bytes[at] ^= 1 << bit;
            copy_book(&original, &path);
            fs::write(with_suffix(&path, "-wal"), &bytes).unwrap();
            let what = format!("byte {at}, bit {bit}");
            let rescued = world.path(&format!("rescued-{at}-{bit}.pipelore"));
            let done = Book::salvage(&path, &rescued, &SalvageDecision::default(), &world.stamp())
                .unwrap();
            let names: Vec<&str> = done.chains.iter().map(|c| &*c.chain).collect();
            assert_eq!(names, ["yard"], "{what}: {done:#?}");
            let book = Book::open(&rescued, Access::Read).unwrap();
            // One bit is found by the hash of the entry, whatever it made of the record.
            assert_eq!(keeps_what_it_says(&book, &done, &held, &what), held.len(), "{what}");
            mended += done.mended.len();
        }
    }
    println!("damaged records: {mended} mended");
    assert!(mended > 100, "no damage reached an entry: {mended}");
    // With its link damaged as well, nothing says where it belongs.
    let page = 32 + newest.0 * (24 + PAGE)..32 + (newest.0 + 1) * (24 + PAGE);
    let link = held.last().unwrap().prev;
    let at_link = log[page.clone()].windows(32).position(|w| w == link.0).unwrap();
    let mut bytes = log.clone();
    bytes[header_end] ^= 1;
    bytes[page.start + at_link] ^= 1;
    copy_book(&original, &path);
    fs::write(with_suffix(&path, "-wal"), &bytes).unwrap();
    let done = Book::salvage(
        &path,
        &world.path("rescued.pipelore"),
        &SalvageDecision::default(),
        &world.stamp(),
    )
    .unwrap();
    let apart: Vec<&str> = done.apart.iter().map(|e| &*e.raw.site).collect();
    assert_eq!((apart, done.chains.len(), done.complete()), (vec!["xard"], 1, false), "{done:#?}");
}

#[test]
fn a_log_cut_short_is_told_or_whole() {
    let mut chance = Chance::new("logs cut short");
    let world = World::new();
    let original = world.path("original.pipelore");
    let held = with_log(&world, &original);
    let log = fs::read(with_suffix(&original, "-wal")).unwrap();
    let path = world.path("a.pipelore");
    let (mut told, mut whole) = (0, 0);
    for _ in 0..50 * soak() {
        let length = chance.pick(log.len() + 1);
        copy_book(&original, &path);
        fs::write(with_suffix(&path, "-wal"), &log[..length]).unwrap();
        match Book::open(&path, Access::Write) {
            Ok(book) => {
                assert_eq!(entries(&book), held, "cut at {length}");
                whole += 1;
            }
            // Without any of the log the file may hold no more than its beginning.
            Err(StoreError::TailLost { .. } | StoreError::NotABook { .. }) => told += 1,
            Err(e) => panic!("cut at {length}: {e}"),
        }
    }
    println!("logs cut short: {told} told, {whole} whole");
}

#[test]
fn in_the_note_of_the_head() {
    let world = World::new();
    let mut book = world.book("a.pipelore");
    small_fleet(&world, &mut book, 3);
    let path = book.path().to_path_buf();
    book.close().unwrap();
    let note = with_suffix(&path, ".head");
    let whole = fs::read(&note).unwrap();
    let mut counts = BTreeMap::<String, usize>::new();
    for at in 0..whole.len() {
        for bit in 0..8 {
            let mut bytes = whole.clone();
            bytes[at] ^= 1 << bit;
            fs::write(&note, &bytes).unwrap();
            let looked = Book::open_to_examine(&path).unwrap().verify(None, None).unwrap();
            let opened = Book::open(&path, Access::Read).map(|_| ());
            // A flip that still reads as the same head (a letter's case, white space) is none.
            let said = match (looked.sound(), opened) {
                (true, Ok(())) => "reads the same",
                (false, Ok(())) => "found by verify",
                (false, Err(StoreError::TailLost { .. })) => "told as a lost tail",
                (sound, opened) => panic!("byte {at}, bit {bit}: {sound}, {opened:?}"),
            };
            *counts.entry(said.to_owned()).or_default() += 1;
        }
    }
    println!("flipped bits in the note of the head: {counts:?}");
    fs::remove_file(&note).unwrap();
    let verified = Book::open(&path, Access::Read).unwrap().verify(None, None).unwrap();
    assert!(verified.sound());
    assert!(verified.checks.iter().any(|c| c.notes.iter().any(|n| n.contains("no head is noted"))));
}

/// A single bit, wherever an entry or its place is written: at the worst one entry is lost.
#[test]
fn of_a_single_wrong_bit_the_entries_are_kept() {
    let mut chance = Chance::new("single bits");
    let world = World::new();
    let (path, held, whole) = on_disk(&world);
    // Pages in which entries stand, and the first, which says how all of them are read.
    let of_entries = |page: &usize| {
        let page = &whole[page * PAGE..(page + 1) * PAGE];
        page.windows(6).any(|w| w == b"LLyard") || page.windows(8).any(|w| w == b"\"serial\"")
    };
    let pages: Vec<usize> =
        (0..whole.len() / PAGE).filter(|page| *page == 0 || of_entries(page)).collect();
    assert!(pages.len() >= 5, "{pages:?}");
    let damaged = world.path("damaged.pipelore");
    let (mut lost, mut mended) = (0, 0);
    for round in 0..60 * soak() {
        let at = pages[chance.pick(pages.len())] * PAGE + chance.pick(PAGE);
        let bit = chance.pick(8);
        let mut bytes = whole.clone();
        bytes[at] ^= 1 << bit;
        copy_book(&path, &damaged);
        fs::write(&damaged, &bytes).unwrap();
        let what = format!("round {round}: byte {at}, bit {bit}");
        let rescued = world.path(&format!("rescued{round}.pipelore"));
        let done =
            Book::salvage(&damaged, &rescued, &SalvageDecision::default(), &world.stamp()).unwrap();
        let book = Book::open(&rescued, Access::Read).unwrap();
        let verified = book.verify(None, None).unwrap();
        assert!(verified.sound(), "{what}: {verified:#?}");
        let kept = keeps_what_it_says(&book, &done, &held, &what);
        assert!(kept + 1 >= held.len(), "{what}: {done:#?}");
        if kept < held.len() {
            println!("{what}: page {}, {:?}", at / PAGE, done.chains);
        }
        lost += held.len() - kept;
        mended += done.mended.len();
    }
    println!("single bits: {mended} entries mended, {lost} lost");
    assert!(mended > 0 && lost <= 1, "{mended} mended, {lost} lost");
}

/// Damage anywhere: what `salvage` writes is sound, and holds what the chain proves.
#[test]
fn whatever_is_damaged_a_salvage_is_sound() {
    let mut chance = Chance::new("salvage");
    let world = World::new();
    let (path, held, whole) = on_disk(&world);
    let damaged = world.path("damaged.pipelore");
    let (mut complete, mut partly, mut refused, mut by_pages, mut kept) = (0, 0, 0, 0, 0);
    let rounds = 30 * soak();
    for round in 0..rounds {
        let mut bytes = whole.clone();
        // One flip, one page of zeros, or the file cut.
        let page = chance.pick(whole.len() / PAGE);
        match round % 3 {
            0 => {
                let bit = chance.pick(8 * whole.len());
                bytes[bit / 8] ^= 1 << (bit % 8);
            }
            1 => bytes[page * PAGE..(page + 1) * PAGE].fill(0),
            _ => bytes.truncate((page + 1) * PAGE - 100),
        }
        copy_book(&path, &damaged);
        fs::write(&damaged, &bytes).unwrap();
        let before = bytes_of(&damaged);
        let rescued = world.path(&format!("rescued{round}.pipelore"));
        let what = format!("round {round}, page {page}");
        match Book::salvage(&damaged, &rescued, &SalvageDecision::default(), &world.stamp()) {
            Ok(done) => {
                let book = Book::open(&rescued, Access::Read).unwrap();
                let verified = book.verify(None, None).unwrap();
                assert!(verified.sound(), "{what}: {verified:#?}\n{done:#?}");
                let proven = keeps_what_it_says(&book, &done, &held, &what);
                if done.complete() {
                    complete += 1;
                } else {
                    partly += 1;
                }
                by_pages += usize::from(done.by_pages);
                kept += proven;
            }
            Err(StoreError::Damaged { .. }) => {
                assert!(!rescued.exists());
                refused += 1;
            }
            Err(e) => panic!("{what}: {e}"),
        }
        assert_eq!(bytes_of(&damaged), before, "{what}");
    }
    println!(
        "salvage: {complete} complete, {partly} in part, {refused} without anything to keep; \
         {by_pages} read from pages; {kept} of {} entries kept",
        held.len() as u64 * rounds
    );
    let _ = Fate::Whole;
}
