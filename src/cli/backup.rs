//! `backup`: a consistent copy.

use std::process::ExitCode;

use super::args::BackupArgs;
use super::context::Context;
use super::failure::Failure;
use super::output;
use crate::report::{Block, Cell, Fact, Report};
use crate::store::Access;

pub(super) fn run(args: &BackupArgs, context: &Context) -> Result<ExitCode, Failure> {
    let book = context.open(Access::Read)?;
    let head = book.backup(&args.file)?;
    let mut report = Report::new("backup");
    report.push(Block::Facts {
        name: "copy",
        facts: vec![
            Fact::plain("file", "copy", Cell::Text(args.file.display().to_string())),
            Fact::plain("head", "head", Cell::text(head.map(|h| h.to_string()).as_deref())),
        ],
    });
    output::print(&report, context, context.units(&book))
}
