//! The one table of fields: name, record, kind of value, where it is stored, what it means and
//! where the value comes from. Checks, suggestions, SQL, the evaluator, help and completion all
//! read it.

mod care;
mod custody;
mod filled;
mod joint;
mod run;
mod words;

use std::fmt;
use std::sync::LazyLock;

use crate::units::Measure;

pub use words::Words;

/// Kinds of record in a joint's life.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Record {
    /// A run of the joint.
    Run,
    /// A make-up of one of its ends.
    Makeup,
    /// An inspection.
    Inspection,
    /// A finding of an inspection.
    Finding,
    /// A repair.
    Repair,
    /// A handling or well event.
    Event,
    /// A failure.
    Failure,
    /// A move.
    Move,
    /// A hire.
    Hire,
    /// A decision.
    Decision,
}

impl Record {
    /// Every kind.
    pub const ALL: [Self; 10] = [
        Self::Run,
        Self::Makeup,
        Self::Inspection,
        Self::Finding,
        Self::Repair,
        Self::Event,
        Self::Failure,
        Self::Move,
        Self::Hire,
        Self::Decision,
    ];

    /// The word for one.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Run => "run",
            Self::Makeup => "makeup",
            Self::Inspection => "inspection",
            Self::Finding => "finding",
            Self::Repair => "repair",
            Self::Event => "event",
            Self::Failure => "failure",
            Self::Move => "move",
            Self::Hire => "hire",
            Self::Decision => "decision",
        }
    }

    /// The word for many.
    pub const fn plural(self) -> &'static str {
        match self {
            Self::Run => "runs",
            Self::Makeup => "makeups",
            Self::Inspection => "inspections",
            Self::Finding => "findings",
            Self::Repair => "repairs",
            Self::Event => "events",
            Self::Failure => "failures",
            Self::Move => "moves",
            Self::Hire => "hires",
            Self::Decision => "decisions",
        }
    }

    /// Reads the word for one or many.
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.to_ascii_lowercase();
        match text.as_str() {
            "make_up" | "make_ups" => return Some(Self::Makeup),
            _ => {}
        }
        let one = text.strip_suffix('s').unwrap_or(&text);
        Self::ALL.into_iter().find(|r| r.word() == one)
    }

    /// The table that its rows stand in.
    pub const fn table(self) -> Table {
        match self {
            Self::Run => Table::JointRun,
            Self::Makeup => Table::Makeup,
            Self::Inspection => Table::Inspection,
            Self::Finding => Table::Finding,
            Self::Repair => Table::Repair,
            Self::Event => Table::Event,
            Self::Failure => Table::Failure,
            Self::Move => Table::Move,
            Self::Hire => Table::Hire,
            Self::Decision => Table::Decision,
        }
    }

    /// Columns that order its rows in a joint's life: instant, entry, number within the entry.
    pub const fn key(self) -> &'static [&'static str] {
        match self {
            Self::Run => &["finish", "run"],
            Self::Makeup => &["at", "entry", "end"],
            Self::Finding => &["at", "entry", "n"],
            _ => &["at", "entry"],
        }
    }

    /// Place in the order of facts at one instant. It is the order in which folds take entries in:
    /// out-of-service events, what was seen, decided, mended, moved, run.
    pub const fn rank(self) -> u8 {
        match self {
            Self::Event | Self::Failure => 6,
            Self::Inspection | Self::Finding => 7,
            Self::Decision => 8,
            Self::Repair => 9,
            Self::Makeup => 10,
            Self::Hire | Self::Move => 12,
            Self::Run => 14,
        }
    }
}

impl fmt::Display for Record {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// Tables of the projections that filters read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[expect(missing_docs, reason = "they are explained in migrations/projection.sql")]
pub enum Table {
    Joint,
    Since,
    JointRun,
    Run,
    RunPart,
    WindowPart,
    Gap,
    Makeup,
    Inspection,
    Finding,
    Repair,
    Event,
    Failure,
    Move,
    Hire,
    Decision,
}

impl Table {
    /// Its name in the book.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Joint => "joint",
            Self::Since => "since",
            Self::JointRun => "joint_run",
            Self::Run => "run",
            Self::RunPart => "run_part",
            Self::WindowPart => "window_part",
            Self::Gap => "gap",
            Self::Makeup => "makeup",
            Self::Inspection => "inspection",
            Self::Finding => "finding",
            Self::Repair => "repair",
            Self::Event => "event",
            Self::Failure => "failure",
            Self::Move => "move",
            Self::Hire => "hire",
            Self::Decision => "decision",
        }
    }
}

/// A column of a table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Col {
    /// The table.
    pub table: Table,
    /// The column.
    pub name: &'static str,
}

/// What kind of value a field holds.
#[derive(Clone, Copy, Debug)]
pub enum Kind {
    /// A whole number of quanta of a measure.
    Measure(Measure),
    /// An instant.
    Date,
    /// Free text.
    Text,
    /// A word.
    Word(Words),
    /// Yes or no.
    Flag,
    /// A set of words, one bit each in the order of the vocabulary.
    Set(Words),
}

/// What no value in the column means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Absent {
    /// Nobody knows.
    Unknown,
    /// There is none, and that is known.
    None,
}

/// How a run's figure is folded over runs, and split at an instant inside a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// It adds up: what lies after a cut is the whole less the part before it.
    Sums,
    /// The largest counts; this column of a part holds the largest after the cut.
    Largest(&'static str),
}

/// Counters that a joint's row, and its rows of `since`, keep.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Over {
    /// The run column of the same meaning, summed or maximised.
    Runs(&'static str, Part),
    /// The worst of the three places where damage is kept.
    WorstPlace,
    /// Make-ups of the present generation of this end.
    Makeups(&'static str),
}

/// The three places on a joint where damage is kept, as columns of runs and their parts.
pub const PLACES: [&str; 3] = ["damage_pin", "damage_middle", "damage_box"];

/// Where a field's value stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stored {
    /// A column; no value as `Absent` says.
    Column(Col),
    /// A column that must hold something for the field to be true.
    Present(Col),
    /// A column that must hold nothing for the field to be true.
    Missing(Col),
    /// The whole less a column that holds a ratio.
    Rest(Col),
    /// Milliseconds from an instant to now.
    Age(Col),
    /// One column as a ratio of another.
    Ratio(Col, Col),
    /// A counter of the joint: lower and upper bound, and what it counts.
    Counter {
        /// Column of the lower bound.
        lo: &'static str,
        /// Column of the upper bound; no value when there is none.
        hi: &'static str,
        /// What it counts.
        over: Over,
    },
    /// A lower bound of the joint, exact when the other column holds something.
    Floor(&'static str, &'static str),
    /// A figure of a run that a cut splits.
    Figure(&'static str, Part),
    /// The worst of the three places of a run.
    Worst,
    /// Upper end of a run's depth interval: known only between both ends for a part of a run.
    Top,
    /// Lower end of a run's depth interval.
    Bottom,
}

/// Histogram functions that a field with `above` calls.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Above {
    /// Turns.
    Turns,
    /// Hours.
    Hours,
}

/// How the value of a joint's field on a day is found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Past {
    /// The class, or the class of a part: in the latest inspection; the overall one also in a
    /// person's ruling.
    Class(&'static str),
    /// In the latest move; a hire in between makes it unknown.
    Custody(&'static str),
}

/// A field.
#[derive(Clone, Debug)]
pub struct Field {
    /// Its name.
    pub name: &'static str,
    /// Other names.
    pub aliases: &'static [&'static str],
    /// The record that it belongs to; `None` for the joint.
    pub record: Option<Record>,
    /// What kind of value.
    pub kind: Kind,
    /// Where it stands.
    pub stored: Stored,
    /// What no value means.
    pub absent: Absent,
    /// Whether it may be below zero.
    pub signed: bool,
    /// The field of the same record that holds the same thing in another dimension.
    pub twin: Option<&'static str>,
    /// What the histogram tells about it above a dogleg.
    pub above: Option<Above>,
    /// How its value on a day is found.
    pub past: Option<Past>,
    /// What it is.
    pub help: &'static str,
    /// Where the value comes from.
    pub from: &'static str,
}

impl Field {
    const fn new(
        record: Option<Record>,
        name: &'static str,
        kind: Kind,
        stored: Stored,
        help: &'static str,
        from: &'static str,
    ) -> Self {
        Self {
            name,
            aliases: &[],
            record,
            kind,
            stored,
            absent: Absent::Unknown,
            signed: false,
            twin: None,
            above: None,
            past: None,
            help,
            from,
        }
    }

    const fn also(mut self, aliases: &'static [&'static str]) -> Self {
        self.aliases = aliases;
        self
    }

    const fn or_none(mut self) -> Self {
        self.absent = Absent::None;
        self
    }

    const fn signed(mut self) -> Self {
        self.signed = true;
        self
    }

    const fn twin(mut self, other: &'static str) -> Self {
        self.twin = Some(other);
        self
    }

    const fn above(mut self, above: Above) -> Self {
        self.above = Some(above);
        self
    }

    const fn past(mut self, past: Past) -> Self {
        self.past = Some(past);
        self
    }

    /// True for a column that is never empty.
    pub fn always_filled(&self) -> bool {
        matches!(self.stored, Stored::Column(col) if filled::filled(col))
    }

    /// The measure, for a number.
    pub const fn measure(&self) -> Option<Measure> {
        match self.kind {
            Kind::Measure(m) => Some(m),
            _ => None,
        }
    }
}

/// Source of what a certificate says.
pub(super) const CERTIFICATE: &str = "the joint's certificate";

/// Every field: the joint's first, then each record's.
pub fn fields() -> &'static [Field] {
    static ALL: LazyLock<Vec<Field>> = LazyLock::new(|| {
        [joint::fields(), run::fields(), care::fields(), custody::fields()].concat()
    });
    &ALL
}

/// The field of a record (or of the joint) by any of its names, in any case. A filter has a dozen
/// names: to go through the list is quicker than to make an index of it first.
pub fn field(record: Option<Record>, name: &str) -> Option<&'static Field> {
    let is = |known: &str| known.eq_ignore_ascii_case(name);
    fields_of(record).find(|f| is(f.name) || f.aliases.iter().any(|a| is(a)))
}

/// Fields of a record, or of the joint.
pub fn fields_of(record: Option<Record>) -> impl Iterator<Item = &'static Field> {
    fields().iter().filter(move |f| f.record == record)
}

/// True when some record or the joint has a field of that name.
pub fn is_field(name: &str) -> bool {
    std::iter::once(None)
        .chain(Record::ALL.into_iter().map(Some))
        .any(|record| field(record, name).is_some())
}

/// Records that have a field of that name.
pub fn records_with(name: &str) -> Vec<Record> {
    Record::ALL.into_iter().filter(|r| field(Some(*r), name).is_some()).collect()
}

/// Names that look like a strange one, the closest first: at most three.
pub fn nearest<'a>(name: &str, known: impl Iterator<Item = &'a str>) -> Vec<&'a str> {
    let name = name.to_ascii_lowercase();
    let mut scored: Vec<(f64, &str)> = known
        .map(|k| {
            (
                strsim::jaro_winkler(k, &name)
                    .max(strsim::normalized_damerau_levenshtein(k, &name)),
                k,
            )
        })
        .filter(|(score, _)| *score > 0.78)
        .collect();
    scored.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(b.1)));
    scored.dedup_by(|a, b| a.1 == b.1);
    scored.into_iter().map(|(_, k)| k).take(3).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn every_name_means_one_field() {
        let mut seen = BTreeSet::new();
        for f in fields() {
            for name in std::iter::once(&f.name).chain(f.aliases) {
                assert!(seen.insert((f.record, *name)), "{:?} {name} twice", f.record);
                assert_eq!(&name.to_ascii_lowercase(), name);
            }
            assert!(!f.help.is_empty() && !f.from.is_empty(), "{} is not explained", f.name);
            assert!(!f.help.ends_with('.'), "{} ends with a full stop", f.name);
            if let Some(twin) = f.twin {
                assert!(field(f.record, twin).is_some(), "{} has no twin {twin}", f.name);
            }
        }
    }

    #[test]
    fn every_column_is_in_the_projections() {
        let sql = include_str!("../../../migrations/projection.sql");
        let has = |table: &str, column: &str| {
            let start = sql.find(&format!("CREATE TABLE {table} (")).expect(table);
            let body = &sql[start..start + sql[start..].find("STRICT").unwrap()];
            body.lines().any(|l| l.split_whitespace().next() == Some(column))
        };
        let mut missing = Vec::new();
        let mut need = |table: Table, column: &str| {
            if !has(table.name(), column) {
                missing.push(format!("{}.{column}", table.name()));
            }
        };
        for f in fields() {
            match f.stored {
                Stored::Column(c)
                | Stored::Present(c)
                | Stored::Missing(c)
                | Stored::Rest(c)
                | Stored::Age(c) => {
                    need(c.table, c.name);
                }
                Stored::Ratio(a, b) => {
                    need(a.table, a.name);
                    need(b.table, b.name);
                }
                Stored::Counter { lo, hi, over } => {
                    for table in [Table::Joint, Table::Since] {
                        need(table, lo);
                        need(table, hi);
                    }
                    if let Over::Runs(column, part) = over {
                        need(Table::JointRun, column);
                        need(Table::RunPart, column);
                        if let Part::Largest(after) = part {
                            need(Table::RunPart, after);
                        }
                    }
                }
                Stored::Floor(column, proof) => {
                    need(Table::Joint, column);
                    need(Table::Joint, proof);
                }
                Stored::Figure(column, part) => {
                    need(Table::JointRun, column);
                    need(Table::RunPart, column);
                    if let Part::Largest(after) = part {
                        need(Table::RunPart, after);
                    }
                }
                Stored::Worst => PLACES.iter().for_each(|p| need(Table::RunPart, p)),
                Stored::Top => need(Table::JointRun, "top_depth"),
                Stored::Bottom => need(Table::JointRun, "bottom_depth"),
            }
        }
        for record in Record::ALL {
            for key in record.key() {
                need(record.table(), key);
            }
        }
        assert!(missing.is_empty(), "not in the projections: {missing:?}");
    }

    #[test]
    fn record_kinds_are_read_in_singular_and_plural() {
        for record in Record::ALL {
            assert_eq!(Record::parse(record.word()), Some(record));
            assert_eq!(Record::parse(&format!("{record}s").to_uppercase()), Some(record));
        }
        assert_eq!(Record::parse("s"), None);
        assert_eq!(Record::parse("joint"), None);
    }

    #[test]
    fn the_nearest_names_are_offered() {
        let names = || fields_of(Some(Record::Run)).map(|f| f.name);
        assert_eq!(nearest("max_doglog", names()).first(), Some(&"max_dogleg"));
        assert!(nearest("xyzzy", names()).is_empty());
    }
}
