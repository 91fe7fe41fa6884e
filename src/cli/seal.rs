//! `seal`: signatures under the head of a book.

use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, Subcommand};

use super::bundle::{KnownKeyArgs, known_keys};
use super::command::Command;
use super::context::Context;
use super::failure::{Failure, Kind, usage};
use super::output;
use crate::ledger::{Seal, Sealer};
use crate::report::{Block, Cell, Fact, Report};
use crate::store::{Access, make_key, public_file, read_secret};

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
}

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
    fn only_now(&self) -> Option<&'static str> {
        Some("seal")
    }

    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        match &self.what {
            What::Key(args) => run_key(args, context),
            What::Head(args) => run_head(args, context),
            What::Check(args) => run_check(args, context),
        }
    }
}

fn run_key(args: &KeyArgs, context: &Context) -> Result<ExitCode, Failure> {
    let book = context.open(Access::Read)?;
    let site = book.identity().chain.site.clone();
    let public = make_key(&args.file, site, &args.holder)?;
    let mut report = Report::new("seal_key");
    report.push(Block::Facts {
        name: "key",
        facts: vec![
            Fact::plain("site", "seals for", Cell::Text(public.site.to_string())),
            Fact::plain("secret", "secret key", Cell::Text(args.file.display().to_string())),
            Fact::plain(
                "public",
                "public key",
                Cell::Text(public_file(&args.file).display().to_string()),
            ),
            Fact::plain("ed25519", "Ed25519", Cell::Text(public.key.clone())),
        ],
    });
    report.push(Block::Note(
        "keep the secret key apart from the book; give the public one to the other sites, who add \
         it to their file of known keys"
            .to_owned(),
    ));
    output::print(&report, context, context.units(&book))
}

fn run_head(args: &HeadArgs, context: &Context) -> Result<ExitCode, Failure> {
    let book = context.open(Access::Read)?;
    let secret = read_secret(&args.key)?;
    let head = book.head()?.ok_or_else(|| usage("the book has no entry to seal"))?;
    let seal =
        secret.seal(&head.entry, &head.hash).map_err(|e| Failure::from_error(Kind::Usage, &e))?;
    let text = serde_json::to_string(&seal)
        .map_err(|e| Failure::new(Kind::Book, format!("the seal cannot be written: {e}")))?;
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
            Fact::plain("head", "head", Cell::Text(head.to_string())),
        ],
    });
    output::print(&report, context, context.units(&book))
}

fn run_check(args: &CheckArgs, context: &Context) -> Result<ExitCode, Failure> {
    let refuse = |why: String| Failure::new(Kind::Input, format!("{}: {why}", args.file.display()));
    let text = std::fs::read_to_string(&args.file).map_err(|e| refuse(e.to_string()))?;
    let seal: Seal =
        serde_json::from_str(text.trim()).map_err(|e| refuse(format!("this is no seal: {e}")))?;
    let book = context.open(Access::Read)?;
    let known = known_keys(&args.keys, context)?;
    let sealer = seal.check(&known).map_err(|e| refuse(e.to_string()))?;
    let held = book.entry(&seal.entry).is_ok_and(|e| e.hash == seal.hash);
    let (by, is_known) = match &sealer {
        Sealer::Known(holder) => (holder.clone(), true),
        Sealer::Unknown => ("unknown key".to_owned(), false),
    };
    let mut report = Report::new("seal_check");
    report.push(Block::Facts {
        name: "seal",
        facts: vec![
            Fact::plain("entry", "seals", Cell::Text(seal.entry.to_string())),
            Fact::plain("hash", "hash", Cell::Text(seal.hash.to_string())),
            Fact::plain("by", "by", Cell::Text(by)),
            Fact::plain("key", "key", Cell::Text(seal.key.clone())),
            Fact::plain("known", "key known", Cell::Truth(is_known)),
            Fact::plain("held", "in the book", Cell::Truth(held)),
        ],
    });
    output::print(&report, context, context.units(&book))?;
    Ok(if held && is_known { ExitCode::SUCCESS } else { ExitCode::from(1) })
}
