//! `seal`: signatures under the head of a book.

use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, Subcommand};

use super::bundle::KnownKeyArgs;
use super::command::Command;
use super::context::Context;
use super::failure::{Failure, Kind, usage};
use super::output;
use super::sets::text_of;
use crate::app::Error;
use crate::report::{Block, Cell, Fact, Report};
use crate::store::read_known;

/// Sign the head of the book, and check such signatures
///
/// Example: pipelore seal check rig-14.seal
#[derive(Debug, Args)]
pub(super) struct SealArgs {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    Key(KeyArgs),
    Head(HeadArgs),
    Check(CheckArgs),
    Trust(TrustArgs),
    Keys(KeysArgs),
}

/// Enter the key of a site: what comes of it needs its seal from then on
///
/// Example: pipelore seal trust rig-14.key.pub --reason "handed over by the rig's office"
#[derive(Debug, Args)]
struct TrustArgs {
    /// Public key, as `seal key` wrote it; or several
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// The key is the site's no longer
    #[arg(long)]
    withdraw: bool,
    /// Why
    #[arg(long, value_name = "TEXT")]
    reason: String,
    /// Say what would be, change nothing
    #[arg(long)]
    dry_run: bool,
}

/// List the keys of sites that the book goes by
///
/// Example: pipelore seal keys
#[derive(Debug, Args)]
struct KeysArgs {}

/// Make a key to seal with: a secret file, and a public one for other sites
///
/// Example: pipelore seal key rig-14.key --holder "Rig 14 office"
#[derive(Debug, Args)]
struct KeyArgs {
    /// File for the secret key; the public one gets the same name with .pub
    #[arg(value_name = "KEYFILE")]
    file: PathBuf,
    /// Who holds the secret key, for those who read the public one
    #[arg(long, value_name = "TEXT", default_value = "")]
    holder: String,
}

/// Sign the head of the book's own chain
///
/// Example: pipelore seal head --key rig-14.key -o rig-14.seal
#[derive(Debug, Args)]
struct HeadArgs {
    /// Secret key
    #[arg(long, value_name = "KEYFILE")]
    key: PathBuf,
    /// File to write [default: stdout]
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

/// Check that a seal holds, whose it is, and that the book still holds what it seals
///
/// Example: pipelore seal check rig-14.seal
#[derive(Debug, Args)]
struct CheckArgs {
    /// Seal to check
    #[arg(value_name = "FILE")]
    file: PathBuf,
    #[command(flatten)]
    keys: KnownKeyArgs,
}

impl Command for SealArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        match &self.what {
            What::Key(args) => run_key(args, context),
            What::Head(args) => run_head(args, context),
            What::Check(args) => run_check(args, context),
            What::Trust(args) => {
                let mut session = context.open_to_write(args.dry_run)?;
                let keys =
                    read_known(&args.file).map_err(|e| Failure::new(Kind::Input, e.to_string()))?;
                let report = session.trust(&keys, args.withdraw, &args.reason, args.dry_run);
                output::close_and_tell(report, context, session)
            }
            What::Keys(_) => {
                let session = context.open_whole()?;
                output::answer(&session.trusted()?, context, &session)
            }
        }
    }
}

fn run_key(args: &KeyArgs, context: &Context) -> Result<ExitCode, Failure> {
    let session = context.open_whole()?;
    let report = session.make_key(&args.file, &args.holder)?;
    output::answer_made(&report, context, &session, &args.file)
}

fn run_head(args: &HeadArgs, context: &Context) -> Result<ExitCode, Failure> {
    let session = context.open_whole()?;
    let (text, head) = session.seal_head(&args.key)?;
    let Some(file) = &args.output else { return output::write(&format!("{text}\n")) };
    let mut out = std::fs::OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(file)
        .map_err(|e| usage(format!("{}: {e}", file.display())))?;
    writeln!(out, "{text}")
        .and_then(|()| out.sync_all())
        .map_err(|e| usage(format!("{}: {e}", file.display())))?;
    let mut report = Report::new("seal_head");
    report.push(Block::Facts {
        name: "seal",
        facts: vec![
            Fact::plain("file", "seal", Cell::Text(file.display().to_string())),
            Fact::plain("head", "head", Cell::Text(head)),
        ],
    });
    output::answer_made(&report, context, &session, file)
}

fn run_check(args: &CheckArgs, context: &Context) -> Result<ExitCode, Failure> {
    let refuse = |why: String| Failure::new(Kind::Input, format!("{}: {why}", args.file.display()));
    let text = text_of(&args.file)?;
    let session = context.open_whole()?;
    let checked = session.check_seal(&text, &args.keys.read(context)?);
    let (report, holds) = checked.map_err(|e| match e {
        Error::Seal(why) => refuse(why),
        other => other.into(),
    })?;
    output::answer(&report, context, &session)?;
    Ok(if holds { ExitCode::SUCCESS } else { ExitCode::from(1) })
}
