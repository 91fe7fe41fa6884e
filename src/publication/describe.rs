//! The tables of a publication, and what is said of them.

use std::fmt::Write as _;

use serde_json::{Map, Value, json};
use sha2::{Digest, Sha256};

use crate::ledger::hex;
use crate::schema::{Column, Kind, Table};
use crate::store::{LEDGER, divided_by};
use crate::units::Measure;

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Holds {
    Int,
    Text,
    /// A list of bands of dogleg: which, turns in it, hours in it.
    Histogram,
}

/// Where the rows of a table come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Source {
    Rows(Table),
    Ledger,
    /// Which entries are the last about each joint.
    Known,
    /// They are made of what the books of all sites know.
    Sites,
}

/// A column of a publication.
#[derive(Clone, Debug)]
pub(super) struct Described {
    pub name: &'static str,
    pub holds: Holds,
    pub means: String,
    /// What no value means; nothing where there always is one.
    absent: String,
    /// For a quantity: its unit, and how many of the stored whole numbers are one of it.
    unit: Option<(&'static str, i64)>,
    /// For words: which, in the order of the bits of a set.
    words: Vec<&'static str>,
    kind: &'static str,
    /// Its values go into the digest by which a change of the rows is seen.
    pub tells: bool,
}

/// A table of a publication.
#[derive(Clone, Debug)]
pub(super) struct PublishedTable {
    pub name: &'static str,
    pub about: &'static str,
    pub source: Source,
    pub columns: Vec<Described>,
    /// Numbers by which it is divided, in one file.
    pub block: usize,
}

impl PublishedTable {
    /// The tables of a book, in the order in which they are laid out.
    pub(super) fn of_a_book() -> Vec<Self> {
        Table::ALL.iter().map(|t| of_rows(*t)).chain([ledger(), known()]).collect()
    }

    /// Tables about the books of all sites.
    pub(super) fn of_all_sites() -> Vec<Self> {
        let site = || told("site", Holds::Text, "site whose book has the row");
        let joint = || told("joint", Holds::Int, "number of the joint in the book of that site");
        let name =
            || told("introduced_by", Holds::Text, "entry that brought the joint into the books");
        let by =
            told("known_best_by", Holds::Text, "site whose book knows all that is known there");
        let made = |name, about, columns| Self {
            name,
            about,
            source: Source::Sites,
            columns,
            block: usize::MAX,
        };
        vec![
            made(
                "superseded",
                "Rows of joints of which the book of another site knows more: a question about today \
                 leaves them out; `as known by` their site it does not.",
                vec![site(), joint(), name(), by],
            ),
            made(
                "contested",
                "Rows of joints of which several books each know something that the others do not: all \
                 of them stay, and an answer has to say so.",
                vec![site(), joint(), name()],
            ),
        ]
    }

    /// The column by which rows are sorted, where it is the first of the order.
    pub(super) fn sorted_by(&self) -> Option<i32> {
        let by = match self.source {
            Source::Rows(table) => divided_by(table)?,
            Source::Ledger => LEDGER[0],
            Source::Known => "joint",
            Source::Sites => return None,
        };
        let mut leaf = 0;
        for column in &self.columns {
            if column.name == by {
                return Some(leaf);
            }
            leaf += if column.holds == Holds::Histogram { 3 } else { 1 };
        }
        None
    }

    /// The columns as JSON, for the metadata of a file.
    pub(super) fn columns_json(&self) -> String {
        let columns: Map<String, Value> =
            self.columns.iter().map(|c| (c.name.to_owned(), c.json())).collect();
        Value::Object(columns).to_string()
    }

    /// The names of the columns.
    pub(super) fn names(&self) -> Vec<&'static str> {
        self.columns.iter().map(|c| c.name).collect()
    }
}

impl Described {
    fn json(&self) -> Value {
        let mut out = Map::from_iter([
            ("means".to_owned(), json!(self.means)),
            ("kind".to_owned(), json!(self.kind)),
        ]);
        if let Some((unit, quanta)) = self.unit {
            out.insert("unit".to_owned(), json!(unit));
            out.insert("per_unit".to_owned(), json!(quanta));
        }
        if self.kind == "set" {
            out.insert("bits".to_owned(), json!(self.words));
        }
        Value::Object(out)
    }

    fn text(&self) -> String {
        let mut out = self.kind.to_owned();
        if let Some((unit, quanta)) = self.unit {
            let one = if unit.is_empty() { "one" } else { unit };
            let _ = write!(out, ", {quanta} = 1 {one}");
        }
        if self.kind == "set" {
            let _ = write!(out, " of bits, from the lowest: {}", self.words.join(", "));
        }
        out
    }
}

/// Digest of all that is said of the tables of a book: files of another description are made anew.
pub(super) fn digest(tables: &[PublishedTable]) -> String {
    let mut hash = Sha256::new();
    for table in tables {
        hash.update(table.name);
        hash.update(table.about);
        hash.update(table.columns_json());
        hash.update(table.block.to_le_bytes());
    }
    hex(&hash.finalize())[..16].to_owned()
}

fn told(name: &'static str, holds: Holds, means: &str) -> Described {
    let (absent, words) = (String::new(), Vec::new());
    let kind = if holds == Holds::Text { "text" } else { "number" };
    Described { name, holds, means: means.to_owned(), absent, unit: None, words, kind, tells: true }
}

fn of_rows(table: Table) -> PublishedTable {
    let columns = table.spec().columns.iter().flat_map(|c| of_column(table, c)).collect();
    PublishedTable {
        name: table.name(),
        about: about(table),
        source: Source::Rows(table),
        columns,
        block: block(table),
    }
}

/// Joints in one file of a table of joints (rows of others). A run of a string touches some of the
/// files of `joint_run` and must not write many rows of others anew.
const fn block(table: Table) -> usize {
    match table {
        Table::JointRun | Table::RunPart | Table::Makeup => 2_048,
        Table::Since | Table::JointState => 4_096,
        Table::Joint
        | Table::Opening
        | Table::Custody
        | Table::Serial
        | Table::Gap
        | Table::Dimension
        | Table::Inspection
        | Table::Finding
        | Table::Repair
        | Table::Event
        | Table::Failure
        | Table::Move
        | Table::Hire
        | Table::Decision
        | Table::Touch
        | Table::Conflict => 8_192,
        Table::Run
        | Table::EntryTime
        | Table::Struck
        | Table::Survey
        | Table::BookFact
        | Table::FileTaken
        | Table::Content
        | Table::WindowPart => 65_536,
    }
}

/// Columns of `joint_run` from which the others follow: `input_key` is the digest of all that the
/// figures, depths and the histogram were derived from, by which the book itself keeps a row.
const RUN_TELLS: [&str; 13] = [
    "joint",
    "finish",
    "turn",
    "run",
    "start",
    "position",
    "from_bit",
    "input_key",
    "length",
    "flags",
    "assumed",
    "conflicting",
    "restriction_broken",
];

fn of_column(table: Table, column: &Column) -> Vec<Described> {
    let holds = match column.sql {
        "TEXT" => Holds::Text,
        "BLOB" if column.name.starts_with("histogram") => Holds::Histogram,
        "BLOB" => Holds::Text,
        _ => Holds::Int,
    };
    let (kind, unit, words) = match column.kind {
        _ if holds == Holds::Histogram => ("histogram", None, Vec::new()),
        _ if column.sql == "BLOB" => ("bytes of the program's own, hexadecimal", None, Vec::new()),
        Some(Kind::Measure(m)) => ("quantity", Some((base(m), m.quanta_per_base())), Vec::new()),
        Some(Kind::Date) => ("instant, ms of UTC", None, Vec::new()),
        Some(Kind::Text) => ("text", None, Vec::new()),
        Some(Kind::Word(_)) => ("word", None, Vec::new()),
        Some(Kind::Flag) => ("flag, 0 or 1", None, Vec::new()),
        Some(Kind::Set(words)) => ("set", None, words.list()),
        None => (if holds == Holds::Text { "text" } else { "number" }, None, Vec::new()),
    };
    let stored: Vec<_> = column.stored().collect();
    let names = stored.iter().enumerate();
    names
        .map(|(at, (name, _))| {
            let bound = match (stored.len(), at) {
                (1, _) => "",
                (_, 0) => ", at least",
                _ => ", at most; empty where more may have happened",
            };
            Described {
                name,
                holds,
                means: format!("{}{bound}", column.means),
                absent: column.when_absent.to_owned(),
                unit,
                words: words.clone(),
                kind,
                tells: table != Table::JointRun || RUN_TELLS.contains(name),
            }
        })
        .collect()
}

/// The unit in which so many quanta are one.
const fn base(measure: Measure) -> &'static str {
    match measure {
        Measure::Depth | Measure::JointLength | Measure::Diameter | Measure::Wall => "m",
        Measure::Dogleg => "deg/m",
        Measure::Angle => "deg",
        Measure::Hours | Measure::Days => "s",
        Measure::Force | Measure::LoadRating => "N",
        Measure::Torque | Measure::Work => "N.m",
        Measure::Stress | Measure::Pressure => "Pa",
        Measure::Area => "m2",
        Measure::SectionModulus => "m3",
        Measure::LinearMass => "kg/m",
        Measure::Density => "kg/m3",
        Measure::Rate => "m/s",
        Measure::RotarySpeed => "turns/s",
        Measure::Turns => "turn",
        Measure::LinearForce => "N/m",
        Measure::Temperature => "K",
        Measure::Ratio | Measure::Damage | Measure::Count | Measure::Factor => "",
    }
}

const fn about(table: Table) -> &'static str {
    match table {
        Table::Joint => "A joint as the book knows it today.",
        Table::Since => {
            "What a joint went through since the latest inspection of a scope, or in its whole life \
             where it was never so inspected."
        }
        Table::Opening => "What a used joint brought with it, as far as somebody stated it.",
        Table::JointState => "What a joint was from an instant on.",
        Table::Custody => "Where a joint was from an instant on.",
        Table::Serial => "A serial under which a joint is found.",
        Table::Run => "A run of a string.",
        Table::JointRun => "What a joint went through in a run.",
        Table::RunPart => "The part of a joint's run before an instant inside it.",
        Table::Gap => "A stretch of a joint's life of which nothing is known.",
        Table::Dimension => "Dimensions of a joint from an instant on.",
        Table::Inspection => "An inspection of a joint.",
        Table::Finding => "A finding of an inspection.",
        Table::Repair => "A repair of a joint.",
        Table::Makeup => "A make-up of an end of a joint.",
        Table::Event => "Something that happened to a joint.",
        Table::Failure => "A failure of a joint.",
        Table::Move => "A move of a joint.",
        Table::Hire => "A hire of a joint.",
        Table::Decision => "A decision of a person about a joint.",
        Table::Touch => "An entry that names a joint.",
        Table::EntryTime => "The instant at which what an entry tells began.",
        Table::Struck => "An entry that counts no more.",
        Table::Survey => "A survey that counts.",
        Table::BookFact => "What is read of the whole book, by topic.",
        Table::Conflict => "Two facts that exclude each other and wait for a decision.",
        Table::FileTaken => "A file that was taken in.",
        Table::Content => "The content of an entry that came from a file.",
        Table::WindowPart => "The part of a joint's run before a date that a question names.",
    }
}

fn ledger() -> PublishedTable {
    let means = [
        "place in the book of the site: the order of arrival; other tables name entries by it",
        "site that wrote it",
        "epoch of the chain",
        "number in the chain",
        "what kind of entry it is",
        "when it happened, as written",
        "when it was written, ms of UTC",
        "clock offset of the place where it was written, minutes",
        "who wrote it",
        "program that wrote it",
        "what it rests on, canonical JSON",
        "the fact, canonical JSON: the bytes that the hash covers",
        "version of the canonical encoding",
        "hash of the entry before it in its chain, hexadecimal",
        "its own hash, hexadecimal",
    ];
    let whole = ["position", "epoch", "number", "recorded_ms", "recorded_offset", "encoding"];
    let columns = LEDGER.iter().zip(means).map(|(name, means)| {
        let holds = if whole.contains(name) { Holds::Int } else { Holds::Text };
        Described { tells: matches!(*name, "position" | "hash"), ..told(name, holds, means) }
    });
    PublishedTable {
        name: "entry",
        about: "The ledger: every entry that the book holds, as it was written, with the bytes that its \
                hash covers.",
        source: Source::Ledger,
        columns: columns.collect(),
        block: 16_384,
    }
}

fn known() -> PublishedTable {
    PublishedTable {
        name: "known",
        about: "How far the book knows a joint: of each site, the last entry that names it.",
        source: Source::Known,
        columns: vec![
            told("joint", Holds::Int, "the joint"),
            told("introduced_by", Holds::Text, "entry that brought the joint into the books"),
            told("of_site", Holds::Text, "site that wrote the entry"),
            told("epoch", Holds::Int, "epoch of the chain"),
            told("number", Holds::Int, "number of the last entry that names the joint"),
        ],
        block: usize::MAX,
    }
}

/// The description that stands in a state for people.
pub(super) fn tables_text() -> String {
    let mut out = String::from(HEAD);
    for table in PublishedTable::of_a_book().iter().chain(&PublishedTable::of_all_sites()) {
        let _ = write!(out, "\n## {}\n\n{}\n\n", table.name, table.about);
        out.push_str("| column | type | holds | means | empty where |\n|---|---|---|---|---|\n");
        for column in &table.columns {
            let kind = match column.holds {
                Holds::Int => "BIGINT",
                Holds::Text => "VARCHAR",
                Holds::Histogram => "LIST<STRUCT<band, turns, hours BIGINT>>",
            };
            let (name, text) = (column.name, column.text());
            let (means, absent) = (&column.means, &column.absent);
            let _ = writeln!(out, "| {name} | {kind} | {text} | {means} | {absent} |");
        }
    }
    out
}

const HEAD: &str = "# The tables of this publication

Each table is a folder of Parquet files, divided by the site whose book the rows are of
(`<table>/site=<SITE>/part-….parquet`): name the files by a pattern and read `site` from the path
(Hive partitions). Nothing in this folder changes once it has its name. `manifest.json` says which
books it holds and up to which entry, and has a digest of every file.

- NULL means that nobody knows, unless the column says that it means that there is none. Zero and
  `false` are never put in its place.
- Quantities are exact whole numbers; how many of them are one unit stands beside each, and in the
  metadata of every file (`pipelore.columns`).
- A counter that is known between bounds is two columns, `…_lo` and `…_hi`: at least, at most. Where
  more may have happened than anybody knows, `…_hi` is NULL.
- A histogram is a list of the bands in which a joint turned: band n holds turns (thousandths) and
  hours (ms) at doglegs from n/60 to (n+1)/60 deg/m (n/2 to (n+1)/2 deg/30 m); band 60 holds all above.
- The key of a joint is (site, joint). `introduced_by` of the table `joint` names the entry that brought
  it into the books and is the same in the books of all sites. Where several books know a joint,
  `superseded` names the rows of books that know less, which a question about today leaves out; of the
  joints in `contested` no book knows everything, and all their rows stand. How a site itself sees a
  joint are the rows of its own partition.
- Damage is a ranking index, not a forecast of life. No table replaces the governing standard, local
  codes and the judgement of a qualified person.
";
