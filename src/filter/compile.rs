//! The whole way from text to SQL, and what a caller may ask of a compiled filter.

use std::sync::Arc;

use crate::schema::Value;
use crate::units::{Dimension, Measure};

use super::ast::{Cmp, Quant, Step, Which};
use super::check::{self, Context};
use super::error::{ErrorKind, FilterError, Span};
use super::eval::{Eval, Verdict};
use super::explain::Explained;
use super::facts::{Facts, Load};
use super::habits::{read_filter, read_value};
use super::lower::{Lower, Scope, decided, prune};
use super::parse::Text;
use super::registry::{Kind, Over, Record, Stored, Words};
use super::sql::{Cond, sql};
use super::typed::{
    Among, Asked, Chosen, Dim, Node, Num, Number, Operand, Phrase, Pick, Pred, Reference, Shown,
    Told, Total,
};
use super::walk::{Visit, walk, walk_num, walk_place};

/// Most pieces of one statement.
pub(super) const MAX_SIZE: usize = 120_000;
/// Deepest nesting of pieces; SQLite takes expressions a thousand levels deep.
const MAX_HEIGHT: usize = 400;

/// A filter that has been read and checked.
#[derive(Clone, Debug)]
pub struct Compiled {
    node: Node,
    pub(super) record: Option<Record>,
    now: i64,
}

/// Compiles a filter of joints. Total: whatever the text is, this ends soon, with a filter whose
/// statements SQLite takes, or with errors.
pub fn compile(text: &str, context: &Context<'_>) -> Result<Compiled, Vec<FilterError>> {
    compile_in(text, None, context)
}

/// Compiles a filter of records of one kind, for lists of records: bare names are the record's
/// first, then the joint's.
pub fn compile_records(
    record: Record,
    text: &str,
    context: &Context<'_>,
) -> Result<Compiled, Vec<FilterError>> {
    compile_in(text, Some(record), context)
}

fn compile_in(
    text: &str,
    record: Option<Record>,
    context: &Context<'_>,
) -> Result<Compiled, Vec<FilterError>> {
    let text = Text::typed(text);
    let tree = read_filter(&text)?;
    let node = check::condition(&text, &tree, record, context)?;
    let compiled = Compiled { node, record, now: context.now.0 };
    // The largest statement that may be asked for.
    let (lower, scope) = compiled.lower();
    let truth = lower.truth(&compiled.node, &scope);
    let both = sql![truth.yes.sql(), truth.no.sql()];
    if both.size() > MAX_SIZE || both.height() > MAX_HEIGHT {
        let message = "this filter is too large to answer";
        let hint = Some("ask it in parts".to_owned());
        let span = Span { start: 0, end: text.text.len() };
        return Err(vec![text.error(ErrorKind::Limit, span, message, hint)]);
    }
    Ok(compiled)
}

/// A value to show beside each answer.
#[derive(Clone, Debug)]
pub struct Column {
    /// The words of its value.
    pub label: Arc<str>,
    /// What stands above it, where that is not its words.
    pub title: Option<Arc<str>>,
    pub kind: ColumnKind,
    pub(super) shown: Shown,
}

/// What a column holds.
#[derive(Clone, Copy, Debug)]
pub enum ColumnKind {
    /// Whole quanta of a measure.
    Measure(Measure),
    /// A number that arithmetic has made: a float of base units, shown in a measure if it has one.
    Number(Option<Measure>),
    /// Milliseconds of UTC.
    Date,
    /// A name or a text.
    Text,
    /// A word of a vocabulary.
    Word,
    /// 1 or 0.
    Flag,
    /// One bit for each word.
    Set(Words),
}

/// The columns of a list with commas between; a comma inside parentheses or quotes belongs to a
/// column.
pub fn columns_of(list: &str) -> Vec<String> {
    let (mut depth, mut quoted) = (0usize, false);
    let outer = |c: char| {
        match c {
            '"' => quoted = !quoted,
            '(' if !quoted => depth += 1,
            ')' if !quoted => depth = depth.saturating_sub(1),
            _ => {}
        }
        c == ',' && depth == 0 && !quoted
    };
    list.split(outer).map(|column| column.trim().to_owned()).collect()
}

/// Reads a column: a field's name, or any value of the language.
pub fn column(
    text: &str,
    record: Option<Record>,
    context: &Context<'_>,
) -> Result<Column, Vec<FilterError>> {
    let text = Text::typed(text);
    let (tree, title) = read_value(&text)?;
    let shown = check::shown(&text, &tree, record, context)?;
    // Its words are those of the value, without the title that they are given.
    let said = match &title {
        Some(title) => {
            let before = &text.text[..title.span.start];
            before
                .trim_end()
                .get(..before.trim_end().len() - "as".len())
                .unwrap_or(before)
                .trim_end()
        }
        None => &*text.text,
    };
    let label: Arc<str> = super::typed::one_line(said).into();
    let mut unit = String::new();
    let kind = match &shown {
        Shown::Number(number) => match (number.dim, number.num.quanta(), number.measure) {
            (Dim::Date, _, _) => ColumnKind::Date,
            (_, Some(_), Some(measure)) => ColumnKind::Measure(measure),
            // A span of time that arithmetic has made is read in days, not in seconds; one that is
            // written out is read as what it stands beside.
            (Dim::Of(dim), None, None)
                if dim == Dimension::TIME && !matches!(number.num, Num::Const(_)) =>
            {
                ColumnKind::Number(Some(Measure::Days))
            }
            (Dim::Of(dim), None, None) => {
                let measure = quotient(&number.num, dim).or_else(|| of_its_kind(dim));
                if measure.is_none() {
                    unit = dim.base_unit();
                }
                ColumnKind::Number(measure)
            }
            (_, _, measure) => ColumnKind::Number(measure),
        },
        Shown::Reference(place) | Shown::Cases { place, .. } => match place.field().kind {
            Kind::Flag => ColumnKind::Flag,
            Kind::Set(words) => ColumnKind::Set(words),
            Kind::Word(_) => ColumnKind::Word,
            Kind::Text | Kind::Date | Kind::Measure(_) => ColumnKind::Text,
        },
    };
    let title = match (title, unit.as_str()) {
        (title, "") => title.map(|title| title.text.into()),
        // Without a measure of the trade the number is of base units, and says so.
        (title, unit) => {
            let words = title.map_or_else(|| label.to_string(), |title| title.text);
            Some(format!("{words} [{unit}]").into())
        }
    };
    let column = Column { label, title, kind, shown };
    let lower = Lower::new(context.now.0);
    let scope = record.map_or_else(Scope::default, |r| lower.record_scope(r));
    let (lo, hi) = column.bounds(&lower, &scope);
    let all = sql![&lo, hi.as_ref().unwrap_or(&lo)];
    if all.size() > MAX_SIZE || all.height() > MAX_HEIGHT {
        let span = Span { start: 0, end: text.text.len() };
        let error = text.error(ErrorKind::Limit, span, "this value is too large to show", None);
        return Err(vec![error]);
    }
    Ok(column)
}

/// The measure of a quotient, where it is one of the trade: turns in a time are a speed of rotation, a
/// part of a whole of its kind is a share.
fn quotient(num: &Num, dim: Dimension) -> Option<Measure> {
    let Num::Product(factors) = num else { return None };
    let [(_, above), (Step::Divide, below)] = factors.as_slice() else { return None };
    let (above, below) = (measure_of(above)?, measure_of(below)?);
    if above == Measure::Turns && below == Measure::Hours && dim == Dimension::FREQUENCY {
        Some(Measure::RotarySpeed)
    } else if above == below && dim == Dimension::NUMBER {
        Some(Measure::Ratio)
    } else {
        None
    }
}

/// The measure of a value that is read, and not worked out.
fn measure_of(num: &Num) -> Option<Measure> {
    match num {
        Num::Read(read) | Num::Fold { read, .. } => read.field.measure(),
        Num::Total(total) => total.field.measure(),
        Num::Pick(pick) => pick.read.field.measure(),
        Num::Count(_) => Some(Measure::Count),
        Num::Const(_) | Num::Given(..) | Num::Negative(_) | Num::Sum(_) | Num::Product(_) => None,
    }
}

/// The measure in which numbers of a dimension are read that no field gives, where the trade has one.
fn of_its_kind(dim: Dimension) -> Option<Measure> {
    [
        (Dimension::SPEED, Measure::Rate),
        (Dimension::AREA, Measure::Area),
        (Dimension::FORCE, Measure::Force),
        (Dimension::TORQUE, Measure::Torque),
        (Dimension::PRESSURE, Measure::Stress),
        (Dimension::LINEAR_MASS, Measure::LinearMass),
        (Dimension::LINEAR_FORCE, Measure::LinearForce),
        (Dimension::DENSITY, Measure::Density),
        (Dimension::CURVATURE, Measure::Dogleg),
        (Dimension::ANGLE, Measure::Angle),
    ]
    .into_iter()
    .find_map(|(of, measure)| (of == dim).then_some(measure))
}

/// The statement that asks joints on behalf of a filter, and the instants of dates that its windows
/// begin or end at; see [`Compiled::cuts`].
pub fn among_query(among: &Among, now: i64) -> (Query, Vec<i64>) {
    let everyone =
        || Node { pred: Pred::Const(true), text: Text::typed(""), span: Span::default() };
    let (node, only) = match &among.joints {
        Chosen::One(joint) => (everyone(), Some([*joint])),
        Chosen::Matching(node) => (node.as_ref().clone(), None),
        Chosen::All => (everyone(), None),
    };
    let column = |shown: &Shown| Column {
        label: "".into(),
        title: None,
        kind: ColumnKind::Text,
        shown: shown.clone(),
    };
    let columns: Vec<Column> = among.value.iter().map(column).collect();
    let compiled = Compiled { node, record: None, now };
    let mut cuts = compiled.cuts();
    cuts.extend(Compiled::cuts_of(&columns));
    cuts.sort_unstable();
    cuts.dedup();
    let only = only.as_ref().map(<[i64; 1]>::as_slice);
    let select = Select { columns: &columns, among: only, ..Select::of(Answer::Both) };
    (compiled.select(&select), cuts)
}

/// What a row of [`among_query`] tells.
pub fn asked(among: &Among, query: &Query, row: &[Value]) -> Asked {
    let at = |i: usize| row.get(i).cloned().unwrap_or(Value::Null);
    let value = match (&among.value, query.columns.first()) {
        (Some(Shown::Number(number)), Some((lo, hi))) => {
            let base = |value: Value| match (value, number.num.quanta()) {
                (Value::Int(n), Some(quanta)) => Some(n as f64 / quanta as f64),
                (Value::Int(n), None) => Some(n as f64),
                (Value::Real(x), _) => Some(x),
                _ => None,
            };
            let least = base(at(*lo));
            Told::Between(least, hi.map_or(least, |hi| base(at(hi))))
        }
        (Some(Shown::Reference(_) | Shown::Cases { .. }), Some((value, _))) => {
            Told::Value(at(*value))
        }
        _ => Told::Nothing,
    };
    let certain = query.truth.is_some_and(|t| at(t) == Value::Int(1));
    let joint = if let Value::Int(n) = at(0) { n } else { 0 };
    Asked { joint, certain, value }
}

/// Which joints or records an answer holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answer {
    /// Those for which the filter is certainly true.
    Matching,
    /// Those for which nobody can tell.
    Undecided,
    /// Both, with a column that is 1 for the first and NULL for the others.
    Both,
    /// All, with a column that is 1, 0 or NULL.
    All,
}

/// How an answer is wanted.
#[derive(Clone, Copy, Debug)]
pub struct Select<'a> {
    pub answer: Answer,
    /// What is shown beside each.
    pub columns: &'a [Column],
    /// Reference of the column to sort by, and whether the largest comes first.
    pub sort: Option<(usize, bool)>,
    /// At most so many.
    pub limit: Option<u32>,
    /// Asked of these joints only.
    pub among: Option<&'a [i64]>,
}

impl Select<'_> {
    /// Every joint or record of an answer, in the book's order.
    pub const fn of(answer: Answer) -> Self {
        Self { answer, columns: &[], sort: None, limit: None, among: None }
    }
}

/// A statement with its parameters and what its columns are.
#[derive(Clone, Debug, PartialEq)]
pub struct Query {
    /// The statement; its parameters are numbered from 1.
    pub sql: String,
    pub params: Vec<Value>,
    /// Columns that name the answer: the joint, and for records the columns of their key.
    pub keys: usize,
    /// Reference of the column that holds the truth, when there is one.
    pub truth: Option<usize>,
    /// For each column asked for, the places of its lower and its upper bound; exact values have
    /// no upper bound of their own. A bound that is NULL is none.
    pub columns: Vec<(usize, Option<usize>)>,
}

impl Compiled {
    /// The checked tree.
    /// Statements that read what the evaluator needs of a joint.
    pub fn loads(&self, joint: i64) -> Vec<Load> {
        Facts::loads(&self.node, !self.cuts().is_empty(), joint)
    }

    pub const fn tree(&self) -> &Node {
        &self.node
    }

    /// The instant that ages count to.
    pub const fn now(&self) -> i64 {
        self.now
    }

    /// Whether the filter holds for one joint, by its facts.
    pub fn judge(&self, facts: &Facts) -> Verdict {
        Eval { facts, now: self.now }.truth(&self.node, None)
    }

    /// The filter explained for one joint, by its facts.
    pub fn explain(&self, facts: &Facts) -> Explained {
        Eval { facts, now: self.now }.explain(&self.node, None)
    }

    /// True when every joint or record certainly matches or certainly does not, whatever is known of
    /// it. False says nothing: then the book must be asked.
    pub fn is_decided(&self) -> bool {
        matches!(decided::decided(&self.node), Cond::Always)
    }

    /// Whether the filter is answered by a look at every joint: no index, and no pass over a table of
    /// its own, leads to those that match.
    pub fn goes_through_all(&self) -> bool {
        let mut all = !prune::picks_few(&self.node.pred);
        walk(&self.node, &mut |visit| {
            all &= match visit {
                Visit::Node(node) => match &node.pred {
                    Pred::All(terms) => !terms.iter().any(|t| prune::picks_few(&t.pred)),
                    Pred::Kin(_) => false,
                    _ => true,
                },
                Visit::Records(of) => !prune::is_found_by_index(of),
                // A pass over the kept counters leads to those that match, but not to the open ones.
                Visit::Total(_) => true,
            };
        });
        all
    }

    /// Instants of dates that windows over runs begin or end at. Where a run straddles one, its
    /// part before it must stand in the table `window_part`, which has the columns of `run_part`;
    /// a statement mentions that table only when there are such instants.
    pub fn cuts(&self) -> Vec<i64> {
        let mut cuts = Vec::new();
        walk(&self.node, &mut |visit| {
            let window = match visit {
                Visit::Records(of) if of.record == Record::Run => &of.window,
                Visit::Total(total) if counts_runs(total) => &total.window,
                _ => return,
            };
            cuts.extend(window.from);
            cuts.extend(window.until);
        });
        cuts.sort_unstable();
        cuts.dedup();
        cuts
    }

    /// Values that the filter speaks of, in its own words and order, each of which can be shown as
    /// a column of its answers.
    pub fn mentions(&self) -> Vec<Mention> {
        let mut out: Vec<Mention> = Vec::new();
        mentioned(&self.node, self.record, false, &mut out);
        if self.record.is_none() {
            decided_by(&self.node, &mut out);
        }
        out
    }

    /// What a filter may not ask that its words seem to: the sharpest bend of a run and its hours are
    /// separate facts, and the hours in that bend another.
    pub fn remarks(&self) -> Vec<String> {
        let mut out = Vec::new();
        super::walk::visit_nodes(&self.node, &mut |node| {
            let Pred::All(terms) = &node.pred else { return };
            let more_than = |name: &str| {
                terms.iter().find_map(|term| match &term.pred {
                    Pred::Compare { op: Cmp::Gt | Cmp::Ge, left, right, .. } => match &left.num {
                        Num::Read(read) if read.portion.is_none() && read.field.name == name => {
                            (read.field.record == Some(Record::Run)).then_some((left, right))
                        }
                        _ => None,
                    },
                    _ => None,
                })
            };
            let Some((_, bend)) = more_than("max_dogleg") else { return };
            for name in ["hours", "revolutions"] {
                let Some((said, much)) = more_than(name) else { continue };
                out.push(format!(
                    "the sharpest bend of a run and its {} are separate facts; what turned in that \
                     bend is asked by: any run ({name} above {} > {})",
                    said.label, bend.label, much.label
                ));
            }
        });
        out.dedup();
        out
    }
}

/// A value that can be shown beside answers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mention {
    /// Its words, as a column is asked for.
    pub words: String,
    /// What stands above it, where its words repeat a condition of the filter.
    pub title: Option<String>,
    /// A rule speaks of it that the filter names; the filter itself does not.
    pub by_rule: bool,
}

/// What decides a question to records: of the record that answers it, or of the latest one where any
/// may, what its condition compares.
fn decided_by(node: &Node, out: &mut Vec<Mention>) {
    if let Pred::All(terms) | Pred::Any(terms) = &node.pred {
        terms.iter().for_each(|term| decided_by(term, out));
    }
    let Pred::History { quant, of } = &node.pred else { return };
    let Some(condition) = &of.condition else { return };
    let which = match quant {
        Quant::Any => Which::Latest,
        Quant::One(which) => *which,
        Quant::No | Quant::Every => return,
    };
    let which = which.word();
    // Behind its first word a question reads as a pick does.
    let question = node.label();
    let Some((_, records)) = question.split_once(' ') else { return };
    let mut own: Vec<(String, bool)> = Vec::new();
    let mut compared_in = |node: &Node| {
        let compared: Vec<&Num> = match &node.pred {
            Pred::Compare { left, right, .. } => vec![&left.num, &right.num],
            Pred::Between { value, .. } => vec![&value.num],
            _ => return,
        };
        for num in compared {
            if let Num::Read(read) = num
                && read.field.record == Some(of.record)
                && !own.iter().any(|(label, _)| *label == *read.label)
            {
                own.push((read.label.to_string(), true));
            }
        }
    };
    match &condition.pred {
        Pred::All(terms) | Pred::Any(terms) => terms.iter().for_each(&mut compared_in),
        _ => compared_in(condition),
    }
    if own.is_empty() {
        return;
    }
    if of.record == Record::Run {
        own.insert(0, ("name".to_owned(), false));
    }
    for (value, named) in own {
        let words = format!("{value} of {which} {records}");
        let such = format!("{which} such {}", of.record);
        let title = if named { format!("{value}, {such}") } else { such };
        if !out.iter().any(|have| have.words == words) {
            out.push(Mention { words, title: Some(title), by_rule: false });
        }
    }
}

impl Compiled {
    /// Cuts of the columns beside a filter; see [`Compiled::cuts`].
    pub fn cuts_of(columns: &[Column]) -> Vec<i64> {
        let mut cuts = Vec::new();
        for column in columns {
            let mut visit = |visit: Visit<'_>| {
                let window = match visit {
                    Visit::Records(of) if of.record == Record::Run => &of.window,
                    Visit::Total(total) if counts_runs(total) => &total.window,
                    _ => return,
                };
                cuts.extend(window.from);
                cuts.extend(window.until);
            };
            match &column.shown {
                Shown::Number(number) => walk_num(&number.num, &mut visit),
                Shown::Reference(place) => walk_place(place, &mut visit),
                Shown::Cases { place, cases, more } => {
                    walk_place(place, &mut visit);
                    cases.iter().chain(more).for_each(|case| walk(&case.when, &mut visit));
                }
            }
        }
        cuts.sort_unstable();
        cuts.dedup();
        cuts
    }
}

fn counts_runs(total: &Total) -> bool {
    !matches!(total.field.stored, Stored::Counter { over: Over::Makeups(_), .. })
}

/// Words of the values that a filter compares, where they can stand alone: in the scope of the
/// whole filter.
fn mentioned(node: &Node, record: Option<Record>, by_rule: bool, out: &mut Vec<Mention>) {
    let mut add = |label: &str| {
        match out.iter_mut().find(|have| have.words == label) {
            // What the filter says itself is not a rule's alone.
            Some(have) => have.by_rule &= by_rule,
            None if label.is_empty() => {}
            None => out.push(Mention { words: label.to_owned(), title: None, by_rule }),
        }
    };
    let number = |n: &Number, add: &mut dyn FnMut(&str)| {
        if !matches!(n.num, Num::Const(_) | Num::Given(..)) {
            add(&n.label);
        }
    };
    let place = |p: &Reference, add: &mut dyn FnMut(&str)| match p {
        Reference::Read(read) => add(&read.label),
        Reference::Pick(pick) => add(&pick_label(pick)),
    };
    match &node.pred {
        Pred::All(terms) | Pred::Any(terms) => {
            terms.iter().for_each(|t| mentioned(t, record, by_rule, out));
        }
        Pred::Not(inner) => mentioned(inner, record, by_rule, out),
        Pred::Compare { left, right, .. } => {
            [left, right].into_iter().for_each(|n| number(n, &mut add));
        }
        Pred::Between { value, low, high } => {
            [value, low, high].into_iter().for_each(|n| number(n, &mut add));
        }
        Pred::OneOf { value: Phrase::Of(p), list } => {
            place(p, &mut add);
            for phrase in list {
                if let Phrase::Of(p) = phrase {
                    place(p, &mut add);
                }
            }
        }
        Pred::Like { value: Phrase::Of(p), .. } | Pred::Flag(p) | Pred::Holds { set: p, .. } => {
            place(p, &mut add);
        }
        Pred::Unknown(Operand::Number(n)) => number(n, &mut add),
        Pred::Unknown(Operand::Reference(p)) => place(p, &mut add),
        // Rules speak of the joint in words of their own; in a list of records those could mean
        // the record.
        Pred::Rule(rule) if record.is_none() => mentioned(&rule.filter, record, true, out),
        Pred::Due(rules) if record.is_none() => {
            rules.iter().for_each(|r| mentioned(&r.filter, record, true, out));
        }
        _ => {}
    }
}

/// Words of a picked value that read back: the name alone would mean the joint's.
fn pick_label(pick: &Pick) -> String {
    // The checker keeps the whole value's words only for numbers.
    let which = pick.which.word();
    if pick.of.condition.is_some() || !pick.of.window.is_all() {
        return String::new();
    }
    format!("{} of {which} {}", pick.read.label, pick.of.record)
}
