//! What is known of a column.

use crate::model::End;
use crate::units::Measure;

use super::Words;
use super::counters::AtPlaces;

/// What kind of value a column holds.
#[derive(Clone, Copy, Debug)]
pub enum Kind {
    /// A whole number of quanta of a measure.
    Measure(Measure),
    /// An instant, ms of UTC.
    Date,
    /// Free text.
    Text,
    Word(Words),
    /// Yes or no.
    Flag,
    /// A set of words, one bit each in the order of the vocabulary.
    Set(Words),
}

/// What no value means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Absent {
    /// Nobody knows.
    Unknown,
    /// There is none, and that is known.
    None,
    /// There is none where this flag of the same row says so; where it says nothing, nobody knows.
    NoneIf(&'static str),
}

impl Absent {
    /// Whether no value can mean that there is none.
    pub const fn may_be_none(self) -> bool {
        matches!(self, Self::None | Self::NoneIf(_))
    }
}

/// How a figure of a run is folded over runs, and split at an instant inside a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// It adds up: what lies after a cut is the whole less the part before it.
    Sums,
    /// The largest counts; this column of a part holds the largest after the cut.
    Largest(&'static str),
}

/// What a counter of a joint counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Over {
    /// The figure of its runs of that name, summed or maximised.
    Runs(&'static str, Part),
    /// The worst of the figures of its runs at three places.
    WorstPlace(&'static AtPlaces),
    /// The figure of its runs at one place, summed. Of what the joint brought with it nobody knows how
    /// much stands there: no more than this column of its opening says.
    Place(&'static str, &'static str),
    /// Make-ups of the present generation of this end.
    Makeups(End),
}

/// How exactly a column tells its value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    Exact,
    /// Two columns, a lower and an upper bound; no upper one where more may have happened.
    Bounds {
        /// Column of the lower bound.
        lo: &'static str,
        /// Column of the upper bound.
        hi: &'static str,
    },
}

/// A column, or the two columns of a value between bounds.
#[derive(Clone, Debug)]
pub struct Column {
    /// Its name: of the field of the struct, of the column of the file, of the field of the
    /// language.
    pub name: &'static str,
    bounds: [&'static str; 2],
    pub means: &'static str,
    /// What kind of value; `None` for what only the program reads.
    pub kind: Option<Kind>,
    pub shape: Shape,
    /// `INTEGER`, `TEXT` or `BLOB`.
    pub sql: &'static str,
    /// There is always a value.
    pub required: bool,
    /// Where it comes from; `None` where it is no field of the language.
    pub from: Option<&'static str>,
    /// Other names in the language.
    pub also: &'static [&'static str],
    /// What no value means.
    pub absent: Absent,
    /// When there is no value, in words; nothing where there always is one.
    pub when_absent: &'static str,
    /// It may be below zero.
    pub signed: bool,
    /// What people read above it; its name where they read that.
    pub title: Option<&'static str>,
    /// It may hold several words or names, divided by commas.
    pub several: bool,
    /// Summary bits tell of it.
    pub counted: bool,
    /// For a figure of a run: how it is folded.
    pub part: Option<Part>,
    /// For a counter of a joint: what it counts.
    pub over: Option<Over>,
    /// Version of the projections that brought it.
    pub since: i64,
}

impl Column {
    /// A column of a name, with the names of its two columns where it has bounds.
    pub(super) fn new(name: &'static str, bounds: [&'static str; 2], means: &'static str) -> Self {
        Self {
            name,
            bounds,
            means: means.trim(),
            kind: None,
            shape: Shape::Exact,
            sql: "",
            required: true,
            from: None,
            also: &[],
            absent: Absent::Unknown,
            when_absent: "",
            signed: false,
            title: None,
            several: false,
            counted: false,
            part: None,
            over: None,
            since: 1,
        }
    }

    /// Of a measure, in its quanta.
    pub(super) const fn of(mut self, measure: Measure) -> Self {
        self.kind = Some(Kind::Measure(measure));
        self
    }

    pub(super) const fn count(self) -> Self {
        self.of(Measure::Count)
    }

    pub(super) const fn date(mut self) -> Self {
        self.kind = Some(Kind::Date);
        self
    }

    /// A word of a list that is data.
    pub(super) const fn word(mut self, words: Words) -> Self {
        self.kind = Some(Kind::Word(words));
        self
    }

    /// Several words or names, divided by commas.
    pub(super) const fn several(mut self) -> Self {
        self.several = true;
        self
    }

    /// A set of words.
    pub(super) const fn set(mut self, words: Words) -> Self {
        self.kind = Some(Kind::Set(words));
        self
    }

    /// A field of the language, from there.
    pub(super) const fn from(mut self, source: &'static str) -> Self {
        self.from = Some(source);
        self
    }

    /// Other names in the language.
    pub(super) const fn also(mut self, names: &'static [&'static str]) -> Self {
        self.also = names;
        self
    }

    /// No value means that there is none, and this says when that is so.
    pub(super) const fn or_none(mut self, when: &'static str) -> Self {
        self.absent = Absent::None;
        self.when_absent = when;
        self
    }

    /// When nobody knows the value.
    pub(super) const fn unknown(mut self, when: &'static str) -> Self {
        self.when_absent = when;
        self
    }

    /// No value means that there is none where a flag of the row is known, else that nobody knows.
    pub(super) const fn none_if(mut self, flag: &'static str, when: &'static str) -> Self {
        self.absent = Absent::NoneIf(flag);
        self.when_absent = when;
        self
    }

    /// It may be below zero.
    pub(super) const fn signed(mut self) -> Self {
        self.signed = true;
        self
    }

    /// What people read above it.
    pub(super) const fn titled(mut self, title: &'static str) -> Self {
        self.title = Some(title);
        self
    }

    /// Summary bits tell of it.
    pub(super) const fn counted(mut self) -> Self {
        self.counted = true;
        self
    }

    /// How a run's figure is folded.
    pub(super) const fn part(mut self, part: Part) -> Self {
        self.part = Some(part);
        self
    }

    /// What a counter counts.
    pub(super) const fn over(mut self, over: Over) -> Self {
        self.over = Some(over);
        self
    }

    /// Came with a version of the projections.
    pub(super) const fn since(mut self, version: i64) -> Self {
        self.since = version;
        self
    }

    /// What the type of its field says.
    pub(super) fn typed(mut self, sql: &'static str, kind: Option<Kind>) -> Self {
        self.sql = sql;
        self.kind = self.kind.or(kind);
        self
    }

    /// There may be no value.
    pub(super) const fn optional(mut self) -> Self {
        self.required = false;
        self
    }

    /// A lower and an upper bound.
    pub(super) const fn bounded(mut self) -> Self {
        let [lo, hi] = self.bounds;
        self.shape = Shape::Bounds { lo, hi };
        self
    }

    /// The columns of the file that hold it, and whether each always holds a value.
    pub fn stored(&self) -> impl Iterator<Item = (&'static str, bool)> {
        let (first, second) = match self.shape {
            Shape::Bounds { lo, hi } => ((lo, true), Some((hi, false))),
            Shape::Exact => ((self.name, self.required), None),
        };
        std::iter::once(first).chain(second)
    }

    /// The measure, for a number.
    pub const fn measure(&self) -> Option<Measure> {
        match self.kind {
            Some(Kind::Measure(m)) => Some(m),
            _ => None,
        }
    }

    /// What people read above it.
    pub fn title(&self) -> String {
        self.title.map_or_else(|| self.name.replace('_', " "), str::to_owned)
    }
}
