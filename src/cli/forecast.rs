//! `forecast`: classes, calls and replacement ahead.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::Failure;
use super::output;
use crate::model::Instant;
use crate::report::{Block, forecast, rule_adoptions, rules};
use crate::store::Access;

/// A month of the calendar, on average.
const MONTH_MS: i64 = 2_629_800_000;

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
    fn only_now(&self) -> Option<&'static str> {
        None
    }

    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let mut book = context.open(Access::Read)?;
        let present = context.present_of(&book);
        let set = crate::report::rules_in_force(&book, present.now)?;
        let options = forecast::Options { months: self.months, filter: self.filter.clone() };
        let mut report = forecast::report(&mut book, &set, &options, &present)?;
        let ahead = MONTH_MS.saturating_mul(i64::from(self.months));
        let end = Instant(present.now.0.saturating_add(ahead));
        if let Some(change) = rules::change_before(&rule_adoptions(&book)?, &present, end) {
            report.push(Block::Note(change));
        }
        output::print(&report, context, context.units(&book))
    }
}
