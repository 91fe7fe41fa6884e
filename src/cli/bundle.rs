//! `bundle`: entries between the books of sites.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Args, Subcommand};

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use crate::app::known_keys;
use crate::ledger::KnownKeys;
use crate::model::{Clock, EntryId, Moment, Site};
use crate::store::{BundleIn, BundleOut, Since, Sites, read_secret};

/// The name that stands for a standard stream.
const STREAM: &str = "-";

/// Carry entries between the books of sites
///
/// Example: pipelore bundle out rig-14.jsonl
#[derive(Debug, Args)]
pub(super) struct BundleArgs {
    #[command(subcommand)]
    way: Way,
}

#[derive(Debug, Subcommand)]
enum Way {
    Out(OutArgs),
    In(InArgs),
}

/// Write entries to a file for another site's book
///
/// Example: pipelore bundle out rig-14.jsonl --since 2026-11-01
#[derive(Debug, Args)]
struct OutArgs {
    /// File to write, - for stdout; a name that ends in .gz is packed
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Only this entry and what came into the book after it, or what came since a date
    #[arg(long, value_name = "ENTRY|DATE")]
    since: Option<String>,
    /// Entries of this site in place of the book's own (can be repeated)
    #[arg(long, value_name = "SITE", conflicts_with = "all_sites")]
    site: Vec<String>,
    /// Entries of every site that the book holds
    #[arg(long)]
    all_sites: bool,
    /// Pack the file (gzip)
    #[arg(long)]
    pack: bool,
    /// Secret key to seal the heads of its site with
    #[arg(long, value_name = "KEYFILE")]
    seal: Option<PathBuf>,
}

/// Take in entries that another site's book wrote
///
/// Example: pipelore bundle in rig-14.jsonl
#[derive(Debug, Args)]
struct InArgs {
    /// File to take in, - for stdin
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Say what would come in, change nothing
    #[arg(long)]
    dry_run: bool,
    #[command(flatten)]
    keys: KnownKeyArgs,
    /// Refuse what no known key sealed
    #[arg(long)]
    require_seal: bool,
}

/// Keys known for sites.
#[derive(Debug, Args)]
pub(super) struct KnownKeyArgs {
    /// File of keys known for sites [default: the book's name with .keys, where it stands]
    #[arg(long, env = "PIPELORE_KEYS", value_name = "FILE")]
    keys: Option<PathBuf>,
}

impl Command for BundleArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        match &self.way {
            Way::Out(args) => run_out(args, context),
            Way::In(args) => run_in(args, context),
        }
    }
}

fn run_out(args: &OutArgs, context: &Context) -> Result<ExitCode, Failure> {
    let session = context.open_whole()?;
    let secret = args.seal.as_deref().map(read_secret).transpose()?;
    let what = BundleOut {
        sites: sites(args)?,
        since: args.since.as_deref().map(|t| since(t, session.clock())).transpose()?,
        packed: args.pack || args.file.extension().is_some_and(|e| e.eq_ignore_ascii_case("gz")),
        seal: secret.as_ref(),
    };
    if args.file.as_os_str() == STREAM {
        let mut out = std::io::stdout().lock();
        session.write_bundle(&mut out, &what, Path::new("stdout"))?;
        return Ok(ExitCode::SUCCESS);
    }
    let report = session.bundle_out(&args.file, &what)?;
    output::answer_made(&report, context, &session, &args.file)
}

fn run_in(args: &InArgs, context: &Context) -> Result<ExitCode, Failure> {
    let mut session = context.open_to_write(args.dry_run)?;
    let how = BundleIn {
        dry_run: args.dry_run,
        known: args.keys.read(context)?,
        require_seal: args.require_seal,
        ..BundleIn::default()
    };
    let report = if args.file.as_os_str() == STREAM {
        session.read_bundle(&mut std::io::stdin().lock(), &how)
    } else {
        session.bundle_in(&args.file, &how)
    };
    output::close_and_tell(report, context, session)
}

impl KnownKeyArgs {
    /// Keys known for sites: the file named, else the one beside the book.
    pub(super) fn read(&self, context: &Context) -> Result<KnownKeys, Failure> {
        Ok(known_keys(self.keys.as_deref(), &context.book)?)
    }
}

fn sites(args: &OutArgs) -> Result<Sites, Failure> {
    if args.all_sites {
        return Ok(Sites::All);
    }
    if args.site.is_empty() {
        return Ok(Sites::Own);
    }
    let names = args.site.iter().map(|s| Site::parse(s)).collect::<Result<Vec<_>, _>>();
    names.map(Sites::Named).map_err(usage)
}

fn since(text: &str, clock: Clock) -> Result<Since, Failure> {
    if let Ok(moment) = Moment::parse_at(text, clock) {
        return Ok(Since::Instant(moment.start(clock)));
    }
    text.parse::<EntryId>().map(Since::Entry).map_err(|_| {
        usage(format!(
            "--since: '{text}' is neither a date like 2026-03-04 nor an entry like yard-17"
        ))
    })
}
