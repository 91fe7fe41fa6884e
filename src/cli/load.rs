//! `load`: takes files in.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use super::take_in::{Disk, take_in, told};
use crate::intake::{
    Clock, Columns, CutRules, DateOrder, Decimal, Delimiter, Kind, Options, Severity,
};
use crate::report::{Block, Cell, Column, Report, Table};
use crate::store::{Access, AppendOptions};

/// Options of a read, from the arguments.
fn options(args: &LoadArgs, context: &Context) -> Result<Options, Failure> {
    let words = |what: &str, text: &str, known: &str| {
        usage(format!("'{text}' is no {what}; known: {known}"))
    };
    let mut given = std::collections::BTreeMap::new();
    for pair in &args.set {
        let Some((name, value)) = pair.split_once('=') else {
            return Err(usage(format!("'{pair}' sets nothing; write --set NAME=VALUE")));
        };
        given.insert(name.trim().to_owned(), value.trim().to_owned());
    }
    let order = match &args.date_order {
        None => None,
        Some(text) => Some(
            DateOrder::parse(text).ok_or_else(|| words("order", text, "day-first, month-first"))?,
        ),
    };
    Ok(Options {
        kind: args.kind.as_deref().map(kind).transpose()?,
        columns: args
            .columns
            .as_deref()
            .map(|c| c.parse::<Columns>().map_err(usage))
            .transpose()?,
        delimiter: match &args.delimiter {
            None => None,
            Some(t) => Some(
                Delimiter::parse(t)
                    .ok_or_else(|| words("delimiter", t, "comma, semicolon, tab, blanks"))?,
            ),
        },
        decimal: match &args.decimal {
            None => None,
            Some(t) => {
                Some(Decimal::parse(t).ok_or_else(|| words("decimal sign", t, "point, comma"))?)
            }
        },
        nulls: args.null.clone(),
        clock: Clock { offset_minutes: context.offset_minutes(), order },
        given,
        cut: match &args.cut {
            None => CutRules::default(),
            Some(text) => text.parse().map_err(usage)?,
        },
        every_column: false,
        keep_conflicts: args.keep_conflicts,
    })
}

/// A kind of file by its word, singular or plural.
pub(super) fn kind(text: &str) -> Result<Kind, Failure> {
    Kind::parse(text).map_err(usage)
}

/// Take files in: certificates, surveys, runs, inspections, repairs, make-ups, moves …
///
/// Example: pipelore load joints.csv larkfield-1h.csv K1-R01.toml
#[derive(Debug, Args)]
pub(super) struct LoadArgs {
    /// Files; a run's file names its tally and its log
    #[arg(value_name = "FILE", required = true)]
    files: Vec<PathBuf>,
    /// What the files are about, where their header does not tell
    #[arg(long = "as", value_name = "KIND")]
    kind: Option<String>,
    /// What the columns hold: "md [m], inc [deg], azi [deg], -", or "Depth(ft) = depth [ft]"
    #[arg(long, value_name = "COLUMNS")]
    columns: Option<String>,
    /// A value for every row of the file, like well="Larkfield 1H" (can be repeated)
    #[arg(long, value_name = "NAME=VALUE")]
    set: Vec<String>,
    /// Sign between columns: comma, semicolon, tab or blanks
    #[arg(long, value_name = "SIGN")]
    delimiter: Option<String>,
    /// Decimal sign: point or comma
    #[arg(long, value_name = "SIGN")]
    decimal: Option<String>,
    /// A text that means no value (can be repeated)
    #[arg(long, value_name = "TEXT", allow_hyphen_values = true)]
    null: Vec<String>,
    /// Order in dates like 4/3/2026: day-first or month-first
    #[arg(long, value_name = "ORDER")]
    date_order: Option<String>,
    /// How an operating log is cut into segments, as an entry of a run shows it
    #[arg(long, value_name = "RULES")]
    cut: Option<String>,
    /// Keep the good rows of a file that has bad ones
    #[arg(long)]
    partial: bool,
    /// Keep facts that exclude each other, flagged until a decision settles them
    #[arg(long)]
    keep_conflicts: bool,
    /// Say what would be taken in, write nothing
    #[arg(long)]
    dry_run: bool,
}

impl Command for LoadArgs {
    fn only_now(&self) -> Option<&'static str> {
        Some("load")
    }

    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let options = options(self, context)?;
        let append = AppendOptions { keep_conflicts: self.keep_conflicts, dry_run: self.dry_run };
        let mut book = context.open(Access::Write)?;
        let mut report = Report::new("load");
        let mut table = Table {
            name: "files",
            columns: vec![
                Column::plain("file", "file"),
                Column::plain("kind", "kind"),
                Column::plain("entries", "entries"),
                Column::plain("first", "first"),
                Column::plain("last", "last"),
                Column::plain("known", "already known").dispensable(2),
                Column::plain("refused", "rows refused").dispensable(1),
            ],
            rows: Vec::new(),
            empty: "no file".to_owned(),
            below: None,
        };
        let mut notes = Vec::new();
        let mut verdicts = Report::new("load");
        let mut head = None;
        for file in &self.files {
            let name = file.to_str().ok_or_else(|| usage("a file name is not valid Unicode"))?;
            let taken = take_in(&mut book, name, &Disk, &options, append, self.partial, context)?;
            let count = |n: usize| Cell::Number(i64::try_from(n).unwrap_or(i64::MAX));
            let entries = taken.appended.as_ref().map_or(&[][..], |a| &a.entries);
            let name_of = |e: Option<&crate::model::EntryId>| {
                e.filter(|_| !self.dry_run).map_or(Cell::Missing, |e| Cell::Text(e.to_string()))
            };
            table.rows.push(vec![
                Cell::Text(name.to_owned()),
                Cell::text(taken.outcome.kind.map(Kind::word)),
                count(entries.len()),
                name_of(entries.first()),
                name_of(entries.last()),
                count(taken.known),
                Cell::Number(i64::try_from(taken.outcome.rows.refused).unwrap_or(i64::MAX)),
            ]);
            if let Some((first, last)) = &taken.before {
                notes.push(format!(
                    "{name} was taken in before, as {first} to {last}; nothing was added"
                ));
            }
            notes.extend(taken.outcome.notes.iter().map(|n| format!("{name}: {n}")));
            if taken.before.is_none() {
                let warnings = told(&taken.outcome.diagnostics, Severity::Warning);
                if !warnings.is_empty() {
                    notes.push(warnings.join("\n"));
                }
                if self.partial {
                    let errors = told(&taken.outcome.diagnostics, Severity::Error);
                    if !errors.is_empty() {
                        notes.push(errors.join("\n"));
                    }
                }
            }
            if let Some(appended) = &taken.appended {
                for c in &appended.clashes {
                    notes.push(format!(
                        "kept in conflict: {}: {} ({} and {})",
                        c.serial, c.what, c.first, c.second
                    ));
                }
                head.clone_from(&appended.head);
                if !self.dry_run {
                    super::rack::after_load(
                        &book,
                        &taken.outcome,
                        appended,
                        context,
                        &mut verdicts,
                    )?;
                }
            }
        }
        report.push(Block::Table(table));
        report.blocks.append(&mut verdicts.blocks);
        if self.dry_run {
            report.push(Block::Note("a dry run: nothing was written".to_owned()));
        }
        notes.into_iter().for_each(|n| report.push(Block::Note(n)));
        if let Some(head) = head.filter(|_| !self.dry_run) {
            report.push(Block::Text(format!("head {head}")));
        }
        let units = context.units(&book);
        book.close()?;
        output::print(&report, context, units)
    }
}
