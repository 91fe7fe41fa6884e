//! Joints, or records, that match a filter.

use std::cell::Cell as Noted;
use std::collections::{BTreeMap, BTreeSet, HashMap};

use crate::filter::registry::{self, Kind};
use crate::filter::typed::Among;
use crate::filter::{
    self, Answer, Compiled, Dialect, ErrorKind, FilterError, Query, Record, Refusal, Select,
    Source, compile, compile_records,
};
use crate::model::{article, plural};
use crate::policy::RuleSet;
use crate::schema::Value;
use crate::store::Book;
use crate::units::UnitSystem;

use super::pass::{ReaderPool, Verdicts};
use super::question::{
    Present, ask, cell, in_context, in_context_of_now, prepare, report_column, wrong,
};
use super::{Block, Cell, Column, Counted, Report, ReportError, Table, fitness, grouped, range};

/// How an answer is wanted.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// Columns to show in place of the usual ones.
    pub show: Vec<String>,
    /// Column to sort by; a minus before it puts the largest first.
    pub sort: Option<String>,
    /// Columns to count and sum by, with commas between.
    pub by: Option<String>,
    /// At most so many rows.
    pub limit: Option<u32>,
    /// The undecided in place of the matching.
    pub undecided: bool,
    /// Records of this kind in place of joints.
    pub list: Option<Record>,
}

/// Columns that tell a joint before anything that the filter mentions.
const JOINT: [&str; 3] = ["serial", "string", "location"];

/// Columns that tell a record of each kind.
const fn usual(record: Record) -> &'static [&'static str] {
    match record {
        Record::Run => &["joint.serial", "name", "well", "finish", "rotating_hours", "damage"],
        Record::Makeup => &["joint.serial", "date", "end", "torque", "verdict", "gauge"],
        Record::Inspection => &["joint.serial", "date", "class", "wall", "criterion"],
        Record::Finding => &["joint.serial", "date", "what", "place", "end", "open"],
        Record::Repair => &["joint.serial", "date", "work", "end", "shop"],
        Record::Event => &["joint.serial", "date", "what", "pull"],
        Record::Failure => &["joint.serial", "date", "what", "place", "depth"],
        Record::Move => &["joint.serial", "date", "location", "string", "status"],
        Record::Hire => &["joint.serial", "date", "name", "party", "back"],
        Record::Decision => &["joint.serial", "date", "ruling", "class", "reason"],
    }
}

/// A query, its rows, and what is said of those that nobody can decide; `None` where nobody asked.
type Answered = (Query, Vec<Vec<Value>>, Option<Counted>);

/// A filter that was read, and what is shown beside its answers.
type Asked = (Compiled, Vec<filter::Column>, Sort);

fn read(
    book: &Book,
    text: &str,
    rules: Option<&RuleSet>,
    options: &Options,
    present: &Present,
) -> Result<Asked, ReportError> {
    let read = |context: &filter::Context<'_>| {
        let compiled = match options.list {
            None => compile(text, context),
            Some(record) => compile_records(record, text, context),
        }
        .map_err(wrong)?;
        let (columns, sort) = columns(&compiled, options, context)?;
        Ok((compiled, columns, sort))
    };
    match rules {
        Some(rules) => in_context(book, rules, present, read),
        None => in_context_of_now(book, present, read),
    }
}

/// How rows are selected.
fn select<'a>(options: &Options, columns: &'a [filter::Column], sort: Sort) -> Select<'a> {
    Select {
        answer: if options.undecided { Answer::Undecided } else { Answer::Matching },
        columns,
        sort,
        // Groups are made of all.
        limit: if options.by.is_some() { None } else { options.limit },
        among: None,
    }
}

/// Rows of a filter that looks at every joint: one pass tells which joints match and which are
/// open, then columns are read of those that are shown.
fn in_one_pass(
    book: &mut Book,
    compiled: &Compiled,
    columns: &[filter::Column],
    sort: Sort,
    options: &Options,
    present: &Present,
) -> Result<Answered, ReportError> {
    let everyone = in_context(book, &RuleSet::none(), present, |context| compile("true", context))
        .map_err(wrong)?;
    let filters = std::slice::from_ref(compiled);
    let mut verdicts = ReaderPool::open(book)?.verdicts(&everyone, filters, present)?;
    let Verdicts { holds, open } = verdicts.pop().unwrap_or_default();
    let mut shown = if options.undecided { &open } else { &holds }.clone();
    let all = select(options, columns, sort);
    if let (None, Some(limit)) = (sort, all.limit) {
        shown.truncate(limit as usize);
    }
    prepare(book, &everyone, columns)?;
    // That they match is known: only their columns are asked for.
    let answer = Answer::Matching;
    let query = everyone.select(&Select { answer, among: Some(&shown), ..all });
    let rows = if shown.is_empty() { Vec::new() } else { ask(book, &query, present)? };
    let open = match (options.undecided, open.as_slice()) {
        (true, _) => None,
        (false, []) => Some(none_open()),
        (false, open) => Some(undecided(book, compiled, Some(open), "joint", present)?),
    };
    Ok((query, rows, open))
}

/// The statement by which an engine answers a filter on a publication, by these rules or by those in
/// force. Nothing is asked of the book but its rules, its clock and the words that it knows.
pub fn statement(
    book: &Book,
    text: &str,
    rules: &RuleSet,
    (dialect, from): (Dialect, &Source),
    present: &Present,
) -> Result<String, ReportError> {
    let asked = Noted::new(false);
    let compiled = in_context(book, rules, present, |context| {
        let ask = |_: &Among| {
            asked.set(true);
            None
        };
        compile(text, &filter::Context { ask: &ask, ..*context })
    });
    let elsewhere = |mut error: FilterError| {
        if asked.get() && error.kind == ErrorKind::Limit {
            let refusal = Refusal::Others.at(error.place.clone(), dialect);
            error = FilterError { used: error.used, ..refusal };
        }
        error
    };
    let compiled = compiled.map_err(|e| wrong(e.into_iter().map(elsewhere).collect()))?;
    compiled.statement(dialect, from).map_err(wrong)
}

/// Answers a filter by these rules, or by those in force.
pub fn report(
    book: &mut Book,
    text: &str,
    rules: Option<&RuleSet>,
    options: &Options,
    present: &Present,
) -> Result<Report, ReportError> {
    let (compiled, columns, sort) = read(book, text, rules, options, present)?;
    let asks_fitness = columns.iter().any(|c| fitness::is_told_by(&c.label));
    let what = options.list.map_or("joint", Record::word);
    let (query, rows, open) = if options.list.is_none() && compiled.goes_through_all() {
        in_one_pass(book, &compiled, &columns, sort, options, present)?
    } else {
        prepare(book, &compiled, &columns)?;
        let query = compiled.select(&select(options, &columns, sort));
        let open = |book: &mut Book| undecided(book, &compiled, None, what, present);
        let wanted = !options.undecided && !compiled.is_decided();
        let (rows, open) = match if wanted { book.beside()? } else { None } {
            Some(mut other) => {
                prepare(&mut other, &compiled, &[])?;
                let (rows, open) = rayon::join(|| ask(book, &query, present), || open(&mut other));
                (rows?, Some(open?))
            }
            None if wanted => (ask(book, &query, present)?, Some(open(book)?)),
            None => (ask(book, &query, present)?, (!options.undecided).then(none_open)),
        };
        (query, rows, open)
    };
    let mut cells: Vec<Vec<Cell>> = rows
        .iter()
        .map(|row| {
            columns
                .iter()
                .zip(&query.columns)
                .map(|(c, at)| cell(c.kind, row, *at, present.clock))
                .collect()
        })
        .collect();
    let mut shown: Vec<Column> = columns.iter().map(report_column).collect();
    for (i, (column, (_, hi))) in shown.iter_mut().zip(&query.columns).enumerate() {
        column.bounded = hi.is_some();
        column.dispensable =
            u8::from(i > 0 && options.show.is_empty() && JOINT.contains(&column.name.as_str()));
        column.once = i > 0 && options.show.is_empty() && options.by.is_none();
    }
    if options.show.is_empty() && options.by.is_none() {
        spare_what_tells_least(&compiled, &columns, &mut shown, &cells);
    }
    let found = rows.len();
    let mut no_sums = Vec::new();
    if options.by.is_some() {
        let keys = options.by.as_deref().map(filter::columns_of).unwrap_or_default();
        let keys = keys.into_iter().collect::<BTreeSet<_>>().len();
        (shown, cells, no_sums) = grouped::grouped(&shown, &cells, keys, options.limit);
    } else {
        shown.push(Column::decided());
        cells.iter_mut().for_each(|row| row.push(Cell::Truth(!options.undecided)));
    }
    let mut report = Report::new("find");
    report.push(Block::Table(Table {
        name: if options.list.is_some() { "records" } else { "joints" },
        columns: shown,
        rows: cells,
        empty: format!("no {what} matches"),
        below: None,
    }));
    report.push(Block::Counted(counted(found, what, options)));
    if !no_sums.is_empty() {
        let list = no_sums.join(", ");
        report
            .push(Block::Note(format!("not numbers, and not summed: {list}; --by counts by them")));
    }
    report.blocks.extend(open.map(Block::Counted));
    report.blocks.extend(compiled.remarks().into_iter().map(Block::Note));
    if sorted_by_damage(options) && (2..=RANGED).contains(&found) {
        let joints: Vec<i64> = rows.iter().filter_map(|row| int(row.first())).collect();
        report.blocks.extend(range::said_of_order(book, &joints)?.map(Block::Note));
    }
    if asks_fitness {
        report.push(Block::Note(
            "fit by what is recorded and by the rules in force; each search for cracks: `assess SERIAL`"
                .to_owned(),
        ));
        report.push(fitness::caution());
    }
    if !options.undecided {
        let joints: Vec<i64> = rows.iter().filter_map(|row| int(row.first())).collect();
        report.blocks.extend(never_began(book, &compiled, joints, present)?.map(Block::Note));
    }
    Ok(report)
}

/// Rows from which it is told how much a column tells.
const LOOKED_AT: usize = 500;

/// What rules speak of and the filter itself does not is left out first where a screen is narrow, and
/// of that first what is most alike in all rows.
fn spare_what_tells_least(
    compiled: &Compiled,
    columns: &[filter::Column],
    shown: &mut [Column],
    rows: &[Vec<Cell>],
) {
    let mentions = compiled.mentions();
    let by_rule = |label: &str| mentions.iter().any(|m| m.by_rule && m.words == label);
    let mut told: Vec<(usize, f64)> = Vec::new();
    for (at, column) in columns.iter().enumerate() {
        if shown[at].dispensable == 0 && at > 0 && by_rule(&column.label) {
            told.push((at, spread(rows.iter().take(LOOKED_AT).filter_map(|row| row.get(at)))));
        }
    }
    told.sort_by(|(_, a), (_, b)| b.total_cmp(a));
    for (rank, (at, _)) in told.into_iter().enumerate() {
        shown[at].dispensable = u8::try_from(rank + 2).unwrap_or(u8::MAX);
    }
}

/// How unlike the values of a column are: none where all are one, the most where each is its own
/// (entropy of their shares).
fn spread<'c>(cells: impl Iterator<Item = &'c Cell>) -> f64 {
    let mut counts: HashMap<String, u32> = HashMap::new();
    let mut all = 0_u32;
    for cell in cells {
        *counts.entry(format!("{cell:?}")).or_default() += 1;
        all += 1;
    }
    let share = |n: u32| f64::from(n) / f64::from(all.max(1));
    counts.into_values().map(|n| -share(n) * share(n).ln()).sum()
}

/// Most joints of which the order by damage is told within the ranges of their figures.
const RANGED: usize = 40;

/// Whether the joints of the answer stand in the order of their damage.
fn sorted_by_damage(options: &Options) -> bool {
    let by = options.sort.as_deref().map(|column| column.trim_start_matches('-').trim());
    let damage = registry::field(None, "damage");
    let is =
        |name: &str| registry::field(None, name).zip(damage).is_some_and(|(a, b)| a.name == b.name);
    options.list.is_none() && options.by.is_none() && by.is_some_and(is)
}

fn counted(found: usize, what: &str, options: &Options) -> Counted {
    let limited = options.by.is_none() && options.limit.is_some_and(|l| found == l as usize);
    let verb = if options.undecided {
        "cannot be decided"
    } else if found == 1 {
        "matches"
    } else {
        "match"
    };
    let says = if limited {
        format!("{} shown; there may be more", plural(found, what))
    } else {
        format!("{} {verb}", plural(found, what))
    };
    let member = if options.undecided { "undecided" } else { "matching" };
    Counted { counts: vec![(member, (!limited).then_some(found))], wants: Vec::new(), says }
}

/// Every joint or record can be decided.
fn none_open() -> Counted {
    Counted { counts: vec![("undecided", Some(0))], ..Counted::default() }
}

/// Says how many joints nobody can decide, and for want of what.
fn undecided(
    book: &mut Book,
    compiled: &Compiled,
    among: Option<&[i64]>,
    what: &str,
    present: &Present,
) -> Result<Counted, ReportError> {
    let (query, labels) = compiled.undecided_by(among);
    let rows = ask(book, &query, present)?;
    let Some(row) = rows.first() else { return Ok(none_open()) };
    let count = |i: usize| int(row.get(i)).and_then(|n| usize::try_from(n).ok()).unwrap_or(0);
    let open = count(0);
    if open == 0 {
        return Ok(none_open());
    }
    let mut wants: Vec<(usize, &str)> = labels
        .iter()
        .enumerate()
        .map(|(i, l)| (count(i + 1), l.as_str()))
        .filter(|(n, _)| *n > 0)
        .collect();
    wants.sort_by(|a, b| b.0.cmp(&a.0).then_with(|| a.1.cmp(b.1)));
    let list: Vec<String> =
        wants.iter().take(4).map(|(n, label)| format!("{label} ({n})")).collect();
    Ok(Counted {
        says: format!(
            "{} cannot be decided, for want of: {}; --undecided lists them",
            plural(open, what),
            list.join("; ")
        ),
        counts: vec![("undecided", Some(open))],
        wants: wants.into_iter().map(|(n, label)| (label.to_owned(), n)).collect(),
    })
}

/// Says how many of the joints found never had a record that a window of the filter begins at.
fn never_began(
    book: &mut Book,
    compiled: &Compiled,
    mut joints: Vec<i64>,
    present: &Present,
) -> Result<Option<String>, ReportError> {
    joints.sort_unstable();
    joints.dedup();
    let Some((query, labels)) = compiled.never_began(&joints) else { return Ok(None) };
    let rows = ask(book, &query, present)?;
    let counts = rows.first().into_iter().flatten().map(|n| int(Some(n)).unwrap_or(0));
    let said: Vec<String> = counts
        .zip(&labels)
        .filter(|(n, _)| *n > 0)
        .map(|(n, label)| {
            let article = if label.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" };
            format!("{n} of these never had {article} {label}")
        })
        .collect();
    if said.is_empty() {
        return Ok(None);
    }
    let entry = if said.len() == 1 { "counted from entry" } else { "each counted from entry" };
    Ok(Some(format!("{}: {entry}", said.join("; "))))
}

fn int(value: Option<&Value>) -> Option<i64> {
    match value {
        Some(Value::Int(n)) => Some(*n),
        _ => None,
    }
}

type Sort = Option<(usize, bool)>;

/// The columns to ask for, and the one to sort by.
fn columns(
    compiled: &Compiled,
    options: &Options,
    context: &filter::Context<'_>,
) -> Result<(Vec<filter::Column>, Sort), ReportError> {
    let record = options.list;
    let mut names: Vec<String> = Vec::new();
    let mut titles: BTreeMap<String, String> = BTreeMap::new();
    if let Some(by) = &options.by {
        names.extend(filter::columns_of(by));
        names.push(if record.is_some() { "joint.length" } else { "length" }.to_owned());
        names.extend(options.show.iter().cloned());
    } else if options.show.is_empty() {
        match record {
            None => names.extend(JOINT.map(str::to_owned)),
            Some(r) => names.extend(usual(r).iter().map(|s| (*s).to_owned())),
        }
        for mention in compiled.mentions() {
            titles.extend(mention.title.map(|title| (mention.words.clone(), title)));
            names.push(mention.words);
        }
    } else {
        names.extend(options.show.iter().cloned());
    }
    let mut seen = BTreeSet::new();
    names.retain(|name| seen.insert(name.clone()));
    let read = |name: &str| filter::column(name, record, context).map_err(wrong);
    let mut columns = Vec::new();
    let mut given = Vec::new();
    for name in &names {
        let mut column = read(name)?;
        given.extend(column.title.is_some().then_some(columns.len()));
        if let Some(title) = titles.remove(name) {
            column.title = Some(title.into());
        }
        columns.push(column);
    }
    let mut sort = None;
    if let Some(text) = &options.sort {
        let (name, largest_first) = match text.strip_prefix('-') {
            Some(rest) => (rest.trim(), true),
            None => (text.trim(), false),
        };
        // By what was asked for, or by the title that it was given.
        let titled = |c: &filter::Column| c.title.as_deref() == Some(name.trim_matches('"'));
        let at = names.iter().position(|n| n == name).or_else(|| columns.iter().position(titled));
        let at = match at {
            Some(at) => at,
            None => {
                columns.push(read(name)?);
                columns.len() - 1
            }
        };
        sort = Some((at, largest_first));
    }
    told_apart(&columns, &given)?;
    Ok((columns, sort))
}

/// Refuses a title that names another column of the answer as well, or what a table for machines says
/// of one beside its value.
fn told_apart(columns: &[filter::Column], given: &[usize]) -> Result<(), ReportError> {
    let names: Vec<String> = columns
        .iter()
        .map(|c| c.title.as_ref().unwrap_or(&c.label).to_lowercase())
        .chain(["decided".to_owned()])
        .collect();
    let beside = |a: &str, b: &str| {
        let rest = a.strip_prefix(b).unwrap_or("?");
        ["", " bound", " at most", " unit"].contains(&rest)
    };
    for at in given {
        let name = &names[*at];
        let taken = names
            .iter()
            .enumerate()
            .any(|(i, other)| i != *at && (beside(name, other) || beside(other, name)));
        if taken {
            return Err(ReportError::Words(format!(
                "{name} is the title of another column, or of what stands beside one; choose another \
                 title for {}",
                columns[*at].label
            )));
        }
    }
    Ok(())
}

/// What a field holds, in words.
fn holds(kind: Kind, units: UnitSystem) -> String {
    match kind {
        Kind::Measure(m) => match m.unit_symbol(units) {
            "" => "number".to_owned(),
            unit => unit.to_owned(),
        },
        Kind::Date => "date".to_owned(),
        Kind::Text => "text".to_owned(),
        Kind::Flag => "true or false".to_owned(),
        Kind::Word(words) => match (words, words.list()) {
            (registry::Words::Catalogued(_), list) if list.len() > 12 => {
                "a word of the catalogue".to_owned()
            }
            (_, list) => list.join(" | "),
        },
        Kind::Set(words) => format!("any of {}", words.list().join(", ")),
    }
}

/// What no value of a field means, and when there is none.
fn no_value(field: &registry::Field) -> String {
    use registry::Stored;
    let what = match field.absent {
        registry::Absent::None => "none",
        registry::Absent::NoneIf(_) => "none",
        registry::Absent::Unknown => "not known",
    };
    match field.when_absent {
        _ if field.always_filled => "never".to_owned(),
        _ if matches!(field.stored, Stored::Present(_) | Stored::Missing(_)) => "never".to_owned(),
        "" => what.to_owned(),
        when => format!("{what}: {when}"),
    }
}

/// The fields of the language, with what they mean, what it means that there is none, where they come
/// from, and their other names.
pub fn fields(record: Option<Record>, units: UnitSystem) -> Report {
    let mut report = Report::new("fields");
    let kinds: Vec<Option<Record>> = match record {
        Some(r) => vec![Some(r)],
        None => vec![None],
    };
    for kind in kinds {
        report.push(Block::Heading(match kind {
            None => "Fields of a joint".to_owned(),
            Some(r) => format!("Fields of {} {}", article(r.word()), r.word()),
        }));
        report.push(Block::Table(Table {
            name: "fields",
            columns: vec![
                Column::plain("field", "field"),
                Column::plain("holds", "holds"),
                Column::plain("means", "means"),
                Column::plain("no_value", "no value").dispensable(3),
                Column::plain("from", "from").dispensable(1),
                Column::plain("also", "also called").dispensable(2),
            ],
            rows: registry::fields_of(kind)
                .map(|f| {
                    vec![
                        Cell::Text(f.name.to_owned()),
                        Cell::Text(holds(f.kind, units)),
                        Cell::Text(f.help.to_owned()),
                        Cell::Text(no_value(f)),
                        Cell::Text(f.from.to_owned()),
                        Cell::Text(f.aliases.join(", ")),
                    ]
                })
                .collect(),
            empty: String::new(),
            below: None,
        }));
    }
    report
}
