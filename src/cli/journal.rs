//! `journal`: what was entered, day by day.

use std::process::ExitCode;

use chrono::{Days, NaiveDate};
use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use crate::report::journal;
use crate::store::Access;

/// What was entered, when and by whom, with the names of the entries
///
/// Example: pipelore journal yesterday
///
/// Days are those of the book's clock. Entries that came together (one kind, by one person, from one
/// file) are one line; --each has a line for every one.
#[derive(Debug, Args)]
pub(super) struct JournalArgs {
    /// today, yesterday or a date
    #[arg(value_name = "DAY", default_value = "today")]
    day: String,
    /// From this day on, to the day named or to today
    #[arg(long, value_name = "DAY")]
    since: Option<String>,
    /// The last day
    #[arg(long, value_name = "DAY", conflicts_with = "day")]
    to: Option<String>,
    /// Only what this person entered
    #[arg(long = "by", value_name = "NAME")]
    by: Option<String>,
    /// A line for each entry
    #[arg(long)]
    each: bool,
}

impl Command for JournalArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let session = context.open(Access::Read)?;
        let today = session.today();
        let to = day(self.to.as_ref().unwrap_or(&self.day), today)?;
        let from = self.since.as_deref().map_or(Ok(to), |since| day(since, today))?;
        if from > to {
            return Err(usage(format!("{from} lies after {to}")).hint(
                "the first day and the last one: journal --since 2026-06-01 --to 2026-06-05",
            ));
        }
        let how = journal::Options { from, to, author: self.by.clone(), each: self.each };
        let report = session.journal(&how)?;
        output::answer(&report, context, &session)
    }
}

fn day(word: &str, today: NaiveDate) -> Result<NaiveDate, Failure> {
    match word.trim().to_ascii_lowercase().as_str() {
        "today" => Ok(today),
        "yesterday" => Ok(today.checked_sub_days(Days::new(1)).unwrap_or(today)),
        date => date.parse().map_err(|_| {
            usage(format!("'{word}' is no day")).hint("today, yesterday, or a date like 2026-06-14")
        }),
    }
}
