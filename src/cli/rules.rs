//! `rules`: shows, checks and adopts a set of rules.

use std::path::Path;
use std::process::ExitCode;

use super::adoption::{Adopted, adopt};
use super::args::RulesArgs;
use super::context::Context;
use super::failure::{Failure, Kind, usage};
use super::output;
use crate::filter;
use crate::model::Moment;
use crate::policy::{RuleError, RuleSet};
use crate::report::{Block, in_context, rule_adoptions, rules as listing, rules_in_force};
use crate::store::{Access, Book};

pub(super) fn run(args: &RulesArgs, context: &Context) -> Result<ExitCode, Failure> {
    if let Some(file) = args.check.as_ref().or(args.adopt.as_ref()) {
        let set = read(file)?;
        if args.adopt.is_none() && !context.book.exists() {
            return check_alone(&set, file, context);
        }
        let writes = args.adopt.is_some();
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
            from: from(args, context)?,
        };
        let present = context.present_of(&book);
        let until = rules_in_force(&book, present.now)?.name;
        let mut report = adopt(&mut book, &adopted, args.dry_run, context)?;
        if adopted.from.start(context.offset_minutes()) > present.now {
            report.push(Block::Note(format!("until then '{until}' stays in force")));
        }
        book.close()?;
        return output::print(&report, context, units);
    }
    if args.text {
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
