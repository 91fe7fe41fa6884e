//! Lists of what the book knows by name: wells, runs, strings, hires, rigs, places, sites, instruments.

use std::collections::{BTreeMap, BTreeSet};

use crate::model::{Body, Clock, EntryKind, Vocabulary, name_key};
use crate::schema::{HireRow, JointRow, Rows, RunRow};
use crate::store::Book;
use crate::units::Measure;

use super::entries::struck;
use super::{Block, Cell, Column, Report, ReportError, Table, instant, named, survey};

/// What can be listed by name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum What {
    Wells,
    Runs,
    Strings,
    Hires,
    Rigs,
    Places,
    Sites,
    Instruments,
}

impl What {
    const WORDS: [(&'static str, Self); 8] = [
        ("wells", Self::Wells),
        ("runs", Self::Runs),
        ("strings", Self::Strings),
        ("hires", Self::Hires),
        ("rigs", Self::Rigs),
        ("places", Self::Places),
        ("sites", Self::Sites),
        ("instruments", Self::Instruments),
    ];

    /// The words for them.
    pub fn words() -> Vec<&'static str> {
        Self::WORDS.iter().map(|(word, _)| *word).collect()
    }

    pub fn parse(word: &str) -> Option<Self> {
        let word = word.trim().to_ascii_lowercase();
        let is = |known: &str| known == word || known.strip_suffix('s') == Some(&word);
        Self::WORDS.iter().find(|(known, _)| is(known)).map(|(_, what)| *what)
    }
}

pub fn report(book: &Book, what: What, clock: Clock) -> Result<Report, ReportError> {
    let table = match what {
        What::Wells => return survey::wells(book, clock),
        What::Runs => runs(book, clock)?,
        What::Strings => strings(book, clock)?,
        What::Hires => hires(book, clock)?,
        What::Rigs => rigs(book, clock)?,
        What::Places => places(book)?,
        What::Sites => sites(book, clock)?,
        What::Instruments => instruments(book, clock)?,
    };
    let mut report = Report::new("list");
    report.push(Block::Table(table));
    Ok(report)
}

fn table(name: &'static str, columns: Vec<Column>, rows: Vec<Vec<Cell>>) -> Table {
    Table { name, columns, rows, empty: format!("the book has no {name}"), below: None }
}

/// Most names of a cell; the rest is counted.
const NAMED: usize = 3;

fn names(of: &BTreeMap<String, String>) -> Cell {
    let list: Vec<String> = of.values().cloned().collect();
    if list.is_empty() { Cell::Missing } else { Cell::Text(named(&list, NAMED)) }
}

/// Runs in the order in which they ended.
fn ended(book: &Book) -> Result<Vec<RunRow>, ReportError> {
    Ok(book.rows(&Rows::all().by(RunRow::finish()).by(RunRow::by_name()))?)
}

fn runs(book: &Book, clock: Clock) -> Result<Table, ReportError> {
    let rows = ended(book)?.into_iter().map(|r| {
        vec![
            Cell::Text(r.name),
            Cell::Text(r.well),
            Cell::text(r.string.as_deref()),
            Cell::text(r.rig.as_deref()),
            instant(r.start, clock),
            instant(r.finish, clock),
            Cell::number(r.run_hours),
            Cell::number(r.run_footage),
            Cell::Number(r.joints),
            Cell::Text(r.grade.word().to_owned()),
        ]
    });
    let columns = vec![
        Column::plain("run", "run"),
        Column::plain("well", "well"),
        Column::plain("string", "string").dispensable(2),
        Column::plain("rig", "rig").dispensable(3),
        Column::plain("from", "from"),
        Column::plain("to", "to").dispensable(5),
        Column::of("hours", "hours", Measure::Hours),
        Column::of("drilled", "drilled", Measure::Depth).dispensable(1),
        Column::plain("joints", "joints").dispensable(1),
        Column::plain("grade", "grade").dispensable(4),
    ];
    Ok(table("runs", columns, rows.collect()))
}

#[derive(Default)]
struct Known {
    name: String,
    joints: i64,
    length: i64,
    /// Joints whose length is not known.
    bare: i64,
    on_hire: i64,
    near: BTreeMap<String, String>,
    last: Option<(i64, String)>,
}

/// What joints are in now, by a name of theirs.
fn of_joints<'j>(
    joints: &'j [JointRow],
    name: impl Fn(&'j JointRow) -> Option<&'j str>,
    near: impl Fn(&'j JointRow) -> Option<&'j str>,
) -> BTreeMap<String, Known> {
    let mut all: BTreeMap<String, Known> = BTreeMap::new();
    for joint in joints {
        let Some(text) = name(joint) else { continue };
        let new = || Known { name: text.to_owned(), ..Known::default() };
        let known = all.entry(name_key(text)).or_insert_with(new);
        known.joints += 1;
        known.length += joint.length.unwrap_or(0);
        known.bare += i64::from(joint.length.is_none());
        known.on_hire += i64::from(joint.on_hire == Some(true));
        known.near.extend(near(joint).map(|n| (name_key(n), n.to_owned())));
    }
    all
}

fn strings(book: &Book, clock: Clock) -> Result<Table, ReportError> {
    let joints: Vec<JointRow> = book.rows(&Rows::all().by(JointRow::by_name()))?;
    let mut all = of_joints(&joints, |j| j.string.as_deref(), |j| j.location.as_deref());
    for run in ended(book)? {
        let Some(string) = &run.string else { continue };
        let new = || Known { name: string.clone(), ..Known::default() };
        all.entry(name_key(string)).or_insert_with(new).last = Some((run.finish, run.name));
    }
    let rows = all.into_values().map(|s| {
        vec![
            Cell::Text(s.name),
            Cell::Number(s.joints),
            Cell::bound(s.length, (s.bare == 0).then_some(s.length)),
            Cell::Number(s.on_hire),
            names(&s.near),
            Cell::text(s.last.as_ref().map(|(_, name)| name.as_str())),
            s.last.as_ref().map_or(Cell::Missing, |(at, _)| instant(*at, clock)),
        ]
    });
    let columns = vec![
        Column::plain("string", "string"),
        Column::plain("joints", "joints now"),
        Column { bounded: true, ..Column::of("length", "length", Measure::Depth) },
        Column::plain("on_hire", "on hire"),
        Column::plain("places", "where"),
        Column::plain("last_run", "last run").dispensable(1),
        Column::plain("ended", "ended").dispensable(2),
    ];
    Ok(table("strings", columns, rows.collect()))
}

fn places(book: &Book) -> Result<Table, ReportError> {
    let joints: Vec<JointRow> = book.rows(&Rows::all().by(JointRow::by_name()))?;
    let all = of_joints(&joints, |j| j.location.as_deref(), |j| j.string.as_deref());
    let rows = all.into_values().map(|p| {
        let length = Cell::bound(p.length, (p.bare == 0).then_some(p.length));
        vec![Cell::Text(p.name), Cell::Number(p.joints), length, names(&p.near)]
    });
    let columns = vec![
        Column::plain("place", "place"),
        Column::plain("joints", "joints now"),
        Column { bounded: true, ..Column::of("length", "length", Measure::Depth) },
        Column::plain("strings", "strings"),
    ];
    Ok(table("places", columns, rows.collect()))
}

fn hires(book: &Book, clock: Clock) -> Result<Table, ReportError> {
    struct Hire {
        name: String,
        party: String,
        contract: Option<String>,
        out: i64,
        back: Option<i64>,
        joints: BTreeSet<i64>,
        still_out: i64,
    }
    let mut all: BTreeMap<String, Hire> = BTreeMap::new();
    for row in book.rows::<HireRow>(&Rows::all())? {
        let hire = all.entry(name_key(&row.name)).or_insert_with(|| Hire {
            name: row.name.clone(),
            party: row.party.clone(),
            contract: row.contract.clone(),
            out: row.date,
            back: None,
            joints: BTreeSet::new(),
            still_out: 0,
        });
        hire.out = hire.out.min(row.date);
        hire.back = hire.back.max(row.back);
        hire.joints.insert(row.joint);
        hire.still_out += i64::from(row.back.is_none());
    }
    let mut all: Vec<Hire> = all.into_values().collect();
    all.sort_by(|a, b| a.out.cmp(&b.out).then_with(|| a.name.cmp(&b.name)));
    let rows = all.into_iter().map(|h| {
        vec![
            Cell::Text(h.name),
            Cell::Text(h.party),
            Cell::text(h.contract.as_deref()),
            instant(h.out, clock),
            h.back.map_or(Cell::Missing, |at| instant(at, clock)),
            Cell::count(h.joints.len()),
            Cell::Number(h.still_out),
        ]
    });
    let columns = vec![
        Column::plain("hire", "hire"),
        Column::plain("party", "to"),
        Column::plain("contract", "contract").dispensable(1),
        Column::plain("out", "first out"),
        Column::plain("back", "last back"),
        Column::plain("joints", "joints"),
        Column::plain("still_out", "still out"),
    ];
    Ok(table("hires", columns, rows.collect()))
}

fn rigs(book: &Book, clock: Clock) -> Result<Table, ReportError> {
    struct Rig {
        name: String,
        runs: i64,
        wells: BTreeMap<String, String>,
        first: i64,
        last: i64,
    }
    let mut all: BTreeMap<String, Rig> = BTreeMap::new();
    for run in ended(book)? {
        let Some(name) = run.rig else { continue };
        let rig = all.entry(name_key(&name)).or_insert_with(|| Rig {
            name,
            runs: 0,
            wells: BTreeMap::new(),
            first: run.start,
            last: run.finish,
        });
        rig.runs += 1;
        rig.first = rig.first.min(run.start);
        rig.last = rig.last.max(run.finish);
        rig.wells.insert(name_key(&run.well), run.well);
    }
    let rows = all.into_values().map(|r| {
        let (first, last) = (instant(r.first, clock), instant(r.last, clock));
        vec![Cell::Text(r.name), Cell::Number(r.runs), names(&r.wells), first, last]
    });
    let columns = vec![
        Column::plain("rig", "rig"),
        Column::plain("runs", "runs"),
        Column::plain("wells", "wells"),
        Column::plain("from", "first run from"),
        Column::plain("to", "last run to"),
    ];
    Ok(table("rigs", columns, rows.collect()))
}

fn sites(book: &Book, clock: Clock) -> Result<Table, ReportError> {
    struct Site {
        entries: i64,
        first: i64,
        last: i64,
        label: String,
        authors: BTreeSet<String>,
    }
    let mut all: BTreeMap<String, Site> = BTreeMap::new();
    book.each_entry(|stored| {
        let raw = &stored.raw;
        let at = raw.recorded_ms;
        let site = all.entry(raw.site.clone()).or_insert_with(|| Site {
            entries: 0,
            first: at,
            last: at,
            label: String::new(),
            authors: BTreeSet::new(),
        });
        site.entries += 1;
        site.first = site.first.min(at);
        site.last = site.last.max(at);
        site.label = raw.label();
        site.authors.insert(raw.author.clone());
        Ok(())
    })?;
    let rows = all.into_iter().map(|(name, site)| {
        let authors: Vec<String> = site.authors.into_iter().collect();
        vec![
            Cell::Text(name),
            Cell::Number(site.entries),
            Cell::Text(site.label),
            instant(site.first, clock),
            instant(site.last, clock),
            Cell::Text(named(&authors, NAMED)),
        ]
    });
    let columns = vec![
        Column::plain("site", "site"),
        Column::plain("entries", "entries"),
        Column::plain("last_entry", "last entry"),
        Column::plain("first_written", "first written").dispensable(1),
        Column::plain("last_written", "last written"),
        Column::plain("authors", "by").dispensable(2),
    ];
    Ok(table("sites", columns, rows.collect()))
}

fn instruments(book: &Book, clock: Clock) -> Result<Table, ReportError> {
    #[derive(Default)]
    struct Instrument {
        tag: String,
        what: Option<String>,
        place: Option<String>,
        checks: i64,
        /// Checks that it did not pass.
        failed: i64,
        /// When it was last checked, as written, whether it passed, until when that is good.
        last: Option<(String, bool, Option<String>)>,
    }
    let struck = struck(book)?;
    let mut told = Vec::new();
    let kinds = [EntryKind::Instrument.word(), EntryKind::Check.word()];
    book.each_entry(|stored| {
        if kinds.contains(&stored.raw.kind.as_str()) && !struck.contains_key(&stored.position) {
            told.push(stored.position);
        }
        Ok(())
    })?;
    let mut entries = Vec::new();
    for position in told {
        entries.push(book.counted(position)?);
    }
    entries.sort_by_key(|e| (e.starts(clock), e.id.sort_key()));
    let mut all: BTreeMap<String, Instrument> = BTreeMap::new();
    let new = |tag: &str| Instrument { tag: tag.to_owned(), ..Instrument::default() };
    for entry in entries {
        if let Body::Instrument(b) = &entry.body {
            let known = all.entry(name_key(&b.tag)).or_insert_with(|| new(&b.tag));
            known.what = Some(b.what.word().replace('_', " "));
            known.place.clone_from(&b.location);
        } else if let Body::Check(b) = &entry.body {
            let known = all.entry(name_key(&b.tag)).or_insert_with(|| new(&b.tag));
            known.checks += 1;
            known.failed += i64::from(!b.passed);
            let until = b.valid_until.as_ref().map(ToString::to_string);
            known.last = Some((entry.effective.to_string(), b.passed, until));
        }
    }
    let rows = all.into_values().map(|i| {
        let (when, passed, until) = match i.last {
            Some((when, passed, until)) => (Some(when), Some(passed), until),
            None => (None, None, None),
        };
        vec![
            Cell::Text(i.tag),
            Cell::text(i.what.as_deref()),
            Cell::text(i.place.as_deref()),
            Cell::Number(i.checks),
            Cell::Number(i.failed),
            Cell::text(when.as_deref()),
            passed.map_or(Cell::Missing, Cell::Truth),
            Cell::text(until.as_deref()),
        ]
    });
    let columns = vec![
        Column::plain("tag", "tag"),
        Column::plain("what", "what"),
        Column::plain("location", "where").dispensable(1),
        Column::plain("checks", "checks"),
        Column::plain("failed", "not passed"),
        Column::plain("last_check", "last check"),
        Column::plain("passed", "passed"),
        Column::plain("valid_until", "good until").dispensable(2),
    ];
    Ok(table("instruments", columns, rows.collect()))
}
