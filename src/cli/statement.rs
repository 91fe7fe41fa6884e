//! `statement`: what a hire did to its joints.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, Kind};
use super::sets::text_of;
use super::{dossier, output};
use crate::policy::price::Prices;
use crate::render::html::Page;
use crate::report::Block;
use crate::store::Access;

/// What a hire did to its joints: condition out against in, use, repairs, charges
///
/// Example: pipelore statement H-36
///
/// Condition out is that of the last inspection before a joint went out, condition in that of
/// inspections after its last run on hire and before its next run or hire. Where one is missing, or
/// the joint ran in between, the comparison is marked doubtful. Prices come from a TOML file of the
/// owner's: currency = "…", owner = [name and address, line by line], tables [joint] (once, day,
/// standby_day, late_day, hour, foot, metre, inspection, lost, failed), [[rates]] with the same for
/// joints of a component, size, grade or class out, [repair] (by work, like recut), [downgrade]
/// (like "premium to class_2"), [lost] (by component); days = "between" or "both_ends",
/// minimum_days, until (the agreed last day). What it does not name is not charged. Days end when a
/// joint comes back or is lost; one still out is charged to today. With --csv, every charge of every
/// joint and the total.
#[derive(Debug, Args)]
pub(super) struct StatementArgs {
    /// Name of the hire
    #[arg(value_name = "HIRE")]
    hire: String,
    /// Price file
    #[arg(long, value_name = "FILE")]
    prices: Option<PathBuf>,
    /// Write a page to print and sign; nothing may stand there
    #[arg(short, long, value_name = "FILE.html", conflicts_with_all = ["json", "csv", "xlsx"])]
    output: Option<PathBuf>,
}

impl Command for StatementArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let prices = match &self.prices {
            None => None,
            Some(file) => {
                let wrong =
                    |e: String| Failure::new(Kind::Input, format!("{}: {e}", file.display()));
                Some(Prices::parse(&text_of(file)?).map_err(wrong)?)
            }
        };
        let session = context.open(Access::Read)?;
        let mut report = session.statement(&self.hire, prices.as_ref())?;
        if context.csv {
            report.only_charges_by_joint();
        } else if !context.json && context.xlsx.is_none() {
            report.without_charges_by_joint();
        }
        let Some(path) = &self.output else { return output::answer(&report, context, &session) };
        let page = Page {
            title: format!("Statement of hire {}", self.hire),
            subtitle: format!("from the book of {}", session.site()),
            wide: true,
            signed_by: &["for the owner", "for the hirer"],
            ..Page::default()
        };
        // The page has a title of its own.
        report.blocks.retain(|b| !matches!(b, Block::Heading(_)));
        dossier::write_page(context, &session, report, page, path)
    }
}
