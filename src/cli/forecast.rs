//! `forecast`: classes, calls and replacement ahead.

use std::process::ExitCode;

use super::args::ForecastArgs;
use super::context::Context;
use super::failure::Failure;
use super::output;
use crate::model::Instant;
use crate::report::{Block, forecast, rule_adoptions, rules};
use crate::store::Access;

/// A month of the calendar, on average.
const MONTH_MS: i64 = 2_629_800_000;

pub(super) fn run(args: &ForecastArgs, context: &Context) -> Result<ExitCode, Failure> {
    let mut book = context.open(Access::Read)?;
    let present = context.present_of(&book);
    let set = crate::report::rules_in_force(&book, present.now)?;
    let options = forecast::Options { months: args.months, filter: args.filter.clone() };
    let mut report = forecast::report(&mut book, &set, &options, &present)?;
    let ahead = MONTH_MS.saturating_mul(i64::from(args.months));
    let end = Instant(present.now.0.saturating_add(ahead));
    if let Some(change) = rules::change_before(&rule_adoptions(&book)?, &present, end) {
        report.push(Block::Note(change));
    }
    output::print(&report, context, context.units(&book))
}
