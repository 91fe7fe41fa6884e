//! A look at a file before it is read: what it is taken for and why, and how its columns are understood.
//! Nothing is made of it.

use std::io::BufReader;

use super::content::{bytes, decode, first_part, split, tell_kind, text_of_part};
use super::diagnostic::Diagnostics;
use super::kinds::{Kind, fit};
use super::log::{is_las, survey_rows};
use super::lookup::{World, beside};
use super::options::Options;
use super::table::{RawRow, Where, arranged, read_layout};
use super::when::{StampReader, Times};
use super::witsml::{Element, LogHead, Logs, Named, Part, Wanted, What, bha_runs};
use super::{layouts, run, witsml, workbook};
use crate::model::Moment;

/// Values of a column that are shown.
const SHOWN: usize = 3;

/// What a file is taken for.
#[derive(Clone, Debug, Default)]
pub struct Look {
    /// Kinds of its tables, each sheet of a workbook by itself; none where it cannot be told.
    pub kinds: Vec<Kind>,
    /// By what that is told, or why it cannot be.
    pub why: String,
    /// How its columns are understood.
    pub columns: Vec<ReadColumn>,
    /// Files that it names and that come in with it.
    pub names: Vec<String>,
    /// When what it tells of began, where its head says.
    pub from: Option<Moment>,
    /// Objects in it that runs of another file may be made of.
    pub parts: Vec<Part>,
    /// What its runs are made of, where it names no files.
    wanted: Vec<Wanted>,
    /// It has no table: words alone.
    pub is_prose: bool,
    /// A document of logs: what it is a part of is told by all its rows.
    is_log: bool,
}

/// A column as it is understood.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ReadColumn {
    pub sheet: Option<String>,
    /// As the file titles it.
    pub title: String,
    /// Field and unit; `None` for a column that is not used.
    pub field: Option<String>,
    /// Its first values.
    pub first: Vec<String>,
}

impl Look {
    fn unknown(why: impl Into<String>) -> Self {
        Self { why: why.into(), ..Self::default() }
    }

    fn of(kind: Kind, why: impl Into<String>) -> Self {
        Self { kinds: vec![kind], why: why.into(), ..Self::default() }
    }

    /// Whether its runs are made of parts that other files hold.
    pub fn wants(&self) -> bool {
        !self.wanted.is_empty()
    }

    /// Reads the logs of a document to their ends, which a run asks for that is made of them.
    pub fn read_logs(&mut self, name: &str, times: Times, world: &World<'_>) {
        if self.is_log {
            self.parts.extend(logs(name, times, world));
        }
    }

    /// Takes in which of the parts of all files its own runs are made of.
    pub fn link(&mut self, parts: &[Part]) {
        self.names
            .extend(self.wanted.iter().flat_map(|w| w.linked(parts).files().collect::<Vec<_>>()));
    }

    /// The files that it brings must be named by another one: it is a part of a run.
    pub fn is_part(&self) -> bool {
        let part = |k: &Kind| matches!(k, Kind::Log | Kind::Tally | Kind::Operations);
        !self.kinds.is_empty() && self.kinds.iter().all(part)
    }
}

/// Looks at a file.
pub fn look(name: &str, options: &Options, world: &World<'_>) -> Look {
    let mut d = Diagnostics::default();
    let found = looked(name, options, world, &mut d);
    match d.list().first().filter(|_| found.kinds.is_empty()) {
        Some(first) => Look { why: first.message.clone(), ..found },
        None => found,
    }
}

fn looked(name: &str, options: &Options, world: &World<'_>, d: &mut Diagnostics) -> Look {
    if name.to_ascii_lowercase().ends_with(".toml") {
        let Some(bytes) = bytes(name, world, d) else { return Look::default() };
        let Some(text) = decode(name, &bytes, &mut Vec::new(), d) else { return Look::default() };
        return run_look(name, run::RunContent::Toml(&text), options, "a header of a run (TOML)");
    }
    let Some(begins) = first_part(name, world, d) else { return Look::default() };
    if workbook::is_workbook(&begins) {
        return workbook_look(name, options, world, d);
    }
    if workbook::is_other_spreadsheet(&begins) {
        return Look::unknown("an older spreadsheet: save it as .xlsx");
    }
    let Some(text) = text_of_part(name, begins, d) else { return Look::default() };
    if witsml::is_xml(&text) {
        return document_look(name, &text, options.times, world);
    }
    let mut notes = Vec::new();
    if is_las(&text) && survey_rows(&text).is_some() {
        return Look::of(Kind::Survey, "a LAS file with the curves of a survey");
    }
    if is_las(&text) {
        return Look::of(Kind::Log, "it begins with a version section of LAS (~V)");
    }
    let known = layouts::of_text(&text, options, world.lookup);
    let options = known.as_ref().unwrap_or(options);
    let rows = split(&text, options, options.kind, &mut notes);
    let has_figures = |row: &RawRow| {
        let number = |c: &&String| c.trim().starts_with(|c: char| c.is_ascii_digit() || c == '-');
        row.cells.iter().filter(number).count() > 1
    };
    let is_prose = !rows.iter().any(has_figures);
    let look = rows_look(name, None, rows, options, d);
    Look { is_prose: is_prose && look.kinds.is_empty(), ..look }
}

fn rows_look(
    name: &str,
    sheet: Option<&str>,
    rows: Vec<RawRow>,
    options: &Options,
    d: &mut Diagnostics,
) -> Look {
    let (kind, why) = match (options.told(), options.kind) {
        (Some(told), Some(kind)) => (kind, layouts::note(told)),
        (_, Some(kind)) => (kind, "it is stated".to_owned()),
        (_, None) => match tell_kind(name, &rows, options, d) {
            Some(kind) => (kind, "its header names what such a file has".to_owned()),
            None => return Look::default(),
        },
    };
    if kind == Kind::Run {
        return run_look(name, run::RunContent::Rows(rows), options, "its lines state a run");
    }
    let mut look = Look::of(kind, why);
    let fields = kind.fields();
    let (rows, _) = arranged(rows, fields, options.columns.as_ref());
    let at = Where { sheet, ..Where::new(name, options.columns.as_ref()) };
    // What is wrong with the header is said when the file is read.
    let Some(layout) = read_layout(&rows, fields, at, &mut Diagnostics::default()) else {
        return look;
    };
    let data = rows.get(layout.first_data..).unwrap_or_default();
    let first = |number: usize| {
        let cells = data.iter().filter_map(|r| r.cells.get(number - 1));
        let filled = cells.map(|c| c.trim().to_owned()).filter(|c| !c.is_empty());
        filled.take(SHOWN).collect()
    };
    let column = |number: usize, title: &String, field: Option<String>| {
        let sheet = sheet.map(str::to_owned);
        (number, ReadColumn { sheet, title: title.clone(), field, first: first(number) })
    };
    let read = layout.columns.iter().map(|c| {
        let unit = c.unit.as_ref().map_or_else(String::new, |u| format!(" [{}]", u.symbol()));
        column(c.number, &c.title, Some(format!("{}{unit}", fields[c.field].key)))
    });
    let unused = layout.unused.iter().filter(|u| !u.1.is_empty());
    let unused = unused.map(|(number, title)| column(*number, title, None));
    let mut columns: Vec<(usize, ReadColumn)> = read.chain(unused).collect();
    columns.sort_by_key(|c| c.0);
    look.columns = columns.into_iter().map(|c| c.1).collect();
    look.from = layout
        .constants
        .iter()
        .find(|c| c.key == "date")
        .and_then(|c| super::when::moment(&c.value, options.times).ok());
    look
}

fn run_look(name: &str, content: run::RunContent<'_>, options: &Options, why: &str) -> Look {
    let mut look = Look::of(Kind::Run, why);
    if let Some(named) = run::named(name, content, options) {
        look.names = named.files.iter().map(|file| beside(name, file)).collect();
        look.from = named.start;
    }
    look
}

fn workbook_look(name: &str, options: &Options, world: &World<'_>, d: &mut Diagnostics) -> Look {
    let Some(bytes) = bytes(name, world, d) else { return Look::default() };
    let book = match workbook::read(name, &bytes) {
        Ok(book) => book,
        Err(e) => return Look::unknown(e.message),
    };
    let mut all =
        Look { why: "no sheet of it names what a file has".to_owned(), ..Look::default() };
    let mut told = Vec::new();
    for sheet in book.sheets {
        let title = sheet.name.clone();
        let known = layouts::of_rows(&sheet.rows, options, world.lookup);
        let options = known.as_ref().unwrap_or(options);
        let mut look =
            rows_look(name, Some(&title), sheet.rows, options, &mut Diagnostics::default());
        if let Some(kind) = look.kinds.first() {
            told.push(format!("sheet '{title}': {kind}"));
        }
        all.kinds.append(&mut look.kinds);
        all.columns.append(&mut look.columns);
        all.names.append(&mut look.names);
        all.from = all.from.or(look.from);
        if options.by.is_some() {
            told.push(look.why);
        }
    }
    if !told.is_empty() {
        all.why = told.join("; ");
    }
    all
}

fn document_look(name: &str, text: &str, times: Times, world: &World<'_>) -> Look {
    match witsml::begins_with(text) {
        Some(witsml::Object::Trajectory) => Look::of(Kind::Survey, "a trajectory of WITSML"),
        Some(witsml::Object::Tubular) => {
            let named = document(name, world).map(|doc| witsml::named(&doc, "tubular"));
            let part = |named| Part { file: name.to_owned(), named, what: What::Tubular };
            let parts = named.unwrap_or_default().into_iter().map(part).collect();
            Look { parts, ..Look::of(Kind::Tally, "a tubular of WITSML") }
        }
        Some(witsml::Object::Log) => {
            Look { is_log: true, ..Look::of(Kind::Log, "a log of WITSML") }
        }
        Some(object @ (witsml::Object::BhaRun | witsml::Object::OpsReport)) => {
            let runs = document(name, world).map(|doc| bha_runs(&doc, times)).unwrap_or_default();
            let wanted = runs.into_iter().map(|run| run.string).collect();
            let why = if object == witsml::Object::BhaRun {
                "a run of WITSML (bhaRun)"
            } else {
                "a report of WITSML (opsReport), of which the hours of a run come"
            };
            Look { wanted, ..Look::of(Kind::Run, why) }
        }
        None => Look::unknown("an XML document that holds no trajectory, tubular, log or run"),
    }
}

/// A document; what is wrong with it is said when it is read.
fn document(name: &str, world: &World<'_>) -> Option<Element> {
    let mut unsaid = Diagnostics::default();
    let bytes = bytes(name, world, &mut unsaid)?;
    let text = decode(name, &bytes, &mut Vec::new(), &mut unsaid)?;
    witsml::parse(name, &text).ok()
}

/// The logs of a document, where all of them are of one hole, have one kind of index and tell how the
/// pipe turned.
fn logs(name: &str, times: Times, world: &World<'_>) -> Option<Part> {
    let mut logs = Logs::new(BufReader::new(world.files.open(name).ok()?)).ok()?;
    let (mut by_time, mut span): (_, Option<(i64, i64)>) = (None, None);
    while let Some(LogHead { header, delimiter, .. }) = logs.next_log().ok()? {
        fit(Kind::Log, &header, None, &[]).filter(|f| f.missing.is_empty())?;
        let timed = header[0].cells.iter().any(|c| c == "time");
        if by_time.is_some_and(|before| before != timed) {
            return None;
        }
        by_time = Some(timed);
        let at = header[0].cells.iter().position(|c| c == "time");
        let mut stamps = StampReader::new(times);
        let mut see = |line: &String| {
            let cell = line.split(char::from(delimiter)).nth(at?)?;
            let ms = stamps.read(cell.trim().as_bytes())?;
            span = Some(span.map_or((ms, ms), |(from, to)| (from.min(ms), to.max(ms))));
            Some(())
        };
        let mut last = None;
        while let Some((_, line)) = logs.next_row().ok()? {
            if last.is_none() {
                see(&line);
            }
            last = Some(line);
        }
        last.as_ref().and_then(see);
    }
    let hole = logs.holes.first()?.clone();
    if logs.holes.iter().any(|other| hole.is(other) != Some(true)) {
        return None;
    }
    let named = Named { hole, ..Named::default() };
    Some(Part { file: name.to_owned(), named, what: What::Log { by_time: by_time?, span } })
}
