//! What stands beside a book: logs of another state, heads that are missing or cannot be read, names
//! that are taken, links.

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

use pipelore::model::{Body, NoteBody};
use pipelore::store::{Access, AppendOptions, Book, StoreError};

use super::support::{answer, binary, bytes_of, copy_book, pipelore, varied_book, with_suffix};
use crate::world::{World, draft};

fn note(text: &str) -> pipelore::model::Draft {
    draft(
        "2025-03-01",
        Body::Note(NoteBody { joints: Vec::new(), about: None, text: text.to_owned() }),
    )
}

/// Enters an event through the binary.
fn enter(path: &Path) -> (i32, String) {
    let event = ["enter", "event", "serial=K1-0001", "date=2025-03-01", "event=drop"];
    answer(&pipelore(path, &event))
}

fn due(path: &Path) -> (i32, String, String) {
    let output = pipelore(path, &["due", "--csv", "--now", "2025-04-01"]);
    let (code, said) = answer(&output);
    (code, String::from_utf8(output.stdout).unwrap(), said)
}

/// A book, a copy of an earlier state of it, and the same book as a crash leaves it: what was
/// written after the copy stands in the log alone.
fn crashed(world: &World, by_backup: bool) -> (std::path::PathBuf, std::path::PathBuf) {
    let book = varied_book(world, "a.pipelore");
    let path = book.path().to_path_buf();
    let copy = world.path("copy.pipelore");
    if by_backup {
        book.backup(&copy).unwrap();
        book.close().unwrap();
    } else {
        book.close().unwrap();
        fs::copy(&path, &copy).unwrap();
    }
    for text in ["one", "two"] {
        let mut book = Book::open(&path, Access::Write).unwrap();
        world.append(&mut book, &[note(text)]);
        book.close().unwrap();
    }
    let mut book = Book::open(&path, Access::Write).unwrap();
    world.append(&mut book, &[note("three")]);
    let left = world.path("left.pipelore");
    copy_book(&path, &left);
    assert!(with_suffix(&left, "-wal").exists());
    (left, copy)
}

#[test]
fn a_copy_beside_the_log_of_the_lost_book_is_refused_and_restore_does_it_right() {
    for by_backup in [true, false] {
        let world = World::new();
        let (path, copy) = crashed(&world, by_backup);
        let sound = bytes_of(&path);
        let (code, expected, _) = due(&path);
        assert_eq!(code, 0);
        assert!(expected.lines().count() > 1, "{expected}");

        // Put back by hand, beside what the lost book left.
        fs::copy(&copy, &path).unwrap();
        let (code, out, said) = due(&path);
        assert_eq!((code, out.as_str()), (4, ""), "{said}");
        assert!(said.contains("is of another state of the book"), "{said}");
        assert!(said.contains("pipelore restore"), "{said}");
        assert_eq!(enter(&path).0, 4);

        // The same, by the command that is for it.
        for (suffix, bytes) in ["", "-wal", ".head"].iter().zip(sound) {
            fs::write(with_suffix(&path, suffix), bytes.unwrap()).unwrap();
        }
        let copy = copy.to_str().unwrap();
        let output = pipelore(&path, &["restore", copy, "--reason", "disk failed"]);
        let (code, said) = answer(&output);
        assert_eq!(code, 0, "{said}");
        let told = String::from_utf8(output.stdout).unwrap();
        assert!(told.contains("yard/2") && told.contains("lost up to"), "{told}");
        let (code, out, _) = due(&path);
        assert_eq!((code, out), (0, expected));
        assert_eq!(answer(&pipelore(&path, &["verify"])).0, 0);
        // What was lost is set aside whole, and can be read.
        let aside = with_suffix(&path, ".set-aside-1");
        let again = world.path("again.pipelore");
        let salvaged = pipelore(
            &path,
            &["salvage", aside.to_str().unwrap(), "-o", again.to_str().unwrap(), "--json"],
        );
        assert_eq!(answer(&salvaged).0, 0);
    }
}

#[test]
fn a_log_that_is_the_books_own_is_read_wherever_the_writer_stopped() {
    let world = World::new();
    let path = world.path("a.pipelore");
    varied_book(&world, "a.pipelore").close().unwrap();
    let left = world.path("left.pipelore");
    let mut entries = 0;
    // Folded in never, partly and wholly, by one command and by several.
    for round in 0..12 {
        let mut book = Book::open(&path, Access::Write).unwrap();
        let reader = Book::open(&path, Access::Read).unwrap();
        for n in 0..=round % 4 {
            world.append(&mut book, &[note(&format!("{round}.{n}"))]);
            crate::world::checkpoint(&path);
            copy_book(&path, &left);
            entries = book.length().unwrap();
            assert_eq!(Book::open(&left, Access::Read).unwrap().length().unwrap(), entries);
        }
        drop(reader);
        book.close().unwrap();
    }
    assert!(entries > 60);
}

#[test]
fn an_unreadable_head_stops_writing_and_a_missing_one_is_said_each_time() {
    let world = World::new();
    varied_book(&world, "a.pipelore").close().unwrap();
    let path = world.path("a.pipelore");
    let head = with_suffix(&path, ".head");
    let noted = fs::read(&head).unwrap();
    for broken in [&b""[..], b"yard", b"\xff\xfe", b"rig-3 00"] {
        fs::write(&head, broken).unwrap();
        let before = bytes_of(&path);
        let (code, said) = enter(&path);
        assert_eq!(code, 4, "{said}");
        assert!(said.contains("cannot be read as the head"), "{said}");
        assert!(bytes_of(&path)[0] == before[0], "the book was touched");
        // Questions are answered.
        assert_eq!(due(&path).0, 0);
    }
    assert_eq!(answer(&pipelore(&path, &["verify", "--note-head"])).0, 0);
    assert_eq!(fs::read(&head).unwrap(), noted);

    fs::remove_file(&head).unwrap();
    for _ in 0..2 {
        let (code, said) = enter(&path);
        assert_eq!(code, 0, "{said}");
        assert!(said.contains("no head stands beside the book"), "{said}");
        assert!(!head.exists());
    }
    assert_eq!(answer(&pipelore(&path, &["verify", "--note-head"])).0, 0);
    let (code, said) = enter(&path);
    assert_eq!((code, said.contains("no head stands")), (0, false), "{said}");
    assert_ne!(fs::read(&head).unwrap(), noted);
    // A head that the book does not hold is no head to be noted over.
    let lost = fs::read(&head).unwrap();
    let older = world.path("older.pipelore");
    varied_book(&world, "older.pipelore").close().unwrap();
    fs::write(with_suffix(&older, ".head"), &lost).unwrap();
    let (code, said) = answer(&pipelore(&older, &["verify", "--note-head"]));
    assert_eq!(code, 4, "{said}");
    assert!(said.contains("has lost its tail"), "{said}");
}

#[test]
fn a_command_left_open_beside_a_new_epoch_writes_nothing_in_the_old_one() {
    let world = World::new();
    let mut open = varied_book(&world, "a.pipelore");
    let path = open.path().to_path_buf();
    assert_eq!(answer(&pipelore(&path, &["resume", "--reason", "moved"])).0, 0);
    let entries = open.length().unwrap();
    let refused =
        open.append(&[note("late")], &world.stamp(), &AppendOptions::default()).unwrap_err();
    assert!(matches!(refused, StoreError::OtherEpoch { .. }), "{refused}");
    assert_eq!(open.length().unwrap(), entries);
    open.close().unwrap();
    assert_eq!(answer(&pipelore(&path, &["verify"])).0, 0);
}

#[test]
fn names_that_are_taken_are_left_alone() {
    let world = World::new();
    let book = varied_book(&world, "a.pipelore");
    let path = book.path().to_path_buf();
    let to = world.path("copy.pipelore");
    for suffix in ["-wal", "-shm", "-journal", ".head"] {
        let left = with_suffix(&to, suffix);
        fs::write(&left, b"of an earlier book").unwrap();
        for command in [&["backup", "copy.pipelore"][..], &["new", "--site", "yard"]] {
            let at = if command[0] == "new" { &to } else { &path };
            let (code, said) = answer(&pipelore(at, command));
            assert_eq!(code, 2, "{said}");
            assert!(said.contains("left of an earlier book"), "{said}");
        }
        assert!(!to.exists());
        fs::remove_file(&left).unwrap();
    }
    // What a file is called while it is made is nobody's file.
    for name in ["copy.pipelore.new", "out.jsonl.new", "a.pipelore.head.new"] {
        fs::write(world.path(name), b"mine").unwrap();
    }
    assert_eq!(answer(&pipelore(&path, &["backup", "copy.pipelore"])).0, 0);
    assert_eq!(answer(&pipelore(&path, &["bundle", "out", "out.jsonl"])).0, 0);
    assert_eq!(enter(&path).0, 0);
    for name in ["copy.pipelore.new", "out.jsonl.new", "a.pipelore.head.new"] {
        assert_eq!(fs::read(world.path(name)).unwrap(), b"mine", "{name}");
    }
}

/// What has no end, or no beginning, is waited for by no command, whether it is named or stands beside
/// the book.
#[cfg(unix)]
#[test]
fn pipes_and_devices_are_not_read() {
    use std::os::unix::fs::symlink;
    let world = World::new();
    let book = varied_book(&world, "a.pipelore");
    let path = book.path().to_path_buf();
    book.close().unwrap();
    let pipe = world.path("pipe");
    if !Command::new("mkfifo").arg(&pipe).status().is_ok_and(|made| made.success()) {
        println!("skipped: no pipe can be made here");
        return;
    }
    symlink("/dev/zero", world.path("zero")).unwrap();
    // A command that reads one is ended, and fails.
    let bounded = |words: &[&str]| {
        let plain = binary(&path, words);
        let mut command = Command::new("timeout");
        command.arg("60").arg(plain.get_program()).args(plain.get_args()).env_clear();
        command.envs(plain.get_envs().filter_map(|(k, v)| Some((k, v?))));
        answer(&command.current_dir(world.path("")).output().unwrap())
    };
    for file in ["pipe", "zero"] {
        for words in [
            &["load", file][..],
            &["load", "x.csv", "--answers", file],
            &["rules", "--use", file],
            &["limits", "--use", file],
            &["edition", "--use", file],
            &["statement", "H-1", "--prices", file],
            &["count", file, "--at", "Yard"],
            &["bundle", "in", file],
            &["seal", "trust", file, "--reason", "x"],
            &["restore", file, "--reason", "x"],
            &["salvage", file, "-o", "s.pipelore"],
        ] {
            let (code, said) = bounded(words);
            assert!((2..=4).contains(&code), "{words:?}: {code} {said}");
        }
    }
    let head = with_suffix(&path, ".head");
    let kept = fs::read(&head).unwrap();
    for strange in [&pipe, &world.path("zero")] {
        fs::remove_file(&head).unwrap();
        symlink(strange, &head).unwrap();
        assert_eq!(bounded(&["find", "true"]).0, 0);
        assert_eq!(bounded(&["strike", "yard-45", "--reason", "x"]).0, 4);
    }
    fs::remove_file(&head).unwrap();
    fs::write(&head, kept).unwrap();
    let log = with_suffix(&path, "-wal");
    let _ = fs::remove_file(&log);
    symlink(&pipe, &log).unwrap();
    let (code, said) = bounded(&["salvage", "a.pipelore", "-o", "t.pipelore"]);
    assert_eq!(code, 4, "{said}");
    assert!(!world.path("t.pipelore").exists());
}

#[cfg(unix)]
#[test]
fn a_book_has_one_head_whatever_it_is_called_by() {
    use std::os::unix::fs::symlink;
    let world = World::new();
    varied_book(&world, "a.pipelore").close().unwrap();
    let path = world.path("a.pipelore");
    let link = world.path("link.pipelore");
    symlink(&path, &link).unwrap();
    assert_eq!(enter(&link).0, 0);
    assert_eq!(enter(&path).0, 0);
    assert!(!with_suffix(&link, ".head").exists() && !with_suffix(&link, "-wal").exists());
    // The log beside the file is found through the link.
    let world2 = World::new();
    let (left, _) = crashed(&world2, true);
    let link2 = world2.path("link.pipelore");
    symlink(&left, &link2).unwrap();
    let out = world2.path("out.pipelore");
    let args = ["salvage", link2.to_str().unwrap(), "-o", out.to_str().unwrap()];
    let (code, said) = answer(&pipelore(&left, &args));
    assert_eq!(code, 0, "{said}");
    // A dangling link is no place for a new file.
    let dangling = world.path("dangling.jsonl");
    symlink(world.path("elsewhere.jsonl"), &dangling).unwrap();
    assert_eq!(answer(&pipelore(&path, &["bundle", "out", "dangling.jsonl"])).0, 2);
    assert!(!world.path("elsewhere.jsonl").exists());
    // Two names of one file would have two heads.
    fs::hard_link(&path, world.path("twin.pipelore")).unwrap();
    let (code, said) = enter(&path);
    assert_eq!(code, 4, "{said}");
    assert!(said.contains("names of the same file"), "{said}");
}

/// A reading that somebody altered in the file, with its own hash and without.
#[test]
fn an_answer_that_rests_on_an_altered_entry_is_refused() {
    use pipelore::ledger::Hash;
    for rehashed in [false, true] {
        let world = World::new();
        let book = varied_book(&world, "a.pipelore");
        let path = book.path().to_path_buf();
        let mut altered = None;
        book.each_entry(|e| {
            if e.raw.kind == "inspection" && altered.is_none() {
                altered = Some(e);
            }
            Ok(())
        })
        .unwrap();
        book.close().unwrap();
        let mut altered = altered.unwrap();
        altered.raw.body = altered.raw.body.replace("0.300", "0.360");
        if rehashed {
            altered.hash = Hash::of_entry(&altered.prev, &altered.raw, &mut Vec::new());
        }
        crate::world::unguarded(&path, |c| {
            let sql = "UPDATE entry SET body = ?1, hash = ?2 WHERE position = ?3";
            let row = (&altered.raw.body, &altered.hash.0[..], altered.position);
            assert_eq!(c.execute(sql, row).unwrap(), 1);
        });
        let page = world.path("page.html");
        let (page, told) = (page.to_str().unwrap(), if rehashed { "hash" } else { "altered" });
        for args in [
            &["trace", "K1-0001"][..],
            &["dossier", "K1-0001", "-o", page],
            &["rebuild"],
            &["enter", "event", "serial=K1-0001", "date=2025-03-01", "event=drop"],
        ] {
            if rehashed && args[0] == "enter" {
                continue;
            }
            let (code, said) = answer(&pipelore(&path, args));
            assert_eq!(code, 4, "{args:?}: {said}");
            assert!(said.contains(told), "{args:?}: {said}");
            assert!(said.contains("pipelore verify"), "{args:?}: {said}");
        }
        assert!(!Path::new(page).exists());
        assert_eq!(answer(&pipelore(&path, &["verify"])).0, 1);
        // What does not rest on it is answered.
        assert_eq!(answer(&pipelore(&path, &["trace", "K1-0005"])).0, 0);
    }
}

#[cfg(target_os = "linux")]
#[test]
fn written_and_not_shown_is_told_from_not_written() {
    let world = World::new();
    varied_book(&world, "a.pipelore").close().unwrap();
    let path = world.path("a.pipelore");
    let full = || Stdio::from(fs::OpenOptions::new().write(true).open("/dev/full").unwrap());
    let event = ["enter", "event", "serial=K1-0001", "date=2025-03-01", "event=drop"];
    let before = Book::open(&path, Access::Read).unwrap().length().unwrap();
    let output = binary(&path, &event).stdout(full()).stderr(Stdio::piped()).output().unwrap();
    let (code, said) = answer(&output);
    assert_eq!(code, 6, "{said}");
    assert!(said.contains("the book was written to and ends at yard-"), "{said}");
    assert!(said.contains("do not write it again"), "{said}");
    assert_eq!(Book::open(&path, Access::Read).unwrap().length().unwrap(), before + 1);
    // A trial writes nothing, and says nothing else.
    let strike = ["strike", "yard-2", "--reason", "x", "--dry-run"];
    let output = binary(&path, &strike).stdout(full()).stderr(Stdio::piped()).output().unwrap();
    let (code, said) = answer(&output);
    assert_eq!(code, 4, "{said}");
    assert!(!said.contains("was written to"), "{said}");
}
