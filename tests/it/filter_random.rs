//! Random rows and random filters, from a seed each. Values are few and small, so that ties,
//! limits and missing readings meet often.
//!
//! The rows are written into the tables as no fold would make them. What they are held to is not what
//! a filter means, but one property: over arbitrary rows that keep what the projections promise, the SQL
//! of a filter and the evaluator say the same. What filters mean is asked of books that were kept
//! through files (`filter_book`) and by the second witness.

mod author;
mod tables;

use std::collections::BTreeMap;

use pipelore::filter::Record;
use pipelore::filter::registry::{Field, Kind, Over, Part, Stored, Table, fields, fields_of};
use pipelore::model::{Histogram, Scope, Vocabulary};
use pipelore::units::Measure;
use rusqlite::types::Value;
use rusqlite::{Connection, params_from_iter};

use crate::chance;

pub use author::Author;
use tables::mark;
pub use tables::{empty, rows};

/// A small generator of numbers.
pub struct Dice(pub u64);

impl Dice {
    pub fn next(&mut self) -> u64 {
        chance::next(&mut self.0)
    }

    pub fn below(&mut self, n: u64) -> u64 {
        self.next() % n.max(1)
    }

    pub fn int(&mut self, low: i64, high: i64) -> i64 {
        low + self.below((high - low + 1) as u64) as i64
    }

    /// True once in so many times.
    pub fn once_in(&mut self, n: u64) -> bool {
        self.below(n) == 0
    }

    pub fn pick<'a, T>(&mut self, list: &'a [T]) -> &'a T {
        &list[self.below(list.len() as u64) as usize]
    }
}

pub const DAY: i64 = 86_400_000;
/// 2026-06-01.
pub const FIRST_DAY: i64 = 1_780_272_000_000;

/// Quanta of one step of a measure, and how a number of steps is written.
fn step(measure: Measure) -> (i64, &'static str, i64) {
    // (quanta of a step, unit, hundredths of the unit in a step)
    match measure {
        Measure::Hours => (3_600_000, "h", 100),
        Measure::Days => (DAY, "days", 100),
        Measure::Dogleg => (100_000_000, "deg/m", 10),
        Measure::Ratio => (100_000_000, "%", 1_000),
        Measure::Damage => (100_000_000_000_000, "", 10),
        Measure::Turns => (1_000, "", 100),
        Measure::Count => (1, "", 100),
        Measure::Factor => (500_000, "", 50),
        Measure::Force => (1_000_000, "kN", 100),
        Measure::Torque => (1_000_000, "kN.m", 100),
        Measure::Work => (1_000, "kJ", 100),
        Measure::Stress => (1_000_000, "MPa", 100),
        Measure::LinearMass => (1_000_000, "kg/m", 100),
        Measure::Density => (1_000_000_000, "kg/m3", 100_000),
        _ => (1_000_000_000, "m", 100),
    }
}

fn written(steps: i64, halves: bool, measure: Measure) -> String {
    let (_, unit, hundredths) = step(measure);
    let n = steps * hundredths + if halves { hundredths / 2 } else { 0 };
    let sign = if n < 0 { "-" } else { "" };
    let (whole, part) = (n.abs() / 100, n.abs() % 100);
    let number =
        if part == 0 { format!("{sign}{whole}") } else { format!("{sign}{whole}.{part:02}") };
    if unit.is_empty() { number } else { format!("{number} {unit}") }
}

/// A number of a measure as a filter writes it.
fn literal(dice: &mut Dice, measure: Measure) -> String {
    let low = if dice.once_in(12) { -1 } else { 0 };
    let steps = dice.int(low, 6);
    let halves = dice.once_in(5);
    written(steps, halves, measure)
}

const TEXTS: [&str; 4] = ["K1", "K2", "Larkfield 1H", "TG-07"];
const OPEN_WORDS: [&str; 3] = ["rough", "galled", "shop"];

fn words_of(f: &Field) -> Vec<String> {
    match f.kind {
        Kind::Word(words) => {
            let list = words.list();
            if list.is_empty() {
                OPEN_WORDS.iter().map(|w| (*w).to_owned()).collect()
            } else {
                list.iter().take(4).map(|w| (*w).to_owned()).collect()
            }
        }
        _ => TEXTS.iter().map(|t| (*t).to_owned()).collect(),
    }
}

type Row = BTreeMap<&'static str, Value>;

/// What kind of value each column holds, from the fields that read it.
fn kinds(table: Table) -> BTreeMap<&'static str, &'static Field> {
    let mut kinds = BTreeMap::new();
    for f in fields() {
        match f.stored {
            Stored::Column(c) | Stored::Rest(c) if c.table == table => {
                kinds.insert(c.name, f);
            }
            Stored::Ratio(a, b) => {
                for c in [a, b] {
                    if c.table == table {
                        kinds.entry(c.name).or_insert(f);
                    }
                }
            }
            _ => {}
        }
    }
    // A ratio's columns are torques, not ratios.
    for f in fields() {
        if let Stored::Column(c) = f.stored
            && c.table == table
        {
            kinds.insert(c.name, f);
        }
    }
    kinds
}

fn instant(dice: &mut Dice) -> i64 {
    let clock = if dice.once_in(3) { dice.int(0, 3) * 21_600_000 } else { 0 };
    FIRST_DAY + dice.int(0, 20) * DAY + clock
}

fn value(dice: &mut Dice, f: &Field, may_lack: bool) -> Value {
    if may_lack && dice.once_in(4) {
        return Value::Null;
    }
    match f.kind {
        Kind::Measure(m) => {
            let low = if f.signed && dice.once_in(6) { -2 } else { 0 };
            let odd = i64::from(dice.once_in(8));
            Value::Integer(dice.int(low, 5) * step(m).0 + odd)
        }
        Kind::Date => Value::Integer(instant(dice)),
        Kind::Flag => Value::Integer(dice.int(0, 1)),
        Kind::Set(_) => Value::Integer(dice.int(0, 63)),
        Kind::Text | Kind::Word(_) => Value::Text(dice.pick(&words_of(f)).clone()),
    }
}

/// Columns of a table: name, whether it must hold something, its type.
fn columns(conn: &Connection, table: &str) -> Vec<(String, bool, String)> {
    let mut statement =
        conn.prepare("SELECT name, \"notnull\" OR pk, type FROM pragma_table_info(?1)").unwrap();
    let rows = statement.query_map([table], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?))).unwrap();
    rows.map(Result::unwrap).collect()
}

/// Columns of a table: name, whether it may be missing, type.
type Columns = Vec<(String, bool, String)>;

struct Writer<'c> {
    conn: &'c Connection,
    tables: BTreeMap<Table, (String, Columns)>,
}

impl<'c> Writer<'c> {
    fn new(conn: &'c Connection) -> Self {
        Self { conn, tables: BTreeMap::new() }
    }

    /// Writes a row: what is given, and random values for the rest.
    fn put(&mut self, dice: &mut Dice, table: Table, given: &Row) {
        let conn = self.conn;
        let (sql, columns) = self.tables.entry(table).or_insert_with(|| {
            let columns = columns(conn, table.name());
            let names: Vec<&str> = columns.iter().map(|c| c.0.as_str()).collect();
            let marks = vec!["?"; names.len()].join(", ");
            let sql = format!(
                "INSERT OR IGNORE INTO {} ({}) VALUES ({marks})",
                table.name(),
                names.join(", ")
            );
            (sql, columns)
        });
        let kinds = kinds(table);
        let values: Vec<Value> = columns
            .iter()
            .map(|(name, needed, kind)| {
                if let Some(v) = given.get(name.as_str()) {
                    return v.clone();
                }
                match (kinds.get(name.as_str()), kind.as_str()) {
                    (Some(f), _) => value(dice, f, !needed),
                    (None, "TEXT") => Value::Text("x".to_owned()),
                    (None, "BLOB") => Value::Blob(Vec::new()),
                    (None, _) if *needed => Value::Integer(0),
                    (None, _) => Value::Null,
                }
            })
            .collect();
        conn.prepare_cached(sql).unwrap().execute(params_from_iter(values)).unwrap();
    }
}

fn int(v: Option<&Value>) -> Option<i64> {
    match v {
        Some(Value::Integer(n)) => Some(*n),
        _ => None,
    }
}

/// Figures of a run, their measures, and the part's column for what comes after a cut.
fn figures() -> Vec<(&'static str, Measure, Option<&'static str>)> {
    let mut out = Vec::new();
    for f in fields_of(Some(Record::Run)) {
        if let Stored::Figure(name, part) = f.stored {
            let after = match part {
                Part::Largest(after) => Some(after),
                Part::Sums => None,
            };
            out.push((name, f.measure().unwrap(), after));
        }
    }
    out
}

struct Run {
    row: Row,
    position: i64,
    start: i64,
    finish: i64,
    conflict: bool,
    estimated: bool,
    untimed: bool,
    histogram: Histogram,
}

/// A book, and its joints.
pub struct Book {
    pub seed: u64,
    pub joints: Vec<i64>,
    runs: Vec<(i64, i64, i64, i64, Row, Histogram)>,
}

/// Fills empty tables with a random book.
pub fn book(conn: &Connection, seed: u64) -> Book {
    let dice = &mut Dice(seed);
    let mut writer = Writer::new(conn);
    let joints: Vec<i64> = (1..=dice.int(3, 7)).collect();
    let shared: Vec<i64> = (100..100 + dice.int(1, 5)).collect();
    for run in &shared {
        let start = instant(dice);
        let given = Row::from([("run", Value::Integer(*run)), ("start", Value::Integer(start))]);
        writer.put(dice, Table::Run, &given);
    }
    let mut out = Book { seed, joints: joints.clone(), runs: Vec::new() };
    for joint in joints {
        one_joint(&mut writer, dice, joint, &shared, &mut out);
    }
    mark(conn);
    out
}

fn one_joint(writer: &mut Writer<'_>, dice: &mut Dice, joint: i64, shared: &[i64], out: &mut Book) {
    let id = ("joint", Value::Integer(joint));
    // records first, for their instants cut the runs
    let mut cuts = Vec::new();
    let mut entry = joint * 1_000;
    let mut moved = false;
    let mut taken_from = Vec::new();
    for record in Record::ALL {
        if record == Record::Run {
            continue;
        }
        for _ in 0..dice.int(0, 3) {
            entry += 1;
            let at =
                if dice.once_in(4) && !cuts.is_empty() { *dice.pick(&cuts) } else { instant(dice) };
            cuts.push(at);
            moved |= matches!(record, Record::Move | Record::Hire);
            let mut given = Row::from([
                id.clone(),
                ("date", Value::Integer(at)),
                ("entry", Value::Integer(entry)),
                ("turn", Value::Integer(entry)),
            ]);
            given.insert("n", Value::Integer(1));
            // What a move took over, it took from an entry before it.
            if record == Record::Move {
                for by in ["location_by", "string_by", "status_by"] {
                    let before = dice.int(joint * 1_000 + 1, entry);
                    let by_other = dice.once_in(2) && before != entry;
                    given.insert(by, if by_other { Value::Integer(before) } else { Value::Null });
                    taken_from.extend(by_other.then_some(before));
                }
            }
            if matches!(record, Record::Makeup) {
                let pattern = Some(dice.pick(shared)).filter(|_| dice.once_in(2));
                let pattern = pattern.map_or(Value::Null, |run| Value::Integer(*run));
                given.insert("pattern_run", pattern);
                given.insert("times", Value::Integer(dice.int(1, 3)));
                given.insert("generation", Value::Integer(dice.int(1, 2)));
            }
            writer.put(dice, record.table(), &given);
        }
    }
    // Facts that exclude each other.
    let clash = entry > joint * 1_000 && dice.once_in(3);
    if clash {
        let one = |dice: &mut Dice| dice.int(joint * 1_000 + 1, entry);
        // Often one that a move took something over from.
        let from = !taken_from.is_empty() && dice.once_in(2);
        let first = if from { *dice.pick(&taken_from) } else { one(dice) };
        let (first, second) = (Value::Integer(first), Value::Integer(one(dice)));
        let given = Row::from([id.clone(), ("first_entry", first), ("second_entry", second)]);
        writer.put(dice, Table::Conflict, &given);
    }
    let entered = FIRST_DAY - if dice.once_in(2) { 0 } else { 3 * DAY };
    let new = !dice.once_in(3);
    let mut complete = true;
    let mut gap = |writer: &mut Writer<'_>, dice: &mut Dice, since: Value, until: i64| {
        complete = false;
        entry += 1;
        // Now and then hours of it are told, and now and then more than it is long.
        let told = since != Value::Null && until != i64::MAX && dice.once_in(2);
        let hours = if told { Value::Integer(dice.int(0, 5 * DAY)) } else { Value::Null };
        let given = Row::from([
            id.clone(),
            ("until", Value::Integer(until)),
            ("since", since),
            ("entry", Value::Integer(entry)),
            ("hours", hours),
            ("begun", Value::Integer(i64::from(!dice.once_in(4)))),
        ]);
        writer.put(dice, Table::Gap, &given);
    };
    if !new {
        gap(writer, dice, Value::Null, entered);
    }
    if dice.once_in(4) {
        let since = instant(dice);
        let until = if dice.once_in(6) { i64::MAX } else { since + dice.int(1, 4) * DAY };
        gap(writer, dice, Value::Integer(since), until);
    }

    if !new && dice.once_in(2) {
        let mut given = Row::from([id.clone()]);
        counters(dice, &mut given);
        given.insert("histogram", Value::Blob(Histogram::default().encode()));
        writer.put(dice, Table::Opening, &given);
    }
    for table in [Table::JointState, Table::Custody] {
        for n in 0..dice.int(1, 3) {
            let at = if n == 0 { entered } else { instant(dice) };
            let mut given = Row::from([id.clone(), ("at", Value::Integer(at))]);
            let kept = |f: &&Field| matches!(f.stored, Stored::Column(_));
            for f in fields_of(None).filter(|f| f.past == Some(table)).filter(kept) {
                let v = value(dice, f, !f.always_filled);
                given.insert(f.name, v);
            }
            writer.put(dice, table, &given);
        }
    }

    let mut runs: Vec<Run> = Vec::new();
    for run in shared {
        if dice.once_in(3) {
            continue;
        }
        let start = instant(dice);
        let finish = start + dice.int(0, 5) * DAY + if dice.once_in(2) { 3_600_000 } else { 0 };
        let conflict = dice.once_in(8);
        let estimated = dice.once_in(8);
        let untimed = dice.once_in(3);
        let mut row = Row::new();
        for (name, measure, _) in figures() {
            let known = !dice.once_in(7);
            let v =
                if known { Value::Integer(dice.int(0, 5) * step(measure).0) } else { Value::Null };
            row.insert(name, v);
        }
        let mut histogram = Histogram::default();
        if let Some(sharpest) = int(row.get("max_dogleg")) {
            for _ in 0..dice.int(0, 4) {
                let band = dice.int(0, sharpest * 60 / 1_000_000_000).min(60) as usize;
                histogram.put(band, dice.int(0, 4) * 500, dice.int(0, 4) * 1_800_000);
            }
        }
        runs.push(Run {
            row,
            position: *run,
            start,
            finish,
            conflict,
            estimated,
            untimed,
            histogram,
        });
    }
    for r in &runs {
        let mut given = r.row.clone();
        given.extend([
            id.clone(),
            ("run", Value::Integer(r.position)),
            ("start", Value::Integer(r.start)),
            ("finish", Value::Integer(r.finish)),
            ("conflicting", Value::Integer(i64::from(r.conflict))),
            ("flags", Value::Integer(i64::from(r.estimated) * 4 + i64::from(r.untimed) * 32)),
            ("histogram", Value::Blob(r.histogram.encode())),
        ]);
        let (top, bottom) = (dice.int(0, 3) * 1_000_000_000, dice.int(3, 5) * 1_000_000_000);
        let lacks = dice.once_in(6);
        let depth = |v| if lacks { Value::Null } else { Value::Integer(v) };
        given.extend([("top_depth", depth(top)), ("bottom_depth", depth(bottom))]);
        writer.put(dice, Table::JointRun, &given);
        cuts.sort_unstable();
        cuts.dedup();
        for cut in &cuts {
            if *cut > r.start && *cut < r.finish && !dice.once_in(6) {
                let given = part(dice, joint, *cut, r.position, &r.row, &r.histogram);
                writer.put(dice, Table::RunPart, &given);
            }
        }
        out.runs.push((joint, r.position, r.start, r.finish, r.row.clone(), r.histogram.clone()));
    }

    let mut given = Row::from([
        id.clone(),
        ("entered", Value::Integer(entered)),
        ("entered_new", Value::Integer(i64::from(new))),
        ("life_complete", Value::Integer(i64::from(complete))),
        ("conflicted", Value::Integer(i64::from(clash || runs.iter().any(|r| r.conflict)))),
        ("moved", if moved { Value::Integer(FIRST_DAY) } else { Value::Null }),
        ("pin_generation", Value::Integer(dice.int(1, 2))),
        ("box_generation", Value::Integer(dice.int(1, 2))),
        ("serial", Value::Text(format!("K1-{joint}"))),
    ]);
    let failed = if dice.once_in(3) { Value::Integer(instant(dice)) } else { Value::Null };
    given.insert("failed_on", failed);
    totals(&mut given, &runs, complete);
    writer.put(dice, Table::Joint, &given);
    for scope in Scope::ALL {
        let mut given = Row::from([id.clone(), ("scope", Value::Text(scope.word().to_owned()))]);
        counters(dice, &mut given);
        let mut histogram = Histogram::default();
        histogram.put(dice.int(0, 40) as usize, dice.int(0, 9) * 500, dice.int(0, 9) * 900_000);
        given.insert("histogram", Value::Blob(histogram.encode()));
        writer.put(dice, Table::Since, &given);
    }
}

/// Counters with their bounds.
fn counters(dice: &mut Dice, given: &mut Row) {
    for f in fields_of(None) {
        if let Stored::Counter { lo, hi, over } = f.stored {
            // What stands at a place is kept for the whole life alone.
            if matches!(over, Over::Place(..)) {
                continue;
            }
            let least = dice.int(0, 4);
            let unit = step(f.measure().unwrap()).0;
            given.insert(lo, Value::Integer(least * unit));
            let most = match dice.below(4) {
                0 => Value::Null,
                1 => Value::Integer((least + dice.int(0, 2)) * unit),
                _ => Value::Integer(least * unit),
            };
            given.insert(hi, most);
        }
    }
}

/// What a joint's own row says of its runs, as the projections promise: a lower bound of what is
/// certain, an upper bound only where all is known.
fn totals(joint: &mut Row, runs: &[Run], complete: bool) {
    let sure = complete && runs.iter().all(|r| !r.conflict && !r.estimated);
    let fold = |name: &str, largest: bool| -> (i64, Option<i64>) {
        let mut lo = 0;
        let mut open = !sure;
        for r in runs {
            match int(r.row.get(name)) {
                Some(v) if !r.conflict => lo = if largest { lo.max(v) } else { lo + v },
                Some(_) => {}
                None => open = true,
            }
        }
        (lo, (!open).then_some(lo))
    };
    for f in fields_of(None) {
        let Stored::Counter { lo, hi, over } = f.stored else { continue };
        let (least, most) = match over {
            Over::Runs(name, Part::Sums) => fold(name, false),
            Over::Runs(name, Part::Largest(_)) => fold(name, true),
            Over::Place(name, _) => fold(name, false),
            Over::WorstPlace(places) => {
                let all = places.map(|p| fold(p, false));
                let most: Option<Vec<i64>> = all.iter().map(|a| a.1).collect();
                (all.iter().map(|a| a.0).max().unwrap(), most.map(|m| m.into_iter().max().unwrap()))
            }
            Over::Makeups(_) => (2, complete.then_some(3)),
        };
        joint.insert(lo, Value::Integer(least));
        joint.insert(hi, most.map_or(Value::Null, Value::Integer));
    }
    let mut histogram = Histogram::default();
    runs.iter().filter(|r| !r.conflict).for_each(|r| histogram.add(&r.histogram));
    joint.insert("histogram", Value::Blob(histogram.encode()));
}

/// The part of a run before a cut: some of every figure.
fn part(dice: &mut Dice, joint: i64, cut: i64, run: i64, whole: &Row, h: &Histogram) -> Row {
    let mut given = Row::from([
        ("joint", Value::Integer(joint)),
        ("run", Value::Integer(run)),
        ("cut", Value::Integer(cut)),
    ]);
    for (name, _, after) in figures() {
        let (before, rest) = match int(whole.get(name)) {
            Some(v) if !dice.once_in(10) => {
                let share = v * dice.int(0, 4) / 4;
                if after.is_some() && dice.once_in(2) { (v, share) } else { (share, v) }
            }
            _ => {
                given.insert(name, Value::Null);
                if let Some(after) = after {
                    given.insert(after, Value::Null);
                }
                continue;
            }
        };
        given.insert(name, Value::Integer(before));
        if let Some(after) = after {
            given.insert(after, Value::Integer(rest));
        }
    }
    let mut some = Histogram::default();
    let share = dice.int(0, 4);
    for band in 0..61 {
        let (turns, ms) = h.band(band);
        some.put(band, turns * share / 4, ms * share / 4);
    }
    given.insert("histogram", Value::Blob(some.encode()));
    given
}

/// Fills the parts of runs before the dates of a filter.
pub fn fill_window_parts(conn: &Connection, book: &Book, cuts: &[i64], seed: u64) {
    conn.execute("DELETE FROM temp.window_part", []).unwrap();
    let dice = &mut Dice(seed);
    let mut writer = Writer::new(conn);
    for cut in cuts {
        for (joint, run, start, finish, row, histogram) in &book.runs {
            if cut > start && cut < finish && !dice.once_in(6) {
                let given = part(dice, *joint, *cut, *run, row, histogram);
                writer.put(dice, Table::WindowPart, &given);
            }
        }
    }
}
