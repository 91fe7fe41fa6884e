//! `why`: a filter or a rule explained for one joint.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::Failure;
use super::output;
use crate::store::Access;

/// Why a filter or a rule holds for a joint, or does not: values, limits, entries
///
/// Example: pipelore why K1-0417 'due for inspection'
#[derive(Debug, Args)]
pub(super) struct WhyArgs {
    /// Serial of the joint; SERIAL@ENTRY where two joints share it
    #[arg(value_name = "SERIAL")]
    serial: String,
    /// A filter, or the name of a rule
    #[arg(value_name = "FILTER|RULE")]
    filter: String,
}

impl Command for WhyArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let mut session = context.open(Access::Read)?;
        let report = session.why(&self.serial, &self.filter)?;
        output::answer(&report, context, &session)
    }
}
