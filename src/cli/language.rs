//! `language`: the filter language on a page, for those who ask.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::Failure;
use super::output;
use crate::model::BAND_WIDTH;

/// The page; every example in it is asked by a test.
pub(super) fn page() -> String {
    include_str!("../../grammar/language.txt").replace("{band}", &format!("{BAND_WIDTH} deg/30m"))
}

/// The filter language on a page, with examples that work on the demo book
#[derive(Debug, Args)]
#[command(long_about = page() + "\nExample: pipelore language")]
pub(super) struct LanguageArgs {}

impl Command for LanguageArgs {
    fn run(&self, _: &Context) -> Result<ExitCode, Failure> {
        output::write(&page())
    }
}
