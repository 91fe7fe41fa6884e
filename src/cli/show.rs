//! `show`: one entry whole.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, usage};
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
    entry: String,
}

impl Command for ShowArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let session = context.open(Access::Read)?;
        let shown = match self.entry.parse::<EntryId>() {
            Ok(entry) => session.show(&entry, context.json).map_err(Failure::from),
            Err(error) => Err(usage(error)),
        };
        let report = shown.map_err(|failure| match session.joint(&self.entry) {
            Ok(Some(_)) => failure.hint(format!(
                "{0} is a joint: pipelore trace {0}; pipelore journal has the names of entries",
                self.entry
            )),
            _ => failure.hint("pipelore journal, entries and trace have the names of entries"),
        })?;
        output::answer(&report, context, &session)
    }
}
