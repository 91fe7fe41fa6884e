//! `why`: a filter or a rule explained for one joint.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, Kind};
use super::output;
use crate::report::why;
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
    fn only_now(&self) -> Option<&'static str> {
        None
    }

    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let mut book = context.open(Access::Read)?;
        let joint = crate::report::find_joint(&book, &self.serial)
            .map_err(|e| Failure::from_error(Kind::Usage, &e))?;
        let present = context.present_of(&book);
        let rules = crate::report::rules_in_force(&book, present.now)?;
        let report = why::report(&mut book, joint, &self.filter, &rules, &present)?;
        output::print(&report, context, context.units(&book))
    }
}
