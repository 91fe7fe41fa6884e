//! `bundle`: entries between the books of sites.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Args, Subcommand};

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, Kind, usage};
use super::output;
use crate::ledger::{KnownKeys, Sealer};
use crate::model::{EntryId, Moment, Site};
use crate::report::{Block, Cell, Column, Fact, Report, Table};
use crate::store::{
    Access, BundleIn, BundleOut, Since, Sites, TakenIn, TakenStretch, known_keys_file, read_known,
    read_secret,
};

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
    fn only_now(&self) -> Option<&'static str> {
        Some("bundle")
    }

    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        match &self.way {
            Way::Out(args) => run_out(args, context),
            Way::In(args) => run_in(args, context),
        }
    }
}

fn run_out(args: &OutArgs, context: &Context) -> Result<ExitCode, Failure> {
    let book = context.open(Access::Read)?;
    let secret = args.seal.as_deref().map(read_secret).transpose()?;
    let what = BundleOut {
        sites: sites(args)?,
        since: args.since.as_deref().map(|t| since(t, context.offset_minutes())).transpose()?,
        packed: args.pack || args.file.extension().is_some_and(|e| e.eq_ignore_ascii_case("gz")),
        seal: secret.as_ref(),
    };
    if args.file.as_os_str() == STREAM {
        let mut out = std::io::stdout().lock();
        book.write_bundle(&mut out, &what, &context.stamp(), Path::new("stdout"))?;
        return Ok(ExitCode::SUCCESS);
    }
    let done = book.bundle_out(&args.file, &what, &context.stamp())?;
    let mut report = Report::new("bundle_out");
    report.push(Block::Facts {
        name: "bundle",
        facts: vec![
            Fact::plain("file", "bundle", Cell::Text(args.file.display().to_string())),
            Fact::plain("entries", "entries", number(done.entries)),
            Fact::plain("sha256", "SHA-256", Cell::Text(done.sha256.clone())),
        ],
    });
    report.push(Block::Table(Table {
        name: "chains",
        columns: vec![
            Column::plain("chain", "chain"),
            Column::plain("from", "from"),
            Column::plain("to", "to"),
            Column::plain("head", "head"),
            Column::plain("sealed", "sealed"),
        ],
        rows: done
            .chains
            .iter()
            .map(|s| {
                let last = EntryId { chain: s.chain.clone(), number: s.to };
                vec![
                    Cell::Text(s.chain.to_string()),
                    number(s.from),
                    number(s.to),
                    Cell::Text(s.head.to_string()),
                    Cell::Truth(done.sealed.contains(&last)),
                ]
            })
            .collect(),
        empty: String::new(),
        below: None,
    }));
    output::print(&report, context, context.units(&book))
}

fn run_in(args: &InArgs, context: &Context) -> Result<ExitCode, Failure> {
    let mut book = context.open(Access::Write)?;
    let how = BundleIn {
        dry_run: args.dry_run,
        known: known_keys(&args.keys, context)?,
        require_seal: args.require_seal,
        ..BundleIn::default()
    };
    let done = if args.file.as_os_str() == STREAM {
        book.read_bundle(&mut std::io::stdin().lock(), &how, &context.stamp())?
    } else {
        book.bundle_in(&args.file, &how, &context.stamp()).map_err(|e| {
            let missing =
                matches!(&e, crate::store::StoreError::NotFound { path } if *path == args.file);
            if missing {
                return Failure::new(
                    Kind::Input,
                    format!("there is no file {}", args.file.display()),
                );
            }
            e.into()
        })?
    };
    let report = told(&done, args.dry_run);
    let units = context.units(&book);
    book.close()?;
    output::print(&report, context, units)
}

fn told(done: &TakenIn, dry_run: bool) -> Report {
    let mut report = Report::new("bundle_in");
    let mut facts = vec![Fact::plain("sha256", "SHA-256", Cell::Text(done.sha256.clone()))];
    if dry_run {
        facts.push(Fact::plain("dry_run", "dry run", Cell::Truth(true)));
    }
    facts.push(Fact::plain(
        "arrival",
        "taken in by",
        done.arrival.as_ref().map_or(Cell::Missing, |e| Cell::Text(e.to_string())),
    ));
    let head = done.head.as_ref().map(ToString::to_string);
    facts.push(Fact::plain("head", "head", Cell::text(head.as_deref())));
    report.push(Block::Facts { name: "bundle", facts });
    report.push(Block::Table(Table {
        name: "chains",
        columns: vec![
            Column::plain("chain", "chain"),
            Column::plain("sent", "sent"),
            Column::plain("new", "new"),
            Column::plain("seal", "seal"),
        ],
        rows: done.chains.iter().map(row).collect(),
        empty: String::new(),
        below: None,
    }));
    for clash in &done.clashes {
        report.push(Block::Note(format!(
            "{}: {} ({} and {}); both were kept until a decision settles it",
            clash.serial, clash.what, clash.first, clash.second
        )));
    }
    if !done.awaited.is_empty() {
        let shown: Vec<&str> = done.awaited.iter().take(12).map(String::as_str).collect();
        let more = done.awaited.len().saturating_sub(shown.len());
        let rest = if more > 0 { format!(" and {more} more") } else { String::new() };
        report.push(Block::Note(format!(
            "entries name others that have not arrived yet: {}{rest}",
            shown.join(", ")
        )));
    }
    report
}

fn row(stretch: &TakenStretch) -> Vec<Cell> {
    let span = |(from, to): (u64, u64)| {
        if from == to { from.to_string() } else { format!("{from} to {to}") }
    };
    let seal = match &stretch.seal {
        None => "none".to_owned(),
        Some((Sealer::Known(holder), _)) if holder.is_empty() => "known key".to_owned(),
        Some((Sealer::Known(holder), _)) => format!("known key of {holder}"),
        Some((Sealer::Unknown, key)) => format!("unknown key {key}"),
    };
    vec![
        Cell::Text(stretch.chain.to_string()),
        Cell::Text(span(stretch.sent)),
        stretch.new.map_or(Cell::Text("nothing".to_owned()), |n| Cell::Text(span(n))),
        Cell::Text(seal),
    ]
}

fn number(n: u64) -> Cell {
    Cell::Number(i64::try_from(n).unwrap_or(i64::MAX))
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

fn since(text: &str, offset_minutes: i32) -> Result<Since, Failure> {
    if let Ok(moment) = Moment::parse_at(text, offset_minutes) {
        return Ok(Since::Instant(moment.start(offset_minutes)));
    }
    text.parse::<EntryId>().map(Since::Entry).map_err(|_| {
        usage(format!(
            "--since: '{text}' is neither a date like 2026-03-04 nor an entry like yard-17"
        ))
    })
}

/// Keys known for sites: the file named, else the one beside the book.
pub(super) fn known_keys(args: &KnownKeyArgs, context: &Context) -> Result<KnownKeys, Failure> {
    if let Some(file) = &args.keys {
        return Ok(read_known(file)?);
    }
    let beside = known_keys_file(&context.book);
    if beside.exists() { Ok(read_known(&beside)?) } else { Ok(KnownKeys::default()) }
}
