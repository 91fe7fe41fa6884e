//! `edition`: the sets by which the book judges; adopting those of another edition.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, Kind, usage};
use super::output;
use super::sets::{SHIPPED, from, of_file, text_of};
use crate::app::{AdoptHow, Session, editions};
use crate::condition::Edition;
use crate::model::{SetKind, Vocabulary};

/// The sets by which this book judges; adopt those that ship with the program, or of a file
///
/// Example: pipelore edition --use shipped --only findings,needs --dry-run
///
/// An edition is a text with limits, findings (what each means), methods (what each can see), needs
/// (what must be known of a part), works (what repairs do), fatigue (the method) and rules. A book is
/// founded on the edition that shipped when it was begun, and keeps it as an entry: a newer program
/// changes no verdict by itself. It says when it ships a newer one, and adopts it when told to.
#[derive(Debug, Args)]
pub(super) struct EditionArgs {
    /// Adopt an edition: a file, or `shipped` for the one that ships
    #[arg(long = "use", value_name = "FILE", conflicts_with = "text")]
    adopt: Option<PathBuf>,
    /// Only these sets of it, with commas between [default: all that it brings]
    #[arg(long, value_name = "SETS", value_delimiter = ',', requires = "adopt")]
    only: Vec<String>,
    /// First day, or time, from which they are in force [default: now]
    #[arg(long, value_name = "DATE", requires = "adopt")]
    from: Option<String>,
    /// Why they are adopted
    #[arg(long, value_name = "TEXT", requires = "adopt")]
    remark: Option<String>,
    /// Say what adopting would change, write nothing
    #[arg(long, requires = "adopt")]
    dry_run: bool,
    /// Print the edition that ships as a file
    #[arg(long)]
    text: bool,
}

impl Command for EditionArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        if self.text {
            return output::write(Edition::shipped().text());
        }
        let Some(file) = &self.adopt else {
            let session = context.open_if_there()?;
            let report = editions(session.as_ref(), &context.caller)?;
            let view = session.as_ref().map_or(&[][..], Session::view);
            return output::print_with_view(&report, context, context.units(), view);
        };
        context.only_now("edition --use")?;
        let edition = self.read(file)?;
        let mut session = context.open_to_adopt(self.dry_run)?;
        let from = from(self.from.as_deref(), session.clock())?;
        let how = AdoptHow { from, dry_run: self.dry_run };
        let report = session.adopt_edition(&edition, self.remark.as_deref(), how);
        output::close_and_tell(report.map_err(|e| of_file(file, e)), context, session)
    }
}

impl EditionArgs {
    /// What is to be adopted of an edition.
    fn read(&self, file: &Path) -> Result<Edition, Failure> {
        let edition = if file == Path::new(SHIPPED) {
            Edition::shipped().clone()
        } else {
            Edition::parse(&text_of(file)?).map_err(|e| Failure::from_error(Kind::Input, &e))?
        };
        if self.only.is_empty() {
            return Ok(edition);
        }
        let only = self.only.iter().map(|w| SetKind::from_word(w));
        let only: Vec<SetKind> = only.collect::<Result<_, _>>().map_err(usage)?;
        if let Some(lacks) = only.iter().find(|k| edition.set(**k).is_none()) {
            return Err(usage(format!("{} brings no {lacks}", edition.name())));
        }
        Ok(edition.only(&only))
    }
}
