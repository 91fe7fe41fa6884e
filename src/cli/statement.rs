//! `statement`: what a hire did to its joints.

use std::process::ExitCode;

use super::args::StatementArgs;
use super::context::Context;
use super::failure::{Failure, Kind};
use super::output;
use crate::policy::price::Prices;
use crate::render::html::Page;
use crate::report::{Block, statement};
use crate::store::Access;

pub(super) fn run(args: &StatementArgs, context: &Context) -> Result<ExitCode, Failure> {
    let prices = match &args.prices {
        None => None,
        Some(file) => {
            let wrong = |e: String| Failure::new(Kind::Input, format!("{}: {e}", file.display()));
            let text = std::fs::read_to_string(file).map_err(|e| wrong(e.to_string()))?;
            Some(Prices::parse(&text).map_err(wrong)?)
        }
    };
    let book = context.open(Access::Read)?;
    let present = context.present_of(&book);
    let report = statement::report(&book, &args.hire, prices.as_ref(), &present)?;
    let units = context.units(&book);
    let Some(path) = &args.output else { return output::print(&report, context, units) };
    let page = Page {
        title: format!("Statement of hire {}", args.hire),
        subtitle: format!("from the book of {}", book.identity().chain.site),
        wide: true,
        signed_by: &["for the owner", "for the hirer"],
        ..Page::default()
    };
    // The page has a title of its own.
    let mut report = report;
    report.blocks.retain(|b| !matches!(b, Block::Heading(_)));
    super::dossier::write_page(&book, &report, page, path, context)
}
