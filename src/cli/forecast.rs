//! `forecast`: classes, calls and replacement ahead.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::Failure;
use super::output;
use crate::report::forecast;
use crate::store::Access;

/// What lies ahead: classes, calls and joints to replace, month by month
///
/// Example: pipelore forecast --months 12
///
/// Rules that move with use run forward with each joint's own recent use, and with its own wear rate
/// or that of its string. Findings, failures and events are not foreseen.
#[derive(Debug, Args)]
pub(super) struct ForecastArgs {
    /// Only joints that match a filter
    #[arg(value_name = "FILTER")]
    filter: Option<String>,
    /// Months ahead
    #[arg(long, value_name = "N", default_value = "12", value_parser = clap::value_parser!(u32).range(1..=60))]
    months: u32,
}

impl Command for ForecastArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let how = forecast::Options { months: self.months, filter: self.filter.clone() };
        let mut session = context.open(Access::Read)?;
        let report = session.forecast(&how)?;
        output::answer(&report, context, &session)
    }
}
