//! `language`: the filter language on a page, for those who ask.

use std::process::ExitCode;

use super::failure::Failure;
use super::output;

/// The page; every example in it is asked by a test.
pub(super) const PAGE: &str = include_str!("../../grammar/language.txt");

pub(super) fn run() -> Result<ExitCode, Failure> {
    output::write(PAGE)
}
