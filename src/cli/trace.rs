//! `trace`: one joint's whole life.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::Failure;
use super::output;
use crate::model::EntryId;
use crate::store::Access;

/// The whole life of a joint, oldest first
///
/// Example: pipelore trace K1-0417
///
/// Each line says what was not known then. For a joint that failed, what the record says about that
/// follows: damage by run, by depth of hole and along the joint, what the last inspection could see,
/// limits exceeded, what is missing. It names no cause.
#[derive(Debug, Args)]
pub(super) struct TraceArgs {
    /// Serial of the joint; SERIAL@ENTRY where two joints share it
    #[arg(value_name = "SERIAL")]
    serial: String,
    /// Only these records (runs, inspections, findings, repairs, makeups, events, moves, hires,
    /// decisions, notes, failures), with commas between
    #[arg(long, value_name = "KINDS", value_delimiter = ',')]
    only: Vec<String>,
}

impl Command for TraceArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let mut session = context.open(Access::Read)?;
        let report = session.trace(&self.serial, &self.only).map_err(|error| {
            let failure = Failure::from(error);
            match self.serial.parse::<EntryId>().map(|entry| session.show(&entry, false)) {
                Ok(Ok(_)) => failure.hint(format!("an entry: pipelore show {}", self.serial)),
                _ => failure,
            }
        })?;
        output::answer(&report, context, &session)
    }
}
