//! `clock`: the civil clock by which the book goes.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use crate::model::Clock;
use crate::store::Access;

/// Show the clock by which the book goes, or give it another
///
/// A day is a day of this clock in files, filters, windows and answers, on whatever machine they are
/// read, and whichever site wrote the entry. Times of day without an offset are times of this clock.
///
/// Example: pipelore clock --set Europe/Oslo --reason "the rig moved to the yard"
#[derive(Debug, Args)]
pub(super) struct ClockArgs {
    /// Time zone, offset from UTC, or UTC
    #[arg(long, value_name = "ZONE|OFFSET", requires = "reason", allow_hyphen_values = true)]
    set: Option<String>,
    /// Why
    #[arg(long, value_name = "TEXT", requires = "set")]
    reason: Option<String>,
    /// Say what would be written, write nothing
    #[arg(long, requires = "set")]
    dry_run: bool,
}

impl Command for ClockArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let Some(name) = &self.set else {
            let session = context.open(Access::Read)?;
            return output::answer(&session.clock_report(), context, &session);
        };
        context.only_now("clock --set")?;
        let clock = name.parse::<Clock>().map_err(|e| usage(e.to_string()))?;
        let mut session = context.open_to_write(self.dry_run)?;
        let reason = self.reason.as_deref().unwrap_or_default();
        let report = session.set_clock(clock, reason, self.dry_run);
        output::close_and_tell(report, context, session)
    }
}
