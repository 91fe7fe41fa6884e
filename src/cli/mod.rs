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

mod enter_inspection;
mod prompt;

mod assess;
mod backup;
mod bundle;
mod completions;
mod demo;
mod dossier;
mod due;
mod enter;
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
mod resume;
mod rules;
mod salvage;
mod seal;
mod sheet;
mod statement;
mod stock;
mod strike;
mod trace;
mod verify;
mod why;

use std::process::ExitCode;

use command::{Command, CommandLine, Entry};
use context::Context;
use failure::Failure;

/// The commands, in the order in which help names them.
static COMMANDS: [Entry; 31] = [
    Entry::of::<new::NewArgs>("new"),
    Entry::of::<demo::DemoArgs>("demo"),
    Entry::of::<load::LoadArgs>("load"),
    Entry::of::<enter::EnterArgs>("enter"),
    Entry::of::<assess::AssessArgs>("assess"),
    Entry::of::<sheet::SheetArgs>("sheet"),
    Entry::of::<limits::LimitsArgs>("limits"),
    Entry::of::<findings::FindingsArgs>("findings"),
    Entry::of::<find::FindArgs>("find"),
    Entry::of::<why::WhyArgs>("why"),
    Entry::of::<language::LanguageArgs>("language"),
    Entry::of::<due::DueArgs>("due"),
    Entry::of::<rules::RulesArgs>("rules"),
    Entry::of::<stock::StockArgs>("stock"),
    Entry::of::<forecast::ForecastArgs>("forecast"),
    Entry::of::<statement::StatementArgs>("statement"),
    Entry::of::<strike::StrikeArgs>("strike"),
    Entry::of::<trace::TraceArgs>("trace"),
    Entry::of::<kin::KinArgs>("kin"),
    Entry::of::<dossier::DossierArgs>("dossier"),
    Entry::of::<exposure::ExposureArgs>("exposure"),
    Entry::of::<rate::RateArgs>("rate"),
    Entry::of::<verify::VerifyArgs>("verify"),
    Entry::of::<rebuild::RebuildArgs>("rebuild"),
    Entry::of::<backup::BackupArgs>("backup"),
    Entry::of::<completions::CompletionsArgs>("completions"),
    Entry::of::<completions::ManArgs>("man"),
    Entry::of::<bundle::BundleArgs>("bundle"),
    Entry::of::<resume::ResumeArgs>("resume"),
    Entry::of::<salvage::SalvageArgs>("salvage"),
    Entry::of::<seal::SealArgs>("seal"),
];

/// Runs the command line of this process.
pub fn main() -> ExitCode {
    let line = CommandLine::of_process();
    let context = match Context::resolve(&line.global) {
        Ok(context) => context,
        Err(failure) => return failure.report(false),
    };
    match run(&*line.command, &context) {
        Ok(code) => code,
        Err(failure) => failure.report(context.json),
    }
}

fn run(command: &dyn Command, context: &Context) -> Result<ExitCode, Failure> {
    match command.only_now().filter(|_| context.looks_back()) {
        Some(name) => Err(past::refused(name)),
        None => command.run(context),
    }
}
