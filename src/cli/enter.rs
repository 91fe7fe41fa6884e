//! `enter`: one fact from the command line. The words go through the same reader as a file's row.

use std::process::ExitCode;

use super::args::EnterArgs;
use super::context::Context;
use super::failure::{Failure, Kind as FailureKind, usage};
use super::output;
use super::take_in::{BookLookup, told};
use crate::intake::{Clock, Delimiter, MemoryFiles, Options, Severity, World, unwatched};
use crate::model::fold;
use crate::report::{Block, Cell, Fact, Report};
use crate::store::{Access, AppendOptions};

/// What the reader calls the place of these words.
const PLACE: &str = "command line";

pub(super) fn run(args: &EnterArgs, context: &Context) -> Result<ExitCode, Failure> {
    let kind = super::load::kind(&args.kind)?;
    let mut fields = Vec::new();
    for pair in &args.fields {
        let Some((name, value)) = pair.split_once('=') else {
            return Err(usage(format!("'{pair}' says nothing; write FIELD=VALUE, like end=pin")));
        };
        fields.push((name.trim().to_owned(), value.trim().to_owned()));
    }
    if !fields
        .iter()
        .any(|(name, _)| matches!(fold(name).as_str(), "date" | "at" | "when" | "time"))
    {
        fields.push(("date".to_owned(), context.present().to_string()));
    }
    let files = MemoryFiles::default().with(PLACE, row(&fields)?);
    let mut book = context.open(Access::Write)?;
    let mut outcome = {
        let lookup = BookLookup { book: &book, offset_minutes: context.offset_minutes() };
        let world = World { files: &files, lookup: &lookup, progress: &unwatched };
        let options = Options {
            kind: Some(kind),
            delimiter: Some(Delimiter::Comma),
            clock: Clock { offset_minutes: context.offset_minutes(), order: None },
            keep_conflicts: args.keep_conflicts,
            ..Options::default()
        };
        crate::intake::read(PLACE, &options, &world)
    };
    if outcome.is_refused() || outcome.drafts.is_empty() {
        return Err(Failure::new(FailureKind::Input, "nothing was written")
            .block(told(&outcome.diagnostics, Severity::Error)));
    }
    for draft in &mut outcome.drafts {
        draft.evidence = None;
    }
    let next = book.head()?.map_or(0, |h| h.entry.number) + 1;
    let chain = book.identity().chain.clone();
    crate::intake::settle(&mut outcome.drafts, |i| crate::model::EntryId {
        chain: chain.clone(),
        number: next + i as u64,
    });
    let append = AppendOptions { keep_conflicts: args.keep_conflicts, dry_run: args.dry_run };
    let done = book.append(&outcome.drafts, &context.stamp(), &append)?;
    let mut report = Report::new("enter");
    let entries: Vec<String> = done.entries.iter().map(ToString::to_string).collect();
    let mut facts = vec![Fact::plain("kind", "kind", Cell::Text(kind.word().to_owned()))];
    if args.dry_run {
        facts.push(Fact::plain("dry_run", "dry run", Cell::Truth(true)));
    } else {
        facts.push(Fact::plain("entries", "entry", Cell::Text(entries.join(", "))));
        facts.push(Fact::plain(
            "head",
            "head",
            Cell::text(done.head.map(|h| h.to_string()).as_deref()),
        ));
    }
    report.push(Block::Facts { name: "entered", facts });
    for d in outcome.diagnostics.list() {
        report.push(Block::Note(crate::intake::show(d).trim_end().to_owned()));
    }
    let units = context.units(&book);
    book.close()?;
    output::print(&report, context, units)
}

/// A header and one row.
fn row(fields: &[(String, String)]) -> Result<Vec<u8>, Failure> {
    let mut out = csv::Writer::from_writer(Vec::new());
    out.write_record(fields.iter().map(|f| &f.0))
        .and_then(|()| out.write_record(fields.iter().map(|f| &f.1)))
        .map_err(usage)?;
    out.into_inner().map_err(usage)
}
