//! `count`: what lies on a rack, held against the book.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use crate::app::Moves;
use crate::store::Access;

/// Hold a list of what lies on a rack against the book: missing, misplaced, unreadable
///
/// Example: pipelore count rack.csv --at "Harrow Yard"
///
/// The list is one serial in each line, or a table (CSV or workbook) with a column Serial and, where
/// several racks are counted at once, a column Location. What is misplaced can be settled by moves:
/// --moves writes them as a file that `load` takes in, --enter enters them.
#[derive(Debug, Args)]
pub(super) struct CountArgs {
    /// List of serials
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Where they lie, where the list does not say
    #[arg(long, value_name = "PLACE")]
    at: Option<String>,
    /// Day of the count [default: today]
    #[arg(long, value_name = "DATE")]
    date: Option<String>,
    /// Write the moves that settle it to a file; nothing may stand there
    #[arg(long, value_name = "FILE")]
    moves: Option<PathBuf>,
    /// Enter the moves that settle it
    #[arg(long)]
    enter: bool,
    /// With --enter, say what would be entered, write nothing
    #[arg(long)]
    dry_run: bool,
}

impl Command for CountArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let file = self.file.to_str().ok_or_else(|| usage("a file name is not valid Unicode"))?;
        let mut session = if self.enter {
            context.open_to_write(self.dry_run)?
        } else {
            context.open(Access::Read)?
        };
        let moves = if self.enter { Moves::Entered { dry_run: self.dry_run } } else { Moves::Told };
        let (report, text) = session
            .count(file, self.at.as_deref(), self.date.as_deref(), moves)
            .map_err(|e| output::met_by(&session, e.into()))?;
        if let Some(path) = &self.moves {
            output::write_new(path, text.as_bytes())?;
        }
        if self.enter {
            output::close_and_print(&report, context, session)
        } else {
            output::answer(&report, context, &session)
        }
    }
}
