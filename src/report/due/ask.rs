//! Asks the rules of the book, one statement for each.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicUsize, Ordering};

use crate::filter::{self, Answer, ColumnKind, Select, column, compile};
use crate::model::Call;
use crate::policy::{Limit, Outlook, Rule, RuleSet};
use crate::report::{Cell, ReportError};
use crate::store::{Book, Datum};
use crate::units::Measure;

use super::super::question::{self, Present, in_context};
use super::Options;
use super::recent::{Recent, Value, worn};

/// How far to look ahead.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Ahead {
    /// So many days of the calendar.
    Days(f64),
    /// So many rotating hours of the joint.
    Hours(f64),
}

impl Ahead {
    /// As a person says it.
    pub fn words(&self) -> String {
        match self {
            Self::Days(d) => format!("{d} days"),
            Self::Hours(h) => format!("{h} rotating hours"),
        }
    }
}

/// Whether a call is made now or later.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Standing {
    /// Now.
    Due,
    /// Within the time looked ahead.
    Soon(Outlook),
}

/// A joint and a call.
#[derive(Clone, Debug)]
pub struct Line {
    /// The joint.
    pub joint: i64,
    /// Its serial.
    pub serial: String,
    /// Its string.
    pub string: Option<String>,
    /// Where it is.
    pub location: Option<String>,
    /// What is called for.
    pub call: Call,
    /// The rule that speaks.
    pub rule: String,
    /// Its reason.
    pub reason: String,
    /// Other rules that make the same call.
    pub also: Vec<String>,
    /// The value that meets the limit.
    pub value: Cell,
    /// The limit.
    pub limit: Cell,
    /// What is left, negative where the limit is passed.
    pub margin: Cell,
    /// Now or later.
    pub standing: Standing,
    pub(super) severity: u8,
    /// Value over limit, or limit over value: above one is past.
    pub(super) urgency: f64,
}

/// A joint for which nobody can tell whether a rule speaks.
#[derive(Clone, Debug)]
pub struct Undecided {
    /// Its serial.
    pub serial: String,
    /// Its string.
    pub string: Option<String>,
    /// Where it is.
    pub location: Option<String>,
    /// What the rule calls for.
    pub call: Call,
    /// The rule.
    pub rule: String,
    /// Why the rule would speak.
    pub reason: String,
    /// Parts of the rule that cannot be decided for some joints.
    pub wants: String,
}

/// All that was found.
#[derive(Default)]
pub(super) struct Found {
    pub lines: Vec<Line>,
    pub undecided: Vec<Undecided>,
    /// One sentence for each rule that cannot be decided for some joints.
    pub open: Vec<String>,
    /// Joints for which the rule that is open for most cannot be decided.
    pub open_most: i64,
    /// One sentence for each rule that gives no date for some joints.
    pub unforeseen: Vec<String>,
}

/// Joints that are in service: a rule has nothing to say of others.
const IN_SERVICE: &str = "status not in (retired, lost)";

const SERIAL: usize = 0;
const STRING: usize = 1;
const LOCATION: usize = 2;
const VALUE: usize = 3;

pub(super) fn everything(
    book: &mut Book,
    rules: &RuleSet,
    options: &Options,
    present: &Present,
) -> Result<Found, ReportError> {
    let mut found = Found::default();
    let wanted: Vec<&Rule> =
        rules.rules.iter().filter(|r| options.call.is_none_or(|c| c == r.call)).collect();
    let recent = match options.within {
        Some(_) => Some(recent_of(book, &wanted, present)?),
        None => None,
    };
    let one = |book: &mut Book, rule: &Rule| {
        let mut found = Found::default();
        now_due(book, rules, rule, options.undecided, present, &mut found)?;
        if let (Some(ahead), Some(recent)) = (options.within, &recent) {
            soon_due(book, rules, rule, (ahead, recent), present, &mut found)?;
        }
        Ok(found)
    };
    for part in side_by_side(book, &wanted, &one)? {
        found.lines.extend(part.lines);
        found.undecided.extend(part.undecided);
        found.open.extend(part.open);
        found.open_most = found.open_most.max(part.open_most);
        found.unforeseen.extend(part.unforeseen);
    }
    found.lines = one_a_call(found.lines);
    Ok(found)
}

/// Asks rules one by one, on two connections where the book is large enough to be worth it.
/// Answers come in the order of the rules.
fn side_by_side(
    book: &mut Book,
    rules: &[&Rule],
    one: &(impl Fn(&mut Book, &Rule) -> Result<Found, ReportError> + Sync),
) -> Result<Vec<Found>, ReportError> {
    let Some(mut other) = (if rules.len() > 1 { book.beside()? } else { None }) else {
        return rules.iter().map(|rule| one(book, rule)).collect();
    };
    let next = AtomicUsize::new(0);
    let work = |book: &mut Book| -> Result<Vec<(usize, Found)>, ReportError> {
        let mut out = Vec::new();
        while let Some((at, rule)) = {
            let at = next.fetch_add(1, Ordering::Relaxed);
            rules.get(at).map(|r| (at, r))
        } {
            out.push((at, one(book, rule)?));
        }
        Ok(out)
    };
    let (here, there) = rayon::join(|| work(book), || work(&mut other));
    let mut all = here?;
    all.extend(there?);
    all.sort_by_key(|(at, _)| *at);
    Ok(all.into_iter().map(|(_, found)| found).collect())
}

/// Recent use, and wear where one of the rules moves with it.
pub(super) fn recent_of(
    book: &Book,
    rules: &[&Rule],
    present: &Present,
) -> Result<Recent, ReportError> {
    let driver = |r: &&Rule| r.limit.as_ref().and_then(|l| l.driver);
    Recent::read(book, present, rules.iter().any(|r| driver(r).and_then(worn).is_some()))
}

/// The columns of every question, and those of the value and its limit.
fn columns(rule: &Rule, context: &filter::Context<'_>) -> Result<Vec<filter::Column>, ReportError> {
    let mut names = vec!["serial", "string", "location"];
    if let Some(limit) = &rule.limit {
        names.extend([limit.value.as_str(), limit.limit.as_str()]);
    }
    names.into_iter().map(|n| column(n, None, context).map_err(question::wrong)).collect()
}

/// A row of an answer.
struct Asked<'a> {
    row: &'a [Datum],
    columns: &'a [filter::Column],
    places: &'a [(usize, Option<usize>)],
    offset: i32,
}

impl Asked<'_> {
    fn text(&self, at: usize) -> Option<String> {
        match self.row.get(self.places[at].0) {
            Some(Datum::Text(t)) => Some(t.clone()),
            _ => None,
        }
    }

    fn joint(&self) -> i64 {
        match self.row.first() {
            Some(Datum::Int(n)) => *n,
            _ => 0,
        }
    }

    fn cell(&self, at: usize) -> Cell {
        if at >= self.columns.len() {
            return Cell::Missing;
        }
        let column = &self.columns[at];
        let cell = question::cell(column.kind, self.row, self.places[at], self.offset);
        // A bare literal has the measure of the value that it limits.
        cell.measured(self.measure(at).or_else(|| self.measure(VALUE)))
    }

    fn measure(&self, at: usize) -> Option<Measure> {
        match self.columns.get(at)?.kind {
            ColumnKind::Measure(m) => Some(m),
            ColumnKind::Number(m) => m,
            _ => None,
        }
    }

    /// Lower bound of a column, in base units.
    fn base(&self, at: usize) -> Option<f64> {
        let column = self.columns.get(at)?;
        match (column.kind, self.row.get(self.places[at].0)?) {
            (ColumnKind::Measure(m), Datum::Int(n)) => Some(m.base_f64(*n)),
            (ColumnKind::Number(_), Datum::Real(x)) => Some(*x),
            (ColumnKind::Number(_), Datum::Int(n)) => Some(*n as f64),
            _ => None,
        }
    }

    /// What is left to the limit, in base units and as a cell.
    fn margin(&self, limit: &Limit) -> (Option<f64>, Cell) {
        let (Some(value), Some(bound)) = (self.base(VALUE), self.base(VALUE + 1)) else {
            return (None, Cell::Missing);
        };
        let left = if limit.above { bound - value } else { value - bound };
        (Some(left), Cell::Real(left).measured(self.measure(VALUE)))
    }

    fn line(&self, rule: &Rule, standing: Standing) -> Line {
        let (margin, urgency) = match &rule.limit {
            None => (Cell::Missing, 1.0),
            Some(limit) => {
                let ratio = match (self.base(VALUE), self.base(VALUE + 1)) {
                    (Some(v), Some(l)) if limit.above && l > 0.0 => v / l,
                    (Some(v), Some(l)) if !limit.above && v > 0.0 => l / v,
                    _ => 1.0,
                };
                (self.margin(limit).1, ratio)
            }
        };
        Line {
            joint: self.joint(),
            serial: self.text(SERIAL).unwrap_or_default(),
            string: self.text(STRING),
            location: self.text(LOCATION),
            call: rule.call,
            rule: rule.name.clone(),
            reason: rule.reason.clone(),
            also: Vec::new(),
            value: self.cell(VALUE),
            limit: self.cell(VALUE + 1),
            margin,
            standing,
            severity: rule.severity,
            urgency,
        }
    }
}

/// Joints for which a filter holds, and joints for which nobody can tell.
fn decided(
    book: &mut Book,
    compiled: &filter::Compiled,
    present: &Present,
) -> Result<(Vec<i64>, Vec<i64>), ReportError> {
    let query = compiled.select(&Select::of(Answer::Both));
    let (mut due, mut open) = (Vec::new(), Vec::new());
    for row in question::ask(book, &query, present)? {
        let Some(Datum::Int(joint)) = row.first() else { continue };
        let holds = query.truth.is_none_or(|at| row.get(at) == Some(&Datum::Int(1)));
        if holds { &mut due } else { &mut open }.push(*joint);
    }
    Ok((due, open))
}

/// Joints for which a rule speaks now; those for which nobody can tell are listed where `list` says
/// so, else counted.
fn now_due(
    book: &mut Book,
    rules: &RuleSet,
    rule: &Rule,
    list: bool,
    present: &Present,
    found: &mut Found,
) -> Result<(), ReportError> {
    let text = format!("{IN_SERVICE} and {}", rule.name);
    let (compiled, columns) = in_context(book, rules, present, |context| {
        let compiled = compile(&text, context).map_err(question::wrong)?;
        Ok::<_, ReportError>((compiled, columns(rule, context)?))
    })?;
    question::prepare(book, &compiled, &columns)?;
    // Of most joints it is known that a rule has nothing to say: one look at each tells so, and all
    // else is asked of the rest alone.
    let (due, open) = decided(book, &compiled, present)?;
    // Rows of what cannot be decided may be most of a fleet: they are read only to be shown.
    let (answer, wanted) = if list {
        (Answer::Both, due.iter().chain(&open).copied().collect())
    } else {
        (Answer::Matching, due)
    };
    let select = Select { columns: &columns, among: Some(&wanted), ..Select::of(answer) };
    let query = compiled.select(&select);
    let rows = if wanted.is_empty() { Vec::new() } else { question::ask(book, &query, present)? };
    let from = found.undecided.len();
    for row in &rows {
        let asked = Asked {
            row,
            columns: &columns,
            places: &query.columns,
            offset: present.offset_minutes,
        };
        let due = query.truth.is_none_or(|at| row.get(at) == Some(&Datum::Int(1)));
        if due {
            found.lines.push(asked.line(rule, Standing::Due));
        } else {
            found.undecided.push(Undecided {
                serial: asked.text(SERIAL).unwrap_or_default(),
                string: asked.text(STRING),
                location: asked.text(LOCATION),
                call: rule.call,
                rule: rule.name.clone(),
                reason: rule.reason.clone(),
                wants: String::new(),
            });
        }
    }
    if open.is_empty() {
        return Ok(());
    }
    let (query, labels) = compiled.undecided_by(Some(&open));
    let answer = question::ask(book, &query, present)?;
    let open = match answer.first().and_then(|r| r.first()) {
        Some(Datum::Int(n)) => *n,
        _ => 0,
    };
    if open > 0 {
        let wants: Vec<&str> = labels
            .iter()
            .enumerate()
            .filter(|(i, _)| {
                answer
                    .first()
                    .and_then(|r| r.get(i + 1))
                    .is_some_and(|d| matches!(d, Datum::Int(n) if *n > 0))
            })
            .map(|(_, l)| l.as_str())
            .take(3)
            .collect();
        let wants = wants.join("; ");
        found.open_most = found.open_most.max(open);
        for one in &mut found.undecided[from..] {
            one.wants.clone_from(&wants);
        }
        found.open.push(format!(
            "{} cannot be decided for {} {}, for want of: {}",
            rule.name,
            open,
            if open == 1 { "joint" } else { "joints" },
            wants
        ));
    }
    Ok(())
}

/// Joints that a rule does not call for yet, and that will meet its limit in time.
fn soon_due(
    book: &mut Book,
    rules: &RuleSet,
    rule: &Rule,
    (ahead, recent): (Ahead, &Recent),
    present: &Present,
    found: &mut Found,
) -> Result<(), ReportError> {
    let (mut use_unknown, mut rate_unknown) = (0, 0);
    for coming in approaching(book, rules, rule, recent, present)? {
        let outlook = coming.outlook;
        use_unknown += usize::from(outlook == Outlook::UseUnknown);
        rate_unknown += usize::from(outlook == Outlook::RateUnknown);
        let soon = match ahead {
            Ahead::Days(days) => {
                matches!(outlook, Outlook::Days { likely, .. } if likely <= days)
            }
            Ahead::Hours(h) => coming.hours.is_some_and(|left| left <= h),
        };
        if soon {
            found.lines.push(Line { standing: Standing::Soon(outlook), ..coming.line });
        }
    }
    for (n, why) in
        [(use_unknown, "their use is not known"), (rate_unknown, "their wear is not known")]
    {
        if n > 0 {
            let joints = if n == 1 { "joint" } else { "joints" };
            found.unforeseen.push(format!("{}: no date for {n} {joints}, {why}", rule.name));
        }
    }
    Ok(())
}

/// A joint on its way to a limit.
pub(super) struct Coming {
    /// The line that it will be.
    pub line: Line,
    /// When.
    pub outlook: Outlook,
    /// Rotating hours until then, where known.
    pub hours: Option<f64>,
}

/// Joints that a rule does not call for yet, where it moves with use or time.
pub(super) fn approaching(
    book: &mut Book,
    rules: &RuleSet,
    rule: &Rule,
    recent: &Recent,
    present: &Present,
) -> Result<Vec<Coming>, ReportError> {
    let Some((limit, driver)) = rule.limit.as_ref().and_then(|l| l.driver.map(|d| (l, d))) else {
        return Ok(Vec::new());
    };
    let mut parts = vec![IN_SERVICE.to_owned(), format!("not {}", rule.name)];
    parts.extend(rule.scope.as_ref().map(|s| format!("({s})")));
    parts.extend(limit.when.as_ref().map(|w| format!("({w})")));
    let (compiled, columns) = in_context(book, rules, present, |context| {
        let compiled = compile(&parts.join(" and "), context).map_err(question::wrong)?;
        Ok::<_, ReportError>((compiled, columns(rule, context)?))
    })?;
    question::prepare(book, &compiled, &columns)?;
    let query = compiled.select(&Select { columns: &columns, ..Select::of(Answer::Matching) });
    let mut out = Vec::new();
    for row in &question::ask(book, &query, present)? {
        let asked = Asked {
            row,
            columns: &columns,
            places: &query.columns,
            offset: present.offset_minutes,
        };
        let Some(left) = asked.margin(limit).0.filter(|l| *l >= 0.0) else { continue };
        let value = match asked.measure(VALUE) {
            Some(Measure::Ratio) => Value::OfWall,
            _ => Value::Plain,
        };
        let joint = asked.joint();
        let outlook = recent.outlook(joint, driver, left, value);
        let hours = recent.hours_until(joint, driver, left, value);
        out.push(Coming { line: asked.line(rule, Standing::Soon(outlook)), outlook, hours });
    }
    Ok(out)
}

/// One line for each joint and call: the worst speaks, the others are named.
fn one_a_call(mut lines: Vec<Line>) -> Vec<Line> {
    worst_first(&mut lines);
    let mut kept: BTreeMap<(i64, &'static str), usize> = BTreeMap::new();
    let mut out: Vec<Line> = Vec::new();
    for line in lines {
        use crate::model::Vocabulary;
        match kept.get(&(line.joint, line.call.word())) {
            Some(at) => {
                let first = &mut out[*at];
                if !first.also.contains(&line.rule) && first.rule != line.rule {
                    first.also.push(line.rule);
                }
            }
            None => {
                kept.insert((line.joint, line.call.word()), out.len());
                out.push(line);
            }
        }
    }
    out
}

/// Due before soon; then by severity and how far past, or by date.
pub(super) fn worst_first(lines: &mut [Line]) {
    let likely = |l: &Line| match l.standing {
        Standing::Due => -1.0,
        Standing::Soon(Outlook::Days { likely, .. }) => likely,
        Standing::Soon(_) => f64::INFINITY,
    };
    lines.sort_by(|a, b| {
        likely(a)
            .total_cmp(&likely(b))
            .then(a.severity.cmp(&b.severity))
            .then(b.urgency.total_cmp(&a.urgency))
            .then_with(|| a.serial.cmp(&b.serial))
    });
}
