//! `find`: joints or records that match a filter.

use std::io::IsTerminal;
use std::process::ExitCode;

use super::args::FindArgs;
use super::context::Context;
use super::failure::{Failure, usage};
use super::{output, prompt};
use crate::filter::Record;
use crate::report::find;
use crate::store::Access;

pub(super) fn run(args: &FindArgs, context: &Context) -> Result<ExitCode, Failure> {
    if let Some(record) = &args.fields {
        let record = fields_of(record)?;
        let units = context.asked_units().unwrap_or_default();
        return output::print(&find::fields(record, units), context, units);
    }
    let list = args.list.as_deref().map(record_of).transpose()?;
    let options = find::Options {
        show: args.show.clone(),
        sort: args.sort.clone(),
        by: args.by.clone(),
        limit: args.limit,
        undecided: args.undecided,
        list,
    };
    let mut book = context.open(Access::Read)?;
    let present = context.present_of(&book);
    let Some(text) = &args.filter else {
        if std::io::stdin().is_terminal() {
            let rules = crate::report::rules_in_force(&book, present.now)?;
            return prompt::run(&mut book, &rules, &options, &present, context);
        }
        return Err(usage("a filter is wanted").hint("pipelore find 'class = premium'"));
    };
    let report = find::report(&mut book, text, None, &options, &present)?;
    output::print(&report, context, context.units(&book))
}

/// The record whose fields are asked for; `None` for those of joints.
pub(super) fn fields_of(word: &str) -> Result<Option<Record>, Failure> {
    match word {
        "" | "joint" | "joints" => Ok(None),
        word => record_of(word).map(Some),
    }
}

fn record_of(word: &str) -> Result<Record, Failure> {
    Record::parse(word).ok_or_else(|| {
        let known: Vec<&str> = Record::ALL.iter().map(|r| r.word()).collect();
        usage(format!("'{word}' is no kind of record; known: {}", known.join(", ")))
    })
}
