//! `due`: what the rules in force call for.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use crate::model::{Call, Vocabulary};
use crate::report::Asked;
use crate::report::due::{self, Ahead, By};
use crate::store::Access;

/// What the rules in force call for, worst first
///
/// Example: pipelore due --call inspection --within '30 days'
///
/// What is due on a string, grouped: pipelore due --string K1 --within '30 days' --by reason. The work
/// to order, job by job: pipelore due --jobs
#[derive(Debug, Args)]
pub(super) struct DueArgs {
    /// Only joints that match a filter
    #[arg(value_name = "FILTER")]
    filter: Option<String>,
    /// Only joints of a string
    #[arg(long, value_name = "STRING")]
    string: Option<String>,
    /// Only joints that went out on a hire
    #[arg(long, value_name = "HIRE")]
    hire: Option<String>,
    /// Only these joints, with commas between
    #[arg(long, value_name = "SERIAL", value_delimiter = ',')]
    serial: Vec<String>,
    /// One call only: inspection, downgrade, repair, quarantine, retire
    #[arg(long, value_name = "CALL")]
    call: Option<String>,
    /// Look ahead: '30 days' on the calendar, or '200 h' of rotation
    #[arg(long, value_name = "TIME")]
    within: Option<String>,
    /// Count by string, location, call, rule, reason, with commas between
    #[arg(long, value_name = "WHAT", value_delimiter = ',')]
    by: Vec<String>,
    /// The work list: calls as jobs, what to do by which method on which joints, where and by when
    #[arg(long, conflicts_with_all = ["by", "undecided"])]
    jobs: bool,
    /// At most so many lines
    #[arg(long, value_name = "N")]
    limit: Option<usize>,
    /// List what cannot be decided for want of a reading
    #[arg(long)]
    undecided: bool,
}

impl Command for DueArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let call = self
            .call
            .as_deref()
            .map(|w| Call::from_word(w).map_err(|e| usage(e.to_string())))
            .transpose()?;
        let by = |w: &String| {
            let known =
                || usage(format!("'{w}' counts nothing; known: {}", By::words().join(", ")));
            By::parse(w.trim()).ok_or_else(known)
        };
        let by = self.by.iter().map(by).collect::<Result<Vec<By>, Failure>>()?;
        let mut session = context.open(Access::Read)?;
        let among = session.joints_asked_about(&Asked {
            filter: self.filter.as_deref(),
            string: self.string.as_deref(),
            hire: self.hire.as_deref(),
            serials: &self.serial,
        })?;
        let how = due::Options {
            call,
            by,
            among,
            jobs: self.jobs,
            within: self.within.as_deref().map(ahead).transpose()?,
            undecided: self.undecided,
            folded: context.is_for_a_screen(),
            limit: self.limit,
        };
        let report = session.due(&how)?;
        output::answer(&report, context, &session)
    }
}

/// Reads `30 days` or `200 h`: days count on the calendar, hours on the rotary table.
fn ahead(text: &str) -> Result<Ahead, Failure> {
    let wrong = || {
        usage(format!("'{text}' is no time ahead"))
            .hint("days of the calendar: --within '30 days'; rotating hours: --within '200 h'")
    };
    let split = text.find(|c: char| !(c.is_ascii_digit() || c == '.')).ok_or_else(wrong)?;
    let (number, unit) = text.split_at(split);
    let number: f64 = number.parse().map_err(|_| wrong())?;
    match unit.trim() {
        "d" | "day" | "days" => Ok(Ahead::Days(number)),
        "week" | "weeks" => Ok(Ahead::Days(7.0 * number)),
        "month" | "months" => Ok(Ahead::Days(30.4375 * number)),
        "h" | "hour" | "hours" => Ok(Ahead::Hours(number)),
        _ => Err(wrong()),
    }
}
