//! `restore`: a copy in the place of a book that is lost or damaged.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::Failure;
use super::output;
use crate::app::Session;

/// Put a copy in the place of the book, and go on with it; what stood there is set aside
///
/// A copy that is put back by hand beside what the lost book left behind can become a mixture of
/// both. This command sets the old file aside with everything that belongs to it, proves the copy, and
/// begins a new epoch, so that what the copy lacks can come back by bundle.
///
/// Example: pipelore restore yard-2026-11-25.pipelore --reason "disk failed"
#[derive(Debug, Args)]
pub(super) struct RestoreArgs {
    /// Copy, as `backup` made it
    #[arg(value_name = "COPY")]
    copy: PathBuf,
    /// Why
    #[arg(long, value_name = "TEXT")]
    reason: String,
}

impl Command for RestoreArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let (session, report) =
            Session::restore(&self.copy, &context.book, &self.reason, &context.caller)?;
        output::close_and_print(&report, context, session)
    }
}
