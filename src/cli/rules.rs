//! `rules`: shows, checks and adopts a set of rules.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, Kind, usage};
use super::output;
use crate::app::{Error, check_rules_alone, shipped_rules};
use crate::model::Moment;
use crate::policy::{RuleError, RuleSet};
use crate::store::Access;

/// Show, check or adopt the rules behind `due`
///
/// Example: pipelore rules --text > yard-rules.toml
///
/// A set that is adopted from a later day waits for it: until then the set before it is in force, and
/// `rules` names both. What was due under which rules on a date: `due --as-of DATE`.
#[derive(Debug, Args)]
pub(super) struct RulesArgs {
    /// Check a rules file; nothing is written
    #[arg(long, value_name = "FILE", conflicts_with_all = ["adopt", "text"])]
    check: Option<PathBuf>,
    /// Adopt a rules file as an entry of the book
    #[arg(long = "use", value_name = "FILE", conflicts_with = "text")]
    adopt: Option<PathBuf>,
    /// First day, or time, from which they are in force; the set before stays until then [default: now]
    #[arg(long, value_name = "DATE", requires = "adopt")]
    from: Option<String>,
    /// Say what would be adopted, write nothing
    #[arg(long, requires = "adopt")]
    dry_run: bool,
    /// Print the rules in force as a file
    #[arg(long)]
    text: bool,
}

impl Command for RulesArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        if let Some(file) = &self.adopt {
            context.only_now("rules --use")?;
            let set = read(file)?;
            let mut session = context.open(Access::Write)?;
            let report = session.adopt_rules(&set, self.from()?, self.dry_run);
            return output::close_and_print(
                &report.map_err(|e| of_file(file, e))?,
                context,
                session,
            );
        }
        if let Some(file) = &self.check {
            let set = read(file)?;
            return match context.open_if_there()? {
                None => {
                    let report = check_rules_alone(&set, &context.caller);
                    let report = report.map_err(|e| of_file(file, e))?;
                    output::print(&report, context, context.units())
                }
                Some(session) => {
                    let report = session.check_rules(&set).map_err(|e| of_file(file, e))?;
                    output::answer(&report, context, &session)
                }
            };
        }
        if self.text {
            let set = match context.open(Access::Read) {
                Ok(session) => session.rules_in_force()?,
                Err(_) if !context.book.exists() => {
                    shipped_rules().map_err(|e| of_file(Path::new("the rules that ship"), e))?
                }
                Err(e) => return Err(e),
            };
            return output::write(&set.text);
        }
        let session = context.open(Access::Read)?;
        output::answer(&session.rules()?, context, &session)
    }
}

impl RulesArgs {
    fn from(&self) -> Result<Option<Moment>, Failure> {
        let read = |text: &String| text.parse().map_err(|e| usage(format!("--from: {e}")));
        self.from.as_ref().map(read).transpose()
    }
}

fn read(file: &Path) -> Result<RuleSet, Failure> {
    let text = std::fs::read_to_string(file).map_err(|e| {
        Failure::new(Kind::Input, format!("{} cannot be read: {e}", file.display()))
    })?;
    RuleSet::parse(&text).map_err(|errors| refused(file, &errors))
}

/// Rules that do not hold are told with the places in their file.
fn of_file(file: &Path, error: Error) -> Failure {
    match error {
        Error::Rules(errors) => refused(file, &errors),
        other => other.into(),
    }
}

fn refused(file: &Path, errors: &[RuleError]) -> Failure {
    let mut block = Vec::new();
    for e in errors {
        block.push(format!("{}:{}: {}", file.display(), e.line, e.message));
        block.extend(e.block.iter().cloned());
    }
    let n = errors.len();
    let many = if n == 1 { "1 error".to_owned() } else { format!("{n} errors") };
    Failure::new(Kind::Input, format!("{} holds {many}", file.display())).block(block)
}
