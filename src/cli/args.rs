//! What can be typed. Parsing does no I/O; `context.rs` resolves what it means.

#![expect(
    clippy::doc_markdown,
    reason = "these are help texts: words in them are what people type"
)]

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
    /// Write the answer to a new workbook (answers that are tables)
    #[arg(long, global = true, value_name = "FILE", conflicts_with_all = ["json", "csv"])]
    pub xlsx: Option<PathBuf>,
    /// Name to write into entries [default: the user of this machine]
    #[arg(long, global = true, env = "PIPELORE_AUTHOR", value_name = "NAME")]
    pub author: Option<String>,
    /// Seconds that a question may take
    #[arg(long, global = true, value_name = "SECONDS", default_value = "60")]
    pub time_limit: f64,
    /// Ask what was true on a date, by what the book knows now
    #[arg(long, global = true, value_name = "DATE", help_heading = "Looking back")]
    pub as_of: Option<String>,
    /// Ask what the book said on a date, or when it held an entry
    #[arg(long, global = true, value_name = "DATE|ENTRY", help_heading = "Looking back")]
    pub known_on: Option<String>,
    /// The present time, for tests
    #[arg(long, global = true, env = "PIPELORE_NOW", hide = true, value_name = "TIME")]
    pub now: Option<String>,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub(super) enum Command {
    New(NewArgs),
    Demo(DemoArgs),
    Load(LoadArgs),
    Enter(EnterArgs),
    Assess(AssessArgs),
    Sheet(SheetArgs),
    Limits(LimitsArgs),
    Findings(FindingsArgs),
    Find(FindArgs),
    Why(WhyArgs),
    Language(LanguageArgs),
    Due(DueArgs),
    Rules(RulesArgs),
    Stock(StockArgs),
    Forecast(ForecastArgs),
    Statement(StatementArgs),
    Strike(StrikeArgs),
    Trace(TraceArgs),
    Kin(KinArgs),
    Dossier(DossierArgs),
    Exposure(ExposureArgs),
    Rate(super::rate::RateArgs),
    Verify(VerifyArgs),
    Rebuild(RebuildArgs),
    Backup(BackupArgs),
    Completions(CompletionsArgs),
    Man(ManArgs),
    #[command(subcommand)]
    Bundle(BundleCommand),
    Resume(ResumeArgs),
    Salvage(SalvageArgs),
    #[command(subcommand)]
    Seal(SealCommand),
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

/// Write the invented demo book and ask it three questions
///
/// Example: pipelore demo
#[derive(Debug, Args)]
pub(super) struct DemoArgs {
    /// Folder for the book demo.pipelore; one that stands there is asked again
    #[arg(value_name = "DIR", default_value = ".")]
    pub dir: PathBuf,
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

/// Enter one fact: a joint, an inspection, a repair, a make-up, a move, an event, a decision …
///
/// Example: pipelore enter repair joint=K1-0417 work=recut end=pin shop="Harrow Yard"
///
/// An inspection shows its verdict at once. Without a joint, or with --string, inspections are asked
/// for one joint after another: pipelore enter inspection --string K1 inspector="A. Reader". Each
/// joint is written when it is kept; end of input or Ctrl-C loses only the one at hand. A repair is
/// held against its limits and against what the book knows.
#[derive(Debug, Args)]
pub(super) struct EnterArgs {
    /// Kind of fact: joint, opening, identity, inspection, repair, makeup, move, gap, hire-out,
    /// hire-in, event, failure, instrument, check, decision, note
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
    /// Say what would be entered, write nothing
    #[arg(long)]
    pub dry_run: bool,
}

/// Judge what was read and found on a joint, and record nothing
///
/// Example: pipelore assess K1-0417 wall="0.291 in" box_od="6 1/4 in" methods="ut wall"
///
/// The fields are those of an inspection: readings (wall, body_od, pin_od, box_od, box_shoulder …),
/// findings (tube_finding, pin_finding, box_finding), methods, date. A size stands behind its
/// finding: tube_finding="slip cut 0.04 in across". A joint that is in no book is described by
/// --size, --grade, --connection, --tj-od and --tj-id. Exit status 1 when the joint may not run.
#[derive(Debug, Args)]
pub(super) struct AssessArgs {
    /// Serial of a joint of the book, then readings and findings
    #[arg(value_name = "[SERIAL] [FIELD=VALUE]")]
    pub words: Vec<String>,
    /// Judge by what is given alone, and not by earlier readings too
    #[arg(long)]
    pub fresh: bool,
    /// Tell also how the class of the joint came about
    #[arg(long)]
    pub history: bool,
    /// Size of a joint that is in no book: "5 in 19.50 lb/ft" or "5 in x 0.362 in"
    #[arg(long, value_name = "SIZE")]
    pub size: Option<String>,
    /// Its grade
    #[arg(long, value_name = "GRADE", requires = "size")]
    pub grade: Option<String>,
    /// Its connection
    #[arg(long, value_name = "NAME", requires = "size")]
    pub connection: Option<String>,
    /// Nominal outside diameter of its tool joint
    #[arg(long, value_name = "LENGTH", requires = "size")]
    pub tj_od: Option<String>,
    /// Nominal inside diameter of its tool joint
    #[arg(long, value_name = "LENGTH", requires = "size")]
    pub tj_id: Option<String>,
    /// What it is
    #[arg(long, value_name = "WORD", requires = "size", default_value = "drill_pipe")]
    pub component: String,
}

/// Write a workbook to fill in at the rack; `load` reads it back
///
/// Example: pipelore sheet inspection --string K1 -o k1-inspection.xlsx
#[derive(Debug, Args)]
pub(super) struct SheetArgs {
    /// Kind of sheet
    #[arg(value_name = "KIND", value_parser = ["inspection"])]
    pub kind: String,
    /// Joints of this string
    #[arg(long, value_name = "STRING")]
    pub string: Option<String>,
    /// Joints of these serials, with commas between
    #[arg(long, value_name = "SERIALS", value_delimiter = ',')]
    pub serials: Vec<String>,
    /// Joints that match a filter; with --string, those of them
    #[arg(long = "where", value_name = "FILTER")]
    pub filter: Option<String>,
    /// Workbook to write; nothing may stand there
    #[arg(long, short, value_name = "FILE")]
    pub output: PathBuf,
    /// How the joints are looked at, with commas between [default: the usual methods of each]
    #[arg(long, value_name = "METHODS", value_delimiter = ',')]
    pub methods: Vec<String>,
    /// Day of the inspection [default: today]
    #[arg(long, value_name = "DATE")]
    pub date: Option<String>,
    /// Inspector
    #[arg(long, value_name = "NAME")]
    pub inspector: Option<String>,
    /// Firm
    #[arg(long, value_name = "NAME")]
    pub firm: Option<String>,
    /// Report number
    #[arg(long, value_name = "TEXT")]
    pub report: Option<String>,
    /// Standard and category inspected to
    #[arg(long, value_name = "TEXT")]
    pub standard: Option<String>,
    /// Tag of the instrument
    #[arg(long, value_name = "TAG")]
    pub instrument: Option<String>,
}

/// Show the limits that joints are judged by; check or adopt a set of one's own
///
/// Example: pipelore limits wear_wall
///
/// A set is a table with the columns criterion, component, class, comparison, limit, unit, applies,
/// standard, edition, source, provenance, use, note, below the lines "# set: NAME" and "# edition:
/// TEXT"; --example writes the one that ships. Where a set is silent the shipped one holds. Verdicts
/// on inspections before its first day keep the limits of their day.
#[derive(Debug, Args)]
pub(super) struct LimitsArgs {
    /// Criteria to show, like wear_wall [default: all]
    #[arg(value_name = "CRITERION")]
    pub criteria: Vec<String>,
    /// Only limits that hold for this component
    #[arg(long, value_name = "WORD")]
    pub component: Option<String>,
    /// Limits as of this day [default: today]
    #[arg(long, value_name = "DATE")]
    pub on: Option<String>,
    /// Read a set and say what is wrong with it, or what it would change; write nothing
    #[arg(long, value_name = "FILE", conflicts_with = "adopt")]
    pub check: Option<PathBuf>,
    /// Adopt a set
    #[arg(long = "use", value_name = "FILE")]
    pub adopt: Option<PathBuf>,
    /// First day on which an adopted set is in force [default: now]
    #[arg(long, value_name = "DATE")]
    pub from: Option<String>,
    /// Why it is adopted
    #[arg(long, value_name = "TEXT", requires = "adopt")]
    pub remark: Option<String>,
    /// Print the set that ships, as an example
    #[arg(long)]
    pub example: bool,
    /// Say what adopting would change, write nothing
    #[arg(long)]
    pub dry_run: bool,
}

/// The catalogue of findings: what each word means, what to measure, what follows, who may act
///
/// Example: pipelore findings galled
#[derive(Debug, Args)]
pub(super) struct FindingsArgs {
    /// A word, in any spelling, or a part of one [default: all]
    #[arg(value_name = "WORD")]
    pub word: Option<String>,
    /// Only findings of this place, like shoulder or slip_area
    #[arg(long, value_name = "PLACE")]
    pub place: Option<String>,
}

/// Joints that match a filter, or records with --list
///
/// Example: pipelore find 'class = premium and hours since last inspection > 300 h'
#[derive(Debug, Args)]
pub(super) struct FindArgs {
    /// A filter; `pipelore help language` explains it. Without one, at a terminal: a prompt
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

/// What the rules in force call for, worst first
///
/// Example: pipelore due --call inspection --within '30 days'
#[derive(Debug, Args)]
pub(super) struct DueArgs {
    /// One call only: inspection, downgrade, repair, quarantine, retire
    #[arg(long, value_name = "CALL")]
    pub call: Option<String>,
    /// Look ahead: '30 days' on the calendar, or '200 h' of rotation
    #[arg(long, value_name = "TIME")]
    pub within: Option<String>,
    /// Count by string, location or rule
    #[arg(long, value_name = "WHAT")]
    pub by: Option<String>,
    /// At most so many lines
    #[arg(long, value_name = "N")]
    pub limit: Option<usize>,
    /// List what cannot be decided for want of a reading
    #[arg(long)]
    pub undecided: bool,
}

/// Show, check or adopt the rules behind `due`
///
/// Example: pipelore rules --text > yard-rules.toml
///
/// A set that is adopted from a later day waits for it: until then the set before it is in force, and
/// `rules` names both. What was due under which rules on a date: `due --as-of DATE`.
#[derive(Debug, Args)]
pub(super) struct RulesArgs {
    /// Check a rules file; nothing is written
    #[arg(long, value_name = "FILE", conflicts_with_all = ["adopt", "text"])]
    pub check: Option<PathBuf>,
    /// Adopt a rules file as an entry of the book
    #[arg(long = "use", value_name = "FILE", conflicts_with = "text")]
    pub adopt: Option<PathBuf>,
    /// First day, or time, from which they are in force; the set before stays until then [default: now]
    #[arg(long, value_name = "DATE", requires = "adopt")]
    pub from: Option<String>,
    /// Say what would be adopted, write nothing
    #[arg(long, requires = "adopt")]
    pub dry_run: bool,
    /// Print the rules in force as a file
    #[arg(long)]
    pub text: bool,
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
    /// What stands in its place: an entry, or a file to take in with the strike (can be repeated)
    #[arg(long, value_name = "ENTRY|FILE")]
    pub instead: Vec<String>,
    /// Say what would change, change nothing
    #[arg(long)]
    pub dry_run: bool,
}

/// The filter language on a page, with examples that work on the demo book
#[derive(Debug, Args)]
#[command(long_about = concat!(include_str!("../../grammar/language.txt"), "\nExample: pipelore language"))]
pub(super) struct LanguageArgs {}

/// Why a filter or a rule holds for a joint, or does not: values, limits, entries
///
/// Example: pipelore why K1-0417 'due for inspection'
#[derive(Debug, Args)]
pub(super) struct WhyArgs {
    /// Serial of the joint; SERIAL@ENTRY where two joints share it
    #[arg(value_name = "SERIAL")]
    pub serial: String,
    /// A filter, or the name of a rule
    #[arg(value_name = "FILTER|RULE")]
    pub filter: String,
}

/// The whole life of a joint, oldest first
///
/// Example: pipelore trace K1-0417
///
/// Each line says what was not known then. For a joint that failed, what the record says about that
/// follows: damage by run, by depth of hole and along the joint, what the last inspection could see,
/// limits exceeded, what is missing. It names no cause.
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
    /// Damage of the joint by depth of hole and by what the rig did, with its ten worst exposures
    #[arg(long, conflicts_with = "run")]
    pub depth: bool,
    /// Write the run as a page: hole, string, tension, damage, log; nothing may stand there
    #[arg(long, short, value_name = "FILE", requires = "run")]
    pub output: Option<PathBuf>,
}

/// Prove the book: chain, references, derived rows, the file itself
///
/// Example: pipelore verify
#[derive(Debug, Args)]
pub(super) struct VerifyArgs {
    /// Hash that a printed page names; it must be in the book
    #[arg(long, value_name = "HASH")]
    pub head: Option<String>,
    /// Folder with files that entries rest on; their digests are compared
    #[arg(long, value_name = "DIR")]
    pub evidence: Option<PathBuf>,
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

/// Print shell completion
///
/// Example: pipelore completions bash > pipelore.bash
#[derive(Debug, Args)]
pub(super) struct CompletionsArgs {
    /// Shell
    #[arg(value_name = "SHELL")]
    pub shell: clap_complete::Shell,
}

/// Print the manual page
///
/// Example: pipelore man > pipelore.1
#[derive(Debug, Args)]
pub(super) struct ManArgs {}
/// Carry entries between the books of sites
///
/// Example: pipelore bundle out rig-14.jsonl
#[derive(Debug, Subcommand)]
pub(super) enum BundleCommand {
    Out(BundleOutArgs),
    In(BundleInArgs),
}

/// Write entries to a file for another site's book
///
/// Example: pipelore bundle out rig-14.jsonl --since 2026-11-01
#[derive(Debug, Args)]
pub(super) struct BundleOutArgs {
    /// File to write, - for stdout; a name that ends in .gz is packed
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// Only this entry and what came into the book after it, or what came since a date
    #[arg(long, value_name = "ENTRY|DATE")]
    pub since: Option<String>,
    /// Entries of this site in place of the book's own (can be repeated)
    #[arg(long, value_name = "SITE", conflicts_with = "all_sites")]
    pub site: Vec<String>,
    /// Entries of every site that the book holds
    #[arg(long)]
    pub all_sites: bool,
    /// Pack the file (gzip)
    #[arg(long)]
    pub pack: bool,
    /// Secret key to seal the heads of its site with
    #[arg(long, value_name = "KEYFILE")]
    pub seal: Option<PathBuf>,
}

/// Take in entries that another site's book wrote
///
/// Example: pipelore bundle in rig-14.jsonl
#[derive(Debug, Args)]
pub(super) struct BundleInArgs {
    /// File to take in, - for stdin
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// Say what would come in, change nothing
    #[arg(long)]
    pub dry_run: bool,
    #[command(flatten)]
    pub keys: KnownKeyArgs,
    /// Refuse what no known key sealed
    #[arg(long)]
    pub require_seal: bool,
}

/// Keys known for sites.
#[derive(Debug, Args)]
pub(super) struct KnownKeyArgs {
    /// File of keys known for sites [default: the book's name with .keys, where it stands]
    #[arg(long, env = "PIPELORE_KEYS", value_name = "FILE")]
    pub keys: Option<PathBuf>,
}

/// Go on with a book that was restored from a copy; what it lost comes back by bundle
///
/// Example: pipelore resume --reason "disk failed, copy of 3 March restored"
#[derive(Debug, Args)]
pub(super) struct ResumeArgs {
    /// Why
    #[arg(long, value_name = "TEXT")]
    pub reason: String,
    /// Number of the new epoch, where another site knows a later one than this book
    #[arg(long, value_name = "NUMBER")]
    pub epoch: Option<u32>,
}

/// Read what a damaged book still holds into a new one; the damaged file is never touched
///
/// Example: pipelore salvage damaged.pipelore -o yard.pipelore
#[derive(Debug, Args)]
pub(super) struct SalvageArgs {
    /// Damaged book
    #[arg(value_name = "DAMAGED")]
    pub damaged: PathBuf,
    /// New book to write; nothing may stand there
    #[arg(short, long, value_name = "FILE")]
    pub output: PathBuf,
}

/// Sign the head of the book, and check such signatures
///
/// Example: pipelore seal check rig-14.seal
#[derive(Debug, Subcommand)]
pub(super) enum SealCommand {
    Key(SealKeyArgs),
    Head(SealHeadArgs),
    Check(SealCheckArgs),
}

/// Make a key to seal with: a secret file, and a public one for other sites
///
/// Example: pipelore seal key rig-14.key --holder "Rig 14 office"
#[derive(Debug, Args)]
pub(super) struct SealKeyArgs {
    /// File for the secret key; the public one gets the same name with .pub
    #[arg(value_name = "KEYFILE")]
    pub file: PathBuf,
    /// Who holds the secret key, for those who read the public one
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub holder: String,
}

/// Sign the head of the book's own chain
///
/// Example: pipelore seal head --key rig-14.key -o rig-14.seal
#[derive(Debug, Args)]
pub(super) struct SealHeadArgs {
    /// Secret key
    #[arg(long, value_name = "KEYFILE")]
    pub key: PathBuf,
    /// File to write [default: stdout]
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
}

/// Check that a seal holds, whose it is, and that the book still holds what it seals
///
/// Example: pipelore seal check rig-14.seal
#[derive(Debug, Args)]
pub(super) struct SealCheckArgs {
    /// Seal to check
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    #[command(flatten)]
    pub keys: KnownKeyArgs,
}

/// What a hire did to its joints: condition out against in, use, repairs, charges
///
/// Example: pipelore statement H-36
///
/// Condition out is that of the last inspection before a joint went out, condition in that of
/// inspections after its last run on hire and before its next run or hire. Where one is missing, or
/// the joint ran in between, the comparison is marked doubtful. Prices come from a TOML file of the
/// owner's: currency = "…", tables [joint] (once, day, hour, foot, metre), [repair] (by work, like
/// recut), [downgrade] (like "premium to class_2"), [lost] (by component); days = "between" or
/// "both_ends". What it does not name is not charged.
#[derive(Debug, Args)]
pub(super) struct StatementArgs {
    /// Name of the hire
    #[arg(value_name = "HIRE")]
    pub hire: String,
    /// Price file
    #[arg(long, value_name = "FILE")]
    pub prices: Option<PathBuf>,
    /// Write a page to print and sign; nothing may stand there
    #[arg(short, long, value_name = "FILE.html", conflicts_with_all = ["json", "csv", "xlsx"])]
    pub output: Option<PathBuf>,
}

/// What there is: counts and lengths
///
/// Example: pipelore stock --by size,location
#[derive(Debug, Args)]
pub(super) struct StockArgs {
    /// Only joints that match a filter
    #[arg(value_name = "FILTER")]
    pub filter: Option<String>,
    /// Count by size, class, location, string, status, owner, with commas between
    #[arg(long, value_name = "WHAT", value_delimiter = ',', default_value = "size")]
    pub by: Vec<String>,
    /// Retired and lost joints too
    #[arg(long)]
    pub all: bool,
}

/// What lies ahead: classes, calls and joints to replace, month by month
///
/// Example: pipelore forecast --months 12
///
/// Rules that move with use run forward with each joint's own recent use, and with its own wear rate
/// or that of its string. Findings, failures and events are not foreseen.
#[derive(Debug, Args)]
pub(super) struct ForecastArgs {
    /// Only joints that match a filter
    #[arg(value_name = "FILTER")]
    pub filter: Option<String>,
    /// Months ahead
    #[arg(long, value_name = "N", default_value = "12", value_parser = clap::value_parser!(u32).range(1..=60))]
    pub months: u32,
}
/// Sisters of a joint: what each shares with it, where each is, which to inspect first
///
/// Example: pipelore kin K1-0417
///
/// Shared: heat, mill order, weld lot, runs, neighbouring places, bends under a like pull, torque
/// gauge, slips and bushing in doubt, repair ticket. In a filter: kin of "K1-0417", or narrower:
/// kin of "K1-0417" by (heat, neighbour).
#[derive(Debug, Args)]
pub(super) struct KinArgs {
    /// Serial of the joint; SERIAL@ENTRY where two joints share it
    #[arg(value_name = "SERIAL")]
    pub serial: String,
    /// At most so many sisters
    #[arg(long, value_name = "N", default_value = "20")]
    pub limit: usize,
}

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
    pub serial: Option<String>,
    /// Every joint that stands in this string, with an index
    #[arg(long, value_name = "STRING")]
    pub string: Option<String>,
    /// Page to write; nothing may stand there
    #[arg(long, short, value_name = "FILE", required_unless_present = "json")]
    pub output: Option<PathBuf>,
}
