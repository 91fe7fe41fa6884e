//! What is said of words of the command line that cannot be read: what is wrong, what was likely meant,
//! and an example of the command that works.

use std::ffi::OsString;

use clap::error::{ContextKind, ContextValue, ErrorKind};

use super::failure::{Failure, usage};
use crate::model::nearest_word;

/// Words that people try, each with the command that does it.
const TRIED: &[(&str, &str)] = &[
    ("search", "find FILTER"),
    ("query", "find FILTER"),
    ("ask", "find FILTER"),
    ("joints", "find true"),
    ("fields", "find --fields"),
    ("explain", "why SERIAL FILTER"),
    ("overdue", "due"),
    ("work", "due --jobs"),
    ("jobs", "due --jobs"),
    ("inventory", "stock"),
    ("status", "stock"),
    ("import", "load FILE"),
    ("add", "enter KIND"),
    ("record", "enter KIND"),
    ("inspect", "enter inspection"),
    ("amend", "enter amend"),
    ("correct", "enter amend"),
    ("edit", "enter amend"),
    ("undo", "strike ENTRY"),
    ("delete", "strike ENTRY"),
    ("remove", "strike ENTRY"),
    ("history", "trace SERIAL"),
    ("life", "trace SERIAL"),
    ("log", "journal"),
    ("today", "journal"),
    ("yesterday", "journal yesterday"),
    ("entry", "show ENTRY"),
    ("wells", "list wells"),
    ("runs", "list runs"),
    ("strings", "list strings"),
    ("hires", "list hires"),
    ("rigs", "list rigs"),
    ("places", "list places"),
    ("locations", "list places"),
    ("sites", "list sites"),
    ("instruments", "list instruments"),
    ("gauges", "list instruments"),
    ("class", "assess SERIAL"),
    ("grade", "assess SERIAL"),
    ("sisters", "kin SERIAL"),
    ("run", "exposure --run RUN"),
    ("damage", "exposure SERIAL"),
    ("torque", "rate connection"),
    ("page", "dossier SERIAL -o FILE.html"),
    ("invoice", "statement HIRE"),
    ("check", "verify"),
    ("copy", "backup FILE"),
    ("export", "bundle out FILE, or --csv behind a question"),
    ("send", "bundle out FILE"),
    ("receive", "bundle in FILE"),
    ("init", "new"),
    ("create", "new"),
];

/// Options that people try of commands that do it otherwise, each with what does it. An empty command is
/// any. Of what other commands have, those are named.
const TRIED_OPTIONS: &[(&str, &str, &str)] = &[
    ("find", "--string", "pipelore find 'string = \"K1\"'"),
    ("find", "--serial", "pipelore find 'serial in (\"K1-0401\", \"K1-0402\")'"),
    ("find", "--hire", "pipelore find 'any hire (name = \"H-36\")'"),
    ("find", "--location", "pipelore find 'location = \"Harrow Yard\"'"),
    ("find", "--at", "pipelore find 'location = \"Harrow Yard\"'"),
    ("find", "--class", "pipelore find 'class = premium'"),
    ("find", "--well", "pipelore find 'any run (well = \"Larkfield 2H\")'"),
    ("find", "--run", "pipelore find 'any run (name = \"K1-R07\")'"),
    ("find", "--since", "pipelore find 'any run since 2026-01-01'"),
    ("find", "--columns", "pipelore find FILTER --show 'serial,hours'"),
    ("find", "--where", "pipelore find 'class = premium'"),
    ("find", "--group", "pipelore find FILTER --by class"),
    ("find", "--order", "pipelore find FILTER --sort -hours"),
    ("stock", "--string", "pipelore stock 'string = \"K1\"'"),
    ("stock", "--location", "pipelore stock 'location = \"Harrow Yard\"'"),
    ("stock", "--at", "pipelore stock 'location = \"Harrow Yard\"'"),
    ("forecast", "--string", "pipelore forecast 'string = \"K1\"'"),
    (
        "exposure",
        "--string",
        "pipelore find 'string = \"K1\"' --show 'serial,hours,revolutions,damage'",
    ),
    ("exposure", "--serial", "pipelore exposure K1-0417"),
    ("trace", "--string", "pipelore dossier --string K1 -o k1.html"),
    ("trace", "--serial", "pipelore trace K1-0417"),
    ("trace", "--to", "pipelore trace K1-0417 --as-of 2026-01-01"),
    ("kin", "--serial", "pipelore kin K1-0417"),
    ("why", "--serial", "pipelore why K1-0417 'class = premium'"),
    ("statement", "--hire", "pipelore statement H-36"),
    ("due", "--location", "pipelore due 'location = \"Harrow Yard\"'"),
    ("due", "--at", "pipelore due 'location = \"Harrow Yard\"'"),
    ("due", "--to", "pipelore due --within '30 days'"),
    ("due", "--until", "pipelore due --within '30 days'"),
    ("due", "--days", "pipelore due --within '30 days'"),
    ("due", "--all", "pipelore due --wide"),
    ("forecast", "--to", "pipelore forecast --months 12"),
    ("forecast", "--within", "pipelore forecast --months 12"),
    (
        "enter",
        "--to",
        "where it goes is a field: pipelore enter move serial=K1-0401 location='Rig 9'",
    ),
    (
        "enter",
        "--date",
        "the day is a field: pipelore enter move serial=K1-0401 date=2026-06-12 location='Rig 9'",
    ),
    ("enter", "--serial", "the joint is a field: pipelore enter note serial=K1-0401 text='seen'"),
    (
        "enter",
        "--date-order",
        "days are entered as 2026-06-12; in a file: pipelore load FILE --date-order day-first",
    ),
    ("journal", "--until", "pipelore journal --since 2026-06-01 --to 2026-06-05"),
    ("journal", "--author", "pipelore journal --since 2026-06-01 --by NAME"),
    ("entries", "--to", "pipelore journal --since 2026-06-01 --to 2026-06-05"),
    ("bundle", "--to", "the file is named first: pipelore bundle out rig-14.jsonl"),
    ("backup", "--to", "pipelore backup yard-2026-06-15.pipelore"),
    ("load", "--date-format", "pipelore load FILE --date-order day-first"),
    (
        "load",
        "--string",
        "the string is a column of the file, or pipelore load FILE --set string=K1",
    ),
    ("", "--date", "pipelore … --as-of 2026-06-05 asks what was true that day"),
    ("", "--format", "--json, --json-lines, --csv or --xlsx FILE"),
    ("", "--output", "--json, --json-lines, --csv or --xlsx FILE"),
    ("", "--metric", "--units metric"),
    (
        "",
        "--date-order",
        "pipelore load FILE --date-order day-first; days on the command line are written 2026-06-12",
    ),
];

/// What to say of words that cannot be read.
pub(super) fn failure(error: &clap::Error, words: &[OsString], whole: clap::Command) -> Failure {
    let at = Place::of(words, whole);
    let failure = match error.kind() {
        ErrorKind::InvalidSubcommand => at.no_command(&text(error, ContextKind::InvalidSubcommand)),
        ErrorKind::UnknownArgument => at.no_option(&text(error, ContextKind::InvalidArg), words),
        ErrorKind::MissingRequiredArgument => {
            usage(format!("{} lacks {}", at.name(), list(error, ContextKind::InvalidArg)))
        }
        ErrorKind::MissingSubcommand => {
            usage(format!("{} lacks what it is asked for: {}", at.name(), at.below().join(", ")))
        }
        ErrorKind::ValueValidation if at.path == ["entries"] => {
            as_told(error).hint("since a day: pipelore journal --since 2026-06-01 --each")
        }
        _ => as_told(error),
    };
    at.helped(failure)
}

/// What the words are about: a command, or a part of one.
struct Place {
    whole: clap::Command,
    command: clap::Command,
    /// Its name behind that of the program, `bundle out`; empty before there is one.
    path: Vec<String>,
}

impl Place {
    /// The command that the words name, as far as they name one.
    fn of(words: &[OsString], mut whole: clap::Command) -> Self {
        whole.build();
        let (mut command, mut path) = (whole.clone(), Vec::new());
        for word in words.iter().skip(1) {
            let Some(below) = command.find_subcommand(word) else { continue };
            path.push(below.get_name().to_owned());
            command = below.clone();
        }
        Self { whole, command, path }
    }

    fn name(&self) -> String {
        format!("`pipelore {}`", self.path.join(" ")).replace(" `", "`")
    }

    fn below(&self) -> Vec<&str> {
        let all = self.command.get_subcommands().map(clap::Command::get_name);
        all.filter(|name| *name != "help").collect()
    }

    fn no_command(&self, word: &str) -> Failure {
        let path = self.path.join(" ");
        let said = format!("there is no command '{}'", format!("{path} {word}").trim());
        let tried = TRIED.iter().find(|(tried, _)| tried.eq_ignore_ascii_case(word));
        if let (Some((_, command)), true) = (tried, self.path.is_empty()) {
            return usage(said).hint(format!("pipelore {command}"));
        }
        let failure = usage(said);
        match nearest_word(word, self.below()) {
            Some(near) => {
                let line = format!("pipelore {path} {near}").replace("  ", " ");
                failure.hint(format!("did you mean '{near}'? {line}"))
            }
            None if self.path.is_empty() => failure,
            None => failure.hint(format!("known: {}", self.below().join(", "))),
        }
    }

    fn no_option(&self, word: &str, words: &[OsString]) -> Failure {
        let first = self.path.first().map_or("", String::as_str);
        if !word.starts_with('-') {
            let failure = usage(format!("{} does not know what to do with '{word}'", self.name()));
            let filters = ["find", "due", "why", "stock", "forecast"].contains(&first);
            return match filters.then(|| in_quotes(first, words)).flatten() {
                Some(line) => failure.hint(format!("a filter is one word, in quotes: {line}")),
                None => failure,
            };
        }
        let option = word.split('=').next().unwrap_or(word);
        let failure = usage(format!("{} has no option {option}", self.name()));
        let known = |of: &str| {
            TRIED_OPTIONS.iter().find(|(command, tried, _)| *command == of && *tried == option)
        };
        if let Some((.., does)) = known(first).or_else(|| known("")) {
            return failure.hint(*does);
        }
        let own = options(&self.command);
        if let Some(near) = nearest_word(option, own.iter().map(String::as_str)) {
            return failure.hint(format!("did you mean {near}?"));
        }
        let has = |command: &&clap::Command| options(command).iter().any(|o| o == option);
        let others: Vec<&str> =
            self.whole.get_subcommands().filter(has).map(clap::Command::get_name).collect();
        if others.is_empty() {
            failure
        } else {
            failure.hint(format!(
                "{} {} it",
                others.join(", "),
                if others.len() == 1 { "has" } else { "have" }
            ))
        }
    }

    /// The failure with an example of the command, and where to read on.
    fn helped(&self, failure: Failure) -> Failure {
        if self.path.is_empty() {
            return failure.hint("all commands: pipelore help");
        }
        let about = self.command.get_long_about().map(ToString::to_string).unwrap_or_default();
        let example = about.lines().find_map(|line| line.strip_prefix("Example: "));
        let help = format!("pipelore help {}", self.path.join(" "));
        match example {
            Some(example) => {
                failure.hint(format!("as in: {example}")).hint(format!("all of it: {help}"))
            }
            None => failure.hint(format!("all of it: {help}")),
        }
    }
}

/// Long options of a command's own.
fn options(command: &clap::Command) -> Vec<String> {
    command
        .get_arguments()
        .filter_map(clap::Arg::get_long)
        .map(|long| format!("--{long}"))
        .collect()
}

/// The line with the words of its filter as one, where nothing else stands there.
fn in_quotes(command: &str, words: &[OsString]) -> Option<String> {
    let at = words.iter().position(|word| word == command)?;
    let after: Option<Vec<&str>> = words[at + 1..].iter().map(|word| word.to_str()).collect();
    let after = after?;
    if after.iter().any(|word| word.contains('\'')) {
        return None;
    }
    let (filter, options) =
        after.split_at(after.iter().position(|word| word.starts_with("--")).unwrap_or(after.len()));
    let (serial, filter) = match command {
        "why" => filter.split_first().map(|(serial, rest)| (format!("{serial} "), rest))?,
        _ => (String::new(), filter),
    };
    let options: String = options
        .iter()
        .map(|word| if word.contains(' ') { format!(" '{word}'") } else { format!(" {word}") })
        .collect();
    Some(format!("pipelore {command} {serial}'{}'{options}", filter.join(" ")))
}

fn list(error: &clap::Error, of: ContextKind) -> String {
    match error.get(of) {
        Some(ContextValue::Strings(all)) => all.join(", "),
        Some(ContextValue::String(one)) => one.clone(),
        _ => String::new(),
    }
}

fn text(error: &clap::Error, of: ContextKind) -> String {
    list(error, of)
}

/// What is wrong as the reader of the words tells it, without its lines on how the command is used.
fn as_told(error: &clap::Error) -> Failure {
    let text = error.render().to_string();
    let lines = text.lines().map(str::trim).filter(|line| !line.is_empty());
    let mut lines = lines.take_while(|line| !line.starts_with("Usage:"));
    let message = lines.next().unwrap_or_default().trim_start_matches("error: ").to_owned();
    let mut failure = usage(message);
    for line in lines.filter(|line| !line.starts_with("For more information")) {
        match line.strip_prefix("tip: ") {
            Some(tip) => failure = failure.hint(tip),
            None => failure = failure.block([line.to_owned()]),
        }
    }
    failure
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::COMMANDS;

    /// A word that is tried is no command, and the one that is named for it is; likewise options.
    #[test]
    fn what_is_named_for_a_tried_word_is_a_command() {
        let whole = COMMANDS.whole();
        let known = |word: &str| whole.find_subcommand(word).is_some();
        for (tried, command) in TRIED {
            let first = command.split([' ', ',']).next();
            assert!(!known(tried) && first.is_some_and(known), "{tried}: {command}");
        }
        for (command, option, does) in TRIED_OPTIONS {
            if let Some(command) = whole.find_subcommand(command) {
                assert!(
                    !options(command).iter().any(|o| o == option),
                    "{}{option}",
                    command.get_name()
                );
            } else {
                assert!(command.is_empty(), "{command} {option}");
            }
            let Some((_, line)) = does.split_once("pipelore ") else { continue };
            let first = line.split(' ').next();
            assert!(first == Some("…") || first.is_some_and(known), "{does}");
        }
    }
}
