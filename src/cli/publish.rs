//! `publish`: the book as columnar files.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::Failure;
use super::output;
use crate::store::Access;

/// Write the book as columnar files (Parquet) for existing engines
///
/// Each call makes a whole state in a folder of its own, DIR/state-NUMBER-DIGEST; what did not change
/// is linked from the state before. Books of several sites are published into one DIR, each by its own
/// call. tables.md in a state says what every table and column means. No entry is written.
///
/// Example: pipelore publish lake
#[derive(Debug, Args)]
pub(super) struct PublishArgs {
    /// Folder of states; it is made where it is not there
    #[arg(value_name = "DIR")]
    dir: PathBuf,
    /// States to keep, the newest; older ones are taken away [default: all]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    keep: Option<u32>,
    /// Put this book in the place of what its site published, whatever that was
    #[arg(long)]
    anew: bool,
}

impl Command for PublishArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let session = context.open(Access::Read)?;
        let keep = self.keep.and_then(|n| usize::try_from(n).ok());
        let report = session.publish(&self.dir, keep, self.anew)?;
        output::answer_made(&report, context, &session, &self.dir)
    }
}
