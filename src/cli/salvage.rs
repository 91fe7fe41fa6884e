//! `salvage`: what a damaged book still holds, in a new one.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::Failure;
use super::output;
use crate::report::{Block, Cell, Column, Fact, Report, Table};
use crate::store::Book;

/// Read what a damaged book still holds into a new one; the damaged file is never touched
///
/// Example: pipelore salvage damaged.pipelore -o yard.pipelore
#[derive(Debug, Args)]
pub(super) struct SalvageArgs {
    /// Damaged book
    #[arg(value_name = "DAMAGED")]
    damaged: PathBuf,
    /// New book to write; nothing may stand there
    #[arg(short, long, value_name = "FILE")]
    output: PathBuf,
}

impl Command for SalvageArgs {
    fn only_now(&self) -> Option<&'static str> {
        Some("salvage")
    }

    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let done = Book::salvage(&self.damaged, &self.output, &context.stamp())?;
        let number = |n: u64| Cell::Number(i64::try_from(n).unwrap_or(i64::MAX));
        let mut report = Report::new("salvage");
        let parent = done.parent.as_ref().map(ToString::to_string);
        report.push(Block::Facts {
            name: "salvage",
            facts: vec![
                Fact::plain("file", "new book", Cell::Text(self.output.display().to_string())),
                Fact::plain("kept", "entries kept", number(done.kept)),
                Fact::plain("parent", "goes on after", Cell::text(parent.as_deref())),
                Fact::plain("head", "head", Cell::Text(done.head.to_string())),
            ],
        });
        report.push(Block::Table(Table {
            name: "chains",
            columns: vec![
                Column::plain("chain", "chain"),
                Column::plain("kept", "kept up to"),
                Column::plain("seen", "seen up to"),
                Column::plain("unproven", "readable but unproven"),
                Column::plain("broke", "why it breaks off"),
            ],
            rows: done
                .chains
                .iter()
                .map(|c| {
                    vec![
                        Cell::Text(c.chain.clone()),
                        number(c.kept),
                        number(c.seen),
                        number(c.unproven),
                        Cell::text(c.broke.as_deref()),
                    ]
                })
                .collect(),
            empty: String::new(),
            below: None,
        }));
        for wrong in done.wrong.iter().take(10) {
            report.push(Block::Note(format!("the damaged file: {wrong}")));
        }
        if done.by_pages {
            report.push(Block::Note(
                "entries that SQLite could not reach were read from the pages themselves"
                    .to_owned(),
            ));
        }
        report.push(Block::Note(if done.complete() {
            "no entry that was seen is missing; the damaged file was not touched".to_owned()
        } else {
            "what is missing comes back with a bundle of a site that has it; the damaged file was not \
             touched"
                .to_owned()
        }));
        let book = Book::open(&self.output, crate::store::Access::Read)?;
        let units = context.units(&book);
        output::print(&report, context, units)?;
        Ok(if done.complete() { ExitCode::SUCCESS } else { ExitCode::from(1) })
    }
}
