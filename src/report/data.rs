//! What a report is made of. Values keep their kind and unit; nobody formats here.

use crate::model::Vocabulary;
use crate::schema::{self, Bounds, ColumnOf, Group};
use crate::units::Measure;

use super::chart::Chart;

/// An answer as data.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Report {
    /// What kind of answer: `find`, `trace`, …
    pub kind: &'static str,
    /// Its parts, in order.
    pub blocks: Vec<Block>,
}

/// A part of a report.
#[derive(Clone, Debug, PartialEq)]
pub enum Block {
    Heading(String),
    Text(String),
    /// A remark that qualifies what stands above.
    Note(String),
    /// How many there are: figures for machines, and the remark that says so.
    Counted(Counted),
    /// A caution: where the work can hurt someone.
    Caution(String),
    /// Named values, one below the other.
    Facts {
        /// Member name in JSON.
        name: &'static str,
        facts: Vec<Fact>,
    },
    Table(Table),
    /// Bars, one below the other.
    Bars(Bars),
    Chart(Chart),
    /// Lines that keep their shape (a tree, a caret block).
    Verbatim {
        /// Member name in JSON.
        name: &'static str,
        lines: Vec<String>,
    },
    /// A filter explained for one joint.
    Explained(Box<super::why::Explanation>),
}

impl Block {
    /// Sources that this part names.
    pub fn sources(&self) -> Vec<&str> {
        match self {
            Self::Facts { facts, .. } => facts.iter().filter_map(|f| f.source.as_deref()).collect(),
            Self::Table(t) => t.columns.iter().filter_map(|c| c.source.as_deref()).collect(),
            _ => Vec::new(),
        }
    }
}

/// How many there are of something, in figures and in words.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Counted {
    /// Member names in JSON with their figures; none where nobody counted.
    pub counts: Vec<(&'static str, Option<usize>)>,
    /// Values that are wanted to decide the rest, each with the number of those that want it.
    pub wants: Vec<(String, usize)>,
    /// The remark; empty where there is nothing to remark on.
    pub says: String,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Fact {
    /// Member name in JSON.
    pub name: String,
    /// What a person reads before it.
    pub label: String,
    pub value: Cell,
    /// Kind of the value, where it is a number with a unit.
    pub measure: Option<Measure>,
    /// Where it comes from, in words.
    pub source: Option<String>,
    /// It is for machines, and for people who ask for all of it.
    pub machine: bool,
}

#[derive(Clone, Debug, PartialEq, Default)]
pub struct Table {
    /// Member name in JSON.
    pub name: &'static str,
    pub columns: Vec<Column>,
    /// Rows, each with one cell a column.
    pub rows: Vec<Vec<Cell>>,
    /// What to say when there are no rows.
    pub empty: String,
    /// Column that stands on lines of its own below its row, where it holds long texts.
    pub below: Option<usize>,
}

impl Table {
    /// Whether people are told a column once, above the table: each of several rows says the same.
    pub fn is_told_once(&self, column: usize) -> bool {
        let [first, rest @ ..] = self.rows.as_slice() else { return false };
        self.columns[column].once
            && !rest.is_empty()
            && first[column] != Cell::Missing
            && rest.iter().all(|row| row[column] == first[column])
    }
}

/// A column of a table.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// Member name in JSON and CSV.
    pub name: String,
    pub title: String,
    /// Kind of the values, where they are numbers with a unit.
    pub measure: Option<Measure>,
    /// How soon the column is left out of a narrow screen: 0 never, then the highest first.
    pub dispensable: u8,
    /// Where the values come from, in words.
    pub source: Option<String>,
    /// Its values may be bounds: a table for machines says of each what it is.
    pub bounded: bool,
    /// It is for machines: people read the same beside the table.
    pub machine: bool,
    /// It is for people alone: machines have the same in other columns.
    pub people: bool,
    /// On a screen a value that all rows have is said once, above the table.
    pub once: bool,
    /// Its texts are words of a vocabulary: people read them with blanks.
    pub spoken: bool,
    /// Its texts may stand on lines of their own below their row, where a screen is too narrow.
    pub sinks: bool,
    /// It is the upper end of an interval whose lower end is the column before it: a screen shows both
    /// or neither.
    pub upper: bool,
}

#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    Missing,
    Text(String),
    /// A whole number of the column's quanta, or a plain count.
    Number(i64),
    /// A value between bounds; without an upper one it is a lower bound.
    Bound {
        /// Lower bound.
        lo: i64,
        /// Upper bound.
        hi: Option<i64>,
    },
    /// Yes or no.
    Truth(bool),
    Day(chrono::NaiveDate),
    /// An instant, with the clock offset to show it at.
    Time(chrono::DateTime<chrono::FixedOffset>),
    /// A float in the base unit of the column.
    Real(f64),
    /// JSON of the ledger, for machines.
    Json(serde_json::Value),
    /// A value with a measure of its own, in a column that holds several kinds.
    Of(Measure, Box<Cell>),
}

/// Bars of one measure.
#[derive(Clone, Debug, PartialEq)]
pub struct Bars {
    /// Member name in JSON.
    pub name: &'static str,
    /// What the bars show.
    pub title: String,
    /// Kind of the values.
    pub measure: Measure,
    /// Label and value of each.
    pub bars: Vec<(String, i64)>,
}

impl Column {
    /// A column of words or counts.
    pub fn plain(name: &str, title: &str) -> Self {
        Self {
            name: name.to_owned(),
            title: title.to_owned(),
            measure: None,
            dispensable: 0,
            source: None,
            bounded: false,
            machine: false,
            people: false,
            once: false,
            spoken: false,
            sinks: false,
            upper: false,
        }
    }

    /// A column of numbers with a unit.
    pub fn of(name: &str, title: &str, measure: Measure) -> Self {
        Self { measure: Some(measure), ..Self::plain(name, title) }
    }

    /// The column of a field, as it is declared.
    pub fn field<G: Group, T>(field: ColumnOf<G, T>) -> Self {
        let declared = field.column();
        let title = declared.map_or_else(|| field.name().to_owned(), schema::Column::title);
        let measure = declared.and_then(schema::Column::measure).filter(|m| *m != Measure::Count);
        let bounded = declared.is_some_and(|c| !matches!(c.shape, schema::Shape::Exact));
        Self { measure, bounded, ..Self::plain(field.name(), &title) }
    }

    /// The same column for machines alone.
    #[must_use]
    pub fn for_machines(mut self) -> Self {
        self.machine = true;
        self
    }

    /// The same column for people alone.
    #[must_use]
    pub fn for_people(mut self) -> Self {
        self.people = true;
        self
    }

    /// Whether what a row says was decided, for machines: people read it below the table.
    pub fn decided() -> Self {
        Self { machine: true, ..Self::plain("decided", "decided") }
    }

    /// The same column under another heading.
    #[must_use]
    pub fn titled(mut self, title: &str) -> Self {
        title.clone_into(&mut self.title);
        self
    }

    /// The same column under another name.
    #[must_use]
    pub fn named(mut self, name: &str) -> Self {
        name.clone_into(&mut self.name);
        self
    }

    /// The same column, left out of narrow screens.
    #[must_use]
    pub fn dispensable(mut self, rank: u8) -> Self {
        self.dispensable = rank;
        self
    }

    /// The same column of words, which people read with blanks.
    #[must_use]
    pub fn spoken(mut self) -> Self {
        self.spoken = true;
        self
    }

    /// The same column, whose texts may stand below their rows.
    #[must_use]
    pub fn sinking(mut self) -> Self {
        self.sinks = true;
        self
    }

    /// The same column, the upper end of the interval that the one before it begins.
    #[must_use]
    pub fn upper(mut self) -> Self {
        self.upper = true;
        self
    }

    /// The same column with the source of its values.
    #[must_use]
    pub fn from(mut self, source: impl Into<String>) -> Self {
        self.source = Some(source.into());
        self
    }
}

impl From<Option<i64>> for Cell {
    fn from(n: Option<i64>) -> Self {
        Self::number(n)
    }
}

impl From<&Option<String>> for Cell {
    fn from(t: &Option<String>) -> Self {
        Self::text(t.as_deref())
    }
}

impl From<&String> for Cell {
    fn from(t: &String) -> Self {
        Self::Text(t.clone())
    }
}

impl From<Bounds> for Cell {
    /// Exact when its bounds meet.
    fn from(of: Bounds) -> Self {
        Self::bound(of.lo, of.hi)
    }
}

impl Cell {
    /// A number that may not be recorded.
    pub fn number(n: Option<i64>) -> Self {
        n.map_or(Self::Missing, Self::Number)
    }

    /// How many there are.
    pub fn count(n: impl TryInto<i64>) -> Self {
        Self::Number(n.try_into().unwrap_or(i64::MAX))
    }

    /// Words that may not be recorded.
    pub fn text(t: Option<&str>) -> Self {
        t.map_or(Self::Missing, |t| Self::Text(t.to_owned()))
    }

    /// A word of a vocabulary as people read it; none where it is not known.
    pub fn word<V: Vocabulary>(word: Option<V>) -> Self {
        word.map_or(Self::Missing, |w| Self::Text(w.word().replace('_', " ")))
    }

    /// The same value with a measure of its own.
    #[must_use]
    pub fn measured(self, measure: Option<Measure>) -> Self {
        match (self, measure) {
            (Self::Missing, _) => Self::Missing,
            (cell, Some(m)) => Self::Of(m, Box::new(cell)),
            (cell, None) => cell,
        }
    }

    /// A value with bounds; exact when they meet.
    pub fn bound(lo: i64, hi: Option<i64>) -> Self {
        if hi == Some(lo) { Self::Number(lo) } else { Self::Bound { lo, hi } }
    }
}

/// Words of a vocabulary in print.
pub(super) fn plain(word: &str) -> String {
    word.replace('_', " ")
}

/// The places of a joint at which figures stand.
pub const PLACES: [&str; 3] = ["pin end", "middle", "box end"];

/// Names of a list, so many at most; the rest is counted.
pub fn named(names: &[String], most: usize) -> String {
    let shown = names.iter().take(most).map(String::as_str).collect::<Vec<_>>().join(", ");
    match names.len().saturating_sub(most) {
        0 => shown,
        more => format!("{shown} and {more} more"),
    }
}

impl Fact {
    /// A fact of words or counts.
    pub fn plain(name: &str, label: &str, value: Cell) -> Self {
        let (name, label) = (name.to_owned(), label.to_owned());
        Self { name, label, value, measure: None, source: None, machine: false }
    }

    /// The head of the book after a write: who keeps a record of it asks for it.
    pub fn head(head: Option<impl ToString>) -> Self {
        let head = head.map(|head| head.to_string());
        Self::plain("head", "head", Cell::text(head.as_deref())).for_machines()
    }

    /// A field, as it is declared, with its value.
    pub fn field<G: Group, T>(field: ColumnOf<G, T>, value: impl Into<Cell>) -> Self {
        let Column { name, title, measure, .. } = Column::field(field);
        let value = value.into();
        Self { name, label: title, value, measure, source: None, machine: false }
    }

    /// The same fact under another label.
    #[must_use]
    pub fn labelled(mut self, label: &str) -> Self {
        label.clone_into(&mut self.label);
        self
    }

    /// The same fact under another name.
    #[must_use]
    pub fn named(mut self, name: &str) -> Self {
        name.clone_into(&mut self.name);
        self
    }

    /// A fact with a unit.
    pub fn of(name: &str, label: &str, value: Cell, measure: Measure) -> Self {
        Self { measure: Some(measure), ..Self::plain(name, label, value) }
    }

    /// The same fact for machines, and for people who ask for all of it.
    #[must_use]
    pub fn for_machines(mut self) -> Self {
        self.machine = true;
        self
    }

    /// The same fact with its source.
    #[must_use]
    pub fn from(mut self, source: impl Into<String>) -> Self {
        self.source = Some(source.into());
        self
    }
}

impl Report {
    /// An empty report of a kind.
    pub const fn new(kind: &'static str) -> Self {
        Self { kind, blocks: Vec::new() }
    }

    /// Sources of facts and columns, each once, in the order in which they stand.
    pub fn sources(&self) -> Vec<&str> {
        let mut list: Vec<&str> = Vec::new();
        for source in self.blocks.iter().flat_map(Block::sources) {
            if !list.contains(&source) {
                list.push(source);
            }
        }
        list
    }

    /// Its tables, in the order in which they stand.
    pub fn tables(&self) -> impl Iterator<Item = &Table> {
        self.blocks.iter().filter_map(|b| if let Block::Table(t) = b { Some(t) } else { None })
    }

    /// What it says of those that nobody can decide.
    pub fn undecided(&self) -> impl Iterator<Item = &str> {
        let open = |c: &Counted| c.counts.iter().any(|(of, n)| *of == "undecided" && *n > Some(0));
        self.blocks.iter().filter_map(move |b| match b {
            Block::Counted(c) if open(c) => Some(c.says.as_str()),
            _ => None,
        })
    }

    /// The same answer with what is left to machines told to people, too.
    #[must_use]
    pub fn in_full(&self) -> Self {
        let mut all = self.clone();
        for block in &mut all.blocks {
            if let Block::Facts { facts, .. } = block {
                facts.iter_mut().for_each(|fact| fact.machine = false);
            }
        }
        all
    }

    pub fn push(&mut self, block: Block) {
        self.blocks.push(block);
    }
}
