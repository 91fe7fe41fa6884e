//! Arguments of one command, read without setting up those of all the others, which took longer
//! than a small question to the book. What does not read so, help and errors among it, is read
//! again by the whole definition.

use std::ffi::OsString;

use clap::{Args, FromArgMatches, Parser};

use super::args::{
    AssessArgs, BackupArgs, Cli, DemoArgs, DossierArgs, DueArgs, EnterArgs, ExposureArgs, FindArgs,
    FindingsArgs, ForecastArgs, Global, KinArgs, LanguageArgs, LimitsArgs, LoadArgs, NewArgs,
    RebuildArgs, ResumeArgs, RulesArgs, SalvageArgs, SheetArgs, StatementArgs, StockArgs,
    StrikeArgs, TraceArgs, VerifyArgs, WhyArgs,
};
use super::rate::RateArgs;

/// Sets up the arguments of a command.
type SetUp = fn(clap::Command) -> clap::Command;

/// Commands without commands of their own.
const COMMANDS: [(&str, SetUp); 27] = [
    ("new", NewArgs::augment_args),
    ("demo", DemoArgs::augment_args),
    ("load", LoadArgs::augment_args),
    ("enter", EnterArgs::augment_args),
    ("assess", AssessArgs::augment_args),
    ("sheet", SheetArgs::augment_args),
    ("limits", LimitsArgs::augment_args),
    ("findings", FindingsArgs::augment_args),
    ("find", FindArgs::augment_args),
    ("why", WhyArgs::augment_args),
    ("language", LanguageArgs::augment_args),
    ("due", DueArgs::augment_args),
    ("rules", RulesArgs::augment_args),
    ("stock", StockArgs::augment_args),
    ("forecast", ForecastArgs::augment_args),
    ("statement", StatementArgs::augment_args),
    ("strike", StrikeArgs::augment_args),
    ("trace", TraceArgs::augment_args),
    ("kin", KinArgs::augment_args),
    ("dossier", DossierArgs::augment_args),
    ("exposure", ExposureArgs::augment_args),
    ("rate", RateArgs::augment_args),
    ("verify", VerifyArgs::augment_args),
    ("rebuild", RebuildArgs::augment_args),
    ("backup", BackupArgs::augment_args),
    ("resume", ResumeArgs::augment_args),
    ("salvage", SalvageArgs::augment_args),
];

/// Reads the command line; on wrong usage, and for help, says so and ends the process.
pub(super) fn parse(words: &[OsString]) -> Cli {
    alone(words).unwrap_or_else(|| Cli::parse_from(words))
}

/// The command line, if it is one of the first command that it names and of nothing else. That
/// word may be a value of an option: then what is left does not read, and the whole is asked.
fn alone(words: &[OsString]) -> Option<Cli> {
    let (name, set_up) =
        words.iter().skip(1).find_map(|w| COMMANDS.iter().find(|(name, _)| w == name))?;
    let command = Global::augment_args(clap::Command::new(env!("CARGO_PKG_NAME")))
        .subcommand_required(true)
        .subcommand(set_up(clap::Command::new(*name)));
    let matches = command.try_get_matches_from(words).ok()?;
    Cli::from_arg_matches(&matches).ok()
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;

    #[test]
    fn every_command_is_read_alone() {
        let whole = Cli::command();
        let left: Vec<&str> = whole
            .get_subcommands()
            .map(clap::Command::get_name)
            .filter(|name| COMMANDS.iter().all(|c| c.0 != *name))
            .collect();
        // Those with commands of their own, and those that need the whole definition.
        assert_eq!(left, ["completions", "man", "bundle", "seal"]);
        for (name, _) in COMMANDS {
            assert!(whole.find_subcommand(name).is_some(), "{name}");
        }
    }

    #[test]
    fn one_command_reads_as_the_whole_does() {
        for (line, read) in [
            ("find true", true),
            ("find true --json --book find", true),
            ("--book b --units us --now 2026-01-01 find true --limit 3 --as-of 2026-01-01", true),
            ("find --list runs well --show a,b --undecided", true),
            ("why A-1 due", true),
            ("due --within 30 --csv --author find", true),
            ("rules --use f --from 2026-07-01 --dry-run", true),
            ("rate tube x", true),
            ("trace A-1 --only runs,moves", true),
            ("load a b --dry-run", true),
            // What it does not read, or must not.
            ("--author due find true", false),
            ("find --help", false),
            ("help find", false),
            ("find --limit x", false),
            ("find --version", false),
            ("due find", false),
            ("rules --from 2026-07-01", false),
            ("find true --json --csv", false),
            ("bundle out x", false),
            ("", false),
        ] {
            let words: Vec<OsString> =
                std::iter::once("pipelore").chain(line.split(' ')).map(OsString::from).collect();
            let own = alone(&words).map(|cli| format!("{cli:?}"));
            assert_eq!(own.is_some(), read, "{line}");
            if read {
                let whole = Cli::try_parse_from(&words).map(|cli| format!("{cli:?}"));
                assert_eq!(own, whole.ok(), "{line}");
            }
        }
    }
}
