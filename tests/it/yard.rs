//! A yard without a command line: files go through intake into a book, rows come out of it.

use std::collections::BTreeMap;

use pipelore::condition::Catalogue;
use pipelore::intake::{
    JointMatch, Lookup, MemoryFiles, Options, World as Around, read, settle, show, unwatched,
};
use pipelore::model::{Body, EntryId, Instant, JointBody, JointRef, Moment, Serial, StrikeBody};
use pipelore::schema::{JointRow, Row, Rows, RunRow, SerialRow, Value};
use pipelore::store::{AppendOptions, Book, StoreError};

use crate::world::{World, draft, standards};

/// Certificates of 5 in 19.50 lb/ft G-105 with NC50: the head of a file of joints.
pub const JOINTS: &str = "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [ft],\
                          Connection,TJ OD [in],TJ ID [in],Received\n";
/// What follows the serial in such a file.
pub const PIPE: &str = "drill pipe,yes,5,.362,19.50,G-105,31.2,NC50,6 5/8,3 1/4,2026-01-05";

/// A row by the names of its columns.
pub type Fields = BTreeMap<&'static str, Value>;

pub struct Yard {
    pub world: World,
    pub book: Book,
    /// Keeps facts that exclude each other, in place of refusing the later file.
    pub keep_conflicts: bool,
}

impl Yard {
    pub fn new() -> Self {
        let world = World::new();
        let book = world.book("yard.pipelore");
        Self { world, book, keep_conflicts: false }
    }

    /// A yard with new drill pipe of these serials.
    pub fn with_joints<S: AsRef<str>>(serials: impl IntoIterator<Item = S>) -> Self {
        let mut yard = Self::new();
        let rows = serials.into_iter().map(|s| format!("{},{PIPE}\n", s.as_ref()));
        yard.load(&format!("{JOINTS}{}", rows.collect::<String>()));
        yard
    }

    /// Takes in a file; one that is refused says why.
    #[track_caller]
    pub fn load(&mut self, text: &str) -> Vec<EntryId> {
        self.load_with("file.csv", &[("file.csv", text)])
    }

    /// Takes in a file that names others.
    #[track_caller]
    pub fn load_with(&mut self, name: &str, files: &[(&str, &str)]) -> Vec<EntryId> {
        self.try_load(name, files).unwrap_or_else(|e| panic!("{e}"))
    }

    /// Takes in a file; what intake or the book says against it otherwise.
    pub fn try_load(&mut self, name: &str, files: &[(&str, &str)]) -> Result<Vec<EntryId>, String> {
        let all = files.iter().fold(MemoryFiles::default(), |all, (name, text)| {
            all.with(name, text.as_bytes().to_vec())
        });
        let lookup = Known(&self.book);
        let around = Around { files: &all, lookup: &lookup, progress: &unwatched };
        let outcome = read(name, &Options::default(), &around);
        if outcome.is_refused() {
            return Err(outcome.diagnostics.list().iter().map(show).collect());
        }
        let mut drafts = outcome.drafts;
        let chain = self.book.identity().chain.clone();
        let head = self.book.head().unwrap().map_or(0, |h| h.entry.number);
        settle(&mut drafts, |i| EntryId { chain: chain.clone(), number: head + 1 + i as u64 });
        let options =
            AppendOptions { keep_conflicts: self.keep_conflicts, ..AppendOptions::default() };
        let done = self.book.append(&drafts, &self.world.stamp(), &options);
        done.map(|d| d.entries).map_err(|e| match e {
            StoreError::Refused(clashes) => {
                let lines = clashes.into_iter().map(|c| format!("{}: {}\n", c.serial, c.what));
                lines.collect::<Vec<_>>().concat()
            }
            e => e.to_string(),
        })
    }

    /// Strikes an entry out.
    pub fn strike(&mut self, entry: &EntryId) {
        let body = StrikeBody {
            entry: entry.clone(),
            reason: "read on another joint".to_owned(),
            instead: Vec::new(),
            decision: None,
        };
        self.world.append(&mut self.book, &[draft("2026-06-01", Body::Strike(body))]);
    }

    /// Rows of a table, in its order.
    pub fn rows<R: Row>(&self) -> Vec<Fields> {
        let rows: Vec<R> = self.book.rows(&Rows::all()).unwrap();
        let fields = |row: R| R::spec().names.iter().copied().zip(row.values()).collect();
        rows.into_iter().map(fields).collect()
    }

    /// The row of a joint.
    #[track_caller]
    pub fn joint(&self, serial: &str) -> Fields {
        let all = self.rows::<JointRow>();
        let found = all.into_iter().find(|r| text(r, "serial") == Some(serial));
        found.unwrap_or_else(|| panic!("no joint {serial}"))
    }

    /// Rows of a table about a joint, in its order.
    pub fn of_joint<R: Row>(&self, serial: &str) -> Vec<Fields> {
        let joint = self.joint(serial)["joint"].clone();
        self.rows::<R>().into_iter().filter(|r| r["joint"] == joint).collect()
    }
}

/// A text of a row.
#[track_caller]
pub fn text<'a>(row: &'a Fields, column: &str) -> Option<&'a str> {
    match &row[column] {
        Value::Text(t) => Some(t),
        Value::Null => None,
        other => panic!("{column} is {other:?}"),
    }
}

/// A whole number of a row; yes is 1.
#[track_caller]
pub fn number(row: &Fields, column: &str) -> Option<i64> {
    match &row[column] {
        Value::Int(n) => Some(*n),
        Value::Null => None,
        other => panic!("{column} is {other:?}"),
    }
}

/// The book as intake sees it.
struct Known<'a>(&'a Book);

impl Lookup for Known<'_> {
    fn joints(&self, key: &str) -> Vec<JointMatch> {
        let moment = |ms: i64| Moment::Clock(Instant(ms).at(pipelore::model::Clock::Offset(60)));
        let serials: Vec<SerialRow> = self.0.rows(&Rows::of(SerialRow::key(), key)).unwrap();
        let all = serials.iter().map(|row| {
            let joint: JointRow = self.0.row(row.joint).unwrap().unwrap();
            JointMatch {
                joint: JointRef {
                    serial: Serial::parse(&row.serial).unwrap(),
                    joint: joint.introduced_by.parse().unwrap(),
                },
                component: joint.component,
                since: moment(row.since),
                until: row.until.map(moment),
                made: joint.made.map(moment),
            }
        });
        all.collect()
    }

    fn runs(&self, name: &str) -> Vec<EntryId> {
        let rows: Vec<RunRow> = self.0.rows(&Rows::of(RunRow::name(), name)).unwrap();
        rows.iter().map(|r| self.0.entry_at(r.run).unwrap().raw.label().parse().unwrap()).collect()
    }

    fn has_entry(&self, entry: &EntryId) -> bool {
        self.0.position_of(entry).unwrap().is_some()
    }

    fn catalogue(&self) -> Option<&Catalogue> {
        Some(&standards().findings)
    }

    fn made(&self, joint: &EntryId) -> Option<JointBody> {
        match self.0.entry(joint).unwrap().raw.read().unwrap().body {
            Body::Joint(body) => Some(*body),
            _ => None,
        }
    }
}
