//! `stock`: counts and lengths of what there is.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use crate::report::stock::{self, By};
use crate::store::Access;

/// What there is: counts and lengths
///
/// Example: pipelore stock --by size,location
#[derive(Debug, Args)]
pub(super) struct StockArgs {
    /// Only joints that match a filter
    #[arg(value_name = "FILTER")]
    filter: Option<String>,
    /// Count by size, class, location, string, status, owner, with commas between
    #[arg(long, value_name = "WHAT", value_delimiter = ',', default_value = "size")]
    by: Vec<String>,
    /// Retired and lost joints too
    #[arg(long)]
    all: bool,
}

impl Command for StockArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let by = self
            .by
            .iter()
            .map(|w| {
                By::parse(w)
                    .ok_or_else(|| usage(format!("'{w}' counts nothing; known: {}", By::words())))
            })
            .collect::<Result<Vec<By>, Failure>>()?;
        let how = stock::Options { by, filter: self.filter.clone(), all: self.all };
        let mut session = context.open(Access::Read)?;
        let report = session.stock(&how)?;
        output::answer(&report, context, &session)
    }
}
