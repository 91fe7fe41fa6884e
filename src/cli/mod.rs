//! The door: arguments to library calls to report to render; one file per command.
//!
//! Owns argument names, exit codes, where answers and errors go, the clock, the width of the
//! screen. Holds no SQL and no mechanics.

#![allow(
    clippy::doc_markdown,
    reason = "doc comments of arguments are help texts: words in them are what people type"
)]

mod command;
mod context;
mod failure;
mod output;
mod past;
mod sets;

mod enter_inspection;
mod prompt;
mod questions;
mod terminal;

mod assess;
mod backup;
mod bundle;
mod clock;
mod completions;
mod count;
mod demo;
mod dossier;
mod due;
mod edition;
mod enter;
mod entries;
mod exposure;
mod find;
mod findings;
mod forecast;
mod kin;
mod language;
mod layouts;
mod limits;
mod load;
mod new;
mod rate;
mod rebuild;
mod restore;
mod resume;
mod rules;
mod salvage;
mod seal;
mod sheet;
mod statement;
mod stock;
mod strike;
mod survey;
mod template;
mod trace;
mod verify;
mod why;

use std::process::ExitCode;

use command::{Commands, Entry, Fit};
use context::Context;

static COMMANDS: Commands = Commands(&[
    Entry::now::<new::NewArgs>("new", Fit::NotTold),
    Entry::now::<demo::DemoArgs>("demo", Fit::NotTold),
    Entry::now::<load::LoadArgs>("load", Fit::Told),
    Entry::now::<layouts::LayoutsArgs>("layouts", Fit::NotTold),
    Entry::now::<template::TemplateArgs>("template", Fit::NotTold),
    Entry::now::<enter::EnterArgs>("enter", Fit::Told),
    Entry::any_time::<assess::AssessArgs>("assess", Fit::Told),
    Entry::any_time::<sheet::SheetArgs>("sheet", Fit::Told),
    Entry::any_time::<edition::EditionArgs>("edition", Fit::NotTold),
    Entry::any_time::<limits::LimitsArgs>("limits", Fit::NotTold),
    Entry::any_time::<findings::FindingsArgs>("findings", Fit::NotTold),
    Entry::any_time::<find::FindArgs>("find", Fit::Told),
    Entry::any_time::<why::WhyArgs>("why", Fit::Told),
    Entry::any_time::<language::LanguageArgs>("language", Fit::NotTold),
    Entry::any_time::<due::DueArgs>("due", Fit::Told),
    Entry::any_time::<rules::RulesArgs>("rules", Fit::NotTold),
    Entry::any_time::<stock::StockArgs>("stock", Fit::Told),
    Entry::now::<count::CountArgs>("count", Fit::NotTold),
    Entry::any_time::<forecast::ForecastArgs>("forecast", Fit::NotTold),
    Entry::any_time::<statement::StatementArgs>("statement", Fit::NotTold),
    Entry::now::<strike::StrikeArgs>("strike", Fit::NotTold),
    Entry::any_time::<trace::TraceArgs>("trace", Fit::Told),
    Entry::now::<entries::EntriesArgs>("entries", Fit::NotTold),
    Entry::any_time::<kin::KinArgs>("kin", Fit::NotTold),
    Entry::any_time::<dossier::DossierArgs>("dossier", Fit::Told),
    Entry::any_time::<exposure::ExposureArgs>("exposure", Fit::NotTold),
    Entry::now::<survey::SurveyArgs>("survey", Fit::NotTold),
    Entry::any_time::<rate::RateArgs>("rate", Fit::Told),
    Entry::now::<verify::VerifyArgs>("verify", Fit::NotTold),
    Entry::any_time::<clock::ClockArgs>("clock", Fit::NotTold),
    Entry::now::<rebuild::RebuildArgs>("rebuild", Fit::NotTold),
    Entry::now::<backup::BackupArgs>("backup", Fit::NotTold),
    Entry::now::<completions::CompletionsArgs>("completions", Fit::NotTold),
    Entry::now::<completions::ManArgs>("man", Fit::NotTold),
    Entry::now::<bundle::BundleArgs>("bundle", Fit::NotTold),
    Entry::now::<restore::RestoreArgs>("restore", Fit::NotTold),
    Entry::now::<resume::ResumeArgs>("resume", Fit::NotTold),
    Entry::now::<salvage::SalvageArgs>("salvage", Fit::NotTold),
    Entry::now::<seal::SealArgs>("seal", Fit::NotTold),
]);

/// Runs the command line of this process.
pub fn main() -> ExitCode {
    let line = match COMMANDS.of_process() {
        Ok(line) => line,
        Err(code) => return code,
    };
    let context = match Context::resolve(&line.global, COMMANDS) {
        Ok(context) => context,
        Err(failure) => return failure.report(line.global.json()),
    };
    line.run(&context).unwrap_or_else(|failure| failure.report(context.json))
}
