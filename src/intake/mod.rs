//! Files into entries: rows under a header, runs with their tally and log, each fact with the
//! place that it came from, and a diagnostic with its place for everything that is wrong.
//!
//! Owns what real files look like. Pure over bytes: files come through [`Files`], what the book
//! knows through [`Lookup`]. Nothing is guessed: an unstated unit, an ambiguous decimal comma, a
//! date that reads two ways are errors that say how to state them.

mod ahead;
mod ask;
mod content;
mod correct;
mod diagnostic;
mod explain;
mod kinds;
mod laid_down;
mod layouts;
mod list;
mod loads;
mod log;
mod look;
mod lookup;
mod marks;
mod number;
mod operations;
mod options;
mod planned;
mod resolve;
mod run;
mod show;
mod table;
mod tally;
mod text;
mod twice;
mod unused;
mod when;
mod witsml;
mod workbook;

pub use ask::{Answer, Question};
pub use correct::{Corrected, corrected};
pub use diagnostic::{ColumnAt, Diagnostic, Diagnostics, Excerpt, Severity};
pub use explain::{Explained, explain};
pub use kinds::{Kind, READING, amend_with, read_scopes};
pub use layouts::{changed as changed_layout, said as said_in_layout};
pub use list::{Listed, read_list};
pub use log::{CutError, CutRules, LogOptions, LogRead, read as read_log};
pub use look::{Look, ReadColumn, look};
pub use lookup::{
    Files, JointMatch, LoggedRun, Lookup, MemoryFiles, MemoryLookup, Progress, World, unwatched,
};
pub use number::Decimal;
pub use options::{Hidden, Options, SAYS};
pub use planned::{Planned, Wishes, read as read_plan};
pub use resolve::settle;
pub use show::{show, tame};
pub use table::{Columns, ColumnsError, Delimiter, EXAMPLE, StatedColumn};
pub use text::Encoding;
pub use when::{DateOrder, Times};
pub use witsml::{Named, Part, Wanted};
pub use workbook::{FOR_READING, cell_name, column_letters, is_workbook_name};

use std::collections::BTreeMap;

use crate::model::{Body, Draft, LayoutBody, Moment, fold, nearest_word};
pub(crate) use ahead::wrong as wrong_date;
use content::{bytes, decode, digest, load, split, tell_kind};
use kinds::Context;
use log::{is_las, survey_rows};
pub(crate) use lookup::base_name;
use resolve::Made;
use table::{Constant, RawRow, Reading, Table, Where, arranged, read_layout};
use unused::{of_sheet, refuse_unused, tell_columns};
use witsml::Object;

/// What became of the data rows of a file. Every row is in one of the four.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct RowCount {
    pub used: u64,
    /// Refused, with a diagnostic or in the count of those not kept.
    pub refused: u64,
    /// Below the data, or the header again.
    pub skipped: u64,
    /// Rows of inspections in which nothing is entered: joints that nobody looked at.
    pub not_looked_at: u64,
}

/// What a file gave.
#[derive(Clone, Debug, Default)]
pub struct Outcome {
    /// What it is about, where that could be told.
    pub kind: Option<Kind>,
    /// Facts. When there are errors these are the good ones, and nobody writes them unasked. A
    /// joint's own opening balance needs [`settle`] before it is written.
    pub drafts: Vec<Draft>,
    /// What is wrong or odd.
    pub diagnostics: Diagnostics,
    /// What was understood without being stated: encoding, delimiter, columns not used.
    pub notes: Vec<String>,
    /// SHA-256 of the file, lower-case hex.
    pub sha256: String,
    /// What became of its rows.
    pub rows: RowCount,
    /// What a person said of how its tables are read, and the book does not know.
    pub learned: Vec<LayoutBody>,
}

impl Outcome {
    /// True when the file is refused: something in it is wrong.
    pub const fn is_refused(&self) -> bool {
        self.diagnostics.errors() > 0
    }
}

/// Adds the values that the user gave for the whole file.
fn give(table: &mut Table, given: &BTreeMap<String, String>, diagnostics: &mut Diagnostics) {
    for (name, value) in given {
        let folded = fold(name);
        if let Some(at) = table.fields.named(&folded) {
            let key = table.fields[at].key.clone();
            let constant = Constant { key: key.clone(), value: value.clone(), row: None };
            table.constants.insert(key, constant);
            continue;
        }
        let near = nearest_word(name, table.fields.iter().map(|f| f.key.as_str()));
        let message = format!("'{name}' is given, and this kind of file has no such field");
        let d = table.error(message);
        diagnostics.push(match near {
            Some(n) => d.help(format!("did you mean {n}?")),
            None => d,
        });
    }
}

/// Reads a file into drafts and diagnostics.
///
/// `name` is opened through `world.files`; a run's file names its tally and log relative to
/// itself. Errors do not stop at the first: every row is looked at.
pub fn read(name: &str, options: &Options, world: &World<'_>) -> Outcome {
    let mut out = Outcome::default();
    let mut d = Diagnostics::default();
    read_into(name, options, world, &mut out, &mut d);
    if !options.every_column {
        // Each is said once: all rows lack what the file does not state.
        let mut said = Vec::new();
        d.each(|d| {
            // A part of a run is not what the options are said of.
            if d.file != name {
                return;
            }
            let file = base_name(&d.file);
            let Some(option) = d.question.as_ref().and_then(|ask| ask.option(file)) else { return };
            if !said.contains(&option) {
                let before = d.help.take().map_or_else(String::new, |help| help + "; ");
                d.help = Some(before + &option);
                said.push(option);
            }
        });
    }
    out.diagnostics = d;
    out
}

fn read_into(
    name: &str,
    options: &Options,
    world: &World<'_>,
    out: &mut Outcome,
    d: &mut Diagnostics,
) {
    let toml = name.to_ascii_lowercase().ends_with(".toml");
    if toml {
        out.kind = Some(Kind::Run);
        let Some(text) = whole_text(name, world, out, d) else { return };
        let content = run::RunContent::Toml(&text);
        finish_run(name, run::read(name, content, options, world, d), options, out, d);
        return;
    }
    let Some(begins) = content::first_part(name, world, d) else { return };
    if workbook::is_workbook(&begins) {
        workbook_into(name, options, world, out, d);
        return;
    }
    if workbook::is_other_spreadsheet(&begins) {
        d.push(content::other_spreadsheet(name));
        return;
    }
    // A log may be too large to hold; it has no drafts of its own.
    // What the first lines say wrong is said again when the whole is read.
    let mut unsaid = Diagnostics::default();
    let text = content::text_of_part(name, begins, &mut unsaid).unwrap_or_default();
    if witsml::is_xml(&text) {
        document_into(name, options, world, out, d);
        return;
    }
    if is_las(&text)
        && options.kind.is_none_or(|k| k == Kind::Survey)
        && survey_rows(&text).is_some()
    {
        las_survey_into(name, options, world, out, d);
        return;
    }
    let known = (!is_las(&text)).then(|| layouts::of_text(&text, options, world.lookup)).flatten();
    let options = known.as_ref().unwrap_or(options);
    out.notes.extend(options.told().map(layouts::note));
    let first = options.kind.or_else(|| {
        if is_las(&text) {
            return Some(Kind::Log);
        }
        let rows = split(&text, options, None, &mut Vec::new());
        tell_kind(name, &rows, options, &mut unsaid)
    });
    if let Some(kind @ (Kind::Log | Kind::Tally | Kind::Operations)) = first {
        out.kind = Some(kind);
        part_of_a_run(name, kind, options, world, d);
        return;
    }
    let Some(content) = load(name, options, options.kind, world, d) else { return };
    out.sha256 = content.sha256;
    out.notes.extend(content.notes);
    if content.rows.is_empty() {
        d.push(Diagnostic::error(name, "the file is empty"));
        return;
    }
    let kind = match options.kind {
        Some(kind) => kind,
        None => match tell_kind(name, &content.rows, options, d) {
            Some(kind) => kind,
            None => return,
        },
    };
    out.kind = Some(kind);
    if kind == Kind::Run {
        out.learned.extend(layouts::learned(name, &content.rows, kind, options, false));
        let content = run::RunContent::Rows(content.rows);
        finish_run(name, run::read(name, content, options, world, d), options, out, d);
        return;
    }
    table_into(name, None, content.rows, kind, options, world, out, d);
}

/// The text of a file that is read as a whole.
fn whole_text(
    name: &str,
    world: &World<'_>,
    out: &mut Outcome,
    d: &mut Diagnostics,
) -> Option<String> {
    let bytes = bytes(name, world, d)?;
    out.sha256 = digest(&bytes);
    decode(name, &bytes, &mut out.notes, d)
}

/// Reads a workbook: each sheet is a table of one kind.
fn workbook_into(
    name: &str,
    options: &Options,
    world: &World<'_>,
    out: &mut Outcome,
    d: &mut Diagnostics,
) {
    let Some(bytes) = bytes(name, world, d) else { return };
    out.sha256 = digest(&bytes);
    let book = match workbook::read(name, &bytes) {
        Ok(book) => book,
        Err(e) => {
            d.push(*e);
            return;
        }
    };
    out.notes.extend(book.notes);
    let alone = book.sheets.len() == 1;
    let mut taken = 0;
    let mut begins: Vec<(String, usize)> = Vec::new();
    for sheet in book.sheets {
        let mut said = Diagnostics::default();
        let known = layouts::of_rows(&sheet.rows, options, world.lookup);
        let options = known.as_ref().unwrap_or(options);
        let kind = match options.kind {
            Some(kind) => Some(kind),
            None => tell_kind(name, &sheet.rows, options, &mut said),
        };
        let Some(kind) = kind else {
            if alone || content::names_titles(&sheet.rows, options) {
                d.append(said.in_sheet(&sheet.name));
            } else {
                out.notes.push(format!(
                    "sheet '{}' was not read: no row of it names columns that a kind of file has",
                    sheet.name
                ));
            }
            continue;
        };
        taken += 1;
        begins.push((sheet.name.clone(), out.drafts.len()));
        out.kind = out.kind.or(Some(kind));
        let title = sheet.name.clone();
        let title = Some(title.as_str());
        let notes = sheet.notes.iter().cloned().chain(options.told().map(layouts::note));
        out.notes.extend(notes.map(|n| format!("sheet '{}': {n}", sheet.name)));
        let Some(rows) = sheet.sound(name, options.hidden, d) else { continue };
        match kind {
            Kind::Log | Kind::Tally | Kind::Operations => {
                let key = key_in_run(kind);
                d.push(
                    Diagnostic::error(name, format!("a sheet of kind {kind} belongs to a run"))
                        .in_sheet(title)
                        .help(format!(
                            "name the workbook in the run's file, {key} = \"…\", and load that"
                        )),
                );
            }
            Kind::Run => {
                out.learned.extend(layouts::learned(name, &rows, kind, options, false));
                let content = run::RunContent::Rows(rows);
                finish_run(name, run::read(name, content, options, world, d), options, out, d);
            }
            _ => table_into(name, title, rows, kind, options, world, out, d),
        }
    }
    twice::refuse(name, &out.drafts, &begins, d);
    if taken == 0 && d.errors() == 0 {
        d.push(
            Diagnostic::error(name, "no sheet of the workbook names columns of a kind of file")
                .help("say what it is: --as inspection; a sheet's first filled row is its header"),
        );
    }
}

/// The key under which a run names a part of it.
fn key_in_run(kind: Kind) -> &'static str {
    if kind == Kind::Tally { "tally" } else { "log" }
}

/// Says that a file comes in with a run, and what is wrong with a log that no run could be cut from.
fn part_of_a_run(
    name: &str,
    kind: Kind,
    options: &Options,
    world: &World<'_>,
    d: &mut Diagnostics,
) {
    if kind == Kind::Log {
        let log = LogOptions {
            columns: options.columns.clone(),
            delimiter: options.delimiter,
            decimal: options.decimal,
            nulls: options.nulls.clone(),
            times: options.times,
            ..LogOptions::default()
        };
        let mut said = Diagnostics::default();
        log::read(name, &log, world, &mut said);
        let wrong: Vec<Diagnostic> =
            said.list().iter().filter(|d| d.severity == Severity::Error).cloned().collect();
        if !wrong.is_empty() {
            wrong.into_iter().for_each(|error| d.push(error));
            return;
        }
    }
    let key = key_in_run(kind);
    d.push(
        Diagnostic::error(name, format!("a file of kind {kind} belongs to a run"))
            .help(format!("name it in the run's file, {key} = \"…\", and load that")),
    );
}

/// Reads a LAS file whose curves are those of a survey.
fn las_survey_into(
    name: &str,
    options: &Options,
    world: &World<'_>,
    out: &mut Outcome,
    d: &mut Diagnostics,
) {
    let Some(text) = whole_text(name, world, out, d) else { return };
    let Some(rows) = survey_rows(&text) else { return };
    out.kind = Some(Kind::Survey);
    table_into(name, None, rows, Kind::Survey, options, world, out, d);
}

/// Reads a WITSML document: each of its trajectories is a survey, each of its runs one.
fn document_into(
    name: &str,
    options: &Options,
    world: &World<'_>,
    out: &mut Outcome,
    d: &mut Diagnostics,
) {
    let Some(text) = whole_text(name, world, out, d) else { return };
    let doc = match witsml::parse(name, &text) {
        Ok(doc) => doc,
        Err(e) => {
            d.push(*e);
            return;
        }
    };
    match witsml::object(&doc) {
        Ok(Object::Trajectory) => {}
        Ok(Object::BhaRun | Object::OpsReport) => {
            out.kind = Some(Kind::Run);
            let content = run::RunContent::Document(&doc);
            finish_run(name, run::read(name, content, options, world, d), options, out, d);
            return;
        }
        Ok(object @ (Object::Log | Object::Tubular)) => {
            let kind = if object == Object::Log { Kind::Log } else { Kind::Tally };
            out.kind = Some(kind);
            part_of_a_run(name, kind, options, world, d);
            return;
        }
        Err(root) => {
            d.push(
                Diagnostic::error(name, format!("an XML document of '{root}' is not read"))
                    .help("of WITSML 1.4.1.1 and 2.x, trajectories, tubulars, logs, runs (bhaRun) and reports (opsReport) are read"),
            );
            return;
        }
    }
    out.kind = Some(Kind::Survey);
    for trajectory in witsml::trajectories(&doc) {
        let mut options = options.clone();
        options.columns = None;
        for (key, value) in trajectory.given {
            options.given.entry(key).or_insert(value);
        }
        if let Some(well) = options.given.get("well") {
            out.notes.push(format!("the hole is '{well}'"));
        }
        let sheet = trajectory.name.as_deref();
        if trajectory.is_plan {
            d.push(
                Diagnostic::warning(name, "the trajectory calls itself a plan (itemState)")
                    .in_sheet(sheet)
                    .help("a survey is what was measured: if it is a plan, strike it"),
            );
        }
        table_into(name, sheet, trajectory.rows, Kind::Survey, &options, world, out, d);
    }
}

/// Reads rows of a known kind. Another format's reader comes in here with its rows.
#[expect(clippy::too_many_arguments, reason = "a seam that carries what a read carries")]
fn table_into(
    name: &str,
    sheet: Option<&str>,
    rows: Vec<RawRow>,
    kind: Kind,
    options: &Options,
    world: &World<'_>,
    out: &mut Outcome,
    d: &mut Diagnostics,
) {
    out.learned.extend(layouts::learned(name, &rows, kind, options, false));
    let (rows, notes) = arranged(rows, kind.fields(), options.columns.as_ref());
    out.notes.extend(notes);
    let plan = (kind == Kind::Survey).then(|| plan_of(name, sheet, &rows)).flatten();
    let Some(mut table) = table(name, sheet, rows, kind, options, d) else { return };
    give(&mut table, &options.given, d);
    if options.every_column {
        refuse_unused(&table, d);
    } else {
        tell_columns(&table, &mut out.notes, d);
    }
    let context = Context { lookup: world.lookup, keep_conflicts: options.keep_conflicts };
    if let Some(words) = plan {
        d.push(
            table
                .warning(format!("'{words}' says that this is a plan"))
                .help("a survey is what was measured: if it is a plan, strike it"),
        );
    }
    let before = d.errors();
    let made = kinds::read(kind, &mut table, &context, d);
    let made = resolve::kept(made, out.drafts.len(), |m| match ahead::ahead(m, options.times) {
        None => true,
        Some(date) => {
            d.push(lies_ahead(&table, m, date, options));
            false
        }
    });
    let used: std::collections::BTreeSet<u64> =
        made.iter().flat_map(|m| m.rows.iter().copied()).collect();
    // Blocks that stood side by side share their rows.
    let used: Vec<u64> = table.rows.iter().map(|r| r.number).filter(|n| used.contains(n)).collect();
    let all = table.rows.len() as u64;
    let untouched = table.not_looked_at.len() as u64;
    out.rows.used += used.len() as u64;
    out.rows.not_looked_at += untouched;
    out.rows.refused += all - used.len() as u64 - untouched;
    out.rows.skipped += table.skipped.len() as u64;
    if all == 0 && d.errors() == before {
        d.push(
            table.error("the file has no data row").help("the rows below the header are the facts"),
        );
    }
    let (mut placed, mut all_returns) = (0, 0);
    for m in made.iter().filter(|_| kind == Kind::HireOut) {
        if let Body::HireIn(body) = &m.body {
            all_returns += m.rows.len();
            placed += if body.location.is_some() { m.rows.len() } else { 0 };
        }
    }
    if all_returns > 0 {
        let place = if placed < all_returns {
            "; where they came back to is not told of all: their place stays what it was"
        } else {
            ""
        };
        out.notes
            .push(format!("{}rows that tell of a return: {all_returns}{place}", of_sheet(&table)));
    }
    if kind == Kind::Hours && !made.is_empty() {
        out.notes.push(format!(
            "{}of these runs nobody tells more than the hours: hours are at least so many, turns, \
             bending and damage are not known, and what was looked at before is to be looked at again",
            of_sheet(&table)
        ));
    }
    if untouched > 0 {
        out.notes.push(format!(
            "{}nothing is entered for {untouched} of {all} joints, which were not looked at: {}",
            of_sheet(&table),
            resolve::spans(&table.not_looked_at)
        ));
    }
    out.drafts.extend(resolve::drafts(made, base_name(name), &out.sha256, sheet));
}

fn table(
    name: &str,
    sheet: Option<&str>,
    rows: Vec<RawRow>,
    kind: Kind,
    options: &Options,
    d: &mut Diagnostics,
) -> Option<Table> {
    let at = Where { sheet, ..Where::new(name, options.columns.as_ref()) };
    let fields = kind.fields();
    let layout = read_layout(&rows, fields, at, d)?;
    if let Some(told) = options.told().filter(|told| layouts::other_head(&layout, told)) {
        d.push(
            Diagnostic::error(
                name,
                format!("its header is not that of the layout {}", told.told_by),
            )
            .in_sheet(sheet)
            .help("say how its columns are read: --as, --columns"),
        );
        return None;
    }
    let reading =
        Reading { decimal: options.decimal, nulls: options.nulls.clone(), times: options.times };
    Table::new(rows, layout, fields, at, reading, d)
}

/// Words that call a survey a plan: above its stations, in the name of its sheet or of its file.
fn plan_of(name: &str, sheet: Option<&str>, rows: &[RawRow]) -> Option<String> {
    let says = |text: &&str| {
        let words = fold(text);
        words
            .split('_')
            .any(|w| matches!(w, "plan" | "planned" | "proposal" | "proposed" | "wellplan"))
    };
    let is_station =
        |row: &&RawRow| row.cells.iter().filter(|c| c.trim().parse::<f64>().is_ok()).count() >= 3;
    let above = rows.iter().take_while(|row| !is_station(row)).flat_map(|row| &row.cells);
    let texts = above.map(|c| c.trim()).chain(sheet).chain([base_name(name)]);
    texts.into_iter().find(says).map(str::to_owned)
}

/// That a fact of a table lies ahead, at its date.
fn lies_ahead(table: &Table, made: &Made, date: Moment, options: &Options) -> Diagnostic {
    let (message, help) = ahead::words(date, options.times);
    let mut d = table.error(message).help(help);
    if let Some(row) = made.rows.first().filter(|row| **row > 0) {
        d = d.at_row(*row);
    }
    let field = table.field("date");
    match table.layout.columns.iter().find(|c| Some(c.field) == field) {
        Some(column) => d.in_column(column.number, &column.title).value(date.to_string()),
        None => d,
    }
}

fn finish_run(
    name: &str,
    mut read: run::RunRead,
    options: &Options,
    out: &mut Outcome,
    d: &mut Diagnostics,
) {
    read.made.retain(|made| {
        let Some(date) = ahead::ahead(made, options.times) else { return true };
        let (message, help) = ahead::words(date, options.times);
        d.push(Diagnostic::error(name, format!("the run: {message}")).help(help));
        false
    });
    out.notes.extend(read.notes);
    out.learned.append(&mut read.learned);
    let used = if d.errors() == 0 { read.rows } else { 0 };
    out.rows = RowCount { used, refused: read.rows - used, skipped: 0, not_looked_at: 0 };
    let mut drafts = resolve::drafts(read.made, base_name(name), &out.sha256, None);
    let others: Vec<String> =
        read.files.iter().map(|(file, sha256)| format!("tally {file} sha256 {sha256}")).collect();
    for draft in drafts.iter_mut().filter(|_| !others.is_empty()) {
        if let Some(evidence) = &mut draft.evidence {
            evidence.place = Some(others.join("; "));
        }
    }
    out.drafts.extend(drafts);
}
