//! `list`: what the book knows by name.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use crate::model::nearest_word;
use crate::report::lists::What;
use crate::store::Access;

/// Wells, runs, strings, hires, rigs, places, sites, instruments, layouts
///
/// Example: pipelore list wells
///
/// Joints are listed by `find`, records of joints by `find --list`, what was entered by `journal`,
/// entries of a kind by `entries --kind KIND`.
#[derive(Debug, Args)]
pub(super) struct ListArgs {
    /// wells, runs, strings, hires, rigs, places, sites, instruments or layouts
    #[arg(value_name = "WHAT")]
    what: String,
}

impl Command for ListArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        if ["layouts", "layout"].contains(&self.what.trim().to_ascii_lowercase().as_str()) {
            let session = context.open(Access::Read)?;
            return output::answer(&session.layouts()?, context, &session);
        }
        let what = What::parse(&self.what).ok_or_else(|| {
            let known: Vec<&str> = What::words().into_iter().chain(["layouts"]).collect();
            let failure = usage(format!("'{}' is no list; known: {}", self.what, known.join(", ")));
            let failure = match nearest_word(&self.what, known.iter().copied()) {
                Some(near) => failure.hint(format!("did you mean {near}?")),
                None => failure,
            };
            failure.hint("joints: pipelore find true; entries: pipelore journal, pipelore entries")
        })?;
        let session = context.open(Access::Read)?;
        let report = session.list(what)?;
        output::answer(&report, context, &session)
    }
}
