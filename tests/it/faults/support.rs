//! What the campaigns share: a seeded source of chance, the real binary, a book with every kind of
//! page, copies of books.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use pipelore::store::{Access, Book, StoreError};

pub use crate::chance::Chance;
use crate::world::{World, draft, inspection, joint, joint_ref, run, survey};

/// How many times longer than in an ordinary run to look.
pub fn soak() -> u64 {
    u64::from(crate::histories::soak())
}

/// Runs the real binary.
pub fn pipelore(book: &Path, args: &[&str]) -> Output {
    binary(book, args).output().unwrap()
}

pub fn binary(book: &Path, args: &[&str]) -> Command {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("pipelore"));
    command
        .args(args)
        .env_clear()
        .env("PIPELORE_BOOK", book)
        .env("PIPELORE_AUTHOR", "tester")
        .env("TMPDIR", std::env::temp_dir())
        .current_dir(book.parent().unwrap());
    command
}

/// Exit code and what was said on stderr; a panic is never an answer.
pub fn answer(output: &Output) -> (i32, String) {
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    let code = output.status.code().unwrap_or_else(|| panic!("ended by a signal: {said}"));
    assert!(code != 101 && !said.contains("panicked"), "{said}");
    (code, said)
}

pub fn with_suffix(path: &Path, suffix: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(suffix);
    PathBuf::from(name)
}

/// Copies a book as it stands, log and note of the head included (the shared memory is SQLite's
/// own and made anew).
pub fn copy_book(from: &Path, to: &Path) {
    for suffix in ["", "-wal", ".head"] {
        let _ = fs::remove_file(with_suffix(to, suffix));
        let part = with_suffix(from, suffix);
        if part.exists() {
            fs::copy(part, with_suffix(to, suffix)).unwrap();
        }
    }
    let _ = fs::remove_file(with_suffix(to, "-shm"));
}

/// The bytes of everything that belongs to a book.
pub fn bytes_of(path: &Path) -> Vec<Option<Vec<u8>>> {
    let regular = |p: &PathBuf| fs::metadata(p).is_ok_and(|m| m.is_file());
    let parts = ["", "-wal", ".head"].iter().map(|s| with_suffix(path, s));
    // A pipe would wait for somebody to write to it.
    parts.map(|p| if regular(&p) { fs::read(p).ok() } else { None }).collect()
}

/// A book whose file has pages of every kind: inner and leaf pages of tables and indexes, chains of
/// overflow pages, free pages.
pub fn varied_book(world: &World, name: &str) -> Book {
    let mut book = world.book(name);
    let serials: Vec<String> = (1..=40).map(|n| format!("K1-{n:04}")).collect();
    let drafts: Vec<_> = serials.iter().map(|s| draft("2025-01-10", joint(s, true))).collect();
    let done = world.append(&mut book, &drafts);
    let joints: Vec<_> =
        serials.iter().zip(&done.entries).map(|(s, id)| joint_ref(s, id)).collect();
    world.append(&mut book, &[draft("2025-01-15", survey("Larkfield 1H"))]);
    // A tally of 40 joints and 20 segments runs over several pages.
    world.append(
        &mut book,
        &[draft("2025-02-06", run("R1", "Larkfield 1H", "2025-02-01", &joints))],
    );
    for (n, j) in joints.iter().enumerate() {
        let wall = format!("0.{} in", 300 + n);
        world.append(&mut book, &[draft("2025-02-15", inspection(j, &wall))]);
    }
    book.rebuild().unwrap();
    let path = book.path().to_path_buf();
    book.close().unwrap();
    Book::open(&path, Access::Write).unwrap()
}

/// How a damaged book answered.
#[derive(Debug, PartialEq, Eq, Clone, Copy)]
pub enum Fate {
    /// Refused at the door.
    Refused,
    /// Opened, and `verify` says what is wrong.
    Found,
    /// Opened and sound, with all that was in it.
    Whole,
}

/// Opens and verifies a book that was tampered with. `whole` says whether a book that proves sound
/// holds all it should.
pub fn fate(path: &Path, what: &str, whole: impl FnOnce(&Book) -> bool) -> Fate {
    let book = match Book::open(path, Access::Read) {
        Ok(book) => book,
        Err(e) => return refused(&e, what),
    };
    match book.verify(None, None) {
        Err(e) => refused(&e, what),
        Ok(verified) if !verified.sound() => Fate::Found,
        Ok(_) => {
            assert!(whole(&book), "{what}: proved sound and is not what it was");
            Fate::Whole
        }
    }
}

fn refused(error: &StoreError, what: &str) -> Fate {
    // Anything but a full stop: what kind of error is told in words that name the file.
    let said = error.to_string();
    assert!(!said.is_empty(), "{what}");
    assert!(
        !matches!(error, StoreError::Deadline { .. } | StoreError::Refused(_)),
        "{what}: {said}"
    );
    Fate::Refused
}
