//! `verify`: proves the book.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::Failure;
use super::output;
use crate::app::Session;
use crate::store::side_file;

/// Prove the book: chain, references, derived rows, the file itself
///
/// Example: pipelore verify
#[derive(Debug, Args)]
pub(super) struct VerifyArgs {
    /// Hash that a printed page names; it must be in the book
    #[arg(long, value_name = "HASH")]
    head: Option<String>,
    /// Folder with files that entries rest on; their digests are compared
    #[arg(long, value_name = "DIR")]
    evidence: Option<PathBuf>,
    /// Prove the chains and note the head beside the book, where it is missing or cannot be read
    #[arg(long, conflicts_with_all = ["head", "evidence"])]
    note_head: bool,
}

impl Command for VerifyArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        if self.note_head {
            let report = Session::note_head(&context.book)?;
            let printed = output::print(&report, context, context.units());
            return printed.map_err(|failure| failure.after_making(&side_file(&context.book)));
        }
        let session = Session::open_to_examine(&context.book, &context.caller)?;
        let (report, sound) = session.verify(self.head.as_deref(), self.evidence.as_deref())?;
        output::answer(&report, context, &session)?;
        Ok(if sound { ExitCode::SUCCESS } else { ExitCode::from(1) })
    }
}
