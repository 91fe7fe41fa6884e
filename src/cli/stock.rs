//! `stock`: counts and lengths of what there is.

use std::process::ExitCode;

use super::args::StockArgs;
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use crate::report::stock::{self, By};
use crate::store::Access;

pub(super) fn run(args: &StockArgs, context: &Context) -> Result<ExitCode, Failure> {
    let by = args
        .by
        .iter()
        .map(|w| {
            By::parse(w)
                .ok_or_else(|| usage(format!("'{w}' counts nothing; known: {}", By::words())))
        })
        .collect::<Result<Vec<By>, Failure>>()?;
    let options = stock::Options { by, filter: args.filter.clone(), all: args.all };
    let mut book = context.open(Access::Read)?;
    let present = context.present_of(&book);
    let rules = crate::report::rules_in_force(&book, present.now)?;
    let report = stock::report(&mut book, &rules, &options, &present)?;
    output::print(&report, context, context.units(&book))
}
