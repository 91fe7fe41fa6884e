//! The syntax tree: what a filter says, with the place of every part, before anyone asks what the
//! names mean. Its `Display` writes a filter that reads back as the same tree.

use std::fmt;

use crate::units::Rational;

use super::error::Span;

/// A word or text of the filter with its place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Word {
    /// As written (text without its quotes).
    pub text: String,
    pub span: Span,
}

/// A part of a filter with its place.
#[derive(Clone, Debug)]
pub struct Expr {
    pub kind: ExprKind,
    pub span: Span,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Cmp {
    /// `=`
    Eq,
    /// `!=`
    Ne,
    /// `<`
    Lt,
    /// `<=`
    Le,
    /// `>`
    Gt,
    /// `>=`
    Ge,
}

impl Cmp {
    pub const fn sign(self) -> &'static str {
        match self {
            Self::Eq => "=",
            Self::Ne => "!=",
            Self::Lt => "<",
            Self::Le => "<=",
            Self::Gt => ">",
            Self::Ge => ">=",
        }
    }

    /// The sign with the sides changed.
    #[must_use]
    pub const fn flipped(self) -> Self {
        match self {
            Self::Lt => Self::Gt,
            Self::Le => Self::Ge,
            Self::Gt => Self::Lt,
            Self::Ge => Self::Le,
            same => same,
        }
    }
}

/// How a history predicate speaks of records.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Quant {
    /// At least one.
    Any,
    /// Not one.
    No,
    /// At least one, and each.
    Every,
    /// The one that is meant.
    One(Which),
}

/// Which one of some records is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Which {
    Latest,
    /// The one before the latest.
    Previous,
    First,
}

impl Which {
    pub const fn word(self) -> &'static str {
        match self {
            Self::Latest => "latest",
            Self::Previous => "previous",
            Self::First => "first",
        }
    }

    /// Whether it is looked for from the end of the life backwards.
    pub const fn from_the_end(self) -> bool {
        !matches!(self, Self::First)
    }
}

impl Quant {
    pub const fn word(self) -> &'static str {
        match self {
            Self::Any => "any",
            Self::No => "no",
            Self::Every => "every",
            Self::One(which) => which.word(),
        }
    }
}

/// How records are folded into one value.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Fold {
    Sum,
    Max,
    Min,
    Mean,
}

impl Fold {
    pub const fn word(self) -> &'static str {
        match self {
            Self::Sum => "sum",
            Self::Max => "max",
            Self::Min => "min",
            Self::Mean => "mean",
        }
    }
}

/// How the joints of a set are put in one value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SetFold {
    Fold(Fold),
    /// The value that so many of a hundred joints do not exceed, by nearest rank.
    Percentile(u8),
}

/// Whose kin is asked for.
#[derive(Clone, Debug)]
pub enum KinOf {
    Serial(Word),
    /// Joints that match a filter.
    Joints(Box<Expr>),
}

/// What joins the terms of a sum or a product.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Step {
    /// `+`
    Add,
    /// `-`
    Subtract,
    /// `*`
    Multiply,
    /// `/`
    Divide,
}

impl Step {
    const fn sign(self) -> &'static str {
        match self {
            Self::Add => "+",
            Self::Subtract => "-",
            Self::Multiply => "*",
            Self::Divide => "/",
        }
    }
}

/// A number and the unit behind it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Quantity {
    pub written: String,
    /// The number; `None` when it has more digits than can be kept exactly.
    pub number: Option<Rational>,
    /// The unit.
    pub unit: Option<Word>,
    pub span: Span,
}

/// A name with what follows it: `hours above 8 deg/100ft`.
#[derive(Clone, Debug)]
pub struct Source {
    /// Whether `joint.` stands before it.
    pub of_joint: bool,
    pub name: Word,
    /// The place on the joint where it stands: `damage at box end`.
    pub place: Option<Placed>,
    /// The dogleg above which it counts, or the first of two limits.
    pub above: Option<Quantity>,
    /// The dogleg or the depth up to which it counts: `hours between 4 and 6 deg/100ft`.
    pub up_to: Option<Quantity>,
}

/// A place on a joint, and where it is written.
#[derive(Clone, Copy, Debug)]
pub struct Placed {
    pub place: Place,
    pub span: Span,
}

/// A place on a joint where figures of its bending stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    PinEnd,
    Middle,
    BoxEnd,
}

impl Place {
    /// As it is written.
    pub const fn words(self) -> &'static str {
        match self {
            Self::PinEnd => "pin end",
            Self::Middle => "middle",
            Self::BoxEnd => "box end",
        }
    }
}

/// Records of one kind, their condition and window.
#[derive(Clone, Debug)]
pub struct Records {
    /// The kind, as written.
    pub kind: Word,
    pub condition: Option<Box<Expr>>,
    pub windows: Vec<Window>,
}

/// A day, or a day less a duration.
#[derive(Clone, Debug)]
pub struct Day {
    /// The day; `None` for today.
    pub date: Option<Word>,
    /// What is taken off.
    pub less: Option<Quantity>,
}

/// A window in time.
#[derive(Clone, Debug)]
pub struct Window {
    pub kind: WindowKind,
    pub span: Span,
}

/// What a window says.
#[derive(Clone, Debug)]
pub enum WindowKind {
    /// `since last inspection (covers = wall)`
    SinceRecord {
        /// The latest, else the first.
        latest: bool,
        /// The kind, as written.
        kind: Word,
        /// The condition of the anchor.
        condition: Option<Box<Expr>>,
    },
    /// `since 2026-03-01`
    SinceDay(Day),
    /// `before last event (what = jarring)`
    BeforeRecord {
        /// The latest, else the first.
        latest: bool,
        /// The kind, as written.
        kind: Word,
        /// The condition of the anchor.
        condition: Option<Box<Expr>>,
    },
    /// `before 2026-03-01`
    Before(Day),
    /// `after 2026-03-01`
    After(Day),
    /// `from 2026-01-01 to 2026-03-31`
    FromTo(Day, Day),
    /// `in last 2 years`
    InLast(Quantity),
    /// `as of 2025-06-30`
    AsOf(Day),
    /// `at that time`: when the record in scope was
    ThatTime,
}

/// What a part of a filter is.
#[derive(Clone, Debug)]
pub enum ExprKind {
    Or(Vec<Expr>),
    And(Vec<Expr>),
    Not(Box<Expr>),
    Compare {
        op: Cmp,
        left: Box<Expr>,
        right: Box<Expr>,
    },
    /// `x between a and b`
    Between {
        value: Box<Expr>,
        /// Lower limit, included.
        low: Box<Expr>,
        /// Upper limit, included.
        high: Box<Expr>,
        /// `not between`
        negated: bool,
    },
    /// `x in (a, b)`
    OneOf {
        value: Box<Expr>,
        /// What it may be.
        list: Vec<Expr>,
        /// `not in`
        negated: bool,
    },
    /// `x like "K1-*"`
    Like {
        value: Box<Expr>,
        pattern: Word,
        /// `not like`
        negated: bool,
    },
    /// `class worse than class_2`
    Ranked {
        value: Box<Expr>,
        /// Worse, else better.
        worse: bool,
        than: Box<Expr>,
        /// `not worse than`
        negated: bool,
    },
    /// `x is unknown`
    Unknown {
        value: Box<Expr>,
        /// `is not unknown`
        negated: bool,
    },
    /// Terms with their signs; the first is added.
    Sum(Vec<(Step, Expr)>),
    /// Factors; the first is multiplied.
    Product(Vec<(Step, Expr)>),
    /// The value with its sign turned.
    Negative(Box<Expr>),
    /// A number with its unit.
    Quantity(Quantity),
    /// A date as written.
    Date(String),
    Today,
    /// Text in quotes.
    Text(String),
    /// `any run (…) since …`
    History {
        /// How it speaks of them.
        quant: Quant,
        of: Records,
    },
    /// `any 2 runs in a row (…)`
    InARow {
        /// `no`, else `any`.
        no: bool,
        /// How many at least.
        many: Word,
        of: Records,
    },
    /// `count runs (…)`
    Count(Records),
    /// `max wall_loss over inspections`
    Fold {
        /// How they are folded.
        fold: Fold,
        field: Source,
        of: Records,
    },
    /// A field, a word of a vocabulary or a named filter.
    Named {
        source: Source,
        windows: Vec<Window>,
    },
    /// `max_dogleg of latest run`
    Pick {
        field: Source,
        which: Which,
        of: Records,
    },
    /// `damage of "K1-0417" since 2026-01-01`
    OfJoint {
        source: Source,
        serial: Word,
        windows: Vec<Window>,
    },
    /// `mean damage over joints (string = "K1")`
    OverJoints {
        fold: SetFold,
        field: Source,
        of: Records,
    },
    /// `due for inspection`
    Due(Word),
    /// `kin of "K1-0417"`, `kin of (failed = true) by (heat, neighbour)`
    Kin {
        of: KinOf,
        /// What is shared; anything when empty.
        by: Vec<Word>,
    },
}

impl Expr {
    /// The word, when this is a single word and nothing else.
    pub fn bare_word(&self) -> Option<&Word> {
        match &self.kind {
            ExprKind::Named {
                source: Source { of_joint: false, name, place: None, above: None, .. },
                windows,
            } if windows.is_empty() => Some(name),
            _ => None,
        }
    }

    /// How tightly it binds; what binds looser than its place needs parentheses.
    const fn level(&self) -> u8 {
        match &self.kind {
            ExprKind::Or(_) => 0,
            ExprKind::And(_) => 1,
            ExprKind::Not(_) => 2,
            ExprKind::Compare { .. }
            | ExprKind::Between { .. }
            | ExprKind::OneOf { .. }
            | ExprKind::Like { .. }
            | ExprKind::Ranked { .. }
            | ExprKind::Unknown { .. } => 3,
            ExprKind::Sum(_) => 4,
            ExprKind::Product(_) => 5,
            ExprKind::Negative(_) => 6,
            _ => 7,
        }
    }

    fn at(&self, f: &mut fmt::Formatter<'_>, level: u8) -> fmt::Result {
        if self.level() < level { write!(f, "({self})") } else { write!(f, "{self}") }
    }
}

fn separated(f: &mut fmt::Formatter<'_>, terms: &[Expr], word: &str, level: u8) -> fmt::Result {
    for (i, term) in terms.iter().enumerate() {
        if i > 0 {
            write!(f, " {word} ")?;
        }
        term.at(f, level)?;
    }
    Ok(())
}

fn steps(f: &mut fmt::Formatter<'_>, terms: &[(Step, Expr)], level: u8) -> fmt::Result {
    for (i, (step, term)) in terms.iter().enumerate() {
        if i > 0 {
            write!(f, " {} ", step.sign())?;
        }
        term.at(f, level)?;
    }
    Ok(())
}

fn quoted(f: &mut fmt::Formatter<'_>, text: &str) -> fmt::Result {
    write!(f, "\"{}\"", text.replace('"', "\"\""))
}

const fn not(negated: bool) -> &'static str {
    if negated { "not " } else { "" }
}

impl fmt::Display for Expr {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.kind {
            ExprKind::Or(terms) => separated(f, terms, "or", 1),
            ExprKind::And(terms) => separated(f, terms, "and", 2),
            ExprKind::Not(inner) => {
                f.write_str("not ")?;
                inner.at(f, 3)
            }
            ExprKind::Compare { op, left, right } => {
                left.at(f, 4)?;
                write!(f, " {} ", op.sign())?;
                right.at(f, 4)
            }
            ExprKind::Between { value, low, high, negated } => {
                value.at(f, 4)?;
                write!(f, " {}between ", not(*negated))?;
                low.at(f, 4)?;
                f.write_str(" and ")?;
                high.at(f, 4)
            }
            ExprKind::OneOf { value, list, negated } => {
                value.at(f, 4)?;
                write!(f, " {}in (", not(*negated))?;
                separated(f, list, ",", 4)?;
                f.write_str(")")
            }
            ExprKind::Like { value, pattern, negated } => {
                value.at(f, 4)?;
                write!(f, " {}like ", not(*negated))?;
                quoted(f, &pattern.text)
            }
            ExprKind::Ranked { value, worse, than, negated } => {
                value.at(f, 4)?;
                let word = if *worse { "worse" } else { "better" };
                write!(f, " {}{word} than ", not(*negated))?;
                than.at(f, 4)
            }
            ExprKind::Unknown { value, negated } => {
                value.at(f, 4)?;
                write!(f, " is {}unknown", not(*negated))
            }
            ExprKind::Sum(terms) => steps(f, terms, 5),
            ExprKind::Product(terms) => steps(f, terms, 6),
            ExprKind::Negative(inner) => {
                f.write_str("-")?;
                inner.at(f, 7)
            }
            ExprKind::Quantity(q) => write!(f, "{q}"),
            ExprKind::Date(text) => f.write_str(text),
            ExprKind::Today => f.write_str("today"),
            ExprKind::Text(text) => quoted(f, text),
            ExprKind::History { quant, of } => write!(f, "{} {of}", quant.word()),
            ExprKind::InARow { no, many, of } => {
                let quant = if *no { Quant::No } else { Quant::Any };
                write!(f, "{} {} {} in a row", quant.word(), many.text, of.kind.text)?;
                of.rest(f)
            }
            ExprKind::Count(of) => write!(f, "count {of}"),
            ExprKind::Fold { fold, field, of } => write!(f, "{} {field} over {of}", fold.word()),
            ExprKind::Named { source, windows } => {
                write!(f, "{source}")?;
                windows.iter().try_for_each(|w| write!(f, " {w}"))
            }
            ExprKind::Pick { field, which, of } => {
                write!(f, "{field} of {} {of}", which.word())
            }
            ExprKind::OfJoint { source, serial, windows } => {
                write!(f, "{source} of ")?;
                quoted(f, &serial.text)?;
                windows.iter().try_for_each(|w| write!(f, " {w}"))
            }
            ExprKind::OverJoints { fold, field, of } => match fold {
                SetFold::Fold(fold) => write!(f, "{} {field} over {of}", fold.word()),
                SetFold::Percentile(n) => write!(f, "percentile {n} of {field} over {of}"),
            },
            ExprKind::Due(call) => write!(f, "due for {}", call.text),
            ExprKind::Kin { of, by } => {
                f.write_str("kin of ")?;
                match of {
                    KinOf::Serial(serial) => quoted(f, &serial.text)?,
                    KinOf::Joints(filter) => write!(f, "({filter})")?,
                }
                let words: Vec<&str> = by.iter().map(|w| w.text.as_str()).collect();
                match words.as_slice() {
                    [] => Ok(()),
                    [one] => write!(f, " by {one}"),
                    many => write!(f, " by ({})", many.join(", ")),
                }
            }
        }
    }
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.written)?;
        self.unit.as_ref().map_or(Ok(()), |unit| write!(f, " {}", unit.text))
    }
}

impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", if self.of_joint { "joint." } else { "" }, self.name.text)?;
        if let Some(at) = &self.place {
            write!(f, " at {}", at.place.words())?;
        }
        match (&self.above, &self.up_to) {
            (Some(least), Some(most)) => write!(f, " between {least} and {most}"),
            (Some(least), None) => write!(f, " above {least}"),
            (None, _) => Ok(()),
        }
    }
}

impl Records {
    /// Writes the condition and the windows.
    fn rest(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(condition) = &self.condition {
            write!(f, " ({condition})")?;
        }
        self.windows.iter().try_for_each(|w| write!(f, " {w}"))
    }
}

impl fmt::Display for Records {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.kind.text)?;
        self.rest(f)
    }
}

impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.date.as_ref().map_or("today", |d| &d.text))?;
        self.less.as_ref().map_or(Ok(()), |q| write!(f, " - {q}"))
    }
}

impl fmt::Display for Window {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.kind {
            WindowKind::SinceRecord { latest, kind, condition }
            | WindowKind::BeforeRecord { latest, kind, condition } => {
                let since = matches!(self.kind, WindowKind::SinceRecord { .. });
                let from = if since { "since" } else { "before" };
                write!(f, "{from} {} {}", if *latest { "last" } else { "first" }, kind.text)?;
                condition.as_ref().map_or(Ok(()), |c| write!(f, " ({c})"))
            }
            WindowKind::SinceDay(day) => write!(f, "since {day}"),
            WindowKind::Before(day) => write!(f, "before {day}"),
            WindowKind::After(day) => write!(f, "after {day}"),
            WindowKind::FromTo(from, to) => write!(f, "from {from} to {to}"),
            WindowKind::InLast(q) => write!(f, "in last {q}"),
            WindowKind::ThatTime => f.write_str("at that time"),
            WindowKind::AsOf(day) => write!(f, "as of {day}"),
        }
    }
}
