//! What a command is, and how the command line is read.
//!
//! A command is a file of this room: its arguments, and what is done with them. It is known to the
//! program by its line in the table of `mod.rs`.

use std::ffi::OsString;
use std::fmt;
use std::process::ExitCode;

use clap::error::ErrorKind;
use clap::{ArgMatches, Args, CommandFactory, FromArgMatches};

use super::context::{Context, Global};
use super::failure::Failure;
use super::wrong_words;

/// The arguments of a command, as typed.
pub(super) trait Command: fmt::Debug {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure>;
}

/// Whether the answers of a command say that a joint may run. Those that do say it as every other one
/// does, by `report::fitness`, with each search for cracks and whom to defer to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Fit {
    Told,
    /// Nothing in its answers can be taken for leave to run a joint.
    NotTold,
}

/// Whether a command can write to a book, or make one. Those that can are put through every fault of
/// the campaign in `tests/it/faults/every.rs`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Writes {
    Book,
    /// At most a file that the user names.
    Nothing,
}

/// A line of the table of commands.
pub(super) struct Entry {
    name: &'static str,
    fit: Fit,
    writes: Writes,
    /// It may be asked of the book as it was.
    past: bool,
    set_up: fn(clap::Command) -> clap::Command,
    read: fn(&ArgMatches) -> Result<Box<dyn Command>, clap::Error>,
}

impl Entry {
    /// A command that writes, or looks at the file itself: it knows only the present.
    pub(super) const fn now<C: Command + Args + 'static>(
        name: &'static str,
        fit: Fit,
        writes: Writes,
    ) -> Self {
        Self::of::<C>(name, fit, writes, false)
    }

    /// A question.
    pub(super) const fn any_time<C: Command + Args + 'static>(
        name: &'static str,
        fit: Fit,
        writes: Writes,
    ) -> Self {
        Self::of::<C>(name, fit, writes, true)
    }

    const fn of<C: Command + Args + 'static>(
        name: &'static str,
        fit: Fit,
        writes: Writes,
        past: bool,
    ) -> Self {
        Self {
            name,
            fit,
            writes,
            past,
            set_up: C::augment_args,
            read: |matches| Ok(Box::new(C::from_arg_matches(matches)?)),
        }
    }

    fn definition(&self) -> clap::Command {
        let command = (self.set_up)(clap::Command::new(self.name));
        let told = match self.fit {
            Fit::Told => Some(TOLD),
            Fit::NotTold => None,
        };
        let written = match self.writes {
            Writes::Book => Some(WRITTEN),
            Writes::Nothing => None,
        };
        let below: Vec<&str> = told.into_iter().chain(written).collect();
        if below.is_empty() { command } else { command.after_long_help(below.join("\n\n")) }
    }
}

/// Options by which commands write that only ask without them.
const BY_OPTION: [&str; 3] = ["--use", "--set", "--note-head"];

/// Stands below the help of commands that say whether a joint is fit.
const TOLD: &str = "Whether a joint is fit to run is what the record and the rules in force allow, no \
    more: the governing standard, the maker, local codes and licensed inspectors come first.";

/// Stands below the help of commands that can write to a book.
const WRITTEN: &str = "What is written is written whole or not at all. Exit code 6: it was written, but \
    that could not be shown; do not repeat it.";

/// The commands, in the order in which help names them.
#[derive(Clone, Copy)]
pub(super) struct Commands(pub &'static [Entry]);

impl fmt::Debug for Commands {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_list().entries(self.0.iter().map(|entry| entry.name)).finish()
    }
}

/// A command line that was read.
pub(super) struct CommandLine {
    pub global: Global,
    entry: &'static Entry,
    command: Box<dyn Command>,
}

impl Commands {
    /// Reads the words of this process; on wrong usage says so, in JSON where that is asked for.
    pub(super) fn of_process(self) -> Result<CommandLine, ExitCode> {
        let words: Vec<_> = std::env::args_os().collect();
        if let Some(line) = self.alone(&words) {
            return Ok(line);
        }
        self.read(&words).map_err(|e| {
            // Help and the version are no errors: they are printed as they are.
            if !e.use_stderr() || e.kind() == ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand {
                e.exit()
            }
            let json = words.iter().any(|w| w == "--json" || w == "--json-lines");
            wrong_words::failure(&e, &words, self.whole()).report(json)
        })
    }

    /// Reads words by the whole definition; the first one is the program.
    pub(super) fn read(self, words: &[OsString]) -> Result<CommandLine, clap::Error> {
        self.of(&self.whole().try_get_matches_from(words)?)
    }

    /// The arguments of one command, read without setting up those of all the others, which took
    /// longer than a small question to the book. What does not read so, help and errors among it, is
    /// read again by the whole definition. The word that names the command may be a value of an
    /// option: then what is left does not read either.
    fn alone(self, words: &[OsString]) -> Option<CommandLine> {
        let entry =
            words.iter().skip(1).find_map(|w| self.0.iter().find(|entry| w == entry.name))?;
        let one = Global::augment_args(clap::Command::new(env!("CARGO_PKG_NAME")))
            .subcommand_required(true)
            .subcommand(entry.definition());
        self.of(&one.try_get_matches_from(words).ok()?).ok()
    }

    fn of(self, matches: &ArgMatches) -> Result<CommandLine, clap::Error> {
        let unknown = || clap::Error::new(ErrorKind::InvalidSubcommand);
        let (name, own) = matches.subcommand().ok_or_else(unknown)?;
        let entry = self.0.iter().find(|entry| entry.name == name).ok_or_else(unknown)?;
        let global = Global::from_arg_matches(matches)?;
        Ok(CommandLine { global, entry, command: (entry.read)(own)? })
    }

    /// The whole definition, for help, shell completion and the manual page too.
    pub(super) fn whole(self) -> clap::Command {
        Global::command()
            .subcommand_required(true)
            .arg_required_else_help(true)
            .subcommands(self.0.iter().map(Entry::definition))
    }
}

impl CommandLine {
    /// Whether these words of it write to no book. What may be asked of the past writes by few options
    /// alone, and so does what proves a book.
    pub(super) fn only_asks(&self, words: &[OsString]) -> bool {
        let writes = |word: &OsString| {
            let word = word.to_string_lossy();
            BY_OPTION.iter().any(|option| word.split('=').next() == Some(option))
        };
        let asks = self.entry.past || self.entry.name == "verify";
        self.entry.writes == Writes::Nothing || asks && !words.iter().any(writes)
    }

    /// Does what the command does.
    pub(super) fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        if !self.entry.past {
            context.only_now(self.entry.name)?;
        }
        self.command.run(context)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::COMMANDS;

    fn words(line: &str) -> Vec<OsString> {
        std::iter::once("pipelore").chain(line.split(' ')).map(OsString::from).collect()
    }

    #[test]
    fn definitions_hold_together() {
        COMMANDS.whole().debug_assert();
    }

    #[test]
    fn one_command_reads_as_the_whole_does() {
        for (line, read) in [
            ("find true", true),
            ("find true --json --book find", true),
            ("--book b --units us --now 2026-01-01 find true --limit 3 --as-of 2026-01-01", true),
            ("find --list runs well --show a,b --undecided", true),
            ("why A-1 due", true),
            ("due find", true),
            ("due --within 30 --csv --author find", true),
            ("rules --use f --from 2026-07-01 --dry-run", true),
            ("rate tube x", true),
            ("trace A-1 --only runs,moves", true),
            ("load a b --dry-run", true),
            ("bundle out x", true),
            ("seal key k --holder h", true),
            ("man", true),
            // What it does not read, or must not.
            ("--author due find true", false),
            ("find --help", false),
            ("help find", false),
            ("find --limit x", false),
            ("find --version", false),
            ("verify find", false),
            ("rules --from 2026-07-01", false),
            ("find true --json --csv", false),
            ("bundle", false),
            ("", false),
        ] {
            let words = words(line);
            let own =
                COMMANDS.alone(&words).map(|read| format!("{:?} {:?}", read.global, read.command));
            assert_eq!(own.is_some(), read, "{line}");
            if read {
                let whole = COMMANDS
                    .read(&words)
                    .map(|read| format!("{:?} {:?}", read.global, read.command));
                assert_eq!(own, whole.ok(), "{line}");
            }
        }
    }
}
