//! No space, no leave to write, someone else writing.

use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use pipelore::store::{Access, AppendOptions, Book};
use pipelore::units::UnitSystem;

use super::child::{acknowledged, start};
use super::support::{answer, binary, bytes_of, pipelore, soak, varied_book, with_suffix};
use crate::world::{World, draft, edition, small_fleet};

/// A small file system in memory, where this machine lets us have one.
struct SmallDisk(PathBuf);

impl SmallDisk {
    fn mount(at: &Path, kib: u64) -> Option<Self> {
        fs::create_dir_all(at).unwrap();
        let mounted = Command::new("mount")
            .args(["-t", "tmpfs", "-o", &format!("size={kib}k"), "tmpfs"])
            .arg(at)
            .stderr(Stdio::null())
            .status();
        mounted.is_ok_and(|s| s.success()).then(|| Self(at.to_path_buf()))
    }

    fn change(&self, options: &str) -> bool {
        let status =
            Command::new("mount").args(["-o", &format!("remount,{options}")]).arg(&self.0).status();
        status.is_ok_and(|s| s.success())
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(&self.0).status();
    }
}

/// Everything that was acknowledged is there, and the book goes on once there is space.
fn check_after_full(path: &Path, said: &[u8], what: &str) -> String {
    let text = String::from_utf8_lossy(said).into_owned();
    let full = text.lines().find_map(|l| l.strip_prefix("full ")).map(str::to_owned);
    let full = full.unwrap_or_else(|| panic!("{what}: never full:\n{text}"));
    let book = Book::open(path, Access::Read).unwrap_or_else(|e| panic!("{what}: {e}"));
    let verified = book.verify(None, None).unwrap();
    assert!(verified.sound(), "{what}: {verified:#?}");
    for head in acknowledged(said) {
        assert_eq!(book.entry(&head.entry).unwrap().hash, head.hash, "{what}");
    }
    full
}

fn fill(path: &Path) -> Vec<u8> {
    let mut child = start("fill", path);
    let mut said = Vec::new();
    child.stdout.take().unwrap().read_to_end(&mut said).unwrap();
    let mut complaint = String::new();
    child.stderr.take().unwrap().read_to_string(&mut complaint).unwrap();
    assert!(child.wait().unwrap().success(), "{complaint}");
    said
}

#[test]
fn a_full_disk_keeps_what_was_acknowledged() {
    let world = World::new();
    let mut told = std::collections::BTreeMap::<String, usize>::new();
    let mut rounds = 0;
    for round in 0..8 * soak() {
        // Sizes that end in the middle of different writes: log, file, note of the head.
        let kib = 1200 + 4 * (round * 37 % 200);
        let Some(disk) = SmallDisk::mount(&world.path(&format!("disk{round}")), kib) else {
            println!("full disk: no small file system to be had here; by limit of file size only");
            break;
        };
        let path = disk.0.join("a.pipelore");
        let stamp = world.stamp();
        Book::create(&path, "yard", UnitSystem::default(), edition(), &stamp)
            .unwrap()
            .close()
            .unwrap();
        let said = fill(&path);
        // Verifying a WAL book needs no space for the file, only for shared memory.
        assert!(disk.change(&format!("size={}k", kib + 4096)));
        let full = check_after_full(&path, &said, &format!("{kib} KiB"));
        let kind = if full.contains("no space left") { "no space left" } else { "head not noted" };
        assert!(full.contains("no space left") || full.contains("could not be noted"), "{full}");
        *told.entry(kind.to_owned()).or_default() += 1;
        let mut book = Book::open(&path, Access::Write).unwrap();
        small_fleet(&world, &mut book, 3);
        assert!(book.verify(None, None).unwrap().sound());
        book.close().unwrap();
        rounds += 1;
    }
    println!("full disk: {rounds} rounds, {told:?}");
}

/// Where no file may grow beyond a size, the same holds.
#[test]
fn a_limit_of_file_size_keeps_what_was_acknowledged() {
    let world = World::new();
    let mut rounds = 0;
    for round in 0..3 * soak() {
        let mut book = world.book(&format!("{round}.pipelore"));
        small_fleet(&world, &mut book, 5);
        let path = book.path().to_path_buf();
        book.close().unwrap();
        let blocks = 700 + round * 61 % 400;
        let exe = std::env::current_exe().unwrap();
        let command = format!(
            "trap '' XFSZ; ulimit -f {blocks}; exec '{}' --exact faults::child::works --nocapture",
            exe.display()
        );
        let out = Command::new("sh")
            .args(["-c", &command])
            .env("PIPELORE_TEST_WORK", format!("fill:{}", path.display()))
            .output()
            .unwrap();
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
        let full = check_after_full(&path, &out.stdout, "limit of file size");
        assert!(full.contains(path.to_str().unwrap()), "{full}");
        rounds += 1;
    }
    println!("limit of file size: {rounds} rounds");
}

/// Runs the binary as somebody who may only read.
fn as_reader(book: &Path, args: &[&str]) -> (i32, String) {
    let mut command = binary(book, args);
    without_rights(&mut command);
    answer(&command.output().unwrap())
}

/// Has a program run by root run as nobody.
fn without_rights(command: &mut Command) {
    #[cfg(unix)]
    {
        use std::os::unix::process::CommandExt;
        let am_root = fs::metadata("/proc/self").is_ok_and(|m| {
            use std::os::unix::fs::MetadataExt;
            m.uid() == 0
        });
        if am_root {
            command.uid(65_534).gid(65_534);
        }
    }
}

/// A book and its head in a folder of its own, files that may only be read.
#[cfg(unix)]
fn to_be_read(world: &World, dir: &Path) -> PathBuf {
    use std::os::unix::fs::PermissionsExt;
    fs::create_dir(dir).unwrap();
    fs::set_permissions(world.path(""), fs::Permissions::from_mode(0o755)).unwrap();
    let built = varied_book(world, "a.pipelore");
    let from = built.path().to_path_buf();
    built.close().unwrap();
    let path = dir.join("a.pipelore");
    for suffix in ["", ".head"] {
        fs::copy(with_suffix(&from, suffix), with_suffix(&path, suffix)).unwrap();
        let mode = fs::Permissions::from_mode(0o444);
        fs::set_permissions(with_suffix(&path, suffix), mode).unwrap();
    }
    path
}

#[cfg(unix)]
#[test]
fn a_book_that_may_only_be_read_answers_and_is_left_alone() {
    use std::os::unix::fs::PermissionsExt;
    let world = World::new();
    let dir = world.path("locked");
    let path = to_be_read(&world, &dir);
    fs::set_permissions(&dir, fs::Permissions::from_mode(0o555)).unwrap();
    let before = bytes_of(&path);
    for args in [&["trace", "K1-0007"][..], &["verify"]] {
        let (code, said) = as_reader(&path, args);
        assert_eq!(code, 0, "{args:?}: {said}");
    }
    for args in [&["strike", "yard-45", "--reason", "x"][..], &["rebuild"]] {
        let (code, said) = as_reader(&path, args);
        assert_eq!(code, 4, "{args:?}: {said}");
        assert!(said.contains("read-only") && said.contains("a.pipelore"), "{said}");
    }
    assert_eq!(bytes_of(&path), before);
    // A file that may be written in a folder that may not: there is no room for the log.
    fs::set_permissions(&path, fs::Permissions::from_mode(0o666)).unwrap();
    let (code, said) = as_reader(&path, &["strike", "yard-45", "--reason", "x"]);
    assert_eq!(code, 4, "{said}");
    assert!(said.contains("a.pipelore"), "{said}");
    assert_eq!(bytes_of(&path), before);
    // And one that may not even be read.
    fs::set_permissions(&path, fs::Permissions::from_mode(0o000)).unwrap();
    let (code, said) = as_reader(&path, &["trace", "K1-0007"]);
    assert_eq!(code, 4, "{said}");
    fs::set_permissions(&dir, fs::Permissions::from_mode(0o755)).unwrap();
}

/// A limit of file size is an error that is told, and no signal that ends the program without a word.
#[cfg(unix)]
#[test]
fn a_limit_of_file_size_is_told() {
    let world = World::new();
    let book = varied_book(&world, "a.pipelore");
    let path = book.path().to_path_buf();
    book.close().unwrap();
    let plain = binary(&path, &["rebuild"]);
    let mut command = Command::new("sh");
    let program = plain.get_program().to_str().unwrap();
    command.args(["-c", &format!("ulimit -f 200; exec '{program}' rebuild")]).env_clear();
    command.envs(plain.get_envs().filter_map(|(k, v)| Some((k, v?))));
    let output = command.current_dir(path.parent().unwrap()).output().unwrap();
    let (code, said) = answer(&output);
    assert_eq!(code, 4, "{said}");
    assert!(said.contains("limit of size") && said.contains("a.pipelore"), "{said}");
    let (code, said) = answer(&pipelore(&path, &["verify"]));
    assert_eq!(code, 0, "{said}");
}

/// What a reader makes beside a book is the reader's, and would stop the owner.
#[cfg(unix)]
#[test]
fn a_reader_who_may_not_write_leaves_nothing_beside_the_book() {
    use std::os::unix::fs::PermissionsExt;
    let world = World::new();
    let dir = world.path("shared");
    let path = to_be_read(&world, &dir);
    // A folder that anybody may write to.
    fs::set_permissions(&dir, fs::Permissions::from_mode(0o777)).unwrap();
    for args in [&["trace", "K1-0007"][..], &["find", "wall < 90 %"], &["verify"]] {
        let (code, said) = as_reader(&path, args);
        assert_eq!(code, 0, "{args:?}: {said}");
        for left in ["-wal", "-shm", "-journal"] {
            assert!(!with_suffix(&path, left).exists(), "{args:?} left {left}");
        }
    }
}

/// A reader without rights takes no lock: what the owner writes while it reads may be half in what it
/// read, and it says so in place of an answer.
#[cfg(unix)]
#[test]
fn a_reader_without_a_lock_gives_no_answer_when_the_book_was_written_meanwhile() {
    use std::os::unix::fs::PermissionsExt;
    if !super::every::has_strace() {
        return;
    }
    let world = World::new();
    let path = to_be_read(&world, &world.path("shared"));
    let traces = world.path("traces");
    fs::create_dir(&traces).unwrap();
    fs::set_permissions(&traces, fs::Permissions::from_mode(0o777)).unwrap();
    let trace = |name: &str| fs::read_to_string(traces.join(name)).unwrap_or_default();
    let reader = |name: &str, inject: &[&str]| {
        let plain = binary(&path, &["find", "wall < 95 %", "--csv"]);
        let mut command = Command::new("strace");
        command.args([
            "-f",
            "-qq",
            "-e",
            "trace=pread64",
            "-o",
            traces.join(name).to_str().unwrap(),
        ]);
        command.args(inject).arg(plain.get_program()).args(plain.get_args()).env_clear();
        command.envs(plain.get_envs().filter_map(|(k, v)| Some((k, v?))));
        command.current_dir(path.parent().unwrap());
        command.stdout(Stdio::piped()).stderr(Stdio::piped());
        without_rights(&mut command);
        command
    };
    let whole = reader("whole", &[]).output().unwrap();
    let (code, said) = answer(&whole);
    assert_eq!(code, 0, "{said}");
    let last = trace("whole").matches("pread64(").count();
    assert!(last > 8 && !whole.stdout.is_empty(), "{}", trace("whole"));

    // Held as it asks for its last page, while the owner writes.
    let inject = format!("inject=pread64:signal=SIGSTOP:when={last}");
    let child = reader("held", &["-e", &inject]).spawn().unwrap();
    let begun = Instant::now();
    let held = loop {
        assert!(begun.elapsed() < Duration::from_mins(1), "it never came to its last page");
        let seen = trace("held");
        if let Some(line) = seen.lines().find(|l| l.ends_with("--- stopped by SIGSTOP ---")) {
            break line.split(' ').next().unwrap().to_owned();
        }
        std::thread::sleep(Duration::from_millis(20));
    };
    fs::set_permissions(&path, fs::Permissions::from_mode(0o644)).unwrap();
    let note = with_suffix(&path, ".head");
    fs::set_permissions(note, fs::Permissions::from_mode(0o644)).unwrap();
    let (code, said) = answer(&pipelore(&path, &["strike", "yard-45", "--reason", "x"]));
    assert_eq!(code, 0, "{said}");
    assert!(Command::new("kill").args(["-CONT", &held]).status().unwrap().success());
    let output = child.wait_with_output().unwrap();
    let (code, said) = answer(&output);
    assert_eq!(code, 4, "{said}");
    assert!(output.stdout.is_empty(), "{}", String::from_utf8_lossy(&output.stdout));
    assert!(said.contains("a.pipelore was written to while"), "{said}");
}

#[test]
fn another_writer_is_waited_for_and_then_named() {
    let world = World::new();
    let mut book = world.book("a.pipelore");
    small_fleet(&world, &mut book, 3);
    let path = book.path().to_path_buf();
    book.close().unwrap();
    let other = rusqlite::Connection::open(&path).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    let (code, said) = answer(&pipelore(&path, &["strike", "yard-2", "--reason", "x"]));
    assert_eq!(code, 4, "{said}");
    assert!(said.contains("is being written by another program"), "{said}");
    // Readers need not wait.
    let (code, said) = answer(&pipelore(&path, &["trace", "K1-0002"]));
    assert_eq!(code, 0, "{said}");
    let (code, said) = answer(&pipelore(&path, &["verify"]));
    assert_eq!(code, 0, "{said}");
    other.execute_batch("ROLLBACK").unwrap();
    let (code, said) = answer(&pipelore(&path, &["strike", "yard-2", "--reason", "x"]));
    assert_eq!(code, 0, "{said}");
}

/// Two writers at once: each waits for the other, nothing is lost, numbers stay in one row.
#[test]
fn two_writers_take_turns() {
    let world = World::new();
    let path = world.path("a.pipelore");
    world.book("a.pipelore").close().unwrap();
    let write = |path: PathBuf, stamps: Vec<pipelore::store::Stamp>| {
        std::thread::spawn(move || {
            let mut book = Book::open(&path, Access::Write).unwrap();
            for stamp in stamps {
                let note = draft(
                    "2025-01-10",
                    pipelore::model::Body::Note(pipelore::model::NoteBody {
                        joints: Vec::new(),
                        about: None,
                        text: "x".to_owned(),
                    }),
                );
                book.append(&[note], &stamp, &AppendOptions::default()).unwrap();
            }
        })
    };
    let stamps = || (0..60).map(|_| world.stamp()).collect::<Vec<_>>();
    let threads = [write(path.clone(), stamps()), write(path.clone(), stamps())];
    threads.into_iter().for_each(|t| t.join().unwrap());
    let book = Book::open(&path, Access::Read).unwrap();
    assert_eq!(book.length().unwrap(), 122);
    let verified = book.verify(None, None).unwrap();
    assert!(verified.sound(), "{verified:#?}");
}
