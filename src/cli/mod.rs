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

use command::{Commands, Entry};
use context::Context;

static COMMANDS: Commands = Commands(&[
    Entry::now::<new::NewArgs>("new"),
    Entry::now::<demo::DemoArgs>("demo"),
    Entry::now::<load::LoadArgs>("load"),
    Entry::now::<template::TemplateArgs>("template"),
    Entry::now::<enter::EnterArgs>("enter"),
    Entry::any_time::<assess::AssessArgs>("assess"),
    Entry::any_time::<sheet::SheetArgs>("sheet"),
    Entry::any_time::<edition::EditionArgs>("edition"),
    Entry::any_time::<limits::LimitsArgs>("limits"),
    Entry::any_time::<findings::FindingsArgs>("findings"),
    Entry::any_time::<find::FindArgs>("find"),
    Entry::any_time::<why::WhyArgs>("why"),
    Entry::any_time::<language::LanguageArgs>("language"),
    Entry::any_time::<due::DueArgs>("due"),
    Entry::any_time::<rules::RulesArgs>("rules"),
    Entry::any_time::<stock::StockArgs>("stock"),
    Entry::now::<count::CountArgs>("count"),
    Entry::any_time::<forecast::ForecastArgs>("forecast"),
    Entry::any_time::<statement::StatementArgs>("statement"),
    Entry::now::<strike::StrikeArgs>("strike"),
    Entry::any_time::<trace::TraceArgs>("trace"),
    Entry::now::<entries::EntriesArgs>("entries"),
    Entry::any_time::<kin::KinArgs>("kin"),
    Entry::any_time::<dossier::DossierArgs>("dossier"),
    Entry::any_time::<exposure::ExposureArgs>("exposure"),
    Entry::now::<survey::SurveyArgs>("survey"),
    Entry::any_time::<rate::RateArgs>("rate"),
    Entry::now::<verify::VerifyArgs>("verify"),
    Entry::any_time::<clock::ClockArgs>("clock"),
    Entry::now::<rebuild::RebuildArgs>("rebuild"),
    Entry::now::<backup::BackupArgs>("backup"),
    Entry::now::<completions::CompletionsArgs>("completions"),
    Entry::now::<completions::ManArgs>("man"),
    Entry::now::<bundle::BundleArgs>("bundle"),
    Entry::now::<restore::RestoreArgs>("restore"),
    Entry::now::<resume::ResumeArgs>("resume"),
    Entry::now::<salvage::SalvageArgs>("salvage"),
    Entry::now::<seal::SealArgs>("seal"),
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
