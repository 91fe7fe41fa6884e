//! `limits`: the set of limits in force; checking and adopting another.

use clap::Args;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use sha2::{Digest, Sha256};

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, Kind, usage};
use super::output;
use crate::condition::{Criterion, DEFERENCE, LimitSet};
use crate::ledger::hex;
use crate::model::{AdoptionBody, Body, Component, Draft, Moment, Vocabulary};
use crate::projection::book::{BookFacts, limits_of};
use crate::report::limits::{Wanted, adoption_table, adoptions, changes, limit_table};
use crate::report::{Block, Cell, Fact, Report};
use crate::store::{Access, AppendOptions, Book};

/// What to write for FILE to go back to the set that ships.
const SHIPPED: &str = "shipped";

/// Show the limits that joints are judged by; check or adopt a set of one's own
///
/// Example: pipelore limits wear_wall
///
/// A set is a table with the columns criterion, component, class, comparison, limit, unit, applies,
/// standard, edition, source, provenance, use, note, below the lines "# set: NAME" and "# edition:
/// TEXT"; --example writes the one that ships. Where a set is silent the shipped one holds. Verdicts
/// on inspections before its first day keep the limits of their day.
#[derive(Debug, Args)]
pub(super) struct LimitsArgs {
    /// Criteria to show, like wear_wall [default: all]
    #[arg(value_name = "CRITERION")]
    criteria: Vec<String>,
    /// Only limits that hold for this component
    #[arg(long, value_name = "WORD")]
    component: Option<String>,
    /// Limits as of this day [default: today]
    #[arg(long, value_name = "DATE")]
    on: Option<String>,
    /// Read a set and say what is wrong with it, or what it would change; write nothing
    #[arg(long, value_name = "FILE", conflicts_with = "adopt")]
    check: Option<PathBuf>,
    /// Adopt a set
    #[arg(long = "use", value_name = "FILE")]
    adopt: Option<PathBuf>,
    /// First day on which an adopted set is in force [default: now]
    #[arg(long, value_name = "DATE")]
    from: Option<String>,
    /// Why it is adopted
    #[arg(long, value_name = "TEXT", requires = "adopt")]
    remark: Option<String>,
    /// Print the set that ships, as an example
    #[arg(long)]
    example: bool,
    /// Say what adopting would change, write nothing
    #[arg(long)]
    dry_run: bool,
}

impl Command for LimitsArgs {
    fn only_now(&self) -> Option<&'static str> {
        self.adopt.is_some().then_some("limits --use")
    }

    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        if self.example {
            return output::write(LimitSet::shipped_text());
        }
        match (&self.check, &self.adopt) {
            (Some(file), _) => check(self, file, context),
            (None, Some(file)) => adopt(self, file, context),
            (None, None) => show(self, context),
        }
    }
}

fn show(args: &LimitsArgs, context: &Context) -> Result<ExitCode, Failure> {
    let wanted = Wanted {
        criteria: args
            .criteria
            .iter()
            .map(|c| Criterion::from_word(c))
            .collect::<Result<_, _>>()
            .map_err(usage)?,
        component: args
            .component
            .as_deref()
            .map(Component::from_word)
            .transpose()
            .map_err(usage)?,
    };
    let on = match &args.on {
        Some(text) => text.parse::<Moment>().map_err(usage)?,
        None => context.present(),
    };
    let at = on.end(context.offset_minutes());
    // Without a book the set that ships is in force.
    let book = if context.book.exists() { Some(context.open(Access::Read)?) } else { None };
    let (facts, adopted) = match &book {
        Some(book) => (book.appraiser()?.facts().clone(), adoptions(book)?),
        None => (BookFacts::default(), Vec::new()),
    };
    let set = facts.limits_at(at);
    let mut report = Report::new("limits");
    report.push(Block::Facts {
        name: "set",
        facts: vec![
            Fact::plain("set", "in force", Cell::Text(set.title())),
            Fact::plain(
                "on",
                "on",
                match on {
                    Moment::Day(day) => Cell::Day(day),
                    Moment::Clock(at) => Cell::Time(at),
                },
            ),
        ],
    });
    report.push(Block::Table(adoption_table(&adopted, context.offset_minutes())));
    report.push(Block::Table(limit_table(set, &wanted)));
    report.push(Block::Caution(DEFERENCE.to_owned()));
    output::print(&report, context, context.asked_units().unwrap_or_default())
}

/// A set of the user's: its text, and the set. `None` for the one that ships.
fn read(file: &Path) -> Result<Option<(String, LimitSet)>, Failure> {
    if file == Path::new(SHIPPED) {
        return Ok(None);
    }
    let name = file.display();
    let bytes = std::fs::read(file)
        .map_err(|e| Failure::new(Kind::Input, format!("{name} cannot be read: {e}")))?;
    let text = String::from_utf8(bytes)
        .map_err(|_| Failure::new(Kind::Input, format!("{name} is not UTF-8 text")))?;
    match LimitSet::parse(&text) {
        Ok(set) => Ok(Some((text, set))),
        Err(errors) => {
            let more = errors.len().saturating_sub(40);
            let lines: Vec<String> =
                errors.iter().take(40).map(|e| format!("  {name}, {e}")).collect();
            let rest = (more > 0).then(|| format!("  … and {more} more"));
            Err(Failure::new(Kind::Input, format!("{name} is no set of limits"))
                .block(lines.into_iter().chain(rest))
                .hint("pipelore limits --example prints the set that ships"))
        }
    }
}

/// The set that was read, or the one that ships.
fn own(read: Option<&(String, LimitSet)>) -> &LimitSet {
    match read {
        Some((_, set)) => set,
        None => LimitSet::shipped(),
    }
}

fn from(args: &LimitsArgs, context: &Context) -> Result<Moment, Failure> {
    match &args.from {
        Some(text) => text.parse().map_err(usage),
        None => Ok(context.present()),
    }
}

/// What adopting would change, as blocks of a report.
fn would(
    args: &LimitsArgs,
    read: Option<&(String, LimitSet)>,
    book: &Book,
    context: &Context,
) -> Result<Vec<Block>, Failure> {
    let own = own(read);
    let set = limits_of(read.map(|(text, _)| text.as_str()))
        .ok_or_else(|| usage("the set cannot be read"))?;
    let start = from(args, context)?.start(context.offset_minutes());
    let now = context.present().end(context.offset_minutes());
    Ok(changes(book, own, &set, start, now)?)
}

fn check(args: &LimitsArgs, file: &Path, context: &Context) -> Result<ExitCode, Failure> {
    let read = read(file)?;
    let mut report = Report::new("limits");
    if context.book.exists() {
        let book = context.open(Access::Read)?;
        report.blocks.extend(would(args, read.as_ref(), &book, context)?);
    }
    let own = own(read.as_ref());
    report.push(Block::Table(limit_table(own, &Wanted::default())));
    report.push(Block::Note("checked: nothing was written".to_owned()));
    report.push(Block::Caution(DEFERENCE.to_owned()));
    output::print(&report, context, context.asked_units().unwrap_or_default())
}

fn adopt(args: &LimitsArgs, file: &Path, context: &Context) -> Result<ExitCode, Failure> {
    let read = read(file)?;
    let mut book = context.open(Access::Write)?;
    let mut report = Report::new("limits");
    report.blocks.extend(would(args, read.as_ref(), &book, context)?);
    let set = own(read.as_ref());
    let text = read.as_ref().map_or(LimitSet::shipped_text(), |(text, _)| text.as_str());
    let body = AdoptionBody {
        what: "limits".to_owned(),
        name: set.title(),
        text: read.as_ref().map(|(text, _)| text.clone()),
        sha256: hex(&Sha256::digest(text.as_bytes())),
        remark: args.remark.clone(),
    };
    let effective = from(args, context)?;
    let draft = Draft { effective, evidence: None, body: Body::Adoption(body) };
    let options = AppendOptions { keep_conflicts: true, dry_run: args.dry_run };
    let done = book.append(&[draft], &context.stamp(), &options)?;
    if args.dry_run {
        report.push(Block::Note("a dry run: nothing was written".to_owned()));
    } else {
        let entry = done.entries.first().map(ToString::to_string);
        let head = done.head.as_ref().map(ToString::to_string);
        report.push(Block::Facts {
            name: "adopted",
            facts: vec![
                Fact::plain("entry", "entry", Cell::text(entry.as_deref())),
                Fact::plain("from", "in force from", Cell::Text(effective.to_string())),
                Fact::plain("head", "head", Cell::text(head.as_deref())),
            ],
        });
        report.push(Block::Note(
            "verdicts on inspections from that time on are worked out again; earlier ones keep \
             the limits of their day"
                .to_owned(),
        ));
    }
    let units = context.units(&book);
    book.close()?;
    output::print(&report, context, units)
}
