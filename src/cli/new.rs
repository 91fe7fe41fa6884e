//! `new`: starts a book.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use crate::app::{Caller, Session};
use crate::model::Clock;

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
    /// Clock of the site, by which days are days: a time zone like Europe/Oslo, or an offset from UTC
    /// like +02:00 [default: the clock of this machine]
    #[arg(long, value_name = "ZONE|OFFSET", allow_hyphen_values = true)]
    clock: Option<String>,
}

impl Command for NewArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let path = self.file.as_ref().unwrap_or(&context.book);
        let caller = Caller { units: Some(context.units()), ..context.caller.clone() };
        let caller = match &self.clock {
            Some(name) => caller.at_clock(name.parse::<Clock>().map_err(|e| usage(e.to_string()))?),
            None => caller,
        };
        let session = Session::create(path, &self.site, &caller)?;
        let report = session.beginning(path, &self.site)?;
        output::close_and_print(&report, context, session)
    }
}
