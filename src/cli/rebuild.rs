//! `rebuild`: derives everything again.

use std::process::ExitCode;

use super::args::RebuildArgs;
use super::context::Context;
use super::failure::Failure;
use super::output;
use crate::report::{Block, Report};
use crate::store::Access;

pub(super) fn run(_args: &RebuildArgs, context: &Context) -> Result<ExitCode, Failure> {
    let mut book = context.open(Access::Write)?;
    book.rebuild()?;
    let units = context.units(&book);
    let entries = book.length()?;
    book.close()?;
    let mut report = Report::new("rebuild");
    report.push(Block::Text(format!("derived again from {entries} entries")));
    output::print(&report, context, units)
}
