//! `new`: starts a book.

use std::process::ExitCode;

use super::args::NewArgs;
use super::context::Context;
use super::failure::Failure;
use super::output;
use crate::report::{Block, Cell, Fact, Report};
use crate::store::Book;

pub(super) fn run(args: &NewArgs, context: &Context) -> Result<ExitCode, Failure> {
    let path = args.file.as_ref().unwrap_or(&context.book);
    let units = context.asked_units().unwrap_or_default();
    let book = Book::create(path, &args.site, units, &context.stamp())?;
    let mut report = Report::new("new");
    let head = book.head()?.map_or_else(String::new, |h| h.to_string());
    report.push(Block::Facts {
        name: "book",
        facts: vec![
            Fact::plain("file", "book", Cell::Text(path.display().to_string())),
            Fact::plain("site", "site", Cell::Text(args.site.clone())),
            Fact::plain("units", "units", Cell::Text(units.to_string())),
            Fact::plain("head", "head", Cell::Text(head)),
        ],
    });
    book.close()?;
    output::print(&report, context, units)
}
