//! `exposure`: what joints went through.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, Kind};
use super::output;
use crate::report::{exposure, run_page};
use crate::store::Access;

/// What joints went through: hours, turns, bends, tension, damage
///
/// Example: pipelore exposure --run K1-R05
#[derive(Debug, Args)]
pub(super) struct ExposureArgs {
    /// Serial of a joint: its runs one by one
    #[arg(value_name = "SERIAL", required_unless_present = "run", conflicts_with = "run")]
    serial: Option<String>,
    /// Name of a run: its joints from the bit up
    #[arg(long, value_name = "RUN")]
    run: Option<String>,
    /// Damage of the joint by depth of hole and by what the rig did, with its ten worst exposures
    #[arg(long, conflicts_with = "run")]
    depth: bool,
    /// Write the run as a page: hole, string, tension, damage, log; nothing may stand there
    #[arg(long, short, value_name = "FILE", requires = "run")]
    output: Option<PathBuf>,
}

impl Command for ExposureArgs {
    fn only_now(&self) -> Option<&'static str> {
        None
    }

    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let book = context.open(Access::Read)?;
        let told = |e: crate::report::ReportError| Failure::from_error(Kind::Usage, &e);
        if let (Some(run), Some(output)) = (&self.run, &self.output) {
            let units = context.units(&book);
            let offset = context.offset_minutes();
            let report = run_page::report(&book, run, offset, units).map_err(told)?;
            let title = format!("Run {run}");
            return super::dossier::write(&book, &report, (title, String::new()), output, context);
        }
        let report = match (&self.run, &self.serial) {
            (Some(run), _) => {
                exposure::of_run(&book, run, context.offset_minutes()).map_err(told)?
            }
            (None, Some(serial)) => {
                let joint = crate::report::find_joint(&book, serial).map_err(told)?;
                if self.depth {
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
}
