//! `find`: joints or records that match a filter.

use std::io::IsTerminal;
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, usage};
use super::{output, prompt};
use crate::filter::Record;
use crate::report::find;
use crate::store::Access;

/// Joints that match a filter, or records with --list
///
/// Example: pipelore find 'class = premium and hours since last inspection > 300 h'
#[derive(Debug, Args)]
pub(super) struct FindArgs {
    /// A filter; `pipelore help language` explains it. Without one, at a terminal: a prompt
    #[arg(value_name = "FILTER")]
    filter: Option<String>,
    /// Columns to show: fields or any value of the language, with commas between
    #[arg(long, value_name = "COLUMNS")]
    show: Vec<String>,
    /// Column to sort by; -COLUMN puts the largest first
    #[arg(long, value_name = "COLUMN", allow_hyphen_values = true)]
    sort: Option<String>,
    /// Count, and sum lengths, by a column
    #[arg(long, value_name = "COLUMN")]
    by: Option<String>,
    /// At most so many rows
    #[arg(long, value_name = "N")]
    limit: Option<u32>,
    /// List the joints that cannot be decided
    #[arg(long)]
    undecided: bool,
    /// List records in place of joints: runs, inspections, makeups, findings, repairs, events,
    /// failures, moves, hires, decisions
    #[arg(long, value_name = "RECORDS")]
    list: Option<String>,
    /// List the fields of joints, or of a kind of record
    #[arg(long, value_name = "RECORD", num_args = 0..=1, default_missing_value = "")]
    fields: Option<String>,
}

impl Command for FindArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        if let Some(record) = &self.fields {
            let record = fields_of(record)?;
            let units = context.units();
            return output::print(&find::fields(record, units), context, units);
        }
        let how = find::Options {
            show: self.show.iter().flat_map(|s| crate::filter::columns_of(s)).collect(),
            sort: self.sort.clone(),
            by: self.by.clone(),
            limit: self.limit,
            undecided: self.undecided,
            list: self.list.as_deref().map(record_of).transpose()?,
        };
        let mut session = context.open(Access::Read)?;
        let Some(text) = &self.filter else {
            if std::io::stdin().is_terminal() {
                return prompt::run(&mut session, &how, context);
            }
            return Err(usage("a filter is wanted").hint("pipelore find 'class = premium'"));
        };
        let report = session.find(text, &how)?;
        output::answer(&report, context, &session)
    }
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
