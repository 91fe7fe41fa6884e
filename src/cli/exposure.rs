//! `exposure`: what joints went through.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, Kind};
use super::{dossier, output};
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
    /// Damage of the joint by depth of hole and by what the rig did, at its pin end, middle and box end
    #[arg(long, conflicts_with = "run")]
    depth: bool,
    /// Write the run as a page: hole, string, tension, damage, log; nothing may stand there
    #[arg(long, short, value_name = "FILE", requires = "run")]
    output: Option<PathBuf>,
}

impl Command for ExposureArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let session = context.open(Access::Read)?;
        let report = match (&self.run, &self.serial, &self.output) {
            (Some(run), _, Some(output)) => {
                let report = session.run_page(run)?;
                let title = format!("Run {run}");
                return dossier::write(context, &session, report, (title, String::new()), output);
            }
            (Some(run), _, None) => session.exposure_of_run(run)?,
            (None, Some(serial), _) if self.depth => session.exposure_by_depth(serial)?,
            (None, Some(serial), _) => session.exposure(serial)?,
            (None, None, _) => return Err(Failure::new(Kind::Usage, "name a joint or a run")),
        };
        output::answer(&report, context, &session)
    }
}
