//! `rebuild`: derives everything again, under another fatigue method if one is named.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, Kind, usage};
use super::output;
use crate::report::method::{self, Choice};
use crate::report::{Block, Report};
use crate::store::{Access, AppendOptions, Book};

/// Throw derived rows away and derive them again from the entries
///
/// Example: pipelore rebuild --method "DNV-RP-C203 2024-10 B1" --dry-run
#[derive(Debug, Args)]
pub(super) struct RebuildArgs {
    /// Adopt a fatigue method first and say how the order of joints by damage moved: a TOML file, a
    /// curve, or a standard, edition and class
    #[arg(long, value_name = "FILE|NAME")]
    method: Option<String>,
    /// Mean-stress rule of a method given by name: none, goodman, gerber or soderberg
    #[arg(long, value_name = "RULE", requires = "method")]
    mean_stress: Option<String>,
    /// Try the method on a copy; the book stays as it is
    #[arg(long, requires = "method")]
    dry_run: bool,
}

impl Command for RebuildArgs {
    fn only_now(&self) -> Option<&'static str> {
        Some("rebuild")
    }

    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        if let Some(word) = &self.method {
            let choice = choice(word, self.mean_stress.as_deref())?;
            return if self.dry_run { try_out(&choice, context) } else { adopt(&choice, context) };
        }
        let mut book = context.open(Access::Write)?;
        book.rebuild()?;
        book.gather_statistics()?;
        let units = context.units(&book);
        let entries = book.length()?;
        book.close()?;
        let mut report = Report::new("rebuild");
        report.push(Block::Text(format!("derived again from {entries} entries")));
        output::print(&report, context, units)
    }
}

/// A file of that name, else a method of that name.
fn choice(word: &str, mean_stress: Option<&str>) -> Result<Choice, Failure> {
    let path = Path::new(word);
    if !path.is_file() {
        return Ok(Choice::named(word, mean_stress)?);
    }
    if mean_stress.is_some() {
        return Err(usage("a method in a file names its mean-stress rule itself"));
    }
    let text = std::fs::read_to_string(path)
        .map_err(|e| Failure::new(Kind::Input, format!("{word}: {e}")))?;
    let stem = path.file_stem().and_then(|s| s.to_str()).unwrap_or("method");
    Choice::of_file(stem, text).map_err(|e| Failure::new(Kind::Input, format!("{word}: {e}")))
}

/// Adopts the method in the book; its entry derives everything again.
fn adopt(choice: &Choice, context: &Context) -> Result<ExitCode, Failure> {
    let mut book = context.open(Access::Write)?;
    let report = under(&mut book, choice, context, true)?;
    let units = context.units(&book);
    book.close()?;
    output::print(&report, context, units)
}

/// Adopts the method in a copy that is thrown away.
fn try_out(choice: &Choice, context: &Context) -> Result<ExitCode, Failure> {
    let book = context.open(Access::Read)?;
    let units = context.units(&book);
    let copy = Copy::of(&book)?;
    let mut trial = Book::open(&copy.book(), Access::Write)?;
    let report = under(&mut trial, choice, context, false)?;
    trial.close()?;
    output::print(&report, context, units)
}

fn under(
    book: &mut Book,
    choice: &Choice,
    context: &Context,
    adopted: bool,
) -> Result<Report, Failure> {
    let old = method::in_force(book)?.name;
    let before = method::damages(book)?;
    let done = book.append(
        &[choice.draft(context.present())],
        &context.stamp(),
        &AppendOptions::default(),
    )?;
    let after = method::damages(book)?;
    let mut report = method::moved((&old, &before), (&choice.name, &after), adopted);
    let now = method::in_force(book)?.name;
    if now != choice.name {
        report.push(Block::Note(format!(
            "'{now}' stays in force: its adoption is dated later than this one"
        )));
    }
    match done.head.filter(|_| adopted) {
        Some(head) => report.push(Block::Text(format!("head {head}"))),
        None => report.push(Block::Note(
            "tried on a copy: the book keeps its method; leave --dry-run out to adopt".to_owned(),
        )),
    }
    Ok(report)
}

/// A copy of the book in a folder of its own, removed with it.
struct Copy {
    folder: PathBuf,
}

impl Copy {
    fn of(book: &Book) -> Result<Self, Failure> {
        let name = format!("pipelore-trial-{}", std::process::id());
        let folder = std::env::temp_dir().join(name);
        std::fs::create_dir(&folder)
            .map_err(|e| Failure::new(Kind::Book, format!("{}: {e}", folder.display())))?;
        let copy = Self { folder };
        book.backup(&copy.book())?;
        Ok(copy)
    }

    fn book(&self) -> PathBuf {
        self.folder.join("trial.pipelore")
    }
}

impl Drop for Copy {
    fn drop(&mut self) {
        // What stays behind in the temporary folder harms nobody.
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}
