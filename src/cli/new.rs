//! `new`: starts a book.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::Failure;
use super::output;
use crate::report::{Block, Cell, Fact, Report};
use crate::store::Book;

/// Start a book
///
/// Example: pipelore new yard.pipelore --site "Harrow Yard" --units us
#[derive(Debug, Args)]
pub(super) struct NewArgs {
    /// File of the book [default: the book that --book names]
    #[arg(value_name = "FILE")]
    file: Option<PathBuf>,
    /// Site that keeps the book; its entries carry the name
    #[arg(long, value_name = "NAME", default_value = "yard")]
    site: String,
}

impl Command for NewArgs {
    fn only_now(&self) -> Option<&'static str> {
        Some("new")
    }

    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let path = self.file.as_ref().unwrap_or(&context.book);
        let units = context.asked_units().unwrap_or_default();
        let book = Book::create(path, &self.site, units, &context.stamp())?;
        let mut report = Report::new("new");
        let head = book.head()?.map_or_else(String::new, |h| h.to_string());
        report.push(Block::Facts {
            name: "book",
            facts: vec![
                Fact::plain("file", "book", Cell::Text(path.display().to_string())),
                Fact::plain("site", "site", Cell::Text(self.site.clone())),
                Fact::plain("units", "units", Cell::Text(units.to_string())),
                Fact::plain("head", "head", Cell::Text(head)),
            ],
        });
        book.close()?;
        output::print(&report, context, units)
    }
}
