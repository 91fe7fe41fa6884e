//! `find`: joints or records that match a filter.

use std::process::ExitCode;

use super::args::FindArgs;
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use crate::filter::Record;
use crate::report::find;
use crate::store::Access;

pub(super) fn run(args: &FindArgs, context: &Context) -> Result<ExitCode, Failure> {
    if let Some(record) = &args.fields {
        let record = match record.as_str() {
            "" | "joint" | "joints" => None,
            word => Some(record_of(word)?),
        };
        let units = context.asked_units().unwrap_or_default();
        return output::print(&find::fields(record, units), context, units);
    }
    let Some(text) = &args.filter else {
        return Err(usage("a filter is wanted").hint("pipelore find 'class = premium'"));
    };
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
    let rules = crate::report::rules_in_force(&book)?;
    let report = find::report(&mut book, text, &rules, &options, &present)?;
    output::print(&report, context, context.units(&book))
}

fn record_of(word: &str) -> Result<Record, Failure> {
    Record::parse(word).ok_or_else(|| {
        let known: Vec<&str> = Record::ALL.iter().map(|r| r.word()).collect();
        usage(format!("'{word}' is no kind of record; known: {}", known.join(", ")))
    })
}
