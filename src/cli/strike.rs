//! `strike`: strikes an entry out.

use std::path::Path;
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use super::take_in::facts_of;
use crate::model::{Body, Draft, EntryId, StrikeBody};
use crate::report::{Block, Cell, Fact, Report, effects};
use crate::store::{Access, AppendOptions};

/// Strike an entry out; it stays readable and counts no more
///
/// Example: pipelore strike yard-131 --reason "survey of the wrong well"
#[derive(Debug, Args)]
pub(super) struct StrikeArgs {
    /// Entry to strike, as trace and find show it
    #[arg(value_name = "ENTRY")]
    entry: String,
    /// Why
    #[arg(long, value_name = "TEXT")]
    reason: String,
    /// What stands in its place: an entry, or a file to take in with the strike (can be repeated)
    #[arg(long, value_name = "ENTRY|FILE")]
    instead: Vec<String>,
    /// Say what would change, change nothing
    #[arg(long)]
    dry_run: bool,
}

impl Command for StrikeArgs {
    fn only_now(&self) -> Option<&'static str> {
        Some("strike")
    }

    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let mut book = context.open(Access::Write)?;
        let entry: EntryId = self.entry.parse().map_err(usage)?;
        let stored = book.entry(&entry)?;
        // What stands instead is written first, and all in one: a run corrected by another run never
        // stands beside it.
        let mut drafts = Vec::new();
        let mut instead = Vec::new();
        for said in &self.instead {
            if let Ok(id) = said.parse::<EntryId>()
                && book.position_of(&id)?.is_some()
            {
                instead.push(id);
            } else if Path::new(said).is_file() {
                let (fresh, names) = facts_of(&book, said, drafts.len(), context)?;
                drafts.extend(fresh);
                instead.extend(names);
            } else {
                return Err(usage(format!(
                    "--instead: {said} is neither an entry of the book nor a file that says what stands \
                     in its place"
                )));
            }
        }
        if instead.contains(&entry) {
            return Err(usage(format!("{entry} cannot stand in its own place"))
                .hint("the file says what the struck entry says; correct it first"));
        }
        if self.reason.trim().is_empty() {
            return Err(usage("a strike needs its reason"));
        }
        let replaced = drafts.len();
        drafts.push(Draft {
            effective: context.present(),
            evidence: None,
            body: Body::Strike(StrikeBody {
                entry: entry.clone(),
                reason: self.reason.trim().to_owned(),
                instead: instead.clone(),
            }),
        });
        let mut report = Report::new("strike");
        let mut facts = vec![
            Fact::plain(
                "entry",
                if self.dry_run { "would strike" } else { "struck" },
                Cell::Text(entry.to_string()),
            ),
            Fact::plain("kind", "kind", Cell::Text(stored.raw.kind.clone())),
        ];
        if !instead.is_empty() {
            let names: Vec<String> = instead.iter().map(ToString::to_string).collect();
            facts.push(Fact::plain("instead", "instead", Cell::Text(names.join(", "))));
            let fresh = Cell::Number(i64::try_from(replaced).unwrap_or(i64::MAX));
            facts.push(Fact::plain("written", "written in its place", fresh));
        }
        let mut blocks = Vec::new();
        if self.dry_run {
            let effects = book.effects(&drafts, &context.stamp())?;
            facts.push(Fact::plain("dry_run", "dry run", Cell::Truth(true)));
            blocks = effects::blocks(&effects);
        } else {
            let options = AppendOptions { keep_conflicts: true, dry_run: false };
            let done = book.append(&drafts, &context.stamp(), &options)?;
            facts.push(Fact::plain(
                "strike",
                "by",
                done.entries.last().map_or(Cell::Missing, |e| Cell::Text(e.to_string())),
            ));
            facts.push(Fact::plain(
                "head",
                "head",
                done.head.as_ref().map_or(Cell::Missing, |h| Cell::Text(h.to_string())),
            ));
        }
        report.push(Block::Facts { name: "strike", facts });
        blocks.into_iter().for_each(|b| report.push(b));
        let units = context.units(&book);
        book.close()?;
        output::print(&report, context, units)
    }
}
