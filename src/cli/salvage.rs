//! `salvage`: what a damaged book still holds, in a new one.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::Failure;
use super::output;
use crate::app::Session;
use crate::model::EntryId;
use crate::store::SalvageDecision;

/// Read what a damaged book still holds into a new one; the damaged file is never touched
///
/// Example: pipelore salvage damaged.pipelore -o yard.pipelore
#[derive(Debug, Args)]
pub(super) struct SalvageArgs {
    /// Damaged book
    #[arg(value_name = "DAMAGED")]
    damaged: PathBuf,
    /// New book to write; nothing may stand there
    #[arg(short, long, value_name = "FILE")]
    output: PathBuf,
    /// Keep also what can be read but links to no head that is trusted; the new book says so
    #[arg(long, requires = "reason")]
    unproven: bool,
    /// Leave out this entry and all after it in its chain, when another wrote under the name of its
    /// site; the damaged file keeps them (can be repeated)
    #[arg(long, value_name = "ENTRY", requires = "reason")]
    set_aside: Vec<EntryId>,
    /// Take the facts of what is set aside in again, as new entries of the new epoch, which name what
    /// they were: of a fork both tails are kept so, the other one comes by bundle
    #[arg(long, requires = "set_aside")]
    take_again: bool,
    /// Why
    #[arg(long, value_name = "TEXT")]
    reason: Option<String>,
}

impl Command for SalvageArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let decision = SalvageDecision {
            unproven: self.unproven,
            set_aside: self.set_aside.clone(),
            take_again: self.take_again,
            reason: self.reason.clone().unwrap_or_default(),
        };
        let (session, report, complete) =
            Session::salvage(&self.damaged, &self.output, &decision, &context.caller)?;
        output::answer_made(&report, context, &session, &self.output)?;
        Ok(if complete { ExitCode::SUCCESS } else { ExitCode::from(1) })
    }
}
