//! `layouts`: how files under a header are read, as it was said once.

use std::process::ExitCode;

use clap::{Args, Subcommand};

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use super::written::WrittenArgs;
use crate::intake::Options;

/// List, show, change or drop what is remembered of how files are read
///
/// Example: pipelore layouts
///
/// Where `load` is told what columns hold, in which units, or how dates and numbers are written, that is
/// kept as a layout of the file's header; the next file under the same header, title by title, is read so
/// and says by whose layout. What is said with `load` stands over it.
#[derive(Debug, Args)]
pub(super) struct LayoutsArgs {
    #[command(subcommand)]
    what: Option<What>,
}

#[derive(Debug, Subcommand)]
enum What {
    List(ListArgs),
    Show(ShowArgs),
    Change(ChangeArgs),
    Drop(DropArgs),
}

/// List the layouts in force
///
/// Example: pipelore layouts list
#[derive(Debug, Args)]
struct ListArgs {}

/// Show a layout column by column
///
/// Example: pipelore layouts show yard-12
#[derive(Debug, Args)]
struct ShowArgs {
    /// Entry of the layout
    #[arg(value_name = "ENTRY")]
    entry: String,
}

/// Read files under the header of a layout otherwise from now on
///
/// Example: pipelore layouts change yard-12 --columns '"W" = wall [mm]' --reason "it is in mm"
///
/// Texts that mean no value stand in the place of those before; what is not said stays.
#[derive(Debug, Args)]
struct ChangeArgs {
    /// Entry of the layout
    #[arg(value_name = "ENTRY")]
    entry: String,
    /// What columns hold, by their titles: '"W" = wall [mm]'; the others stay as they are
    #[arg(long, value_name = "COLUMNS")]
    columns: Option<String>,
    #[command(flatten)]
    written: WrittenArgs,
    /// Why
    #[arg(long, value_name = "TEXT")]
    reason: String,
    /// Say what would be, change nothing
    #[arg(long)]
    dry_run: bool,
}

/// Drop a layout: files under its header are read by what they say themselves
///
/// Example: pipelore layouts drop yard-12 --reason "the shop has another sheet now"
#[derive(Debug, Args)]
struct DropArgs {
    /// Entry of the layout
    #[arg(value_name = "ENTRY")]
    entry: String,
    /// Why
    #[arg(long, value_name = "TEXT")]
    reason: String,
    /// Say what would be, change nothing
    #[arg(long)]
    dry_run: bool,
}

impl Command for LayoutsArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        match &self.what {
            None | Some(What::List(_)) => {
                let session = context.open_whole()?;
                output::answer(&session.layouts()?, context, &session)
            }
            Some(What::Show(args)) => {
                let session = context.open_whole()?;
                output::answer(&session.layout(&args.entry)?, context, &session)
            }
            Some(What::Change(args)) => {
                let stated = args.stated()?;
                let mut session = context.open_to_write(args.dry_run)?;
                let report =
                    session.change_layout(&args.entry, &stated, &args.reason, args.dry_run)?;
                output::close_and_print(&report, context, session)
            }
            Some(What::Drop(args)) => {
                let mut session = context.open_to_write(args.dry_run)?;
                let report = session.drop_layout(&args.entry, &args.reason, args.dry_run)?;
                output::close_and_print(&report, context, session)
            }
        }
    }
}

impl ChangeArgs {
    fn stated(&self) -> Result<Options, Failure> {
        let mut stated = Options::default();
        if let Some(columns) = &self.columns {
            stated.say("columns", columns).map_err(usage)?;
        }
        self.written.say(&mut stated)?;
        Ok(stated)
    }
}
