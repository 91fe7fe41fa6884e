//! `verify`: proves the book.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use crate::ledger::Hash;
use crate::report::{Block, Cell, Column, Fact, Report, Table};
use crate::store::{Book, VerifyOptions};

/// Names told of a list; the rest is counted.
const TOLD: usize = 12;

fn number(n: u64) -> Cell {
    Cell::Number(i64::try_from(n).unwrap_or(i64::MAX))
}

fn list(names: &[String]) -> Cell {
    if names.is_empty() {
        return Cell::Missing;
    }
    let shown = names.iter().take(TOLD).map(String::as_str).collect::<Vec<_>>().join(", ");
    let more = names.len().saturating_sub(TOLD);
    Cell::Text(if more > 0 { format!("{shown} and {more} more") } else { shown })
}

/// A hash as typed, alone or with the entry before it as heads are printed.
fn pinned(text: &str) -> Result<Hash, Failure> {
    text.split_whitespace().last().unwrap_or(text).parse().map_err(usage)
}

/// Prove the book: chain, references, derived rows, the file itself
///
/// Example: pipelore verify
#[derive(Debug, Args)]
pub(super) struct VerifyArgs {
    /// Hash that a printed page names; it must be in the book
    #[arg(long, value_name = "HASH")]
    head: Option<String>,
    /// Folder with files that entries rest on; their digests are compared
    #[arg(long, value_name = "DIR")]
    evidence: Option<PathBuf>,
}

impl Command for VerifyArgs {
    fn only_now(&self) -> Option<&'static str> {
        Some("verify")
    }

    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let book = Book::open_to_examine(&context.book)?;
        let pinned = self.head.as_deref().map(pinned).transpose()?;
        let verified =
            book.verify_with(&VerifyOptions { pinned, evidence: self.evidence.as_deref() })?;
        let mut report = Report::new("verify");
        report.push(Block::Table(Table {
            name: "checks",
            columns: vec![
                Column::plain("check", "check"),
                Column::plain("looked_at", "looked at"),
                Column::plain("sound", "sound"),
                Column::plain("first_fault", "first thing wrong"),
            ],
            rows: verified
                .checks
                .iter()
                .map(|c| {
                    vec![
                        Cell::Text(c.name.to_owned()),
                        Cell::Number(i64::try_from(c.looked_at).unwrap_or(i64::MAX)),
                        Cell::Truth(c.faults.is_empty()),
                        c.faults.first().map_or(Cell::Missing, |f| Cell::Text(f.clone())),
                    ]
                })
                .collect(),
            empty: String::new(),
            below: None,
        }));
        for fault in verified.checks.iter().flat_map(|c| c.faults.iter().skip(1)) {
            report.push(Block::Note(fault.clone()));
        }
        for note in verified.checks.iter().flat_map(|c| &c.notes) {
            report.push(Block::Note(note.clone()));
        }
        if let Some(h) = &verified.hanging {
            report.push(Block::Heading(format!("what hangs on {}", h.entry)));
            report.push(Block::Facts {
                name: "hanging",
                facts: vec![
                    Fact::plain("entry", "entry", Cell::Text(h.entry.clone())),
                    Fact::plain("later", "later entries of its chain", number(h.later)),
                    Fact::plain("named_by", "named by", list(&h.named_by)),
                    Fact::plain("joints", "joints", list(&h.joints)),
                ],
            });
        }
        if let Some(head) = &verified.head {
            report.push(Block::Text(format!("head {head}")));
        }
        output::print(&report, context, context.units(&book))?;
        Ok(if verified.sound() { ExitCode::SUCCESS } else { ExitCode::from(1) })
    }
}
