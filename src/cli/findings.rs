//! `findings`: the catalogue in force.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use crate::app::{Session, findings};
use crate::model::{Place, Vocabulary};

/// The catalogue of findings: what each word means, what to measure, what follows, who may act
///
/// Example: pipelore findings galled
#[derive(Debug, Args)]
pub(super) struct FindingsArgs {
    /// A word, in any spelling, or a part of one [default: all]
    #[arg(value_name = "WORD")]
    word: Option<String>,
    /// Only findings of this place, like shoulder or slip_area
    #[arg(long, value_name = "PLACE")]
    place: Option<String>,
}

impl Command for FindingsArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let place = self.place.as_deref().map(Place::from_word).transpose().map_err(usage)?;
        let session = context.open_if_there()?;
        let report = findings(session.as_ref(), self.word.as_deref(), place, &context.caller)?;
        let view = session.as_ref().map_or(&[][..], Session::view);
        output::print_with_view(&report, context, context.units(), view)
    }
}
