//! The program as its users run it: the real binary, in a folder of its own, at a fixed time.

use std::io::Read as _;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use assert_cmd::Command;
use tempfile::TempDir;

/// The present of the tests.
pub const NOW: &str = "2026-06-15T08:00:00+01:00";

/// What a command did.
pub struct Ran {
    pub code: i32,
    pub out: String,
    pub err: String,
}

impl Ran {
    /// Its answer; a failure shows what it said.
    #[track_caller]
    pub fn ok(self) -> String {
        assert_eq!(self.code, 0, "{}\n{}", self.out, self.err);
        self.out
    }

    /// Its complaint, with the exit code that it must have.
    #[track_caller]
    pub fn fails(self, code: i32) -> String {
        assert_eq!(self.code, code, "{}\n{}", self.out, self.err);
        self.err
    }

    /// Its answer as JSON.
    #[track_caller]
    pub fn json(self) -> serde_json::Value {
        let out = self.ok();
        serde_json::from_str(&out).unwrap_or_else(|e| panic!("{e}: {out}"))
    }
}

/// Joints of an answer, by serial.
#[derive(Debug, PartialEq, Eq)]
pub struct JointSet {
    /// Those that match.
    pub yes: Vec<String>,
    /// Those that nobody can decide.
    pub open: Vec<String>,
}

/// The program in a folder.
pub struct Desk {
    dir: PathBuf,
    width: Option<usize>,
    _own: Option<TempDir>,
}

impl Desk {
    /// An empty folder.
    pub fn new() -> Self {
        let own = tempfile::tempdir().unwrap();
        Self { dir: own.path().to_owned(), width: None, _own: Some(own) }
    }

    /// A folder with a book of no entries.
    pub fn with_book() -> Self {
        let desk = Self::new();
        desk.run(&["new", "--site", "yard"]).ok();
        desk
    }

    /// The demo book, which nobody may write to.
    pub fn demo() -> Self {
        Self { dir: demo_dir().to_owned(), width: None, _own: None }
    }

    /// A copy of the demo book, to write to.
    pub fn demo_copy() -> Self {
        let desk = Self::new();
        for suffix in ["", ".head"] {
            let name = format!("demo.pipelore{suffix}");
            if demo_dir().join(&name).exists() {
                std::fs::copy(demo_dir().join(&name), desk.dir.join(&name)).unwrap();
            }
        }
        desk
    }

    /// A book that an earlier program made, of `tests/corpus/books`, under a name in the folder.
    pub fn unpack(&self, packed: &str, name: &str) {
        let books = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/corpus/books");
        let packed = std::fs::File::open(books.join(packed)).unwrap();
        let mut bytes = Vec::new();
        flate2::read::GzDecoder::new(packed).read_to_end(&mut bytes).unwrap();
        self.write(name, bytes);
    }

    /// Joints that match a filter, and those that nobody can decide.
    #[track_caller]
    pub fn joints(&self, filter: &str) -> JointSet {
        let of = |more: &[&str]| {
            let found = self.run(&[&["find", filter, "--show", "serial", "--json"], more].concat());
            let found = found.json();
            let rows = found["joints"].as_array().cloned().unwrap_or_default();
            let mut serials: Vec<String> =
                rows.iter().map(|r| r["serial"].as_str().unwrap().to_owned()).collect();
            serials.sort();
            serials
        };
        JointSet { yes: of(&[]), open: of(&["--undecided"]) }
    }

    /// A value of each joint that matches a filter, behind its serial.
    #[track_caller]
    pub fn shown(&self, filter: &str, what: &str) -> Vec<String> {
        self.shown_with(filter, what, &[])
    }

    /// The same with further options.
    pub fn shown_with(&self, filter: &str, what: &str, more: &[&str]) -> Vec<String> {
        let show = format!("serial, {what}");
        let out = self.run(&[&["find", filter, "--show", &show, "--csv"], more].concat()).ok();
        // The serial, the value, what bound it is and an upper one where any row has a bound.
        let row = |line: &str| {
            let cells: Vec<&str> = line.split(',').map(|cell| cell.trim_matches('"')).collect();
            let bound = cells.get(2).filter(|cell| ["at least", "between"].contains(cell));
            let sign = if bound.is_some() { "≥ " } else { "" };
            format!("{} {sign}{}", cells[0], cells[1])
        };
        let mut rows: Vec<String> = out.lines().skip(1).map(row).collect();
        rows.sort();
        rows
    }

    /// At a screen of so many columns.
    pub fn wide(mut self, columns: usize) -> Self {
        self.width = Some(columns);
        self
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.dir.join(name)
    }

    pub fn write(&self, name: &str, text: impl AsRef<[u8]>) {
        std::fs::write(self.path(name), text).unwrap();
    }

    /// The command, for tests that need more of it.
    pub fn command(&self, words: &[&str]) -> Command {
        let mut command = Command::cargo_bin("pipelore").unwrap();
        command.current_dir(&self.dir).args(words);
        for name in ["PIPELORE_BOOK", "COLUMNS", "NO_COLOR"] {
            command.env_remove(name);
        }
        command.env("PIPELORE_NOW", NOW).env("PIPELORE_AUTHOR", "tester").env("TZ", "UTC");
        if let Some(width) = self.width {
            command.env("COLUMNS", width.to_string());
        }
        if self.dir.join("demo.pipelore").exists() {
            command.env("PIPELORE_BOOK", "demo.pipelore");
        }
        command
    }

    /// Sends everything to the book of another by a bundle of this name, and says what it took in.
    pub fn send(&self, to: &Self, name: &str) -> serde_json::Value {
        let file = self.path(name).to_str().unwrap().to_owned();
        self.run(&["bundle", "out", &file]).ok();
        to.run(&["bundle", "in", &file, "--json"]).json()
    }

    pub fn run(&self, words: &[&str]) -> Ran {
        let output = self.command(words).output().unwrap();
        Ran {
            code: output.status.code().unwrap_or(-1),
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
        }
    }
}

/// Folder of the demo book, built once for all tests.
pub fn demo_dir() -> &'static Path {
    static DIR: OnceLock<TempDir> = OnceLock::new();
    DIR.get_or_init(|| {
        let own = tempfile::tempdir().unwrap();
        let desk = Desk { dir: own.path().to_owned(), width: None, _own: None };
        desk.run(&["demo", "--json"]).ok();
        own
    })
    .path()
}

/// Lines of a text with the program's version and hashes blanked, for snapshots.
pub fn steady(text: &str) -> String {
    let version = env!("CARGO_PKG_VERSION");
    text.replace(&format!("pipelore {version}"), "pipelore X.Y.Z")
}
