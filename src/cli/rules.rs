//! `rules`: shows, checks and adopts a set of rules.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;

use super::adoption::{Adopted, adopt};
use super::command::Command;
use super::context::Context;
use super::failure::{Failure, Kind, usage};
use super::output;
use crate::filter;
use crate::model::Moment;
use crate::policy::{RuleError, RuleSet};
use crate::report::{Block, in_context, rule_adoptions, rules as listing, rules_in_force};
use crate::store::{Access, Book};

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
    fn only_now(&self) -> Option<&'static str> {
        self.adopt.is_some().then_some("rules --use")
    }

    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        if let Some(file) = self.check.as_ref().or(self.adopt.as_ref()) {
            let set = read(file)?;
            if self.adopt.is_none() && !context.book.exists() {
                return check_alone(&set, file, context);
            }
            let writes = self.adopt.is_some();
            let access = if writes { Access::Write } else { Access::Read };
            let mut book = context.open(access)?;
            check(&set, file, &book, context)?;
            let units = context.units(&book);
            if !writes {
                return output::print(&listing::checked(&set), context, units);
            }
            let adopted = Adopted {
                what: "rules",
                name: &set.name,
                text: Some(&set.text),
                from: from(self, context)?,
            };
            let present = context.present_of(&book);
            let until = rules_in_force(&book, present.now)?.name;
            let mut report = adopt(&mut book, &adopted, self.dry_run, context)?;
            if adopted.from.start(context.offset_minutes()) > present.now {
                report.push(Block::Note(format!("until then '{until}' stays in force")));
            }
            book.close()?;
            return output::print(&report, context, units);
        }
        if self.text {
            let set = match context.open(Access::Read) {
                Ok(book) => rules_in_force(&book, context.present_of(&book).now)?,
                Err(_) if !context.book.exists() => shipped()?,
                Err(e) => return Err(e),
            };
            return output::write(&set.text);
        }
        let book = context.open(Access::Read)?;
        let present = context.present_of(&book);
        let set = rules_in_force(&book, present.now)?;
        let report = listing::report(&set, &rule_adoptions(&book)?, &present);
        output::print(&report, context, context.units(&book))
    }
}

fn read(file: &Path) -> Result<RuleSet, Failure> {
    let text = std::fs::read_to_string(file).map_err(|e| {
        Failure::new(Kind::Input, format!("{} cannot be read: {e}", file.display()))
    })?;
    RuleSet::parse(&text).map_err(|errors| refused(file, &errors))
}

fn shipped() -> Result<RuleSet, Failure> {
    RuleSet::shipped().map_err(|errors| refused(Path::new("the rules that ship"), &errors))
}

/// Every filter is read against the book's own fields and joints.
fn check(set: &RuleSet, file: &Path, book: &Book, context: &Context) -> Result<(), Failure> {
    let present = context.present_of(book);
    let errors = in_context(book, set, &present, |context| set.check(context));
    if errors.is_empty() { Ok(()) } else { Err(refused(file, &errors)) }
}

/// The same without a book: no joint answers to any serial that a filter names.
fn check_alone(set: &RuleSet, file: &Path, context: &Context) -> Result<ExitCode, Failure> {
    let units = context.asked_units().unwrap_or_default();
    let joints = |_: &str| vec![0];
    let rules = set.for_filters();
    let errors = set.check(&filter::Context {
        now: context.present().start(context.offset_minutes()),
        offset_minutes: context.offset_minutes(),
        units,
        rules: &rules,
        joints: &joints,
    });
    if !errors.is_empty() {
        return Err(refused(file, &errors));
    }
    output::print(&listing::checked(set), context, units)
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

fn from(args: &RulesArgs, context: &Context) -> Result<Moment, Failure> {
    match &args.from {
        None => Ok(context.present()),
        Some(text) => text.parse().map_err(|e| usage(format!("--from: {e}"))),
    }
}
