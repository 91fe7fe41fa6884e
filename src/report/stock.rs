//! What there is: counts and lengths of joints by what one asks.

use std::collections::BTreeMap;

use crate::condition::Fitness;
use crate::filter::{Answer, Select, compile};
use crate::model::{Call, Class, Status, Vocabulary, name_key, plural};
use crate::policy::RuleSet;
use crate::schema::{JointRow, Rows, Value};
use crate::store::Book;
use crate::units::{Measure, UnitSystem};

use super::fitness;
use super::question::{self, Present, in_context};
use super::{Block, Cell, Column, Report, ReportError, Table};

/// What joints are counted by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum By {
    /// Component, size, grade and connection.
    Size,
    Class,
    Location,
    String,
    Status,
    Owner,
}

impl By {
    const WORDS: [(&'static str, Self); 6] = [
        ("size", Self::Size),
        ("class", Self::Class),
        ("location", Self::Location),
        ("string", Self::String),
        ("status", Self::Status),
        ("owner", Self::Owner),
    ];

    pub fn parse(word: &str) -> Option<Self> {
        Self::WORDS.iter().find(|(w, _)| *w == word).map(|(_, by)| *by)
    }

    /// The words for them.
    pub fn words() -> String {
        Self::WORDS.map(|(w, _)| w).join(", ")
    }

    fn column(self) -> Column {
        let word = Self::WORDS.iter().find(|(_, by)| *by == self).map_or("", |(w, _)| w);
        Column::plain(word, if self == Self::Location { "where" } else { word })
    }

    /// What a joint is counted under, with a key that sorts as people read.
    fn of(self, j: &JointRow, units: UnitSystem) -> (String, Cell) {
        let text = |t: Option<&str>| (t.map_or("\u{10ffff}".to_owned(), name_key), Cell::text(t));
        match self {
            Self::Size => size(j, units),
            Self::Class => match j.class {
                Some(c) => (format!("{}", c.rank()), Cell::Text(plain(c.word()))),
                None => ("9".to_owned(), Cell::Missing),
            },
            Self::Location => text(j.location.as_deref()),
            Self::String => text(j.string.as_deref()),
            Self::Status => match j.status {
                Some(s) => (format!("{}", s.rank()), Cell::word(j.status)),
                None => ("9".to_owned(), Cell::Missing),
            },
            Self::Owner => text(j.owner.as_deref()),
        }
    }
}

fn plain(word: &str) -> String {
    word.replace('_', " ")
}

fn size(j: &JointRow, units: UnitSystem) -> (String, Cell) {
    let mut parts = Vec::new();
    parts.extend(j.od.map(|od| Measure::Diameter.text(od, units)));
    parts.extend(j.weight.map(|w| Measure::LinearMass.text(w, units)));
    parts.extend(j.grade.clone());
    parts.extend(j.connection.clone());
    parts.push(plain(j.component.word()));
    let key = format!("{} {:>12} {}", j.component.rank(), j.od.unwrap_or(0), parts.join(" "));
    (key, Cell::Text(parts.join(" ")))
}

#[derive(Clone, Debug, Default)]
pub struct Options {
    pub by: Vec<By>,
    /// Only joints that match a filter.
    pub filter: Option<String>,
    /// Retired and lost joints too.
    pub all: bool,
}

/// Joints of one kind.
#[derive(Clone, Debug, Default)]
struct Heap {
    cells: Vec<Cell>,
    joints: i64,
    length: i64,
    /// Joints whose length is not known.
    bare: i64,
    /// Fit, those with a restriction among them, by what is recorded and by the rules in force.
    fit: i64,
    /// Of which that cannot be said.
    open: i64,
    on_hire: i64,
    classes: [i64; Class::ALL.len()],
    no_class: i64,
}

impl Heap {
    fn add(&mut self, j: &JointRow, called: &[Call]) {
        self.joints += 1;
        self.length += j.length.unwrap_or(0);
        self.bare += i64::from(j.length.is_none());
        match fitness::of_record(j, called) {
            Some(Fitness::Fit | Fitness::Restricted) => self.fit += 1,
            Some(Fitness::NotFit) => {}
            None => self.open += 1,
        }
        self.on_hire += i64::from(j.on_hire == Some(true));
        match j.class.and_then(|c| Class::ALL.iter().position(|k| *k == c)) {
            Some(at) => self.classes[at] += 1,
            None => self.no_class += 1,
        }
    }

    fn row(mut self) -> Vec<Cell> {
        let mut row = std::mem::take(&mut self.cells);
        let open = self.bare > 0;
        row.push(Cell::Number(self.joints));
        row.push(Cell::bound(self.length, (!open).then_some(self.length)));
        row.extend([self.fit, self.open, self.on_hire].map(Cell::Number));
        row.extend(self.classes.map(Cell::Number));
        row.push(Cell::Number(self.no_class));
        row
    }
}

/// The joints that match, or all.
pub(super) fn chosen(
    book: &mut Book,
    filter: Option<&str>,
    rules: &RuleSet,
    present: &Present,
) -> Result<(Vec<JointRow>, usize), ReportError> {
    let all: Vec<JointRow> = book.rows(&Rows::all().by(JointRow::by_name()))?;
    let Some(text) = filter else { return Ok((all, 0)) };
    let compiled = in_context(book, rules, present, |context| {
        compile(text, context).map_err(question::wrong)
    })?;
    question::prepare(book, &compiled, &[])?;
    let query = compiled.select(&Select::of(Answer::Both));
    let (mut wanted, mut open) = (std::collections::BTreeSet::new(), 0);
    for row in question::ask(book, &query, present)? {
        let matches = query.truth.is_some_and(|at| row.get(at) == Some(&Value::Int(1)));
        match row.first() {
            Some(Value::Int(n)) if matches => {
                wanted.insert(*n);
            }
            _ => open += 1,
        }
    }
    Ok((all.into_iter().filter(|j| wanted.contains(&j.joint)).collect(), open))
}

pub fn report(
    book: &mut Book,
    rules: &RuleSet,
    options: &Options,
    present: &Present,
) -> Result<Report, ReportError> {
    let (joints, open) = chosen(book, options.filter.as_deref(), rules, present)?;
    let gone = |j: &JointRow| matches!(j.status, Some(Status::Retired | Status::Lost));
    let kept = options.all || options.by.contains(&By::Status);
    let left_out = if kept { 0 } else { joints.iter().filter(|j| gone(j)).count() };
    let numbers: Vec<i64> = joints.iter().map(|j| j.joint).collect();
    let calls = fitness::called_for(book, &numbers, present)?;
    let mut heaps: BTreeMap<Vec<String>, Heap> = BTreeMap::new();
    let mut total = Heap::default();
    for j in joints.iter().filter(|j| kept || !gone(j)) {
        let (keys, cells) = options.by.iter().map(|by| by.of(j, present.units)).unzip();
        let called = calls.get(&j.joint).map_or(&[][..], Vec::as_slice);
        heaps.entry(keys).or_insert_with(|| Heap { cells, ..Heap::default() }).add(j, called);
        total.add(j, called);
    }
    let mut columns: Vec<Column> = options.by.iter().map(|by| by.column()).collect();
    // What no joint is needs no column on a screen.
    let some = |column: Column, n: i64| if n == 0 { column.for_machines() } else { column };
    columns.extend([
        Column::plain("joints", "joints"),
        Column::of("length", "length", Measure::Depth),
        Column::plain("fit", "fit"),
        some(Column::plain("cannot_be_said", "cannot be said"), total.open),
        some(Column::plain("on_hire", "on hire").dispensable(4), total.on_hire),
    ]);
    columns.extend(
        Class::ALL
            .iter()
            .zip(total.classes)
            .map(|(c, n)| some(Column::plain(c.word(), &plain(c.word())).dispensable(2), n)),
    );
    columns.push(some(Column::plain("no_class", "no class").dispensable(1), total.no_class));
    let mut rows: Vec<Vec<Cell>> = heaps.into_values().map(Heap::row).collect();
    if rows.len() > 1 {
        total.cells = options.by.iter().map(|_| Cell::Missing).collect();
        total.cells[0] = Cell::Text("in all".to_owned());
        rows.push(total.clone().row());
    }
    let mut report = Report::new("stock");
    report.push(Block::Table(Table {
        name: "stock",
        columns,
        rows,
        empty: "no joint".to_owned(),
        below: None,
    }));
    if left_out > 0 {
        let gone = plural(left_out, "retired or lost joint");
        let are = if left_out == 1 { "is" } else { "are" };
        report.push(Block::Note(format!("{gone} {are} left out (--all)")));
    }
    if open > 0 {
        let open = plural(open, "joint");
        report.push(Block::Note(format!("{open} cannot be told by the filter")));
    }
    if total.bare > 0 {
        report.push(Block::Note(format!("the length of {} joints is not known", total.bare)));
    }
    report.push(Block::Note(
        "fit, with or without a restriction, by what is recorded and by the rules in force; what is \
         neither fit nor among those of which it cannot be said is not fit. Each joint's reasons and crack searches: `assess SERIAL`"
            .to_owned(),
    ));
    report.push(fitness::caution());
    Ok(report)
}
