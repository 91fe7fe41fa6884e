//! The door: arguments to library calls to report to render; one file per command.
//!
//! Owns argument names, exit codes, where answers and errors go, the clock, the width of the
//! screen. Holds no SQL and no mechanics.

mod alone;
mod args;
mod context;
mod failure;
mod output;
mod past;

mod adoption;
mod assess;
mod backup;
mod bundle;
mod completions;
mod demo;
mod dossier;
mod due;
mod enter;
mod enter_inspection;
mod exposure;
mod find;
mod findings;
mod forecast;
mod kin;
mod language;
mod limits;
mod load;
mod new;
mod prompt;
mod rack;
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
mod take_in;
mod trace;
mod verify;
mod why;
mod words;

use std::process::ExitCode;

use args::{BundleCommand, Command, SealCommand};
use context::Context;
use failure::Failure;

/// Program and version, as every entry carries it.
pub const PROGRAM: &str = concat!("pipelore ", env!("CARGO_PKG_VERSION"));

/// Runs the command line of this process.
pub fn main() -> ExitCode {
    // clap prints its own usage errors and help, with exit codes 2 and 0.
    let words: Vec<_> = std::env::args_os().collect();
    let cli = alone::parse(&words);
    let context = match Context::resolve(&cli.global) {
        Ok(context) => context,
        Err(failure) => return failure.report(false),
    };
    match run(&cli.command, &context) {
        Ok(code) => code,
        Err(failure) => failure.report(context.json),
    }
}

fn run(command: &Command, context: &Context) -> Result<ExitCode, Failure> {
    if let (true, Some(name)) = (context.looks_back(), past::only_now(command)) {
        return Err(past::refused(name));
    }
    match command {
        Command::New(args) => new::run(args, context),
        Command::Load(args) => load::run(args, context),
        Command::Enter(args) => enter::run(args, context),
        Command::Demo(args) => demo::run(args, context),
        Command::Due(args) => due::run(args, context),
        Command::Rules(args) => rules::run(args, context),
        Command::Statement(args) => statement::run(args, context),
        Command::Stock(args) => stock::run(args, context),
        Command::Forecast(args) => forecast::run(args, context),
        Command::Completions(args) => completions::completions(args),
        Command::Man(_) => completions::man(),
        Command::Assess(args) => assess::run(args, context),
        Command::Sheet(args) => sheet::run(args, context),
        Command::Limits(args) => limits::run(args, context),
        Command::Findings(args) => findings::run(args, context),
        Command::Find(args) => find::run(args, context),
        Command::Why(args) => why::run(args, context),
        Command::Language(_) => language::run(),
        Command::Strike(args) => strike::run(args, context),
        Command::Trace(args) => trace::run(args, context),
        Command::Kin(args) => kin::run(args, context),
        Command::Dossier(args) => dossier::run(args, context),
        Command::Exposure(args) => exposure::run(args, context),
        Command::Rate(args) => rate::run(args, context),
        Command::Verify(args) => verify::run(args, context),
        Command::Rebuild(args) => rebuild::run(args, context),
        Command::Backup(args) => backup::run(args, context),
        Command::Bundle(BundleCommand::Out(args)) => bundle::run_out(args, context),
        Command::Bundle(BundleCommand::In(args)) => bundle::run_in(args, context),
        Command::Resume(args) => resume::run(args, context),
        Command::Salvage(args) => salvage::run(args, context),
        Command::Seal(SealCommand::Key(args)) => seal::run_key(args, context),
        Command::Seal(SealCommand::Head(args)) => seal::run_head(args, context),
        Command::Seal(SealCommand::Check(args)) => seal::run_check(args, context),
    }
}
