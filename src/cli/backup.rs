//! `backup`: a consistent copy.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::Failure;
use super::output;

/// Copy the book while it is open
///
/// Example: pipelore backup yard-2026-11-25.pipelore
#[derive(Debug, Args)]
pub(super) struct BackupArgs {
    /// File to copy to; nothing may stand there
    #[arg(value_name = "FILE")]
    file: PathBuf,
}

impl Command for BackupArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let session = context.open_whole()?;
        let report = session.backup(&self.file)?;
        output::answer_made(&report, context, &session, &self.file)
    }
}
