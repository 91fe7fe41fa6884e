//! `dossier`: a joint or a string as one page.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, Kind};
use super::output;
use crate::app::{PROGRAM, Session};
use crate::render::html::{self, Page};
use crate::report::Report;
use crate::store::Access;

/// Everything about a joint, or a string, as one page to read, print and check
///
/// Example: pipelore dossier K1-0417 -o k1-0417.html
///
/// The page needs nothing but itself: no scripts, no network. It carries the hashes of its entries,
/// the digests of their files and the head of the book, which `verify --head` finds again. With
/// --json the same is printed as data.
#[derive(Debug, Args)]
pub(super) struct DossierArgs {
    /// Serial of the joint; SERIAL@ENTRY where two joints share it
    #[arg(value_name = "SERIAL", required_unless_present = "string", conflicts_with = "string")]
    serial: Option<String>,
    /// Every joint that stands in this string, with an index
    #[arg(long, value_name = "STRING")]
    string: Option<String>,
    /// Page to write; nothing may stand there
    #[arg(long, short, value_name = "FILE", required_unless_present = "json")]
    output: Option<PathBuf>,
}

impl Command for DossierArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let mut session = context.open(Access::Read)?;
        let (report, title) = match (&self.string, &self.serial) {
            (Some(string), _) => {
                (session.dossier_of_string(string)?, format!("Dossier of string {string}"))
            }
            (None, Some(serial)) => (session.dossier(serial)?, format!("Dossier of {serial}")),
            (None, None) => return Err(Failure::new(Kind::Usage, "name a joint or a string")),
        };
        let Some(output) = &self.output else {
            return output::answer(&report, context, &session);
        };
        let subtitle = format!("as the book of {} has it", session.site());
        write(context, &session, report, (title, subtitle), output)
    }
}

/// Writes a report as a page with a list of its parts.
pub(super) fn write(
    context: &Context,
    session: &Session,
    report: Report,
    (title, subtitle): (String, String),
    file: &Path,
) -> Result<ExitCode, Failure> {
    let page = Page { title, subtitle, contents: true, ..Page::default() };
    write_page(context, session, report, page, file)
}

/// Writes a report as a page that says when and with what it was made, and at which head; of a look back
/// first of all from where it looks.
pub(super) fn write_page(
    context: &Context,
    session: &Session,
    mut report: Report,
    page: Page,
    file: &Path,
) -> Result<ExitCode, Failure> {
    let head = session.head()?.unwrap_or_else(|| "no entry".to_owned());
    // The clock of a look back stands in the past; the page is made today.
    let made = context.caller.now.at.at(session.clock()).format("%Y-%m-%d %H:%M %:z");
    report.blocks.splice(0..0, session.view().iter().cloned());
    let made = format!("Made {made} with {PROGRAM}. Head of the book: {head}");
    let page = Page { made, ..page };
    let text = html::render(&report, &page, session.units())
        .map_err(|e| Failure::from_error(Kind::Book, &e))?;
    output::write_new(file, text.as_bytes())?;
    output::write(&format!("written to {}\nhead {head}\n", file.display()))
}
