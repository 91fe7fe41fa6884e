//! The checked tree: every name is a field, every number is in base units, every word is one of
//! its vocabulary. SQL and the evaluator both start here and share nothing else.

use std::sync::Arc;

use crate::model::{Scope, Vocabulary, name_key};
use crate::schema::Value;
use crate::units::{Dimension, Measure, Rational};

use super::ast::{Cmp, Fold, Quant, Step, Which};
use super::error::Span;
use super::parse::Text;
use super::registry::{Field, Kind, Over, Part, Record, Stored};

/// Milliseconds of a second: instants are kept in them, durations compared in seconds.
pub(super) const MS_PER_SECOND: i64 = 1_000;

/// A condition and where it stands in the text.
#[derive(Clone, Debug)]
pub struct Node {
    pub pred: Pred,
    /// Text that holds it.
    pub text: Text,
    pub span: Span,
}

impl Node {
    /// The words of the condition, in one line.
    pub fn label(&self) -> String {
        let line = one_line(self.span.of(&self.text.text));
        without_parens(&line).to_owned()
    }
}

/// A text without parentheses around the whole of it.
fn without_parens(text: &str) -> &str {
    let Some(inner) = text.strip_prefix('(').and_then(|t| t.strip_suffix(')')) else {
        return text;
    };
    // The first parenthesis must not close before the last does.
    let (mut depth, mut quoted) = (0i32, false);
    for c in inner.chars() {
        match c {
            '"' => quoted = !quoted,
            '(' if !quoted => depth += 1,
            ')' if !quoted => depth -= 1,
            _ => {}
        }
        if depth < 0 {
            return text;
        }
    }
    without_parens(inner.trim())
}

/// Puts a text in one line, without its remarks.
pub(super) fn one_line(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut quoted = false;
    for line in text.lines() {
        let mut end = line.len();
        for (at, c) in line.char_indices() {
            match c {
                '"' => quoted = !quoted,
                '#' if !quoted => {
                    end = at;
                    break;
                }
                _ => {}
            }
        }
        for word in line[..end].split_whitespace() {
            if !out.is_empty() {
                out.push(' ');
            }
            out.push_str(word);
        }
    }
    out
}

#[derive(Clone, Debug)]
pub enum Pred {
    Const(bool),
    All(Vec<Node>),
    Any(Vec<Node>),
    Not(Box<Node>),
    Compare {
        op: Cmp,
        left: Number,
        right: Number,
        /// For `=` and `!=` beside a number that is written out: what still equals it.
        near: Option<Near>,
    },
    /// A number within limits, both included.
    Between {
        value: Number,
        /// Lower limit.
        low: Number,
        /// Upper limit.
        high: Number,
    },
    /// A text that is one of these.
    OneOf {
        value: Phrase,
        /// What it may be.
        list: Vec<Phrase>,
    },
    /// A text of a pattern.
    Like {
        value: Phrase,
        pattern: Pattern,
    },
    /// A flag that is set.
    Flag(Reference),
    /// A set that holds one of these words.
    Holds {
        set: Reference,
        /// One bit for each word.
        bits: i64,
    },
    /// A value that nobody knows.
    Unknown(Operand),
    /// A question to the records of the joint.
    History {
        /// How it speaks of them.
        quant: Quant,
        of: Records,
    },
    /// Whether so many records follow each other that all meet the condition, with none between them
    /// that does not.
    InARow {
        many: i64,
        of: Records,
    },
    /// A filter named in the rules.
    Rule(Arc<Rule>),
    /// Rules that make this call.
    Due(Vec<Arc<Rule>>),
    /// Rules of which one certainly speaks.
    Called(Called),
    /// Joints that share something with another.
    Kin(Kin),
}

/// Whether one of some rules certainly speaks: what cannot be decided is no call.
#[derive(Clone, Debug)]
pub struct Called {
    pub rules: Vec<Arc<Rule>>,
    /// Where one speaks it is not true but undecided.
    pub open: bool,
}

#[derive(Clone, Debug)]
pub struct Rule {
    pub name: Arc<str>,
    /// Which joints it is for.
    pub scope: Option<Node>,
    /// What makes it speak.
    pub filter: Node,
    /// Size of its tree, with the rules that it uses.
    pub(super) size: usize,
    /// Depth of its tree, with the rules that it uses.
    pub(super) depth: Depth,
}

/// How deep a tree goes.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Depth {
    pub(super) levels: usize,
    /// Questions to records inside conditions of records.
    pub(super) questions: usize,
}

impl Depth {
    /// Notes that it goes at least so deep.
    pub(super) fn reach(&mut self, levels: usize, questions: usize) {
        self.levels = self.levels.max(levels);
        self.questions = self.questions.max(questions);
    }
}

/// What links two joints.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Link {
    /// The heat of the tube.
    Heat,
    /// The heat of a tool joint.
    ToolJointHeat,
    Run,
    /// The gauge of a make-up.
    Gauge,
    /// The ticket of a repair.
    Ticket,
    /// The order at the mill.
    Order,
    /// The lot of its welds.
    WeldLot,
    /// A place beside it in a run.
    Neighbour,
}

/// The joints whose kin is asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Kin {
    /// A serial, or the filter that they match.
    pub of: String,
    /// Joints that answer to it, or match for certain.
    pub joints: Vec<i64>,
    /// These, and joints of which nobody can tell whether they match; the same where there are none.
    pub perhaps: Vec<i64>,
    /// What may be shared.
    pub links: Vec<Link>,
}

impl Kin {
    /// Whether it is known of every joint whether it is one of them.
    pub const fn is_certain(&self) -> bool {
        self.joints.len() == self.perhaps.len()
    }
}

/// A question to other joints that a filter rests on; it is asked when the filter is compiled.
#[derive(Clone, Debug)]
pub struct Among {
    /// Which joints.
    pub joints: Chosen,
    /// What is read of each.
    pub value: Option<Shown>,
}

#[derive(Clone, Debug)]
pub enum Chosen {
    One(i64),
    /// Those that match.
    Matching(Box<Node>),
    All,
}

/// What a column shows, or another joint is asked for.
#[derive(Clone, Debug)]
pub enum Shown {
    Number(Number),
    Reference(Reference),
    /// A text, save where a case of these certainly holds, the first of them first; behind it the words
    /// of `more` that hold.
    Cases {
        place: Reference,
        cases: Vec<Case>,
        more: Vec<Case>,
    },
}

/// What is shown where a condition certainly holds.
#[derive(Clone, Debug)]
pub struct Case {
    pub when: Node,
    /// A word; `None` for what nobody can say.
    pub then: Option<&'static str>,
}

/// What is known of one joint of those asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    pub joint: i64,
    /// Whether it certainly matches; else nobody can tell.
    pub certain: bool,
    /// A number between bounds in base units, or a value of another kind.
    pub value: Told,
}

#[derive(Clone, Debug, PartialEq)]
pub enum Told {
    /// A missing bound is none.
    Between(Option<f64>, Option<f64>),
    Value(Value),
    Nothing,
}

/// A pattern of `like`: `*` for any characters, `?` for one; capitals do not matter in ASCII.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pattern(pub String);

impl Pattern {
    /// Whether a text is of this pattern, whatever its case and blanks.
    pub(super) fn fits(&self, text: &str) -> bool {
        let signs = |s: &str| name_key(s).chars().collect::<Vec<char>>();
        matches(&signs(&self.0), &signs(text))
    }
}

/// `*` stands for any characters, `?` for one. Steps back to the last star only.
fn matches(pattern: &[char], text: &[char]) -> bool {
    let (mut p, mut t) = (0, 0);
    let mut star: Option<(usize, usize)> = None;
    while t < text.len() {
        match pattern.get(p) {
            Some('*') => {
                star = Some((p, t));
                p += 1;
            }
            Some('?') => {
                p += 1;
                t += 1;
            }
            Some(c) if *c == text[t] => {
                p += 1;
                t += 1;
            }
            _ => match star {
                Some((at, from)) => {
                    star = Some((at, from + 1));
                    p = at + 1;
                    t = from + 1;
                }
                None => return false,
            },
        }
    }
    pattern[p..].iter().all(|c| *c == '*')
}

/// Where a value that is no number is read.
#[derive(Clone, Debug)]
pub enum Reference {
    /// In the record in scope, or the joint.
    Read(Read),
    /// In the latest or first of some records.
    Pick(Box<Pick>),
}

impl Reference {
    pub const fn field(&self) -> &'static Field {
        match self {
            Self::Read(read) => read.field,
            Self::Pick(pick) => pick.read.field,
        }
    }
}

#[derive(Clone, Debug)]
pub struct Read {
    pub field: &'static Field,
    /// The part of it that counts, where that is not all.
    pub portion: Option<Portion>,
    /// When it is asked of, where that is not today.
    pub past: Option<Past>,
    pub label: Arc<str>,
}

/// The part of hours or turns that counts. Limits are in stored quanta.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Portion {
    /// In a bend above this dogleg.
    Above(i64),
    /// In a bend above the first dogleg, and not above the second.
    Band(i64, i64),
    /// While the middle of the joint stood between two depths of hole, both included.
    Depths(i64, i64),
}

impl Portion {
    /// The dogleg, for a portion above one.
    pub const fn dogleg(self) -> Option<i64> {
        match self {
            Self::Above(dogleg) => Some(dogleg),
            Self::Band(..) | Self::Depths(..) => None,
        }
    }
}

/// When a field of the joint is asked of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Past {
    /// As of the day that ends at this instant: what happened before it counts.
    Before(i64),
    /// When the record in scope was: a run when it began.
    ThatTime,
}

/// A value that is text.
#[derive(Clone, Debug)]
pub enum Phrase {
    Known(String),
    /// None.
    None,
    /// Nobody knows.
    Unknown,
    Of(Reference),
}

/// What `is unknown` asks about.
#[derive(Clone, Debug)]
pub enum Operand {
    Number(Number),
    /// A text, flag or set.
    Reference(Reference),
    Condition(Box<Node>),
}

/// What a number measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dim {
    Of(Dimension),
    /// A point in time.
    Date,
}

/// What rounds to a number that is written out, at the digits written or at those that the book shows
/// for its measure in that unit, whichever are more: from `low` to `high`, both included, in base
/// units. What lies just between two roundings (a bore of 3 1/4 in is 82.55 mm) equals both.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Near {
    pub low: Rational,
    pub high: Rational,
}

/// A number with what is needed to show it.
#[derive(Clone, Debug)]
pub struct Number {
    pub num: Num,
    pub dim: Dim,
    /// Measure in which it is shown, when a field gives one.
    pub measure: Option<Measure>,
    pub label: Arc<str>,
}

#[derive(Clone, Debug)]
pub enum Num {
    /// Exactly this, in base units; instants in seconds.
    Const(Rational),
    /// What other joints were asked for, between these bounds in base units; a missing one is none.
    Given(Option<f64>, Option<f64>),
    /// A field of the record in scope, or of the joint.
    Read(Read),
    /// A counter of the joint, in all or in a window.
    Total(Box<Total>),
    /// How many records there are.
    Count(Box<Records>),
    Fold {
        fold: Fold,
        read: Read,
        of: Box<Records>,
    },
    /// A field of the latest or first of some records.
    Pick(Box<Pick>),
    /// The number with its sign turned.
    Negative(Box<Num>),
    /// A sum; the halves are added first.
    Sum(Vec<Num>),
    /// Factors and divisors from left to right; the first is a factor.
    Product(Vec<(Step, Num)>),
}

/// A counter of the joint, in all or in a window.
#[derive(Clone, Debug)]
pub struct Total {
    pub field: &'static Field,
    /// The part of it that counts, where that is not all.
    pub portion: Option<Portion>,
    pub window: Window,
}

impl Total {
    /// The scope, for a counter since the last inspection of one that the book keeps with the joint. How
    /// much of it was above a bend or between two depths, each run tells of itself.
    pub fn kept_since(&self) -> Option<Scope> {
        match (self.field.stored, self.portion) {
            (Stored::Counter { over: Over::Place(..), .. }, _) | (_, Some(_)) => None,
            _ => self.window.since_scope(),
        }
    }

    /// Whether all hours count, so that those told of a stretch alone do.
    pub fn counts_hours(&self) -> bool {
        let over = Over::Runs("hours", Part::Sums);
        self.portion.is_none()
            && matches!(self.field.stored, Stored::Counter { over: of, .. } if of == over)
    }
}

/// A field of the latest or first of some records.
#[derive(Clone, Debug)]
pub struct Pick {
    pub read: Read,
    pub which: Which,
    pub of: Records,
}

/// Records of one kind, their condition and window.
#[derive(Clone, Debug)]
pub struct Records {
    pub record: Record,
    pub condition: Option<Box<Node>>,
    pub window: Window,
}

impl Records {
    /// The scope, for inspections that cover one scope, whatever else they are.
    pub fn scope_covered(&self) -> Option<Scope> {
        let node = self.condition.as_deref().filter(|_| self.record == Record::Inspection)?;
        match &node.pred {
            Pred::Holds { set: Reference::Read(read), bits }
                if read.field.record == Some(Record::Inspection)
                    && read.field.name == "covers"
                    && bits.count_ones() == 1 =>
            {
                Scope::at_rank(i64::from(bits.trailing_zeros()))
            }
            _ => None,
        }
    }
}

/// A window in time.
#[derive(Clone, Debug, Default)]
pub struct Window {
    /// It begins here at the earliest.
    pub from: Option<i64>,
    /// It begins at these records at the earliest.
    pub anchors: Vec<Anchor>,
    /// It ends before this instant.
    pub until: Option<i64>,
    /// It ends before this record, and begins with the joint.
    pub before: Option<Anchor>,
    /// The instant as of whose day it is asked: records that it begins at are looked for before it.
    pub as_of: Option<i64>,
}

impl Window {
    /// True for the whole life.
    pub const fn is_all(&self) -> bool {
        self.from.is_none()
            && self.anchors.is_empty()
            && self.until.is_none()
            && self.before.is_none()
    }

    /// The scope, for a window since the last inspection that covers one scope and nothing else.
    pub fn since_scope(&self) -> Option<Scope> {
        match (self.from, self.until, self.anchors.as_slice()) {
            (None, None, [anchor]) if self.before.is_none() => anchor.scope,
            _ => None,
        }
    }
}

impl Anchor {
    /// Its kind and its condition, in words.
    pub fn label(&self) -> String {
        match &self.condition {
            None => self.record.to_string(),
            Some(condition) => format!("{} ({})", self.record, condition.label()),
        }
    }
}

/// A record at which a window begins, or before which it ends.
#[derive(Clone, Debug)]
pub struct Anchor {
    /// The last, else the first.
    pub latest: bool,
    pub record: Record,
    pub condition: Option<Box<Node>>,
    /// The scope, when this is the last inspection that covers one scope and nothing else.
    pub scope: Option<Scope>,
}

/// A number that is written out, on the scale of whole quanta.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Limit {
    /// Exactly so many quanta.
    At(i64),
    /// Between so many and one more, or beyond every stored number.
    After(i64),
}

/// Puts a number in base units on the scale of whole quanta: where it falls between two, to the
/// nearest, as a reading of it would have been stored (19.50 lb/ft is no whole number of them). A
/// count has none between; there it stays where it is.
pub(super) fn limit(base: Rational, quanta: i64) -> Limit {
    let far = if base.is_negative() { Limit::After(i64::MIN) } else { Limit::After(i64::MAX) };
    let Some(scaled) = base.checked_mul(Rational::integer(quanta)) else {
        // Too wide to multiply: written with more digits than are stored, or beyond all of them.
        let scaled = base.to_f64() * quanta as f64;
        #[expect(clippy::cast_possible_truncation, reason = "a cast of a float saturates")]
        let n = if quanta > 1 { scaled.round() } else { scaled.floor() } as i64;
        return match n {
            i64::MIN | i64::MAX => far,
            n if quanta > 1 => Limit::At(n),
            n => Limit::After(n),
        };
    };
    if let Some(n) = scaled.as_integer() {
        return Limit::At(n);
    }
    if quanta > 1
        && let Some(n) = scaled.round()
    {
        return Limit::At(n);
    }
    let floor = scaled.numerator().div_euclid(scaled.denominator());
    i64::try_from(floor).map_or(far, Limit::After)
}

/// Of how many windows and picked records in one comparison all are gone through that each may be: each
/// nests one question in another. Of more, a comparison tells what their bounds tell.
const APART: usize = 3;

impl Num {
    /// Whole quanta of a base unit in which the number is counted; `None` for a number that
    /// arithmetic has turned into a float of base units.
    pub fn quanta(&self) -> Option<i64> {
        match self {
            Self::Read(read) => quanta_of(read.field),
            Self::Total(total) => quanta_of(total.field),
            Self::Pick(pick) => quanta_of(pick.read.field),
            Self::Count(_) => Some(1),
            Self::Fold { fold, read, .. } => {
                if *fold == Fold::Mean {
                    None
                } else {
                    quanta_of(read.field)
                }
            }
            Self::Const(_)
            | Self::Given(..)
            | Self::Negative(_)
            | Self::Sum(_)
            | Self::Product(_) => None,
        }
    }

    /// True when it is told by records that may be one set or another: those of a window that begins
    /// at a record, or the one picked.
    pub fn is_of_records(&self) -> bool {
        match self {
            Self::Total(total) => !total.window.is_all() && total.kept_since().is_none(),
            Self::Count(_) | Self::Fold { .. } | Self::Pick(_) => true,
            _ => false,
        }
    }

    /// The parts of some numbers that records tell, from left to right, where they are few enough to go
    /// through all that each may be; `None` where there is none, or too many.
    pub fn told_apart<'n>(numbers: &[&'n Self]) -> Option<Vec<&'n Self>> {
        let mut parts = Vec::new();
        numbers.iter().for_each(|number| number.gather_told(&mut parts));
        (1..=APART).contains(&parts.len()).then_some(parts)
    }

    fn gather_told<'n>(&'n self, parts: &mut Vec<&'n Self>) {
        match self {
            Self::Negative(inner) => inner.gather_told(parts),
            Self::Sum(terms) => terms.iter().for_each(|term| term.gather_told(parts)),
            Self::Product(factors) => factors.iter().for_each(|(_, f)| f.gather_told(parts)),
            Self::Const(_)
            | Self::Given(..)
            | Self::Read(_)
            | Self::Total(_)
            | Self::Count(_)
            | Self::Fold { .. }
            | Self::Pick(_) => parts.extend(self.is_of_records().then_some(self)),
        }
    }

    /// True when the number cannot be below zero.
    pub fn at_least_zero(&self) -> bool {
        match self {
            Self::Const(r) => !r.is_negative(),
            Self::Given(least, _) => least.is_some_and(|x| x >= 0.0),
            Self::Read(read) => counts_up(read.field),
            Self::Total(_) | Self::Count(_) => true,
            Self::Pick(pick) => counts_up(pick.read.field),
            Self::Fold { read, .. } => counts_up(read.field),
            Self::Negative(_) => false,
            Self::Sum(terms) => terms.iter().all(Self::at_least_zero),
            Self::Product(factors) => factors.iter().all(|(_, f)| f.at_least_zero()),
        }
    }
}

/// True for a field that cannot be below zero. Instants can: the scale begins in 1970.
pub(super) const fn counts_up(field: &Field) -> bool {
    matches!(field.kind, Kind::Measure(_)) && !field.signed
}

fn quanta_of(field: &Field) -> Option<i64> {
    match field.kind {
        Kind::Measure(m) => Some(m.quanta_per_base()),
        Kind::Date => Some(MS_PER_SECOND),
        _ => None,
    }
}
