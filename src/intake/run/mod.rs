//! Runs: a header file (TOML, or lines of name and value above a tally) that names the tally and
//! the log beside it.

mod checks;
mod document;
mod header;
mod parts;
mod said;

pub(super) use header::{fields, fit};

use super::diagnostic::{Diagnostic, Diagnostics};
use super::kinds::Context;
use super::lookup::{World, beside};
use super::options::Options;
use super::resolve::Made;
use super::table::RawRow;
use super::witsml::Element;
use crate::model::{Body, LayoutBody, Moment, RunBody, RunGrade, Swap, same_name};
use crate::units::Measure;
use checks::{alone, covers, reaches, surveyed};
use header::{Header, from_rows, from_toml, is_table, of_table};
use parts::{Cut, Parts};
use said::{Said, listed, say};

/// What the header file holds.
pub(super) enum RunContent<'a> {
    Toml(&'a str),
    /// Rows of a sheet.
    Rows(Vec<RawRow>),
    /// A document of WITSML with runs.
    Document(&'a Element),
}

/// What a run file gives: the draft's material, and how it was come by.
#[derive(Default)]
pub(super) struct RunRead {
    pub made: Vec<Made>,
    pub notes: Vec<String>,
    /// Other files that the run rests on: name and digest.
    pub files: Vec<(String, String)>,
    pub rows: u64,
    /// What a person said of how its parts are read, and the book does not know.
    pub learned: Vec<LayoutBody>,
}

/// What a header names, before it is read.
pub(super) struct Named {
    pub files: Vec<String>,
    pub start: Option<Moment>,
}

/// The files that a header names, and when its run began.
pub(super) fn named(name: &str, content: RunContent<'_>, options: &Options) -> Option<Named> {
    let mut unsaid = Diagnostics::default();
    let headers = headers(name, content, options, &mut Vec::new(), &mut unsaid);
    let mut files: Vec<String> = Vec::new();
    for header in &headers {
        let stated = ["tally", "log", "files"].into_iter();
        let stated = stated.filter_map(|key| header.table.constant(key));
        files.extend(stated.flat_map(listed));
        files.extend(header.swaps.iter().map(|s| s.1.clone()));
    }
    let start = headers.first()?.table.constant("start");
    let start = start.and_then(|t| super::when::moment(t, options.times).ok());
    Some(Named { files, start })
}

/// The headers in a file: one, or one of each row of a table.
fn headers(
    name: &str,
    content: RunContent<'_>,
    options: &Options,
    notes: &mut Vec<String>,
    diagnostics: &mut Diagnostics,
) -> Vec<Header> {
    match content {
        RunContent::Toml(text) => Vec::from_iter(from_toml(name, text, options, diagnostics)),
        RunContent::Rows(rows) if is_table(&rows, options.columns.as_ref()) => {
            of_table(name, rows, options, notes, diagnostics).unwrap_or_default()
        }
        RunContent::Rows(rows) => Vec::from_iter(from_rows(name, &rows, options, diagnostics)),
        RunContent::Document(doc) => {
            document::from_document(name, doc, options, notes, diagnostics)
        }
    }
}

/// Reads the runs of a file: of its header, or one of each row of a table.
pub(super) fn read(
    name: &str,
    content: RunContent<'_>,
    options: &Options,
    world: &World<'_>,
    diagnostics: &mut Diagnostics,
) -> RunRead {
    let mut out = RunRead::default();
    for header in headers(name, content, options, &mut out.notes, diagnostics) {
        let Some(made) = one(name, header, options, world, &mut out, diagnostics) else { continue };
        if let (Body::Run(run), true) = (&made.body, out.made.iter().any(|o| same_run(o, &made))) {
            diagnostics.push(
                Diagnostic::error(name, format!("two runs of the file are called '{}'", run.name))
                    .help("make-ups, events and searches ask by the name: give each its own"),
            );
            continue;
        }
        out.made.push(made);
    }
    out
}

fn same_run(a: &Made, b: &Made) -> bool {
    let (Body::Run(a), Body::Run(b)) = (&a.body, &b.body) else { return false };
    same_name(&a.name, &b.name)
}

/// Reads a run from its header.
fn one(
    name: &str,
    mut header: Header,
    options: &Options,
    world: &World<'_>,
    out: &mut RunRead,
    diagnostics: &mut Diagnostics,
) -> Option<Made> {
    let before = diagnostics.errors();
    let context = Context { lookup: world.lookup, keep_conflicts: options.keep_conflicts };
    super::give(&mut header.table, &options.given, diagnostics);
    let cut = header.cut.clone();
    let said = header.table.head(diagnostics, |row| say(row, &context, options, &cut));
    let mut said = said?;
    let clock = options.times.clock;
    let place = |file: &String| {
        if header.is_beside { beside(name, file) } else { file.clone() }
    };
    let mut parts = Parts { options: options.unaided(), world, context: &context, out };
    parts.tell_apart(place, &mut said);
    let tally = match (&said.tally, header.inline) {
        (Some(_), Some(_)) => {
            diagnostics.push(
                Diagnostic::error(name, "the run has a tally of its own and names another")
                    .help("keep one"),
            );
            None
        }
        (Some(file), None) => parts.tally(&place(file), &said, diagnostics),
        (None, Some(rows)) => parts.tally_rows(name, rows, &said, diagnostics),
        (None, None) => {
            diagnostics.push(Diagnostic::error(name, "the run has no tally").help("name its file, tally = \"file.csv\": without the string nobody knows which joint was where"));
            None
        }
    };
    let mut swaps = Vec::new();
    for (at, file, row) in &header.swaps {
        match super::when::moment(at, options.times) {
            Ok(at) => {
                let instant = at.start(clock).0;
                let inside = said.log_options.run.as_ref().is_none_or(|r| r.contains(&instant));
                if !inside {
                    diagnostics.push(
                        Diagnostic::error(
                            name,
                            format!("the tally changes at {at}, outside the run"),
                        )
                        .at_row(*row)
                        .help("correct the instant"),
                    );
                }
                said.log_options.breaks.push(instant);
                if let Some(tally) = parts.tally(&place(file), &said, diagnostics) {
                    swaps.push(Swap { at, tally });
                }
            }
            Err(e) => diagnostics.push(
                Diagnostic::error(name, format!("'{at}' {}", e.message()))
                    .at_row(*row)
                    .help(e.help_for(at)),
            ),
        }
    }
    swaps.sort_by_key(|s| s.at.start(clock));
    let mut log = None;
    if !said.log.is_empty() {
        let files: Vec<String> = said.log.iter().map(place).collect();
        log = parts.log(&files, &said, diagnostics);
        if log.is_none() && diagnostics.errors() == before {
            let message = format!("the log '{}' cannot be read", files.join("; "));
            diagnostics.push(Diagnostic::error(name, message));
        }
    }
    if diagnostics.errors() > before {
        return None;
    }
    said.body.tally = tally?;
    said.body.swaps = swaps;
    said.body.hole = header.sections;
    let made = assemble(name, said, log, options, diagnostics)?;
    if let Body::Run(body) = &made.body {
        reaches(name, body, world.lookup, diagnostics);
        if !options.plan {
            surveyed(name, body, world.lookup, diagnostics);
            alone(name, body, world.lookup, options, diagnostics);
        }
    }
    (diagnostics.errors() == before).then_some(made)
}

/// How long what is planned takes, ms; no less than one.
fn lasts(body: &RunBody) -> i64 {
    let told: i64 = body.segments.iter().map(|s| s.duration_ms).sum();
    let stated = body.hours.as_ref().and_then(|q| q.stored(Measure::Hours));
    if body.segments.is_empty() { stated.unwrap_or(0).max(1) } else { told.max(1) }
}

fn assemble(
    name: &str,
    said: Said,
    cut: Option<Cut>,
    options: &Options,
    diagnostics: &mut Diagnostics,
) -> Option<Made> {
    let clock = options.times.clock;
    let Said { mut body, end, stated_grade, .. } = said;
    let start_ms = body.start.start(clock).0;
    let mut last_ms = None;
    if let Some(cut) = cut {
        let total: i64 = cut.segments.iter().map(|s| s.duration_ms).sum();
        last_ms = cut.last_ms;
        if let Some(end) = end
            && last_ms.is_none()
            && start_ms + total > end.end(clock).0
        {
            let whole = (end.end(clock).0 - start_ms) as f64 / 3.6e6;
            diagnostics.push(
                Diagnostic::error(name, format!("the log has {:.1} h and the run lasted {whole:.1} h", total as f64 / 3.6e6))
                    .help("correct the start or end of the run, or the part of the log that belongs to it (depth_in, depth_out)"),
            );
        }
        let whole = covers(name, &body, end, &cut, clock, diagnostics);
        let found = if cut.estimated {
            RunGrade::Estimated
        } else if cut.incomplete || !whole {
            RunGrade::Incomplete
        } else {
            RunGrade::Logged
        };
        if (stated_grade, found) == (Some(RunGrade::Logged), RunGrade::Incomplete) {
            diagnostics.push(
                Diagnostic::warning(name, "the run is graded logged, and its log lacks some of it")
                    .help("it counts as incomplete: its figures are lower bounds"),
            );
        }
        // Nobody's word makes a log whole.
        let stated = stated_grade.filter(|g| *g != RunGrade::Logged && !cut.estimated);
        body.segments = cut.segments;
        body.log = Some(cut.source);
        body.grade = stated.unwrap_or(found);
    } else {
        if stated_grade == Some(RunGrade::Logged) {
            diagnostics.push(
                Diagnostic::error(name, "the run is graded logged and names no log")
                    .help("name it, log = \"file.csv\", or grade the run summary"),
            );
        }
        let missing: Vec<&str> = [
            ("hours", body.hours.is_none()),
            ("rotary_speed", body.rotary_speed.is_none()),
            ("depth_in", body.depth_in.is_none()),
            ("depth_out", body.depth_out.is_none()),
        ]
        .iter()
        .filter(|(_, m)| *m)
        .map(|(k, _)| *k)
        .collect();
        if !missing.is_empty() {
            diagnostics.push(
                Diagnostic::error(name, format!("the run has no log and does not state {}", missing.join(", ")))
                    .help("name its log, log = \"file.csv\", or state hours, rotary_speed, depth_in and depth_out"),
            );
        }
    }
    let effective = match (end, last_ms) {
        (Some(end), _) => end,
        (None, Some(ms)) => super::when::clock_time(ms, clock),
        (None, None) if options.plan => super::when::clock_time(start_ms + lasts(&body), clock),
        (None, None) => {
            diagnostics.push(
                Diagnostic::error(name, "the run has no end")
                    .help("say when it ended: end = 2026-03-19"),
            );
            return None;
        }
    };
    Some(Made { rows: Vec::new(), effective, body: Body::Run(Box::new(body)) })
}
