//! The other side of a crash: this test binary, started anew, does one kind of work over and over
//! through the library and says on stdout what is done. Someone else ends it.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use pipelore::model::{Body, Instant, MoveBody, NoteBody, Recorded, StrikeBody};
use pipelore::schema::{JointRow, Rows};
use pipelore::store::{Access, AppendOptions, Book, BundleIn, HeadMark, Stamp};

use crate::world::{draft, joint, joint_ref};

const ORDER: &str = "PIPELORE_TEST_WORK";

/// Starts a child on a kind of work.
pub fn start(work: &str, path: &Path) -> Child {
    Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "faults::child::works", "--nocapture", "--test-threads=1"])
        .env(ORDER, format!("{work}:{}", path.display()))
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

/// What a child acknowledged.
pub fn acknowledged(stdout: &[u8]) -> Vec<HeadMark> {
    let text = String::from_utf8_lossy(stdout);
    // A line cut off by the end of the child counts for nothing: it was not said.
    let whole = text.rsplit_once('\n').map_or("", |(whole, _)| whole);
    whole
        .lines()
        .filter_map(|l| l.strip_prefix("done "))
        .map(|l| {
            let (entry, hash) = l.split_once(' ').unwrap();
            HeadMark { entry: entry.parse().unwrap(), hash: hash.parse().unwrap() }
        })
        .collect()
}

fn say(what: &str) {
    let mut out = std::io::stdout().lock();
    out.write_all(format!("\n{what}\n").as_bytes()).and_then(|()| out.flush()).unwrap();
}

fn stamp() -> Stamp {
    let now = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap();
    Stamp {
        now: Recorded { at: Instant(i64::try_from(now.as_millis()).unwrap()), offset_minutes: 0 },
        author: "child".to_owned(),
        program: "pipelore test".to_owned(),
    }
}

/// Does nothing in an ordinary run.
#[test]
fn works() {
    let Ok(order) = std::env::var(ORDER) else { return };
    let (work, path) = order.split_once(':').unwrap();
    let path = PathBuf::from(path);
    say("begun");
    match work {
        "append" => append(&path),
        "strike" => strike(&path),
        "rebuild" => rebuild(&path),
        "open" => open(&path),
        "take" => take(&path),
        "backup" => backup(&path),
        "fill" => fill(&path),
        other => panic!("{other}?"),
    }
}

fn done(head: Option<&HeadMark>) {
    say(&format!("done {}", head.unwrap()));
}

fn append(path: &Path) {
    let mut book = Book::open(path, Access::Write).unwrap();
    for n in 0..10_000 {
        let serials: Vec<String> = (0..6).map(|i| format!("C{n}-{i}")).collect();
        let drafts: Vec<_> = serials.iter().map(|s| draft("2025-01-10", joint(s, true))).collect();
        let made = book.append(&drafts, &stamp(), &AppendOptions::default()).unwrap();
        let joints = serials.iter().zip(&made.entries).map(|(s, id)| joint_ref(s, id)).collect();
        let moved = draft(
            "2025-01-11",
            Body::Move(MoveBody {
                joints,
                location: Some("Rack 4".to_owned()),
                string: None,
                status: None,
                remark: None,
            }),
        );
        done(made.head.as_ref());
        done(book.append(&[moved], &stamp(), &AppendOptions::default()).unwrap().head.as_ref());
    }
}

fn strike(path: &Path) {
    let mut book = Book::open(path, Access::Write).unwrap();
    for _ in 0..10_000 {
        // Strikes the last entry: a strike of a strike of a strike, each time everything that hung
        // on it comes back or goes.
        let entry = book.head().unwrap().unwrap().entry;
        let struck = draft(
            "2025-03-01",
            Body::Strike(StrikeBody {
                entry,
                reason: "again".to_owned(),
                instead: Vec::new(),
                decision: None,
            }),
        );
        done(book.append(&[struck], &stamp(), &AppendOptions::default()).unwrap().head.as_ref());
    }
}

fn rebuild(path: &Path) {
    let mut book = Book::open(path, Access::Write).unwrap();
    for _ in 0..10_000 {
        book.rebuild().unwrap();
        say("rebuilt");
    }
}

/// Opens once: an older book is brought up to date on the way.
fn open(path: &Path) {
    let book = Book::open(path, Access::Write).unwrap();
    done(book.head().unwrap().as_ref());
}

/// Takes in bundle after bundle that stand beside the book, as far as they go.
fn take(path: &Path) {
    let mut book = Book::open(path, Access::Write).unwrap();
    for n in 0.. {
        let bundle = path.with_extension(format!("{n}.jsonl"));
        if !bundle.exists() {
            return;
        }
        let taken = book.bundle_in(&bundle, &BundleIn::default(), &stamp()).unwrap();
        if taken.arrival.is_some() {
            done(taken.head.as_ref());
        }
    }
}

fn backup(path: &Path) {
    let book = Book::open(path, Access::Read).unwrap();
    for n in 0..10_000 {
        book.backup(&path.with_extension(format!("copy-{}-{n}", std::process::id()))).unwrap();
    }
}

/// Writes until the disk is full, and says how that was told.
fn fill(path: &Path) {
    let mut book = match Book::open(path, Access::Write) {
        Ok(book) => book,
        Err(e) => return say(&format!("full {e}")),
    };
    for n in 0..100_000 {
        let text = format!("{n} {}", "x".repeat(700));
        let note =
            draft("2025-01-10", Body::Note(NoteBody { joints: Vec::new(), about: None, text }));
        match book.append(&[note], &stamp(), &AppendOptions::default()) {
            Ok(made) => done(made.head.as_ref()),
            Err(e) => {
                say(&format!("full {e}"));
                // The book that is open goes on answering.
                let rows: Vec<JointRow> = book.rows(&Rows::all()).unwrap();
                say(&format!("joints {}", rows.len()));
                return;
            }
        }
    }
}
