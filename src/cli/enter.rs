//! `enter`: one fact from the command line, read as the one row of a file would be; inspections
//! also one joint after another, asked for at the terminal.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::Failure;
use super::{enter_inspection, output};
use crate::app::words;
use crate::intake::Kind;
use crate::model::fold;
use crate::store::AppendOptions;

/// The word for a correction of an entry.
const AMEND: &str = "amend";

/// Enter one fact: a joint, an inspection, a repair, a make-up, a move, an event, a decision …
///
/// Example: pipelore enter repair joint=K1-0417 work=recut end=pin shop="Harrow Yard"
///
/// An inspection shows its verdict at once. Without a joint, or with --string, inspections are asked
/// for one joint after another: pipelore enter inspection --string K1 inspector="A. Reader". Each
/// joint is written when it is kept; end of input or Ctrl-C loses only the one at hand. A repair is
/// held against its limits and against what the book knows.
///
/// `enter amend` corrects fields of an entry and keeps what rests on it; an empty value says that
/// nothing is known: pipelore enter amend entry=yard-12 grade=S-135 reason="typed wrong". For the
/// certificate of a joint write joint=SERIAL in place of the entry, for its date date=DATE.
#[derive(Debug, Args)]
pub(super) struct EnterArgs {
    /// Kind of fact: joint, opening, identity, inspection, repair, makeup, move, gap, hours, hire-out,
    /// hire-in, event, failure, instrument, check, decision, note; or amend
    #[arg(value_name = "KIND")]
    pub kind: String,
    /// What is to be entered; the fields are those of a file of that kind
    #[arg(value_name = "FIELD=VALUE")]
    pub fields: Vec<String>,
    /// Ask for inspections of the joints of a string, one after another
    #[arg(long, value_name = "STRING")]
    pub string: Option<String>,
    /// Keep a fact that excludes another, flagged until a decision settles it
    #[arg(long)]
    pub keep_conflicts: bool,
    /// Why it is written all the same where it is refused: joints sent out on hire that are not fit, kept
    /// as a decision; or a reading that makes steel grow
    #[arg(long, value_name = "REASON")]
    pub insist: Option<String>,
    /// Say what would be entered, write nothing
    #[arg(long)]
    pub dry_run: bool,
}

impl Command for EnterArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        if fold(&self.kind) == AMEND {
            let mut session = context.open_to_write(self.dry_run)?;
            let report = session.amend(words::pairs(&self.fields)?, self.dry_run);
            return output::close_and_tell(report, context, session);
        }
        let kind = super::load::kind(&self.kind)?;
        let fields = words::pairs(&self.fields)?;
        let asks = self.string.is_some() || !words::names(&fields, words::JOINT);
        if kind == Kind::Inspections && asks {
            return enter_inspection::run(self, &fields, context);
        }
        let mut session = context.open_to_write(self.dry_run)?;
        let report = session.enter(kind, fields, self.how(), self.insist.as_deref());
        output::close_and_tell(report, context, session)
    }
}

impl EnterArgs {
    /// How a fact is appended.
    pub(super) const fn how(&self) -> AppendOptions {
        AppendOptions { keep_conflicts: self.keep_conflicts, dry_run: self.dry_run }
    }
}
