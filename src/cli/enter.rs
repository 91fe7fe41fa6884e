//! `enter`: one fact from the command line, read as the one row of a file would be; inspections
//! also one joint after another, asked for at the terminal.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, Kind as FailureKind};
use super::take_in::BookLookup;
use super::{enter_inspection, output, words};
use crate::condition::Severity as Weight;
use crate::intake::Kind;
use crate::model::{Body, Draft, EntryId, RepairBody};
use crate::projection::joint::{Appraisal, Ask};
use crate::report::assess::{Show, describe};
use crate::report::{Block, Cell, Fact, Report, assess, makeup, rack};
use crate::store::{Access, AppendOptions, Appended, Book};

/// Enter one fact: a joint, an inspection, a repair, a make-up, a move, an event, a decision …
///
/// Example: pipelore enter repair joint=K1-0417 work=recut end=pin shop="Harrow Yard"
///
/// An inspection shows its verdict at once. Without a joint, or with --string, inspections are asked
/// for one joint after another: pipelore enter inspection --string K1 inspector="A. Reader". Each
/// joint is written when it is kept; end of input or Ctrl-C loses only the one at hand. A repair is
/// held against its limits and against what the book knows.
#[derive(Debug, Args)]
pub(super) struct EnterArgs {
    /// Kind of fact: joint, opening, identity, inspection, repair, makeup, move, gap, hire-out,
    /// hire-in, event, failure, instrument, check, decision, note
    #[arg(value_name = "KIND")]
    pub kind: String,
    /// What is to be entered; the fields are those of a file of that kind
    #[arg(value_name = "FIELD=VALUE")]
    pub fields: Vec<String>,
    /// Ask for inspections of the joints of a string, one after another
    #[arg(long, value_name = "STRING")]
    pub string: Option<String>,
    /// Keep a fact that excludes another, flagged until a decision settles it
    #[arg(long)]
    pub keep_conflicts: bool,
    /// Say what would be entered, write nothing
    #[arg(long)]
    pub dry_run: bool,
}

impl Command for EnterArgs {
    fn only_now(&self) -> Option<&'static str> {
        Some("enter")
    }

    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let kind = super::load::kind(&self.kind)?;
        let mut fields = words::pairs(&self.fields)?;
        let asks = self.string.is_some() || !words::names(&fields, words::JOINT);
        if kind == Kind::Inspections && asks {
            return enter_inspection::run(self, &fields, context);
        }
        words::dated(&mut fields, context);
        let mut book = context.open(Access::Write)?;
        let mut outcome = {
            let lookup = BookLookup { book: &book, offset_minutes: context.offset_minutes() };
            words::read(kind, &fields, &lookup, context, self.keep_conflicts)?
        };
        if let Some(failure) = words::refused(&outcome, "nothing was written") {
            return Err(failure);
        }
        let mut notes = Vec::new();
        for draft in &outcome.drafts {
            if let Body::Repair(body) = &draft.body {
                notes.extend(check_repair(&book, body, draft, self.keep_conflicts, context)?);
            }
        }
        let verdicts = inspected(&book, &outcome.drafts, context)?;
        let done = append(&mut book, &mut outcome.drafts, self, context)?;
        let units = context.units(&book);
        let mut report = Report::new("enter");
        report.push(entered(kind, &done, self.dry_run));
        for d in outcome.diagnostics.list() {
            report.push(Block::Note(crate::intake::show(d).trim_end().to_owned()));
        }
        notes.into_iter().for_each(|n| report.push(Block::Note(n)));
        for clash in &done.clashes {
            report.push(Block::Note(format!(
                "kept in conflict: {}: {} ({} and {})",
                clash.serial, clash.what, clash.first, clash.second
            )));
        }
        let show = Show {
            units,
            offset_minutes: context.offset_minutes(),
            entry: &|_| String::new(),
            history: false,
        };
        for a in &verdicts {
            report.blocks.extend(assess::report(a, &a.serial, &show).blocks);
        }
        if !self.dry_run {
            for id in &done.entries {
                let Some(entry) = book.position_of(id)? else { continue };
                report.blocks.extend(makeup::of_entry(&book, entry)?);
            }
            let after = repaired(&book, &outcome.drafts, context)?;
            if !after.is_empty() {
                let size = after.first().map_or_else(String::new, |a| describe(&a.joint, units));
                report.push(Block::Heading(format!("after the repair, {size}")));
                report.push(Block::Table(rack::table(&after)));
                report.blocks.extend(rack::caution(&after));
            }
        }
        book.close()?;
        output::print(&report, context, units)
    }
}

/// Appends drafts that came from words.
pub(super) fn append(
    book: &mut Book,
    drafts: &mut [Draft],
    args: &EnterArgs,
    context: &Context,
) -> Result<Appended, Failure> {
    let next = book.head()?.map_or(0, |h| h.entry.number) + 1;
    let chain = book.identity().chain.clone();
    crate::intake::settle(drafts, |i| EntryId { chain: chain.clone(), number: next + i as u64 });
    let options = AppendOptions { keep_conflicts: args.keep_conflicts, dry_run: args.dry_run };
    Ok(book.append(drafts, &context.stamp(), &options)?)
}

fn entered(kind: Kind, done: &Appended, dry_run: bool) -> Block {
    let mut facts = vec![Fact::plain("kind", "kind", Cell::Text(kind.word().to_owned()))];
    if dry_run {
        facts.push(Fact::plain("dry_run", "dry run", Cell::Truth(true)));
    } else {
        let entries: Vec<String> = done.entries.iter().map(ToString::to_string).collect();
        facts.push(Fact::plain("entries", "entry", Cell::Text(entries.join(", "))));
        let head = done.head.as_ref().map(ToString::to_string);
        facts.push(Fact::plain("head", "head", Cell::text(head.as_deref())));
    }
    Block::Facts { name: "entered", facts }
}

/// Verdicts on the joints that these drafts inspect, as the book will have them.
pub(super) fn inspected(
    book: &Book,
    drafts: &[Draft],
    context: &Context,
) -> Result<Vec<Appraisal>, Failure> {
    let mut appraiser = book.appraiser()?;
    let mut out = Vec::new();
    for draft in drafts {
        let Body::Inspection(body) = &draft.body else { continue };
        let Some(joint) = book.position_of(&body.joint.joint)? else { continue };
        let at = draft.effective.start(context.offset_minutes());
        let ask = Ask { body: Some(body), fresh: false };
        out.extend(appraiser.appraise(joint, at, ask)?);
    }
    Ok(out)
}

/// How the joints stand that these drafts repaired.
fn repaired(book: &Book, drafts: &[Draft], context: &Context) -> Result<Vec<Appraisal>, Failure> {
    let mut appraiser = book.appraiser()?;
    let now = context.present().end(context.offset_minutes());
    let mut out = Vec::new();
    for draft in drafts {
        let Body::Repair(body) = &draft.body else { continue };
        if let Some(joint) = book.position_of(&body.joint.joint)? {
            out.extend(appraiser.appraise(joint, now, Ask::default())?);
        }
    }
    Ok(out)
}

/// Holds a repair against limits and against what the book knows. What breaks a limit is refused
/// unless it is to be kept as it happened; the rest is said.
fn check_repair(
    book: &Book,
    body: &RepairBody,
    draft: &Draft,
    keep: bool,
    context: &Context,
) -> Result<Vec<String>, Failure> {
    let at = draft.effective.start(context.offset_minutes());
    let issues = rack::repair_issues(book, body, at)?;
    let (refused, said): (Vec<_>, Vec<_>) =
        issues.into_iter().partition(|i| i.severity() == Weight::Refuse);
    if !refused.is_empty() && !keep {
        let lines = refused.iter().map(|i| format!("  {i}"));
        return Err(Failure::new(FailureKind::Input, "the repair breaks a limit or cannot be")
            .block(lines)
            .hint(
                "if it was done all the same, keep it as it happened with --keep-conflicts; the \
                 joint carries it from then on",
            ));
    }
    Ok(refused
        .iter()
        .map(|i| format!("kept against a limit: {i}"))
        .chain(said.iter().map(ToString::to_string))
        .collect())
}
