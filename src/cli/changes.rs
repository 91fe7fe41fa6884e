//! `changes`: what each version changed, and what no version changes.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::Failure;
use super::output;

/// The page.
const PAGE: &str = include_str!("changes.txt");

/// What each version changed, and what no version changes
///
/// Example: pipelore changes
#[derive(Debug, Args)]
pub(super) struct ChangesArgs {}

impl Command for ChangesArgs {
    fn run(&self, _: &Context) -> Result<ExitCode, Failure> {
        output::write(PAGE)
    }
}
