//! `kin`: sisters of a joint.

use std::process::ExitCode;

use super::args::KinArgs;
use super::context::Context;
use super::failure::{Failure, Kind};
use super::output;
use crate::report::kin;
use crate::store::Access;

pub(super) fn run(args: &KinArgs, context: &Context) -> Result<ExitCode, Failure> {
    let book = context.open(Access::Read)?;
    let joint = crate::report::find_joint(&book, &args.serial)
        .map_err(|e| Failure::from_error(Kind::Usage, &e))?;
    let present = context.present_of(&book);
    let options = kin::Options {
        limit: args.limit,
        now: present.now,
        offset_minutes: present.offset_minutes,
    };
    let report =
        kin::report(&book, joint, &options).map_err(|e| Failure::from_error(Kind::Book, &e))?;
    output::print(&report, context, context.units(&book))
}
