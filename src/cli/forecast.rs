//! `forecast`: classes, calls and replacement ahead.

use std::process::ExitCode;

use super::args::ForecastArgs;
use super::context::Context;
use super::failure::Failure;
use super::output;
use crate::report::forecast;
use crate::store::Access;

pub(super) fn run(args: &ForecastArgs, context: &Context) -> Result<ExitCode, Failure> {
    let mut book = context.open(Access::Read)?;
    let present = context.present_of(&book);
    let rules = crate::report::rules_in_force(&book)?;
    let options = forecast::Options { months: args.months, filter: args.filter.clone() };
    let report = forecast::report(&mut book, &rules, &options, &present)?;
    output::print(&report, context, context.units(&book))
}
