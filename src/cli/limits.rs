//! `limits`: the set of limits in force; checking and adopting another.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, Kind, usage};
use super::output;
use super::sets::{SHIPPED, from, text_of};
use crate::app::{AdoptHow, OwnLimits, Session, check_limits_alone, limits};
use crate::condition::Criterion;
use crate::model::{Component, Moment, Vocabulary};
use crate::report::Report;
use crate::report::limits::Wanted;

/// Show the limits that joints are judged by; check or adopt a set of one's own
///
/// Example: pipelore limits wear_wall
///
/// A set is a table with the columns criterion, component, class, comparison, limit, unit, applies,
/// standard, edition, source, provenance, use, note, below the lines "# set: NAME" and "# edition:
/// TEXT"; --example writes the one that ships. Where a set is silent that of the edition holds. Verdicts
/// on inspections before its first day keep the limits of their day.
#[derive(Debug, Args)]
pub(super) struct LimitsArgs {
    /// Criteria to show, like wear_wall [default: all]
    #[arg(value_name = "CRITERION")]
    criteria: Vec<String>,
    /// Only limits that hold for this component
    #[arg(long, value_name = "WORD")]
    component: Option<String>,
    /// Limits as of this day [default: today]
    #[arg(long, value_name = "DATE")]
    on: Option<String>,
    /// Read a set and say what is wrong with it, or what it would change; write nothing
    #[arg(long, value_name = "FILE", conflicts_with = "adopt")]
    check: Option<PathBuf>,
    /// Adopt a set; `shipped` for the one that ships
    #[arg(long = "use", value_name = "FILE")]
    adopt: Option<PathBuf>,
    /// First day on which an adopted set is in force [default: now]
    #[arg(long, value_name = "DATE")]
    from: Option<String>,
    /// Why it is adopted
    #[arg(long, value_name = "TEXT", requires = "adopt")]
    remark: Option<String>,
    /// Print the set that ships, as an example
    #[arg(long)]
    example: bool,
    /// Say what adopting would change, write nothing
    #[arg(long)]
    dry_run: bool,
}

impl Command for LimitsArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        if self.example {
            return output::write(OwnLimits::shipped_text());
        }
        if let Some(file) = &self.check {
            let own = read(file)?;
            return match context.open_if_there()? {
                None => show(&check_limits_alone(&own), context, None),
                Some(mut session) => {
                    let report =
                        session.check_limits(&own, from(self.from.as_deref(), session.clock())?)?;
                    output::answer(&report, context, &session)
                }
            };
        }
        if let Some(file) = &self.adopt {
            context.only_now("limits --use")?;
            let own = read(file)?;
            let mut session = context.open_to_adopt(self.dry_run)?;
            let from = from(self.from.as_deref(), session.clock())?;
            let how = AdoptHow { from, dry_run: self.dry_run };
            let report = session.adopt_limits(&own, self.remark.as_deref(), how);
            return output::close_and_tell(report, context, session);
        }
        let wanted = self.wanted()?;
        let session = context.open_if_there()?;
        let clock = session.as_ref().map_or(context.caller.clock, Session::clock);
        let on = match &self.on {
            Some(text) => Moment::parse_at(text, clock).map_err(usage)?,
            None => Moment::Clock(context.caller.now.at.at(clock)),
        };
        let report = limits(session.as_ref(), &wanted, on, &context.caller)?;
        show(&report, context, session.as_ref())
    }
}

impl LimitsArgs {
    fn wanted(&self) -> Result<Wanted, Failure> {
        Ok(Wanted {
            criteria: self
                .criteria
                .iter()
                .map(|c| Criterion::from_word(c))
                .collect::<Result<_, _>>()
                .map_err(usage)?,
            component: self
                .component
                .as_deref()
                .map(Component::from_word)
                .transpose()
                .map_err(usage)?,
        })
    }
}

/// Prints limits in the units that were asked for: they carry their own.
fn show(
    report: &Report,
    context: &Context,
    session: Option<&Session>,
) -> Result<ExitCode, Failure> {
    output::print_with_view(report, context, context.units(), session.map_or(&[], Session::view))
}

/// A set of the user's, or the one that ships.
fn read(file: &Path) -> Result<OwnLimits, Failure> {
    let own = if file == Path::new(SHIPPED) {
        OwnLimits::shipped()
    } else {
        OwnLimits::parse(text_of(file)?)
    };
    own.map_err(|errors| {
        let name = file.display();
        let more = errors.len().saturating_sub(40);
        let lines: Vec<String> = errors.iter().take(40).map(|e| format!("  {name}, {e}")).collect();
        let rest = (more > 0).then(|| format!("  … and {more} more"));
        Failure::new(Kind::Input, format!("{name} is no set of limits"))
            .block(lines.into_iter().chain(rest))
            .hint("pipelore limits --example prints the set that ships")
    })
}
