//! `show`: one entry whole.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::Failure;
use super::output;
use crate::model::EntryId;
use crate::store::Access;

/// One entry whole: who wrote it, what it says, what became of it
///
/// Example: pipelore show yard-132
///
/// With --json it comes as `entries --json` has it: body as written, evidence, hashes.
#[derive(Debug, Args)]
pub(super) struct ShowArgs {
    /// Entry, as the journal and trace name it
    #[arg(value_name = "ENTRY")]
    entry: EntryId,
}

impl Command for ShowArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let session = context.open(Access::Read)?;
        let report = session.show(&self.entry, context.json)?;
        output::answer(&report, context, &session)
    }
}
