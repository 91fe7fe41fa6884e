//! What a filter is asked against: the book's joints, the rules in force, now.

use std::cell::{OnceCell, RefCell};

use crate::filter::registry::Words;
use crate::filter::typed::{Among, Asked};
use crate::filter::{self, ColumnKind, Compiled, FilterError, Query};
use crate::model::{Clock, Instant, JointRef, Serial, SetKind, fold};
use crate::policy::RuleSet;
use crate::projection::adoptions::Adoptions;
use crate::report::{Cell, Column};
use crate::schema::{JointRow, Value};
use crate::store::Book;
use crate::units::{Measure, UnitSystem};

use super::{ReportError, instant};

#[derive(Clone, Copy, Debug)]
pub struct Present {
    pub now: Instant,
    /// Clock offset of the place.
    pub clock: Clock,
    /// Units in which people read.
    pub units: UnitSystem,
    /// How long a question may take.
    pub limit: std::time::Duration,
}

/// The rules in force at an instant.
pub fn rules_in_force(book: &Book, at: Instant) -> Result<RuleSet, ReportError> {
    rules_of(&book.adoptions()?, at)
}

/// The rules that adoptions put in force at an instant.
pub fn rules_of(adoptions: &Adoptions, at: Instant) -> Result<RuleSet, ReportError> {
    let text = adoptions.set_at(SetKind::Rules, at).map_or("", |set| &set.text);
    RuleSet::parse(text).map_err(|errors| {
        ReportError::Words(errors.first().map_or_else(String::new, |e| {
            format!("the rules in force cannot be read: line {}: {}", e.line, e.message)
        }))
    })
}

/// Gives a closure the context in which filters of this book are compiled.
pub fn in_context<T>(
    book: &Book,
    rules: &RuleSet,
    present: &Present,
    compile: impl FnOnce(&filter::Context<'_>) -> T,
) -> T {
    in_context_of(book, filter::Rules::These(&rules.for_filters()), present, compile)
}

/// The same with the rules in force, which are looked up only where a filter asks for them: most name
/// no rule, and mean the same whatever rules there are.
///
/// # Errors
/// When they are asked for and cannot be read.
pub(super) fn in_context_of_now<T>(
    book: &Book,
    present: &Present,
    compile: impl FnOnce(&filter::Context<'_>) -> Result<T, ReportError>,
) -> Result<T, ReportError> {
    let in_force =
        InForce { book, at: present.now, rules: OnceCell::new(), failed: RefCell::default() };
    let compiled = in_context_of(book, filter::Rules::LookedUp(&in_force), present, compile);
    in_force.failed.take().map_or(compiled, Err)
}

/// The rules in force, from when they are first asked for.
struct InForce<'b> {
    book: &'b Book,
    at: Instant,
    rules: OnceCell<Vec<filter::Rule>>,
    /// Why they cannot be read.
    failed: RefCell<Option<ReportError>>,
}

impl filter::KnowsRules for InForce<'_> {
    fn rules(&self) -> &[filter::Rule] {
        self.rules.get_or_init(|| match rules_in_force(self.book, self.at) {
            Ok(rules) => rules.for_filters(),
            Err(error) => {
                self.failed.replace(Some(error));
                Vec::new()
            }
        })
    }
}

fn in_context_of<T>(
    book: &Book,
    rules: filter::Rules<'_>,
    present: &Present,
    compile: impl FnOnce(&filter::Context<'_>) -> T,
) -> T {
    // A look-up that fails finds nothing here; the query after it meets the same fault.
    let joints = |serial: &str| -> Vec<i64> {
        if let Ok(named) = serial.parse::<JointRef>() {
            let joint = book.position_of(&named.joint).ok().flatten();
            return joint
                .filter(|at| matches!(book.row::<JointRow>(*at), Ok(Some(_))))
                .into_iter()
                .collect();
        }
        let key = Serial::parse(serial).map_or_else(|_| fold(serial), |s| s.key());
        book.joints_by_serial(&key).unwrap_or_default()
    };
    let ask = |among: &Among| -> Option<Vec<Asked>> {
        let (query, cuts) = filter::among_query(among, present.now.0);
        if !cuts.is_empty() {
            book.prepare_windows(&cuts).ok()?;
        }
        let rows = book.ask_beforehand(&query.sql, &query.params, present.limit).ok()?;
        Some(rows.iter().map(|row| filter::asked(among, &query, row)).collect())
    };
    compile(&filter::Context {
        now: present.now,
        clock: present.clock,
        units: present.units,
        rules,
        joints: &joints,
        words: &|table, column| book.words_in(table, column).ok(),
        ask: &ask,
    })
}

/// Asks a query of the book.
pub(super) fn ask(
    book: &mut Book,
    query: &Query,
    present: &Present,
) -> Result<Vec<Vec<Value>>, ReportError> {
    Ok(book.ask(&query.sql, &query.params, Some(present.limit))?)
}

/// Makes the parts of runs at the edges of the filter's windows ready.
pub(super) fn prepare(
    book: &mut Book,
    compiled: &Compiled,
    columns: &[filter::Column],
) -> Result<(), ReportError> {
    let mut cuts = compiled.cuts();
    cuts.extend(Compiled::cuts_of(columns));
    cuts.sort_unstable();
    cuts.dedup();
    if !cuts.is_empty() {
        book.prepare_windows(&cuts)?;
    }
    Ok(())
}

/// A column of an answer as a column of a report.
pub(super) fn report_column(column: &filter::Column) -> Column {
    let measure = match column.kind {
        ColumnKind::Measure(m) => Some(m),
        ColumnKind::Number(m) => m,
        _ => None,
    };
    let spoken = matches!(column.kind, ColumnKind::Word | ColumnKind::Set(_));
    let title = column.title.as_ref().unwrap_or(&column.label);
    Column { measure, spoken, ..Column::plain(title, title) }
}

/// A value of an answer as a cell.
pub(super) fn cell(
    kind: ColumnKind,
    row: &[Value],
    (lo, hi): (usize, Option<usize>),
    clock: Clock,
) -> Cell {
    let at = |i: usize| row.get(i).unwrap_or(&Value::Null);
    match (kind, at(lo), hi.map(at)) {
        (_, Value::Null, None | Some(Value::Null)) => Cell::Missing,
        (ColumnKind::Date, Value::Int(ms), _) => instant(*ms, clock),
        (ColumnKind::Flag, Value::Int(n), _) => Cell::Truth(*n != 0),
        (ColumnKind::Set(words), Value::Int(bits), _) => Cell::Text(words_of(words, *bits)),
        (_, Value::Int(lo), None) => Cell::Number(*lo),
        (_, Value::Int(lo), Some(Value::Int(hi))) => Cell::bound(*lo, Some(*hi)),
        (_, Value::Int(lo), Some(_)) => Cell::Bound { lo: *lo, hi: None },
        (_, Value::Real(lo), Some(Value::Real(hi))) if lo < hi => between(kind, *lo, Some(*hi)),
        (_, Value::Real(lo), Some(Value::Null)) => between(kind, *lo, None),
        (_, Value::Real(x), _) => Cell::Real(*x),
        (_, Value::Text(t), _) => Cell::Text(t.clone()),
        _ => Cell::Missing,
    }
}

/// A number that arithmetic has made, between bounds in base units.
fn between(kind: ColumnKind, lo: f64, hi: Option<f64>) -> Cell {
    let (measure, own) = match kind {
        ColumnKind::Number(Some(measure)) => (measure, None),
        _ => (Measure::Factor, Some(Measure::Factor)),
    };
    let quanta = |x: f64| measure.store_f64(x);
    quanta(lo).map_or(Cell::Missing, |lo| Cell::bound(lo, hi.and_then(quanta)).measured(own))
}

/// The words of a set of bits.
fn words_of(words: Words, bits: i64) -> String {
    let set = |i: usize| u32::try_from(i).is_ok_and(|i| i < 63 && bits & (1i64 << i) != 0);
    let list: Vec<&str> =
        words.list().into_iter().enumerate().filter(|(i, _)| set(*i)).map(|(_, w)| w).collect();
    list.join(", ")
}

/// Errors of a filter as one failure.
pub(super) fn wrong(errors: Vec<FilterError>) -> ReportError {
    ReportError::Filter(errors)
}
