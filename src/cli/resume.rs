//! `resume`: goes on with a restored book.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::Failure;
use super::output;
use crate::app::Session;

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
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let (session, report) =
            Session::resume(&context.book, &self.reason, self.epoch, &context.caller)?;
        output::close_and_print(&report, context, session)
    }
}
