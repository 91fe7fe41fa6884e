//! What can be typed. Parsing does no I/O; `context.rs` resolves what it means.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand};

/// The life of every drill-string joint in one book
#[derive(Debug, Parser)]
#[command(version, about, propagate_version = true, max_term_width = 100)]
pub(super) struct Cli {
    #[command(flatten)]
    pub global: Global,
    #[command(subcommand)]
    pub command: Command,
}

/// What every command understands.
#[derive(Debug, Args)]
pub(super) struct Global {
    /// Book to use [default: ./book.pipelore]
    #[arg(long, global = true, env = "PIPELORE_BOOK", value_name = "FILE")]
    pub book: Option<PathBuf>,
    /// Units to show, us or metric, in place of the book's own
    #[arg(long, global = true, value_name = "SYSTEM", value_parser = ["us", "metric"])]
    pub units: Option<String>,
    /// Answer in JSON
    #[arg(long, global = true, conflicts_with = "csv")]
    pub json: bool,
    /// Answer in CSV (answers that are a table)
    #[arg(long, global = true)]
    pub csv: bool,
    /// Name to write into entries [default: the user of this machine]
    #[arg(long, global = true, env = "PIPELORE_AUTHOR", value_name = "NAME")]
    pub author: Option<String>,
    /// Seconds that a question may take
    #[arg(long, global = true, value_name = "SECONDS", default_value = "60")]
    pub time_limit: f64,
    /// The present time, for tests
    #[arg(long, global = true, env = "PIPELORE_NOW", hide = true, value_name = "TIME")]
    pub now: Option<String>,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub(super) enum Command {
    New(NewArgs),
    Load(LoadArgs),
    Enter(EnterArgs),
    Find(FindArgs),
    Strike(StrikeArgs),
    Trace(TraceArgs),
    Exposure(ExposureArgs),
    Rate(super::rate::RateArgs),
    Verify(VerifyArgs),
    Rebuild(RebuildArgs),
    Backup(BackupArgs),
}

/// Start a book
///
/// Example: pipelore new yard.pipelore --site "Harrow Yard" --units us
#[derive(Debug, Args)]
pub(super) struct NewArgs {
    /// File of the book [default: the book that --book names]
    #[arg(value_name = "FILE")]
    pub file: Option<PathBuf>,
    /// Site that keeps the book; its entries carry the name
    #[arg(long, value_name = "NAME", default_value = "yard")]
    pub site: String,
}

/// Take files in: certificates, surveys, runs, inspections, repairs, make-ups, moves …
///
/// Example: pipelore load joints.csv larkfield-1h.csv K1-R01.toml
#[derive(Debug, Args)]
pub(super) struct LoadArgs {
    /// Files; a run's file names its tally and its log
    #[arg(value_name = "FILE", required = true)]
    pub files: Vec<PathBuf>,
    /// What the files are about, where their header does not tell
    #[arg(long = "as", value_name = "KIND")]
    pub kind: Option<String>,
    /// What the columns hold: "md [m], inc [deg], azi [deg], -", or "Depth(ft) = depth [ft]"
    #[arg(long, value_name = "COLUMNS")]
    pub columns: Option<String>,
    /// A value for every row of the file, like well="Larkfield 1H" (can be repeated)
    #[arg(long, value_name = "NAME=VALUE")]
    pub set: Vec<String>,
    /// Sign between columns: comma, semicolon, tab or blanks
    #[arg(long, value_name = "SIGN")]
    pub delimiter: Option<String>,
    /// Decimal sign: point or comma
    #[arg(long, value_name = "SIGN")]
    pub decimal: Option<String>,
    /// A text that means no value (can be repeated)
    #[arg(long, value_name = "TEXT", allow_hyphen_values = true)]
    pub null: Vec<String>,
    /// Order in dates like 4/3/2026: day-first or month-first
    #[arg(long, value_name = "ORDER")]
    pub date_order: Option<String>,
    /// How an operating log is cut into segments, as an entry of a run shows it
    #[arg(long, value_name = "RULES")]
    pub cut: Option<String>,
    /// Keep the good rows of a file that has bad ones
    #[arg(long)]
    pub partial: bool,
    /// Keep facts that exclude each other, flagged until a decision settles them
    #[arg(long)]
    pub keep_conflicts: bool,
    /// Say what would be taken in, write nothing
    #[arg(long)]
    pub dry_run: bool,
}

/// Enter one fact: a joint, a repair, a make-up, a move, an event, a decision …
///
/// Example: pipelore enter repair joint=K1-0417 work=recut end=pin shop="Harrow Yard"
#[derive(Debug, Args)]
pub(super) struct EnterArgs {
    /// Kind of fact: joint, opening, identity, inspection, repair, makeup, move, gap, hire-out,
    /// hire-in, event, failure, instrument, check, decision, note
    #[arg(value_name = "KIND")]
    pub kind: String,
    /// What is to be entered; the fields are those of a file of that kind
    #[arg(value_name = "FIELD=VALUE")]
    pub fields: Vec<String>,
    /// Keep a fact that excludes another, flagged until a decision settles it
    #[arg(long)]
    pub keep_conflicts: bool,
    /// Say what would be entered, write nothing
    #[arg(long)]
    pub dry_run: bool,
}

/// Joints that match a filter, or records with --list
///
/// Example: pipelore find 'any run (max_dogleg > 8 deg/100ft and rotating_hours > 20 h)'
#[derive(Debug, Args)]
pub(super) struct FindArgs {
    /// A filter; `pipelore help language` explains it
    #[arg(value_name = "FILTER")]
    pub filter: Option<String>,
    /// Columns to show: fields or any value of the language, with commas between
    #[arg(long, value_name = "COLUMNS", value_delimiter = ',')]
    pub show: Vec<String>,
    /// Column to sort by; -COLUMN puts the largest first
    #[arg(long, value_name = "COLUMN", allow_hyphen_values = true)]
    pub sort: Option<String>,
    /// Count, and sum lengths, by a column
    #[arg(long, value_name = "COLUMN")]
    pub by: Option<String>,
    /// At most so many rows
    #[arg(long, value_name = "N")]
    pub limit: Option<u32>,
    /// List the joints that cannot be decided
    #[arg(long)]
    pub undecided: bool,
    /// List records in place of joints: runs, inspections, makeups, findings, repairs, events,
    /// failures, moves, hires, decisions
    #[arg(long, value_name = "RECORDS")]
    pub list: Option<String>,
    /// List the fields of joints, or of a kind of record
    #[arg(long, value_name = "RECORD", num_args = 0..=1, default_missing_value = "")]
    pub fields: Option<String>,
}

/// Strike an entry out; it stays readable and counts no more
///
/// Example: pipelore strike yard-131 --reason "survey of the wrong well"
#[derive(Debug, Args)]
pub(super) struct StrikeArgs {
    /// Entry to strike, as trace and find show it
    #[arg(value_name = "ENTRY")]
    pub entry: String,
    /// Why
    #[arg(long, value_name = "TEXT")]
    pub reason: String,
    /// Entries that stand in its place (can be repeated)
    #[arg(long, value_name = "ENTRY")]
    pub instead: Vec<String>,
    /// Say what would change, change nothing
    #[arg(long)]
    pub dry_run: bool,
}

/// The whole life of a joint, oldest first
///
/// Example: pipelore trace K1-0417
#[derive(Debug, Args)]
pub(super) struct TraceArgs {
    /// Serial of the joint; SERIAL@ENTRY where two joints share it
    #[arg(value_name = "SERIAL")]
    pub serial: String,
    /// Only these records (runs, inspections, findings, repairs, makeups, events, moves, hires,
    /// decisions, notes, failures), with commas between
    #[arg(long, value_name = "KINDS", value_delimiter = ',')]
    pub only: Vec<String>,
}

/// What joints went through: hours, turns, bends, tension, damage
///
/// Example: pipelore exposure --run K1-R05
#[derive(Debug, Args)]
pub(super) struct ExposureArgs {
    /// Serial of a joint: its runs one by one
    #[arg(value_name = "SERIAL", required_unless_present = "run", conflicts_with = "run")]
    pub serial: Option<String>,
    /// Name of a run: its joints from the bit up
    #[arg(long, value_name = "RUN")]
    pub run: Option<String>,
}

/// Prove the book: chain, references, derived rows, the file itself
///
/// Example: pipelore verify
#[derive(Debug, Args)]
pub(super) struct VerifyArgs {
    /// Hash that a printed page names; it must be in the book
    #[arg(long, value_name = "HASH")]
    pub head: Option<String>,
}

/// Throw derived rows away and derive them again from the entries
///
/// Example: pipelore rebuild --method "DNV-RP-C203 2024-10 B1" --dry-run
#[derive(Debug, Args)]
pub(super) struct RebuildArgs {
    /// Adopt a fatigue method first and say how the order of joints by damage moved: a TOML file, a
    /// curve, or a standard, edition and class
    #[arg(long, value_name = "FILE|NAME")]
    pub method: Option<String>,
    /// Mean-stress rule of a method given by name: none, goodman, gerber or soderberg
    #[arg(long, value_name = "RULE", requires = "method")]
    pub mean_stress: Option<String>,
    /// Try the method on a copy; the book stays as it is
    #[arg(long, requires = "method")]
    pub dry_run: bool,
}

/// Copy the book while it is open
///
/// Example: pipelore backup yard-2026-11-25.pipelore
#[derive(Debug, Args)]
pub(super) struct BackupArgs {
    /// File to copy to; nothing may stand there
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
}
