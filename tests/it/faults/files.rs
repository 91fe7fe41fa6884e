//! Files that are no book, not yet, or no more.

use std::fs;
use std::path::Path;

use pipelore::schema::{JointRow, Rows};
use pipelore::store::{Access, Book, StoreError};

use super::kill::of_first_layout;
use super::support::{answer, bytes_of, copy_book, pipelore, varied_book, with_suffix};
use crate::world::first_fault;
use crate::world::{World, small_fleet};

/// Refused by every command with exit code 4, in words that name the file, and left as it was.
fn refused(path: &Path, part: &str) {
    let before = bytes_of(path);
    for args in [
        &["verify"][..],
        &["trace", "K1-0001"],
        &["strike", "yard-2", "--reason", "x"],
        &["rebuild"],
        &["resume", "--reason", "x"],
    ] {
        let (code, said) = answer(&pipelore(path, args));
        assert_eq!(code, 4, "{args:?} on {}: {said}", path.display());
        assert!(said.contains(part), "{args:?}: {said}");
        assert!(said.contains(path.file_name().unwrap().to_str().unwrap()), "{said}");
    }
    assert_eq!(bytes_of(path), before, "{} was touched", path.display());
}

#[test]
fn what_is_no_book_is_refused_and_left_alone() {
    let world = World::new();
    let file = |name: &str, content: &[u8]| {
        fs::write(world.path(name), content).unwrap();
        world.path(name)
    };
    refused(&file("empty.pipelore", b""), "it is empty");
    refused(&file("text.pipelore", b"serial,od\nK1-0001,5 in\n"), "it is no SQLite file");
    let garbage: Vec<u8> =
        (0..40_000u32).map(|n| n.wrapping_mul(2_654_435_761).to_le_bytes()[2]).collect();
    refused(&file("garbage.pipelore", &garbage), "it is no SQLite file");
    refused(&world.path("absent.pipelore"), "there is no book");
    fs::create_dir(world.path("folder.pipelore")).unwrap();
    refused(&world.path("folder.pipelore"), "it is a folder");
    let other = world.path("other.pipelore");
    let conn = rusqlite::Connection::open(&other).unwrap();
    conn.execute_batch("CREATE TABLE songs (title TEXT); INSERT INTO songs VALUES ('x')").unwrap();
    conn.close().unwrap();
    refused(&other, "another program's database");
    // Marked as a book and without anything in it.
    let hollow = world.path("hollow.pipelore");
    let conn = rusqlite::Connection::open(&hollow).unwrap();
    conn.execute_batch("PRAGMA application_id = 0x706c6f72; CREATE TABLE t (x)").unwrap();
    conn.close().unwrap();
    refused(&hollow, "it has no ledger");
    #[cfg(unix)]
    {
        let pipe = world.path("pipe.pipelore");
        let made = std::process::Command::new("mkfifo").arg(&pipe).status();
        if made.is_ok_and(|s| s.success()) {
            refused(&pipe, "it is no regular file");
        }
        std::os::unix::fs::symlink(world.path("nowhere"), world.path("link.pipelore")).unwrap();
        refused(&world.path("link.pipelore"), "there is no book");
    }
}

#[test]
fn a_newer_book_and_a_cut_one_are_refused_and_left_alone() {
    let world = World::new();
    let mut book = world.book("a.pipelore");
    small_fleet(&world, &mut book, 3);
    let path = book.path().to_path_buf();
    book.close().unwrap();
    let whole = fs::read(&path).unwrap();
    let newer = world.path("newer.pipelore");
    let mut bytes = whole.clone();
    bytes[60..64].copy_from_slice(&77i32.to_be_bytes());
    fs::write(&newer, &bytes).unwrap();
    refused(&newer, "newer version");
    for length in [1, 15, 16, 40, 71, 99] {
        let cut = world.path("cut.pipelore");
        fs::write(&cut, &whole[..length]).unwrap();
        refused(&cut, "cut.pipelore");
    }
    let foreign = world.path("foreign.pipelore");
    fs::write(&foreign, &whole).unwrap();
    let conn = rusqlite::Connection::open(&foreign).unwrap();
    conn.execute_batch("UPDATE schema_migration SET sha256 = 'x' WHERE number = 2").unwrap();
    conn.close().unwrap();
    refused(&foreign, "laid out by other code");
}

#[test]
fn a_book_from_every_earlier_layout_is_brought_up_to_date() {
    let world = World::new();
    let modern = varied_book(&world, "modern.pipelore");
    let rows: Vec<JointRow> = modern.rows(&Rows::all()).unwrap();
    let head = modern.head().unwrap();
    let (from, old) = (modern.path().to_path_buf(), world.path("old.pipelore"));
    modern.close().unwrap();
    of_first_layout(&from, &old);
    // Even a question brings it up to date.
    let book = Book::open(&old, Access::Read).unwrap();
    assert_eq!(book.head().unwrap(), head);
    assert_eq!(book.rows::<JointRow>(&Rows::all()).unwrap(), rows);
    let verified = book.verify(None, None).unwrap();
    assert!(verified.sound(), "{verified:#?}");
    drop(book);
    // Projections that another version made are made anew.
    let conn = rusqlite::Connection::open(&old).unwrap();
    conn.execute_batch("UPDATE projection_state SET version = 1; DELETE FROM joint_run").unwrap();
    conn.close().unwrap();
    let book = Book::open(&old, Access::Read).unwrap();
    assert_eq!(book.rows::<JointRow>(&Rows::all()).unwrap(), rows);
    assert!(book.verify(None, None).unwrap().sound());
}

#[test]
fn a_migration_that_fails_changes_nothing() {
    let world = World::new();
    let modern = varied_book(&world, "modern.pipelore");
    let (from, old) = (modern.path().to_path_buf(), world.path("old.pipelore"));
    modern.close().unwrap();
    of_first_layout(&from, &old);
    // An entry that no fold can read stops the derivation at the end of the migration.
    let conn = rusqlite::Connection::open(&old).unwrap();
    conn.execute_batch(
        "DROP TRIGGER entry_is_never_changed;
         UPDATE entry SET body = '{' WHERE position = 5;",
    )
    .unwrap();
    conn.close().unwrap();
    let before = fs::read(&old).unwrap();
    let refused = Book::open(&old, Access::Write).unwrap_err();
    assert!(refused.to_string().contains("yard-5"), "{refused}");
    let conn = rusqlite::Connection::open(&old).unwrap();
    let version: i64 = conn.pragma_query_value(None, "user_version", |r| r.get(0)).unwrap();
    conn.close().unwrap();
    assert_eq!(version, 1);
    assert_eq!(fs::read(&old).unwrap().len(), before.len());
    // It can still be looked at, and salvaged.
    let looked = Book::open_to_examine(&old).unwrap().verify(None, None).unwrap();
    assert!(first_fault(&looked).unwrap().contains("yard-5"), "{looked:#?}");
}

#[test]
fn files_cut_short_are_refused_or_found_out() {
    let world = World::new();
    let book = varied_book(&world, "a.pipelore");
    let path = book.path().to_path_buf();
    book.close().unwrap();
    let whole = fs::read(&path).unwrap();
    let cut = world.path("cut.pipelore");
    let mut counts = std::collections::BTreeMap::<String, usize>::new();
    let pages = whole.len() / 8192;
    let mut lengths: Vec<usize> = (0..pages).step_by(3).map(|p| p * 8192).collect();
    lengths.extend((0..20).map(|n| whole.len() * n / 20 + 517));
    for length in lengths.into_iter().filter(|l| *l >= 100 && *l < whole.len()) {
        copy_book(&path, &cut);
        fs::write(&cut, &whole[..length]).unwrap();
        let fate = super::support::fate(&cut, &format!("cut at {length}"), |_| false);
        *counts.entry(format!("{fate:?}")).or_default() += 1;
    }
    println!("files cut short: {counts:?}");
    let _ = with_suffix(&cut, "");
    let error = Book::open(&world.path("none.pipelore"), Access::Read).unwrap_err();
    assert!(matches!(error, StoreError::NotFound { .. }));
}
