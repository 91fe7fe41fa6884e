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
mod pager;
mod past;
mod sets;

mod enter_inspection;
mod prompt;
mod questions;
mod terminal;

mod assess;
mod backup;
mod bundle;
mod changes;
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
mod journal;
mod kin;
mod language;
mod layouts;
mod limits;
mod list;
mod load;
mod new;
mod plan;
mod publish;
mod rate;
mod rebuild;
mod restore;
mod resume;
mod rules;
mod salvage;
mod schema;
mod seal;
mod sheet;
mod show;
mod statement;
mod stock;
mod strike;
mod survey;
mod template;
mod trace;
mod verify;
mod why;
mod written;
mod wrong_words;

use std::process::ExitCode;

use command::{Commands, Entry, Fit, Writes};
use context::Context;

static COMMANDS: Commands = Commands(&[
    Entry::now::<new::NewArgs>("new", Fit::NotTold, Writes::Book),
    Entry::now::<demo::DemoArgs>("demo", Fit::NotTold, Writes::Book),
    Entry::now::<load::LoadArgs>("load", Fit::Told, Writes::Book),
    Entry::now::<layouts::LayoutsArgs>("layouts", Fit::NotTold, Writes::Book),
    Entry::now::<template::TemplateArgs>("template", Fit::NotTold, Writes::Nothing),
    Entry::now::<enter::EnterArgs>("enter", Fit::Told, Writes::Book),
    Entry::any_time::<assess::AssessArgs>("assess", Fit::Told, Writes::Nothing),
    Entry::any_time::<sheet::SheetArgs>("sheet", Fit::Told, Writes::Nothing),
    Entry::any_time::<edition::EditionArgs>("edition", Fit::NotTold, Writes::Book),
    Entry::any_time::<limits::LimitsArgs>("limits", Fit::NotTold, Writes::Book),
    Entry::any_time::<findings::FindingsArgs>("findings", Fit::NotTold, Writes::Nothing),
    Entry::any_time::<find::FindArgs>("find", Fit::Told, Writes::Nothing),
    Entry::any_time::<why::WhyArgs>("why", Fit::Told, Writes::Nothing),
    Entry::any_time::<language::LanguageArgs>("language", Fit::NotTold, Writes::Nothing),
    Entry::any_time::<due::DueArgs>("due", Fit::Told, Writes::Nothing),
    Entry::any_time::<rules::RulesArgs>("rules", Fit::NotTold, Writes::Book),
    Entry::any_time::<stock::StockArgs>("stock", Fit::Told, Writes::Nothing),
    Entry::now::<count::CountArgs>("count", Fit::NotTold, Writes::Book),
    Entry::any_time::<forecast::ForecastArgs>("forecast", Fit::NotTold, Writes::Nothing),
    Entry::any_time::<statement::StatementArgs>("statement", Fit::NotTold, Writes::Nothing),
    Entry::now::<strike::StrikeArgs>("strike", Fit::NotTold, Writes::Book),
    Entry::any_time::<trace::TraceArgs>("trace", Fit::Told, Writes::Nothing),
    Entry::now::<journal::JournalArgs>("journal", Fit::NotTold, Writes::Nothing),
    Entry::now::<list::ListArgs>("list", Fit::NotTold, Writes::Nothing),
    Entry::now::<show::ShowArgs>("show", Fit::NotTold, Writes::Nothing),
    Entry::now::<entries::EntriesArgs>("entries", Fit::NotTold, Writes::Nothing),
    Entry::any_time::<kin::KinArgs>("kin", Fit::NotTold, Writes::Nothing),
    Entry::any_time::<dossier::DossierArgs>("dossier", Fit::Told, Writes::Nothing),
    Entry::any_time::<exposure::ExposureArgs>("exposure", Fit::NotTold, Writes::Nothing),
    Entry::now::<survey::SurveyArgs>("survey", Fit::NotTold, Writes::Nothing),
    Entry::any_time::<plan::PlanArgs>("plan", Fit::Told, Writes::Nothing),
    Entry::any_time::<rate::RateArgs>("rate", Fit::Told, Writes::Nothing),
    Entry::now::<verify::VerifyArgs>("verify", Fit::NotTold, Writes::Book),
    Entry::any_time::<clock::ClockArgs>("clock", Fit::NotTold, Writes::Book),
    Entry::now::<rebuild::RebuildArgs>("rebuild", Fit::NotTold, Writes::Book),
    Entry::now::<backup::BackupArgs>("backup", Fit::NotTold, Writes::Book),
    Entry::now::<publish::PublishArgs>("publish", Fit::NotTold, Writes::Nothing),
    Entry::now::<completions::CompletionsArgs>("completions", Fit::NotTold, Writes::Nothing),
    Entry::now::<completions::ManArgs>("man", Fit::NotTold, Writes::Nothing),
    Entry::now::<changes::ChangesArgs>("changes", Fit::NotTold, Writes::Nothing),
    Entry::any_time::<schema::SchemaArgs>("schema", Fit::NotTold, Writes::Nothing),
    Entry::now::<bundle::BundleArgs>("bundle", Fit::NotTold, Writes::Book),
    Entry::now::<restore::RestoreArgs>("restore", Fit::NotTold, Writes::Book),
    Entry::now::<resume::ResumeArgs>("resume", Fit::NotTold, Writes::Book),
    Entry::now::<salvage::SalvageArgs>("salvage", Fit::NotTold, Writes::Book),
    Entry::now::<seal::SealArgs>("seal", Fit::NotTold, Writes::Book),
]);

/// Has a write beyond the limit of file size fail, and say so: otherwise the signal of it ends the
/// process without a word.
fn hear_of_limits() {
    #[cfg(unix)]
    {
        let reached = std::sync::Arc::default();
        // Where it cannot be had, all is as it was.
        let _ = signal_hook::flag::register(signal_hook::consts::SIGXFSZ, reached);
    }
}

/// Runs the command line of this process.
pub fn main() -> ExitCode {
    hear_of_limits();
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
