//! `salvage`: what a damaged book still holds, in a new one.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::Failure;
use super::output;
use crate::app::Session;

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
    /// Keep also what can be read but links to no head that is trusted, for this reason; the new
    /// book says so
    #[arg(long, value_name = "REASON")]
    unproven: Option<String>,
}

impl Command for SalvageArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let (session, report, complete) = Session::salvage(
            &self.damaged,
            &self.output,
            self.unproven.as_deref(),
            &context.caller,
        )?;
        output::answer(&report, context, &session)?;
        Ok(if complete { ExitCode::SUCCESS } else { ExitCode::from(1) })
    }
}
