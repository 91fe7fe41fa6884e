//! `rebuild`: derives everything again, under another fatigue method if one is named.

use std::path::Path;
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, Kind, usage};
use super::output;
use super::sets::text_of;
use crate::app::Session;
use crate::report::method::Choice;

/// Throw derived rows away and derive them again from the entries
///
/// Example: pipelore rebuild --method "DNV-RP-C203 2024-10 B1" --dry-run
#[derive(Debug, Args)]
pub(super) struct RebuildArgs {
    /// Adopt a fatigue method first and say how the order of joints by damage moved: a TOML file, a
    /// curve, or a standard, edition and class
    #[arg(long, value_name = "FILE|NAME")]
    method: Option<String>,
    /// Mean-stress rule of a method given by name: none, goodman, gerber or soderberg
    #[arg(long, value_name = "RULE", requires = "method")]
    mean_stress: Option<String>,
    /// Do it on a copy and say how the order of joints by damage moves, joint by joint, and what makes
    /// it; the book stays as it is, rows of an older version too
    #[arg(long)]
    dry_run: bool,
}

impl Command for RebuildArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let Some(word) = &self.method else {
            if self.dry_run {
                let session = Session::open_to_examine(&context.book, &context.caller)?;
                return output::answer(&session.derived_anew()?, context, &session);
            }
            let mut session = context.open_to_derive()?;
            let report = session.rebuild();
            return output::close_and_tell(report, context, session);
        };
        let choice = choice(word, self.mean_stress.as_deref())?;
        let mut session = context.open_to_adopt(self.dry_run)?;
        let report = session.adopt_method(&choice, self.dry_run);
        output::close_and_tell(report, context, session)
    }
}

/// A file of that name, else a method of that name.
fn choice(word: &str, mean_stress: Option<&str>) -> Result<Choice, Failure> {
    let path = Path::new(word);
    if !path.is_file() {
        return Ok(Choice::named(word, mean_stress)?);
    }
    if mean_stress.is_some() {
        return Err(usage("a method in a file names its mean-stress rule itself"));
    }
    let text = text_of(path)?;
    let stem = path.file_stem().and_then(|s| s.to_str()).unwrap_or("method");
    Choice::of_file(stem, text).map_err(|e| Failure::new(Kind::Input, format!("{word}: {e}")))
}
