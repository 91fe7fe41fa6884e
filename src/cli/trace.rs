//! `trace`: one joint's whole life.

use std::process::ExitCode;

use super::args::TraceArgs;
use super::context::Context;
use super::failure::{Failure, Kind};
use super::output;
use crate::report::trace;
use crate::store::Access;

pub(super) fn run(args: &TraceArgs, context: &Context) -> Result<ExitCode, Failure> {
    let mut book = context.open(Access::Read)?;
    let joint = crate::report::find_joint(&book, &args.serial)
        .map_err(|e| Failure::from_error(Kind::Usage, &e))?;
    let options = trace::Options {
        only: args.only.clone(),
        offset_minutes: context.offset_minutes(),
        present: Some(context.present_of(&book)),
    };
    let report = trace::report(&mut book, joint, &options)
        .map_err(|e| Failure::from_error(Kind::Book, &e))?;
    output::print(&report, context, context.units(&book))
}
