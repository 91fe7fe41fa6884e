//! `resume`: goes on with a restored book.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use crate::report::{Block, Cell, Fact, Report};
use crate::store::Book;

/// Go on with a book that was restored from a copy; what it lost comes back by bundle
///
/// Example: pipelore resume --reason "disk failed, copy of 3 March restored"
#[derive(Debug, Args)]
pub(super) struct ResumeArgs {
    /// Why
    #[arg(long, value_name = "TEXT")]
    reason: String,
    /// Number of the new epoch, where another site knows a later one than this book
    #[arg(long, value_name = "NUMBER")]
    epoch: Option<u32>,
}

impl Command for ResumeArgs {
    fn only_now(&self) -> Option<&'static str> {
        Some("resume")
    }

    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let reason = self.reason.trim();
        if reason.is_empty() {
            return Err(usage("a new epoch needs its reason"));
        }
        let done = Book::resume(&context.book, reason, self.epoch, &context.stamp())?;
        let mut report = Report::new("resume");
        let mut facts = vec![
            Fact::plain("chain", "goes on as", Cell::Text(done.head.entry.chain.to_string())),
            Fact::plain("parent", "after", Cell::Text(done.parent.to_string())),
            Fact::plain("head", "head", Cell::Text(done.head.to_string())),
        ];
        if let Some(lost) = &done.lost {
            facts.push(Fact::plain("lost", "lost up to", Cell::Text(lost.entry.to_string())));
        }
        report.push(Block::Facts { name: "resume", facts });
        report.push(Block::Note(format!(
            "what {} wrote after {} comes back with a bundle of a site that has it",
            done.parent.entry.chain, done.parent.entry
        )));
        let units = context.units(&done.book);
        done.book.close()?;
        output::print(&report, context, units)
    }
}
