//! `entries`: what the ledger holds.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::Failure;
use super::output;
use crate::model::EntryId;
use crate::report::entries;
use crate::store::Access;

/// Entries as the ledger holds them, in the order in which they came into the book
///
/// Example: pipelore entries --kind decision
///
/// With --json each comes whole: its body as written, evidence, hashes.
#[derive(Debug, Args)]
pub(super) struct EntriesArgs {
    /// Only what came into the book after this entry, like yard-900
    #[arg(long, value_name = "ENTRY")]
    since: Option<EntryId>,
    /// Only entries of a kind: joint, run, inspection, repair, decision, strike …
    #[arg(long, value_name = "KIND")]
    kind: Option<String>,
}

impl Command for EntriesArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let how = entries::Options {
            since: self.since.clone(),
            kind: self.kind.clone(),
            whole: context.json,
        };
        let session = context.open(Access::Read)?;
        let report = session.entries(&how)?;
        output::answer(&report, context, &session)
    }
}
