//! `load`: takes files in.

use std::io::{self, IsTerminal, Write};
use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, Kind as Failed, usage};
use super::output;
use super::questions::Interview;
use super::sets::text_of;
use super::terminal::Terminal;
use super::written::WrittenArgs;
use crate::app::{Answers, AnswersError, Disk, LoadOptions, Source};
use crate::intake::{Kind, Options, Progress, explain};

/// Take files in: certificates, surveys, runs, inspections, repairs, make-ups, moves …
///
/// Example: pipelore load joints.csv larkfield-1h.csv K1-R01.toml
#[derive(Debug, Args)]
pub(super) struct LoadArgs {
    /// Files and folders, in any order; a run's file names its tally and its log
    #[arg(value_name = "FILE", required_unless_present = "explain")]
    files: Vec<PathBuf>,
    /// List the columns of a kind of file, the titles that they go by, and units; load nothing
    #[arg(long, value_name = "KIND", conflicts_with = "files")]
    explain: Option<String>,
    /// What the files are about, where their header does not tell
    #[arg(long = "as", value_name = "KIND")]
    kind: Option<String>,
    /// What the columns hold: "md [m], inc [deg], azi [deg], -", or "Depth(ft) = depth [ft]"
    #[arg(long, value_name = "COLUMNS")]
    columns: Option<String>,
    /// A value for every row of the file, like well="Larkfield 1H" (can be repeated)
    #[arg(long, value_name = "NAME=VALUE")]
    set: Vec<String>,
    #[command(flatten)]
    written: WrittenArgs,
    /// Whether hidden rows of a sheet count: take or leave
    #[arg(long, value_name = "WHAT")]
    hidden: Option<String>,
    /// How an operating log is cut into segments, as an entry of a run shows it
    #[arg(long, value_name = "RULES")]
    cut: Option<String>,
    /// Keep the good rows of a file that has bad ones, and the other files where nothing of one can be
    /// used; that one still makes the exit code 3
    #[arg(long)]
    partial: bool,
    /// Keep facts that exclude each other, flagged until a decision settles them
    #[arg(long)]
    keep_conflicts: bool,
    /// Why it is taken in all the same where it is refused: joints sent out on hire that are not fit,
    /// kept as a decision; or a reading that makes steel grow
    #[arg(long, value_name = "REASON")]
    insist: Option<String>,
    /// Why files taken in before are read otherwise now: their entries are amended
    #[arg(long, value_name = "REASON")]
    correct: Option<String>,
    /// Ask what no file says also where the input is no terminal; at a terminal it is asked anyway
    #[arg(long)]
    ask: bool,
    /// Do not remember how these files are read: what is said of columns, units, signs and dates is kept
    /// otherwise, and holds for the next files under the same header (see layouts)
    #[arg(long)]
    once: bool,
    /// Say what would be taken in and how columns are read, write nothing
    #[arg(long)]
    dry_run: bool,
    /// Say what each file is taken for and how its columns are read, write nothing
    #[arg(long)]
    plan: bool,
    /// File (TOML) with what is to be said of single files: a table for each, names of options in it
    #[arg(long, value_name = "FILE")]
    answers: Option<PathBuf>,
}

impl Command for LoadArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        if let Some(word) = &self.explain {
            let kind = kind(word)?;
            let report = super::template::columns_of(kind, &explain(kind));
            return output::print(&report, context, context.units());
        }
        let mut how = LoadOptions {
            read: options(self)?,
            partial: self.partial,
            dry_run: self.dry_run || self.plan,
            insist: self.insist.clone(),
            is_past: false,
            correct: self.correct.clone(),
            plan: self.plan || self.dry_run,
            answers: self.answers()?,
            remember: !self.once,
        };
        let files = self
            .files
            .iter()
            .map(|f| f.to_str().ok_or_else(|| usage("a file name is not valid Unicode")))
            .collect::<Result<Vec<&str>, Failure>>()?;
        let mut session = context.open_to_write(how.dry_run)?;
        let from = Source { files: &Disk, watch: &show_progress };
        // Of a load that keeps what it can some is written whatever is answered.
        let asks = (self.ask || Terminal::is_there()) && !self.partial && !context.json;
        let mut interview: Option<Interview<'_>> = None;
        let loaded = loop {
            match session.load_from(&files, &how, &from) {
                Ok(loaded) => break loaded,
                Err(refused) if asks && !session.was_written() => {
                    let ask = interview.get_or_insert_with(|| Interview::new(how.clone()));
                    how = ask.ask(refused)?;
                }
                Err(refused) => return Err(output::met_by(&session, refused.into())),
            }
        };
        let printed = output::close_and_print(&loaded.report, context, session)?;
        Ok(if loaded.refused { Failed::Input.exit_code() } else { printed })
    }
}

impl LoadArgs {
    /// What is said of single files.
    fn answers(&self) -> Result<Answers, Failure> {
        let Some(path) = &self.answers else { return Ok(Answers::default()) };
        text_of(path)?.parse().map_err(|e: AnswersError| usage(format!("{}: {e}", path.display())))
    }
}

/// Options of a read, from the arguments.
fn options(args: &LoadArgs) -> Result<Options, Failure> {
    let mut read = Options { keep_conflicts: args.keep_conflicts, ..Options::default() };
    let one = |text: &Option<String>| text.clone().into_iter().collect::<Vec<_>>();
    for (name, texts) in [
        ("as", one(&args.kind)),
        ("columns", one(&args.columns)),
        ("set", args.set.clone()),
        ("hidden", one(&args.hidden)),
        ("cut", one(&args.cut)),
    ] {
        for text in texts {
            read.say(name, &text).map_err(usage)?;
        }
    }
    args.written.say(&mut read)?;
    Ok(read)
}

/// A kind of file by its word, singular or plural.
pub(super) fn kind(text: &str) -> Result<Kind, Failure> {
    Kind::parse(text).map_err(usage)
}

/// Shows how far reading has come, and takes that away when it is done.
fn show_progress(progress: Option<&Progress>) {
    let mut err = io::stderr().lock();
    if !err.is_terminal() {
        return;
    }
    let line = progress.map_or_else(String::new, bar);
    // A terminal that went away is no reason to stop.
    let _ = write!(err, "\r{line}\u{1b}[K");
    let _ = err.flush();
}

/// Cells of the bar.
const BAR: u64 = 24;

/// How far a read has come: by bytes, where the size of the file is known.
fn bar(p: &Progress) -> String {
    let part = p.of.filter(|of| *of > 0).map(|of| {
        let read = p.bytes.min(of);
        let full = usize::try_from(read * BAR / of).unwrap_or_default();
        let rest = usize::try_from(BAR).unwrap_or_default() - full;
        format!(" [{}{}] {} %", "#".repeat(full), ".".repeat(rest), read * 100 / of)
    });
    format!("{}{} {} rows", crate::intake::tame(&p.file), part.unwrap_or_default(), p.rows)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bar_grows_with_the_bytes() {
        let at = |bytes, of| bar(&Progress { file: "l.csv".to_owned(), bytes, of, rows: 7 });
        assert_eq!(at(0, Some(48)), "l.csv [........................] 0 % 7 rows");
        assert_eq!(at(12, Some(48)), "l.csv [######..................] 25 % 7 rows");
        // A file that grew while it was read.
        assert_eq!(at(50, Some(48)), "l.csv [########################] 100 % 7 rows");
        assert_eq!(
            (at(5, None), at(5, Some(0))),
            ("l.csv 7 rows".to_owned(), "l.csv 7 rows".to_owned())
        );
    }
}
