//! `strike`: strikes an entry out.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::Failure;
use super::output;
use crate::app::Strike;

/// Strike an entry out; it stays readable and counts no more
///
/// Example: pipelore strike yard-624 --reason "survey of the wrong well"
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
    /// Why it is for this site to strike what another site wrote; needed for entries of other sites
    #[arg(long, value_name = "TEXT")]
    decision: Option<String>,
    /// Say what would change, change nothing
    #[arg(long)]
    dry_run: bool,
}

impl Command for StrikeArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let mut session = context.open_to_write(self.dry_run)?;
        let report = session.strike(&Strike {
            entry: &self.entry,
            reason: &self.reason,
            instead: &self.instead,
            decision: self.decision.as_deref(),
            dry_run: self.dry_run,
        });
        output::close_and_tell(report, context, session)
    }
}
