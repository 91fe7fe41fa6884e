//! `exposure`: what joints went through.

use std::process::ExitCode;

use super::args::ExposureArgs;
use super::context::Context;
use super::failure::{Failure, Kind};
use super::output;
use crate::report::{exposure, run_page};
use crate::store::Access;

pub(super) fn run(args: &ExposureArgs, context: &Context) -> Result<ExitCode, Failure> {
    let book = context.open(Access::Read)?;
    let told = |e: crate::report::ReportError| Failure::from_error(Kind::Usage, &e);
    if let (Some(run), Some(output)) = (&args.run, &args.output) {
        let units = context.units(&book);
        let offset = context.offset_minutes();
        let report = run_page::report(&book, run, offset, units).map_err(told)?;
        let title = format!("Run {run}");
        return super::dossier::write(&book, &report, (title, String::new()), output, context);
    }
    let report = match (&args.run, &args.serial) {
        (Some(run), _) => exposure::of_run(&book, run, context.offset_minutes()).map_err(told)?,
        (None, Some(serial)) => {
            let joint = crate::report::find_joint(&book, serial).map_err(told)?;
            if args.depth {
                let report =
                    exposure::by_depth(&book, joint, context.units(&book)).map_err(told)?;
                return output::print(&report, context, context.units(&book));
            }
            exposure::of_joint(&book, joint, context.offset_minutes()).map_err(told)?
        }
        (None, None) => return Err(Failure::new(Kind::Usage, "name a joint or a run")),
    };
    output::print(&report, context, context.units(&book))
}
