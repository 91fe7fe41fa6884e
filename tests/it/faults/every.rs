//! Every command that can write to a book, through every fault: ended at a system call, a write that the
//! disk refuses, a read that fails, a log of another state, another writer, another reader, an output that
//! is closed. Which commands those are the program tells: each declares it in the table of commands, and
//! its help shows it; one that is added without a case here fails the first test.
//!
//! System calls are counted and broken by `strace`; where there is none, the tests that need it say so.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::sync::LazyLock;

use pipelore::store::{Access, Book, StoreError};

use super::support::{Chance, answer, binary, bytes_of, pipelore, soak, with_suffix};
use crate::world::{World, draft, inspection, joint, joint_ref, small_fleet};

/// A command as it is broken.
struct Case {
    words: &'static [&'static str],
    /// The book that it makes, or the copy.
    makes: Option<&'static str>,
}

const fn case(words: &'static [&'static str]) -> Case {
    Case { words, makes: None }
}

const fn making(words: &'static [&'static str], file: &'static str) -> Case {
    Case { words, makes: Some(file) }
}

const BOOK: &str = "a.pipelore";

const CASES: &[Case] = &[
    making(&["new", "fresh.pipelore", "--site", "other"], "fresh.pipelore"),
    making(&["demo", "made", "--json"], "made/demo.pipelore"),
    case(&["load", "more.csv"]),
    case(&["load", "said.csv", "--columns", "Dia = od [mm]"]),
    case(&["layouts", "drop", "yard-10", "--reason", "x"]),
    case(&["enter", "event", "serial=K1-0001", "date=2025-03-01", "event=drop"]),
    case(&["enter", "amend", "entry=yard-3", "grade=S-135", "reason=misread"]),
    case(&["edition", "--use", "shipped", "--remark", "x"]),
    case(&["limits", "--use", "shipped"]),
    case(&["rules", "--use", "rules.toml"]),
    case(&["count", "rack.csv", "--at", "Elsewhere", "--enter"]),
    case(&["strike", "yard-5", "--reason", "x"]),
    case(&["clock", "--set", "Europe/Oslo", "--reason", "x"]),
    case(&["verify", "--note-head"]),
    case(&["rebuild"]),
    making(&["backup", "b.pipelore"], "b.pipelore"),
    case(&["bundle", "in", "rig.jsonl"]),
    case(&["bundle", "out", "out.jsonl"]),
    case(&["restore", "copy.pipelore", "--reason", "x"]),
    case(&["resume", "--reason", "moved"]),
    making(&["salvage", BOOK, "-o", "s.pipelore"], "s.pipelore"),
    case(&["seal", "trust", "rig.key.pub", "--reason", "x"]),
];

/// What the help of a command says that can write to a book.
const WRITES: &str = "What is written is written whole or not at all";

/// What the commands work on: a book, a copy of an earlier state, a bundle, a key, files.
static GROUND: LazyLock<tempfile::TempDir> = LazyLock::new(|| {
    let world = World::new();
    let mut book = world.book(BOOK);
    small_fleet(&world, &mut book, 4);
    book.backup(&world.path("copy.pipelore")).unwrap();
    let introduced = "yard-3".parse().unwrap();
    let read = draft("2025-02-15", inspection(&joint_ref("K1-0001", &introduced), "0.330 in"));
    world.append(&mut book, &[read]);
    let path = book.path().to_path_buf();
    book.close().unwrap();
    let mut rig = world.book_of("rig.pipelore", "rig");
    world.append(&mut rig, &[draft("2025-01-10", joint("R-1", true))]);
    let rig_path = rig.path().to_path_buf();
    rig.close().unwrap();
    let done = |book: &Path, words: &[&str]| {
        let output = pipelore(book, words);
        assert_eq!(answer(&output).0, 0, "{words:?}: {}", answer(&output).1);
        String::from_utf8(output.stdout).unwrap()
    };
    done(&rig_path, &["bundle", "out", "rig.jsonl"]);
    done(&rig_path, &["seal", "key", "rig.key"]);
    fs::write(world.path("rules.toml"), done(&path, &["rules", "--text"])).unwrap();
    let joints = "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [ft],\
                  Connection,TJ OD [in],TJ ID [in],Received\n\
                  L-1,drill pipe,yes,5,.362,19.50,G-105,31.2,NC50,6 5/8,3 1/4,2024-01-05\n";
    fs::write(world.path("more.csv"), joints).unwrap();
    let said = |serial: &str| {
        format!("Serial,Component,New,Dia,Received\n{serial},drill pipe,yes,127,2024-01-05\n")
    };
    fs::write(world.path("told.csv"), said("L-2")).unwrap();
    fs::write(world.path("said.csv"), said("L-3")).unwrap();
    done(&path, &["load", "told.csv", "--columns", "Dia = od [mm]"]);
    fs::write(world.path("rack.csv"), "Serial\nK1-0001\nK1-0002\n").unwrap();
    let ground = tempfile::tempdir().unwrap();
    copy_files(&world.path(""), ground.path());
    ground
});

/// Copies files; shared memory is SQLite's own and made anew.
fn copy_files(from: &Path, to: &Path) {
    for entry in fs::read_dir(from).unwrap() {
        let from = entry.unwrap().path();
        if from.is_file() && !from.to_str().unwrap().ends_with("-shm") {
            fs::copy(&from, to.join(from.file_name().unwrap())).unwrap();
        }
    }
}

/// A folder of its own in which a case is broken.
struct Trial {
    dir: tempfile::TempDir,
    entries: i64,
}

impl Trial {
    fn new() -> Self {
        let dir = tempfile::tempdir().unwrap();
        copy_files(GROUND.path(), dir.path());
        let entries = Book::open(&dir.path().join(BOOK), Access::Read).unwrap().length().unwrap();
        Self { dir, entries }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    fn command(&self, words: &[&str]) -> Command {
        binary(&self.path(BOOK), words)
    }

    /// The same under `strace`, which breaks a system call.
    fn broken(&self, words: &[&str], inject: &str) -> Output {
        let plain = self.command(words);
        let mut command = Command::new("strace");
        command.args(["-f", "-qq", "-o", "/dev/null", "-e", &format!("inject={inject}")]);
        command.arg(plain.get_program()).args(plain.get_args()).env_clear();
        command.envs(plain.get_envs().filter_map(|(k, v)| Some((k, v?))));
        command.current_dir(self.dir.path()).output().unwrap()
    }

    /// Entries of the book; none while it has just been put aside.
    fn entries(&self, what: &str) -> Option<i64> {
        match Book::open(&self.path(BOOK), Access::Read) {
            Ok(book) => Some(book.length().unwrap()),
            // Put back, and the new epoch not begun yet.
            Err(StoreError::NotFound { .. } | StoreError::TailLost { .. }) => None,
            Err(e) => panic!("{what}: {e}"),
        }
    }

    /// What was done is whole or was not done, and says which; done again it comes to its end, and all
    /// books are sound.
    fn check(&self, case: &Case, output: &Output, delta: i64, what: &str) {
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(!said.contains("panicked"), "{what}: {said}");
        let restores = case.words[0] == "restore";
        if let Some(now) = self.entries(what) {
            let grown = now - self.entries;
            assert!(
                restores || grown == 0 || grown == delta,
                "{what}: {grown} entries more: {said}"
            );
            match output.status.code() {
                Some(0 | 6) => assert_eq!(grown, delta, "{what}: {said}"),
                Some(_) => assert!(restores || grown == 0, "{what}: not refused whole: {said}"),
                None => {}
            }
        } else {
            assert!(restores, "{what}: the book is gone: {said}");
        }
        if let Some(name) = case.makes
            && self.path(name).exists()
        {
            sound(&self.path(name), what);
        }
        // A demo takes long, and what it makes was looked at.
        if case.words[0] != "demo" {
            let again = self.command(case.words).output().unwrap();
            let (code, said) = answer(&again);
            let stands = said.contains("already") || said.contains("is entered");
            assert!(code == 0 || code == 2 && stands, "{what}, again: {code} {said}");
        }
        sound(&self.path(BOOK), what);
    }
}

fn sound(path: &Path, what: &str) {
    let book = Book::open(path, Access::Read).unwrap_or_else(|e| panic!("{what}: {e}"));
    let verified = book.verify(None, None).unwrap();
    assert!(verified.sound(), "{what}: {verified:#?}");
}

/// How many entries a case adds, where nothing is broken; it must come to its end.
fn unbroken(case: &Case) -> i64 {
    let trial = Trial::new();
    let output = trial.command(case.words).output().unwrap();
    let (code, said) = answer(&output);
    assert_eq!(code, 0, "{:?}: {said}", case.words);
    trial.entries("unbroken").unwrap() - trial.entries
}

pub fn has_strace() -> bool {
    let traced = Command::new("strace")
        .args(["-o", "/dev/null", "true"])
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|s| s.success());
    if !traced {
        println!("skipped: strace cannot be had here");
    }
    traced
}

/// How often a case makes each of some system calls.
fn counted(case: &Case, calls: &[&str]) -> Vec<(String, u64)> {
    let trial = Trial::new();
    let plain = trial.command(case.words);
    let out = trial.path("calls.txt");
    let mut command = Command::new("strace");
    command.args(["-f", "-qq", "-o", out.to_str().unwrap(), "-e"]);
    command.arg(format!("trace={}", calls.join(",")));
    command.arg(plain.get_program()).args(plain.get_args()).env_clear();
    command.envs(plain.get_envs().filter_map(|(k, v)| Some((k, v?))));
    assert!(command.current_dir(trial.dir.path()).output().unwrap().status.success());
    let text = fs::read_to_string(out).unwrap();
    let of = |call: &&str| {
        let lines = text.lines().filter(|l| l.contains(&format!(" {call}("))).count();
        ((*call).to_owned(), lines as u64)
    };
    calls.iter().map(of).filter(|(_, n)| *n > 0).collect()
}

/// Breaks every case at some of its calls, more of them in a longer run.
fn campaign(name: &str, calls: &[&str], fault: &str, each: u64) {
    if !has_strace() {
        return;
    }
    let mut chance = Chance::new(name);
    let mut rounds = 0;
    for case in CASES {
        let is_demo = case.words[0] == "demo";
        // The demo takes seconds; a longer run has the time.
        if is_demo && soak() == 1 {
            continue;
        }
        let delta = unbroken(case);
        let counts = counted(case, calls);
        let all: u64 = counts.iter().map(|(_, n)| n).sum();
        for _ in 0..(each * soak()).min(all) {
            let mut at = chance.below(all);
            let (call, _) = counts
                .iter()
                .find(|(_, n)| {
                    let here = at < *n;
                    at -= if here { 0 } else { *n };
                    here
                })
                .unwrap();
            let inject = format!("{call}:{fault}:when={}", at + 1);
            let trial = Trial::new();
            let output = trial.broken(case.words, &inject);
            trial.check(case, &output, delta, &format!("{:?} under {inject}", case.words));
            rounds += 1;
        }
    }
    println!("{name}: {rounds} rounds");
}

#[test]
fn every_command_that_writes_has_a_case() {
    let all = pipelore(&GROUND.path().join(BOOK), &["--help"]);
    let all = String::from_utf8(all.stdout).unwrap();
    let names = all.lines().skip_while(|l| !l.starts_with("Commands:")).skip(1);
    let names: Vec<&str> = names
        .take_while(|l| !l.is_empty())
        .filter(|l| l.starts_with("  ") && !l.starts_with("   "))
        .filter_map(|l| l.split_whitespace().next())
        .collect();
    assert!(names.len() > 20, "{all}");
    let writes = |name: &&&str| {
        let help = pipelore(&GROUND.path().join(BOOK), &[name, "--help"]);
        String::from_utf8(help.stdout).unwrap().replace('\n', " ").contains(WRITES)
    };
    let declared: BTreeSet<&str> = names.iter().filter(writes).copied().collect();
    let broken: BTreeSet<&str> = CASES.iter().map(|c| c.words[0]).collect();
    assert_eq!(declared, broken);
}

#[test]
fn ended_at_a_system_call() {
    let calls = [
        "write",
        "pwrite64",
        "fsync",
        "fdatasync",
        "ftruncate",
        "rename",
        "renameat",
        "renameat2",
        "link",
        "linkat",
        "unlink",
        "unlinkat",
        "openat",
        "pread64",
    ];
    campaign("ended at a system call", &calls, "signal=KILL", 3);
}

#[test]
fn a_write_that_the_disk_refuses() {
    campaign("a full disk", &["pwrite64", "write", "ftruncate"], "error=ENOSPC", 1);
    campaign("a disk that fails", &["fsync", "fdatasync", "pwrite64"], "error=EIO", 1);
}

#[test]
fn a_read_that_fails() {
    campaign("a read that fails", &["pread64", "read"], "error=EIO", 1);
}

#[test]
fn an_output_that_is_closed_or_full() {
    for case in CASES.iter().filter(|c| c.words[0] != "demo") {
        let delta = unbroken(case);
        let trial = Trial::new();
        let full = fs::OpenOptions::new().write(true).open("/dev/full");
        let Ok(full) = full else { return };
        let output = trial.command(case.words).stdout(full).output().unwrap();
        let what = format!("{:?} with a full output", case.words);
        assert_ne!(output.status.code(), Some(0), "{what}");
        trial.check(case, &output, delta, &what);
        let trial = Trial::new();
        let mut child = trial
            .command(case.words)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        drop(child.stdout.take());
        let output = child.wait_with_output().unwrap();
        trial.check(case, &output, delta, &format!("{:?} with a closed output", case.words));
    }
}

#[test]
fn a_log_of_another_state() {
    // What was written after a copy stands in the log alone, and the copy is put beside it.
    let stale = Trial::new();
    let copy = fs::read(stale.path(BOOK)).unwrap();
    for text in ["text=one", "text=two"] {
        let output = stale.command(&["enter", "note", text]).output().unwrap();
        assert_eq!(answer(&output).0, 0);
    }
    let mut open = Book::open(&stale.path(BOOK), Access::Write).unwrap();
    let note = draft("2025-03-01", joint("Z-1", true));
    World::new().append(&mut open, &[note]);
    let log = fs::read(with_suffix(&stale.path(BOOK), "-wal")).unwrap();
    assert!(!log.is_empty());
    drop(open);
    for case in CASES.iter().filter(|c| c.words[0] != "demo") {
        let trial = Trial::new();
        fs::write(trial.path(BOOK), &copy).unwrap();
        fs::write(with_suffix(&trial.path(BOOK), "-wal"), &log).unwrap();
        let before = bytes_of(&trial.path(BOOK));
        let (code, said) = answer(&trial.command(case.words).output().unwrap());
        match case.words[0] {
            // They work on no book that is there, or are for one in this state.
            "new" | "restore" | "salvage" => assert!(code < 2, "{:?}: {said}", case.words),
            _ => {
                assert_eq!(code, 4, "{:?}: {said}", case.words);
                assert!(said.contains("of another state"), "{:?}: {said}", case.words);
                assert!(bytes_of(&trial.path(BOOK)) == before, "{:?}", case.words);
            }
        }
    }
}

#[test]
fn beside_another_writer_and_another_reader() {
    let cases = || CASES.iter().filter(|c| c.words[0] != "demo");
    // A writer is waited for, in all at once.
    let waiting: Vec<_> = cases()
        .map(|case| {
            let trial = Trial::new();
            let other = rusqlite::Connection::open(trial.path(BOOK)).unwrap();
            other.execute_batch("BEGIN IMMEDIATE").unwrap();
            let mut command = trial.command(case.words);
            let child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
            (case, trial, other, child)
        })
        .collect();
    for (case, trial, other, child) in waiting {
        let (code, said) = answer(&child.wait_with_output().unwrap());
        let reads = ["new", "backup", "salvage"].contains(&case.words[0])
            || case.words.get(1) == Some(&"out");
        assert_eq!(code, if reads { 0 } else { 4 }, "{:?}: {said}", case.words);
        other.execute_batch("ROLLBACK").unwrap();
        drop(other);
        assert_eq!(trial.entries("beside a writer"), Some(trial.entries), "{:?}", case.words);
        sound(&trial.path(BOOK), "beside a writer");
    }
    for case in cases() {
        let delta = unbroken(case);
        let trial = Trial::new();
        let reader = rusqlite::Connection::open(trial.path(BOOK)).unwrap();
        reader.execute_batch("BEGIN; SELECT count(*) FROM entry").unwrap();
        let output = trial.command(case.words).output().unwrap();
        let (code, said) = answer(&output);
        // A book that somebody reads is not put aside.
        let in_use = case.words[0] == "restore";
        assert_eq!(code, if in_use { 4 } else { 0 }, "{:?}: {said}", case.words);
        drop(reader);
        let what = format!("{:?} beside a reader", case.words);
        trial.check(case, &output, delta, &what);
    }
}
