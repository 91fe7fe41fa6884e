//! `findings`: the catalogue.

use std::process::ExitCode;

use super::args::FindingsArgs;
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use crate::condition::DEFERENCE;
use crate::model::{Place, Vocabulary};
use crate::report::limits::finding_table;
use crate::report::{Block, Report};

pub(super) fn run(args: &FindingsArgs, context: &Context) -> Result<ExitCode, Failure> {
    let place = args.place.as_deref().map(Place::from_word).transpose().map_err(usage)?;
    let mut report = Report::new("findings");
    report.push(Block::Table(finding_table(args.word.as_deref(), place)?));
    report.push(Block::Caution(DEFERENCE.to_owned()));
    output::print(&report, context, context.asked_units().unwrap_or_default())
}
