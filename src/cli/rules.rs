//! `rules`: shows, checks and adopts a set of rules.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::Failure;
use super::output;
use super::sets::{SHIPPED, from, of_file, text_of};
use crate::app::{AdoptHow, OwnRules, check_rules_alone};
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
    /// Adopt a rules file as an entry of the book; `shipped` for the rules that ship
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
            let own = read(file)?;
            let mut session = context.open_to_adopt(self.dry_run)?;
            let from = from(self.from.as_deref(), session.clock())?;
            let how = AdoptHow { from, dry_run: self.dry_run };
            let report = session.adopt_rules(&own, how).map_err(|e| of_file(file, e));
            return output::close_and_tell(report, context, session);
        }
        if let Some(file) = &self.check {
            let set = read(file)?.set;
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
                Err(_) if !context.book.exists() => read(Path::new(SHIPPED))?.set,
                Err(e) => return Err(e),
            };
            return output::write(&set.text);
        }
        let session = context.open(Access::Read)?;
        output::answer(&session.rules()?, context, &session)
    }
}

/// A set of the user's, or the one that ships.
fn read(file: &Path) -> Result<OwnRules, Failure> {
    let own = if file == Path::new(SHIPPED) {
        OwnRules::shipped()
    } else {
        OwnRules::parse(&text_of(file)?)
    };
    own.map_err(|e| of_file(file, e))
}
