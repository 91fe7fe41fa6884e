//! `survey`: the path of a hole as computed, beside what its file published.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::Failure;
use super::output;
use crate::store::Access;

/// The path of a hole: stations with vertical depth, north, east, dogleg, and what the file said
///
/// Example: pipelore survey "Larkfield 2H"
#[derive(Debug, Args)]
pub(super) struct SurveyArgs {
    /// Well; without one, the wells of the book
    #[arg(value_name = "WELL")]
    well: Option<String>,
}

impl Command for SurveyArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let session = context.open(Access::Read)?;
        let report = session.survey(self.well.as_deref())?;
        output::answer(&report, context, &session)
    }
}
