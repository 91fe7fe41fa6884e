//! `kin`: sisters of a joint.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::Failure;
use super::output;
use crate::store::Access;

/// Sisters of a joint: what each shares with it, where each is, which to inspect first
///
/// Example: pipelore kin K1-0417
///
/// Shared: heat, mill order, weld lot, runs, neighbouring places, bends under a like pull, torque
/// gauge, slips and bushing in doubt, repair ticket. In a filter: kin of "K1-0417", or narrower:
/// kin of "K1-0417" by (heat, neighbour).
#[derive(Debug, Args)]
pub(super) struct KinArgs {
    /// Serial of the joint; SERIAL@ENTRY where two joints share it
    #[arg(value_name = "SERIAL")]
    serial: String,
    /// At most so many sisters
    #[arg(long, value_name = "N", default_value = "20")]
    limit: usize,
}

impl Command for KinArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let session = context.open(Access::Read)?;
        let report = session.kin(&self.serial, self.limit)?;
        output::answer(&report, context, &session)
    }
}
