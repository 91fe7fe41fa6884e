//! `why`: a filter or a rule explained for one joint.

use std::process::ExitCode;

use super::args::WhyArgs;
use super::context::Context;
use super::failure::{Failure, Kind};
use super::output;
use crate::report::why;
use crate::store::Access;

pub(super) fn run(args: &WhyArgs, context: &Context) -> Result<ExitCode, Failure> {
    let mut book = context.open(Access::Read)?;
    let joint = crate::report::find_joint(&book, &args.serial)
        .map_err(|e| Failure::from_error(Kind::Usage, &e))?;
    let present = context.present_of(&book);
    let rules = crate::report::rules_in_force(&book, present.now)?;
    let report = why::report(&mut book, joint, &args.filter, &rules, &present)?;
    output::print(&report, context, context.units(&book))
}
